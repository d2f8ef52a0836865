"""The lower half of the page of ``compare``: what was seen otherwise, which questions ended otherwise, and what always
moves. Decides nothing."""

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Final

from netcheck.comparing.attempts import AttemptChange
from netcheck.comparing.document import Difference
from netcheck.comparing.facts import FactChange, FieldChange, How
from netcheck.report.page import Page
from netcheck.roles import Outcome, Role
from netcheck.words import count, join

_HANG: Final = 13
_MOST_LINES: Final = 40
_MOST_NAMES: Final = 6
_BY_SOURCE: Final = frozenset({"advertisement", "job-check", "certificate"})
"""Kinds of which one probe sees several, told apart by the source."""
_LOST: Final = {How.NOT_SEEN: "Not seen now", How.SEEN_NOW: "Seen now, and not before"}


def print_facts(page: Page, facts: Sequence[FactChange]) -> None:
    """What changed, a line each, whichever ways it was seen; then what was not seen both times, a line a reason."""
    lines = _lines(each for each in facts if not each.moves and each.how not in _LOST)
    if lines:
        page.head("Seen otherwise")
    for (role, text), probes in list(lines.items())[:_MOST_LINES]:
        page.labelled(str(role), f"{text} ({join(probes)})", 2, 10)
    if len(lines) > _MOST_LINES:
        page.text(f"and {len(lines) - _MOST_LINES} more: --json has all of them", 2)
    for how, head in _LOST.items():
        _lost(page, head, [each for each in facts if each.how is how])


def _lines(facts: Iterable[FactChange]) -> dict[tuple[Role, str], list[str]]:
    """Each text once, with the probes that say it. What one device announces is heard as that of our link, too."""
    lines: dict[tuple[Role, str], list[str]] = {}
    said: dict[str, Role] = {}
    for each in facts:
        text = _text(each)
        role = said.setdefault(text, each.role) if each.role is Role.HERE else each.role
        said.setdefault(text, role)
        probes = lines.setdefault((role, text), [])
        if each.probe not in probes:
            probes.append(each.probe)
    return lines


def _text(change: FactChange) -> str:
    name = join([change.kind.replace("-", " "), change.source if change.kind in _BY_SOURCE else "", change.row], " ")
    match change.how:
        case How.CHANGED:
            return f"{name}: {join(map(_field, change.fields), '; ')}"
        case How.NEW:
            return f"{name}: new, {join(each.after or '' for each in change.fields)}"
        case _:
            return f"{name}: gone, was {join(each.before or '' for each in change.fields)}"


def _field(change: FieldChange) -> str:
    if change.before is None:
        return f"{change.field} now {change.after}"
    if change.after is None:
        return f"{change.field} no longer {change.before}"
    return f"{change.field} {change.before} -> {change.after}"


def _lost(page: Page, head: str, facts: Sequence[FactChange]) -> None:
    """A probe that got no answer takes all its facts along: it is said once."""
    groups: dict[tuple[Role, str, str], list[str]] = {}
    for each in facts:
        groups.setdefault((each.role, each.probe, each.reason), []).append(each.row or each.kind.replace("-", " "))
    if groups:
        page.head(f"{head}: it may be as it was")
    then = "then: " if head == _LOST[How.SEEN_NOW] else ""
    for (role, probe, reason), names in groups.items():
        each_once = list(dict.fromkeys(names))
        more = f" and {len(each_once) - _MOST_NAMES} more" if len(each_once) > _MOST_NAMES else ""
        page.labelled(str(role), f"{probe}: {join(each_once[:_MOST_NAMES])}{more} ({then}{reason})", 2, 10)


def print_answers(page: Page, found: Difference) -> None:
    """Questions that ended otherwise, a line for all that went the same way; and what the work order says otherwise."""
    groups: dict[tuple[Role, str, str, str], list[AttemptChange]] = {}
    for each in found.attempts:
        groups.setdefault((each.role, each.probe, _ended(each.before), _ended(each.after)), []).append(each)
    if groups:
        page.head("Answered otherwise")
    for (role, probe, before, after), changes in groups.items():
        what = list(dict.fromkeys(each.what for each in changes if each.what))
        names = f" {what[0]}" if len(what) == 1 else f" ({count(len(changes), 'question')})" if what else ""
        reason = next((each.reason for each in changes if each.reason), "")
        page.labelled(str(role), join([f"{probe}{names}: {before} -> {after}", reason]), 2, 10)
    if found.asked:
        page.head("Said otherwise in the Move")
        for change in found.asked:
            page.text(_field(change), 2)


def _ended(outcomes: Sequence[Outcome]) -> str:
    return join(str(each).replace("-", " ") for each in outcomes) or "not asked"


def print_always(page: Page, found: Difference) -> None:
    """One line of what is never twice the same."""
    moving = Counter(each.role for each in found.facts if each.moves)
    if moving:
        page.gap()
        told = join(f"{role} {number}" for role, number in moving.items())
        page.labelled("Always:", f"clocks, timings and counters moved on ({told}).", 0, _HANG)
