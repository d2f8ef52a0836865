"""The value of a fact's field in words. Pure: plain values in, text out, so that a kind of a later version has words as
well, if worse ones."""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any, Final

import msgspec

from netcheck.comparing.tables import A_SECOND, FIELD_NAMES, MICROMETRES, MOVES
from netcheck.facts import KINDS, Amount, Measured
from netcheck.facts.media import MediaSize, Span
from netcheck.words import count, join, millimetres, quantity, say

_LABELS: Final = ("description", "name", "address", "uri", "key", "color")
_KEPT_IN: Final = {"level": "unit", "capacity": "unit", "remaining": "unit"}
_MOST_NAMES: Final = 3
_SIZE: Final = {"x", "y"}
_SPAN: Final = {"low", "high"}
_MBIT: Final = 1_000_000
_YEAR_10000_MS: Final = 253_402_300_800_000


def summary(kind: str, value: Mapping[str, Any]) -> str:
    """A whole fact in a few words; of a table, how many rows it has."""
    if (known := KINDS.get(kind)) and (text := say(msgspec.convert(value, known))):
        return text
    rows = value.get("rows")
    if not isinstance(rows, list):
        return row_text(value, kind)
    names = list(filter(None, map(label, rows)))[:_MOST_NAMES]
    return join([count(len(rows), "row"), join(names) + (", ..." if len(rows) > len(names) > 0 else "")], ": ")


def label(row: Any) -> str:
    """What a row is called; "" where it has no name."""
    if not isinstance(row, Mapping):
        return ""
    return next((str(row[name]) for name in _LABELS if row.get(name)), "")


def row_text(row: Any, kind: str = "") -> str:
    """A whole row, or a whole small fact, without what moves all the time in facts of its ``kind``."""
    if not isinstance(row, Mapping):
        return words("", row)
    told = ((name, value) for name, value in row.items() if _tells(value) and (kind, name) not in MOVES)
    said = ((name, words(name, value, row)) for name, value in told)
    return join(f"{field_name(name)} {text}" for name, text in said if text)


def field_name(name: str) -> str:
    """A field's name, as a person reads it."""
    return FIELD_NAMES.get(name, name.replace("_", " "))


def words(name: str, value: Any, row: Mapping[str, Any] | None = None) -> str:
    """The value of the field ``name``, whose unit stands in ``row``; "" where the source said nothing."""
    match value:
        case None | "":
            return ""
        case bool():
            return "yes" if value else "no"
        case int():
            return _number(name, value)
        case {"is": _}:
            return _amount(name, value, (row or {}).get(_KEPT_IN.get(name, ""), ""))
        case Mapping():
            return _object(value)
        case Sequence() if not isinstance(value, str):
            return join(filter(None, (words(name, each) for each in value)))
        case _:
            return str(value)


def _tells(value: Any) -> bool:
    return value not in (None, "", [], {})


def _number(name: str, value: int) -> str:
    if name in MICROMETRES:
        return millimetres(value)
    if ticks := A_SECOND.get(name):
        return str(timedelta(seconds=value // ticks)) if 0 <= value < _YEAR_10000_MS else str(value)
    if name == "speed_bits" and value and value % _MBIT == 0:
        return f"{value // _MBIT} Mbit/s"
    if name.startswith("not_") and name.endswith("_ms") and 0 <= value < _YEAR_10000_MS:
        return f"{datetime.fromtimestamp(value // 1000, UTC):%Y-%m-%d}"
    return str(value)


def _amount(name: str, value: Mapping[str, Any], unit: str) -> str:
    amount: Amount = msgspec.convert(value, Amount)
    if name in MICROMETRES and isinstance(amount, Measured):
        return millimetres(amount.value)
    return quantity(amount, unit)


def _object(value: Mapping[str, Any]) -> str:
    """A small structure inside a row."""
    if set(value) == _SIZE:
        size = msgspec.convert(value, MediaSize)
        return f"{_span(size.x)} x {_span(size.y)}"
    if set(value) == _SPAN:
        return _span(msgspec.convert(value, Span))
    if "availability" in value:  # PrtSubUnitStatusTC: one word, and flags
        flags = (field_name(name) for name, each in value.items() if each is True)
        return join([str(value["availability"]), *flags])
    return row_text(value)


def _span(span: Span) -> str:
    return millimetres(span.high) if span.low == span.high else f"{millimetres(span.low)} to {millimetres(span.high)}"
