"""Stage: ask and read, one value. Tag and octets ↔ a scalar of `values`, by the table of RFC 8010 section 3.9; no I/O.

What is forgiven, because real devices send it and the meaning is plain: strings that are not in the charset announced
(read as ISO 8859-1), a true that is not 0x01, octets behind an out-of-band tag. Unknown tags are kept as data, and so
are numbers of a wrong size: where they end is plain all the same, and what else the device says must not be lost.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Callable
from functools import lru_cache
from typing import Final, assert_never

from probes.ipp.values import (
    Boolean,
    DateTime,
    Enumerated,
    Integer,
    Octets,
    Opaque,
    OutOfBand,
    Range,
    Resolution,
    Scalar,
    Tag,
    Text,
)


class MalformedIppError(ValueError):
    """The peer's octets are not an IPP message. `what` says why, `offset` is where the offending item starts."""

    def __init__(self, what: str, offset: int) -> None:
        super().__init__(f"{what}, at octet {offset}")
        self.what = what
        self.offset = offset


class UnencodableError(ValueError):
    """Our own message cannot be written: the encoding has no room for a number, a name or a string in it."""


UTF_8: Final = "utf-8"
LATIN_1: Final = "latin-1"


def charset_named(name: bytes) -> str:
    """How to read strings after attributes-charset said `name`: ISO 8859-1, or what is assumed of everybody else.

    The name is the peer's, so it is never looked up in Python's registry, which imports modules by name.
    """
    return LATIN_1 if name.lower() == b"iso-8859-1" else UTF_8


def text(raw: bytes, charset: str = UTF_8) -> str:
    """The string in these octets; where they are not in the charset, ISO 8859-1 has a character for each octet."""
    try:
        return raw.decode(charset)
    except UnicodeDecodeError:
        return raw.decode(LATIN_1)


_LANGUAGE: Final = re.compile(rb"[A-Za-z]{2,8}(-[A-Za-z0-9]{1,8}){0,4}")
_FIRST_IN_BAND: Final = 0x20
_NUMBER = struct.Struct(">i")
_PAIR = struct.Struct(">ii")
_TRIPLE = struct.Struct(">iiB")

_SIZES: Final[dict[int, int]] = {
    Tag.INTEGER: 4,
    Tag.BOOLEAN: 1,
    Tag.ENUM: 4,
    Tag.DATE_TIME: 11,
    Tag.RESOLUTION: 9,
    Tag.RANGE: 8,
}

_PLAIN: Final[dict[int, Callable[[bytes], Scalar]]] = {
    Tag.INTEGER: lambda raw: Integer(*_NUMBER.unpack(raw)),
    Tag.BOOLEAN: lambda raw: Boolean(raw != b"\0"),
    Tag.ENUM: lambda raw: Enumerated(*_NUMBER.unpack(raw)),
    Tag.OCTET_STRING: Octets,
    Tag.DATE_TIME: DateTime,
    Tag.RESOLUTION: lambda raw: Resolution(*_TRIPLE.unpack(raw)),
    Tag.RANGE: lambda raw: Range(*_PAIR.unpack(raw)),
}

_STRINGS: Final[dict[int, Tag]] = {
    Tag.TEXT: Tag.TEXT,
    Tag.NAME: Tag.NAME,
    Tag.KEYWORD: Tag.KEYWORD,
    Tag.URI: Tag.URI,
    Tag.URI_SCHEME: Tag.URI_SCHEME,
    Tag.CHARSET: Tag.CHARSET,
    Tag.NATURAL_LANGUAGE: Tag.NATURAL_LANGUAGE,
    Tag.MIME_MEDIA_TYPE: Tag.MIME_MEDIA_TYPE,
}

_WITH_LANGUAGE: Final[dict[int, Tag]] = {Tag.TEXT_WITH_LANGUAGE: Tag.TEXT, Tag.NAME_WITH_LANGUAGE: Tag.NAME}


