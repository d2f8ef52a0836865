"""Media and supplies as an IPP printer tells them, as facts: published checks and devices that deviate."""

import json
import re

import pytest

from netcheck.facts import Fact, Measured, Some, Unknown, Unrestricted
from netcheck.facts.media import MediaReady, MediaSize, MediaSupported, ReadyRow, Span
from netcheck.facts.supplies import Supplies, Supply

from .test_ipp_bytes import (
    FIXTURES,
    NO_VALUE,
    UNKNOWN,
    UNSUPPORTED,
    Value,
    attribute,
    between,
    collection,
    integer,
    keyword,
    name,
    octets,
    text,
)
from .test_ipp_reading import only_fact, read_facts

ORACLE = {row["id"]: row for row in json.loads((FIXTURES / "standards/oracle_checks.json").read_text())}


# --- media


MEDIA_NAMES = [row for row in ORACLE if re.fullmatch(r"[a-z]+_[^ ]+", ORACLE[row]["input"]) and row.startswith("MED-")]


@pytest.mark.parametrize("row", [row for row in MEDIA_NAMES if ORACLE[row]["expected"].startswith("x=")])
def test_a_loaded_size_is_read_from_its_name(row: str) -> None:
    fact = only_fact("media-ready", attribute("media-ready", keyword(ORACLE[row]["input"])))
    assert isinstance(fact, MediaReady)
    size = fact.rows[0].size
    assert size
    x, y = re.findall(r"\b[xy]=([\d.]+)", ORACLE[row]["expected"])
    assert (size.x, size.y) == tuple(Span(int(float(side) * 10), int(float(side) * 10)) for side in (x, y))


def test_custom_sizes_are_a_range() -> None:
    said = attribute("media-supported", keyword("custom_min_3x5in"), keyword("custom_max_13x19in"))
    fact = only_fact("media-supported", said)
    assert isinstance(fact, MediaSupported)
    # 7620 x 12700 to 33020 x 48260, in 1/100 mm
    assert fact.sizes == (MediaSize(Span(76_200, 330_200), Span(127_000, 482_600)),), ORACLE["MED-13"]


def test_sizes_are_a_union_of_what_names_and_collections_say() -> None:
    sheet = collection(x_dimension=integer(60960), y_dimension=integer(91440))
    custom = collection(x_dimension=between(27940, 91440), y_dimension=between(12700, 762000))
    said = (
        attribute("media-supported", keyword("na_arch-d_24x36in"), name("Plan paper"), keyword("roll_current_36x0in")),
        attribute("media-size-supported", sheet, custom, collection(x_dimension=integer(1))),
        attribute("media-type-supported", keyword("stationery-coated")),
        attribute("media-source-supported", keyword("main-roll")),
    )
    assert only_fact("media-supported", *said) == MediaSupported(
        ("na_arch-d_24x36in", "Plan paper", "roll_current_36x0in"),
        (
            MediaSize(Span(609_600, 609_600), Span(914_400, 914_400)),
            MediaSize(Span(279_400, 914_400), Span(127_000, 7_620_000)),
        ),
        ("stationery-coated",),
        ("main-roll",),
    )


@pytest.mark.parametrize(
    ("loaded", "size"),
    [
        ("roll_current_36x0in", MediaSize(Span(914_400, 914_400), Span(0, 0))),  # a roll whose length is not told
        ("roll_current_36x1800in", MediaSize(Span(914_400, 914_400), Span(0, 45_720_000))),  # from memory: what is left
        ("roll_min_11x5in", None),  # an end of a range is not what is loaded
        ("custom_max_36x300in", None),
        ("custom_plan_610x914mm", MediaSize(Span(610_000, 610_000), Span(914_000, 914_000))),
        ("main", None),  # a tray's name: legacy, common practice, no source
        ("letter", None),
    ],
)
def test_names_of_what_is_loaded(loaded: str, size: MediaSize | None) -> None:
    assert only_fact("media-ready", attribute("media-ready", keyword(loaded))) == MediaReady(
        (ReadyRow(loaded, size, "", ""),)
    )


