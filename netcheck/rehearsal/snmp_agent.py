"""A simulated device's SNMP agent: v1 and v2c over a sorted list of rows, v3 as far as discovery (RFC 1157, RFC 3416).

pysnmp and pyasn1 are the codec, on purpose a different one from the probes'. `SnmpAgent.answer` is the whole agent,
from datagram to datagram; asyncio only carries it. A wrong community, a PDU that is no request and anything that cannot
be decoded are met with silence, as on a real device. Importing this module imports pysnmp: `site` does so on starting.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Iterable
from types import ModuleType
from typing import Any, assert_never, cast

from pyasn1.codec.ber import encoder
from pysnmp.proto import api
from pysnmp.proto.api import v2c

from netcheck.rehearsal import snmp_discovery
from netcheck.rehearsal.ber import UndecodableError, decode, message_version
from netcheck.rehearsal.mib import Address, Counter, Found, Gauge, Missing, Pointer, Row, Ticks, Tree, Value

MAX_MESSAGE = 1472  # octets: what an Ethernet frame carries over IPv4 and UDP without fragmenting
_OVERHEAD = 64  # octets of an answer around its variables; the community is short
_TOO_BIG, _NO_SUCH_NAME, _NOT_WRITABLE = 1, 2, 17  # error-status, RFC 1157 s4.1.1 and RFC 3416 s3

_EXCEPTIONS = {
    Missing.OBJECT: v2c.NoSuchObject(""),
    Missing.INSTANCE: v2c.NoSuchInstance(""),
    Missing.END: v2c.EndOfMibView(""),
}


class SnmpAgent(asyncio.DatagramProtocol):
    """One agent. `rows` are its variables. `set_requests` counts the SETs that it was sent and refused."""

    def __init__(self, rows: Iterable[Row], engine_id: bytes, community: bytes = b"public") -> None:
        self.set_requests = 0
        self._tree = Tree(rows)
        self._community = community
        self._engine = snmp_discovery.Engine(engine_id)
        self._started = time.monotonic()
        self._transport: asyncio.DatagramTransport | None = None

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Keeps the transport that answers go out on."""
        self._transport = cast(asyncio.DatagramTransport, transport)  # by class it is not always one before 3.12

    def datagram_received(self, data: bytes, addr: tuple[str | Any, int]) -> None:
        """Answers one datagram, or says nothing."""
        answer = self.answer(data)
        if answer is not None and self._transport is not None:
            self._transport.sendto(answer, addr)

    def answer(self, message: bytes) -> bytes | None:
        """The response to `message`, at most MAX_MESSAGE octets; None is silence."""
        try:
            version = message_version(message)
            if version == snmp_discovery.VERSION:
                return self._engine.answer(message)
            if version not in api.PROTOCOL_MODULES:
                return None
            codec = api.PROTOCOL_MODULES[version]
            request = decode(message, codec.Message())
        except UndecodableError:
            return None  # snmpInASNParseErrs on a real agent
        if bytes(codec.apiMessage.get_community(request)) != self._community:
            return None
        return self._respond(codec, request)

    def _respond(self, codec: ModuleType, request: Any) -> bytes | None:
        pdu = codec.apiMessage.get_pdu(request)
        names = [tuple(name) for name, _ in codec.apiPDU.get_varbinds(pdu)]
        if pdu.tagSet == codec.SetRequestPDU.tagSet:
            self.set_requests += 1
            return _refusal(codec, request, _NOT_WRITABLE if codec is v2c else _NO_SUCH_NAME, 1)
        if pdu.tagSet == codec.GetRequestPDU.tagSet:
            found = [self._tree.get(name) for name in names]
        elif pdu.tagSet == codec.GetNextRequestPDU.tagSet:
            found = [self._tree.after(name) for name in names]
        elif codec is v2c and pdu.tagSet == v2c.GetBulkRequestPDU.tagSet:
            once, times = int(v2c.apiBulkPDU.get_non_repeaters(pdu)), int(v2c.apiBulkPDU.get_max_repetitions(pdu))
            found = self._tree.bulk(names, max(once, 0), max(times, 0), MAX_MESSAGE - _OVERHEAD)
        else:
            return None  # a response, a trap or an inform: not for an agent
        return self._response(codec, request, found)

    def _response(self, codec: ModuleType, request: Any, found: list[Found]) -> bytes | None:
        if codec is not v2c:  # v1 knows no exceptions: one missing name spoils the whole request
            for index, (_, value) in enumerate(found, 1):
                if isinstance(value, Missing):
                    return _refusal(codec, request, _NO_SUCH_NAME, index)
        response = codec.apiMessage.get_response(request)
        variables = [(name, self._encodable(value)) for name, value in found]
        codec.apiPDU.set_varbinds(codec.apiMessage.get_pdu(response), variables)
        encoded = bytes(encoder.encode(response))
        return encoded if len(encoded) <= MAX_MESSAGE else _refusal(codec, request, _TOO_BIG, 0)

    def _encodable(self, value: Value | Missing) -> Any:
        match value:
            case int():
                return v2c.Integer32(value)
            case bytes():
                return v2c.OctetString(value)
            case Counter():
                return v2c.Counter32(value.count)
            case Gauge():
                return v2c.Gauge32(value.level)
            case Ticks():
                age = int((time.monotonic() - self._started) * 100) if value.running else 0
                return v2c.TimeTicks((value.start + age) % 2**32)
            case Pointer():
                return v2c.ObjectIdentifier(value.oid)
            case Address():
                return v2c.IpAddress(value.dotted)
            case Missing():
                return _EXCEPTIONS[value]
            case _:
                assert_never(value)


def _refusal(codec: ModuleType, request: Any, status: int, index: int) -> bytes:
    """A response with an error; it repeats the request's variables, but for v2c's tooBig, which has none (s4.2.1)."""
    asked = codec.apiPDU.get_varbinds(codec.apiMessage.get_pdu(request))
    response = codec.apiMessage.get_response(request)
    pdu = codec.apiMessage.get_pdu(response)
    codec.apiPDU.set_varbinds(pdu, [] if codec is v2c and status == _TOO_BIG else asked)
    codec.apiPDU.set_error_status(pdu, status)
    codec.apiPDU.set_error_index(pdu, index)
    return bytes(encoder.encode(response))