def read(tag: int, raw: bytes, charset: str, at: int) -> Scalar:
    """The value that `raw` is under `tag`. Raises MalformedIppError, at `at`, where inner lengths contradict it."""
    if (kind := _WITH_LANGUAGE.get(tag)) is not None:
        language, words = _halves(raw, at)
        return Text(kind, text(words, charset), text(language, charset))
    return _known(tag, raw, charset) if len(raw) <= _KNOWN_OCTETS else _plain(tag, raw, charset)


def _plain(tag: int, raw: bytes, charset: str) -> Scalar:
    if (kind := _STRINGS.get(tag)) is not None:
        return Text(kind, text(raw, charset))
    if (plain := _PLAIN.get(tag)) is not None:
        return plain(raw) if len(raw) == _SIZES.get(tag, len(raw)) else Opaque(tag, raw)
    return OutOfBand(tag) if tag < _FIRST_IN_BAND else Opaque(tag, raw)


_KNOWN_OCTETS: Final = 48
"""What devices of one model say is mostly what another one has said, and is read once. What is longer is read each
time: what a peer invents must not fill the memory."""
_known = lru_cache(4096)(_plain)


def name(raw: bytes) -> str:
    """The name of an attribute."""
    return _known_name(raw) if len(raw) <= _KNOWN_OCTETS else text(raw)


_known_name = lru_cache(1024)(text)


def is_language(raw: bytes) -> bool:
    """Is this a language and nothing else, as en or de-CH? (RFC 5646 section 2.1)"""
    return _LANGUAGE.fullmatch(raw) is not None


def _halves(raw: bytes, at: int) -> tuple[bytes, bytes]:
    """Language and string, each behind a length of its own; together they must fill the value."""
    middle = 2 + int.from_bytes(raw[:2])
    words = raw[middle + 2 :]
    if len(raw) < middle + 2 or len(words) != int.from_bytes(raw[middle : middle + 2]):
        raise MalformedIppError("the inner lengths of a string with language do not fill it", at)
    return raw[2:middle], words


def utf8(string: str) -> bytes:
    """The octets of a string. Raises UnencodableError for lone surrogates, which no charset has."""
    try:
        return string.encode()
    except UnicodeEncodeError as misfit:
        raise UnencodableError(f"{string!r}: {misfit.reason}") from misfit


def written(value: Scalar) -> tuple[int, bytes]:
    """The tag and octets of a value. Raises UnencodableError where it does not fit."""
    try:
        tag, raw = _written(value)
    except struct.error as misfit:
        raise UnencodableError(f"{value!r}: {misfit}") from misfit
    if len(raw) != _SIZES.get(tag, len(raw)) and not isinstance(value, Opaque):
        raise UnencodableError(f"{value!r}: {len(raw)} octets instead of {_SIZES[tag]}")
    return tag, raw


def _written(value: Scalar) -> tuple[int, bytes]:  # noqa: C901 - one arm a class, nothing else
    match value:
        case Text():
            return _written_text(value)
        case Integer():
            return Tag.INTEGER, _NUMBER.pack(value.value)
        case Enumerated():
            return Tag.ENUM, _NUMBER.pack(value.value)
        case Boolean():
            return Tag.BOOLEAN, bytes((value.value,))
        case Octets():
            return Tag.OCTET_STRING, value.value
        case DateTime():
            return Tag.DATE_TIME, value.octets
        case Resolution():
            return Tag.RESOLUTION, _TRIPLE.pack(value.across, value.along, value.unit)
        case Range():
            return Tag.RANGE, _PAIR.pack(value.lower, value.upper)
        case OutOfBand():
            return value.tag, b""
        case Opaque():
            return value.tag, value.octets
        case _:
            assert_never(value)


def _written_text(string: Text) -> tuple[int, bytes]:
    raw = utf8(string.value)
    if string.language is None:
        return string.tag, raw
    tags = [tag for tag, kind in _WITH_LANGUAGE.items() if kind == string.tag]
    if not tags:
        raise UnencodableError(f"{string!r}: only text and name carry a language")
    language = utf8(string.language)
    return tags[0], struct.pack(f">H{len(language)}sH", len(language), language, len(raw)) + raw
