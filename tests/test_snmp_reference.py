"""Our SNMP codec against pysnmp's and pyasn1's own, on generated messages, in both directions; and a fuzz by mutation.

pysnmp's `proto.api` objects and pyasn1's BER coder share nothing with our code, so equality here is evidence.
"""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyasn1.codec.ber import decoder, encoder
from pysnmp.proto import rfc1905

from probes.snmp import message
from probes.snmp.ber import MalformedError, Oid
from probes.snmp.message import REQUEST_IDS, Kind, Syntax, VarBind, Version
from tests.snmp_theirs import V1, V2C, their_response

ARC = st.integers(0, 2**32 - 1)
OIDS = st.lists(ARC, max_size=30).map(lambda tail: (1, 3, *tail))
UNSIGNED = st.one_of(st.integers(0, 2**32 - 1), st.sampled_from([0, 127, 128, 255, 256, 2**31 - 1, 2**31, 2**32 - 1]))
IDS = st.integers(-(2**31), 2**31 - 1)
ASKED_IDS = st.integers(REQUEST_IDS.start, REQUEST_IDS.stop - 1)
COMMUNITIES = st.binary(max_size=64)

MODULES = {Version.V1: V1, Version.V2C: V2C}

VALUES: st.SearchStrategy[tuple[Syntax, message.Value]] = st.one_of(
    st.tuples(st.just(Syntax.INTEGER32), st.integers(-(2**31), 2**31 - 1)),
    st.tuples(st.just(Syntax.OCTET_STRING), st.binary(max_size=300)),
    st.tuples(st.just(Syntax.OBJECT_IDENTIFIER), OIDS),
    st.tuples(st.just(Syntax.IP_ADDRESS), st.binary(min_size=4, max_size=4)),
    st.tuples(st.just(Syntax.COUNTER32), UNSIGNED),
    st.tuples(st.just(Syntax.GAUGE32), UNSIGNED),
    st.tuples(st.just(Syntax.TIME_TICKS), UNSIGNED),
    st.tuples(st.just(Syntax.OPAQUE), st.binary(max_size=60)),
    st.tuples(st.just(Syntax.COUNTER64), st.integers(0, 2**64 - 1)),
    st.sampled_from([Syntax.NULL, *sorted(message.EXCEPTIONS)]).map(lambda syntax: (syntax, None)),
)
BINDS = st.lists(st.tuples(OIDS, VALUES).map(lambda bind: VarBind(bind[0], *bind[1])), max_size=12)


@given(IDS, st.integers(0, 18), st.integers(0, 12), BINDS, COMMUNITIES)
def test_their_answers_are_read_as_they_were_meant(
    request_id: int, status: int, index: int, binds: list[VarBind], community: bytes
) -> None:
    read = message.decode(their_response(request_id, status, index, binds, community))
    assert read.version is Version.V2C
    assert read.pdu == (Kind.RESPONSE, request_id, status, index, tuple(binds))


@given(st.sampled_from(list(Version)), ASKED_IDS, COMMUNITIES, st.lists(OIDS, max_size=20), st.booleans())
def test_our_requests_are_read_by_them(
    version: Version, request_id: int, community: bytes, oids: list[Oid], following: bool
) -> None:
    ask = message.getnext if following else message.get
    api_of = MODULES[version]
    whole, rest = decoder.decode(ask(version, community, oids).octets(request_id), asn1Spec=api_of.Message())
    pdu = api_of.apiMessage.get_pdu(whole)
    assert rest == b""
    assert int(api_of.apiMessage.get_version(whole)) == version
    assert bytes(api_of.apiMessage.get_community(whole)) == community
    assert pdu.isSameTypeWith(api_of.GetNextRequestPDU() if following else api_of.GetRequestPDU())
    assert int(api_of.apiPDU.get_request_id(pdu)) == request_id
    assert [tuple(oid) for oid, _ in api_of.apiPDU.get_varbinds(pdu)] == oids


