"""An SNMP agent for the tests, made of pysnmp's message objects and pyasn1's coder: it shares nothing with the probe.

It answers over loopback, counts what it is asked, and misbehaves on request. The device that it speaks for is invented.
"""

import asyncio
import bisect
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, Self

from pyasn1.codec.ber import decoder, encoder
from pysnmp.proto import api, rfc1905
from pysnmp.proto.api import verdec
from pysnmp.proto.mpmod.rfc3412 import SNMPv3Message
from pysnmp.proto.secmod.rfc3414.service import UsmSecurityParameters

V1 = api.PROTOCOL_MODULES[api.SNMP_VERSION_1]
V2C = api.PROTOCOL_MODULES[api.SNMP_VERSION_2C]
Oid = tuple[int, ...]
Rows = dict[Oid, Any]

COMMUNITY = "hunter2-of-the-county"
"""Nothing that anybody is ever told may hold it."""
UNKNOWN_ENGINE_IDS = (1, 3, 6, 1, 6, 3, 15, 1, 1, 4, 0)
TOO_BIG, NO_SUCH_NAME, GEN_ERR, AUTHORIZATION_ERROR = 1, 2, 5, 16  # RFC 3416 s3


def oid(text: str) -> Oid:
    return tuple(map(int, text.split(".")))


@dataclass
class Faults:
    """What the agent does wrong. Identifiers are where it happens."""

    ignores: int = 0
    """How many of the first questions are lost."""
    loops_at: Oid | None = None
    """From here on, the object that follows is an earlier one."""
    ends_at: Oid | None = None
    """The view ends before this object."""
    breaks_at: frozenset[Oid] = frozenset()
    """Objects that cannot be read: genErr, with the index of the accused one."""
    bulk: int | None = 0
    """What GETBULK is answered with: 0 properly, a status, or None for not at all."""
    garbles: bool = False
    """Every answer loses its last octets."""
    denies: bool = False
    """Every question is answered with authorizationError."""
    v2c_delay_s: float = 0.0
    """How much longer answers in v2c take."""
    elsewhere: bool = False
    """Answers leave from another port."""


