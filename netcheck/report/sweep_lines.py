"""A sweep for programs and spreadsheets: one line a device. Stage: outcomes → JSON Lines, or CSV.

JSON Lines, schema ``netcheck/swept/1``: every key is always there, no number has a fraction, and the text is ASCII
(whatever else a device says of itself is escaped), so that a line is harmless on a terminal as well.
"""

import json
from collections.abc import Callable, Iterable, Iterator
from typing import Final, Literal

import msgspec

from netcheck.gates import Gate
from netcheck.report.safe import csv_cell
from netcheck.report.sweep_night import kind_of, lowest, moment, open_roots
from netcheck.roles import Role
from netcheck.sweeping.outcome import Found, Supply, Swept
from netcheck.verdict import Holds, Standing, State, Weight

SCHEMA: Final = "netcheck/swept/1"

StandingWord = Literal["in-the-way", "missing", "watch", "later", "note", "fine"]
STANDING_WORDS: Final[dict[Standing, StandingWord]] = {
    Standing.IN_THE_WAY: "in-the-way",
    Standing.MISSING: "missing",
    Standing.WATCH: "watch",
    Standing.LATER: "later",
    Standing.NOTE: "note",
    Standing.FINE: "fine",
}


class LineFinding(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One requirement that is not met. ``root`` says that no other finding explains it; ``sources`` is what it rests
    on."""

    key: str
    id: str
    role: Role
    item: str
    state: Holds
    weight: Weight
    standing: StandingWord
    title: str
    root: bool
    detail: str
    remedy: str
    sources: tuple[str, ...]


class LineSupply(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One supply: percent left, null where the device does not say."""

    name: str
    percent: int | None


class Line(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One device in one sweep. ``standard`` is the Standard's name, ``at_ms`` when it was asked (ms since 1970),
    ``took_ms`` how long that took. ``state`` is null where there is no verdict, and ``fault`` then says why. ``fine``
    is how many requirements are met."""

    schema: Literal["netcheck/swept/1"]
    key: str
    site: str
    host: str
    queue: str
    gate: Gate
    standard: str
    at_ms: int
    took_ms: int
    state: State | None
    fault: str
    model: str
    serial: str
    firmware: str
    mac: str
    address: str
    asset: str
    notes: str
    supplies: tuple[LineSupply, ...]
    findings: tuple[LineFinding, ...]
    fine: int


def line_of(swept: Swept) -> Line:
    """The line of one device."""
    row = swept.row
    return Line(
        schema=SCHEMA,
        key=row.key,
        site=row.site,
        host=row.new.host,
        queue=row.queue.name if row.queue else "",
        gate=row.gate,
        standard=swept.standard.name,
        at_ms=swept.at_ms,
        took_ms=swept.took_ms,
        state=swept.state,
        fault=swept.fault,
        model=swept.model,
        serial=swept.serial,
        firmware=swept.firmware,
        mac=swept.mac,
        address=swept.address,
        asset=row.new.asset,
        notes=row.notes,
        supplies=tuple(map(_supply, swept.supplies)),
        findings=tuple(map(_finding, swept.findings)),
        fine=swept.fine,
    )


def _supply(supply: Supply) -> LineSupply:
    return LineSupply(supply.name, supply.percent)


def _finding(found: Found) -> LineFinding:
    return LineFinding(
        key=found.key,
        id=found.id,
        role=found.role,
        item=found.item,
        state=found.state,
        weight=found.weight,
        standing=STANDING_WORDS[found.standing],
        title=found.title,
        root=found.root,
        detail=found.detail,
        remedy=found.remedy,
        sources=found.sources,
    )


def json_line(swept: Swept) -> str:
    """One line, its end included. It may be written as soon as the device is done."""
    return json.dumps(msgspec.to_builtins(line_of(swept)), ensure_ascii=True, separators=(",", ":")) + "\n"


_COLUMNS: Final[tuple[tuple[str, Callable[[Swept], str | int | None]], ...]] = (
    ("site", lambda it: it.row.site),
    ("new", lambda it: it.row.new.host),
    ("queue", lambda it: it.row.queue.name if it.row.queue else ""),
    ("gate", lambda it: it.row.gate),
    ("answer", lambda it: kind_of(it).word),
    ("in the way", lambda it: _titles(it, Standing.IN_THE_WAY)),
    ("missing", lambda it: _titles(it, Standing.MISSING)),
    ("to watch", lambda it: _titles(it, Standing.WATCH)),
    ("fault", lambda it: it.fault),
    ("model", lambda it: it.model),
    ("serial", lambda it: it.serial),
    ("firmware", lambda it: it.firmware),
    ("mac", lambda it: it.mac),
    ("address", lambda it: it.address),
    ("asset", lambda it: it.row.new.asset),
    ("lowest supply percent", lowest),
    ("supplies", lambda it: "\n".join(map(_level, it.supplies))),
    ("asked at", lambda it: moment(it.at_ms)),
    ("took ms", lambda it: it.took_ms),
    ("fine", lambda it: it.fine),
    ("standard", lambda it: it.standard.name),
    ("notes", lambda it: it.row.notes),
    ("key", lambda it: it.row.key),
)
BOM: Final = "\ufeff"
"""Without it, spreadsheets take the file for the code page of their own country."""


def csv_lines(rows: Iterable[Swept]) -> Iterator[str]:
    """A spreadsheet's lines, each with its end (RFC 4180: CRLF), the byte order mark before the first. To be encoded in
    UTF-8 as they are."""
    yield BOM + ",".join(csv_cell(name) for name, _ in _COLUMNS) + "\r\n"
    for each in rows:
        yield ",".join(_cell(value(each)) for _, value in _COLUMNS) + "\r\n"


def _cell(value: str | int | None) -> str:
    if isinstance(value, int):
        return str(value)
    return csv_cell(value) if value else ""


def _titles(swept: Swept, standing: Standing) -> str:
    return "\n".join(each.title for each in open_roots(swept) if each.standing is standing)


def _level(supply: Supply) -> str:
    return f"{supply.name}: {'not told' if supply.percent is None else f'{supply.percent} %'}"
