"""In which state it is: status, reasons, alerts, covers, panel, meters. A part of the page of one device."""

from collections.abc import Iterator, Sequence

from netcheck.case import Case
from netcheck.facts.channels import Console, LightRow
from netcheck.facts.condition import AlertRow, Alerts, Covers, HostPrinter, PrinterState
from netcheck.facts.identity import Markers, Meter
from netcheck.report.device_amounts import counted, spelt
from netcheck.report.device_said import DISAGREE, Claim, Line, by_value, by_whom, seen, side_by_side, told
from netcheck.report.page import Tone
from netcheck.rules.condition import host_condition
from netcheck.verdict import Holds, Verdict
from netcheck.words import count, join

MOST = 12
"""Alerts that are shown one by one; the document has all."""
_HOST_WORDS = {
    "busy/active": "processing",
    "unknown": "not known",
    "critical alert active": "stopped by a critical alert",
}
_ACCEPTING = {True: "accepts jobs", False: "accepts no jobs", None: ""}
_CLOSED = {"coverClosed", "interlockClosed"}
_COVERS = {"coverOpen": "open", "interlockOpen": "interlock open", "other": "state not told", "unknown": "not known"}
_CHANGE = "BinaryChangeEvent"
"""How a warning is called that ends when its cause does (RFC 3805 s6)."""
_SEVERITIES = {"warning": Tone.CARE, "warningBinaryChangeEvent": Tone.CARE, "critical": Tone.BAD}


def state(case: Case, verdict: Verdict) -> Iterator[Line]:
    """The printer as a whole, then its parts."""
    yield from _status(case, verdict)
    reasons = [
        Claim(each.who, reason) for each in seen(case, PrinterState) for reason in map(_reason, each.fact.reasons)
    ]
    reasons += [Claim(each.who, spelt(error)) for each in seen(case, HostPrinter) for error in each.fact.errors or ()]
    if reasons:
        yield Line("because", join((f"{what} ({by_whom(who)})" for what, who in by_value(reasons)), "; "))
    yield from _alerts(case)
    for covers in seen(case, Covers)[:1]:
        if covers.fact.rows:
            yield Line("covers", _covers(covers.fact))
    yield from _panel(case)
    yield from _meters(case)


def _status(case: Case, verdict: Verdict) -> Iterator[Line]:
    """Both statuses as one, where they use the same word; whether two words contradict each other, the verdict says."""
    told_states = [(each.who, each.fact) for each in seen(case, PrinterState)]
    claims = [Claim(who, fact.state or "state not told") for who, fact in told_states]
    for each in seen(case, HostPrinter):
        condition = host_condition(each.fact)
        claims.append(Claim(each.who, _HOST_WORDS.get(condition, condition)))
    groups = by_value(claims)
    texts = [f"{value} ({by_whom(who)})" for value, who in groups]
    if not texts:
        return
    accepting = join(dict.fromkeys(_ACCEPTING[fact.accepting] for _, fact in told_states))
    clash = any(each.id == "agreement.state" and each.state is Holds.UNMET for each in verdict.findings)
    flag = DISAGREE if clash else ""
    yield Line("state", join([join(texts, "; ") + flag, accepting], "; "), Tone.CARE if clash else Tone.PLAIN)


def _reason(keyword: str) -> str:
    """A printer-state-reason with its severity in words (RFC 8011 s5.4.12)."""
    for severity in ("error", "warning", "report"):
        if keyword.endswith(f"-{severity}"):
            return f"{keyword.removesuffix(f'-{severity}')} ({severity})"
    return keyword


def _alerts(case: Case) -> Iterator[Line]:
    tables = seen(case, Alerts)
    groups = side_by_side([(each.who, each.fact.rows) for each in tables], _same_alert, _alike)
    complete = {each.who for each in tables if each.fact.complete}
    for group in groups[:MOST]:
        who = [name for name, _ in group]
        only = len(set(who)) == 1 and bool(complete - set(who))
        row = group[0][1]
        text = join(
            [
                f"{row.severity.removesuffix(_CHANGE) or 'severity not told'}: {_alert(group)}",
                f"told by {who[0]} only" if only else "",
            ]
        )
        yield Line("alert", text, _SEVERITIES.get(row.severity, Tone.PLAIN))
    if len(groups) > MOST:
        yield Line("", f"and {count(len(groups) - MOST, 'more alert')}")
    if tables and not groups:
        yield Line("alerts", f"none ({by_whom([each.who for each in tables])})")


def _alert(group: Sequence[tuple[str, AlertRow]]) -> str:
    """The description, and the standard's code where it says more than "other"."""
    row = group[0][1]
    words = next((each.description for _, each in group if each.description), "")
    code = next((each.code for _, each in group if each.code not in {"", "other", "unknown"}), "")
    if not words:
        return spelt(code) or f"without a word, about {spelt(row.group)}"
    return f"{words} ({code})" if code else words


def _same_alert(one: AlertRow, other: AlertRow) -> bool:
    return one.code == other.code and (one.group, one.group_index) == (other.group, other.group_index)


def _alike(one: AlertRow, other: AlertRow) -> bool:
    return bool(one.description) and one.description.casefold() == other.description.casefold()


def _covers(covers: Covers) -> str:
    not_closed = [row for row in covers.rows if row.status not in _CLOSED]
    closed = len(covers.rows) - len(not_closed)
    texts = [f"{row.description or f'cover {row.index}'} {_COVERS.get(row.status, row.status)}" for row in not_closed]
    if not not_closed:
        return f"all {closed} closed" if closed > 1 else f"{covers.rows[0].description or 'the one there is'} closed"
    return join([*texts, f"{closed} closed" if closed else ""])


def _panel(case: Case) -> Iterator[Line]:
    """What the panel shows; printer-state-message mostly repeats it."""
    claims = [Claim(each.who, join(each.fact.lines, " / ")) for each in seen(case, Console)]
    claims += [Claim(each.who, each.fact.message) for each in seen(case, PrinterState)]
    yield from told("panel", claims, flag="")
    for each in seen(case, Console)[:1]:
        lights = [_light(row) for row in each.fact.lights]
        if lights:
            yield Line("lights", join(lights))


def _light(row: LightRow) -> str:
    color = "" if row.color in {"other", "unknown"} or row.color.isdecimal() else row.color
    return join([row.description or f"light {row.index}", color, row.shows], " ")


def _meters(case: Case) -> Iterator[Line]:
    for each in seen(case, Markers)[:1]:
        for row in each.fact.rows:
            which = f"print engine {row.index}: " if len(each.fact.rows) > 1 else ""
            life = "not told" if row.life_count is None else counted(row.life_count, row.unit)
            on = (
                ""
                if row.power_on_count is None
                else f"{counted(row.power_on_count, row.unit)} since it was switched on"
            )
            yield Line("life count", join([which + life, on]))
    yield from told("meter", (Claim(each.who, f"{each.fact.count:,} {each.fact.unit}") for each in seen(case, Meter)))
