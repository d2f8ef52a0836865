"""The printer's standing by SNMP, all the way: an agent's objects, read, judged, and printed on the page.

Rows are of the standards' own tables, with what follows from them worked out by hand; the source stands beside each.
RFC 3805 is the Printer MIB, RFC 2790 HOST-RESOURCES-MIB. A row whose id ends in a mark has no text of a standard
behind it that was read. What is numbered in fixtures/standards is in tests/test_snmp_reading.py.
"""

from typing import Any

import pytest

from netcheck.facts.identity import HostUptime
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.move import DeviceRef, Move
from netcheck.report.text import render
from netcheck.roles import Role
from netcheck.standard import Print, PrintDemand, ServicesRequired, Standard, SupplyLimits
from netcheck.verdict import Finding, Holds, Verdict, Weight
from probes.snmp import mib, plan
from probes.snmp.message import Syntax
from probes.snmp.reading import read
from probes.snmp.reading_printer import error_labels, sub_unit
from tests.conftest import make_case
from tests.snmp_columns import DEVICE, PRINTER, Cells, facts, harvest

MET, UNMET, UNPROVEN = Holds
BLOCKER, CARE, NOTE = Weight
ALONE = Move(device=DeviceRef("192.0.2.61"))
LETTER = Print("na_letter_8.5x11in", 215_900, 279_400, "", "")  # 8.5 x 11 in, 25400 um to the inch
DEMANDS = Standard(
    "x",
    supplies=SupplyLimits(30, 10),
    prints=PrintDemand((LETTER,)),
    services_required=ServicesRequired(("raw", "lpd")),
)
HAS_MIB: Cells = {f"prtGeneralSerialNumber.{DEVICE}": "HX-77-0457"}


def of(column: str, index: int | None = 1, **cells: Any) -> Cells:
    """``of("prtInput", Type=6)`` is one row: its columns by the rest of their names."""
    place = f".{DEVICE}" if index is None else f".{DEVICE}.{index}"
    return {f"{column}{name}{place}": value for name, value in cells.items()}


def host(device: int | None, printer: int | None, errors: bytes | None = b"") -> Cells:
    said = {"hrDeviceStatus": device, "hrPrinterStatus": printer, "hrPrinterDetectedErrorState": errors}
    return {f"{name}.{DEVICE}": value for name, value in said.items() if value is not None}


def judged(*parts: Cells) -> tuple[Verdict, str]:
    """What an agent with these objects comes to, and the page that says so."""
    cells = {name: value for part in (PRINTER, HAS_MIB, *parts) for name, value in part.items()}
    told = [
        (Role.DEVICE, "snmp", source, fact) for topic in plan.TABLES for source, fact in read(harvest(topic, cells))
    ]
    case = make_case(told, ALONE)
    verdict = judge(case, DEMANDS, Gate.STANDING, {})
    return verdict, render(case, verdict, Gate.STANDING)


def ruled(identity: str, *parts: Cells) -> list[Finding]:
    verdict, page = judged(*parts)
    found = [each for each in verdict.findings if each.id == identity]
    for finding in found:
        if finding.state is UNMET and finding.weight is not NOTE and not finding.causes:
            assert " ".join(finding.title.split()) in " ".join(page.split()), "what is wrong is on the page"
    return found


def only(identity: str, *parts: Cells) -> Finding:
    (finding,) = ruled(identity, *parts)
    return finding


# --- one sub-unit, and the printer as a whole


@pytest.mark.parametrize(
    ("status", "availability", "flags"),
    # RFC 3805 s6 PrtSubUnitStatusTC: availability, + 8 non-critical, + 16 critical, + 32 off-line, + 64 on its way.
    [
        (17, "unavailable-on-request", "-c--"),  # RFC 8011 s5.4.12: media-needed
        (5, "unknown", "----"),  # 5 is a word of its own, not 4 + 1
        (4, "available-active", "----"),
        (6, "available-busy", "----"),
        (3, "unavailable-broken", "----"),
        (96, "available-idle", "--ot"),
        (64, "available-idle", "---t"),
        (13, "unknown", "n---"),
        (125, "unknown", "ncot"),
    ],
)
def test_a_sub_unit(status: int, availability: str, flags: str) -> None:
    told = sub_unit(status)
    assert told is not None
    assert told.availability == availability
    assert [told.non_critical, told.critical, told.offline, told.transitioning] == [each != "-" for each in flags]


@pytest.mark.parametrize("status", [7, 15, 23, 31, 39, 63, 71, 119, 127, 135, -2])
def test_no_sub_unit_has_availability_7(status: int) -> None:
    """RFC 3805 s6: 7 is not assigned, with whatever is added to it, and nothing is outside 0 to 126."""
    assert sub_unit(status) is None


