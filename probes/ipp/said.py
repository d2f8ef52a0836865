"""Stage: read, the small change. What a set of values says under one reading; what does not fit it was not said.

A value of another kind than the standard's is as good as none: a printer-state that is a text proves no state. Strings
of all kinds are one kind here, since devices mix up text, name and keyword (common practice, no source).
"""

import re
from collections.abc import Iterable, Mapping
from typing import TypeAlias, assert_never

from probes.ipp.values import (
    Boolean,
    Collection,
    DateTime,
    Enumerated,
    Integer,
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

_USERINFO = re.compile(r"^([^:/?#]+://)[^/?#]*@")
_RESOLUTION_UNITS = {3: "dpi", 4: "dpcm"}


def texts(values: Iterable[Value]) -> tuple[str, ...]:
    """The strings among them, in order; position is kept only where all are strings."""
    return tuple(value.value for value in values if isinstance(value, Text))


def text(values: Iterable[Value]) -> str:
    """The first string; "" for none, or for one that is blank."""
    return next(iter(texts(values)), "").strip()


def number(values: Iterable[Value]) -> int | None:
    """The first integer or enum."""
    return next((value.value for value in values if isinstance(value, Integer | Enumerated)), None)


def flag(values: Iterable[Value]) -> bool | None:
    """The first boolean."""
    return next((value.value for value in values if isinstance(value, Boolean)), None)


def octets(values: Iterable[Value]) -> tuple[str, ...]:
    """Strings that the standard makes octetStrings of ASCII; some devices send them as text."""
    return tuple(
        value.value.decode("utf-8", "replace") if isinstance(value, Octets) else value.value
        for value in values
        if isinstance(value, Octets | Text)
    )


def without_userinfo(uri: str) -> str:
    """A URI without user and password, which must not get into any record."""
    return _USERINFO.sub(r"\1", uri)


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
