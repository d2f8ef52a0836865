"""BER primitives against X.690, RFC 2578 and RFC 3417, and against pyasn1's own coder."""

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from pyasn1.codec.ber import decoder, encoder
from pyasn1.type import univ

from probes.snmp import ber
from probes.snmp.ber import MalformedError

ARC = st.integers(0, 2**32 - 1)  # RFC 2578 s7.1.3
OIDS = st.one_of(
    st.tuples(st.integers(0, 1), st.integers(0, 39), st.lists(ARC, max_size=20)),
    st.tuples(st.just(2), st.integers(0, 2**32 - 81), st.lists(ARC, max_size=20)),
).map(lambda parts: (parts[0], parts[1], *parts[2]))


def contents(octets: bytes) -> tuple[bytes, int, int]:
    _, start, stop = ber.header(octets, 0, len(octets))
    return octets, start, stop


@pytest.mark.parametrize(
    ("octets", "arcs"),
    [
        pytest.param("0603813403", (2, 100, 3), id="X.690 s8.19.5, its example (second-hand: quoted in public code)"),
        pytest.param("06072b060102010103", (1, 3, 6, 1, 2, 1, 1, 3), id="RFC 3417 s8.1, its example (second-hand)"),
        pytest.param("06092b0601020104160102", (1, 3, 6, 1, 2, 1, 4, 22, 1, 2), id="RFC 3417 s8.1 (second-hand)"),
    ],
)
def test_identifiers_as_published(octets: str, arcs: ber.Oid) -> None:
    assert ber.oid(*contents(bytes.fromhex(octets))) == arcs
    assert ber.encode_oid(arcs).hex() == octets


@given(OIDS)
def test_identifiers_both_ways_with_pyasn1(arcs: ber.Oid) -> None:
    theirs = encoder.encode(univ.ObjectIdentifier(arcs))
    assert ber.encode_oid(arcs) == theirs
    assert ber.oid(*contents(theirs)) == arcs


@given(st.integers(-(2**64), 2**64))
@example(-128)
@example(-32768)
def test_integers_both_ways_with_pyasn1(value: int) -> None:
    theirs, ours = encoder.encode(univ.Integer(value)), ber.encode_integer(value)
    if any(value == -(1 << (8 * octets - 1)) for octets in range(1, 9)):
        # pyasn1 spends an octet too many on these; X.690 s8.3.2 forbids nine equal bits at the start.
        assert ours[2:] == value.to_bytes(len(ours) - 2, "big", signed=True)
        assert len(ours) == len(theirs) - 1
    else:
        assert ours == theirs
    assert int(decoder.decode(ours)[0]) == value
    assert ber.integer(*contents(theirs)) == value


@given(st.binary(max_size=70_000))
def test_lengths_both_ways_with_pyasn1(value: bytes) -> None:
    theirs = encoder.encode(univ.OctetString(value))
    assert ber.encode_octets(value) == theirs
    octets, start, stop = contents(theirs)
    assert octets[start:stop] == value


@pytest.mark.parametrize("size", [0, 1, 0x7F, 0x80, 0xFF, 0x100, 0xFFFF, 0x10000])
def test_lengths_at_the_edges_of_their_forms(size: int) -> None:
    assert ber.encode_octets(bytes(size)) == encoder.encode(univ.OctetString(bytes(size)))


@pytest.mark.parametrize(
    ("octets", "value"),
    [
        ("0204ffffffff", -1),
        ("020500ffffffff", 2**32 - 1),
        ("0203000005", 5),
        ("0204fffffffd", -3),
        ("02820001 05", 5),
        ("0284000000 01 05", 5),
        ("02811000000000000000000000000000000007", 7),
    ],
)
def test_what_agents_send_and_the_shortest_form_forbids(octets: str, value: int) -> None:
    """Redundant leading octets (X.690 s8.3.2 forbids them) and long lengths (X.690 s8.1.3.5 allows them)."""
    data = bytes.fromhex(octets)
    assert ber.integer(*contents(data)) == value
    assert int(decoder.decode(data)[0]) == value


