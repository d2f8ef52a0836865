"""The IPP codec against what is no message: each defect named and placed, and no peer able to use us up."""

import json
import time
import tracemalloc
from pathlib import Path

import pytest

from probes.ipp.codec import MAX_DEPTH, MAX_ITEMS, MAX_OCTETS, MalformedIppError, decode

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


# --- malformed: what is wrong, and where


@pytest.mark.parametrize(
    ("octets", "what", "offset"),
    [
        (b"", "header", 0),
        (HEADER[:7], "header", 7),
        (HEADER, "without an end", 8),
        (HEADER + b"\x01", "without an end", 9),
        (HEADER + b"\x01\x44", "within an attribute", 9),
        (HEADER + b"\x01\x44\x00\x01a\x00\x05abcd", "within an attribute", 9),
        (HEADER + b"\x01\x44\xff\xff" + b"a" * 9, "within an attribute", 9),
        (message(token(0x21, b"\0\0\0\1", b"a")), "before the first group", 8),
        (message(b"\x01", token(0x21, b"\0\0\0\1")), "no attribute", 9),
        (message(b"\x01", token(0x36, b"\x00\x05fr-ca\x00\x09fou", b"a")), "inner lengths", 9),
        (message(b"\x01", token(0x36, b"\x00", b"a")), "inner lengths", 9),
        (message(b"\x01", token(0x36, b"\x00\x01", b"a")), "inner lengths", 9),
        (message(b"\x01", token(0x34, b"", b"a")), "ends inside a collection", 15),
        (message(b"\x01", token(0x34, b"", b"a"), b"\x02", token(0x37, b"")), "ends inside a collection", 15),
        (message(b"\x01", token(0x34, b"")), "belongs to no attribute", 9),
        (message(b"\x01", token(0x4A, b"m", b"a")), "without a value", 9),
        (message(b"\x01", token(0x4A, b"m")), "without a value", 15),
        (message(b"\x01", token(0x4A, b"")), "without a name", 9),
        (message(b"\x01", token(0x34, b"", b"a"), token(0x21, b"\0\0\0\1"), token(0x37, b"")), "no attribute", 15),
        (message(b"\x01", token(0x34, b"", b"a"), token(0x4A, b""), token(0x37, b"")), "without a name", 15),
        (message(b"\x01", token(0x34, b"", b"a"), token(0x4A, b"m"), token(0x37, b"")), "without a value", 21),
        (message(b"\x01", token(0x34, b"", b"a"), token(0x44, b"x", b"n")), "named attribute inside", 15),
    ],
)
def test_malformed(octets: bytes, what: str, offset: int) -> None:
    with pytest.raises(MalformedIppError, match=what) as caught:
        decode(octets)
    assert caught.value.offset == offset
    assert str(offset) in str(caught.value)


@pytest.mark.parametrize("name", [*APPENDIX_A, *RECORDED])
def test_every_truncation_is_malformed(name: str) -> None:
    octets = (APPENDIX_A | RECORDED)[name]
    assert decode(octets).data == b""
    for end in range(0, len(octets), 1 + len(octets) // 1000):
        with pytest.raises(MalformedIppError):
            decode(octets[:end])


# --- bounds


def test_nesting_is_bounded() -> None:
    def nested(depth: int) -> bytes:
        inner = b"".join(token(0x4A, b"m") + token(0x34, b"") for _ in range(depth - 1))
        innermost = token(0x4A, b"m") + token(0x21, b"\0\0\0\1")
        return message(b"\x01", token(0x34, b"", b"a"), inner, innermost, token(0x37, b"") * depth)

    assert decode(nested(MAX_DEPTH)).groups
    with pytest.raises(MalformedIppError, match="deeper"):
        decode(nested(MAX_DEPTH + 1))
    with pytest.raises(MalformedIppError, match="deeper"):
        decode(nested(50_000))


@pytest.mark.parametrize(
    "item",
    [b"\x02", token(0x44, b""), token(0x21, b"\0\0\0\1", b"a"), token(0x36, b"\0\0\0\0"), token(0x13, b"")],
)
def test_items_and_memory_are_bounded(item: bytes) -> None:
    octets = (HEADER + b"\x01" + token(0x44, b"", b"a") + item * (MAX_OCTETS // len(item)))[:MAX_OCTETS]
    tracemalloc.start()
    try:
        with pytest.raises(MalformedIppError, match=f"more than {MAX_ITEMS}"):
            decode(octets)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak < 48 << 20


def test_size_is_bounded() -> None:
    with pytest.raises(MalformedIppError, match="more than"):
        decode(bytes(MAX_OCTETS + 1))


@pytest.mark.parametrize("unnamed", [True, False])
def test_time_is_linear(unnamed: bool) -> None:
    def seconds(count: int) -> float:
        rest = token(0x44, b"v") if unnamed else token(0x44, b"v", b"b")
        octets = message(b"\x01", token(0x44, b"v", b"a"), rest * count)
        best = 1e9
        for _ in range(3):
            began = time.perf_counter()
            decode(octets)
            best = min(best, time.perf_counter() - began)
        return best

    assert seconds(60_000) / seconds(3_000) < 80  # 20 if linear, 400 if quadratic
