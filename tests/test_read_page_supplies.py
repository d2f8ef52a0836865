"""The supplies on the page of one device: one bar each, in units that RFC 3805 s6 has; who says otherwise is named."""

import pytest

from netcheck.facts import Amount, Measured, Some, Unknown, Unrestricted
from netcheck.facts.supplies import Supplies, Supply
from tests.test_read_page import entry, page_of


def supply(level: Amount, capacity: Amount, unit: str = "percent", name: str = "Cyan ink", **more: str) -> Supply:
    family = more.get("family", "supplyThatIsConsumed")
    return Supply(1, family, "inkCartridge", name, unit, capacity, level, more.get("colorant", "cyan"))


def told_supply(*rows: Supply) -> list[str]:
    sources = (("snmp", "prtMarkerSuppliesTable.1"), ("ipp", "printer-supply"))
    page = page_of(*((*source, Supplies((each,), True)) for source, each in zip(sources, rows, strict=False)))
    assert page.count(f"\n  {rows[0].description}  ") == 1
    return entry(page, rows[0].description)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        # RFC 3805 s6: -1 other, -2 unknown, -3 some; the units are those of PrtMarkerSuppliesSupplyUnitTC.
        (supply(Measured(88), Measured(100)), "[#################...]  88 %"),
        (
            supply(Measured(530), Measured(1300), "tenthsOfMilliliters"),
            "[########............]  40 %  53 of 130 ml left",
        ),
        (supply(Measured(7), Measured(28), "feet"), "[#####...............]  25 %  7 of 28 feet left"),
        (supply(Measured(0), Measured(100)), "[....................]   0 %  empty"),
        (supply(Measured(1), Measured(1000), "items"), "[....................]   0 %  1 of 1,000 items left"),
        (
            supply(Measured(120), Measured(100)),
            "[####################] 100 %  100 % left (told as 120 of 100 %: more than it holds)",
        ),
        (supply(Some(), Measured(100)), "some left, how much is not told"),
        (supply(Unknown(), Measured(100)), "not known"),
        (supply(Unrestricted(), Unrestricted()), "no limit"),
        (supply(Measured(40), Unknown(), "tenthsOfGrams"), "4 g left, what it holds is not known"),
        (supply(Measured(30), Unknown()), "[######..............]  30 %"),
        (supply(Measured(55), Measured(100), "other"), "[###########.........]  55 %"),
        (supply(Measured(6), Measured(12), "unknown"), "[##########..........]  50 %  6 of 12 (unit not told) left"),
    ],
)
def test_a_level_in_words(row: Supply, words: str) -> None:
    assert " ".join(told_supply(row)) == words


@pytest.mark.parametrize(
    ("level", "words"),
    [
        (Measured(97), "[###################.]  97 %  room left"),
        (Measured(0), "[....................]   0 %  no room left"),
        (Some(), "some room left, how much is not told"),
    ],
)
def test_a_receptacle_tells_its_room(level: Amount, words: str) -> None:
    """RFC 3805 s6 prtMarkerSuppliesLevel: of a receptacle it is the room that is left."""
    row = supply(level, Measured(100), name="Waste", family="receptacleThatIsFilled", colorant="")
    assert told_supply(row) == [words]


def test_a_supply_that_both_tell_has_one_bar() -> None:
    """Rounding apart: 41 of 45 is 91 %, and the other source rounds it up (common practice, no source)."""
    one, other = supply(Measured(41), Measured(45), "tenthsOfMilliliters"), supply(Measured(92), Measured(100))
    assert told_supply(one, other) == ["[##################..]  91 %  4.1 of 4.5 ml left"]


def test_a_level_that_is_told_differently_has_both_bars() -> None:
    assert told_supply(supply(Measured(88), Measured(100)), supply(Measured(20), Measured(100))) == [
        "[#################...]  88 %  (SNMP)",
        "[####................]  20 %  (IPP)  <- they disagree",
    ]


def test_who_knows_the_level_is_shown_and_who_does_not_is_no_contradiction() -> None:
    assert told_supply(supply(Unknown(), Unknown()), supply(Measured(20), Measured(100))) == [
        "[####................]  20 %"
    ]
    assert told_supply(supply(Some(), Unknown()), supply(Measured(20), Measured(100))) == [
        "[####................]  20 %"
    ]


def test_some_left_and_empty_contradict_each_other() -> None:
    assert len(told_supply(supply(Some(), Unknown()), supply(Measured(0), Measured(100)))) == 2


def test_supplies_are_joined_by_colour_where_names_and_numbers_differ() -> None:
    other = supply(Measured(88), Measured(100), name="C")
    page = page_of(
        ("snmp", "prtMarkerSuppliesTable.1", Supplies((supply(Measured(88), Measured(100)),), True)),
        (
            "ipp",
            "printer-supply",
            Supplies((Supply(4, other.family, "ink", "C", "percent", Measured(100), Measured(88), "Cyan"),), True),
        ),
    )
    assert page.count("[####") == 2  # ink and inkCartridge are two types: nothing says that they are one
    page = page_of(
        ("snmp", "prtMarkerSuppliesTable.1", Supplies((supply(Measured(88), Measured(100)),), True)),
        (
            "ipp",
            "printer-supply",
            Supplies((Supply(4, "", "", "C", "percent", Measured(100), Measured(88), "Cyan"),), True),
        ),
    )
    assert page.count("[####") == 1
