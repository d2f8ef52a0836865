"""The IPP codec against RFC 8010: its appendix, its tags, its charsets."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from probes.ipp.codec import decode, encode
from probes.ipp.values import (
    Attribute,
    Boolean,
    Collection,
    DateTime,
    Enumerated,
    Group,
    GroupTag,
    Integer,
    Message,
    Octets,
    Opaque,
    OutOfBand,
    Range,
    Resolution,
    Tag,
    Text,
    Value,
)

FIXTURES = Path(__file__).parents[1] / "fixtures"
APPENDIX_A = {
    section: bytes.fromhex(octets)
    for section, octets in json.loads((FIXTURES / "ipp/rfc8010_appendix_a.json").read_text()).items()
}
RECORDED = {path.name: path.read_bytes() for path in sorted((FIXTURES / "ipp").glob("*.ipp"))}
ORACLE = {row["id"]: row for row in json.loads((FIXTURES / "standards/oracle_checks.json").read_text())}

HEADER = bytes.fromhex("0101 0000 00000001")
OPERATION, JOB, UNSUPPORTED = GroupTag.OPERATION, GroupTag.JOB, GroupTag.UNSUPPORTED


def token(tag: int, value: bytes, name: bytes = b"") -> bytes:
    """One attribute or additional value, written by hand from RFC 8010 section 3.1."""
    return bytes((tag,)) + len(name).to_bytes(2) + name + len(value).to_bytes(2) + value


def message(*parts: bytes) -> bytes:
    return HEADER + b"".join(parts) + b"\x03"


def one(value: bytes, tag: int) -> Value:
    """The value of a message that has a single attribute."""
    return decode(message(b"\x01", token(tag, value, b"a"))).groups[0].attributes[0].values[0]


def text(tag: Tag, *values: str) -> tuple[Value, ...]:
    return tuple(Text(tag, value) for value in values)


# --- RFC 8010 appendix A: the values that the RFC gives in words beside its octets


def attribute(name: str, *values: Value) -> Attribute:
    return Attribute(name, values)


CHARSET = attribute("attributes-charset", Text(Tag.CHARSET, "utf-8"))
LANGUAGE = attribute("attributes-natural-language", Text(Tag.NATURAL_LANGUAGE, "en-us"))
PRINTER_URI = attribute("printer-uri", Text(Tag.URI, "ipp://printer.example.com/ipp/print/pinetree"))
JOB_NAME = attribute("job-name", Text(Tag.NAME, "foobar"))
CREATED = Group(
    JOB,
    (
        attribute("job-id", Integer(147)),
        attribute("job-uri", Text(Tag.URI, "ipp://printer.example.com/ipp/print/pinetree/147")),
        attribute("job-state", Enumerated(3)),
    ),
)
REFUSED = Group(UNSUPPORTED, (attribute("copies", Integer(20)), attribute("sides", OutOfBand(Tag.UNSUPPORTED))))
MEDIA_SIZE = Collection((attribute("x-dimension", Integer(21000)), attribute("y-dimension", Integer(29700))))
MEDIA_COL = Collection((attribute("media-size", MEDIA_SIZE), attribute("media-type", Text(Tag.KEYWORD, "stationery"))))


def operation(*attributes: Attribute) -> Group:
    return Group(OPERATION, (CHARSET, LANGUAGE, *attributes))


def status(message: str) -> Group:
    return operation(attribute("status-message", Text(Tag.TEXT, message)))


def job(*attributes: Attribute) -> Group:
    return Group(JOB, attributes)


def said_by_rfc(code: int, *groups: Group, request_id: int = 1) -> Message:
    return Message((1, 1), code, request_id, groups)


SAID = {
    "A.1": said_by_rfc(
        0x0002,
        operation(PRINTER_URI, JOB_NAME, attribute("ipp-attribute-fidelity", Boolean(True))),
        job(attribute("copies", Integer(20)), attribute("sides", Text(Tag.KEYWORD, "two-sided-long-edge"))),
    ),
    "A.2": said_by_rfc(0x0000, status("successful-ok"), CREATED),
    "A.3": said_by_rfc(0x040B, status("client-error-attributes-or-values-not-supported"), REFUSED),
    "A.4": said_by_rfc(0x0001, status("successful-ok-ignored-or-substituted-attributes"), REFUSED, CREATED),
    "A.5": said_by_rfc(
        0x0003,
        operation(PRINTER_URI, attribute("document-uri", Text(Tag.URI, "ftp://foo.example.com/foo")), JOB_NAME),
        job(attribute("copies", Integer(1))),
    ),
    "A.6": said_by_rfc(0x0005, operation(PRINTER_URI)),
    "A.7": said_by_rfc(0x0005, operation(PRINTER_URI, attribute("media-col", MEDIA_COL))),
    "A.8": said_by_rfc(
        0x000A,
        operation(
            PRINTER_URI,
            attribute("limit", Integer(50)),
            attribute("requested-attributes", *text(Tag.KEYWORD, "job-id", "job-name", "document-format")),
        ),
        request_id=123,
    ),
    "A.9": said_by_rfc(
        0x0000,
        status("successful-ok"),
        job(attribute("job-id", Integer(147)), attribute("job-name", Text(Tag.NAME, "fou", "fr-ca"))),
        job(),
        job(attribute("job-id", Integer(149)), attribute("job-name", Text(Tag.NAME, "isch guet", "de-CH"))),
        request_id=123,
    ),
}


@pytest.mark.parametrize("section", SAID)
def test_appendix_a_means_what_the_rfc_says(section: str) -> None:
    assert decode(APPENDIX_A[section]) == SAID[section]


@pytest.mark.parametrize("section", SAID)
def test_appendix_a_is_written_as_the_rfc_writes_it(section: str) -> None:
    assert encode(SAID[section]) == APPENDIX_A[section]


def test_document_data_follows_the_attributes() -> None:
    # RFC 8010 appendix A.1 ends with the document.
    assert decode(APPENDIX_A["A.1"] + b"%!PDF\x03").data == b"%!PDF\x03"


# --- the published checks

CHECKS: dict[str, Callable[[], bool]] = {
    "IPP-A.3": lambda: encode(decode(APPENDIX_A["A.3"])) == APPENDIX_A["A.3"] and len(APPENDIX_A["A.3"]) == 167,
    "IPP-A.6": lambda: encode(decode(APPENDIX_A["A.6"])) == APPENDIX_A["A.6"] and len(APPENDIX_A["A.6"]) == 135,
    "IPP-A.7": lambda: encode(decode(APPENDIX_A["A.7"])) == APPENDIX_A["A.7"] and len(APPENDIX_A["A.7"]) == 259,
    "IPP-21": lambda: (
        decode(message(b"\x01", token(0x44, b"x", b"k"), token(0x44, b"y"))).groups[0].attributes
        == (Attribute("k", text(Tag.KEYWORD, "x", "y")),)
    ),
    "IPP-22": lambda: decode(message(b"\x02\x02")).groups == (Group(2), Group(2)),
    "IPP-23": lambda: one(b"\x00\x05fr-ca\x00\x03fou", 0x36) == Text(Tag.NAME, "fou", "fr-ca"),
    "IPP-24": lambda: (
        token(0x23, bytes.fromhex("00000003"), b"job-state")
        in encode(Message((1, 1), 0, 1, (Group(JOB, (Attribute("job-state", (Enumerated(3),)),)),)))
    ),
}
ELSEWHERE = {"IPP-25"}  # a matter of asking: test_ipp_probe.py


@pytest.mark.parametrize("row", [row for row in ORACLE if row.startswith("IPP-") and row not in ELSEWHERE])
def test_published_check(row: str) -> None:
    assert CHECKS[row](), ORACLE[row]


# --- one value of each kind: RFC 8010 section 3.9, tags of section 3.5.2


@pytest.mark.parametrize(
    ("tag", "octets", "value"),
    [
        (0x21, "ffffffff", Integer(-1)),
        (0x21, "80000000", Integer(-(2**31))),
        (0x22, "00", Boolean(False)),
        (0x22, "01", Boolean(True)),
        (0x23, "00000005", Enumerated(5)),
        (0x30, "00ff", Octets(b"\x00\xff")),
        (0x32, "00000258 0000012c 03", Resolution(600, 300, 3)),
        (0x33, "00005208 0000ee20", Range(21000, 60960)),
        (0x35, "0002 6465 0004 626c6175", Text(Tag.TEXT, "blau", "de")),
        (0x41, "", Text(Tag.TEXT, "")),
        (0x42, "c384", Text(Tag.NAME, "Ä")),
        (0x46, "697070", Text(Tag.URI_SCHEME, "ipp")),
        (0x49, "746578742f706c61696e", Text(Tag.MIME_MEDIA_TYPE, "text/plain")),
        (0x10, "", OutOfBand(Tag.UNSUPPORTED)),
        (0x12, "", OutOfBand(Tag.UNKNOWN)),
        (0x13, "", OutOfBand(Tag.NO_VALUE)),
        (0x15, "", OutOfBand(Tag.NOT_SETTABLE)),
        (0x16, "", OutOfBand(Tag.DELETE_ATTRIBUTE)),
        (0x17, "", OutOfBand(Tag.ADMIN_DEFINE)),
        (0x24, "00", Opaque(0x24, b"\x00")),
        (0x5F, "6162", Opaque(0x5F, b"ab")),
        (0x7F, "40000001", Opaque(0x7F, b"\x40\x00\x00\x01")),
        (0xFF, "", Opaque(0xFF, b"")),
    ],
)
def test_values(tag: int, octets: str, value: Value) -> None:
    raw = bytes.fromhex(octets)
    assert one(raw, tag) == value
    assert token(tag, raw, b"a") in encode(Message((1, 1), 0, 1, (Group(1, (Attribute("a", (value,)),)),)))


def test_date_and_time() -> None:
    # The example in RFC 2579's DateAndTime: 1992-5-26,13:30:15.0,-4:0
    value = one(bytes((0x07, 0xC8, 5, 26, 13, 30, 15, 0, ord("-"), 4, 0)), 0x31)
    assert isinstance(value, DateTime)
    instant = value.instant()
    assert instant is not None
    assert instant.isoformat() == "1992-05-26T13:30:15-04:00"


@pytest.mark.parametrize("octets", [bytes(11), b"\xff" * 11, bytes((7, 200, 2, 30, 0, 0, 0, 0, 43, 0, 0))])
def test_what_is_no_date_names_no_instant(octets: bytes) -> None:
    value = one(octets, 0x31)
    assert isinstance(value, DateTime)
    assert value.instant() is None
    assert value.octets == octets


def test_a_name_that_comes_twice_is_kept_twice_and_the_first_counts() -> None:
    group = decode(message(b"\x04", token(0x21, b"\0\0\0\1", b"n"), token(0x21, b"\0\0\0\2", b"n"))).groups[0]
    assert len(group.attributes) == 2
    assert group.by_name() == {"n": (Integer(1),)}


# --- text: RFC 8010 section 3.9 says which charset; broken devices do as they like


def charset(name: bytes, octets: bytes) -> str:
    raw = message(b"\x01", token(0x47, name, b"attributes-charset"), token(0x41, octets, b"t"))
    value = decode(raw).groups[0].attributes[1].values[0]
    assert isinstance(value, Text)
    return value.value


@pytest.mark.parametrize(
    ("announced", "octets", "read"),
    [
        (b"utf-8", "Größe".encode(), "Größe"),
        (b"UTF-8", "Größe".encode("latin-1"), "Größe"),  # says one thing and sends another
        (b"iso-8859-1", "Größe".encode("latin-1"), "Größe"),
        (b"ISO-8859-1", b"\xc3\x84", "Ã\x84"),  # valid UTF-8, but announced as something else
        (b"us-ascii", b"plain", "plain"),
        (b"unicode_escape", b"\\u0041", "\\u0041"),  # a name that only Python knows
        (b"zip", b"PK", "PK"),
        (b"\xff\x00", b"x", "x"),
    ],
)
def test_charset(announced: bytes, octets: bytes, read: str) -> None:
    assert charset(announced, octets) == read
