"""Facts for support: the objects behind the other facts, as they came. No rule reads them."""

from typing import ClassVar

import msgspec

from netcheck.facts.base import Fact


class RawRow(msgspec.Struct, frozen=True):
    """One value of one object. ``name`` is the standard's, with the instance (``prtMarkerSuppliesLevel.1.3``); the OID
    where we know no name. ``oid`` is "" outside SNMP. ``syntax`` is the ASN.1 type (RFC 2578 s7.1) or the IPP syntax
    (RFC 8010 s3.5.2); ``value`` is text, in hexadecimal where ``hex`` says so. A member of a collection is ``depth``
    levels below the attribute that it belongs to."""

    name: str
    oid: str
    syntax: str
    value: str
    hex: bool = False
    depth: int = 0


class RawObjects(Fact, frozen=True):
    """The objects of one table or attribute group, in the order of their OIDs or as they came."""

    kind: ClassVar[str] = "objects"
    rows: tuple[RawRow, ...]


LONGEST_VALUE = 512
"""Characters of one value that are kept: a whole run's objects must fit into a saved case."""


def cut(text: str) -> str:
    """A value at its longest, and how much was left out."""
    more = len(text) - LONGEST_VALUE
    return text if more <= 0 else f"{text[:LONGEST_VALUE]}... ({more} more characters)"


def octets_row(name: str, oid: str, syntax: str, value: bytes, *, binary: bool = False, depth: int = 0) -> RawRow:
    """A row of octets: as text where they are text in UTF-8, and need not be ``binary``; else in hexadecimal."""
    text = None if binary else _text(value)
    return RawRow(name, oid, syntax, cut(value.hex() if text is None else text), text is None, depth)


def _text(value: bytes) -> str | None:
    try:
        text = value.decode("utf-8")
    except UnicodeDecodeError:
        return None
    return text if all(char.isprintable() or char in "\t\r\n" for char in text) else None
