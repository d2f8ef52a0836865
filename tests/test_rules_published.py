"""The rules against published values: RFC 3805, RFC 2790, RFC 8011, RFC 1122, PWG 5101.1.

Rows come from fixtures/standards/oracle_checks.json, each with its source and evidence mark. Where a row's expectation
is prose, this file says once, in a table, what that prose means in our vocabulary.
"""

import ipaddress
import re
from typing import Any

import pytest

from netcheck.facts import amount
from netcheck.facts.condition import AlertRow, Alerts, HostPrinter, PrinterState
from netcheck.facts.media import InputRow, Inputs, parse_size_name, sizes_from_names
from netcheck.facts.network import Addresses, AddressRow
from netcheck.facts.supplies import Supplies, Supply
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.move import DeviceRef, Move
from netcheck.roles import Role
from netcheck.rules.address import address_fault, interface_of
from netcheck.rules.condition import host_condition, reason_severity
from netcheck.standard import Print, PrintDemand, Standard, SupplyLimits
from netcheck.verdict import Finding, Holds, Weight
from netcheck.versions import compare
from netcheck.words import percent
from tests.conftest import make_case, published

ALONE = Move(device=DeviceRef("192.0.2.61"))


def ruled(identity: str, fact: Any, standard: Standard = Standard()) -> list[Finding]:  # noqa: B008 - frozen
    verdict = judge(make_case([(Role.DEVICE, "snmp", "object", fact)], ALONE), standard, Gate.STANDING, {})
    return [finding for finding in verdict.findings if finding.id == identity]


DEVICE_STATUS = {"1": "unknown", "2": "running", "3": "warning", "4": "testing", "5": "down"}
PRINTER_STATUS = {"1": "other", "2": "unknown", "3": "idle", "4": "printing", "5": "warmup"}
COVER_BIT = "cover(door)Open"


@pytest.mark.parametrize(
    "row", published("HRS-01", "HRS-02", "HRS-04", "HRS-05", "HRS-06", "HRS-07", "HRS-08", "HRS-11")
)
def test_the_printer_as_a_whole(row: dict[str, str]) -> None:
    """RFC 3805 s2.2.13.2: each error bit of a row gives that row's condition, alone and together with the others."""
    numbers = re.match(r"hrDeviceStatus=(\d), hrPrinterStatus=(\d), error bits: (.*)", row["input"])
    assert numbers is not None
    bits = [bit.replace(COVER_BIT, "doorOpen") for bit in numbers[3].split("|") if not bit.startswith(("none", "("))]
    alone = [[bit] for bit in bits if row["id"] != "HRS-05" or bit != "serviceRequested"]
    # HRS-05: the table has serviceRequested under non-critical alerts too; by itself it cannot make the state critical.
    for errors in (bits, *alone):
        fact = HostPrinter(1, DEVICE_STATUS[numbers[1]], PRINTER_STATUS[numbers[2]], tuple(errors))
        assert host_condition(fact) == row["expected"]


@pytest.mark.parametrize("row", published("HRS-12"))
def test_standby_is_not_an_error(row: dict[str, str]) -> None:
    (finding,) = ruled("condition.state", HostPrinter(1, "running", "other", ()))
    assert finding.state is Holds.MET, row["expected"]


@pytest.mark.parametrize("row", published("HRS-13"))
def test_a_status_that_ignores_an_error_bit_is_inconsistent_and_the_bit_decides(row: dict[str, str]) -> None:
    fact = HostPrinter(1, "running", "idle", ("noPaper",))
    (bit,) = ruled("condition.errors", fact)
    assert (bit.state, bit.weight) == (Holds.UNMET, Weight.BLOCKER), row["expected"]
    case = make_case([(Role.DEVICE, "snmp", "hr", fact), (Role.DEVICE, "snmp", "al", Alerts((), complete=True))], ALONE)
    found = [
        each for each in judge(case, Standard(), Gate.STANDING, {}).findings if each.id == "condition.contradiction"
    ]
    assert found[0].state is Holds.UNMET