def test_an_empty_identifier_is_0_0() -> None:
    """Common practice, no source: agents mean zeroDotZero by it (RFC 2578 s5 has {0 0} as the null value)."""
    assert ber.oid(b"\x06\x00", 2, 2) == (0, 0)


def test_arcs_that_are_wider_than_the_standard_are_read() -> None:
    """RFC 2578 s7.1.3 ends at 2^32 - 1; a sign-extended index takes 64 bits (common practice, no source)."""
    octets = encoder.encode(univ.ObjectIdentifier((1, 3, 2**64 - 1)))
    assert ber.oid(*contents(octets)) == (1, 3, 2**64 - 1)
    with pytest.raises(MalformedError, match="more than 64 bits"):
        ber.oid(*contents(encoder.encode(univ.ObjectIdentifier((1, 3, 2**70)))))


def test_the_number_of_arcs_is_bounded() -> None:
    """RFC 2578 s3.5: at most 128 sub-identifiers."""
    longest = (1, 3, *range(126))
    assert ber.oid(*contents(encoder.encode(univ.ObjectIdentifier(longest)))) == longest
    with pytest.raises(MalformedError, match="more than 128 arcs"):
        ber.oid(*contents(encoder.encode(univ.ObjectIdentifier((*longest, 1)))))
    with pytest.raises(ValueError, match="not an object identifier"):
        ber.encode_oid((*longest, 1))


@pytest.mark.parametrize("arcs", [(), (1,), (3, 1), (1, 40), (0, 40), (1, 3, -1)])
def test_what_is_no_identifier_is_not_encoded(arcs: ber.Oid) -> None:
    """X.690 s8.19.4: the first arc is 0, 1 or 2, the second below 40 under 0 and 1."""
    with pytest.raises(ValueError, match="not an object identifier"):
        ber.encode_oid(arcs)


@pytest.mark.parametrize(
    ("octets", "what", "offset"),
    [
        ("", "element cut short", 0),
        ("02", "element cut short", 0),
        ("0205 01", "length 5 where 1 octets are left", 0),
        ("0280 05 0000", "indefinite length", 1),
        ("0285 0000000001 05", "length of 5 octets", 1),
        ("0282 00", "length cut short", 1),
        ("0284 ffffffff 00", "length 4294967295 where 1 octets are left", 0),
    ],
)
def test_errors_say_what_and_where(octets: str, what: str, offset: int) -> None:
    data = bytes.fromhex(octets)
    with pytest.raises(MalformedError) as caught:
        ber.header(data, 0, len(data))
    assert caught.value.what.startswith(what)
    assert caught.value.offset == offset
    assert str(caught.value).endswith(f"at octet {offset}")


@pytest.mark.parametrize("octets", ["0200", "0211 00000000000000000000000000000000 01"])
def test_integers_have_octets_and_not_too_many(octets: str) -> None:
    with pytest.raises(MalformedError, match=r"integer of (0|17) octets at octet 2"):
        ber.integer(*contents(bytes.fromhex(octets)))


@pytest.mark.parametrize("octets", ["0601 80", "0603 2b0681"])
def test_identifiers_end_with_an_arc(octets: str) -> None:
    with pytest.raises(MalformedError, match="ends inside an arc"):
        ber.oid(*contents(bytes.fromhex(octets)))


def test_the_offset_of_a_bad_identifier_counts_from_the_message() -> None:
    with pytest.raises(MalformedError) as caught:
        ber.oid(b"......\x2b\x81", 6, 8)
    assert caught.value.offset == 7


def test_remembered_identifiers_are_bounded() -> None:
    """The cache holds neither more entries nor longer ones than it says, whatever peers send."""
    ber._known_arcs.cache_clear()
    for arc in range(ber._CACHED_OIDS + 500):
        ber.oid(*contents(ber.encode_oid((1, 3, 6, 1, arc))))
    ber.oid(*contents(ber.encode_oid((1, 3, *range(100)))))
    assert ber._known_arcs.cache_info().currsize == ber._CACHED_OIDS
