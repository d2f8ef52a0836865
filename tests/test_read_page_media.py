"""The page of one device: what is loaded, each feed once however it is told. Sizes are those of ISO 216 and of
PWG 5101.1 (names from memory); a length means what RFC 3805 says, a roll of PWG 5100.7 is a range of lengths."""

import pytest

from netcheck.facts import Amount, Measured, Some, Unknown, Unrestricted
from netcheck.facts.condition import SubUnit
from netcheck.facts.media import InputRow, Inputs, MediaReady, MediaSize, OutputRow, Outputs, ReadyRow, Span
from netcheck.report.device_amounts import duration, roll_words, sheet_words
from tests.test_read_page import Told, entry, page_of

FINE = SubUnit("available-idle", non_critical=False, critical=False, offline=False, transitioning=False)
BROKEN = SubUnit("unavailable-broken", non_critical=False, critical=True, offline=False, transitioning=False)


def roll(
    name: str = "Roll 1",
    width: int = 914_400,
    level: Amount = Measured(41),  # noqa: B008 - frozen
    unit: str = "meters",
    media_type: str = "stationery-coated",
    index: int = 1,
    status: SubUnit = FINE,
) -> InputRow:
    return InputRow(
        index, "continuousRoll", name, "", "", media_type,
        Unrestricted(), Measured(width), unit, Measured(45), level, status,
    )  # fmt: skip


def tray(
    name: str, cross: int, feed: int, media_name: str = "", index: int = 2, media_type: str = "stationery"
) -> InputRow:
    return InputRow(
        index, "sheetFeedAutoRemovableTray", name, "", media_name, media_type,
        Measured(feed), Measured(cross), "sheets", Measured(50), Measured(40), FINE,
    )  # fmt: skip


def ready(source: str, width: int, low: int, high: int, media_type: str = "", name: str = "") -> ReadyRow:
    return ReadyRow(name, MediaSize(Span(width, width), Span(low, high)), media_type, source)


def snmp(*rows: InputRow, complete: bool = True) -> Told:
    return "snmp", "prtInputTable.1", Inputs(rows, complete)


def trays(*rows: InputRow) -> Told:
    return "ipp", "printer-input-tray", Inputs(rows, complete=True)


def loaded(*rows: ReadyRow) -> Told:
    return "ipp", "media-col-ready", MediaReady(rows)


def section(page: str) -> list[str]:
    """The lines of the part about media."""
    return page.partition("\nMedia\n")[2].partition("\n\n")[0].splitlines()


def said(page: str, label: str) -> str:
    return " ".join(" ".join(entry(page, label)).split())


@pytest.mark.parametrize(
    ("x", "y", "words"),
    [
        (594_000, 841_000, "A1 594 x 841 mm (23.4 x 33.1 in)"),
        (841_000, 594_000, "A1 594 x 841 mm (23.4 x 33.1 in)"),
        (609_600, 914_400, "Arch D 24 x 36 in (610 x 914 mm)"),
        (215_900, 279_400, "Letter 8.5 x 11 in (216 x 279 mm)"),
        (500_000, 700_000, "500 x 700 mm (19.7 x 27.6 in)"),
        (594_400, 841_000, "A1 594 x 841 mm (23.4 x 33.1 in)"),
        (595_000, 841_000, "595 x 841 mm (23.4 x 33.1 in)"),
    ],
)
def test_a_sheet_has_its_sides_in_both_measures_and_its_name(x: int, y: int, words: str) -> None:
    assert sheet_words(x, y) == words


@pytest.mark.parametrize(
    ("width", "words"), [(914_400, "914 mm wide (36 in) roll"), (841_000, "841 mm wide (33.1 in) roll")]
)
def test_a_roll_has_its_width(width: int, words: str) -> None:
    assert roll_words(width) == words


