"""SNMP messages against RFC 3417's published octets, and the promises of the decoder: named errors, bounds, secrets."""

import itertools
import sys
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from probes.snmp import ber, message
from probes.snmp.ber import MalformedError
from probes.snmp.message import REQUEST_IDS, Kind, Syntax, VarBind, Version

SYS_DESCR = (1, 3, 6, 1, 2, 1, 1, 1, 0)
IDS = st.integers(REQUEST_IDS.start, REQUEST_IDS.stop - 1)

# RFC 3417 s8.1, the worked example of a GetBulkRequest-PDU, as quoted in public test code (second-hand).
RFC3417_GETBULK = """
    a5 82 00 39
        02 04 54 52 5d 76
        02 01 01
        02 01 02
        30 2b
            30 0b   06 07 2b 06 01 02 01 01 03         05 00
            30 0d   06 09 2b 06 01 02 01 04 16 01 02   05 00
            30 0d   06 09 2b 06 01 02 01 04 16 01 04   05 00
"""
RFC3417_OIDS = ((1, 3, 6, 1, 2, 1, 1, 3), (1, 3, 6, 1, 2, 1, 4, 22, 1, 2), (1, 3, 6, 1, 2, 1, 4, 22, 1, 4))


def response(varbinds: bytes = b"", version: int = 1, kind: int = 0xA2) -> bytes:
    numbers = ber.encode_integer(REQUEST_IDS[0]) + ber.encode_integer(0) * 2
    pdu = ber.sequence(numbers, ber.sequence(varbinds), tag=kind)
    return ber.sequence(ber.encode_integer(version), ber.encode_octets(b"public"), pdu)


def varbind(value: bytes, oid: ber.Oid = SYS_DESCR) -> bytes:
    return ber.sequence(ber.encode_oid(oid), value)


def decoded(data: bytes) -> message.Message | MalformedError:
    try:
        return message.decode(data)
    except MalformedError as error:
        return error


def check(data: bytes) -> None:
    """The decoder's promise: a message within the limits, or the named error with an offset inside the octets."""
    read = decoded(data)
    if isinstance(read, MalformedError):
        assert 0 <= read.offset <= len(data)
    else:
        assert len(read.pdu.varbinds) <= message.MAX_VARBINDS


def test_the_published_getbulk_is_read() -> None:
    octets = bytes.fromhex(RFC3417_GETBULK)
    pdu = message.read_pdu(octets, 0, len(octets))
    assert pdu[:4] == (Kind.GETBULK, 1414684022, 1, 2)
    assert [(bind.oid, bind.syntax, bind.value) for bind in pdu.varbinds] == [
        (oid, Syntax.NULL, None) for oid in RFC3417_OIDS
    ]


def test_the_published_getbulk_is_written() -> None:
    """Equal but for the length, which the RFC spells in its long form and we in the shortest."""
    published = bytes.fromhex(RFC3417_GETBULK)
    sent = message.getbulk(b"c", RFC3417_OIDS, repetitions=2, once=1).octets(1414684022)
    assert sent.endswith(b"\xa5\x39" + published[4:])


def test_a_request_as_published() -> None:
    """A GET of 1.3.6.1.4.1.2680.1.2.7.3.2.0, id 1, that tutorials walk through octet by octet (from memory).

    Its id has one octet; ours always have four, so the message is compared around it.
    """
    published = bytes.fromhex(
        "302c 020100 0407 70726976617465 a01e 020101 020100 020100 3013 3011 060d 2b060104019478010207030200 0500"
    )
    oid = (1, 3, 6, 1, 4, 1, 2680, 1, 2, 7, 3, 2, 0)
    assert message.decode(published).pdu == (Kind.GET, 1, 0, 0, (VarBind(oid, Syntax.NULL, None),))
    sent = message.get(Version.V1, b"private", [oid]).octets(REQUEST_IDS[0])
    assert sent == published.replace(b"\x30\x2c", b"\x30\x2f", 1).replace(
        b"\xa0\x1e\x02\x01\x01", b"\xa0\x21\x02\x04\x00\x80\x00\x00", 1
    )


