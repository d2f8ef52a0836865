"""Stage: ask and read, the wire. Octets ↔ `Message`, after RFC 8010; no I/O.

Theory
------
The stream is flat. After eight octets of header there are only two kinds of things, told apart by their first octet:

    0x00-0x0f  a delimiter, one octet long: it opens a group, or (0x03) ends the attributes
    0x10-0xff  a token:  tag(1)  name-length(2)  name  value-length(2)  value

What looks like a tree is made of three rules about tokens:

1. A token with a name begins an attribute; one without adds a value to the attribute begun last.
2. Inside a collection no token has a name. There a memberAttrName token (0x4a) carries in its *value* the name of the
   attribute that the tokens after it fill.
3. begCollection (0x34) stands where a value stands; which value that is, is known at the matching endCollection (0x37).

So a group and a collection are the same thing, a *frame*: attributes finished, and one being filled. They differ only
in how a name arrives. A group is the frame at the bottom, begCollection pushes a frame, endCollection pops it and adds
what it held as a value to the frame below. A delimiter is legal only with nothing pushed. Everything else is a table
from tag to value, in `scalars`.

Some devices end a collection too early, and what remains of it stands in the group (common practice, no source). There
a member's name begins an attribute, and an endCollection ends nothing: what else the device says is plain all the same.

What a hostile sender gets
--------------------------
Each step consumes at least one octet and there is no backtracking, so time is linear in the message. The size, the
number of delimiters and tokens, and the depth are bounded, and so is memory. Lengths are read as unsigned: RFC 8010
writes SIGNED-SHORT, but a negative length means nothing, and an unsigned one is either covered by octets that are there
or an error. Every defect raises `MalformedIppError`, and nothing else is ever raised.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Iterator
from typing import Final

from probes.ipp import scalars
from probes.ipp.scalars import MalformedIppError, UnencodableError
from probes.ipp.values import Attribute, Collection, Group, GroupTag, Message, Tag, Value

__all__ = ["MAX_DEPTH", "MAX_ITEMS", "MAX_OCTETS", "MalformedIppError", "UnencodableError", "decode", "encode"]

MAX_OCTETS: Final = 4 << 20
MAX_ITEMS: Final = 65_536  # delimiters and tokens; a plotter that lists 400 media sizes in full needs about 10,000
MAX_DEPTH: Final = 16  # collections in collections; the registered attributes nest no deeper than four

_HEADER = struct.Struct(">BBHi")
_LENGTH = struct.Struct(">H")
_LONGEST: Final = 0x7FFF  # of a name or value that we write
_FIRST_VALUE_TAG: Final = 0x10
_END, _MEMBER_NAME = (
    int(GroupTag.END),
    int(Tag.MEMBER_NAME),
)  # numbers: looking up an enumeration costs more than a token
_BEGIN_COLLECTION, _END_COLLECTION = int(Tag.BEGIN_COLLECTION), int(Tag.END_COLLECTION)
_WITH_LANGUAGE: Final = frozenset((int(Tag.TEXT_WITH_LANGUAGE), int(Tag.NAME_WITH_LANGUAGE)))
_SCAFFOLD: Final = frozenset((_MEMBER_NAME, _BEGIN_COLLECTION, _END_COLLECTION))


class _Frame:
    """A group or a collection while it is being read: attributes finished, and the one being filled."""

    __slots__ = ("attributes", "name", "values")

    def __init__(self) -> None:
        self.attributes: list[Attribute] = []
        self.name = ""
        self.values: list[Value] = []

    def begin(self, name: str, at: int) -> None:
        """The values that follow are for `name`."""
        self.close(at)
        self.name = name

    def close(self, at: int) -> None:
        """The attribute being filled, if there is one, has all its values."""
        if self.name:
            if not self.values:
                raise MalformedIppError("a collection member without a value", at)
            self.attributes.append(Attribute(self.name, tuple(self.values)))
            self.name, self.values = "", []

    def finished(self, at: int) -> tuple[Attribute, ...]:
        """Everything in the frame, which ends at `at`."""
        self.close(at)
        return tuple(self.attributes)


class _Reading:
    """One pass over one message. `frames` is the stack of the theory; `at` is the start of the item being read."""

    def __init__(self, octets: bytes) -> None:
        self.octets = octets
        self.at = _HEADER.size
        self.groups: list[Group] = []
        self.group_tag = 0
        self.frames: list[_Frame] = []
        self.charset = scalars.UTF_8

    def message(self) -> Message:
        size = len(self.octets)
        if size > MAX_OCTETS:
            raise MalformedIppError(f"{size} octets, more than {MAX_OCTETS}", MAX_OCTETS)
        if size < _HEADER.size:
            raise MalformedIppError("ended within the header", size)
        major, minor, code, request_id = _HEADER.unpack_from(self.octets)
        self.items()
        return Message((major, minor), code, request_id, tuple(self.groups), self.octets[self.at + 1 :])

    def items(self) -> None:
        """Every delimiter and token up to the end-of-attributes tag, at which `at` is left."""
        octets, size = self.octets, len(self.octets)
        for _ in range(MAX_ITEMS):
            if self.at >= size:
                raise MalformedIppError("ended without an end-of-attributes tag", self.at)
            tag = octets[self.at]
            if tag >= _FIRST_VALUE_TAG:
                self.token(tag)
                continue
            self.finish_group()
            if tag == _END:
                return
            self.group_tag, self.frames = tag, [_Frame()]
            self.at += 1
        raise MalformedIppError(f"more than {MAX_ITEMS} groups and values", self.at)

    def finish_group(self) -> None:
        if len(self.frames) > 1:
            raise MalformedIppError("a group ends inside a collection", self.at)
        if self.frames:
            self.groups.append(Group(self.group_tag, self.frames[0].finished(self.at)))

    def token(self, tag: int) -> None:
        """Cut one token out and put it where it belongs."""
        octets, at = self.octets, self.at
        try:
            middle = at + 3 + (octets[at + 1] << 8 | octets[at + 2])
            self.at = middle + 2 + (octets[middle] << 8 | octets[middle + 1])
        except IndexError:
            raise MalformedIppError("ended within an attribute", at) from None
        if self.at > len(octets):
            raise MalformedIppError("ended within an attribute", at)
        if not self.frames:
            raise MalformedIppError("an attribute before the first group", at)
        frame = self.frames[-1]
        if middle > at + 3:
            if len(self.frames) > 1:
                raise MalformedIppError("a named attribute inside a collection", at)
            frame.begin(scalars.name(octets[at + 3 : middle]), at)
        raw = octets[middle + 2 : self.at]
        if tag in _WITH_LANGUAGE and scalars.is_language(raw):
            raw = self.rewrapped(raw, at)
        if tag in _SCAFFOLD:
            self.scaffold(frame, tag, raw, at)
        elif not frame.name:
            raise MalformedIppError("a value that belongs to no attribute", at)
        else:
            frame.values.append(scalars.read(tag, raw, self.charset, at))
            if frame.name == "attributes-charset":
                self.charset = scalars.charset_named(raw)

    def rewrapped(self, language: bytes, at: int) -> bytes:
        """The whole of a string with language whose own length is missing, so that it seemed to end with the language.
        Some devices write it so (common practice, no source); right ones begin with a length's high octet, 0."""
        begin = self.at
        self.at += 2 + int.from_bytes(self.octets[begin : begin + 2])
        if self.at >= len(self.octets):
            raise MalformedIppError("ended within an attribute", at)
        return _LENGTH.pack(len(language)) + language + self.octets[begin : self.at]

    def scaffold(self, frame: _Frame, tag: int, raw: bytes, at: int) -> None:
        """Rules 2 and 3 of the theory."""
        if tag == _MEMBER_NAME:
            self.begin_member(frame, raw, at)
        elif tag == _END_COLLECTION:
            self.end_collection(frame, at)
        elif not frame.name:
            raise MalformedIppError("a collection that belongs to no attribute", at)
        elif len(self.frames) > MAX_DEPTH:
            raise MalformedIppError(f"collections nested deeper than {MAX_DEPTH}", at)
        else:
            self.frames.append(_Frame())

    def begin_member(self, frame: _Frame, raw: bytes, at: int) -> None:
        if not raw:
            raise MalformedIppError("a collection member without a name", at)
        frame.begin(scalars.name(raw), at)

    def end_collection(self, frame: _Frame, at: int) -> None:
        if len(self.frames) == 1:
            return
        self.frames.pop()
        self.frames[-1].values.append(Collection(frame.finished(at)))


