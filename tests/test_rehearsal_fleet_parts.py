"""The parts of the simulated fleet: who is in it, its faces, its replayed answers, its HTTP.

Expected values come from the table of kinds, from the standards named beside them, and from pysnmp.
"""

import random
from collections import Counter

import pytest

from netcheck.rehearsal.fleet.kinds import KINDS, kind_of
from netcheck.rehearsal.fleet.members import ADDRESS, MOST, member, number_at, packed
from netcheck.rehearsal.fleet.replay import Replay, ipp_id, snmp_id
from netcheck.rehearsal.fleet.web import Conversation
from netcheck.rehearsal.scenarios import NEW

from .test_rehearsal_fleet import DEVICES, FIRST, NAME, SERIAL, snmp_request

# --- who is in it


def test_a_thousand_have_exactly_the_shares_of_the_table() -> None:
    for start in (0, 1, 777, 5_000):
        counted = Counter(kind_of(each).name for each in range(start, start + 1000))
        assert counted == {kind.name: kind.share for kind in KINDS}


def test_one_in_twenty_is_silent_in_small_fleets_too() -> None:
    for devices in (100, 200, 500):
        silent = sum(kind_of(each).name == "silent" for each in range(devices))
        assert abs(silent - devices / 20) <= 2, devices


def test_all_kinds_are_among_the_first() -> None:
    assert max(FIRST.values()) < DEVICES


def test_no_two_devices_share_a_face() -> None:
    members = [member(each) for each in range(MOST)]
    for faces in (
        {each.address for each in members},
        {each.serial for each in members},
        {each.mac for each in members},
    ):
        assert len(faces) == MOST
    assert {len(each.address) for each in members} == {len(ADDRESS)}
    assert [number_at(packed(each.address)) for each in members[:: MOST // 100]] == list(range(0, MOST, MOST // 100))
    assert number_at(packed("127.0.0.1")) is None
    assert number_at(packed("10.10.100.100")) is None


def test_putting_on_a_face_moves_no_octet_and_can_be_taken_back() -> None:
    one = member(4711)
    said = b"\x00".join((NEW.serial.encode(), ADDRESS.encode(), bytes.fromhex("027700000022"), NEW.uuid.encode()))
    worn = one.on(said)
    assert len(worn) == len(said)
    assert one.serial.encode() in worn
    assert one.address.encode() in worn
    assert NEW.serial.encode() not in worn
    assert one.off(worn) == said


# --- replay and framing


@pytest.mark.parametrize("number", [0, 1, 127, 128, 32_767, 32_768, 2**24, 2**31 - 1])
def test_the_request_id_is_where_pysnmp_puts_it(number: int) -> None:
    octets = snmp_request(number, SERIAL)
    place = snmp_id(octets)
    assert place
    assert int.from_bytes(octets[place], "big", signed=True) == number


def test_what_is_no_message_has_no_request_id() -> None:
    octets = snmp_request(7, SERIAL)
    for end in range(len(octets)):
        place = snmp_id(octets[:end])
        assert place is None or place.stop <= len(octets)
    for seed in range(200):
        snmp_id(random.Random(seed).randbytes(40))
    assert snmp_id(b"\x30\x03\x02\x01\x03") is None  # version 3, RFC 3412 s6
    assert ipp_id(b"\x02\x00\x00\x0b\x00\x00\x00") is None
    assert ipp_id(b"\x02\x00\x00\x0b\x00\x00\x00\x09") == slice(4, 8)  # RFC 8010 s3.1.1


def test_a_replayed_answer_has_the_id_of_its_own_request() -> None:
    replay = Replay(lambda octets: octets, snmp_id)
    assert replay.answer(snmp_request(70_000, SERIAL)) == snmp_request(70_000, SERIAL)
    assert replay.answer(snmp_request(80_000, SERIAL)) == snmp_request(80_000, SERIAL)
    assert replay.worked_out == 1
    assert replay.answer(snmp_request(80_000, NAME)) == snmp_request(80_000, NAME)
    assert replay.worked_out == 2


def test_http_is_answered_whichever_way_the_octets_are_cut() -> None:
    """RFC 9112 s2, s6.3, s9.3."""
    head = b"POST /ipp/print HTTP/1.1\r\nHost: x\r\nContent-Type: application/ipp\r\nContent-Length: 5\r\n\r\n"
    for cut in range(1, len(head) + 5):
        conversation = Conversation(lambda path, body: path.encode() + body, b"page")
        sent, stays = conversation.take((head + b"hello")[:cut])
        assert (sent, stays) == (b"", True)
        sent, stays = conversation.take((head + b"hello")[cut:])
        assert sent.endswith(b"\r\n\r\n/ipp/printhello")
        assert stays
    tls_record = b"\x16\x03\x01\x02\x00"  # RFC 8446 s5.1
    sent, stays = Conversation(lambda path, body: path.encode() + body, b"").take(tls_record)
    assert sent.startswith(b"HTTP/1.1 400 ")
    assert not stays