BITS = (  # RFC 2790 hrPrinterDetectedErrorState; does the bit alone stop the printer? Octet 1: RFC 1514, from memory
    ("80", "lowPaper", CARE),
    ("40", "noPaper", BLOCKER),
    ("20", "lowToner", CARE),
    ("10", "noToner", BLOCKER),
    ("08", "doorOpen", BLOCKER),
    ("04", "jammed", BLOCKER),
    ("02", "offline", BLOCKER),
    ("01", "serviceRequested", CARE),
    ("0080", "inputTrayMissing", BLOCKER),
    ("0040", "outputTrayMissing", BLOCKER),
    ("0020", "markerSupplyMissing", BLOCKER),
    ("0010", "outputNearFull", CARE),
    ("0008", "outputFull", BLOCKER),
    ("0004", "inputTrayEmpty", CARE),  # one tray's word, where noPaper is the printer's
    ("0002", "overduePreventMaint", CARE),
    ("0001", "15", NOTE),  # no standard defines it
    ("000080", "16", NOTE),  # longer values are legal (RFC 3805 counts 0 to 128)
)


@pytest.mark.parametrize(("octets", "name", "weight"), BITS, ids=[f"{name}-from-memory" for _, name, _ in BITS])
def test_each_error_bit(octets: str, name: str, weight: Weight) -> None:
    assert error_labels(bytes.fromhex(octets)) == (name,)
    assert error_labels(bytes.fromhex(octets) + b"\0" * 126) == (name,)
    finding = only("condition.errors", host(3, 3, bytes.fromhex(octets)))
    assert (finding.state, finding.weight) == (UNMET, weight)
    assert name in f"{finding.title} {finding.detail}"


def test_all_error_bits_in_the_order_of_their_numbers() -> None:
    """RFC 2790: bit 0 is the most significant one of the first octet."""
    assert error_labels(b"\xff\xff") == tuple(name for _, name, _ in BITS[:16])


@pytest.mark.parametrize(
    ("status", "state", "words"),
    # RFC 3805 s2.2.13.2, its table, unless another source is named.
    [
        (host(2, 3), MET, "idle"),
        (host(2, 4), MET, "busy"),
        (host(3, 3, b"\x80"), MET, "non-critical alert active"),
        (host(3, 4, b"\x20"), MET, "non-critical alert active"),
        (host(5, 1, b"\x40"), UNMET, "critical alert active"),
        (host(5, 1, b"\xc0"), UNMET, "critical alert active"),  # critical wins over the lowPaper beside it
        (host(5, 1), UNMET, "unavailable"),
        (host(3, 3, b"\x02"), UNMET, "moving off-line"),
        (host(5, 1, b"\x02"), UNMET, "off-line"),
        (host(5, 5), UNPROVEN, "warming up"),
        (host(2, 5), UNPROVEN, "warming up"),  # the same section: warmup goes with running or warning
        (host(3, 5), UNPROVEN, "warming up"),
        (host(2, 1), MET, "asleep"),
        (host(1, 2), UNPROVEN, "unknown"),
        (host(4, 3), UNPROVEN, "testing"),  # RFC 2790 hrDeviceStatus: not available for use
        (host(3, 1, b"\x80"), MET, "non-critical alert active"),  # RFC 2790, from memory: warning is still operational
        (host(None, 3), MET, "idle"),  # no hrDeviceTable: idle goes with running or warning
        (host(None, 4), MET, "busy"),
        (host(None, 1), UNPROVEN, "unknown"),
        (host(2, 3, None), MET, "idle"),
    ],
)
def test_the_printer_as_a_whole(status: Cells, state: Holds, words: str) -> None:
    finding = only("condition.state", status)
    assert finding.state is state
    assert words in finding.title


@pytest.mark.parametrize(
    ("status", "alerts", "state"),
    # RFC 3805 s2.2.13.2.1: the device's status is that of its worst condition, down > warning > running.
    [
        (host(2, 3), {3: (3, 8)}, UNMET),  # running, with a critical jam
        (host(3, 3), {3: (3, 8)}, UNMET),  # warning is for what is not critical
        (host(2, 3, b"\x04"), {}, UNMET),
        (host(3, 3, b"\x04"), {}, UNMET),
        (host(5, 1, b"\x00"), {3: (3, 8)}, UNMET),  # no bit, and a critical jam: stuck bits are common practice
        (host(3, 3, b"\x02"), {}, MET),  # moving off-line
        (host(5, 1, b"\x04"), {3: (3, 8)}, MET),
        (host(5, 1, None), {3: (3, 8)}, MET),  # bits that cannot be read contradict nothing
        (host(3, 3, b"\x80"), {3: (4, 807)}, MET),
        (host(2, 3), {3: (4, 7)}, MET),  # a unary warning may be over
    ],
)
def test_one_story(status: Cells, alerts: dict[int, tuple[int, int]], state: Holds) -> None:
    rows = [of("prtAlert", index, SeverityLevel=level, Code=code) for index, (level, code) in alerts.items()]
    assert only("condition.contradiction", status, *rows).state is state


