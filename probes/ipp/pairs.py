"""Stage: read. The one form that printer-supply, printer-alert and the trays share: an octetString of `key=value;`,
with the labels and the numbers of the Printer MIB in it (PWG 5100.9, PWG 5100.13). Pure."""

import re

_DECIMAL = re.compile("-?[0-9]{1,10}")


def pairs(octets: str) -> dict[str, str]:
    """Values by key, which is read in lower case. The last semicolon may be missing, as it was in the first edition;
    the first of two equal keys counts; a NUL at the end is C's, not a part of the last value."""
    found: dict[str, str] = {}
    for part in octets.split(";"):
        key, equals, value = part.partition("=")
        if equals:
            found.setdefault(key.strip().lower(), value.strip().rstrip("\0"))
    return found


def decimal(text: str | None) -> int | None:
    """A decimal of 32 bits, as everything in the Printer MIB is; anything else says nothing."""
    number = int(text) if text and _DECIMAL.fullmatch(text) else None
    return number if number is not None and -(2**31) <= number < 2**31 else None
