"""`netcheck ready` between real devices and a real spooler: what it says, against what independent programs see.

Every fault is put into a counterpart, then looked at with a program that the project did not write (net-snmp, ipptool,
CUPS's own commands, iproute2), and only then with netcheck.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import pytest

from .clients import connect, ipp_attributes, snmp_get
from .devices import CORVID, HALDEN, cover_open, out_of_media, waste_full
from .mib import DEVICE, PRINTER, SUPPLIES
from .office import QUEUE, Office
from .site import JACKS
from .visit import MOVE, ready

NEW = JACKS["new"].address
SERIAL = f"{PRINTER}.5.1.1.17.{DEVICE}"
ERRORS = f"1.3.6.1.2.1.25.3.5.1.2.{DEVICE}"


@dataclass(frozen=True)
class Case:
    """A fault, how to have it, how to see that it is there, and what netcheck must then say first."""

    name: str
    have: Callable[[Office], object]
    true: Callable[[Office], bool]
    state: str
    first: str
    says: tuple[str, ...]
    move: str = MOVE


def no_power(office: Office) -> None:
    office.new.end()
    office.site.plug("new", connected=False)


def silent(office: Office) -> bool:
    with pytest.raises(TimeoutError):
        snmp_get(office.site, "new", SERIAL)
    return True


def unreachable(office: Office) -> bool:
    with pytest.raises(ConnectionError):
        ipp_attributes(office.site, "new", wait=1)
    return True


def refuses_raw(office: Office) -> bool:
    return "refused" in connect(office.site, NEW, 9100)


def hold_two_jobs(office: Office) -> None:
    office.spooler.disable(QUEUE, "Held for the swap")
    office.spooler.submit(QUEUE, "Sheet 1")
    office.spooler.submit(QUEUE, "Sheet 2")


def wrong_mask(office: Office) -> None:
    office.site.configure("new", f"{NEW}/25")
    office.new.agent.restart()


CASES = (
    Case("off", no_power, unreachable, "not-ready", "link.neighbour", ("Nobody", NEW)),
    Case(
        "firmware newer",
        lambda office: office.new.become(replace(HALDEN, firmware="4.10.0")),
        lambda office: ipp_attributes(office.site, "new")["printer-firmware-string-version"] == "4.10.0",
        "not-ready",
        "identity.firmware",
        ("4.10.0", "newer", "4.7.2"),
    ),
    Case(
        "out of media",
        lambda office: office.new.suffer(out_of_media),
        lambda office: (
            snmp_get(office.site, "new", ERRORS) == '"40 00 "'
            and ipp_attributes(office.site, "new")["printer-state-reasons"] == "media-empty-report"
        ),
        "not-ready",
        "media.loaded",
        ("Roll 1", "empty"),
    ),
    Case(
        "waste full",
        lambda office: office.new.suffer(waste_full),
        lambda office: snmp_get(office.site, "new", f"{SUPPLIES}.9.{DEVICE}.5") == "0",
        "not-ready",
        "supplies.empty",
        ("Waste ink box", "full"),
    ),
    Case(
        "cover open",
        lambda office: office.new.suffer(cover_open),
        lambda office: snmp_get(office.site, "new", ERRORS) == '"08 00 "',
        "not-ready",
        "condition.covers",
        ("Front cover", "open"),
    ),
    Case(
        "SNMP dropped",
        lambda office: office.site.filter("new", "udp dport 161 drop"),
        silent,
        "cannot-tell",
        "services.snmp",
        ("SNMP",),
    ),
    Case(
        "raw port rejected",
        lambda office: office.site.filter("new", "tcp dport 9100 reject with tcp reset"),
        refuses_raw,
        "not-ready",
        "services.required/raw",
        ("9100", "refused"),
    ),
    Case(
        "another serial number",
        lambda office: office.new.become(replace(HALDEN, serial="HX-77-0475")),
        lambda office: snmp_get(office.site, "new", SERIAL) == '"HX-77-0475"',
        "not-ready",
        "identity.serial",
        ("HX-77-0475", "HX-77-0457", "work order"),
    ),
    Case(
        "another model",
        lambda office: office.new.become(replace(CORVID, serial=HALDEN.serial, firmware=HALDEN.firmware)),
        lambda office: ipp_attributes(office.site, "new")["printer-make-and-model"] == "Corvid 24S",
        "not-ready",
        "identity.model",
        ("Corvid 24S", "Halden 36R"),
    ),
    Case(
        "queue points elsewhere",
        lambda office: office.spooler.point(QUEUE, "ipp://10.77.0.99/ipp/print"),
        lambda office: "10.77.0.99" in office.spooler.do("lpstat", "-v", QUEUE),
        "not-ready",
        "queue.points-to-old",
        ("10.77.0.99", JACKS["old"].address),
    ),
    Case(
        "queue held, jobs waiting",
        hold_two_jobs,
        lambda office: (
            "disabled" in office.spooler.do("lpstat", "-p", QUEUE)
            and len(office.spooler.do("lpstat", "-o", QUEUE).splitlines()) == 2
        ),
        "not-ready",
        "queue.enabled/state",
        ("stopped", "Held for the swap", "2 jobs"),
    ),
    Case(
        "wrong mask",
        wrong_mask,
        lambda office: snmp_get(office.site, "new", f"1.3.6.1.2.1.4.20.1.3.{NEW}") == "255.255.255.128",
        "not-ready",
        f"address.mask/{NEW}",
        ("255.255.255.128", "255.255.255.0"),
    ),
)
EXIT = {"ready": 0, "ready-with-care": 0, "not-ready": 1, "cannot-tell": 3}


def test_a_sound_move_is_ready(office: Office) -> None:
    answer = ready(office)
    assert (answer.code, answer.state, answer.against) == (0, "ready", ["planned.caches"]), answer.page
    assert answer.page.startswith("READY  You may unplug the old printer.")
    assert office.new.raw.connections, "the raw port was never looked at"
    office.assert_no_byte_was_printed()


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_a_fault_is_named_first(office: Office, case: Case) -> None:
    case.have(office)
    assert case.true(office)
    answer = ready(office)
    assert (answer.code, answer.state) == (EXIT[case.state], case.state), answer.page
    assert answer.against[0].removesuffix("/IPv4").startswith(case.first), answer.page
    assert all(text in answer.page for text in case.says), answer.page
    office.assert_no_byte_was_printed()
