"""``compare``: what changed between two saved cases, the answer first; and the few lines under a case that is judged
again. Decides nothing."""

from collections import Counter
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Final

from netcheck.comparing.changes import FindingChange, Place, Side
from netcheck.comparing.document import Difference, File
from netcheck.comparing.pairing import SERIAL
from netcheck.report.difference_facts import print_always, print_answers, print_facts
from netcheck.report.page import Page, Paint, Tone, unpainted
from netcheck.verdict import State
from netcheck.words import count, join

_HANG: Final = 13
_TONES: Final = {
    State.READY: Tone.GOOD,
    State.READY_WITH_CARE: Tone.CARE,
    State.NOT_READY: Tone.BAD,
    State.CANNOT_TELL: Tone.CARE,
}
_STANDS: Final = {
    None: "not there",
    Place.IN_THE_WAY: "in the way",
    Place.MISSING: "missing",
    Place.WATCH: "to watch",
    Place.LATER: "for later",
    Place.NOTE: "a note",
    Place.FINE: "fine",
}
_BOXES: Final = {SERIAL: "another device: its serial number", "mac": "perhaps another device: its hardware address"}
_MOST_SIGNS: Final = 4


def render_difference(found: Difference, paint: Paint = unpainted) -> str:
    """The whole page."""
    page = Page(paint)
    _answer(page, found)
    _files(page, found)
    for each in found.swapped:
        words = f"{_BOXES[each.what]} was {join(each.before)} and is {join(each.after)}."
        page.labelled("Mind:", f"The {each.role} one is {words}", 0, _HANG, Tone.CARE)
    _findings(page, found.findings)
    print_facts(page, found.facts)
    print_answers(page, found)
    print_always(page, found)
    return str(page)


def _answer(page: Page, found: Difference) -> None:
    was, now = (str(state).replace("-", " ").upper() for state in (found.was, found.now))
    word = f"{now}, as before" if was == now else f"{was} -> {now}"
    page.answer(word, _counted(found), _TONES[found.now])


def _counted(found: Difference) -> str:
    """What came and went, in one sentence."""
    facts = sum(not each.moves for each in found.facts)
    if not (found.findings or facts or found.attempts or found.swapped or found.asked):
        return "Nothing changed."
    heads = Counter(map(_head, (each for each in found.findings if not each.explained)))
    told = {
        "in the way now": heads[_CAME],
        "no longer in the way": heads[_WENT],
        "missing now": heads[_MISSING],
        "no longer missing": heads[_FOUND],
    }
    ways = [f"{number} {words}" for words, number in told.items() if number]
    rest = heads.total() - sum(told.values())
    more = f"{count(rest, 'other finding' if ways else 'finding')} changed" if rest else ""
    if ways or more:
        return join([*ways, more]) + "."
    answers = count(len(found.attempts), "answer") if found.attempts else "the Move"
    return f"No finding changed; {count(facts, 'fact') if facts else answers} did."


def _stood(change: FindingChange) -> Place | None:
    return change.before.stands if change.before else None


def _stands(change: FindingChange) -> Place | None:
    return change.after.stands if change.after else None


def _files(page: Page, found: Difference) -> None:
    for label, file in (("before", found.before), ("after", found.after)):
        page.labelled(label, _file(file), 2, 10, Tone.FAINT)
    by = f'"{found.standard}"' if found.standard else "no Standard"
    as_judged = (found.after.gate, found.after.standard or "") == (found.gate, found.standard)
    if not as_judged:
        page.labelled("by", f"gate {found.gate}, {by}", 2, 10, Tone.FAINT)
    if found.alike and found.alike is not found.was:
        state = str(found.alike).replace("-", " ")
        page.labelled("alike", f"by the rules, the Standard and the gate of after, before was {state}", 2, 10)
    if set(found.before.seen_from).isdisjoint(found.after.seen_from) and found.before.seen_from:
        here = f"{join(found.before.seen_from)}, and then from {join(found.after.seen_from) or 'nowhere'}"
        page.labelled("seen", f"from {here}", 2, 10)


def _file(file: File) -> str:
    made = f"{datetime.fromtimestamp(file.made_at // 1000, UTC):%Y-%m-%d %H:%M} UTC"
    by = f'"{file.standard}"' if file.standard else "no Standard"
    return join([file.name, made, file.tool, f"gate {file.gate}" if file.gate else "not judged", by, file.code])