@pytest.mark.parametrize(
    ("seconds", "words"), [(0, "0 s"), (59, "59 s"), (3_600, "1 h"), (3_660, "1 h 1 min"), (86_400 * 40 + 7, "40 d")]
)
def test_a_duration_has_its_two_largest_units(seconds: int, words: str) -> None:
    assert duration(seconds) == words


def test_a_roll_and_a_sheet_told_three_times_are_two_feeds() -> None:
    page = page_of(
        snmp(roll(), tray("Sheet tray", 297_000, 420_000)),
        trays(roll(media_type=""), tray("Sheet tray", 297_000, 420_000, media_type="")),
        loaded(
            ready("main-roll", 914_400, 210_000, 45_720_000, "stationery-coated", "roll_current_36x1800in"),
            ready("tray-1", 297_000, 420_000, 420_000, "stationery", "iso_a3_297x420mm"),
        ),
        ("ipp", "media-ready", MediaReady((ready("", 297_000, 420_000, 420_000, "", "iso_a3_297x420mm"),))),
    )
    assert len([line for line in section(page) if line[2] != " "]) == 2
    assert said(page, "Roll 1") == "914 mm wide (36 in) roll, set to stationery-coated, 41 of 45 m left"
    assert said(page, "Sheet tray") == "A3 297 x 420 mm (11.7 x 16.5 in), set to stationery, 40 of 50 sheets left"


def test_a_feed_takes_its_type_from_who_tells_it() -> None:
    page = page_of(snmp(roll(media_type="")), loaded(ready("main-roll", 914_400, 0, 0, "labels")))
    assert said(page, "Roll 1") == "914 mm wide (36 in) roll, set to labels, 41 of 45 m left"


def test_types_that_differ_stand_with_their_tellers() -> None:
    page = page_of(snmp(roll()), loaded(ready("roll-1", 914_400, 0, 0, "labels")))
    assert "set to stationery-coated (SNMP), labels (IPP) <- they disagree" in said(page, "Roll 1")


def test_sizes_that_differ_stand_with_their_tellers() -> None:
    """Joined by name: "Roll 1" is "roll-1"."""
    page = page_of(snmp(roll()), loaded(ready("roll-1", 609_600, 0, 0, "stationery-coated")))
    words = "914 mm wide (36 in) roll (SNMP), 610 mm wide (24 in) roll (IPP) <- they disagree"
    assert said(page, "Roll 1").startswith(words)


def test_levels_that_differ_stand_with_their_tellers() -> None:
    page = page_of(snmp(roll()), trays(roll(level=Measured(3))))
    assert "41 of 45 m left (SNMP), 3 of 45 m left (IPP) <- they disagree" in said(page, "Roll 1")


def test_an_empty_roll_that_is_called_ready_is_flagged() -> None:
    page = page_of(snmp(roll(level=Measured(0))), loaded(ready("main-roll", 914_400, 0, 0, "stationery-coated")))
    assert said(page, "Roll 1").endswith("empty <- but IPP calls it ready")


def test_two_rolls_of_one_width_are_joined_in_their_order() -> None:
    page = page_of(
        snmp(roll("Upper", media_type="", index=1), roll("Lower", media_type="", index=2)),
        loaded(ready("main-roll", 914_400, 0, 0, "one"), ready("alternate-roll", 914_400, 0, 0, "two")),
    )
    assert "set to one" in said(page, "Upper")
    assert "set to two" in said(page, "Lower")


def test_a_sheet_that_lies_the_other_way_round_is_the_same_size() -> None:
    page = page_of(snmp(tray("Tray", 420_000, 297_000)), loaded(ready("by-pass-tray", 297_000, 420_000, 420_000)))
    assert said(page, "Tray").startswith("A3 297 x 420 mm")
    assert "by-pass-tray" not in page


def test_another_size_and_another_kind_are_another_feed() -> None:
    page = page_of(
        snmp(roll("Upper")),
        loaded(ready("main-roll", 609_600, 0, 0, "labels"), ready("tray-2", 914_400, 1_200_000, 1_200_000)),
    )
    assert said(page, "main-roll") == "610 mm wide (24 in) roll, set to labels, how much is left is not known"
    assert said(page, "tray-2").startswith("914 x 1200 mm")
    assert "labels" not in said(page, "Upper")


