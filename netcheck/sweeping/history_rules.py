"""When something is news. Stage: pure; all rules of the history, each with its reason.

A fleet's page is read every morning by somebody who goes where it sends them. It is read for as long as it is right:
so one bad night is told apart from two, a device that comes and goes from one that has gone, and what was not seen from
what has changed. Nothing is hidden by that: what is no news stands under a heading of its own.
"""

from collections.abc import Sequence
from enum import Enum
from itertools import pairwise

from netcheck.standard import Standard
from netcheck.sweeping.outcome import Found
from netcheck.verdict import Holds, Standing, State

BAD_NIGHTS = 2
"""A bad night counts from so many in a row. Devices are switched off, moved, or busy with a jam for one night; whoever
is sent for that finds nothing, and stops reading. Nights in which a device was not asked are not between."""

CLOSE_NIGHTS = 7
"""So many first nights of a site its first bad night counts: what is wrong after a rollout is wrong for a reason, and
whoever rolled it out is still there."""

FLAPPING_CHANGES, FLAPPING_NIGHTS = 3, 7
"""A device whose answer differed from the night before so often in so many nights is flapping: one trouble that comes
and goes (a cable, a sleeping network card, two on one address), not a new one every other night."""

LOW_PERCENT = 20
"""Below this a supply is low where its device's Standard sets no limit. Common practice, no source."""


class Answer(Enum):
    """What a night says of a device, as far as nights are compared. That a ready one is now ready with care is in its
    findings; it is not another answer, or every supply near its limit would flap."""

    WELL = "well"
    WRONG = "wrong"
    OPEN = "open"
    """Nobody can tell: it was silent, or the question itself failed."""


def answer_of(state: State | None) -> Answer:
    """The answer of one night."""
    match state:
        case State.READY | State.READY_WITH_CARE:
            return Answer.WELL
        case State.NOT_READY:
            return Answer.WRONG
        case State.CANNOT_TELL | None:
            return Answer.OPEN


def bad_nights(answers: Sequence[Answer]) -> int:
    """How many nights in a row, up to the last one, were not well: not ready and cannot tell alike, since a device that
    fails often falls silent too."""
    for number, answer in enumerate(reversed(answers)):
        if answer is Answer.WELL:
            return number
    return len(answers)


def counts(answers: Sequence[Answer], *, closely: bool) -> bool:
    """Is the last of these nights bad, and does that count? ``closely`` is for a site in its first nights."""
    return bad_nights(answers) >= (1 if closely else BAD_NIGHTS)


def is_once(answers: Sequence[Answer], *, closely: bool) -> bool:
    """Is the last night bad, and does not count yet?"""
    return bad_nights(answers) > 0 and not counts(answers, closely=closely)


def changes(answers: Sequence[Answer]) -> int:
    """In how many of these nights, but the first, was the answer another than the night before?"""
    return sum(one is not other for one, other in pairwise(answers))


def is_flapping(answers: Sequence[Answer]) -> bool:
    """Up to the last of these nights. The night before the first that is looked at is what that is compared with."""
    return changes(answers[-FLAPPING_NIGHTS - 1 :]) >= FLAPPING_CHANGES


def appeared(before: Sequence[Found], now: Sequence[Found]) -> tuple[Found, ...]:
    """What is found now and was not before; what was only not seen then and is seen to be wrong now is new too. Notes
    are no news: they say what was not looked at."""
    known = {found.key: found.state for found in before}

    def is_new(found: Found) -> bool:
        was = known.get(found.key)
        return was is None or (was is Holds.UNPROVEN and found.state is Holds.UNMET)

    return tuple(found for found in now if found.standing is not Standing.NOTE and is_new(found))


def settled(before: Sequence[Found], now: Sequence[Found]) -> tuple[Found, ...]:
    """What was found before and is not now. What is only not seen any more is still among the findings of now."""
    known = {found.key for found in now}
    return tuple(found for found in before if found.standing is not Standing.NOTE and found.key not in known)


def low_percent(standard: Standard) -> int:
    """Below which percentage a supply of a device is low: what its Standard says, if it says it."""
    return standard.supplies.care_percent if standard.supplies else LOW_PERCENT