def test_unreadable_error_bits_are_not_no_errors() -> None:
    """Agents return the object as a number, or not at all (common practice, no source): that proves nothing."""
    (finding,) = ruled("condition.errors", HostPrinter(1, "running", "idle", None))
    assert finding.state is Holds.UNPROVEN


SUPPLY_ROWS = {
    # id: (unit, capacity, level) and the percentage that the row's prose gives; None: no percentage may be computed
    "SUP-01": (("percent", 100, 40), 40),
    "SUP-03": (("percent", 100, 100), 100),
    "SUP-04": (("percent", 100, -3), None),
    "SUP-05": (("percent", 100, -3), None),
    "SUP-06": (("percent", 100, -2), None),
    "SUP-07": (("percent", 100, -1), None),
    "SUP-08": (("percent", -2, 37), 37),
    "SUP-09": (("impressions", 10000, 2500), 25),
    "SUP-10": (("percent", 0, 0), None),
    "SUP-11": (("percent", 100, 130), 100),
}


@pytest.mark.parametrize("row", [row for row in published("SUP-") if row.values[0]["id"] in SUPPLY_ROWS])
def test_levels(row: dict[str, str]) -> None:
    (unit, capacity, level), share = SUPPLY_ROWS[row["id"]]
    assert percent(amount(level), amount(capacity), unit) == share, row["expected"]


@pytest.mark.parametrize("unit", ["impressions", "tenthsOfMilliliters", "other"])
def test_without_a_capacity_only_percent_stands_alone(unit: str) -> None:
    """SUP-08: with any other unit and max = -2 there is no percentage (common practice)."""
    assert percent(amount(37), amount(-2), unit) is None


@pytest.mark.parametrize(
    ("family", "level", "state"),
    [
        ("receptacleThatIsFilled", 0, Holds.UNMET),  # room left 0: full
        ("receptacleThatIsFilled", 100, Holds.MET),  # SUP-03: empty receptacle = fine
        ("receptacleThatIsFilled", -3, Holds.MET),  # SUP-05: some room left: not full
        ("supplyThatIsConsumed", 0, Holds.UNMET),  # empty
        ("supplyThatIsConsumed", -3, Holds.MET),  # SUP-04: some left: not empty
        ("supplyThatIsConsumed", -2, Holds.MET),  # SUP-06: unknown: not "empty"
    ],
)
def test_empty_and_full(family: str, level: int, state: Holds) -> None:
    """RFC 3805 s2.4 and s6: 0 is bad in both classes, -3 is some, -2 says nothing."""
    row = Supply(1, family, "ink", "A", "percent", amount(100), amount(level), "")
    (finding,) = ruled("supplies.empty", Supplies((row,), complete=True))
    assert finding.state is state


def test_a_level_that_is_not_told_is_unproven_and_never_met() -> None:
    row = Supply(1, "supplyThatIsConsumed", "ink", "A", "percent", amount(100), amount(-2), "")
    (finding,) = ruled("supplies.level", Supplies((row,), complete=True), Standard("x", supplies=SupplyLimits(30, 10)))
    assert finding.state is Holds.UNPROVEN


@pytest.mark.parametrize("row", published("ALR-04", "ALR-08"))
def test_alert_rows_that_prove_no_fault(row: dict[str, str]) -> None:
    """RFC 3805 s2.2.13.4: a unary warning stays after its event; IANA: an unknown code is data, not an error."""
    code = {"ALR-04": "configurationChange", "ALR-08": "40123"}[row["id"]]
    alert = AlertRow(7, "warning", "untrained", "generalPrinter", -1, None, code, "", None)
    (finding,) = ruled("condition.alerts", Alerts((alert,), complete=True))
    assert finding.weight is not Weight.BLOCKER
    assert code in finding.detail


