"""SNMPv1 and SNMPv2c messages: requests to octets, octets to answers. Second stage of reading an answer; no I/O.

    Message ::= SEQUENCE { version INTEGER, community OCTET STRING, pdu }                     RFC 1157 s4, RFC 1901 s3
    PDU     ::= [kind] SEQUENCE { request-id, error-status, error-index INTEGER, bindings }   RFC 3416 s3

GETBULK has the same shape and calls the second and third number non-repeaters and max-repetitions.

A request is a template: all of its octets are laid out once, with a hole of four octets for the request id, because a
whole fleet is asked the same questions. That is why request ids come from `REQUEST_IDS`: the numbers whose shortest
encoding has four octets.

The community is a secret. It goes into a request and is skipped in an answer, so that nothing which is ever printed,
compared or saved holds it. There is no encoder for SET.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import IntEnum
from functools import lru_cache
from typing import Final, Literal, NamedTuple, assert_never

from . import ber
from .ber import MalformedError, Oid

MAX_MESSAGE = 65_507  # octets of the largest UDP datagram over IPv4
MAX_VARBINDS = 2_048  # about twice what the largest request that we send can be answered with
REQUEST_IDS = range(0x0080_0000, 0x8000_0000)

Value = int | bytes | Oid | None


class Version(IntEnum):
    """The versions with a community, which are those of this module's messages."""

    V1 = 0
    V2C = 1


V3: Final = 3
Spoken = Version | Literal[3]
"""The version in which an agent answers: its PDUs have the same shape in all three."""
LABELS: dict[Spoken, str] = {Version.V1: "v1", Version.V2C: "v2c", V3: "v3"}


class Kind(IntEnum):
    """The PDUs that are read or sent here; SET and the traps are not among them."""

    GET = 0xA0
    GETNEXT = 0xA1
    RESPONSE = 0xA2
    GETBULK = 0xA5
    REPORT = 0xA8


class Syntax(IntEnum):
    """What a value is: the tags of RFC 2578 s7.1 and of the three exceptions of RFC 3416 s3."""

    INTEGER32 = 0x02
    OCTET_STRING = 0x04
    NULL = 0x05
    OBJECT_IDENTIFIER = 0x06
    IP_ADDRESS = 0x40
    COUNTER32 = 0x41
    GAUGE32 = 0x42
    TIME_TICKS = 0x43
    OPAQUE = 0x44
    COUNTER64 = 0x46
    NO_SUCH_OBJECT = 0x80
    NO_SUCH_INSTANCE = 0x81
    END_OF_MIB_VIEW = 0x82


EXCEPTIONS = frozenset({Syntax.NO_SUCH_OBJECT, Syntax.NO_SUCH_INSTANCE, Syntax.END_OF_MIB_VIEW})

ERROR_STATUS = {  # RFC 3416 s3
    0: "noError",
    1: "tooBig",
    2: "noSuchName",
    3: "badValue",
    4: "readOnly",
    5: "genErr",
    6: "noAccess",
    7: "wrongType",
    8: "wrongLength",
    9: "wrongEncoding",
    10: "wrongValue",
    11: "noCreation",
    12: "inconsistentValue",
    13: "resourceUnavailable",
    14: "commitFailed",
    15: "undoFailed",
    16: "authorizationError",
    17: "notWritable",
    18: "inconsistentName",
}


class VarBind(NamedTuple):
    """One object and its value; `value` is None for NULL and the exceptions."""

    oid: Oid
    syntax: Syntax
    value: Value


class Pdu(NamedTuple):
    """Numbers as received: a status beyond RFC 3416 and an index beyond the bindings are the reader's to judge."""

    kind: Kind
    request_id: int
    error_status: int
    error_index: int
    varbinds: tuple[VarBind, ...]


class Message(NamedTuple):
    version: Version
    pdu: Pdu


def error_label(status: int) -> str:
    """The standard's name of an error status, or its number where the standard has none."""
    return ERROR_STATUS.get(status, f"error {status}")


