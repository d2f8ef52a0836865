"""What changed since the last run: the same question, judged by the same rules, of what was seen then and now."""

from datetime import UTC, datetime

from netcheck.gates import Gate
from netcheck.report.page import Page, Paint
from netcheck.verdict import Finding, Holds, Standing, Verdict, standings
from netcheck.words import join

_HANG = 13
_OPEN = {Standing.IN_THE_WAY, Standing.MISSING, Standing.WATCH}


def _open(verdict: Verdict, gate: Gate) -> dict[str, Finding]:
    """What nothing else explains and is not settled."""
    stands = standings(verdict.findings, gate)
    return {each.key: each for each in verdict.findings if stands[each.key] in _OPEN and not each.causes}


def render_since(before: Verdict, at_ms: int, now: Verdict, gate: Gate, paint: Paint) -> str:
    """A few lines under the page; "" where nothing is open, and was not then."""
    was, is_open = _open(before, gate), _open(now, gate)
    if not was and not is_open:
        return ""
    there = {each.key: each for each in now.findings}
    settled = [each.title for key, each in was.items() if key not in there or there[key].state is Holds.MET]
    page = Page(paint)
    page.head(f"Since the last run, {datetime.fromtimestamp(at_ms // 1000, UTC):%Y-%m-%d %H:%M} UTC")
    for label, text in (
        ("Settled:", join(settled, "; ")),
        ("New:", join((each.title for key, each in is_open.items() if key not in was), "; ")),
        ("Still open:", join((each.title for key, each in is_open.items() if key in was), "; ")),
    ):
        if text:
            page.labelled(label, text, 0, _HANG)
    return str(page)