# --- alerts


@pytest.mark.parametrize(
    ("level", "code", "weight"),
    # RFC 3805 s2.2.13.3, s2.2.13.4 for the levels, IANA-PRINTER-MIB for the codes; which families tell of an event
    # and which of a condition is common practice.
    [
        (3, 8, BLOCKER),  # jam; critical rows are binary, so still true
        (3, 814, BLOCKER),  # a number that IANA registered later
        (4, 807, CARE),  # inputMediaSupplyLow
        (4, 809, CARE),  # inputMediaChangeRequest: somebody is waited for
        (4, 1104, CARE),  # markerTonerAlmostEmpty
        (4, 7, NOTE),  # configurationChange
        (4, 25, NOTE),  # subunitAdded
        (4, 502, NOTE),  # doorClosed
        (4, 6, NOTE),  # interlockClosed
        (4, 503, NOTE),  # powerUp
        (4, 505, NOTE),  # printerNMSReset
        (4, 507, NOTE),  # printerReadyToPrint
        (4, 806, NOTE),  # inputMediaFormPartsChange
        (4, 1504, NOTE),  # interpreterCartridgeDeleted
        (4, 1801, NOTE),  # alertRemovalOfBinaryChangeEntry: what removing a row leaves behind
        (5, 807, CARE),  # warningBinaryChangeEvent: still true
        (5, 7, CARE),
    ],
)
def test_what_an_alert_weighs(level: int, code: int, weight: Weight) -> None:
    finding = only("condition.alerts", of("prtAlert", 7, SeverityLevel=level, Code=code))
    assert (finding.state, finding.weight) == (UNMET, weight)


@pytest.mark.parametrize("index", [1, 65536, 2**31 - 1])
def test_any_index_of_an_alert(index: int) -> None:
    """RFC 3805 s6 prtAlertIndex: 1 to 2147483647, then 1 again; the draft before it ended at 65535."""
    assert str(index) in only("condition.alerts", of("prtAlert", index, SeverityLevel=3, Code=8)).item


def test_an_alert_without_a_code_shows_its_text() -> None:
    """Common practice: code other(1), and a text that says all."""
    told = of("prtAlert", 7, SeverityLevel=3, Code=1, Description="Blade worn out  \0")
    assert "Blade worn out" in only("condition.alerts", told).title


@pytest.mark.parametrize(
    ("table", "column", "oid"),
    # RFC 3805 s6 and RFC 2790: instances of device 2, row 3. The arcs of the tables differ.
    [
        (mib.INPUT, "prtInputStatus", "1.3.6.1.2.1.43.8.2.1.11.2.3"),
        (mib.OUTPUT, "prtOutputRemainingCapacity", "1.3.6.1.2.1.43.9.2.1.5.2.3"),
        (mib.MARKER, "prtMarkerLifeCount", "1.3.6.1.2.1.43.10.2.1.4.2.3"),
        (mib.MEDIA_PATH, "prtMediaPathType", "1.3.6.1.2.1.43.13.4.1.9.2.3"),
        (mib.CHANNEL, "prtChannelState", "1.3.6.1.2.1.43.14.1.1.6.2.3"),
        (mib.CONSOLE_LINE, "prtConsoleDisplayBufferText", "1.3.6.1.2.1.43.16.5.1.2.2.3"),
        (mib.CONSOLE_LIGHT, "prtConsoleOnTime", "1.3.6.1.2.1.43.17.6.1.2.2.3"),
        (mib.ALERT, "prtAlertCode", "1.3.6.1.2.1.43.18.1.1.7.2.3"),
    ],
)
def test_an_instance(table: Any, column: str, oid: str) -> None:
    assert ".".join(map(str, (*table.column(column), 2, 3))) == oid


def test_uptimes_keep_the_agent_and_the_device_apart() -> None:
    """RFC 2790 hrSystemUptime, RFC 1213 sysUpTime: 60 s and 10 days, in hundredths of a second."""
    cells: Cells = {"hrSystemUptime.0": (Syntax.TIME_TICKS, 86_400_000)}
    (fact,) = [fact for _, fact in read(harvest(plan.Topic.HOST, cells)) if isinstance(fact, HostUptime)]
    assert fact.centiseconds / 100 / 3600 / 24 == 10
    (system,) = facts(plan.Topic.SYSTEM, {"sysUpTime.0": (Syntax.TIME_TICKS, 6000)})[1:]
    assert system.up_centiseconds / 100 == 60
