"""Stage: read. The one form that printer-supply, printer-alert and the trays share: an octetString of `key=value;`,
with the labels and the numbers of the Printer MIB in it (PWG 5100.9, PWG 5100.13). Pure.

What devices add to it is common practice, no source: the attribute's own name and place before the first key, labels
in the spelling of IPP's keywords, and the MIB's numbers in the place of its labels.
"""

import re
from typing import Final

from probes.snmp import labels

_DECIMAL: Final = re.compile("-?[0-9]{1,10}")
_PLACE: Final = re.compile(r"\s*[a-z][a-z-]*\[[0-9]{1,4}\]\s*=\s*")  # as in: printer-alert[0] = code=jam;
_SPELLING: Final = re.compile(r"[^a-z0-9]")


def pairs(octets: str) -> dict[str, str]:
    """Values by key, which is read in lower case. The last semicolon may be missing, as it was in the first edition;
    the first of two equal keys counts; a NUL at the end is C's, not a part of the last value."""
    found: dict[str, str] = {}
    for part in placeless(octets).split(";"):
        key, equals, value = part.partition("=")
        if equals:
            found.setdefault(key.strip().lower(), value.strip().rstrip("\0"))
    return found


def placeless(text: str) -> str:
    """A value, or its description, without the attribute's name before it and the quotes that go with that."""
    rest = text[place.end() :] if (place := _PLACE.match(text)) else text
    return rest[1:-1] if place and rest[:1] == rest[-1:] == "'" and len(rest) > 1 else rest


def decimal(text: str | None) -> int | None:
    """A decimal of 32 bits, as everything in the Printer MIB is; anything else says nothing."""
    number = int(text) if text and _DECIMAL.fullmatch(text) else None
    return number if number is not None and -(2**31) <= number < 2**31 else None


def label(table: labels.Labels, value: str) -> str:
    """The MIB's label for what a device wrote: the label in whatever spelling, or its number; else as it was given."""
    number = decimal(value)
    if number is not None:
        return labels.label(table, number)
    if value in table.values():
        return value
    spelt = _spelt(value)
    return next((known for known in table.values() if _spelt(known) == spelt), value)


def _spelt(value: str) -> str:
    return _SPELLING.sub("", value.lower())
