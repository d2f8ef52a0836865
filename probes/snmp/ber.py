"""BER as SNMP uses it: octets to primitive values and back. First stage of reading an answer; no I/O.

Theory
------
Everything is tag, length, contents (X.690 s8.1). SNMP restricts BER (RFC 3417 s8): tags fit one octet, lengths are
always definite, strings are never constructed. So nothing here recurses, and a message is read in one pass from left
to right with two positions, `at` (the next octet) and `end` (the first octet that the enclosing element does not own).

Rules that keep a hostile or broken peer from hurting us:

1. A length is a claim. It is compared with `end` before anything is sliced, so an element never reaches outside the
   one that holds it, and nothing is ever allocated because a peer announced it.
2. Work is bounded by octets received: each octet is looked at a fixed number of times. Integers and identifiers have
   limits of their own, because Python's integers do not.
3. What is not understood raises `MalformedError`, which says what and at which offset. No other exception leaves here.
4. What real agents get wrong without being ambiguous is read: lengths in the long form or with leading zeros, integers
   with redundant leading octets, an empty OBJECT IDENTIFIER (it means 0.0). Values are what their octets say: a
   Counter32 sent with its sign bit set is a negative number here, and whoever knows the object judges that.

Encoding is the strict side: shortest forms only, so that the pickiest agent understands us.
"""

from collections.abc import Iterable
from functools import lru_cache

Oid = tuple[int, ...]

INTEGER = 0x02
OCTET_STRING = 0x04
NULL = 0x05
OBJECT_IDENTIFIER = 0x06
SEQUENCE = 0x30

MAX_LENGTH_OCTETS = 4  # of a long-form length: 4 already announce 4 GiB
MAX_INTEGER_OCTETS = 16  # the widest SNMP integer, Counter64, needs 9; the rest is room for redundant leading octets
MAX_ARCS = 128  # RFC 2578 s3.5
MAX_ARC_BITS = 64  # RFC 2578 s7.1.3 says 32; agents that sign-extend an index into an arc send 64

_CACHED_OIDS = 4096
_CACHED_OID_OCTETS = 40  # longer ones are decoded each time: what a peer invents must not fill the memory


class MalformedError(ValueError):
    """The peer's octets are not what they should be: `what` is wrong, `offset` octets from their beginning."""

    def __init__(self, what: str, offset: int) -> None:
        super().__init__(f"{what} at octet {offset}")
        self.what = what
        self.offset = offset


# --- decoding --------------------------------------------------------------------------------------------------------


def header(data: bytes, at: int, end: int) -> tuple[int, int, int]:
    """Read the tag and length at `at`; return the tag, where the contents start and where they stop."""
    start = at + 2
    if start > end:
        raise MalformedError("element cut short", at)
    length = data[at + 1]
    if length > 0x7F:
        start, length = _long_length(data, start, end, length & 0x7F)
    stop = start + length
    if stop > end:
        raise MalformedError(f"length {length} where {end - start} octets are left", at)
    return data[at], start, stop


def _long_length(data: bytes, at: int, end: int, octets: int) -> tuple[int, int]:
    if octets == 0:
        raise MalformedError("indefinite length, which SNMP forbids,", at - 1)
    if octets > MAX_LENGTH_OCTETS:
        raise MalformedError(f"length of {octets} octets", at - 1)
    if at + octets > end:
        raise MalformedError("length cut short", at - 1)
    return at + octets, int.from_bytes(data[at : at + octets], "big")


def element(data: bytes, at: int, end: int, tag: int, name: str) -> tuple[int, int]:
    """Read the header of an element that has to have `tag`; return where its contents start and stop."""
    if at < end and data[at] != tag:
        raise MalformedError(f"{name}: tag 0x{data[at]:02x} instead of 0x{tag:02x}", at)
    _, start, stop = header(data, at, end)
    return start, stop


def integer(data: bytes, start: int, stop: int) -> int:
    """Two's complement, most significant octet first (X.690 s8.3)."""
    if not 0 < stop - start <= MAX_INTEGER_OCTETS:
        raise MalformedError(f"integer of {stop - start} octets", start)
    return int.from_bytes(data[start:stop], "big", signed=True)


def octets(data: bytes, start: int, stop: int) -> bytes:
    return data[start:stop]


def null(_data: bytes, start: int, stop: int) -> None:
    if start != stop:
        raise MalformedError(f"value of {stop - start} octets where none belong", start)


def oid(data: bytes, start: int, stop: int) -> Oid:
    """An object identifier as a tuple of its arcs (X.690 s8.19)."""
    contents = data[start:stop]
    try:
        return _known_arcs(contents) if len(contents) <= _CACHED_OID_OCTETS else _arcs(contents)
    except MalformedError as error:
        raise MalformedError(error.what, start + error.offset) from None


def _arcs(contents: bytes) -> Oid:
    if not contents:
        return 0, 0
    arcs = [0]  # room for the first two, which share one sub-identifier
    arc = arc_starts = 0
    for offset, octet in enumerate(contents):
        arc = arc << 7 | octet & 0x7F
        if octet > 0x7F:
            if arc >> MAX_ARC_BITS - 7:
                raise MalformedError(f"arc of more than {MAX_ARC_BITS} bits", arc_starts)
            continue
        if len(arcs) == MAX_ARCS:
            raise MalformedError(f"object identifier of more than {MAX_ARCS} arcs", offset)
        arcs.append(arc)
        arc, arc_starts = 0, offset + 1
    if arc_starts != len(contents):
        raise MalformedError("object identifier ends inside an arc", arc_starts)
    arcs[0] = min(arcs[1] // 40, 2)
    arcs[1] -= arcs[0] * 40
    return tuple(arcs)


_known_arcs = lru_cache(_CACHED_OIDS)(_arcs)


# --- encoding --------------------------------------------------------------------------------------------------------


def tlv(tag: int, contents: bytes) -> bytes:
    """One element, with its length in the shortest form."""
    size = len(contents)
    if size < 0x80:
        return bytes((tag, size)) + contents
    length = size.to_bytes((size.bit_length() + 7) // 8, "big")
    return bytes((tag, 0x80 | len(length))) + length + contents


def sequence(*elements: bytes, tag: int = SEQUENCE) -> bytes:
    return tlv(tag, b"".join(elements))


def encode_integer(value: int, tag: int = INTEGER) -> bytes:
    magnitude = value if value >= 0 else ~value
    return tlv(tag, value.to_bytes(magnitude.bit_length() // 8 + 1, "big", signed=True))


def encode_octets(value: bytes) -> bytes:
    return tlv(OCTET_STRING, value)


@lru_cache(_CACHED_OIDS)
def encode_oid(arcs: Oid) -> bytes:
    """Encode an object identifier. ValueError: fewer than two arcs, more than 128, or arcs that no identifier has."""
    if not 2 <= len(arcs) <= MAX_ARCS or min(arcs) < 0 or arcs[0] > 2 or (arcs[0] < 2 and arcs[1] > 39):
        raise ValueError(f"not an object identifier: {arcs}")
    return tlv(OBJECT_IDENTIFIER, b"".join(_base128((arcs[0] * 40 + arcs[1], *arcs[2:]))))


def _base128(arcs: Iterable[int]) -> Iterable[bytes]:
    for arc in arcs:
        groups = [arc & 0x7F]
        while arc := arc >> 7:
            groups.append(0x80 | arc & 0x7F)
        yield bytes(reversed(groups))