def test_a_critical_alert_blocks_whatever_its_code() -> None:
    """RFC 3805 s2.2.13.3: all critical alerts are binary, so the row is still true."""
    alert = AlertRow(7, "critical", "untrained", "input", 1, None, "40123", "", None)
    (finding,) = ruled("condition.alerts", Alerts((alert,), complete=True))
    assert (finding.state, finding.weight) == (Holds.UNMET, Weight.BLOCKER)


def test_absence_from_an_incomplete_table_is_unproven() -> None:
    (finding,) = ruled("condition.alerts", Alerts((), complete=False))
    assert finding.state is Holds.UNPROVEN


@pytest.mark.parametrize("row", published("IPS-01"))
def test_idle_but_not_accepting_is_not_ready(row: dict[str, str]) -> None:
    findings = ruled("condition.state", PrinterState("idle", (), accepting=False))
    assert {each.item: each.state for each in findings} == {"IPP": Holds.MET, "accepting": Holds.UNMET}, row["expected"]


@pytest.mark.parametrize(
    ("state", "reason", "severity"),
    [
        ("stopped", "media-empty-error", "error"),  # IPS-02
        ("idle", "toner-low-warning", "warning"),  # IPS-03
        ("idle", "media-low", "warning"),  # IPS-05: no suffix, not stopped
        ("stopped", "media-low", "error"),  # no suffix, stopped
        ("processing", "media-jam-error", "error"),  # IPS-07: the verdict follows the error
        ("idle", "cover-open-report", "report"),
    ],
)
def test_the_severity_of_a_reason(state: str, reason: str, severity: str) -> None:
    """RFC 8011 s5.4.12."""
    assert reason_severity(reason, state)[1] == severity
    weights = {"error": Weight.BLOCKER, "warning": Weight.CARE, "report": Weight.NOTE}
    (finding,) = ruled("condition.reasons", PrinterState(state, (reason,), accepting=True))
    assert finding.weight is weights[severity]


def test_no_reason_is_no_finding_against_it() -> None:
    """IPS-06: ``none`` alone is no reason; the probe hands it over as an empty tuple."""
    (finding,) = ruled("condition.reasons", PrinterState("idle", (), accepting=True))
    assert finding.state is Holds.MET


@pytest.mark.parametrize("row", [row for row in published("IPV-") if "/" in row.values[0]["input"]])
def test_addresses(row: dict[str, str]) -> None:
    """RFC 1122 s3.2.1.3 and RFC 3021: which addresses a host can have."""
    interface = ipaddress.IPv4Interface(row["input"])
    fault = address_fault(interface)
    expected = row["expected"]
    assert bool(fault) is expected.startswith("invalid"), (fault, expected)
    if expected.startswith("invalid: "):
        kind = (
            expected.removeprefix("invalid: ")
            .partition(" (")[0]
            .removesuffix(" address")
            .replace("reserved", "class E")
        )
        assert kind.split("-")[0].split()[-1] in fault
    if expected.startswith("link-local"):
        fact = Addresses(
            (AddressRow(str(interface.ip), interface.network.prefixlen, "", 1, "random", ""),), complete=True
        )
        (finding,) = ruled("address.valid", fact)
        assert finding.state is Holds.UNMET


@pytest.mark.parametrize("row", published("IPV-90"))
def test_a_mask_with_holes_is_refused(row: dict[str, str]) -> None:
    mask = row["input"].removeprefix("mask ")
    fact = Addresses((AddressRow("192.0.2.61", None, mask, 1, "", ""),), complete=True)
    assert interface_of(fact.rows[0]) is None
    (finding,) = ruled("address.valid", fact)
    assert finding.state is Holds.UNMET
    assert mask in finding.title


