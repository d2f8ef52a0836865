"""``read``: one device on one page. The answer and which device it is come first, then what is wrong, then all that it
says about itself, each thing once however many sources tell it; last what could not be read.

Stage: after the verdict; Case, Verdict -> text. It decides nothing: what is wrong is the verdict's word.

    device ─ device_identity, device_state, device_supplies, device_media, device_services, device_abilities,
             device_unread, device_raw ─ device_said (who says what), device_amounts (units and sizes)
"""

from collections.abc import Iterable

from netcheck.case import Case
from netcheck.gates import Gate
from netcheck.report.device_abilities import abilities
from netcheck.report.device_identity import address, identity, more
from netcheck.report.device_media import media
from netcheck.report.device_raw import render_objects
from netcheck.report.device_said import Line
from netcheck.report.device_services import services
from netcheck.report.device_state import state
from netcheck.report.device_supplies import supplies
from netcheck.report.device_unread import remarks, unread
from netcheck.report.page import NOTHING_ABOUT, About, Page, Paint, Tone, unpainted
from netcheck.report.safe import terminal
from netcheck.report.text import fine
from netcheck.verdict import Finding, Standing, State, Verdict, standings
from netcheck.words import join

_HANG = 14
_WIDEST_LABEL = 26
_MOST = 8
"""Findings of one weight that are shown: a device may have hundreds of alerts, and a person reads the first few."""
_ANSWERS = {
    State.READY: ("READY", "Nothing seen that keeps it from printing.", Tone.GOOD),
    State.READY_WITH_CARE: ("READY WITH CARE", "It can print; watch what is named below.", Tone.CARE),
    State.NOT_READY: ("NOT READY", "It needs attention before it prints.", Tone.BAD),
    State.CANNOT_TELL: ("CANNOT TELL", "Nothing wrong seen, but not all was seen.", Tone.CARE),
}
_HEADINGS = (
    ("In the way", Standing.IN_THE_WAY, Tone.BAD),
    ("Missing: not seen, and needed", Standing.MISSING, Tone.CARE),
    ("To watch", Standing.WATCH, Tone.CARE),
)


def render_device(
    case: Case,
    verdict: Verdict,
    gate: Gate,
    paint: Paint = unpainted,
    about: About = NOTHING_ABOUT,
    *,
    raw: bool = False,
) -> str:
    """The page. ``about`` is for the page of a move, and not needed here; ``raw`` adds the objects behind it."""
    del about
    page = Page(paint)
    page.answer(*_ANSWERS[verdict.state])
    page.gap()
    _lines(page, identity(case))
    _findings(page, verdict, gate)
    for heading, lines in (
        ("State", state(case, verdict)),
        ("Supplies", supplies(case)),
        ("Media", media(case)),
        ("Services", services(case)),
        ("Address", address(case)),
        ("Abilities", abilities(case)),
        ("More", more(case)),
        ("Remarkable", remarks(case)),
        ("Not read", unread(case)),
    ):
        _section(page, heading, list(lines))
    page.gap()
    _notes(page, verdict, gate)
    page.labelled("Fine:", fine(verdict.findings), 0, _HANG)
    if raw:
        render_objects(page, case)
    return str(page)


def _section(page: Page, heading: str, lines: list[Line]) -> None:
    """A heading with its lines, in a column as wide as its labels need; nothing where there is nothing to say."""
    if not lines:
        return
    page.head(heading)
    widths = [len(terminal(line.label)) for line in lines]
    _lines(page, lines, max([_HANG - 4, *(width for width in widths if width <= _WIDEST_LABEL)]))


def _lines(page: Page, lines: Iterable[Line], width: int = _HANG - 4) -> None:
    for line in lines:
        label = line.label
        if len(terminal(label)) > width:
            page.text(label, 2, line.tone)
            label = ""
        page.labelled(f"  {label}".rstrip() if label else "", line.text, 0, width + 4, line.tone)


def _findings(page: Page, verdict: Verdict, gate: Gate) -> None:
    """What is wrong, not seen or to be watched, and what to do about it; what follows from something else is left
    out."""
    for heading, standing, tone in _HEADINGS:
        found = _standing(verdict, gate, standing)
        if found:
            page.head(heading)
        shown = found[:_MOST]
        for number, finding in enumerate(shown, 1):
            page.labelled(f"{number}.", finding.title, 2, 5, tone)
            after = shown[number] if number < len(shown) else None
            if after and (after.id, after.remedy) == (finding.id, finding.remedy):
                continue  # the same is to be done about the next one: once is enough
            if finding.remedy:
                page.labelled("do", finding.remedy, 5, _HANG)
            page.labelled("more", f"netcheck explain {finding.id}", 5, _HANG)
        if len(found) > _MOST:
            page.text(f"and {len(found) - _MOST} more; --json has all of them", 2, tone)


def _standing(verdict: Verdict, gate: Gate, wanted: Standing) -> list[Finding]:
    stands = standings(verdict.findings, gate)
    return [each for each in verdict.findings if not each.causes and stands[each.key] is wanted]


def _notes(page: Page, verdict: Verdict, gate: Gate) -> None:
    notes = [*_standing(verdict, gate, Standing.LATER), *_standing(verdict, gate, Standing.NOTE)]
    if notes:
        page.labelled("Notes:", join((each.title for each in notes), "; "), 0, _HANG)
