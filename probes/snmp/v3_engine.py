"""SNMPv3 messages of one user (RFC 3412, RFC 3414): PDUs to octets and back. No I/O; imported when somebody needs it.

pysnmp is the engine: its message processing and its security model keep the agent's engine id, boots and time, make
the keys, sign, encrypt and check. Nothing else of it is used. Datagrams go over the sockets that all versions share,
since pysnmp's own hear no refusal and take a malformed answer for silence; and what it reads comes out as the values
of `message`, so that nothing behind this module knows of it.

How a long AES key is made from a hash that is too short was never standardised. Two drafts are in use: Blumenthal's
(draft-blumenthal-aes-usm-04) and Reeder's (draft-reeder-snmpv3-usm-3desede-00), for which there are two `ciphers`.
"""

from collections.abc import Sequence
from enum import IntEnum
from typing import Any, Final, NamedTuple, assert_never

from pyasn1.error import PyAsn1Error
from pysnmp.carrier.base import AbstractTransportDispatcher
from pysnmp.entity import config
from pysnmp.entity.engine import SnmpEngine
from pysnmp.error import PySnmpError
from pysnmp.proto.api import v2c
from pysnmp.proto.error import StatusInformation

from netcheck.credentials import User

from . import message
from .ber import MalformedError, Oid
from .message import Kind, Pdu, Syntax, Value, VarBind

HASHES: Final = {
    "": config.USM_AUTH_NONE,
    "SHA-1": config.USM_AUTH_HMAC96_SHA,
    "SHA-224": config.USM_AUTH_HMAC128_SHA224,
    "SHA-256": config.USM_AUTH_HMAC192_SHA256,
    "SHA-384": config.USM_AUTH_HMAC256_SHA384,
    "SHA-512": config.USM_AUTH_HMAC384_SHA512,
}
CIPHERS: Final = {
    "": (config.USM_PRIV_NONE,),
    "AES-128": (config.USM_PRIV_CFB128_AES,),
    "AES-192": (config.USM_PRIV_CFB192_AES_BLUMENTHAL, config.USM_PRIV_CFB192_AES),
    "AES-256": (config.USM_PRIV_CFB256_AES_BLUMENTHAL, config.USM_PRIV_CFB256_AES),
}
"""What each cipher may be, the more frequent kind of key first."""

_MODEL: Final = 3  # the number of SNMPv3 as a way of processing messages, and of USM as a security model: RFC 3411 s5
_DOMAIN, _PEER = (1, 3, 6, 1, 6, 1, 1), ("", 0)  # snmpUDPDomain (RFC 3417 s3); an engine here has a single peer
_QUESTIONS: Final = {
    Kind.GET: v2c.GetRequestPDU,
    Kind.GETNEXT: v2c.GetNextRequestPDU,
    Kind.GETBULK: v2c.GetBulkRequestPDU,
}


class Level(IntEnum):
    """Security levels (RFC 3411 s3.4.3)."""

    NO_AUTH_NO_PRIV = 1
    AUTH_NO_PRIV = 2
    AUTH_PRIV = 3

    def __str__(self) -> str:
        return ("noAuthNoPriv", "authNoPriv", "authPriv")[self - 1]


class Reported(NamedTuple):
    """The agent answers with a Report; `counts` is the object that it has counted up, the reason."""

    counts: Oid | None


class Question(NamedTuple):
    """What is asked; `repetitions` belongs to GETBULK."""

    kind: Kind
    oids: Sequence[Oid]
    repetitions: int = 0


