"""Messages made with pysnmp's objects and pyasn1's coder, for the tests of our codec: they share nothing with it."""

from typing import Any

from pyasn1.codec.ber import encoder
from pysnmp.proto import api, rfc1905
from pysnmp.proto.mpmod.rfc3412 import SNMPv3Message
from pysnmp.proto.secmod.rfc3414.service import UsmSecurityParameters

from probes.snmp.ber import Oid
from probes.snmp.message import Syntax, VarBind

V1 = api.PROTOCOL_MODULES[api.SNMP_VERSION_1]
V2C = api.PROTOCOL_MODULES[api.SNMP_VERSION_2C]
ENGINE = b"\x80\x00\x00\x00\x05engine"
UNKNOWN_ENGINE_IDS = (1, 3, 6, 1, 6, 3, 15, 1, 1, 4, 0)
"""usmStatsUnknownEngineIDs.0, RFC 3414 s5."""

THEIRS = {
    Syntax.INTEGER32: V2C.Integer32,
    Syntax.OCTET_STRING: V2C.OctetString,
    Syntax.OBJECT_IDENTIFIER: V2C.ObjectIdentifier,
    Syntax.IP_ADDRESS: V2C.IpAddress,
    Syntax.COUNTER32: V2C.Counter32,
    Syntax.GAUGE32: V2C.Gauge32,
    Syntax.TIME_TICKS: V2C.TimeTicks,
    Syntax.OPAQUE: V2C.Opaque,
    Syntax.COUNTER64: V2C.Counter64,
}
WITHOUT_VALUE = {
    Syntax.NULL: V2C.Null(""),
    Syntax.NO_SUCH_OBJECT: rfc1905.noSuchObject,
    Syntax.NO_SUCH_INSTANCE: rfc1905.noSuchInstance,
    Syntax.END_OF_MIB_VIEW: rfc1905.endOfMibView,
}


def their_value(bind: VarBind) -> Any:
    return WITHOUT_VALUE[bind.syntax] if bind.value is None else THEIRS[bind.syntax](bind.value)


def their_response(request_id: int, status: int, index: int, binds: list[VarBind], community: bytes = b"x") -> bytes:
    pdu = V2C.ResponsePDU()
    V2C.apiPDU.set_defaults(pdu)
    V2C.apiPDU.set_request_id(pdu, request_id)
    V2C.apiPDU.set_error_status(pdu, status)
    V2C.apiPDU.set_error_index(pdu, index)
    V2C.apiPDU.set_varbinds(pdu, [(bind.oid, their_value(bind)) for bind in binds])
    whole = V2C.Message()
    V2C.apiMessage.set_defaults(whole)
    V2C.apiMessage.set_community(whole, community)
    V2C.apiMessage.set_pdu(whole, pdu)
    return bytes(encoder.encode(whole))


def their_message(pdu: Any, message_id: int = 9, engine_id: bytes = ENGINE, boots: int = 0, time: int = 0) -> Any:
    security = UsmSecurityParameters()
    for position, value in enumerate((engine_id, boots, time, b"", b"", b"")):
        security.setComponentByPosition(position, value)
    whole = SNMPv3Message()
    whole["msgVersion"] = 3
    for position, value in enumerate((message_id, 65507, b"\0", 3)):
        whole["msgGlobalData"].setComponentByPosition(position, value)
    whole["msgSecurityParameters"] = encoder.encode(security)
    scoped = whole["msgData"]["plaintext"]
    scoped["contextEngineId"], scoped["contextName"] = engine_id, b""
    scoped["data"].setComponentByType(pdu.tagSet, pdu, False, False, False)
    return whole


def their_pdu(kind: Any = rfc1905.ReportPDU, oid: Oid = UNKNOWN_ENGINE_IDS) -> Any:
    pdu = kind()
    for position in range(3):
        pdu.setComponentByPosition(position, 0)
    bind = pdu.setComponentByPosition(3).getComponentByPosition(3).setComponentByPosition(0).getComponentByPosition(0)
    bind.setComponentByPosition(0, oid)
    value = bind.setComponentByPosition(1).getComponentByPosition(1)["value"]["application-wide"]
    value["counter-value"] = 5
    return pdu
