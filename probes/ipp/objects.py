"""Stage: the third half. The attributes of a message as they came, group by group, members under their collections.
Pure. A user or password in a URI is left out."""

from collections.abc import Iterable, Iterator
from typing import Final, assert_never

from netcheck.facts.raw import RawRow, cut, octets_row
from netcheck.secret import without_userinfo
from probes.ipp.values import (
    Attribute,
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
    Scalar,
    Tag,
    Text,
)

_GROUPS: Final = {
    GroupTag.OPERATION: "operation-attributes",
    GroupTag.JOB: "job-attributes",
    GroupTag.PRINTER: "printer-attributes",
    GroupTag.UNSUPPORTED: "unsupported-attributes",
}
"""RFC 8010 section 3.5.1, without "-tag"."""
_SYNTAXES: Final = {
    Tag.UNSUPPORTED: "unsupported",
    Tag.DEFAULT: "default",
    Tag.UNKNOWN: "unknown",
    Tag.NO_VALUE: "no-value",
    Tag.NOT_SETTABLE: "not-settable",
    Tag.DELETE_ATTRIBUTE: "delete-attribute",
    Tag.ADMIN_DEFINE: "admin-define",
    Tag.TEXT: "textWithoutLanguage",
    Tag.NAME: "nameWithoutLanguage",
    Tag.KEYWORD: "keyword",
    Tag.URI: "uri",
    Tag.URI_SCHEME: "uriScheme",
    Tag.CHARSET: "charset",
    Tag.NATURAL_LANGUAGE: "naturalLanguage",
    Tag.MIME_MEDIA_TYPE: "mimeMediaType",
}
"""RFC 8010 section 3.5.2; the out-of-band values from 0x15 on: RFC 3380."""
_WITH_LANGUAGE: Final = {Tag.TEXT: "textWithLanguage", Tag.NAME: "nameWithLanguage"}


def objects(message: Message) -> Iterator[tuple[str, RawRow]]:
    """A row a value, with the attribute's name each time."""
    for group in message.groups:
        name = _GROUPS.get(GroupTag(group.tag)) if group.tag in _GROUPS else f"group 0x{group.tag:02x}"
        for row in _rows(group.attributes, 0):
            yield name or "", row


def _rows(attributes: Iterable[Attribute], depth: int) -> Iterator[RawRow]:
    for attribute in attributes:
        for value in attribute.values:
            if isinstance(value, Collection):
                yield RawRow(attribute.name, "", "collection", "", depth=depth)
                yield from _rows(value.members, depth + 1)
            else:
                yield _row(attribute.name, value, depth)


def _row(name: str, value: Scalar, depth: int) -> RawRow:
    if isinstance(value, Octets):
        return octets_row(name, "", "octetString", value.value, depth=depth)
    if isinstance(value, Opaque):
        return octets_row(name, "", _tag(value.tag), value.octets, binary=True, depth=depth)
    if isinstance(value, DateTime):
        instant = value.instant()
        if instant is None:
            return octets_row(name, "", "dateTime", value.octets, binary=True, depth=depth)
        return RawRow(name, "", "dateTime", instant.isoformat(), depth=depth)
    syntax, text = _said(value)
    return RawRow(name, "", syntax, cut(text), depth=depth)


def _said(value: Integer | Enumerated | Boolean | Resolution | Range | Text | OutOfBand) -> tuple[str, str]:
    """Syntax and value, in numbers where it is a number."""
    match value:
        case Text(tag=tag, value=text, language=language):
            syntax = _tag(tag) if language is None else f"{_WITH_LANGUAGE.get(tag, _tag(tag))} {language}"
            return syntax, without_userinfo(text)
        case Integer(value=number):
            return "integer", str(number)
        case Enumerated(value=number):
            return "enum", str(number)
        case Boolean(value=flag):
            return "boolean", "true" if flag else "false"
        case Range(lower=low, upper=high):
            return "rangeOfInteger", f"{low} to {high}"
        case Resolution(across=across, along=along, unit=unit):
            return "resolution", f"{across} x {along}, unit {unit}"
        case OutOfBand(tag=tag):
            return _tag(tag), ""
        case _:
            assert_never(value)


def _tag(tag: int) -> str:
    return _SYNTAXES[Tag(tag)] if tag in _SYNTAXES else f"tag 0x{tag:02x}"