def test_only_ipp_tells_what_is_ready() -> None:
    page = page_of(loaded(ready("main-roll", 914_400, 210_000, 45_720_000)))
    assert said(page, "main-roll") == (
        "914 mm wide (36 in) roll, type not told, how much is left is not known, prints up to 45.7 m long"
    )
    assert said(page_of(loaded()), "ready") == "nothing (IPP)"


def test_rolls_without_a_size_are_joined_by_what_they_are_called_after() -> None:
    def without(index: int) -> InputRow:
        return InputRow(
            index, "continuousRoll", f"Roll {index}", "", "", "",
            Unknown(), Unknown(), "meters", Measured(45), Measured(30 + index), FINE,
        )  # fmt: skip

    page = page_of(
        trays(without(1), without(2)),
        loaded(ready("main-roll", 914_400, 0, 0, "one"), ready("alternate-roll", 609_600, 0, 0, "two")),
    )
    assert said(page, "Roll 1") == "914 mm wide (36 in) roll, set to one, 31 of 45 m left"
    assert said(page, "Roll 2") == "610 mm wide (24 in) roll, set to two, 32 of 45 m left"


def test_what_is_ready_nowhere_in_particular_is_one_line() -> None:
    page = page_of(snmp(roll()), loaded(ready("", 594_000, 841_000, 841_000), ready("", 609_600, 914_400, 914_400)))
    assert said(page, "ready too") == "A1, Arch D (IPP)"


@pytest.mark.parametrize(
    ("level", "unit", "words"),
    [
        (Some(), "meters", "some left, how much is not told"),
        (Unknown(), "meters", "how much is left is not known"),
        (Unrestricted(), "meters", "no limit"),
        (Measured(41), "feet", "41 of 45 feet left"),
        (Measured(50), "sheets", "45 sheets left (told as 50 of 45 sheets: more than it holds)"),
        (Measured(5), "other", "5 of 45 (unit not told) left"),
    ],
)
def test_what_is_left_is_told_in_words_with_its_unit(level: Amount, unit: str, words: str) -> None:
    assert said(page_of(snmp(roll(level=level, unit=unit))), "Roll 1").endswith(f"stationery-coated, {words}")


def test_a_feed_that_cannot_be_used_says_so() -> None:
    """PrtSubUnitStatusTC (RFC 3805 s6): 3 is unavailable because it is broken, 16 a critical alert."""
    page = page_of(snmp(roll(status=BROKEN)))
    assert said(page, "Roll 1").endswith("41 of 45 m left, unavailable broken, critical alert")


def test_a_feed_without_a_word() -> None:
    nothing = InputRow(3, "sheetFeedManual", "", "", "", "", Unknown(), Unknown(), "", Unknown(), Unknown(), None)
    assert said(page_of(snmp(nothing)), "input 3").startswith("sheet feed manual, size not told, type not told")


def test_a_medium_with_a_name_of_its_own_keeps_it() -> None:
    page = page_of(snmp(tray("Tray", 297_000, 420_000, "Plan bond 90")))
    assert 'called "Plan bond 90"' in said(page, "Tray")
    assert "called" not in page_of(snmp(tray("Tray", 297_000, 420_000, "iso_a3_297x420mm")))


def test_outputs_tell_their_room() -> None:
    rows = (OutputRow(1, "", "Stacker", "sheets", Measured(50), Measured(0), None),)
    assert said(page_of(("snmp", "prtOutputTable.1", Outputs(rows, True))), "Stacker") == (
        "output, no room left, holds 50 sheets"
    )


def test_a_list_that_was_cut_short_says_so() -> None:
    assert "SNMP was cut short: there may be more" in page_of(snmp(roll(), complete=False))
