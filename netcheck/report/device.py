"""``read``: one device on one page, what it says about itself first, then what the rules make of it."""

from collections.abc import Iterator

from netcheck.case import Case
from netcheck.facts import Amount, Measured
from netcheck.facts.channels import Channels, Console, Interpreters
from netcheck.facts.condition import Alerts, Covers, HostPrinter, PrinterState
from netcheck.facts.identity import Firmware, Markers, Model, Serial, System, Uuid
from netcheck.facts.media import Formats, Inputs, MediaReady, ReadyRow
from netcheck.facts.network import Addresses, Gateways, Interfaces, IppService, Service, SnmpAgent
from netcheck.facts.supplies import Supplies
from netcheck.gates import Gate
from netcheck.report.page import Page, Paint, Tone, unpainted
from netcheck.report.summary import facts_of
from netcheck.report.text import fine
from netcheck.roles import Outcome, Role
from netcheck.rules.supplies import RECEPTACLE
from netcheck.verdict import Standing, State, Verdict, standings
from netcheck.words import join, millimetres, percent, quantity

_HANG = 14
_TONES = {Standing.IN_THE_WAY: Tone.BAD, Standing.MISSING: Tone.CARE, Standing.WATCH: Tone.CARE}
_ANSWERS = {
    State.READY: ("READY", "Nothing seen that keeps it from printing.", Tone.GOOD),
    State.READY_WITH_CARE: ("READY WITH CARE", "It can print; watch what is named below.", Tone.CARE),
    State.NOT_READY: ("NOT READY", "It needs attention before it prints.", Tone.BAD),
    State.CANNOT_TELL: ("CANNOT TELL", "Nothing wrong seen, but not all was seen.", Tone.CARE),
}


def render_device(
    case: Case, verdict: Verdict, gate: Gate, paint: Paint = unpainted, standard: str = "", as_of: str = ""
) -> str:
    """The page. Both last arguments are for the page of a move, and not needed here."""
    del standard, as_of
    page = Page(paint)
    page.answer(*_ANSWERS[verdict.state])
    page.gap()
    for label, text in _said(case):
        page.labelled(label, text, 0, _HANG)
    stands = standings(verdict.findings, gate)
    odd = [each for each in verdict.findings if not each.causes and stands[each.key] is not Standing.FINE]
    if odd:
        page.head("Odd, wrong or not seen")
    for finding in odd:
        label = {Standing.IN_THE_WAY: "wrong", Standing.MISSING: "not seen"}.get(stands[finding.key], "watch")
        text = join([finding.title, finding.remedy], ". ")
        page.labelled(label, text, 2, _HANG, _TONES.get(stands[finding.key], Tone.PLAIN))
    silent = [each for each in case.attempts if each.outcome is not Outcome.ANSWERED]
    if silent:
        page.head("Asked without an answer")
    for attempt in silent:
        page.labelled(attempt.probe, f"{attempt.target}: {attempt.reason or attempt.outcome}", 2, _HANG)
    page.gap()
    page.labelled("Fine:", fine(verdict.findings), 0, _HANG)
    return str(page)


def _said(case: Case) -> Iterator[tuple[str, str]]:
    """Label and text, a line each; only what was said."""
    role = Role.DEVICE
    names: dict[str, list[str]] = {
        "model": [each.value for each in facts_of(case, role, Model)],
        "serial": [each.value for each in facts_of(case, role, Serial)],
        "UUID": [each.value for each in facts_of(case, role, Uuid)],
    }
    for label, values in names.items():
        if values:
            yield label, join(dict.fromkeys(values), "; ")
    for firmware in facts_of(case, role, Firmware)[:1]:
        yield "firmware", firmware.version
    for system in facts_of(case, role, System)[:1]:
        yield "calls itself", join([system.name, system.location])
    yield from _network(case, role)
    yield from _state(case, role)
    yield from _consumables(case, role)


