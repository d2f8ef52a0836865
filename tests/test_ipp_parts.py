"""Alerts, trays, capabilities, names and the clock as an IPP printer tells them: by the standards' own numbers, and
from devices that deviate from them."""

import json

import pytest

from netcheck.facts import Amount, Fact, Measured, Some, Unknown, Unrestricted
from netcheck.facts.capability import Capabilities, Margins
from netcheck.facts.condition import AlertRow, Alerts, PrinterClock, SubUnit
from netcheck.facts.identity import Model, PrinterNames
from netcheck.facts.media import InputRow, Inputs, OutputRow, Outputs

from .test_ipp_bytes import (
    FIXTURES,
    NO_VALUE,
    UNKNOWN,
    Value,
    attribute,
    between,
    boolean,
    enum,
    integer,
    keyword,
    name,
    octets,
    text,
)
from .test_ipp_reading import only_fact, read_facts

ORACLE = {row["id"]: row for row in json.loads((FIXTURES / "standards/oracle_checks.json").read_text())}


def alerts(*values: Value, descriptions: tuple[str, ...] = ()) -> Alerts:
    words = [attribute("printer-alert-description", *map(text, descriptions))] if descriptions else []
    fact = only_fact("printer-alert", attribute("printer-alert", *values), *words)
    assert isinstance(fact, Alerts)
    return fact


def inputs(*values: bytes) -> Inputs:
    fact = only_fact("printer-input-tray", attribute("printer-input-tray", *map(octets, values)))
    assert isinstance(fact, Inputs)
    return fact


# --- printer-alert: PWG 5100.9, the keys from memory; labels and numbers by RFC 3805 s6 and IANA-PRINTER-MIB

EMPTY = (
    b"code=inputMediaSupplyEmpty;index=7;severity=critical;training=untrained;"
    b"group=input;groupindex=1;location=-2;time=812"
)


@pytest.mark.parametrize("end", [b"", b";", b";\0"])  # the last semicolon is optional; a NUL is common practice
def test_an_alert_with_all_its_columns(end: bytes) -> None:
    row = AlertRow(7, "critical", "untrained", "input", 1, None, "inputMediaSupplyEmpty", "Roll 1 is empty", 812)
    assert alerts(octets(EMPTY + end), descriptions=("Roll 1 is empty",)) == Alerts((row,), complete=True)


def test_numbers_in_the_place_of_labels() -> None:
    """critical(3), untrained(3), input(8), inputMediaSupplyEmpty(808); 40123 is registered nowhere and stays."""
    (known, unknown) = alerts(octets(b"code=808;severity=3;training=3;group=8"), octets(b"code=40123")).rows
    assert (known.code, known.severity, known.training, known.group) == (
        "inputMediaSupplyEmpty",
        "critical",
        "untrained",
        "input",
    )
    assert (unknown.code, unknown.severity, unknown.group_index, unknown.index) == ("40123", "", None, 2)


def test_descriptions_go_by_position_and_may_be_fewer() -> None:
    rows = alerts(octets(b"code=jam"), octets(b"code=coverOpen"), descriptions=("A jam",)).rows
    assert [(row.code, row.description) for row in rows] == [("jam", "A jam"), ("coverOpen", "")]


def test_one_alert_that_cannot_be_read_makes_the_list_incomplete_and_no_worse() -> None:
    assert not alerts(octets(b"\xff\xfe no pairs"), octets(b"code=jam;")).complete
    assert not alerts(octets(b"code=jam;"), integer(808)).complete
    assert [row.code for row in alerts(octets(b"nonsense"), octets(b"code=jam;")).rows] == ["jam"]


def test_no_alert_is_told_from_nothing_said() -> None:
    assert alerts(NO_VALUE) == Alerts((), complete=True)
    for said in (UNKNOWN, octets(b""), octets(b";")):
        assert "printer-alert" not in read_facts(attribute("printer-alert", said))


def test_many_alerts_are_bounded() -> None:
    fact = alerts(*[octets(b"code=jam;")] * 3000)
    assert len(fact.rows) == 256
    assert not fact.complete