# --- requests --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, repr=False, eq=False)
class Request:
    """One question, ready to be sent any number of times. `oids` is what it asks, for the log and for matching."""

    version: Version
    kind: Kind
    oids: tuple[Oid, ...]
    _before: bytes
    _after: bytes

    def octets(self, request_id: int) -> bytes:
        """The message. ValueError: the id is not one of REQUEST_IDS."""
        if request_id not in REQUEST_IDS:
            raise ValueError(f"request id {request_id} does not take exactly four octets")
        return self._before + request_id.to_bytes(4, "big") + self._after

    def __repr__(self) -> str:
        return f"<{self.version.name} {self.kind.name} of {len(self.oids)}>"


def get(version: Version, community: bytes, oids: Sequence[Oid]) -> Request:
    return _request(version, community, Kind.GET, tuple(oids), 0, 0)


def getnext(version: Version, community: bytes, oids: Sequence[Oid]) -> Request:
    return _request(version, community, Kind.GETNEXT, tuple(oids), 0, 0)


def getbulk(community: bytes, oids: Sequence[Oid], repetitions: int, once: int = 0) -> Request:
    """Ask for the successor of the first `once` objects and for `repetitions` successors of each of the others."""
    if repetitions < 0 or not 0 <= once <= len(oids):
        raise ValueError(f"{repetitions} repetitions after {once} of {len(oids)} objects")
    return _request(Version.V2C, community, Kind.GETBULK, tuple(oids), once, repetitions)


@lru_cache(512)
def _request(version: Version, community: bytes, kind: Kind, oids: tuple[Oid, ...], second: int, third: int) -> Request:
    head = ber.encode_integer(version) + ber.encode_octets(community)
    whole = ber.sequence(head, pdu_octets(kind, REQUEST_IDS[0], oids, second, third))
    if len(whole) > MAX_MESSAGE:
        raise ValueError(f"request of {len(whole)} octets")
    # The community could hold any octets, the id's among them; the PDU's own tail is the one thing of known place.
    after = _numbers(second, third) + _names(oids)
    return Request(version, kind, oids, whole[: -len(after) - 4], after)


def pdu_octets(kind: Kind, request_id: int, oids: Sequence[Oid], second: int = 0, third: int = 0) -> bytes:
    return ber.sequence(ber.encode_integer(request_id), _numbers(second, third), _names(oids), tag=kind)


def _numbers(second: int, third: int) -> bytes:
    return ber.encode_integer(second) + ber.encode_integer(third)


def _names(oids: Sequence[Oid]) -> bytes:
    unspecified = ber.tlv(ber.NULL, b"")
    return ber.sequence(*(ber.sequence(ber.encode_oid(oid), unspecified) for oid in oids))


# --- answers ---------------------------------------------------------------------------------------------------------


def decode(data: bytes) -> Message:
    """Read one message. MalformedError: it is none, or one that breaks a limit.

    Octets after the message are not read: some agents pad what they send.
    """
    if len(data) > MAX_MESSAGE:
        raise MalformedError(f"message of {len(data)} octets", MAX_MESSAGE)
    at, end = ber.element(data, 0, len(data), ber.SEQUENCE, "message")
    version, at = read_integer(data, at, end, "version")
    if version not in (Version.V1, Version.V2C):
        raise MalformedError(f"SNMP version number {version}", at - 1)
    _, at = ber.element(data, at, end, ber.OCTET_STRING, "community")
    return Message(Version(version), read_pdu(data, at, end))


def read_integer(data: bytes, at: int, end: int, name: str) -> tuple[int, int]:
    """Read the INTEGER at `at`; return it and where the next element begins."""
    start, stop = ber.element(data, at, end, ber.INTEGER, name)
    return ber.integer(data, start, stop), stop


def read_pdu(data: bytes, at: int, end: int) -> Pdu:
    """Read the PDU at `at`, which has to be the last element before `end`."""
    tag, start, stop = ber.header(data, at, end)
    kind = _KINDS.get(tag)
    if kind is None:
        raise MalformedError(f"PDU of kind 0x{tag:02x}, which is none that answers", at)
    _nothing_left(stop, end, "PDU")
    request_id, at = read_integer(data, start, stop, "request-id")
    status, at = read_integer(data, at, stop, "error-status")
    index, at = read_integer(data, at, stop, "error-index")
    first, last = ber.element(data, at, stop, ber.SEQUENCE, "variable-bindings")
    _nothing_left(last, stop, "variable-bindings")
    return Pdu(kind, request_id, status, index, _varbinds(data, first, last))