def _network(case: Case, role: Role) -> Iterator[tuple[str, str]]:
    for addresses in facts_of(case, role, Addresses)[:1]:
        rows = (
            f"{row.address}{'' if row.prefix_length is None else f'/{row.prefix_length}'} {row.origin}".strip()
            for row in addresses.rows
        )
        yield "addresses", join(rows)
    for gateways in facts_of(case, role, Gateways)[:1]:
        yield "gateway", join(gateways.addresses) or "none"
    for interfaces in facts_of(case, role, Interfaces)[:1]:
        yield "interfaces", join(f"{row.description} {row.mac} {row.oper_status}" for row in interfaces.rows)
    services = facts_of(case, role, Service)
    if services:
        by_port = sorted(services, key=lambda each: each.port)
        yield "services", join(f"{each.service} {each.port} {each.state}" for each in by_port)
    for channels in facts_of(case, role, Channels)[:1]:
        yield "channels", join(join([row.type, row.state, row.queue], " ") for row in channels.rows)
    for agent in facts_of(case, role, SnmpAgent)[:1]:
        yield "SNMP", agent.version
    for ipp in facts_of(case, role, IppService)[:1]:
        yield "IPP", f"{join(ipp.versions)} at {ipp.path or '/'}"


def _state(case: Case, role: Role) -> Iterator[tuple[str, str]]:
    for state in facts_of(case, role, PrinterState)[:1]:
        accepting = {True: "accepts jobs", False: "accepts no jobs", None: ""}[state.accepting]
        yield "state", join([state.state, accepting, *state.reasons])
    for host in facts_of(case, role, HostPrinter)[:1]:
        yield "host status", join([f"{host.device_status}/{host.printer_status}", *(host.errors or ())])
    for alerts in facts_of(case, role, Alerts)[:1]:
        for row in alerts.rows:
            yield "alert", join([row.severity, row.code, row.description])
    for covers in facts_of(case, role, Covers)[:1]:
        yield "covers", join(f"{row.description or row.index}: {row.status}" for row in covers.rows)
    for console in facts_of(case, role, Console)[:1]:
        yield (
            "panel",
            join([*console.lines, *(f"{row.description} {row.color} {row.shows}" for row in console.lights)], "; "),
        )
    for markers in facts_of(case, role, Markers)[:1]:
        meters = (f"{row.life_count} {row.unit}" for row in markers.rows if row.life_count is not None)
        yield "life count", join(meters)


def _consumables(case: Case, role: Role) -> Iterator[tuple[str, str]]:
    supplies = facts_of(case, role, Supplies)
    for row in supplies[0].rows if supplies else ():
        share = percent(row.level, row.capacity, row.unit)
        left = " room" if row.family == RECEPTACLE else ""
        level = quantity(row.level, row.unit) if share is None else f"{share:3} % {_bar(share)}"
        yield "supply", f"{level}{left}  {row.description or f'{row.colorant} {row.type}'.strip()}"
    for inputs in facts_of(case, role, Inputs)[:1]:
        for tray in inputs.rows:
            size = " x ".join(filter(None, [_length(tray.cross), _length(tray.feed)])) or tray.media_name
            level = quantity(tray.level, tray.unit)
            yield "media", join([tray.name or str(tray.index), size, tray.media_type, level])
    for ready in facts_of(case, role, MediaReady)[:1]:
        yield "ready", join(dict.fromkeys(join([row.name or _size(row), row.type], " ") for row in ready.rows), "; ")
    for spoken in facts_of(case, role, Interpreters)[:1]:
        yield "languages", join(dict.fromkeys(row.family.removeprefix("lang") for row in spoken.rows))
    for formats in facts_of(case, role, Formats)[:1]:
        yield "formats", join(formats.values)


def _size(row: ReadyRow) -> str:
    if row.size is None:
        return ""
    length = row.size.y.high if row.size.y.low == row.size.y.high else 0
    return join([millimetres(row.size.x.high), "x " + millimetres(length) if length else "wide"], " ")


def _bar(share: int) -> str:
    full = round(share / 10)
    return "[" + "#" * full + "." * (10 - full) + "]"


def _length(amount: Amount) -> str:
    return millimetres(amount.value) if isinstance(amount, Measured) else ""