_CAME, _WENT, _STAYED = "In the way now", "No longer in the way", "In the way as before, but not the same"
_LIGHTER: Final = {
    Place.MISSING: "Missing: not seen, and needed",
    Place.WATCH: "To watch",
    Place.LATER: "Later",
    Place.NOTE: "Notes",
}
_MISSING, _FOUND = _LIGHTER[Place.MISSING], "No longer missing"
_IN_FULL: Final = {_CAME, _WENT, _STAYED, _MISSING, _FOUND}


def _head(change: FindingChange) -> str:
    """The part of the page to which it belongs, by the heavier of its sides; "" for what is and was fine."""
    was, now = _stood(change), _stands(change)
    if Place.IN_THE_WAY in {was, now}:
        return _STAYED if was is now else _CAME if now is Place.IN_THE_WAY else _WENT
    if was is Place.MISSING is not now:
        return _FOUND
    return next((head for place, head in _LIGHTER.items() if place in {was, now}), "")


def _findings(page: Page, found: Sequence[FindingChange]) -> None:
    """A cause with what it explains is one entry."""
    signs: dict[str, list[str]] = {}
    heads: dict[str, list[FindingChange]] = {}
    for each in found:
        if not each.explained:
            heads.setdefault(_head(each), []).append(each)
        for cause in dict.fromkeys(cause for side in (each.before, each.after) if side for cause in side.causes):
            signs.setdefault(cause, []).append(_title(each))
    number = 0
    for head in dict.fromkeys((_CAME, _WENT, _STAYED, _MISSING, _FOUND, *_LIGHTER.values())):
        if head in heads:
            page.head(head)
        for each in heads.get(head, ()):
            number += 1
            page.labelled(f"{number}.", _line(each), 2, 5)
            if head in _IN_FULL:
                _details(page, each, signs.get(each.key, []))
    if "" in heads:
        page.gap()
        page.labelled("Fine:", _of_the_fine(heads[""]), 0, _HANG)


def _title(change: FindingChange) -> str:
    """What stands, or stood, higher up: that the cartridge was full, and not that none is."""
    return change.heavier.title if change.heavier else ""


def _line(change: FindingChange) -> str:
    was, now, why, title = _STANDS[_stood(change)], _STANDS[_stands(change)], join(change.why), _title(change)
    if was == now:
        return f"{title}: is {now} as before, but not the same ({why})"
    return f"{title}: was {was}, is {now} ({why})"


def _details(page: Page, change: FindingChange, signs: Sequence[str]) -> None:
    more = f"; {len(signs) - _MOST_SIGNS} more" if len(signs) > _MOST_SIGNS else ""
    for label, text in (
        ("before", _said(change.before, _title(change))),
        ("now", _said(change.after, _title(change))),
        ("with it", join(signs[:_MOST_SIGNS], "; ") + more),
        ("more", f"netcheck explain {change.id}"),
    ):
        if text:
            page.labelled(label, text, 5, _HANG + 1)


def _said(side: Side | None, title: str) -> str:
    """What a finding says on one side, beyond the title that was said."""
    return join(["" if side.title == title else side.title, side.detail], "; ") if side else ""


def _of_the_fine(changes: Sequence[FindingChange]) -> str:
    """What is fine and was not asked, or the other way round: mostly that another Standard or step asks."""
    added = sum(each.before is None for each in changes)
    gone = sum(each.after is None for each in changes)
    other = len(changes) - added - gone
    return join(
        [
            f"{added} more listed" if added else "",
            f"{gone} no longer listed" if gone else "",
            f"{other} weighed otherwise" if other else "",
        ]
    )


def render_changes(found: Sequence[FindingChange], paint: Paint = unpainted) -> str:
    """Under the page of a case that is judged again: a line for each finding that is not what it was judged to be, with
    why. "" where there is none."""
    if not found:
        return ""
    page = Page(paint)
    page.head("Changed since it was judged")
    shown = [each for each in found if _head(each)]
    for number, each in enumerate(shown, 1):
        page.labelled(f"{number}.", _line(each), 2, 5)
    if fine := [each for each in found if each not in shown]:
        page.labelled("Fine:", _of_the_fine(fine), 2, _HANG)
    return str(page)