# --- trays: PWG 5100.13, the keys from memory, in the words of RFC 3805 s6


def test_a_tray_with_all_its_columns() -> None:
    """Status 19 is unavailable because broken and critical (RFC 3805 s6, PrtSubUnitStatusTC); -1 is no limit (s2.4)."""
    said = (
        b"type=continuousRoll;mediafeed=-1;mediaxfeed=914400;dimunit=micrometers;maxcapacity=45;level=0;unit=meters;"
        b"status=19;name=Roll 1;index=3;medianame=roll_current_36x0in;mediatype=stationery-coated"
    )
    broken = SubUnit("unavailable-broken", non_critical=False, critical=True, offline=False, transitioning=False)
    row = InputRow(
        index=3,
        type="continuousRoll",
        name="Roll 1",
        description="",
        media_name="roll_current_36x0in",
        media_type="stationery-coated",
        feed=Unrestricted(),
        cross=Measured(914_400),
        unit="meters",
        capacity=Measured(45),
        level=Measured(0),
        status=broken,
    )
    assert inputs(said) == Inputs((row,), complete=True)


@pytest.mark.parametrize(
    ("said", "cross", "feed"),
    [  # Letter in the units that devices use; published check MED-14
        (b"mediaxfeed=215900;mediafeed=279400;dimunit=micrometers", Measured(215_900), Measured(279_400)),
        (b"mediaxfeed=85000;mediafeed=110000;dimunit=tenThousandthsOfInches", Measured(215_900), Measured(279_400)),
        (b"mediaxfeed=85000;mediafeed=110000;dimunit=3", Measured(215_900), Measured(279_400)),
        # Without a unit any of the three may be meant, so none is
        (b"mediaxfeed=215900;mediafeed=279400", Unknown(), Unknown()),
        (b"mediaxfeed=85000;mediafeed=110000", Unknown(), Unknown()),
        (b"mediaxfeed=21590;mediafeed=27940;dimunit=furlongs", Unknown(), Unknown()),
        # common practice, no source: 0 is what many devices send for a size that they do not know
        (b"mediaxfeed=0;mediafeed=0;dimunit=micrometers", Unknown(), Unknown()),
        (b"mediaxfeed=-2;mediafeed=-1;dimunit=micrometers", Unknown(), Unrestricted()),
        (b"mediaxfeed=wide;mediafeed=99999999999;dimunit=micrometers", Unknown(), Unknown()),
    ],
)
def test_dimensions(said: bytes, cross: Amount, feed: Amount) -> None:
    assert ORACLE["MED-14"]["expected"].startswith("85000x110000 (1e-4 in) = 215900x279400 (um)")
    (row,) = inputs(b"type=sheetFeedManual;" + said).rows
    assert (row.cross, row.feed) == (cross, feed)


def test_trays_as_devices_in_the_field_write_them() -> None:
    """The forms are those of dumps in public repositories, the values changed: a missing name, a type by number, a NUL
    at the end, keys in capitals, and a tray of which nothing is known. Levels by RFC 3805 s2.4."""
    rows = inputs(
        b"type=other;mediafeed=-2;mediaxfeed=-2;maxcapacity=-2;level=-2;status=0",
        b"type=6;level=-3;name=Roll\0",
        b"TYPE=sheetFeedManual;LEVEL=150;Status=7",
    ).rows
    assert [(row.index, row.type, row.name, row.level) for row in rows] == [
        (1, "other", "", Unknown()),
        (2, "continuousRoll", "Roll", Some()),
        (3, "sheetFeedManual", "", Measured(150)),
    ]
    assert rows[2].status is None  # 7 is not assigned


def test_an_output() -> None:
    said = b"type=unRemovableBin;maxcapacity=50;remaining=0;status=0;stackingorder=firstToLast;name=Bin;"
    idle = SubUnit("available-idle", non_critical=False, critical=False, offline=False, transitioning=False)
    fact = only_fact("printer-output-tray", attribute("printer-output-tray", octets(said)))
    assert fact == Outputs((OutputRow(1, "unRemovableBin", "Bin", "", Measured(50), Measured(0), idle),), complete=True)


