"""The IPP codec against garbage, and against itself: whatever it writes it reads back."""

import json
import random
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from probes.ipp.codec import MalformedIppError, UnencodableError, decode, encode
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

HEADER = bytes.fromhex("0101 0000 00000001")


def token(tag: int, value: bytes, name: bytes = b"") -> bytes:
    """One attribute or additional value, written by hand from RFC 8010 section 3.1."""
    return bytes((tag,)) + len(name).to_bytes(2) + name + len(value).to_bytes(2) + value


def message(*parts: bytes) -> bytes:
    return HEADER + b"".join(parts) + b"\x03"


# --- garbage in: a message or the one error


def survives(octets: bytes) -> None:
    try:
        read = decode(octets)
    except MalformedIppError as error:
        offset = error.offset
    else:
        offset = 0
        # Forgiven input does not come back octet for octet, but what was read can be written and means the same.
        assert decode(encode(read)) == read
    assert 0 <= offset <= len(octets)


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=300))
def test_any_octets(octets: bytes) -> None:
    survives(octets)
    survives(HEADER + octets)
    survives(HEADER + b"\x01" + token(0x34, b"", b"a") + octets)


SHORT = st.binary(max_size=6)
TOKENS = st.builds(token, st.integers(0x10, 0xFF) | st.sampled_from([0x34, 0x37, 0x4A]), SHORT, SHORT)


@settings(max_examples=300, deadline=None)
@given(st.lists(TOKENS | st.sampled_from([b"\x01", b"\x02", b"\x04", b"\x0f"]), max_size=20))
def test_any_sequence_of_tokens(parts: list[bytes]) -> None:
    survives(message(*parts))


def mutated(octets: bytes, rng: random.Random) -> bytes:
    raw = bytearray(octets)
    for _ in range(rng.randint(1, 4)):
        at = rng.randrange(len(raw))
        match rng.randrange(4):
            case 0:
                raw[at] = rng.randrange(256)
            case 1:
                raw[at] ^= 1 << rng.randrange(8)
            case 2:
                del raw[at : at + rng.randint(1, 8)]
            case 3:
                raw[at:at] = rng.choice([b"\x00", b"\xff\xff", raw[at : at + 16], b"\x34\x00\x00\x00\x00"])
        raw = raw or bytearray(b"\x00")
    return bytes(raw)


@pytest.mark.parametrize("name", [*APPENDIX_A, *RECORDED])
def test_mutations(name: str) -> None:
    rng = random.Random(name)
    octets = (APPENDIX_A | RECORDED)[name]
    for _ in range(300):
        survives(mutated(octets, rng))


# --- round trip

INT32 = st.integers(-(2**31), 2**31 - 1)
STRING = st.text(st.characters(codec="utf-8"), max_size=40)
NAME = STRING.filter(bool)
KINDS = st.sampled_from(
    [Tag.TEXT, Tag.NAME, Tag.KEYWORD, Tag.URI, Tag.URI_SCHEME, Tag.CHARSET, Tag.NATURAL_LANGUAGE, Tag.MIME_MEDIA_TYPE]
)
SCALARS: st.SearchStrategy[Value] = st.one_of(
    st.builds(Integer, INT32),
    st.builds(Enumerated, INT32),
    st.builds(Boolean, st.booleans()),
    st.builds(Octets, st.binary(max_size=40)),
    st.builds(DateTime, st.binary(min_size=11, max_size=11)),
    st.builds(Resolution, INT32, INT32, st.integers(0, 255)),
    st.builds(Range, INT32, INT32),
    st.builds(Text, KINDS, STRING),
    st.builds(Text, st.sampled_from([Tag.TEXT, Tag.NAME]), STRING, STRING),
    st.builds(OutOfBand, st.integers(0x10, 0x1F)),
    st.builds(Opaque, st.sampled_from([0x20, 0x2F, 0x38, 0x40, 0x43, 0x5F, 0x7F, 0x80, 0xFF]), st.binary(max_size=40)),
)
VALUES: st.SearchStrategy[Value] = st.recursive(
    SCALARS,
    lambda inner: st.builds(
        Collection,
        st.lists(st.builds(Attribute, NAME, st.lists(inner, min_size=1, max_size=3).map(tuple)), max_size=3).map(tuple),
    ),
    max_leaves=8,
)
GROUPS = st.builds(
    Group,
    st.integers(0, 0x0F).filter(lambda tag: tag != GroupTag.END),
    st.lists(st.builds(Attribute, NAME, st.lists(VALUES, min_size=1, max_size=3).map(tuple)), max_size=4).map(tuple),
)
MESSAGES = st.builds(
    Message,
    st.tuples(st.integers(0, 255), st.integers(0, 255)),
    st.integers(0, 0xFFFF),
    INT32,
    st.lists(GROUPS, max_size=3).map(tuple),
    st.binary(max_size=20),
)


@settings(max_examples=200, deadline=None)
@given(MESSAGES)
def test_what_is_written_is_read_back(original: Message) -> None:
    assert decode(encode(original)) == original


@pytest.mark.parametrize("name", RECORDED)
def test_recorded_messages_are_written_as_recorded(name: str) -> None:
    assert encode(decode(RECORDED[name])) == RECORDED[name]


@pytest.mark.parametrize(
    "group",
    [
        Group(GroupTag.END),
        Group(0x21),
        Group(1, (Attribute("a", (Integer(2**31),)),)),
        Group(1, (Attribute("a", (Resolution(1, 1, 256),)),)),
        Group(1, (Attribute("a", (DateTime(b"short"),)),)),
        Group(1, (Attribute("a", (Text(Tag.TEXT, "x" * 0x8000),)),)),
        Group(1, (Attribute("a", (Text(Tag.TEXT, "x" * 0x10000, "en"),)),)),
        Group(1, (Attribute("a", (Text(Tag.KEYWORD, "x", "en"),)),)),
        Group(1, (Attribute("a", (Text(Tag.TEXT, "\ud800"),)),)),
        Group(1, (Attribute("\ud800", (Integer(1),)),)),
        Group(1, (Attribute("", (Integer(1),)),)),
        Group(1, (Attribute("a", ()),)),
        Group(1, (Attribute("a", (Collection((Attribute("m", ()),)),)),)),
    ],
)
def test_what_does_not_fit_is_not_written(group: Group) -> None:
    with pytest.raises(UnencodableError):
        encode(Message((1, 1), 0, 1, (group,)))
