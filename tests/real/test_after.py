"""After the swap, and over IPv6: what a technician does next with the same Move."""

import json
import sys

from .clients import connect, ipp_attributes
from .office import Office
from .site import JACKS
from .visit import environment, ready


def test_after_the_swap_the_same_move_may_be_left(office: Office) -> None:
    """The new device has taken the old one's address, as the Move says (`keep`); nothing else has changed."""
    office.site.plug("old", connected=False)
    office.site.configure("new", f"{JACKS['old'].address}/24")
    office.new.agent.restart()
    office.site.ip("workstation", "neigh flush dev eth0")  # what the device's announcement does
    assert ipp_attributes(office.site, "old")["printer-make-and-model"] == "Halden 36R"
    answer = ready(office, "--gate", "leave")
    assert answer.code == 0, answer.page
    assert "does not answer" not in answer.page


def test_an_ipv6_link_local_address_is_reached_as_others_reach_it(office: Office) -> None:
    host = "fe80::77:ff:fe00:22%eth0"
    assert connect(office.site, host, 631) == ""
    command = (sys.executable, "-m", "netcheck", "read", host, "--json")
    done = office.site.run("workstation", *command, env=environment(office))
    seen = json.loads(done.stdout)["observations"]
    states = {each["value"]["service"]: each["value"]["state"] for each in seen if each["kind"] == "service"}
    assert (states["ipp"], states["raw"]) == ("open", "refused")  # the raw port listens on IPv4 only
    assert any(each["kind"] == "model" for each in seen)
