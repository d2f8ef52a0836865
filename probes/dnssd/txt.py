"""Stage: read. The octets of a TXT record → its entries (RFC 6763 s6.4, s6.5). Pure; takes any octets.

A key is absent, alone ("passreq"), empty ("note=") or has a value, and the four are kept apart. Keys ignore case, and
only the first of equal ones counts; a string without a key is ignored, as the standard wants.
"""

from collections.abc import Iterator
from typing import Final

from netcheck.facts.link import TxtEntry

MAX_ENTRIES: Final = 128
"""More than any printer has: a record should be below 400 octets (RFC 6763 s6.2, from memory)."""


def entries(record: bytes) -> tuple[TxtEntry, ...]:
    """The keys in the record's order, in lower case."""
    found: dict[str, TxtEntry] = {}
    for string in _strings(record):
        key, equals, value = string.partition(b"=")
        # A key is printable ASCII (s6.4): what is not cannot be asked for by anybody.
        if not key or not all(0x20 <= octet <= 0x7E for octet in key):
            continue
        name = key.decode("ascii").lower()
        if name not in found and len(found) < MAX_ENTRIES:
            found[name] = _entry(name, value) if equals else TxtEntry(name, None)
    return tuple(found.values())


def _strings(record: bytes) -> Iterator[bytes]:
    """The strings, each after its length octet; the last one may have been cut off."""
    position = 0
    while position < len(record):
        end = position + 1 + record[position]
        yield record[position + 1 : end]
        position = end


def _entry(name: str, value: bytes) -> TxtEntry:
    try:
        return TxtEntry(name, value.decode("utf-8"))
    except UnicodeDecodeError:
        return TxtEntry(name, "", value.hex())
