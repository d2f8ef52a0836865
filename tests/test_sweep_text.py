"""A night as a page on a terminal: the answer first, what changed, then who; and nothing that acts."""

import pytest

from netcheck.report.sweep_overview import render_overview
from netcheck.report.sweep_text import render_sweep
from netcheck.verdict import State
from tests.sweep_rows import canary_fleet, canary_night, changed, fleet, found, night, swept


@pytest.mark.parametrize(
    ("states", "left", "first"),
    [
        ([], 0, "No device was asked"),
        ([State.NOT_READY, State.READY], 0, "1 of 2 needs somebody"),
        ([State.READY], 1, "0 of 2 need somebody"),
        ([None, State.CANNOT_TELL], 0, "0 of 2 need somebody"),
    ],
)
def test_both_pages_begin_with_the_same_answer(states: list[State | None], left: int, first: str) -> None:
    rows = [swept(number, state, fault="" if state else "no time") for number, state in enumerate(states)]
    assert f"<h1>{first}</h1>" in render_overview(night(left), rows)
    assert render_sweep(night(left), rows).splitlines()[0].startswith(first)


def test_on_a_terminal_no_line_is_longer_than_80_and_none_acts() -> None:
    rows = list(fleet(3000))
    for page in (
        render_sweep(night(12, changed(rows)), rows),
        render_sweep(canary_night(canary_fleet()), canary_fleet()),
    ):
        assert max(map(len, page.splitlines())) <= 80
        assert not any(char in page for char in "\u202e\u2066\u200b\x00\x1b\x9b\r\t")


def test_on_a_terminal_the_answer_then_what_changed_then_who() -> None:
    rows = [*fleet(200), swept(9000, None, fault="not finished when the sweep's time was up")]
    page = render_sweep(night(12, changed(rows)), rows)
    heads = ["Changed since", "Not ready (3)", "Cannot tell (4)", "No verdict (2)", "To watch (", "Not asked"]
    places = [page.index(head) for head in heads]
    assert places == sorted(places)
    assert page.index("need somebody") < places[0]


def test_on_a_terminal_a_large_night_stays_short() -> None:
    rows = [swept(number, State.NOT_READY, findings=(found(),)) for number in range(5000)]
    page = render_sweep(night(0, changed(rows)), rows)
    assert len(page.splitlines()) < 220
    assert "and 4,960 more" in page
