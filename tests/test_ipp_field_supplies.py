"""Supplies as devices in the field tell them: printer-supply in all its spellings, and CUPS's marker attributes, which
many have instead. The forms were seen in public dumps; every value is invented. The meaning of the marker attributes is
CUPS's, from memory."""

import pytest

from netcheck.facts import Amount, Measured, Some, Unknown
from netcheck.facts.supplies import Supplies, Supply

from .test_ipp_bytes import NO_VALUE, UNKNOWN, Value, attribute, integer, keyword, name, octets, text
from .test_ipp_reading import read_facts

CONSUMED, RECEPTACLE = "supplyThatIsConsumed", "receptacleThatIsFilled"
FULL = Measured(100)


def supplies(*said: bytes) -> Supplies:
    facts = [fact for each in read_facts(*said).values() for fact in each if isinstance(fact, Supplies)]
    (fact,) = facts
    return fact


def supply(said: str, *more: Value) -> Supply:
    return supplies(attribute("printer-supply", octets(said.encode()), *more)).rows[0]


# --- printer-supply


@pytest.mark.parametrize(
    "said",
    [
        "index=2;class=supplyThatIsConsumed;type=inkCartridge;unit=percent;maxcapacity=100;level=67;colorantname=cyan;",
        "level=67;index=2;type=inkCartridge;class=supplyThatIsConsumed;maxcapacity=100;unit=percent;colorantname=cyan",
        "INDEX=2; CLASS=SupplyThatIsConsumed; TYPE=InkCartridge; UNIT=Percent; MAXCAPACITY=100; LEVEL=67; "
        "COLORANTNAME=cyan;",
        "index=2;class=supply-that-is-consumed;type=ink-cartridge;unit=percent;maxcapacity=100;level=67;"
        "colorantname=cyan;",
        "index=2;class=3;type=6;unit=19;maxcapacity=100;level=67;colorantname=cyan;lowlevel=3;halden-x=1;\0",
        "printer-supply[1] = index=2;class=3;type=6;unit=19;maxcapacity=100;level=67;colorantname=cyan;",
    ],
)
def test_one_supply_in_many_spellings(said: str) -> None:
    """Numbers by RFC 3805 section 6: supplyThatIsConsumed(3), inkCartridge(6), percent(19)."""
    assert supply(said) == Supply(2, CONSUMED, "inkCartridge", "", "percent", FULL, Measured(67), "cyan")


@pytest.mark.parametrize("kind", ["wasteInk", "waste-toner", "8"])  # RFC 3805 section 6: wasteInk(8)
def test_waste_is_what_a_receptacle_takes_up_also_where_the_class_is_not_told(kind: str) -> None:
    assert supply(f"type={kind};level=0;maxcapacity=100;colorantname=none;").family == RECEPTACLE
    assert supply(f"type={kind};class={CONSUMED};level=0;").family == CONSUMED  # what is told counts


def test_other_kinds_are_not_guessed() -> None:
    assert supply("type=ink;level=0;").family == ""


@pytest.mark.parametrize("colour", ["none", "unknown", "None"])
def test_no_colour_is_no_name(colour: str) -> None:
    assert supply(f"class={RECEPTACLE};type=wasteInk;level=80;colorantname={colour};").colorant == ""


def test_descriptions_stay_with_their_supplies() -> None:
    """PWG 5100.13, from memory: the i-th description belongs to the i-th supply."""
    values = [octets(f"type=ink;level={level};".encode()) for level in (10, 20, 30, 40)]
    fact = supplies(
        attribute("printer-supply", values[0], UNKNOWN, *values[1:]),
        attribute(
            "printer-supply-description", name("Cyan"), text("gone"), NO_VALUE, text(""), text("Black"), text("more")
        ),
    )
    assert [(row.index, row.level, row.description) for row in fact.rows] == [
        (1, Measured(10), "Cyan"),
        (3, Measured(20), ""),
        (4, Measured(30), ""),
        (5, Measured(40), "Black"),
    ]
    assert not fact.complete


