"""A writer of IPP messages for the tests, which shares nothing with the one under test; and a check of it.

Written from RFC 8010 section 3: a value is (tag, octets), or for a collection the bracket of tokens as octets.
"""

import json
from pathlib import Path
from typing import TypeAlias

FIXTURES = Path(__file__).parents[1] / "fixtures"
Value: TypeAlias = tuple[int, bytes]

OK, BAD_REQUEST, NOT_FOUND, VERSION_NOT_SUPPORTED = 0x0000, 0x0400, 0x0406, 0x0503
OPERATION, JOB, PRINTER = b"\x01", b"\x02", b"\x04"


def token(tag: int, octets: bytes, name: bytes = b"") -> bytes:
    return bytes((tag,)) + len(name).to_bytes(2) + name + len(octets).to_bytes(2) + octets


def text(value: str) -> Value:
    return 0x41, value.encode()


def name(value: str) -> Value:
    return 0x42, value.encode()


def keyword(value: str) -> Value:
    return 0x44, value.encode()


def uri(value: str) -> Value:
    return 0x45, value.encode()


def mime(value: str) -> Value:
    return 0x49, value.encode()


def octets(value: bytes) -> Value:
    return 0x30, value


def integer(value: int) -> Value:
    return 0x21, value.to_bytes(4, signed=True)


def boolean(value: bool) -> Value:
    return 0x22, bytes((value,))


def enum(value: int) -> Value:
    return 0x23, value.to_bytes(4, signed=True)


def between(low: int, high: int) -> Value:
    return 0x33, low.to_bytes(4, signed=True) + high.to_bytes(4, signed=True)


NO_VALUE: Value = (0x13, b"")
UNKNOWN: Value = (0x12, b"")
UNSUPPORTED: Value = (0x10, b"")


def collection(**members: Value) -> Value:
    """Member names are written with underscores; the value is the whole bracket but its first token."""
    inner = b""
    for member, value in members.items():
        inner += token(0x4A, member.replace("_", "-").encode()) + written(value)
    return 0x34, inner + token(0x37, b"")


def written(value: Value, named: bytes = b"") -> bytes:
    tag, content = value
    return token(tag, b"", named) + content if tag == 0x34 else token(tag, content, named)


def attribute(named: str, *values: Value) -> bytes:
    first, *others = values
    return written(first, named.encode()) + b"".join(map(written, others))


def message(code: int, *parts: bytes, version: bytes = b"\x02\x00") -> bytes:
    """A response: its groups and attributes come after the operation group that every message begins with."""
    head = version + code.to_bytes(2) + (1).to_bytes(4) + OPERATION
    preamble = token(0x47, b"utf-8", b"attributes-charset") + token(0x48, b"en-us", b"attributes-natural-language")
    return head + preamble + b"".join(parts) + b"\x03"


def test_the_writer_writes_what_the_rfc_prints() -> None:
    # RFC 8010 appendix A.7, which has a collection in a collection
    target = attribute("printer-uri", uri("ipp://printer.example.com/ipp/print/pinetree"))
    size = collection(x_dimension=integer(21000), y_dimension=integer(29700))
    media = attribute("media-col", collection(media_size=size, media_type=keyword("stationery")))
    printed = json.loads((FIXTURES / "ipp/rfc8010_appendix_a.json").read_text())["A.7"]
    assert message(0x0005, target, media, version=b"\x01\x01").hex() == printed
