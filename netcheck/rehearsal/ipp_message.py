"""IPP messages as the simulated printer and spooler speak them: an encoder, and a reader of requests (RFC 8010 s3).

message   = version(2) operation-or-status(2) request-id(4) *group end-of-attributes(0x03) document
group     = group-tag(0x01..0x0f) *attribute
attribute = value-tag name-length(2) name value-length(2) value; a further value of a set has name-length 0
collection = begCollection(0x34) *(memberAttrName(0x4a) value) endCollection(0x37), nesting

It is written from the RFC and shares nothing with the probe that reads its answers.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass, field
from enum import IntEnum


class Tag(IntEnum):
    """Group and value tags (RFC 8010 s3.5)."""

    OPERATION = 0x01
    JOB = 0x02
    END = 0x03
    PRINTER = 0x04
    UNSUPPORTED = 0x05  # the group; the value of that name follows
    UNSUPPORTED_VALUE = 0x10
    NO_VALUE = 0x13
    INTEGER = 0x21
    BOOLEAN = 0x22
    ENUM = 0x23
    OCTETS = 0x30
    RESOLUTION = 0x32
    RANGE = 0x33
    BEGIN = 0x34
    END_COLLECTION = 0x37
    TEXT = 0x41
    NAME = 0x42
    KEYWORD = 0x44
    URI = 0x45
    CHARSET = 0x47
    LANGUAGE = 0x48
    MIME = 0x49
    MEMBER = 0x4A


MAX_NESTING = 8  # collections within collections in a request; media-col needs two

Range = tuple[int, int]
Content = int | str | bytes | Range | tuple["Attribute", ...]


@dataclass(frozen=True, slots=True)
class Attribute:
    """One attribute and its values, all of one tag.

    Integers, enums and booleans are `int`; ranges and resolutions (dots an inch) are pairs; collections are tuples of
    members; text of any kind is `str`; octetString is `bytes`. No value at all is sent as the out-of-band no-value.
    """

    tag: Tag
    name: str
    values: tuple[Content, ...]


def attribute(tag: Tag, name: str, *values: Content) -> Attribute:
    """An attribute; `values` in the order in which they are sent."""
    return Attribute(tag, name, values)


@dataclass(frozen=True, slots=True)
class Response:
    """What an operation answers: a status code and its groups after the operation attributes."""

    status: int
    groups: tuple[tuple[Tag, tuple[Attribute, ...]], ...] = ()
    message: str = ""


def encode_response(response: Response, version: tuple[int, int], request_id: int) -> bytes:
    """The whole message; charset and natural language stand first, in this order (RFC 8011 s4.1.4)."""
    first = [attribute(Tag.CHARSET, "attributes-charset", "utf-8")]
    first.append(attribute(Tag.LANGUAGE, "attributes-natural-language", "en"))
    if response.message:
        first.append(attribute(Tag.TEXT, "status-message", response.message))
    parts = [struct.pack(">BBHi", *version, response.status, request_id)]
    for tag, attributes in ((Tag.OPERATION, tuple(first)), *response.groups):
        parts.append(bytes([tag]))
        parts.extend(_encode(each) for each in attributes)
    return b"".join((*parts, bytes([Tag.END])))


def _encode(each: Attribute) -> bytes:
    if not each.values:
        return _field(Tag.NO_VALUE, each.name, b"")
    names = (each.name, *("" for _ in each.values[1:]))
    return b"".join(_value(each.tag, name, value) for name, value in zip(names, each.values, strict=True))


def _value(tag: Tag, name: str, value: Content) -> bytes:
    if isinstance(value, bytes):
        return _field(tag, name, value)
    if isinstance(value, str):
        return _field(tag, name, value.encode())
    if isinstance(value, int):
        return _field(tag, name, bytes([value]) if tag is Tag.BOOLEAN else struct.pack(">i", value))
    if tag is Tag.BEGIN:
        members = (member for member in value if isinstance(member, Attribute))
        inside = b"".join(_field(Tag.MEMBER, "", m.name.encode()) + _encode(_nameless(m)) for m in members)
        return _field(tag, name, b"") + inside + _field(Tag.END_COLLECTION, "", b"")
    packed = struct.pack(">ii", *value)
    return _field(tag, name, packed + b"\x03" if tag is Tag.RESOLUTION else packed)  # 3: dots an inch


def _nameless(member: Attribute) -> Attribute:
    return Attribute(member.tag, "", member.values)


def _field(tag: Tag, name: str, value: bytes) -> bytes:
    label = name.encode()
    return struct.pack(">BH", tag, len(label)) + label + struct.pack(">H", len(value)) + value


class MalformedRequestError(Exception):
    """The request breaks RFC 8010 s3; `request` holds what its first eight octets say."""

    def __init__(self, why: str, request: Request) -> None:
        super().__init__(why)
        self.request = request


@dataclass(slots=True)
class Request:
    """A request as far as a simulated printer needs it.

    `operation_attributes` and `job_attributes` hold each attribute's values as raw octets, in the order of arrival.
    Members of a collection are kept under `collection/member`, nested ones likewise; that is all a ticket check needs.
    """

    version: tuple[int, int]
    operation: int
    request_id: int
    operation_attributes: dict[str, list[bytes]] = field(default_factory=dict)
    job_attributes: dict[str, list[bytes]] = field(default_factory=dict)

    def text(self, name: str) -> str | None:
        """The first value of an operation attribute as text; None when it was not sent."""
        values = self.operation_attributes.get(name)
        return values[0].decode("utf-8", "replace") if values else None

    def texts(self, name: str) -> list[str]:
        """All values of an operation attribute as text."""
        return [value.decode("utf-8", "replace") for value in self.operation_attributes.get(name, [])]


def read_request(octets: bytes) -> Request:
    """Reads a request up to its document.

    Raises:
        ValueError: fewer than the eight octets of a header, so that it cannot be answered in IPP at all.
        MalformedRequestError: a header and then something that is no IPP.
    """
    if len(octets) < 8:
        raise ValueError("an IPP message has at least eight octets")
    major, minor, operation, request_id = struct.unpack_from(">BBHi", octets)
    request = Request((major, minor), operation, request_id)
    try:
        _read_groups(octets, request)
    except (struct.error, IndexError, ValueError) as fault:
        raise MalformedRequestError(str(fault), request) from fault
    return request


def _read_groups(octets: bytes, request: Request) -> None:
    groups = {Tag.OPERATION: request.operation_attributes, Tag.JOB: request.job_attributes}
    at, group, name, member = 8, dict[str, list[bytes]](), "", ""
    path: list[str] = []  # the collections that are open here
    while (tag := octets[at]) != Tag.END:
        at += 1
        if tag < 0x10:
            group = groups[Tag(tag)] if tag in groups else {}
            continue
        label, value, at = _read_field(octets, at)
        name = label or name
        if tag == Tag.BEGIN:
            path.append(member if path else name)
            if len(path) > MAX_NESTING:
                raise ValueError("collections are nested too deeply")
        elif tag == Tag.END_COLLECTION:
            path.pop()
        elif tag == Tag.MEMBER:
            member = value.decode("ascii")
        else:
            group.setdefault("/".join((*path, member)) if path else name, []).append(value)


def _read_field(octets: bytes, at: int) -> tuple[str, bytes, int]:
    (length,) = struct.unpack_from(">H", octets, at)
    label = octets[at + 2 : at + 2 + length].decode("ascii")
    at += 2 + length
    (size,) = struct.unpack_from(">H", octets, at)
    at += 2 + size
    if at > len(octets):
        raise ValueError("a value runs past the end of the message")
    return label, octets[at - size : at], at
