"""What could not be read, and why. A part of the page of one device."""

from collections.abc import Iterator

from netcheck.case import Attempt, Case
from netcheck.facts import Fact
from netcheck.facts.condition import Alerts, HostPrinter, PrinterState
from netcheck.facts.identity import Markers, Serial
from netcheck.facts.media import Inputs, MediaReady
from netcheck.facts.network import Addresses, Service
from netcheck.facts.supplies import Supplies
from netcheck.report.device_identity import firmware, models
from netcheck.report.device_said import ROLE, Line, seen
from netcheck.roles import Outcome
from netcheck.words import join

_NAMES = {"snmp": "SNMP", "ipp": "IPP", "dnssd": "DNS-SD", "tls": "TLS", "names": "name"}
_SPEAKING = {"snmp", "ipp", "dnssd"}
"""Whose facts are a printer's own word."""
_WANTED: dict[str, tuple[type[Fact], ...]] = {
    "serial number": (Serial,),
    "its own addresses": (Addresses,),
    "state": (PrinterState, HostPrinter),
    "alerts": (Alerts,),
    "supplies": (Supplies,),
    "what is loaded": (Inputs, MediaReady),
    "life count": (Markers,),
}


def unread(case: Case) -> Iterator[Line]:
    """Who did not answer and why, each reason once; then what nobody has told."""
    refused = {each.fact.port for each in seen(case, Service) if each.fact.state == "refused"}
    reasons: dict[tuple[str, str], list[str]] = {}
    for attempt in case.attempts:
        if attempt.role is ROLE and attempt.outcome is not Outcome.ANSWERED and not _is_shown(attempt, refused):
            key = _NAMES.get(attempt.probe, attempt.probe), attempt.reason or str(attempt.outcome)
            reasons.setdefault(key, []).append(attempt.target)
    for (probe, reason), targets in reasons.items():
        more = f" and {len(targets) - 1} more" if len(targets) > 1 else ""
        yield Line(probe, f"{targets[0]}{more}: {reason}")
    missing = [name for name, kinds in _WANTED.items() if not any(seen(case, kind) for kind in kinds)]
    for name, claims in (("firmware", firmware(case)), ("model", models(case))):
        if not any(claim.value.strip() for claim in claims):
            missing.insert(0, name)
    if not any(item.role is ROLE and item.probe in _SPEAKING for item in case.observations):
        yield Line("not told", "anything: no printer has spoken to us there")
    elif missing:
        yield Line("not told", join(missing))


def _is_shown(attempt: Attempt, refused: set[int]) -> bool:
    """A refused port stands among the services."""
    told = (f"{attempt.target}/".endswith(f"tcp/{port}/") or f":{port}/" in attempt.target for port in refused)
    return attempt.outcome is Outcome.REFUSED and any(told)


def remarks(case: Case) -> Iterator[Line]:
    """What was remarkable about answers that did come, each remark once."""
    notes = {
        (_NAMES.get(attempt.probe, attempt.probe), attempt.reason): None
        for attempt in case.attempts
        if attempt.role is ROLE and attempt.outcome is Outcome.ANSWERED and attempt.reason
    }
    for probe, note in notes:
        yield Line(probe, note)
