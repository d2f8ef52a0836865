"""The whole story for a person who knows only the queue's name: find, read, ready."""

import json
import sys
from typing import Any

from .devices import CORVID, HALDEN
from .hearing import hear_until
from .office import QUEUE, Office
from .site import JACKS
from .visit import environment


def netcheck(office: Office, *arguments: str) -> tuple[int, str, str]:
    """The command as the technician runs it at the workstation."""
    command = (sys.executable, "-m", "netcheck", *arguments)
    done = office.site.run("workstation", *command, env=environment(office), timeout=40)
    return done.returncode, done.stdout, done.stderr


def test_from_the_queues_name_to_the_answer() -> None:
    with Office(announced=True) as office:
        for device in (HALDEN, CORVID):
            hear_until(office.site, f"{device.name}._ipp._tcp.local")
        code, page, _ = netcheck(office, "find", "--json")
        assert code == 0
        addresses: dict[str, Any] = {row["model"]: row["addresses"][0] for row in json.loads(page)["devices"]}
        assert addresses == {CORVID.name: JACKS["old"].address, HALDEN.name: JACKS["new"].address}

        for device in (CORVID, HALDEN):
            code, page, _ = netcheck(office, "read", addresses[device.name])
            assert code == 0
            assert device.serial in page

        whole = ("--old", addresses[CORVID.name], "--new", addresses[HALDEN.name], "--queue", QUEUE)
        code, page, errors = netcheck(office, "ready", *whole)
        assert (code, errors) == (0, ""), page
        assert page.startswith("READY"), page
        assert "You may unplug the old printer." in page

        code, page, _ = netcheck(office, "ready", *whole[:4], "--queue", "Planz")
        assert code == 1
        assert "There is no queue Planz" in page
        assert QUEUE in page, "the queues that there are"

        code, page, _ = netcheck(office, "ready", "--new", addresses[HALDEN.name])
        assert code == 3, "nobody looked at the old printer and the queue"
        office.assert_no_byte_was_printed()
