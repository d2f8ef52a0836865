"""How answers find their questions, and what the network's own words become."""

import asyncio
import time

from hypothesis import given
from hypothesis import strategies as st
from pyasn1.codec.ber import encoder

from netcheck.probing import Deadline, Miss, Target
from netcheck.roles import Outcome, Role
from netcheck.wire import Wire
from probes.snmp import PROBE, discovery, message
from probes.snmp.line import _four_octets, token_of
from probes.snmp.message import REQUEST_IDS, Version
from tests.snmp_theirs import their_message, their_pdu, their_response

IDS = st.integers(REQUEST_IDS.start, REQUEST_IDS.stop - 1)


@given(IDS)
def test_the_token_is_the_id_in_every_version(number: int) -> None:
    assert token_of(their_response(number, 0, 0, [])) == number
    assert token_of(bytes(encoder.encode(their_message(their_pdu(), number)))) == number
    assert token_of(discovery.request(number)) == number
    assert token_of(message.get(Version.V1, b"", [(1, 3)]).octets(number)) == number


def test_the_token_is_found_in_what_is_cut_short_behind_it() -> None:
    """Else a garbled answer would be taken for silence."""
    whole = their_response(REQUEST_IDS[5], 0, 0, [], community=b"public")
    after_the_id = whole.index(REQUEST_IDS[5].to_bytes(4, "big")) + 4
    for size in range(len(whole)):
        assert token_of(whole[:size]) == (REQUEST_IDS[5] if size >= after_the_id else None)


@given(st.binary(max_size=80))
def test_any_octets_have_a_token_or_none(data: bytes) -> None:
    for octets in (data, b"\x30" + data, b"\x30\x20\x02\x01\x01\x04" + data, b"\x30\x20\x02\x01\x03\x30" + data):
        assert token_of(octets) is None or isinstance(token_of(octets), int)


@given(st.integers(1, 2**31 - 1), st.integers(1, 1_000_000))
def test_ids_have_four_octets_and_near_ones_differ(token: int, further: int) -> None:
    """The wire counts its tokens up from 1 to 2^31 - 1; those in use together lie close to each other."""
    other = (token + further - 1) % (2**31 - 1) + 1
    assert _four_octets(token) in REQUEST_IDS
    assert _four_octets(token) != _four_octets(other) or token == other


def test_what_our_own_system_refuses_to_send_is_unreachable() -> None:
    """A datagram to the broadcast address needs a permission that the socket lacks (EACCES, socket(7))."""
    target = Target(Role.NEW, "255.255.255.255", "255.255.255.255", {"snmp": 161})

    async def ask() -> list[object]:
        async with Wire() as wire:
            return [reply async for reply in PROBE.ask(target, wire, Deadline(time.monotonic() + 3))]

    found = asyncio.run(ask())
    assert len(found) == 1
    assert isinstance(found[0], Miss)
    assert found[0].outcome is Outcome.UNREACHABLE
    assert "EACCES" in found[0].reason