@given(ASKED_IDS, COMMUNITIES, st.lists(OIDS, min_size=3, max_size=20), st.integers(0, 3), st.integers(0, 200))
def test_our_bulk_requests_are_read_by_them(
    request_id: int, community: bytes, oids: list[Oid], once: int, repetitions: int
) -> None:
    sent = message.getbulk(community, oids, repetitions, once).octets(request_id)
    whole, rest = decoder.decode(sent, asn1Spec=V2C.Message())
    pdu = V2C.apiMessage.get_pdu(whole)
    assert rest == b""
    assert pdu.isSameTypeWith(V2C.GetBulkRequestPDU())
    assert int(V2C.apiBulkPDU.get_request_id(pdu)) == request_id
    assert int(V2C.apiBulkPDU.get_non_repeaters(pdu)) == once
    assert int(V2C.apiBulkPDU.get_max_repetitions(pdu)) == repetitions
    assert [tuple(oid) for oid, _ in V2C.apiBulkPDU.get_varbinds(pdu)] == oids


def test_a_long_binding_is_not_taken_for_short_ones() -> None:
    """Its length is 0x0620, so that octets 06 20 stand where a short binding has its name; the rest fits on purpose."""
    bind = VarBind((1, 3, 6, 1, 2, 1, 1, 1, 0), Syntax.OCTET_STRING, b"^" * 1554)
    octets = their_response(REQUEST_IDS[0], 0, 0, [bind])
    assert b"\x30\x82\x06\x20" in octets
    assert message.decode(octets).pdu.varbinds == (bind,)


@given(IDS, COMMUNITIES)
def test_a_v1_error_is_read(request_id: int, community: bytes) -> None:
    pdu = V1.GetResponsePDU()
    V1.apiPDU.set_defaults(pdu)
    V1.apiPDU.set_request_id(pdu, request_id)
    V1.apiPDU.set_error_status(pdu, 2)
    V1.apiPDU.set_error_index(pdu, 1)
    V1.apiPDU.set_varbinds(pdu, [((1, 3, 6, 1), V1.Null(""))])
    whole = V1.Message()
    V1.apiMessage.set_defaults(whole)
    V1.apiMessage.set_community(whole, community)
    V1.apiMessage.set_pdu(whole, pdu)
    read = message.decode(bytes(encoder.encode(whole)))
    assert read.version is Version.V1
    assert read.pdu[:4] == (Kind.RESPONSE, request_id, 2, 1)


def test_error_statuses_have_the_names_of_the_reference() -> None:
    named = rfc1905.ResponsePDU().componentType["error-status"].asn1Object.namedValues
    assert {number: name for name, number in named.items()} == message.ERROR_STATUS


@pytest.mark.parametrize("seed", range(4))
def test_mutated_answers_are_read_or_named(seed: int) -> None:
    """A seeded smoke fuzz: octets of real answers changed, removed, doubled; only the named error may come out."""
    draw = random.Random(seed)
    binds = [
        VarBind((1, 3, 6, 1, 2, 1, 43, 11, 1, 1, 9, 1, row), Syntax.INTEGER32, draw.randint(-3, 2**31 - 1))
        for row in range(6)
    ] + [
        VarBind((1, 3, 6, 1, 2, 1, 1, 1, 0), Syntax.OCTET_STRING, draw.randbytes(40)),
        VarBind((1, 3, 6, 1, 2, 1, 1, 2, 0), Syntax.OBJECT_IDENTIFIER, (1, 3, 6, 1, 4, 1, 99999, 1)),
        VarBind((1, 3, 6, 1, 2, 1, 1, 9, 0), Syntax.NO_SUCH_INSTANCE, None),
    ]
    whole = their_response(REQUEST_IDS[0], 0, 0, binds)
    outcomes = {True: 0, False: 0}
    for _ in range(1500):
        try:
            read = message.decode(mutated(whole, draw))
        except MalformedError:
            outcomes[False] += 1
        else:
            outcomes[True] += 1
            assert len(read.pdu.varbinds) <= message.MAX_VARBINDS
    assert all(outcomes.values()), "the mutations are all too tame or all too wild to show anything"


def mutated(data: bytes, draw: random.Random) -> bytes:
    octets = bytearray(data)
    for _ in range(draw.randint(1, 4)):
        at = draw.randrange(len(octets))
        match draw.randrange(5):
            case 0:
                octets[at] = draw.randrange(256)
            case 1:
                octets[at] ^= 1 << draw.randrange(8)
            case 2:
                del octets[at : at + draw.randint(1, 8)]
            case 3:
                octets[at:at] = octets[at : at + draw.randint(1, 16)]
            case _:
                octets[at:at] = draw.choice([b"\x84\xff\xff\xff\xff", b"\x80", b"\x30\x80", b"\xff", b"\x02\x00"])
        octets = octets or bytearray(b"\x30")
    return bytes(octets)