class Engine:
    """Everything that is known of one agent, and of us towards it. `cipher` is one of CIPHERS[user.priv]."""

    def __init__(self, user: User, cipher: Oid) -> None:
        self._name = v2c.OctetString(user.name.encode())
        self._engine = SnmpEngine()
        # Asked for the resolution of its clock, and for reports about what breaks the rules: the former is its default.
        dispatcher = AbstractTransportDispatcher()
        dispatcher.send_message = _never
        self._engine.register_transport_dispatcher(dispatcher)
        config.add_v3_user(
            self._engine,
            user.name,
            HASHES[user.auth],
            user.auth_secret.reveal().encode() if user.auth else None,
            cipher,
            user.priv_secret.reveal().encode() if user.priv else None,
        )
        self._messages = self._engine.message_processing_subsystems[_MODEL]
        self.met = False
        """Has the agent ever answered, be it with a Report?"""

    def seal(self, message_id: int, level: Level, question: Question) -> bytes:
        """The message that asks this; while the agent's engine id is not known, the one that asks for that."""
        pdu = _QUESTIONS[question.kind]()
        api = v2c.apiPDU
        if question.kind is Kind.GETBULK:
            api = v2c.apiBulkPDU
        api.set_defaults(pdu)
        if question.kind is Kind.GETBULK:
            api.set_non_repeaters(pdu, 0)
            api.set_max_repetitions(pdu, question.repetitions)
        api.set_request_id(pdu, message_id)
        api.set_varbinds(pdu, [(oid, v2c.null) for oid in question.oids])
        # Message ids are the caller's: they tell answers apart on a socket that other engines share.
        self._messages._cache.new_message_id = lambda: message_id
        _, _, octets = self._messages.prepare_outgoing_message(
            self._engine, _DOMAIN, _PEER, _MODEL, _MODEL, self._name, int(level), None, b"", 1, pdu, True, message_id
        )
        return bytes(octets)

    def open(self, data: bytes) -> Pdu | Reported:
        """Read an answer. MalformedError: it is none, or is not what the agent itself has sent."""
        if len(data) > message.MAX_MESSAGE:
            raise MalformedError(f"message of {len(data)} octets", message.MAX_MESSAGE)
        try:
            elements = self._messages.prepare_data_elements(self._engine, _DOMAIN, _PEER, data)
        except StatusInformation as status:
            if "sendPduHandle" not in status:
                raise MalformedError(f"SNMPv3 message that cannot be taken: {status['errorIndication']}", 0) from None
            self.met = True
            return Reported(tuple(status["oid"]) if "oid" in status else None)
        except (PyAsn1Error, PySnmpError) as error:
            raise MalformedError(f"SNMPv3 message that breaks the rules ({type(error).__name__})", 0) from None
        self.met = True
        pdu, asked = elements[7], elements[9]
        return _read(pdu, asked)


def _never(*_: object) -> None:
    """Nothing is sent but questions."""


def _read(pdu: Any, asked: int | None) -> Pdu:
    if pdu.tagSet != v2c.ResponsePDU.tagSet or asked is None:
        raise MalformedError("a question instead of a response", 0)
    api = v2c.apiPDU
    request_id = int(api.get_request_id(pdu))
    if request_id != asked:
        raise MalformedError(f"response to request {request_id} in the answer to request {asked}", 0)
    binds = api.get_varbinds(pdu)
    if len(binds) > message.MAX_VARBINDS:
        raise MalformedError(f"more than {message.MAX_VARBINDS} variable bindings", 0)
    return Pdu(
        Kind.RESPONSE,
        request_id,
        int(api.get_error_status(pdu)),
        int(api.get_error_index(pdu, muteErrors=True)),
        tuple(VarBind(tuple(name), *_value(value)) for name, value in binds),
    )


def _value(value: Any) -> tuple[Syntax, Value]:
    """A value by the tag that it has on the wire."""
    tag = value.tagSet[-1]
    syntax = Syntax(tag.tagClass | tag.tagFormat | tag.tagId)
    match syntax:
        case Syntax.INTEGER32 | Syntax.COUNTER32 | Syntax.GAUGE32 | Syntax.TIME_TICKS | Syntax.COUNTER64:
            return syntax, int(value)
        case Syntax.OCTET_STRING | Syntax.IP_ADDRESS | Syntax.OPAQUE:
            return syntax, bytes(value)
        case Syntax.OBJECT_IDENTIFIER:
            return syntax, tuple(value)
        case Syntax.NULL | Syntax.NO_SUCH_OBJECT | Syntax.NO_SUCH_INSTANCE | Syntax.END_OF_MIB_VIEW:
            return syntax, None
        case _:
            assert_never(syntax)
