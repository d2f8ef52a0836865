"""What a simulated agent says to SNMPv3: it takes part in discovery and has no users.

RFC 3414 s4: a request with an unknown engine ID is answered with a Report of usmStatsUnknownEngineIDs that carries the
agent's own ID. A request that already names this engine fails next on its user (s3.2 step 4, usmStatsUnknownUserNames).
So an agent can be told alive without any credential, as on a real device whose v3 was never set up.
"""

from __future__ import annotations

import time

from pyasn1.codec.ber import encoder
from pyasn1.type import namedtype, univ
from pysnmp.proto import rfc1905
from pysnmp.proto.api import v2c
from pysnmp.proto.mpmod.rfc3412 import SNMPv3Message

from netcheck.rehearsal.ber import decode

VERSION = 3
_USM = 3
_REPORTABLE = 0x04  # msgFlags
_UNKNOWN_USER_NAMES, _UNKNOWN_ENGINE_IDS = 3, 4
_USM_STATS = (1, 3, 6, 1, 6, 3, 15, 1, 1)
_MAX_SIZE = 1472


class _UsmSecurityParameters(univ.Sequence):  # type: ignore[misc] # pyasn1 has no types
    """UsmSecurityParameters of RFC 3414 s2.4."""

    componentType = namedtype.NamedTypes(  # noqa: N815 - pyasn1's name
        namedtype.NamedType("engine", univ.OctetString()),
        namedtype.NamedType("boots", univ.Integer()),
        namedtype.NamedType("time", univ.Integer()),
        namedtype.NamedType("user", univ.OctetString()),
        namedtype.NamedType("authentication", univ.OctetString()),
        namedtype.NamedType("privacy", univ.OctetString()),
    )


class Engine:
    """An SNMP engine without users. `engine_id` is 5 to 32 octets (RFC 3411 s5)."""

    def __init__(self, engine_id: bytes) -> None:
        self._id = engine_id
        self._started = time.monotonic()
        self._seen = {_UNKNOWN_USER_NAMES: 0, _UNKNOWN_ENGINE_IDS: 0}

    def answer(self, message: bytes) -> bytes | None:
        """The Report that `message` asks for, or None when it may not have one.

        Raises UndecodableError when it is no SNMPv3 message.
        """
        request = decode(message, SNMPv3Message())
        header = request["msgGlobalData"]
        if int(header["msgSecurityModel"]) != _USM or not bytes(header["msgFlags"])[0] & _REPORTABLE:
            return None
        security = decode(bytes(request["msgSecurityParameters"]), _UsmSecurityParameters())
        fault = _UNKNOWN_USER_NAMES if bytes(security["engine"]) == self._id else _UNKNOWN_ENGINE_IDS
        self._seen[fault] += 1
        return self._report(request, bytes(security["user"]), fault)

    def _report(self, request: SNMPv3Message, user: bytes, fault: int) -> bytes:
        security = _UsmSecurityParameters()
        uptime = int(time.monotonic() - self._started)
        security.setComponents(self._id, 1, uptime, user, b"", b"")
        message = SNMPv3Message()
        message["msgVersion"] = VERSION
        header = message["msgGlobalData"]
        header["msgID"] = request["msgGlobalData"]["msgID"]
        header["msgMaxSize"] = _MAX_SIZE
        header["msgFlags"] = b"\x00"
        header["msgSecurityModel"] = _USM
        message["msgSecurityParameters"] = encoder.encode(security)
        scoped = message["msgData"]["plaintext"]
        scoped["contextEngineId"] = self._id
        scoped["contextName"] = b""
        scoped["data"]["report"] = self._report_pdu(request, fault)
        return bytes(encoder.encode(message))

    def _report_pdu(self, request: SNMPv3Message, fault: int) -> rfc1905.ReportPDU:
        pdu = v2c.ReportPDU()
        v2c.apiPDU.set_defaults(pdu)
        v2c.apiPDU.set_request_id(pdu, _request_id(request))
        v2c.apiPDU.set_varbinds(pdu, [((*_USM_STATS, fault, 0), v2c.Counter32(self._seen[fault]))])
        return pdu


def _request_id(request: SNMPv3Message) -> int:
    """The request's own request-id where it can be read, else 0 (RFC 3412 s7.1, step 3)."""
    data = request["msgData"]
    if data.getName() != "plaintext":
        return 0
    return int(v2c.apiPDU.get_request_id(data["plaintext"]["data"].getComponent()))
