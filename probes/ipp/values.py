"""Stage: read, the nouns. What an IPP message says, typed and frozen, nothing interpreted.

A message is groups, a group is attributes, an attribute is a name with one or more values (RFC 8010 section 3.1).
A value is one of the classes of `Value`; the tag that the sender chose stays visible wherever one class serves
several tags, so that an encoded message decodes to an equal one. Nothing here knows what an attribute means.
"""

from __future__ import annotations

from datetime import datetime, timedelta, timezone
from enum import IntEnum
from typing import TypeAlias

import msgspec


class GroupTag(IntEnum):
    """Delimiter tags (RFC 8010 section 3.5.1). Others below 0x10 open groups too and are kept as numbers."""

    OPERATION = 0x01
    JOB = 0x02
    END = 0x03
    PRINTER = 0x04
    UNSUPPORTED = 0x05


class Tag(IntEnum):
    """Value tags (RFC 8010 section 3.5.2)."""

    UNSUPPORTED = 0x10
    DEFAULT = 0x11
    UNKNOWN = 0x12
    NO_VALUE = 0x13
    NOT_SETTABLE = 0x15
    DELETE_ATTRIBUTE = 0x16
    ADMIN_DEFINE = 0x17
    INTEGER = 0x21
    BOOLEAN = 0x22
    ENUM = 0x23
    OCTET_STRING = 0x30
    DATE_TIME = 0x31
    RESOLUTION = 0x32
    RANGE = 0x33
    BEGIN_COLLECTION = 0x34
    TEXT_WITH_LANGUAGE = 0x35
    NAME_WITH_LANGUAGE = 0x36
    END_COLLECTION = 0x37
    TEXT = 0x41
    NAME = 0x42
    KEYWORD = 0x44
    URI = 0x45
    URI_SCHEME = 0x46
    CHARSET = 0x47
    NATURAL_LANGUAGE = 0x48
    MIME_MEDIA_TYPE = 0x49
    MEMBER_NAME = 0x4A


class Integer(msgspec.Struct, frozen=True, gc=False):
    """A signed 32-bit number."""

    value: int


class Enumerated(msgspec.Struct, frozen=True, gc=False):
    """A registered number; what it stands for depends on the attribute."""

    value: int


class Boolean(msgspec.Struct, frozen=True, gc=False):
    value: bool


class Octets(msgspec.Struct, frozen=True, gc=False):
    """An octetString: bytes without a charset."""

    value: bytes


class DateTime(msgspec.Struct, frozen=True, gc=False):
    """A dateTime: the eleven octets of DateAndTime (RFC 2579), kept as they came."""

    octets: bytes

    def instant(self) -> datetime | None:
        """The moment it names, or None where the octets are no date (a device without a clock sends zeros)."""
        year = self.octets[0] << 8 | self.octets[1]
        month, day, hour, minute, second, tenths, sign, hours, minutes = self.octets[2:]
        offset = timedelta(hours=hours, minutes=minutes)
        try:
            zone = timezone({0x2B: offset, 0x2D: -offset}[sign])
            return datetime(year, month, day, hour, minute, min(second, 59), tenths * 100_000, zone)
        except (KeyError, ValueError):
            return None


class Resolution(msgspec.Struct, frozen=True, gc=False):
    """Dots a unit, across the feed and along it; unit 3 is inch, 4 is centimetre (RFC 8011 section 5.1.16)."""

    across: int
    along: int
    unit: int


class Range(msgspec.Struct, frozen=True, gc=False):
    """A rangeOfInteger, both ends included; kept as sent, even with the ends the wrong way round."""

    lower: int
    upper: int


class Text(msgspec.Struct, frozen=True, gc=False):
    """Any character string: text, name, keyword, uri, uriScheme, charset, naturalLanguage, mimeMediaType.

    `tag` is the kind, TEXT or NAME also for the two kinds that carry a language of their own; `language` is that
    language, None where the message's own applies.
    """

    tag: Tag
    value: str
    language: str | None = None


class OutOfBand(msgspec.Struct, frozen=True, gc=False):
    """A statement in place of a value: unsupported, unknown, no-value and the like. Tags 0x10 to 0x1f."""

    tag: int


class Opaque(msgspec.Struct, frozen=True, gc=False):
    """A value of a tag that this version does not know, or not of its tag's size, kept as data."""

    tag: int
    octets: bytes


class Collection(msgspec.Struct, frozen=True, gc=False):
    """Member attributes, in the order sent."""

    members: tuple[Attribute, ...]

    def member(self, name: str) -> tuple[Value, ...]:
        """The values of the first member of that name; empty when there is none."""
        return next((member.values for member in self.members if member.name == name), ())


Scalar: TypeAlias = Integer | Enumerated | Boolean | Octets | DateTime | Resolution | Range | Text | OutOfBand | Opaque
Value: TypeAlias = Scalar | Collection


class Attribute(msgspec.Struct, frozen=True, gc=False):
    """A name and its values, at least one. A 1setOf and a single value differ only in how many there are."""

    name: str
    values: tuple[Value, ...]


class Group(msgspec.Struct, frozen=True, gc=False):
    """One attribute group. May be empty; a name sent twice is kept twice."""

    tag: int
    attributes: tuple[Attribute, ...] = ()

    def by_name(self) -> dict[str, tuple[Value, ...]]:
        """Values by attribute name. Of a name sent twice the first counts, as a reader of the octets would meet it."""
        return {attribute.name: attribute.values for attribute in reversed(self.attributes)}


class Message(msgspec.Struct, frozen=True, gc=False):
    """A request or a response; `code` is the operation of the one and the status of the other."""

    version: tuple[int, int]
    code: int
    request_id: int
    groups: tuple[Group, ...]
    data: bytes = b""

    def groups_of(self, tag: int) -> tuple[Group, ...]:
        return tuple(group for group in self.groups if group.tag == tag)
