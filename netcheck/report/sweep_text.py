"""What whoever owns the fleet reads in the morning: how many need somebody, what changed, then who."""

from collections import Counter
from collections.abc import Iterable, Sequence

from netcheck.report.page import Page, Paint, Tone, unpainted
from netcheck.report.sweep_night import (
    KINDS,
    NO_VERDICT,
    Kind,
    Night,
    answer,
    beside,
    besides,
    kind_of,
    open_roots,
    place_of,
    refused,
    since_when,
    standards_of,
    tally,
    times,
    worst_first,
)
from netcheck.sweeping.outcome import Found, Swept
from netcheck.verdict import State
from netcheck.words import join

MOST_ROWS = 40
"""Of one kind; a page that scrolls for minutes tells nobody anything."""
MOST_CHANGES = 12
MOST_REASONS = 3
_HANG = 4


def render_sweep(night: Night, rows: Iterable[Swept], paint: Paint = unpainted) -> str:
    """The whole page."""
    ordered = worst_first(rows)
    counts = tally(night, ordered)
    page = Page(paint)
    unclear, rest = besides(counts)
    page.answer(answer(counts), join(unclear or rest), _tone(counts))
    page.text(join(rest if unclear else []))
    names = standards_of(ordered)
    by = f"by {join(names[:3])}" if names else "by no Standard"
    page.text(
        join([night.fleet, times(night), by, f"{len(names) - 3} more" if len(names) > 3 else ""]), tone=Tone.FAINT
    )
    page.text(refused(night))
    _changes(page, night, {each.row.key: each for each in ordered})
    for name in (State.NOT_READY, State.CANNOT_TELL, NO_VERDICT):
        _rows(page, KINDS[name], [each for each in ordered if kind_of(each).name == name])
    _watched(page, [each for each in ordered if each.state is State.READY_WITH_CARE])
    if night.left:
        page.head("Not asked")
        page.text(f"{night.left:,}: {_why_left(night)}", 2)
    return str(page)


def _why_left(night: Night) -> str:
    """What became of those that were not asked, and what helps: only what is stored can be gone on with."""
    why = "the sweep ended before their turn" if night.finished_ms else "the sweep still runs, or was killed"
    return f"{why}. Run it again with --resume." if night.case_command else f"{why}."


def _tone(counts: Counter[str]) -> Tone:
    if counts[State.NOT_READY]:
        return Tone.BAD
    return Tone.GOOD if set(+counts) <= {State.READY, State.READY_WITH_CARE} else Tone.CARE


def _changes(page: Page, night: Night, rows: dict[str, Swept]) -> None:
    changes = night.changes
    if changes is None:
        return
    page.head(since_when(changes))
    page.text(beside(night), 2)
    if changes.before_ms and not changes.parts():
        page.text("Nothing changed.", 2)
    for heading, found in changes.parts():
        page.text(f"{heading} ({len(found):,})", 2)
        for each in found[:MOST_CHANGES]:
            name = place_of(rows[each.key].row) if each.key in rows else each.name or each.key
            page.labelled("-", f"{name}: {each.words}", _HANG, _HANG + 2)
        _more(page, len(found) - MOST_CHANGES)


def _rows(page: Page, kind: Kind, found: Sequence[Swept]) -> None:
    """One kind, a paragraph a device: where it is, and what is the matter, heaviest first."""
    if not found:
        return
    page.head(f"{kind.word.capitalize()} ({len(found):,})")
    for each in found[:MOST_ROWS]:
        page.text(place_of(each.row), 2)
        page.text(each.fault or _reasons(open_roots(each)), _HANG)
    _more(page, len(found) - MOST_ROWS)


def _reasons(found: Sequence[Found]) -> str:
    """What weighs most, and how much more there is."""
    heaviest = [each.title for each in found if each.standing is found[0].standing][:MOST_REASONS]
    more = len(found) - len(heaviest)
    return join([*heaviest, f"and {more} more" if more else ""], "; ")


def _watched(page: Page, found: Sequence[Swept]) -> None:
    """What is to be watched, by what it is: many devices share few reasons."""
    reasons = Counter(one.title for each in found for one in open_roots(each))
    if not reasons:
        return
    page.head(f"To watch ({len(found):,} ready with care)")
    width = len(f"{max(reasons.values()):,}")
    for title, number in reasons.most_common(MOST_ROWS):
        page.labelled(f"{number:,}".rjust(width), title, 2, width + 4)
    _more(page, len(reasons) - MOST_ROWS)


def _more(page: Page, number: int) -> None:
    if number > 0:
        page.text(f"and {number:,} more: --html and --csv have them all", _HANG)
