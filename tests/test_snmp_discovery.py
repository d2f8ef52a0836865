"""SNMPv3 engine discovery (RFC 3414 s4) against pysnmp's message objects, and against a real engine over loopback."""

import asyncio
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyasn1.codec.ber import decoder, encoder
from pysnmp.carrier.asyncio.dgram import udp
from pysnmp.entity import config, engine
from pysnmp.entity.rfc3413 import cmdrsp, context
from pysnmp.proto import rfc1905
from pysnmp.proto.mpmod.rfc3412 import SNMPv3Message
from pysnmp.proto.secmod.rfc3414.service import UsmSecurityParameters

from probes.snmp import discovery, message
from probes.snmp.ber import MalformedError
from probes.snmp.message import REQUEST_IDS
from tests.snmp_theirs import UNKNOWN_ENGINE_IDS, their_message, their_pdu

IDS = st.integers(REQUEST_IDS.start, REQUEST_IDS.stop - 1)
ENGINES = st.binary(min_size=5, max_size=32)  # SnmpEngineID, RFC 3411 s5
NUMBERS = st.integers(0, 2**31 - 1)


@given(IDS)
def test_our_question_is_read_by_them(message_id: int) -> None:
    """RFC 3414 s4: noAuthNoPriv, empty user, empty engine id, no variable bindings; reportable by RFC 3412 s6.4."""
    whole, rest = decoder.decode(discovery.request(message_id), asn1Spec=SNMPv3Message())
    header = whole["msgGlobalData"]
    assert rest == b""
    assert int(whole["msgVersion"]) == 3
    assert int(header["msgID"]) == message_id
    assert bytes(header["msgFlags"]) == b"\x04"
    assert int(header["msgSecurityModel"]) == 3
    security, _ = decoder.decode(bytes(whole["msgSecurityParameters"]), asn1Spec=UsmSecurityParameters())
    assert [security[position].prettyPrint() for position in range(6)] == ["", "0", "0", "", "", ""]
    scoped = whole["msgData"]["plaintext"]
    pdu = scoped["data"].getComponent()
    assert pdu.isSameTypeWith(rfc1905.GetRequestPDU())
    assert int(pdu["request-id"]) == message_id
    assert len(pdu["variable-bindings"]) == 0


@given(IDS, ENGINES, NUMBERS, NUMBERS)
def test_their_report_is_read(message_id: int, engine_id: bytes, boots: int, time: int) -> None:
    octets = bytes(encoder.encode(their_message(their_pdu(), message_id, engine_id, boots, time)))
    report = discovery.decode(octets)
    assert report == (message_id, engine_id, boots, time, UNKNOWN_ENGINE_IDS)
    assert discovery.USM_STATS[UNKNOWN_ENGINE_IDS] == "usmStatsUnknownEngineIDs"


def secured(whole: Any, flags: bytes) -> Any:
    whole["msgGlobalData"]["msgFlags"] = flags
    return whole


def of_model(whole: Any, model: int) -> Any:
    whole["msgGlobalData"]["msgSecurityModel"] = model
    return whole


def encrypted() -> Any:
    whole = their_message(their_pdu())
    whole["msgData"]["encryptedPDU"] = b"\x01\x02\x03"
    return whole


@pytest.mark.parametrize(
    ("whole", "what"),
    [
        (their_message(their_pdu(rfc1905.ResponsePDU)), "RESPONSE instead of a Report"),
        (secured(their_message(their_pdu()), b"\x01"), "flags of a message that is not in the clear"),
        (of_model(their_message(their_pdu()), 4), "security model 4 instead of 3"),
        (encrypted(), "scoped PDU: tag 0x04 instead of 0x30"),
    ],
)
def test_what_is_no_readable_report_is_named(whole: Any, what: str) -> None:
    with pytest.raises(MalformedError, match=what):
        discovery.decode(bytes(encoder.encode(whole, asn1Spec=None)))


def test_a_report_without_a_counter_is_still_an_answer() -> None:
    pdu = their_pdu()
    pdu["variable-bindings"].clear()
    assert discovery.decode(bytes(encoder.encode(their_message(pdu)))).counts is None


def test_a_v2c_message_is_no_report() -> None:
    request = message.get(message.Version.V2C, b"x", [UNKNOWN_ENGINE_IDS]).octets(REQUEST_IDS[0])
    with pytest.raises(MalformedError, match="version number 1 instead of 3"):
        discovery.decode(request)


@given(st.binary(max_size=300))
def test_any_octets_are_a_report_or_the_named_error(data: bytes) -> None:
    with pytest.raises(MalformedError):
        discovery.decode(data)


def test_a_report_cut_anywhere_is_malformed() -> None:
    whole = bytes(encoder.encode(their_message(their_pdu())))
    for size in range(len(whole)):
        with pytest.raises(MalformedError):
            discovery.decode(whole[:size])


@pytest.mark.parametrize("message_id", [0, REQUEST_IDS.start - 1, REQUEST_IDS.stop])
def test_only_ids_of_four_octets_are_sent(message_id: int) -> None:
    with pytest.raises(ValueError, match="four octets"):
        discovery.request(message_id)


async def asked_of_an_engine(octets: bytes) -> tuple[bytes, bytes]:
    """Ask pysnmp's own SNMPv3 engine, which knows no user of ours; return its answer and its engine id."""
    agent = engine.SnmpEngine()
    config.add_transport(agent, udp.DOMAIN_NAME, udp.UdpTransport().open_server_mode(("127.0.0.1", 0)))
    cmdrsp.GetCommandResponder(agent, context.SnmpContext(agent))
    try:
        await asyncio.sleep(0.05)
        transport = agent.transport_dispatcher.get_transport(udp.DOMAIN_NAME)
        where = transport.transport.get_extra_info("sockname")
        answer: asyncio.Future[bytes] = asyncio.get_running_loop().create_future()

        class Asker(asyncio.DatagramProtocol):
            def datagram_received(self, data: bytes, _: object) -> None:
                answer.set_result(data)

        socket, _ = await asyncio.get_running_loop().create_datagram_endpoint(Asker, remote_addr=where)
        socket.sendto(octets)
        async with asyncio.timeout(5):
            return await answer, bytes(agent.snmpEngineID)
    finally:
        socket.close()
        agent.close_dispatcher()


def test_a_real_engine_answers_our_question() -> None:
    octets, engine_id = asyncio.run(asked_of_an_engine(discovery.request(REQUEST_IDS[77])))
    report = discovery.decode(octets)
    assert report.message_id == REQUEST_IDS[77]
    assert report.engine_id == engine_id
    assert report.counts == UNKNOWN_ENGINE_IDS