@given(IDS, st.binary(max_size=40), st.sampled_from(list(Version)), st.integers(0, 12), st.integers(0, 100))
def test_round_trip(request_id: int, community: bytes, version: Version, once: int, repetitions: int) -> None:
    oids = tuple((1, 3, 6, 1, number) for number in range(12))
    asked = tuple(VarBind(oid, Syntax.NULL, None) for oid in oids)
    for request, numbers in (
        (message.get(version, community, oids), (Kind.GET, request_id, 0, 0)),
        (message.getnext(version, community, oids), (Kind.GETNEXT, request_id, 0, 0)),
        (message.getbulk(community, oids, repetitions, once), (Kind.GETBULK, request_id, once, repetitions)),
    ):
        read = message.decode(request.octets(request_id))
        assert read.pdu == (*numbers, asked)
        assert read.version == request.version


@pytest.mark.parametrize("request_id", [-1, 0, 1, REQUEST_IDS.start - 1, REQUEST_IDS.stop])
def test_only_ids_of_four_octets_are_sent(request_id: int) -> None:
    with pytest.raises(ValueError, match="four octets"):
        message.get(Version.V2C, b"", [SYS_DESCR]).octets(request_id)


@pytest.mark.parametrize(
    ("value", "syntax", "read"),
    [
        ("020103", Syntax.INTEGER32, 3),
        ("0201fd", Syntax.INTEGER32, -3),
        ("04024142", Syntax.OCTET_STRING, b"AB"),
        ("0400", Syntax.OCTET_STRING, b""),
        ("0500", Syntax.NULL, None),
        ("06032b0601", Syntax.OBJECT_IDENTIFIER, (1, 3, 6, 1)),
        ("4004c0000215", Syntax.IP_ADDRESS, bytes((192, 0, 2, 21))),
        ("410500ffffffff", Syntax.COUNTER32, 2**32 - 1),
        ("4104ffffffff", Syntax.COUNTER32, -1),
        ("42047fffffff", Syntax.GAUGE32, 2**31 - 1),
        ("43020400", Syntax.TIME_TICKS, 1024),
        ("44047f041234", Syntax.OPAQUE, bytes.fromhex("7f041234")),
        ("460900ffffffffffffffff", Syntax.COUNTER64, 2**64 - 1),
        ("8000", Syntax.NO_SUCH_OBJECT, None),
        ("8100", Syntax.NO_SUCH_INSTANCE, None),
        ("8200", Syntax.END_OF_MIB_VIEW, None),
    ],
)
def test_every_type_of_value(value: str, syntax: Syntax, read: message.Value) -> None:
    """Tags of RFC 2578 s7.1 and RFC 3416 s3 (from memory; the reference encoder agrees, see the other file)."""
    assert message.decode(response(varbind(bytes.fromhex(value)))).pdu.varbinds == (VarBind(SYS_DESCR, syntax, read),)


def test_error_statuses_beyond_the_standard_are_kept() -> None:
    assert message.error_label(5) == "genErr"
    assert message.error_label(18) == "inconsistentName"
    assert message.error_label(77) == "error 77"
    assert message.error_label(-1) == "error -1"


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (response(version=2), "SNMP version number 2"),
        (response(version=3), "SNMP version number 3"),
        (response(kind=0xA4), "PDU of kind 0xa4"),
        (response(kind=0xA3), "PDU of kind 0xa3"),
        (response(varbind(b"\x03\x02\x00\x40")), "value of type 0x03"),
        (response(varbind(b"\x05\x01\x00")), "value of 1 octets where none belong"),
        (response(varbind(b"\x81\x01\x00")), "value of 1 octets where none belong"),
        (response(varbind(b"\x02\x00")), "integer of 0 octets"),
        (response(varbind(b"\x05\x00\x05\x00")), "2 octets too many after the variable binding"),
        (response(varbind(b"")), "element cut short"),
        (response(b"\x31\x00"), "variable binding: tag 0x31 instead of 0x30"),
        (ber.sequence(ber.encode_integer(1), ber.encode_integer(1)), "community: tag 0x02 instead of 0x04"),
        (b"\x30\x82\xff\xff\x02\x01\x01", "length 65535 where 3 octets are left"),
        (b"", "element cut short"),
        (b"hello", "message: tag 0x68 instead of 0x30"),
    ],
)
def test_errors_name_what_is_wrong(data: bytes, what: str) -> None:
    with pytest.raises(MalformedError) as caught:
        message.decode(data)
    assert caught.value.what.startswith(what)
    assert 0 <= caught.value.offset <= len(data)


