"""What the technician reads: the answer first, then what is in the way, what to watch, what is missing."""

import re
from collections.abc import Iterable
from typing import assert_never

from netcheck.case import Case
from netcheck.gates import Gate
from netcheck.move import KEEP
from netcheck.readout import met_by, read_out
from netcheck.report.page import NOTHING_ABOUT, About, Page, Paint, Tone, unpainted
from netcheck.report.readout import print_read_out
from netcheck.report.summary import device_line
from netcheck.roles import Role
from netcheck.ruling import RULES
from netcheck.verdict import STANDARDS_STEP, Finding, Holds, Standing, State, Step, Verdict, Weight, standings
from netcheck.words import count, is_asked_first, join

_YES = {
    Gate.SURVEY: "You may start the change.",
    Gate.FILL: "You may fill the new printer.",
    Gate.SWAP: "You may unplug the old printer.",
    Gate.LEAVE: "You may leave.",
    Gate.STANDING: "Nothing seen that keeps it from printing.",
}
_NO = {
    Gate.SURVEY: "Do not start the change yet.",
    Gate.FILL: "Do not fill the new printer yet.",
    Gate.SWAP: "Leave the old printer in service.",
    Gate.LEAVE: "Do not leave yet.",
    Gate.STANDING: "This printer needs attention.",
}
_WAY_BACK = {
    Gate.SURVEY: "nothing was changed; the old printer and the queue work as before.",
    Gate.FILL: "the new printer can still go back in its box; old printer and queue work as before.",
    Gate.SWAP: "old printer and queue work as before until you unplug the old printer.",
    Gate.LEAVE: "reconnect the old printer and lead the queue back to it; keep it until all prints came out.",
    Gate.STANDING: "",
}
_KEPT_WAY_BACK = (
    "take the new printer off the network first, since both have one address; then reconnect the old one. Keep it until"
    " all prints came out."
)
_NO_WAY_BACK = "the old printer did not answer, so there may be none. Nothing was changed here."
_NOT_LOOKED_AT = "the old printer could not be looked at from here. Nothing was changed here."
_HANG = 13
_LABELS = re.compile(r"(?:^|; )(found|wanted|or else) ")


def render(case: Case, verdict: Verdict, gate: Gate, paint: Paint = unpainted, about: About = NOTHING_ABOUT) -> str:
    """The whole page."""
    page = Page(paint)
    stands = standings(verdict.findings, gate)
    roots = [finding for finding in verdict.findings if not finding.causes]
    by_standing = {standing: [each for each in roots if stands[each.key] is standing] for standing in Standing}
    first_line(page, verdict, gate, by_standing[Standing.MISSING])
    _site(page, case, gate, about)
    for heading, standing in (
        ("In the way", Standing.IN_THE_WAY),
        ("Missing: not seen, and needed", Standing.MISSING),
        ("To watch", Standing.WATCH),
    ):
        if by_standing[standing]:
            page.head(heading)
            for number, finding in enumerate(by_standing[standing], 1):
                _finding(page, number, finding, verdict, gate)
    heavy = [*by_standing[Standing.IN_THE_WAY], *by_standing[Standing.MISSING]]
    if len(heavy) > 1:
        _asked_first(page, verdict, [*heavy, *by_standing[Standing.WATCH]])
    _steps(page, verdict)
    _rest(page, verdict, by_standing)
    if way := _way_back(case, verdict, gate):
        page.labelled("Way back:", way, 0, _HANG)
    print_read_out(page, read_out(case, verdict, gate, about.code))
    return str(page)


def first_line(page: Page, verdict: Verdict, gate: Gate, missing: list[Finding]) -> None:
    """The answer, and what it permits."""
    match verdict.state:
        case State.READY:
            page.answer("READY", _YES[gate], Tone.GOOD)
        case State.READY_WITH_CARE:
            page.answer("READY WITH CARE", f"{_YES[gate]} Watch what is named below.", Tone.CARE)
        case State.NOT_READY:
            page.answer("NOT READY", _NO[gate], Tone.BAD)
        case State.CANNOT_TELL:
            counted = [each for each in verdict.findings if each.gate.reached(gate)]
            wrong = any(each.state is Holds.UNMET and each.weight is not Weight.NOTE for each in counted)
            seen = "Nothing that blocks was seen" if wrong else "Nothing wrong seen"
            page.answer("CANNOT TELL", f"{seen}; {count(len(missing), 'answer')} missing.", Tone.CARE)
        case _:
            assert_never(verdict.state)


def _own_steps(verdict: Verdict) -> list[Step]:
    return [step for step in verdict.steps if step.why.startswith(STANDARDS_STEP)]