@dataclass
class Agent:
    """Serves `rows` to those who know the community, up between `async with` and its end."""

    rows: Rows
    versions: frozenset[int] = frozenset({0, 1})
    community: str = COMMUNITY
    discovers: bool = False
    octets: int = 1472
    delay_s: float = 0.0
    faults: Faults = field(default_factory=Faults)
    asked: list[str] = field(default_factory=list)
    most_at_once: int = 0
    rounds: int = 0
    """How many times somebody waited: questions that left before an answer to the one before came back are one."""
    port: int = 0
    _under_way: int = 0
    _answered_round: int = 0

    async def __aenter__(self) -> Self:
        self._names = sorted(self.rows)
        loop = asyncio.get_running_loop()
        self._transport, _ = await loop.create_datagram_endpoint(lambda: _Receiver(self), ("127.0.0.1", 0))
        self._other, _ = await loop.create_datagram_endpoint(asyncio.DatagramProtocol, ("127.0.0.1", 0))
        self.port = self._transport.get_extra_info("sockname")[1]
        return self

    async def __aexit__(self, *_: object) -> None:
        self._transport.close()
        self._other.close()

    def received(self, data: bytes, sender: Any) -> None:
        answer = self._answer(data)
        if answer is None:
            return
        self.rounds = self._answered_round + 1
        self._under_way += 1
        self.most_at_once = max(self.most_at_once, self._under_way)
        delay_s = self.delay_s + (self.faults.v2c_delay_s if self.asked[-1].startswith("v2c") else 0.0)
        asyncio.get_running_loop().call_later(delay_s, self._send, answer, sender, self.rounds)

    def _send(self, answer: bytes, sender: Any, asked_in: int) -> None:
        self._answered_round = max(self._answered_round, asked_in)
        self._under_way -= 1
        if not self._transport.is_closing():
            (self._other if self.faults.elsewhere else self._transport).sendto(answer, sender)

    def _answer(self, data: bytes) -> bytes | None:
        version = int(verdec.decode_message_version(data))
        self.asked.append({0: "v1", 1: "v2c", 3: "v3"}[version])
        if len(self.asked) <= self.faults.ignores:
            return None
        if version == 3:
            return _report(data) if self.discovers else None
        module = V1 if version == 0 else V2C
        message, _ = decoder.decode(data, asn1Spec=module.Message())
        if version not in self.versions or bytes(module.apiMessage.get_community(message)) != self.community.encode():
            return None
        pdu = module.apiMessage.get_pdu(message)
        self.asked[-1] += f" {type(pdu).__name__.removesuffix('RequestPDU')}"
        return self._respond(version, module, message, pdu)

    def _respond(self, version: int, module: Any, message: Any, pdu: Any) -> bytes | None:
        bulk = version == 1 and pdu.isSameTypeWith(V2C.GetBulkRequestPDU())
        if bulk and self.faults.bulk is None:
            return None
        names = [tuple(name) for name, _ in module.apiPDU.get_varbinds(pdu)]
        if bulk and self.faults.bulk:
            return self._encoded(module, message, pdu, [], self.faults.bulk)
        if self.faults.denies:
            return self._encoded(module, message, pdu, [], AUTHORIZATION_ERROR, 1)
        if pdu.isSameTypeWith(module.GetRequestPDU()):
            found = [(name, self.rows.get(name, rfc1905.noSuchInstance)) for name in names]
            return self._checked(version, module, message, pdu, found)
        if not bulk:
            return self._checked(version, module, message, pdu, [self._after(name) for name in names])
        return self._bulk(message, pdu, names)

    def _checked(self, version: int, module: Any, message: Any, pdu: Any, found: list[Any]) -> bytes:
        missing = (rfc1905.noSuchInstance, rfc1905.endOfMibView)
        for index, (name, value) in enumerate(found, 1):
            if name in self.faults.breaks_at:
                return self._encoded(module, message, pdu, [], GEN_ERR, index)
            if version == 0 and any(value is each for each in missing):  # an empty string equals them
                return self._encoded(module, message, pdu, [], NO_SUCH_NAME, index)
        whole = self._encoded(module, message, pdu, found)
        return whole if len(whole) <= self.octets else self._encoded(module, message, pdu, [], TOO_BIG)

    def _bulk(self, message: Any, pdu: Any, names: list[Oid]) -> bytes:
        """RFC 3416 s4.2.3: as many repetitions as were asked for, or as fit."""
        found: list[Any] = []
        for _ in range(int(V2C.apiBulkPDU.get_max_repetitions(pdu))):
            for position, name in enumerate(names):
                follower = self._after(name)
                if follower[0] in self.faults.breaks_at:
                    return self._encoded(V2C, message, pdu, [], GEN_ERR, position + 1)
                found.append(follower)
                names[position] = follower[0]
        whole = self._encoded(V2C, message, pdu, found)
        while len(whole) > self.octets:
            del found[min(len(found) - 1, len(found) * self.octets // len(whole)) :]
            whole = self._encoded(V2C, message, pdu, found)
        return whole

    def _after(self, name: Oid) -> tuple[Oid, Any]:
        at = bisect.bisect_right(self._names, name)
        follower = self._names[at] if at < len(self._names) else None
        if follower is None or (self.faults.ends_at and follower >= self.faults.ends_at):
            return name, rfc1905.endOfMibView
        if self.faults.loops_at and name >= self.faults.loops_at:
            follower = self._names[max(0, at - 2)]
        return follower, self.rows[follower]

    def _encoded(
        self, module: Any, message: Any, pdu: Any, found: Iterable[Any], status: int = 0, index: int = 0
    ) -> bytes:
        response = module.GetResponsePDU() if module is V1 else module.ResponsePDU()
        module.apiPDU.set_defaults(response)
        module.apiPDU.set_request_id(response, module.apiPDU.get_request_id(pdu))
        module.apiPDU.set_error_status(response, status)
        module.apiPDU.set_error_index(response, index)
        module.apiPDU.set_varbinds(response, found)
        whole = module.Message()
        module.apiMessage.set_defaults(whole)
        module.apiMessage.set_community(whole, module.apiMessage.get_community(message))
        module.apiMessage.set_pdu(whole, response)
        octets = bytes(encoder.encode(whole))
        return octets[:-5] if self.faults.garbles else octets


class _Receiver(asyncio.DatagramProtocol):
    def __init__(self, agent: Agent) -> None:
        self._agent = agent

    def datagram_received(self, data: bytes, addr: Any) -> None:
        self._agent.received(data, addr)


def _report(data: bytes) -> bytes:
    """RFC 3414 s3.2 step 3b: an unknown engine id is counted and reported."""
    asked, _ = decoder.decode(data, asn1Spec=SNMPv3Message())
    engine_id = b"\x80\x00\x7e\xd9\x05halden"
    security = UsmSecurityParameters()
    for position, value in enumerate((engine_id, 3, 4711, b"", b"", b"")):
        security.setComponentByPosition(position, value)
    whole = SNMPv3Message()
    whole["msgVersion"] = 3
    for position, value in enumerate((asked["msgGlobalData"]["msgID"], 65507, b"\0", 3)):
        whole["msgGlobalData"].setComponentByPosition(position, value)
    whole["msgSecurityParameters"] = encoder.encode(security)
    scoped = whole["msgData"]["plaintext"]
    scoped["contextEngineId"], scoped["contextName"] = engine_id, b""
    pdu = rfc1905.ReportPDU()
    V2C.apiPDU.set_defaults(pdu)
    V2C.apiPDU.set_varbinds(pdu, [(UNKNOWN_ENGINE_IDS, V2C.Counter32(1))])
    scoped["data"].setComponentByType(pdu.tagSet, pdu, False, False, False)
    return bytes(encoder.encode(whole))
