"""The one SNMPv3 message that needs no credentials: engine discovery (RFC 3414 s4). No I/O.

An agent that does not know our community is silent in v1 and v2c, exactly as a host that is switched off. Asked in v3
with an empty engine id and an empty user, a live one must answer with a Report that counts usmStatsUnknownEngineIDs
and carries its engine id. So the answer proves that there is an agent and that the path to it is open; it proves
nothing about what the agent would tell.

    SNMPv3Message ::= SEQUENCE { version, header SEQUENCE { id, max-size, flags, model },         RFC 3412 s6
                                 security-parameters OCTET STRING, scoped-pdu }
    security      ::= SEQUENCE { engine-id, boots, time, user, authentication, privacy }          RFC 3414 s2.4
    scoped-pdu    ::= SEQUENCE { context-engine-id, context-name, pdu }                           RFC 3412 s6
"""

from typing import NamedTuple

from . import ber, message
from .ber import MalformedError, Oid
from .message import Kind

VERSION = 3
USER_SECURITY_MODEL = 3  # RFC 3411 s5
REPORTABLE = b"\x04"  # noAuthNoPriv, and a Report is wanted (RFC 3412 s6.4)
_SECURED = 0x03  # the flags of authentication and privacy

USM_STATS: dict[Oid, str] = {  # what a Report counts (RFC 3414 s5)
    (1, 3, 6, 1, 6, 3, 15, 1, 1, 1, 0): "usmStatsUnsupportedSecLevels",
    (1, 3, 6, 1, 6, 3, 15, 1, 1, 2, 0): "usmStatsNotInTimeWindows",
    (1, 3, 6, 1, 6, 3, 15, 1, 1, 3, 0): "usmStatsUnknownUserNames",
    (1, 3, 6, 1, 6, 3, 15, 1, 1, 4, 0): "usmStatsUnknownEngineIDs",
    (1, 3, 6, 1, 6, 3, 15, 1, 1, 5, 0): "usmStatsWrongDigests",
    (1, 3, 6, 1, 6, 3, 15, 1, 1, 6, 0): "usmStatsDecryptionErrors",
}


class Report(NamedTuple):
    """What an agent says about itself before it knows who asks. `counts` is a key of USM_STATS, or what else it sent.

    `boots` and `time` are the engine's restarts and its seconds since the last one. Nothing here is authenticated.
    """

    message_id: int
    engine_id: bytes
    boots: int
    time: int
    counts: Oid | None


class _Security(NamedTuple):
    engine_id: bytes
    boots: int
    time: int


def request(message_id: int) -> bytes:
    """The discovery message. ValueError: the id is not one of message.REQUEST_IDS, as for any other request."""
    if message_id not in message.REQUEST_IDS:
        raise ValueError(f"message id {message_id} does not take exactly four octets")
    header = ber.sequence(
        ber.encode_integer(message_id),
        ber.encode_integer(message.MAX_MESSAGE),
        ber.encode_octets(REPORTABLE),
        ber.encode_integer(USER_SECURITY_MODEL),
    )
    nobody = ber.encode_octets(b"")
    never = ber.encode_integer(0)
    security = ber.sequence(nobody, never, never, nobody, nobody, nobody)
    scoped_pdu = ber.sequence(nobody, nobody, message.pdu_octets(Kind.GET, message_id, ()))
    return ber.sequence(ber.encode_integer(VERSION), header, ber.encode_octets(security), scoped_pdu)


def decode(data: bytes) -> Report:
    """Read a Report. MalformedError: it is none, or not one that can be read without keys."""
    if len(data) > message.MAX_MESSAGE:
        raise MalformedError(f"message of {len(data)} octets", message.MAX_MESSAGE)
    at, end = ber.element(data, 0, len(data), ber.SEQUENCE, "message")
    version, at = message.read_integer(data, at, end, "version")
    if version != VERSION:
        raise MalformedError(f"SNMP version number {version} instead of {VERSION}", at - 1)
    message_id, at = _header(data, at, end)
    start, at = ber.element(data, at, end, ber.OCTET_STRING, "security-parameters")
    security = _security(data, start, at)
    pdu = _scoped_pdu(data, at, end)
    counts = pdu.varbinds[0].oid if pdu.varbinds else None
    return Report(message_id, security.engine_id, security.boots, security.time, counts)


def _header(data: bytes, at: int, end: int) -> tuple[int, int]:
    """Return the message id and where the next element begins."""
    at, after = ber.element(data, at, end, ber.SEQUENCE, "header")
    message_id, at = message.read_integer(data, at, after, "message id")
    _, at = message.read_integer(data, at, after, "maximum size")
    start, at = ber.element(data, at, after, ber.OCTET_STRING, "flags")
    if at - start != 1 or data[start] & _SECURED:
        raise MalformedError("flags of a message that is not in the clear", start)
    model, at = message.read_integer(data, at, after, "security model")
    if model != USER_SECURITY_MODEL:
        raise MalformedError(f"security model {model} instead of {USER_SECURITY_MODEL}", at - 1)
    return message_id, after


def _security(data: bytes, at: int, end: int) -> _Security:
    at, end = ber.element(data, at, end, ber.SEQUENCE, "security parameters")
    start, at = ber.element(data, at, end, ber.OCTET_STRING, "engine id")
    engine_id = data[start:at]
    boots, at = message.read_integer(data, at, end, "engine boots")
    time, _ = message.read_integer(data, at, end, "engine time")
    return _Security(engine_id, boots, time)


def _scoped_pdu(data: bytes, at: int, end: int) -> message.Pdu:
    at, end = ber.element(data, at, end, ber.SEQUENCE, "scoped PDU")
    _, at = ber.element(data, at, end, ber.OCTET_STRING, "context engine id")
    _, at = ber.element(data, at, end, ber.OCTET_STRING, "context name")
    pdu = message.read_pdu(data, at, end)
    if pdu.kind is not Kind.REPORT:
        raise MalformedError(f"{pdu.kind.name} instead of a Report", at)
    return pdu