def test_a_name_gives_the_size_that_the_collection_lacks() -> None:
    media = collection(
        media_size_name=keyword("iso_a1_594x841mm"), media_type=name("Fine"), media_source=keyword("main")
    )
    size = MediaSize(Span(594_000, 594_000), Span(841_000, 841_000))
    expected = MediaReady((ReadyRow("iso_a1_594x841mm", size, "Fine", "main"),))
    assert only_fact("media-col-ready", attribute("media-col-ready", media)) == expected


@pytest.mark.parametrize("attribute_name", ["media-ready", "media-col-ready"])
def test_nothing_loaded_is_told_from_nothing_said(attribute_name: str) -> None:
    assert only_fact(attribute_name, attribute(attribute_name, NO_VALUE)) == MediaReady(())
    for said in (UNKNOWN, UNSUPPORTED, integer(1)):
        assert attribute_name not in read_facts(attribute(attribute_name, said))


@pytest.mark.parametrize("x", [integer(-1), between(5, 4), between(-5, 4), keyword("wide"), UNKNOWN])
def test_a_length_that_is_none_gives_no_size(x: Value) -> None:
    media = collection(media_size=collection(x_dimension=x, y_dimension=integer(1)), media_type=keyword("t"))
    assert only_fact("media-col-ready", attribute("media-col-ready", media)) == MediaReady(
        (ReadyRow("", None, "t", ""),)
    )


# --- supplies

PUBLISHED = (  # quoted from PWG 5100.13 section 5.6.39 on the working group's list, 7 May 2020
    b"type=toner;maxcapacity=100;level=75;index=1;markerindex=1;class=supplyThatIsConsumed;unit=percent;"
    b"colorantindex=1;colorantrole=process;colorantname=black;coloranttonality=256;"
)
BLACK = Supply(1, "supplyThatIsConsumed", "toner", "Black", "percent", Measured(100), Measured(75), "black")


def supplies(*values: Value, described: tuple[str, ...] = ("Black",)) -> Fact:
    descriptions = attribute("printer-supply-description", *map(text, described))
    return only_fact("printer-supply", attribute("printer-supply", *values), descriptions)


def test_the_published_supply() -> None:
    assert supplies(octets(PUBLISHED)) == Supplies((BLACK,), complete=True)


@pytest.mark.parametrize("value", [octets(PUBLISHED.removesuffix(b";")), text(PUBLISHED.decode())])
def test_supplies_in_the_field(value: Value) -> None:
    # The last semicolon was missing in the first edition; text for octetString is common practice, no source.
    assert supplies(value) == Supplies((BLACK,), complete=True)


def test_levels_mean_what_they_mean_in_the_mib() -> None:
    # RFC 3805 section 2.4; PWG 5100.13, from memory, takes the MIB's numbers over.
    levels = {"-1": Unrestricted(), "-2": Unknown(), "-3": Some(), "0": Measured(0), "": Unknown(), "x": Unknown()}
    values = [octets(f"class=receptacleThatIsFilled;maxcapacity=100;level={level};".encode()) for level in levels]
    fact = supplies(*values, described=("Waste",))
    assert isinstance(fact, Supplies)
    assert [row.level for row in fact.rows] == list(levels.values())
    assert [row.index for row in fact.rows] == [1, 2, 3, 4, 5, 6]
    assert [row.description for row in fact.rows] == ["Waste", "", "", "", "", ""]


@pytest.mark.parametrize("number", ["9" * 5000, "99999999999", "1e3", " ", "--1", "٣", "0x10"])
def test_a_number_that_is_none(number: str) -> None:
    fact = supplies(octets(f"type=ink;level={number};maxcapacity=1;".encode()))
    assert isinstance(fact, Supplies)
    assert fact.rows[0].level == Unknown()


def test_a_supply_that_cannot_be_read_makes_the_list_incomplete() -> None:
    assert supplies(octets(PUBLISHED), octets(b"\xff\x00garbage")) == Supplies((BLACK,), complete=False)
    assert supplies(octets(PUBLISHED), UNKNOWN) == Supplies((BLACK,), complete=False)


def test_no_supplies_are_no_fact() -> None:
    assert "printer-supply" not in read_facts(attribute("printer-supply", NO_VALUE))
    assert "printer-supply" not in read_facts()
