"""When something is news: the rules by themselves, on nights written as letters (w well, n not ready, o open)."""

from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.standard import Standard, SupplyLimits
from netcheck.sweeping.history_rules import (
    FLAPPING_NIGHTS,
    LOW_PERCENT,
    Answer,
    answer_of,
    appeared,
    bad_nights,
    changes,
    counts,
    is_flapping,
    is_once,
    low_percent,
    settled,
)
from netcheck.verdict import Holds, Standing, State
from tests.sweep_nights import found

LETTERS = {"w": Answer.WELL, "n": Answer.WRONG, "o": Answer.OPEN}
NIGHTS = st.text("wno", min_size=1, max_size=12)


def answers(letters: str) -> list[Answer]:
    return [LETTERS[letter] for letter in letters]


def test_every_state_has_an_answer() -> None:
    given_states = (State.READY, State.READY_WITH_CARE, State.NOT_READY, State.CANNOT_TELL, None)
    assert "".join(answer_of(state).value[0] for state in given_states) == "wwwoo"
    assert [answer_of(state) for state in given_states] == answers("wwnoo")
    assert set(given_states) == {*State, None}


@pytest.mark.parametrize(
    ("letters", "bad", "news", "once"),
    [
        ("w", 0, False, False),
        ("n", 1, False, True),
        ("wn", 1, False, True),
        ("wo", 1, False, True),
        ("wnn", 2, True, False),
        ("woo", 2, True, False),
        ("wno", 2, True, False),  # it fell silent over it
        ("nw", 0, False, False),
        ("nwn", 1, False, True),
        ("nnnn", 4, True, False),
        ("", 0, False, False),
    ],
)
def test_a_bad_night_counts_from_the_second_in_a_row(letters: str, bad: int, news: bool, once: bool) -> None:
    nights = answers(letters)
    assert (bad_nights(nights), counts(nights, closely=False), is_once(nights, closely=False)) == (bad, news, once)


@pytest.mark.parametrize("letters", ["n", "o", "wn"])
def test_of_a_site_in_its_first_nights_the_first_bad_one_counts(letters: str) -> None:
    assert counts(answers(letters), closely=True)
    assert not is_once(answers(letters), closely=True)
    assert not counts(answers("nw"), closely=True)


@given(NIGHTS, st.booleans())
def test_a_bad_night_counts_or_is_once_and_a_good_one_is_neither(letters: str, closely: bool) -> None:
    nights = answers(letters)
    assert counts(nights, closely=closely) + is_once(nights, closely=closely) == (letters[-1] != "w")


@pytest.mark.parametrize(
    ("letters", "flapping"),
    [
        ("wwwwwwww", False),
        ("wnwwwwww", False),  # twice changed
        ("wwwwwnwn", True),
        ("wnwnwwww", True),
        ("nwnwwwwww", False),  # the first of the changes is out of sight
        ("wononnnn", True),
        ("wnnoonnw", True),
        ("wnoo", False),
        ("wn", False),
        ("w", False),
    ],
)
def test_flapping_is_three_changes_in_seven_nights(letters: str, flapping: bool) -> None:
    assert is_flapping(answers(letters)) is flapping


@given(NIGHTS, NIGHTS)
def test_what_is_longer_ago_than_the_nights_that_are_looked_at_does_not_matter(old: str, new: str) -> None:
    recent = answers(new * 8)[-FLAPPING_NIGHTS - 1 :]
    assert is_flapping([*answers(old), *recent]) is is_flapping(recent)
    assert changes(recent) <= FLAPPING_NIGHTS


def keys(items: Sequence[object]) -> list[str]:
    return [item.key for item in items]  # type: ignore[attr-defined]


def test_findings_appear_and_settle_by_their_key() -> None:
    firmware, cyan, black = found(), found("supplies.level", item="Cyan"), found("supplies.level", item="Black")
    assert appeared([firmware, cyan], [cyan, black]) == (black,)
    assert settled([firmware, cyan], [cyan, black]) == (firmware,)
    assert appeared([firmware], [found(detail="found 4.9.0; wanted 4.7.2")]) == ()


def test_what_was_not_seen_and_is_seen_to_be_wrong_is_new_and_not_the_other_way_round() -> None:
    open_, wrong = found(state=Holds.UNPROVEN), found(state=Holds.UNMET)
    assert appeared([open_], [wrong]) == (wrong,)
    assert appeared([wrong], [open_]) == settled([wrong], [open_]) == settled([open_], [wrong]) == ()


def test_notes_are_no_news() -> None:
    note = found("services.closed", item="ftp", state=Holds.UNPROVEN, standing=Standing.NOTE)
    assert appeared([], [note]) == settled([note], []) == ()


def test_a_supply_is_low_by_the_standard_of_its_device() -> None:
    assert low_percent(Standard("a", supplies=SupplyLimits(30, 10))) == 30
    assert low_percent(Standard("a")) == LOW_PERCENT
