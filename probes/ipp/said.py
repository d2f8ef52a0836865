"""Stage: read, the small change. What a set of values says under one reading; what does not fit it was not said.

A value of another kind than the standard's is as good as none: a printer-state that is a text proves no state. Strings
of all kinds are one kind here, since devices mix up text, name and keyword (common practice, no source).
"""

from collections.abc import Iterable, Mapping
from typing import TypeAlias, assert_never

from probes.ipp.values import (
    Boolean,
    Collection,
    DateTime,
    Enumerated,
    GroupTag,
    Integer,
    Message,
    Octets,
    Opaque,
    OutOfBand,
    Range,
    Resolution,
    Text,
    Value,
)

Values: TypeAlias = tuple[Value, ...]
Attributes: TypeAlias = Mapping[str, Values]

_AROUND = " \t\r\n\0"
_RESOLUTION_UNITS = {3: "dpi", 4: "dpcm"}


def of_printer(message: Message) -> Attributes | None:
    """What a printer says of itself, or None where it says nothing. A request is about one printer (RFC 8011 section
    4.2.5), so several printer groups are still its own; of a name that comes twice the first counts."""
    groups = message.groups_of(GroupTag.PRINTER)
    return dict(pair for group in reversed(groups) for pair in group.by_name().items()) if groups else None


def texts(values: Iterable[Value]) -> tuple[str, ...]:
    """The strings among them, in order; position is kept only where all are strings."""
    return tuple(value.value for value in values if isinstance(value, Text))


def in_place(values: Iterable[Value]) -> tuple[str, ...]:
    """The strings of a set that another set goes with by position: "" holds the place of what is none."""
    return tuple(value.value if isinstance(value, Text) else "" for value in values)


def text(values: Iterable[Value]) -> str:
    """The first string; "" for none, or for one that is blank. A NUL at its end is C's."""
    return next(iter(texts(values)), "").strip(_AROUND)


def number(values: Iterable[Value]) -> int | None:
    """The first integer or enum."""
    return next((value.value for value in values if isinstance(value, Integer | Enumerated)), None)


def flag(values: Iterable[Value]) -> bool | None:
    """The first boolean."""
    return next((value.value for value in values if isinstance(value, Boolean)), None)


def octets(values: Iterable[Value]) -> tuple[str, ...]:
    """Strings that the standard makes octetStrings of ASCII, and some devices texts; "" in the place of what is
    neither."""
    return tuple(_octets(value) for value in values)


def _octets(value: Value) -> str:
    match value:
        case Octets(value=raw):
            return raw.decode("utf-8", "replace")
        case Text(value=string):
            return string
        case _:
            return ""


def words(values: Iterable[Value], labels: Mapping[int, str] | None = None) -> str:
    """Values as text for a person, joined by commas; "" where all are out of band."""
    return ",".join(filter(None, (_word(value, labels or {}) for value in values)))


def _word(value: Value, labels: Mapping[int, str]) -> str:  # noqa: C901 - one arm a class, nothing else
    match value:
        case Text():
            return value.value
        case Integer():
            return str(value.value)
        case Enumerated():
            return labels.get(value.value, str(value.value))
        case Boolean():
            return "true" if value.value else "false"
        case Resolution():
            return f"{value.across}x{value.along}{_RESOLUTION_UNITS.get(value.unit, '')}"
        case Range():
            return f"{value.lower}-{value.upper}"
        case Octets():
            return value.value.hex()
        case DateTime():
            instant = value.instant()
            return instant.isoformat() if instant else ""
        case Collection():
            return "{" + " ".join(f"{member.name}={words(member.values)}" for member in value.members) + "}"
        case OutOfBand() | Opaque():
            return ""
        case _:
            assert_never(value)