def test_octets_after_the_message_are_not_read() -> None:
    """Some agents pad their datagrams (common practice, no source)."""
    assert message.decode(response() + b"\0\0\0") == message.decode(response())


def test_a_message_cut_anywhere_is_malformed() -> None:
    whole = response(varbind(b"\x04\x05hello") + varbind(b"\x06\x03\x2b\x06\x01"))
    for size in range(len(whole)):
        with pytest.raises(MalformedError):
            message.decode(whole[:size])


def test_the_number_of_variable_bindings_is_bounded() -> None:
    one = varbind(b"\x05\x00", (1, 3))
    assert len(message.decode(response(one * message.MAX_VARBINDS)).pdu.varbinds) == message.MAX_VARBINDS
    with pytest.raises(MalformedError, match="more than 2048 variable bindings"):
        message.decode(response(one * (message.MAX_VARBINDS + 1)))


def test_the_size_of_a_message_is_bounded() -> None:
    with pytest.raises(MalformedError, match="message of 65508 octets"):
        message.decode(bytes(message.MAX_MESSAGE + 1))
    with pytest.raises(ValueError, match="request of"):
        message.get(Version.V2C, bytes(70_000), [SYS_DESCR])


@given(st.binary(max_size=400))
def test_any_octets_are_a_message_or_the_named_error(data: bytes) -> None:
    check(data)


@given(st.binary(max_size=200), st.integers(0, 0xFF))
def test_any_octets_inside_a_good_frame_are_read_or_named(inside: bytes, kind: int) -> None:
    check(response(inside))
    check(response(inside, kind=kind))
    check(response(varbind(inside)))


@pytest.mark.parametrize(
    "inside",
    [
        varbind(b"\x05\x00", (1, 3)) * 2_048,
        varbind(b"\x05\x00", (1, 3, *range(126))) * 200,
        ber.sequence(ber.tlv(ber.OBJECT_IDENTIFIER, b"\x80" * 60_000 + b"\x01"), b"\x05\x00"),
        b"\x30\x80" * 30_000,
        b"\x30\x82\xff\x00" * 15_000,
        varbind(ber.encode_octets(bytes(60_000))),
    ],
)
def test_the_costliest_messages_take_bounded_time_and_memory(inside: bytes) -> None:
    """A second is a hundred times what they take here; what is decoded stays within a small multiple of what came."""
    data = response(inside)
    began = time.process_time()
    read = decoded(data)
    assert time.process_time() - began < 1.0
    if isinstance(read, message.Message):
        kept = sum(map(sys.getsizeof, itertools.chain.from_iterable(read.pdu.varbinds)))
        assert kept < 60 * len(data)


def test_a_community_is_nowhere_but_on_the_wire() -> None:
    secret = "hunter2-of-the-county"  # noqa: S105
    request = message.get(Version.V2C, secret.encode(), [SYS_DESCR])
    sent = request.octets(REQUEST_IDS[0])
    assert secret.encode() in sent
    assert secret not in repr(request)
    assert secret not in str(message.decode(sent))
    with pytest.raises(ValueError, match="request of") as caught:
        message.get(Version.V2C, secret.encode() * 4000, [SYS_DESCR])
    assert secret not in str(caught.value)


def test_there_is_no_way_to_set_anything() -> None:
    """RFC 3416 s3: SetRequest-PDU is [3], a tag that no request of ours can carry."""
    assert 0xA3 not in set(Kind)