# --- capabilities


def resolution(across: int, along: int, unit: int) -> Value:
    """RFC 8010 section 3.9: cross-feed, feed, units."""
    return 0x32, across.to_bytes(4, signed=True) + along.to_bytes(4, signed=True) + bytes((unit,))


def capabilities(*attributes: bytes) -> Capabilities:
    facts = read_facts(*attributes).get("Get-Printer-Attributes", [])
    (found,) = [fact for fact in facts if isinstance(fact, Capabilities)]
    return found


def test_capabilities() -> None:
    assert capabilities(
        attribute("color-supported", boolean(True)),
        attribute("sides-supported", keyword("one-sided"), keyword("two-sided-long-edge")),
        # RFC 8011 section 5.1.16: unit 3 is inch, 4 is centimetre
        attribute("printer-resolution-supported", resolution(300, 600, 3), resolution(240, 240, 4)),
        attribute("finishings-supported", enum(3), enum(61), enum(0x4001)),  # 61: IANA's registry, from memory
        attribute("media-left-margin-supported", integer(0), integer(500)),
        attribute("media-top-margin-supported", between(300, 1700)),
    ) == Capabilities(
        True,
        ("one-sided", "two-sided-long-edge"),
        ("300x600dpi", "240x240dpcm"),
        ("none", "trim-after-documents", "16385"),
        Margins(left=(0, 5000), top=(3000, 17_000)),
    )


def test_each_oddity_loses_itself_only() -> None:
    """Wrong kinds, wrong sizes of octets and senseless numbers, one in every attribute, beside what is sound."""
    nine, eight = 0x32, bytes(8)  # RFC 8010 section 3.9: a resolution has nine octets
    said = (
        attribute("color-supported", keyword("yes")),
        attribute("sides-supported", integer(2), keyword("one-sided")),
        attribute("printer-resolution-supported", (nine, eight), resolution(0, 0, 3), resolution(600, 600, 3)),
        attribute("finishings-supported", keyword("none"), UNKNOWN),
        attribute("media-left-margin-supported", integer(-5), between(9, 3), keyword("none")),
        attribute("printer-up-time", (0x21, b"\1")),
        attribute("printer-current-time", (0x31, b"12345")),
        attribute("printer-input-tray", integer(1)),
        attribute("printer-alert", integer(1)),
        attribute("printer-make-and-model", text("Halden 36R")),
    )
    facts = read_facts(*said)
    assert capabilities(*said) == Capabilities(None, ("one-sided",), ("600x600dpi",), ("none",), Margins())
    assert facts["printer-make-and-model"] == [Model("Halden 36R")]
    assert not {"printer-up-time", "printer-input-tray", "printer-alert"} & set(facts)


def test_nothing_said_is_no_fact() -> None:
    facts = read_facts(attribute("color-supported", UNKNOWN), attribute("printer-name", text(" ")))
    assert not [fact for each in facts.values() for fact in each if isinstance(fact, Capabilities | PrinterNames)]


# --- names and clock


def only(kind: type[Fact], *attributes: bytes) -> Fact:
    (found,) = [fact for each in read_facts(*attributes).values() for fact in each if isinstance(fact, kind)]
    return found


def test_names() -> None:
    said = (attribute("printer-name", name("plans-new")), attribute("printer-location", text("Harrow Lane")))
    assert only(PrinterNames, *said) == PrinterNames("plans-new", "", "Harrow Lane")


def test_the_clock() -> None:
    """The date is the example of RFC 2579 (DateAndTime): 1992-5-26,13:30:15.0,-4:0."""
    date = (0x31, bytes.fromhex("07c8 051a 0d1e 0f00 2d04 00"))
    assert only(
        PrinterClock,
        attribute("printer-up-time", integer(5400)),
        attribute("printer-state-change-time", integer(5000)),
        attribute("printer-config-change-time", integer(1)),
        attribute("printer-current-time", date),
        attribute("printer-config-change-date-time", (0x31, bytes(11))),  # a device without a clock
    ) == PrinterClock(5400, 5000, 1, "1992-05-26T13:30:15-04:00", "")
