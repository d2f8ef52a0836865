"""Which services there are, and what is offered there. A part of the page of one device.

Four sources speak of one service: we, who knocked at the port; the protocol's own answer; the table of print channels;
and what is announced. A row has them all.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from netcheck.case import Attempt, Case
from netcheck.facts.channels import ChannelRow, Channels
from netcheck.facts.link import SERVICE_OF_TYPE, Advertisement, Certificate
from netcheck.facts.network import IppService, Service, SnmpAgent
from netcheck.place import DEFAULT_PORTS
from netcheck.report.device_said import ROLE, Line, seen
from netcheck.report.page import Tone
from netcheck.roles import Outcome
from netcheck.words import join

_SERVICE_OF_CHANNEL = {
    "chLPDServer": "lpd",
    "chPort9100": "raw",
    "chAppSocket": "raw",
    "chPortTCP": "raw",
    "chBidirPortTCP": "raw",
    "chIPP": "ipp",
    "chPortHTTP": "http",
    "chFTP": "ftp",
    "chServerMessageBlock": "smb",
}
"""PrtChannelTypeTC (IANA-PRINTER-MIB) by the service that carries it."""
_ACCEPTS = "printDataAccepted"
_ANSWERS = "answers"


@dataclass(slots=True)
class Row:
    """A service; ``port`` None where nobody told it."""

    service: str
    port: int | None
    state: str
    offers: list[str] = field(default_factory=list)


def services(case: Case) -> Iterator[Line]:
    """A line a service, by port number as far as it is known."""
    rows = [_seen_row(each.fact) for each in seen(case, Service)]
    rows += _snmp(case)
    _add_ipp(rows, case)
    _add_certificates(rows, case)
    others = _add_channels(rows, case)
    _add_announcements(rows, case)
    for row in sorted(rows, key=lambda row: (row.state not in {"open", _ANSWERS}, row.port or 0)):
        port = "" if row.port is None else str(row.port)
        tone = Tone.PLAIN if row.state in {"open", _ANSWERS} else Tone.FAINT
        yield Line(row.service, f"{port:>5}  {row.state:9} {join(dict.fromkeys(row.offers))}".rstrip(), tone)
    if any(others):
        yield Line("more", f"by its own table: {join(dict.fromkeys(others))}")


def _seen_row(fact: Service) -> Row:
    return Row(fact.service, fact.port, fact.state, [fact.error] if fact.state == "unreachable" and fact.error else [])


def _find(rows: list[Row], *services: str, port: int | None = None) -> Row | None:
    """The row of the first of these services that is there; of that port, if one is named."""
    named = [row for service in services for row in rows if row.service == service]
    return next((row for row in named if port is None or row.port in {None, port}), None)


def _attempts(case: Case, probe: str) -> list[Attempt]:
    return [each for each in case.attempts if each.role is ROLE and each.probe == probe]


def _snmp(case: Case) -> Iterator[Row]:
    """SNMP has no connection: it is there when it answers, and not seen otherwise."""
    named = case.move.device.ports.named() if case.move.device else {}
    port = named.get("snmp", DEFAULT_PORTS["snmp"])
    if agents := seen(case, SnmpAgent):
        yield Row("snmp", port, _ANSWERS, [f"SNMP{each.fact.version}" for each in agents])
        return
    for attempt in _attempts(case, "snmp")[:1]:
        if attempt.outcome is not Outcome.NOT_TRIED:
            answered = attempt.outcome is Outcome.ANSWERED
            yield Row("snmp", port, _ANSWERS if answered else str(attempt.outcome))


def _add_ipp(rows: list[Row], case: Case) -> None:
    answered = [each.target for each in _attempts(case, "ipp") if each.outcome is Outcome.ANSWERED]
    secure = any(target.startswith("ipps:") for target in answered)
    for each in seen(case, IppService):
        row = _find(rows, "ipps", "ipp") if secure else _find(rows, "ipp", "ipps")
        if row is None:
            row = Row("ipps" if secure else "ipp", None, _ANSWERS)
            rows.append(row)
        versions = f"IPP {join(each.fact.versions)}" if each.fact.versions else "IPP, versions not told"
        row.offers.append(f"{versions} at {each.fact.path or '/'}")


def _add_certificates(rows: list[Row], case: Case) -> None:
    for each in seen(case, Certificate):
        found = each.fact
        trust = "trusted here" if found.verified else "signed by itself" if found.self_signed else "not trusted here"
        text = f"{found.tls or 'TLS'}, certificate until {_date(found.not_after_ms)}, {trust}"
        on_port = [row for row in rows if row.port == found.port and row.service in {"https", "ipps", "ipp", "http"}]
        if not on_port:
            on_port = [Row("tls", found.port, _ANSWERS)]
            rows += on_port
        secure = [row for row in on_port if row.service.endswith("s")] or on_port
        secure[0].offers.append(text)


def _date(at_ms: int) -> str:
    try:
        return f"{datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=at_ms):%Y-%m-%d}"
    except OverflowError:
        return "a date beyond all calendars"


def _add_channels(rows: list[Row], case: Case) -> list[str]:
    """What the device's own table of channels says; returns the channels of which we saw no service."""
    others = []
    for channels in seen(case, Channels)[:1]:
        for channel in channels.fact.rows:
            service = _SERVICE_OF_CHANNEL.get(channel.type, "")
            row = _find(rows, service) if service else None
            if row is None:
                others.append(join([_called(channel), _channel(channel, None)], " "))
            elif text := _channel(channel, row.port):
                row.offers.append(text)
    return others


def _called(channel: ChannelRow) -> str:
    """``USB`` for chUSB; nothing for a type that names none, a number for one that has no name yet."""
    name = channel.type.removeprefix("ch")
    return "" if name in {"other", "unknown"} else f"channel {name}".strip() if not name or name.isdecimal() else name


def _channel(channel: ChannelRow, port: int | None) -> str:
    own = f"port {channel.port} by its own table" if channel.port not in {None, port} else ""
    queue = f"queue {channel.queue}" if channel.queue else ""
    state = "" if channel.state in {_ACCEPTS, ""} else f"channel says {channel.state}"
    return join([queue, own, state])


def _add_announcements(rows: list[Row], case: Case) -> None:
    for each in seen(case, Advertisement):
        found = each.fact
        service = SERVICE_OF_TYPE.get(found.type, "")
        if not service or not found.port:
            continue
        row = _find(rows, service, port=found.port)
        beside = next((row for row in rows if row.port == found.port), None)
        if row is None and beside is not None:
            beside.offers.append(f"announced as {service}")
            continue
        if row is None:
            row = Row(service, found.port, "not asked")
            rows.append(row)
        queue = found.get("rp") if service == "lpd" else ""
        row.offers += [f"queue {queue}"] if queue else []
        row.offers.append("announced")