# --- the marker attributes


def markers(
    *levels: Value,
    names: tuple[str, ...] = (),
    kinds: tuple[str, ...] = (),
    colours: tuple[str, ...] = (),
    highs: tuple[int, ...] = (),
) -> tuple[bytes, ...]:
    sets = (
        ("marker-levels", levels),
        ("marker-names", tuple(map(name, names))),
        ("marker-types", tuple(map(keyword, kinds))),
        ("marker-colors", tuple(map(name, colours))),
        ("marker-high-levels", tuple(map(integer, highs))),
    )
    return tuple(attribute(named, *values) for named, values in sets if values)


def test_a_device_that_has_only_these() -> None:
    said = markers(
        integer(57),
        integer(0),
        names=("Black ink", "Colours"),
        kinds=("ink-cartridge", "ink"),
        colours=("#000000", "#00FFFF#FF00FF#FFFF00"),
        highs=(100, 100),
    )
    assert read_facts(*said)["marker-levels"] == [
        Supplies(
            (
                Supply(1, CONSUMED, "inkCartridge", "Black ink", "percent", FULL, Measured(57), "#000000"),
                Supply(2, CONSUMED, "ink", "Colours", "percent", FULL, Measured(0), "#00FFFF#FF00FF#FFFF00"),
            ),
            complete=True,
        )
    ]


def test_printer_supply_says_more_and_is_enough() -> None:
    said = (attribute("printer-supply", octets(b"type=ink;level=40;")), *markers(integer(-2)))
    assert "marker-levels" not in read_facts(*said)
    assert "marker-levels" in read_facts(attribute("printer-supply", NO_VALUE), *markers(integer(5)))
    assert "marker-levels" in read_facts(attribute("printer-supply", octets(b"\xff\0")), *markers(integer(5)))


@pytest.mark.parametrize(
    ("level", "left"),
    [
        (100, Measured(100)),
        (101, Measured(101)),  # the rules say that this is more than there can be
        (-1, Unknown()),  # not available; in the MIB this number is "no limit"
        (-2, Unknown()),
        (-3, Some()),
        (-99, Unknown()),
    ],
)
def test_levels(level: int, left: Amount) -> None:
    assert supplies(*markers(integer(level), kinds=("ink",))).rows[0].level == left


@pytest.mark.parametrize(
    ("level", "highs", "room"),
    [
        (10, (64,), Measured(90)),
        (100, (95,), Measured(0)),  # full
        (0, (95,), Measured(100)),
        (10, (100,), Unknown()),  # which way such a device counts is not told
        (10, (), Unknown()),
        (10, (0,), Unknown()),
        (-3, (64,), Unknown()),
        (130, (64,), Unknown()),
    ],
)
def test_waste_counts_the_other_way_and_only_where_its_threshold_shows_it(
    level: int, highs: tuple[int, ...], room: Amount
) -> None:
    (row,) = supplies(*markers(integer(level), kinds=("waste-ink",), highs=highs, colours=("#008080",))).rows
    assert (row.family, row.type, row.level, row.colorant) == (RECEPTACLE, "wasteInk", room, "")


def test_sets_of_different_lengths() -> None:
    fact = supplies(*markers(integer(1), UNKNOWN, integer(3), names=("Cyan",), kinds=("ink", "ink"), colours=("none",)))
    assert [(row.index, row.description, row.type, row.colorant) for row in fact.rows] == [
        (1, "Cyan", "ink", ""),
        (3, "", "", ""),
    ]
    assert not fact.complete


def test_nothing_told_is_no_fact() -> None:
    assert not read_facts(*markers(NO_VALUE, names=("Cyan",))).keys() & {"marker-levels", "printer-supply"}
    assert not read_facts(*markers(names=("Cyan",), kinds=("ink",))).keys() & {"marker-levels", "printer-supply"}