def _site(page: Page, case: Case, gate: Gate, about: About) -> None:
    move = case.move
    queue = move.queue and f"queue {move.queue.name}"
    page.text(join([move.site, move.job and f"job {move.job}", queue or "", f"gate {gate}"]), tone=Tone.FAINT)
    by = f'by "{about.standard}"' if about.standard else "by no Standard: only what needs none was asked"
    page.text(join([by, about.as_of]), tone=Tone.FAINT)
    page.gap()
    for role in (Role.OLD, Role.NEW, Role.DEVICE):
        if role in move.roles():
            page.labelled(role, device_line(case, role, gate), 2, 10)


def _finding(page: Page, number: int, finding: Finding, verdict: Verdict, gate: Gate) -> None:
    explanation = RULES[finding.id].explanation
    page.labelled(f"{number}.", finding.title, 2, 5)
    seen = dict.fromkeys(f"{each.role} {each.probe} {each.source}" for each in finding.evidence)
    signs = [each.title for each in verdict.findings if finding.key in each.causes and each.gate.reached(gate)]
    because, *rest = _LABELS.split(finding.detail)
    said = dict(zip(rest[::2], rest[1::2], strict=True))
    for label, text in (
        ("because", because),
        ("found", said.get("found", "")),
        ("wanted", said.get("wanted", "")),
        ("or else", said.get("or else", "")),
        ("seen", join(list(seen)[:3]) + (f" and {len(seen) - 3} more" if len(seen) > 3 else "")),
        ("explains", join(signs[:4], "; ") + (f"; {len(signs) - 4} more" if len(signs) > 4 else "")),
        ("do", finding.remedy),
        ("careful", explanation.caution if finding.remedy else ""),
        ("takes", "" if not finding.remedy or finding.remedy.startswith("Wait until") else explanation.takes),
        ("more", f"netcheck explain {finding.id}"),
    ):
        if text:
            page.labelled(label, text, 5, _HANG + 1)


def _asked_first(page: Page, verdict: Verdict, shown: list[Finding]) -> None:
    """Where there is more than one thing to settle, what others must do for it comes first: it takes longest."""
    titles = {finding.title for finding in shown}
    asked = [step for step in verdict.steps if is_asked_first(step.do) and step.why in titles]
    if asked:
        page.head("Ask first, since waiting starts with asking")
        for number, step in enumerate(asked, 1):
            page.labelled(f"{number}.", f"{step.do} ({step.why})", 2, 5)


def _steps(page: Page, verdict: Verdict) -> None:
    """The Standard's own next steps, once the gate is open; what stands in the way has its remedy beside it."""
    if verdict.state not in {State.READY, State.READY_WITH_CARE}:
        return
    own = _own_steps(verdict)
    if own:
        page.head("Before you do, by the Standard (netcheck does not see these done)")
        for number, step in enumerate(own, 1):
            page.labelled(f"{number}.", step.do, 2, 5)
            page.labelled("shown by", step.why.removeprefix(STANDARDS_STEP), 5, _HANG + 1)
            if step.caution:
                page.labelled("careful", step.caution, 5, _HANG + 1)


def _way_back(case: Case, verdict: Verdict, gate: Gate) -> str:
    """What a person may go back to; nothing is promised that was not seen."""
    old = [each.state for each in verdict.findings if each.id == "services.old-reach"]
    if old and Holds.MET not in old:
        return _NOT_LOOKED_AT if _from_elsewhere(verdict) else _NO_WAY_BACK
    if gate is Gate.LEAVE and case.move.address == KEEP:
        return _KEPT_WAY_BACK
    return _WAY_BACK[gate]


def _from_elsewhere(verdict: Verdict) -> bool:
    """Does something else than the old printer itself explain that it did not answer?"""
    silent = [each for each in verdict.findings if each.id in {"services.old-reach", "services.reach"}]
    return any(each.causes for each in silent if each.id == "services.old-reach") or (
        len(silent) > 1 and all(each.state is not Holds.MET for each in silent)
    )


def _rest(page: Page, verdict: Verdict, by_standing: dict[Standing, list[Finding]]) -> None:
    page.gap()
    for label, standing in (("Later:", Standing.LATER), ("Notes:", Standing.NOTE)):
        if found := by_standing[standing]:
            page.labelled(label, join((f"{each.title} ({each.gate})" for each in found), "; "), 0, _HANG)
    page.labelled("Fine:", fine(verdict.findings), 0, _HANG)


def fine(findings: Iterable[Finding]) -> str:
    """How many requirements are met, and on whose word."""
    measured, word = met_by(findings)
    return join([f"{measured} measured", f"{word} on your word" if word else ""])