@pytest.mark.parametrize("row", [row for row in published("MED-") if "_" in row.values[0]["input"]])
def test_size_names(row: dict[str, Any]) -> None:
    """PWG 5101.1 (names from memory), dimensions computed: in * 2540, mm * 100."""
    if row["id"] == "MED-13":
        (size,) = sizes_from_names(tuple(row["input"].removesuffix(" in media-supported").split(" + ")))
        numbers = [int(number) for number in re.findall(r"\d+", row["expected"])]
        assert [size.x.low, size.y.low, size.x.high, size.y.high] == [number * 10 for number in numbers]
        return
    parsed = parse_size_name(row["input"])
    assert parsed is not None
    x, y = (
        float(number) for number in re.findall(r"[xy]=([\d.]+)", row["expected"].replace("x -> accept", "")) or (0, 0)
    )
    assert (parsed.x / 10, parsed.y / 10) == (x, y)


@pytest.mark.parametrize("name", ["letter", "iso-a4", "na_letter", "na_letter_08x11in", "x" * 300, ""])
def test_what_is_no_size_name_says_no_size(name: str) -> None:
    """PWG 5101.1: no leading zero, no trailing zero after a point (second-hand); legacy names say nothing."""
    assert parse_size_name(name) is None


def tray(feed: int, cross: int, kind: str = "sheetFeedAutoRemovableTray", level: int = 50) -> Inputs:
    row = InputRow(
        1, kind, "Tray", "", "", "stationery", amount(feed), amount(cross), "sheets", amount(100), amount(level), None
    )
    return Inputs((row,), complete=True)


LETTER = Standard("x", prints=PrintDemand((Print("na_letter_8.5x11in", 215_900, 279_400, "stationery", ""),)))


@pytest.mark.parametrize(
    ("feed", "cross"), [(279_400, 215_900), (215_900, 279_400), (279_399, 215_901), (279_800, 216_300)]
)
def test_a_sheet_is_the_same_whichever_edge_leads(feed: int, cross: int) -> None:
    """RFC 3805: dimensions are relative to the feed direction; 0.5 mm tolerance is common practice."""
    (finding,) = ruled("media.loaded", tray(feed, cross), LETTER)
    assert finding.state is Holds.MET


@pytest.mark.parametrize(
    ("inputs", "state"),
    [
        (tray(297_000, 210_000), Holds.UNMET),  # A4 is not letter
        (tray(279_400, 215_900, level=0), Holds.UNMET),  # INP-02: level 0 is empty
        (tray(279_400, 215_900, level=-3), Holds.MET),  # INP-01: at least one unit remains
        (tray(279_400, 215_900, level=-2), Holds.UNPROVEN),  # unknown
        (tray(-2, -2), Holds.UNPROVEN),  # size unknown
        (tray(-2, 914_400, "continuousRoll"), Holds.MET),  # a roll is judged by its width
        (tray(-2, 210_000, "continuousRoll"), Holds.UNMET),
        (Inputs((), complete=False), Holds.UNPROVEN),
        (Inputs((), complete=True), Holds.UNMET),
    ],
)
def test_what_is_loaded(inputs: Inputs, state: Holds) -> None:
    (finding,) = ruled("media.loaded", inputs, LETTER)
    assert finding.state is state


@pytest.mark.parametrize(
    ("one", "other", "order", "expected"),
    [
        ("4.10", "4.9", "dotted", 1),
        ("4.10", "4.9", "decimal", -1),
        ("4.7.2", "4.7.2", "dotted", 0),
        ("4.7", "4.7.0", "dotted", 0),
        ("4.7.10", "4.7.9", "dotted", 1),
        ("v4.7.2", "4.7.3", "dotted", -1),
        ("MARBLE_07", "4.7.2", "dotted", None),
        ("MARBLE_07", "MARBLE_07", "dotted", 0),
        ("1e9", "NaN", "decimal", None),
    ],
)
def test_versions(one: str, other: str, order: str, expected: int | None) -> None:
    """Common practice, no source: component by component, or as one number where the Standard says so."""
    assert compare(one, other, order) == expected