def decode(octets: bytes) -> Message:
    """Read one complete message; what follows the end-of-attributes tag is its data.

    Raises MalformedIppError, and nothing else, for whatever is not one.
    """
    return _Reading(octets).message()


def encode(message: Message) -> bytes:
    """Write one message, strings in UTF-8. Raises UnencodableError where the encoding has no room for a part of it."""
    try:
        head = _HEADER.pack(*message.version, message.code, message.request_id)
    except struct.error as misfit:
        raise UnencodableError(f"header: {misfit}") from misfit
    return b"".join((head, *_groups(message.groups), bytes((GroupTag.END,)), message.data))


def _groups(groups: Iterable[Group]) -> Iterator[bytes]:
    for group in groups:
        if not 0 <= group.tag < _FIRST_VALUE_TAG or group.tag == GroupTag.END:
            raise UnencodableError(f"{group.tag:#x} does not open a group")
        yield bytes((group.tag,))
        for attribute in group.attributes:
            name = _name(attribute)
            for value in attribute.values:
                yield from _tokens(name, value)
                name = b""


def _name(attribute: Attribute) -> bytes:
    if not attribute.name or not attribute.values:
        raise UnencodableError("an attribute without a name, or without a value")
    return scalars.utf8(attribute.name)


def _tokens(name: bytes, value: Value) -> Iterator[bytes]:
    """One token, or for a collection the whole bracket of them (RFC 8010 section 3.1.6)."""
    if not isinstance(value, Collection):
        yield _token(name, *scalars.written(value))
        return
    yield _token(name, Tag.BEGIN_COLLECTION, b"")
    for member in value.members:
        yield _token(b"", Tag.MEMBER_NAME, _name(member))
        for inner in member.values:
            yield from _tokens(b"", inner)
    yield _token(b"", Tag.END_COLLECTION, b"")


def _token(name: bytes, tag: int, raw: bytes) -> bytes:
    if max(len(name), len(raw)) > _LONGEST:
        raise UnencodableError(f"a name or value of {max(len(name), len(raw))} octets, more than {_LONGEST}")
    return b"".join((bytes((tag,)), _LENGTH.pack(len(name)), name, _LENGTH.pack(len(raw)), raw))
