"""``find``: a table with one row a printer, the answer above it. Decides nothing."""

import textwrap
from collections.abc import Iterator, Sequence
from typing import Final

from netcheck.finding.document import Found, Row
from netcheck.finding.sighting import SCAN
from netcheck.report.page import WIDTH, Page, unpainted
from netcheck.report.safe import terminal
from netcheck.roles import Outcome, Role
from netcheck.words import count, join

_HEAD: Final = ("PRINTER", "SERIAL", "ADDRESS", "SERVICES", "SEEN BY")
_GAP: Final = "  "
_NARROWEST: Final = 8
_SERVICES: Final = {"http": "web"}
_WAYS: Final = {"dnssd": "DNS-SD", "ipp": "IPP", "snmp": "SNMP", "address": "ARP", SCAN: "scan"}
_HANG: Final = 15
_SNMP: Final = "snmp"


def render_found(found: Found) -> str:
    """The page: 80 columns. A value that is too long for its column goes on below itself, so nothing is left out."""
    page = Page(unpainted)
    rows = found.devices
    page.text(_answer(rows))
    if rows:
        page.gap()
        for line in _table([_HEAD, *map(_cells, rows)]):
            page.text(line)
    notes = list(_notes(found))
    if notes:
        page.gap()
    for label, text in notes:
        page.labelled(label, text, 0, _HANG)
    return str(page)


def _answer(rows: Sequence[Row]) -> str:
    sure = sum(not row.maybe for row in rows)
    told = f"{count(sure, 'printer') if sure else 'No printer'} can be seen from here"
    more = len(rows) - sure
    return f"{told}, and {more} more may be {'one' if more == 1 else 'some'}." if more else f"{told}."


def _cells(row: Row) -> tuple[str, ...]:
    names = [name for name in row.names if not _says(row.model, name)]
    services = dict.fromkeys(_SERVICES.get(each.service, each.service) for each in row.services)
    ways = join(_WAYS.get(way, way) for way in row.ways)
    return (
        join([row.model, *names]) or join(row.hosts[:1]) or "(no name)",
        row.serial or "-",
        join(_shown(row.addresses)) or "-",
        join(services, " ") or "-",
        f"{ways} only" if row.one_way else ways,
    )


def _says(model: str, name: str) -> bool:
    return bool(model) and model.casefold() in name.casefold() and len(name) - len(model) < 3


def _shown(addresses: Sequence[str]) -> list[str]:
    """IPv4 where there is any: the rest is in the document."""
    return [address for address in addresses if ":" not in address] or list(addresses[:1])


def _table(rows: Sequence[tuple[str, ...]]) -> Iterator[str]:
    cells = [[terminal(cell) for cell in row] for row in rows]
    widths = [max(map(len, column)) for column in zip(*cells, strict=True)]
    room = WIDTH - len(_GAP) * (len(widths) - 1)
    while sum(widths) > room and max(widths) > _NARROWEST:
        widths[widths.index(max(widths))] -= 1
    for row in cells:
        columns = [textwrap.wrap(cell, width) or [""] for cell, width in zip(row, widths, strict=True)]
        for line in range(max(map(len, columns))):
            parts = [column[line] if line < len(column) else "" for column in columns]
            yield _GAP.join(part.ljust(width) for part, width in zip(parts, widths, strict=True)).rstrip()


def _notes(found: Found) -> Iterator[tuple[str, str]]:
    for row in found.devices:
        who = join([row.model or join(row.names), join(_shown(row.addresses)[:1])], " at ")
        if not row.answered:
            yield "No answer:", f"{who} announces itself, but gave no answer of its own."
        for name in row.contested:
            yield "Shared name:", f"{who} is called {name!r}, and so is another printer here."
        if row.maybe:
            yield "Maybe:", f"{who}: only its raw port is open, so maybe. Other services are behind that port too."
        if row.ours:
            yield "This machine:", f"{who} is at an address of this machine: a queue that it shares, not a printer."
    yield from _not_seen(found)


def _not_seen(found: Found) -> Iterator[tuple[str, str]]:
    scanned = False
    for attempt in found.attempts:
        if attempt.probe == SCAN:
            scanned = True
            yield "Scanned:", f"{attempt.target}: {attempt.reason}."
        elif attempt.role is Role.HERE and attempt.outcome is not Outcome.ANSWERED:
            yield "Not heard:", f"{attempt.target}: {attempt.reason or attempt.outcome}"
        elif attempt.probe == _SNMP and attempt.outcome is Outcome.DENIED:
            yield "Needs profile:", f"{attempt.target}: {attempt.reason}."
    if not found.devices:
        quiet = "neither announces itself nor lets us in" if scanned else "does not announce itself"
        yield (
            "So:",
            (
                f"A printer may be there all the same: who {quiet}, or is on another network than this machine, is not"
                " seen. Ask for it by its address: netcheck read ADDRESS"
            ),
        )
