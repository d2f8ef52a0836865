"""Who is at an address, over time: another machine takes the new device's place between two looks.

The single faults of the link are in `causes_link`.
"""

import time

from .causes_asking import ready, roots
from .office import Office
from .site import JACKS

NEW = JACKS["new"]


def test_a_machine_that_took_the_new_ones_place_is_known_by_its_hardware_address(office: Office) -> None:
    """Seen in the morning, and then another machine answers at the address: by the table alone, without privilege."""
    answer = ready(office)
    morning = answer.saved.rename(answer.saved.with_name("morning.json"))
    morning.chmod(0o644)
    office.site.plug("new", connected=False)
    office.site.ip("stranger", f"addr add {NEW.address}/24 dev eth0")
    office.site.ip("workstation", "neigh flush dev eth0")
    time.sleep(2)  # what is seen within two seconds counts as one look
    answer = ready(office, "--with", str(morning), who="nobody")
    finding = next(each for each in answer.findings if each["id"] == "link.mac-agrees")
    assert finding["state"] == "unmet", answer.page
    assert JACKS["stranger"].mac in finding["title"]
    assert NEW.mac in finding["detail"]
    assert roots(answer)[0] == "link.mac-agrees", answer.page