def _varbinds(data: bytes, at: int, end: int) -> tuple[VarBind, ...]:
    found: list[VarBind] = []
    while at < end:
        if len(found) == MAX_VARBINDS:
            raise MalformedError(f"more than {MAX_VARBINDS} variable bindings", at)
        # Devices of one model say nearly the same, so most of what a fleet says has been read before. What is long, or
        # does not fit, is not among it.
        octets = data[at : min(at + 2 + data[at + 1], end)] if at + 1 < end else b""
        known = _KNOWN.get(octets)
        if known is not None:
            at += len(octets)
        else:
            known, stop = _varbind(data, at, end)
            if stop - at == len(octets) <= _KNOWN_OCTETS:
                if len(_KNOWN) >= _MOST_KNOWN:
                    _KNOWN.clear()
                _KNOWN[octets] = known
            at = stop
        found.append(known)
    return tuple(found)


_KNOWN: dict[bytes, VarBind] = {}
"""Bindings that were read, by their octets, tag and length included: what a binding says depends on nothing else."""
_MOST_KNOWN = 8192
_KNOWN_OCTETS = 64  # longer ones are read each time: what a peer invents must not fill the memory


def _varbind(data: bytes, at: int, end: int) -> tuple[VarBind, int]:
    """Read the binding at `at`; return it and where the next one begins."""
    name, named, value, stop = _shape(data, at, end)
    reader = _READERS.get(data[named])
    if reader is None:
        raise MalformedError(f"value of type 0x{data[named]:02x}, which SNMP has not", named)
    syntax, read = reader
    return _new(VarBind, (ber.oid(data, name, named), syntax, read(data, value, stop))), stop


_new = tuple.__new__  # what VarBind(...) ends in, without the way there: this is where the time goes


def _shape(data: bytes, at: int, end: int) -> tuple[int, int, int, int]:
    """Where the name of the binding at `at` starts and stops, where its value's contents start, and where it stops.

    Nearly always three short lengths say so, and fit each other. The careful way is for all others, says what is
    wrong, and would find the same.
    """
    if at + 4 <= end and data[at] == ber.SEQUENCE and data[at + 1] < 0x80 and data[at + 2] == ber.OBJECT_IDENTIFIER:
        stop, named = at + 2 + data[at + 1], at + 4 + data[at + 3]
        if named + 2 <= stop <= end and named + 2 + data[named + 1] == stop:
            return at + 4, named, named + 2, stop
    start, stop = ber.element(data, at, end, ber.SEQUENCE, "variable binding")
    name, named = ber.element(data, start, stop, ber.OBJECT_IDENTIFIER, "name")
    _, value, value_stop = ber.header(data, named, stop)
    _nothing_left(value_stop, stop, "variable binding")
    return name, named, value, stop


def _nothing_left(stop: int, end: int, name: str) -> None:
    if stop != end:
        raise MalformedError(f"{end - stop} octets too many after the {name}", stop)


def _reader(syntax: Syntax) -> Callable[[bytes, int, int], Value]:
    match syntax:
        case Syntax.INTEGER32 | Syntax.COUNTER32 | Syntax.GAUGE32 | Syntax.TIME_TICKS | Syntax.COUNTER64:
            return ber.integer
        case Syntax.OCTET_STRING | Syntax.IP_ADDRESS | Syntax.OPAQUE:
            return ber.octets
        case Syntax.OBJECT_IDENTIFIER:
            return ber.oid
        case Syntax.NULL | Syntax.NO_SUCH_OBJECT | Syntax.NO_SUCH_INSTANCE | Syntax.END_OF_MIB_VIEW:
            return ber.null
        case _:
            assert_never(syntax)


_KINDS = {kind.value: kind for kind in Kind}
_READERS = {syntax.value: (syntax, _reader(syntax)) for syntax in Syntax}
