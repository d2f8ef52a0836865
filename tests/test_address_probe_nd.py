"""Neighbour discovery as it is asked for an owner: what is sent, and what is believed.

What is sent is taken apart, and what comes is put together, by scapy's IPv6. That real neighbours answer is in
tests/real.
"""

import ipaddress
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scapy.layers.inet6 import (
    ICMPv6EchoReply,
    ICMPv6ND_NA,
    ICMPv6ND_NS,
    ICMPv6NDOptDstLLAddr,
    ICMPv6NDOptSrcLLAddr,
    IPv6,
)
from scapy.layers.l2 import Ether

from probes.address.nd import said, solicitation
from probes.address.saying import Said

OURS, NEW, OTHER = "02:77:00:00:00:10", "02:77:00:00:00:22", "02:77:00:00:00:21"
ADDRESS = "fe80::77:ff:fe00:22"
ANYBODY = st.integers(1, 2**128 - 1).map(ipaddress.IPv6Address)


def test_what_is_sent_is_the_question_of_duplicate_address_detection() -> None:
    """RFC 4862 s5.4.2: from the unspecified address, to the solicited-node group of the target, which is the target.
    RFC 4861 s4.3: hop limit 255, code 0, and no link-layer address in an option from that source. RFC 2464 s7: 33-33
    and the last four octets of the group."""
    sent = Ether(solicitation(OURS, ADDRESS))
    assert (sent.dst, sent.src, sent.type) == ("33:33:ff:00:00:22", OURS, 0x86DD)
    ip, question = sent[IPv6], sent[ICMPv6ND_NS]
    assert (ip.version, ip.tc, ip.fl, ip.nh, ip.hlim, ip.plen) == (6, 0, 0, 58, 255, 24)
    assert (ip.src, ip.dst) == ("::", "ff02::1:ff00:22")
    assert (question.type, question.code, question.res, question.tgt) == (135, 0, 0, ADDRESS)
    assert not question.payload
    assert len(sent.original) == 14 + 40 + 24


def test_what_is_sent_by_hand() -> None:
    """RFC 4291 s2.7.1: ff02::1:ff00:0 and the last 24 bits; RFC 4861 s4.3 for the rest; the checksum is left out."""
    sent = solicitation(OURS, "2001:db8::a1b2:c3d4")
    assert sent.hex() == (
        "3333ffb2c3d4"
        "027700000010"
        "86dd"
        "60000000"
        "0018"
        "3aff"
        "00000000000000000000000000000000"
        "ff0200000000000000000001ffb2c3d4"
        "8700" + sent[56:58].hex() + "00000000"
        "20010db80000000000000000a1b2c3d4"
    )


@given(ANYBODY)
def test_its_checksum_is_right(address: ipaddress.IPv6Address) -> None:
    """RFC 4443 s2.3, worked out again by scapy."""
    sent = Ether(solicitation(OURS, str(address)))
    del sent[ICMPv6ND_NS].cksum
    assert bytes(sent) == sent.original


def advertisement(*options: Any, ether: dict[str, Any] | None = None, **fields: Any) -> bytes:
    """What an owner answers (RFC 4861 s7.2.4): to all nodes, not solicited, override, with its hardware address."""
    ip: dict[str, Any] = {"src": ADDRESS, "dst": "ff02::1", "hlim": 255} | {
        name: fields.pop(name) for name in ("src", "dst", "hlim") if name in fields
    }
    message = ICMPv6ND_NA(**{"tgt": ADDRESS, "R": 0, "S": 0, "O": 1, **fields})
    for option in options or (ICMPv6NDOptDstLLAddr(lladdr=NEW),):
        message /= option
    return bytes(Ether(**{"src": NEW, "dst": "33:33:00:00:00:01", **(ether or {})}) / IPv6(**ip) / message)


def test_an_owners_answer() -> None:
    assert said(advertisement()) == Said(ADDRESS, NEW)


def test_who_answers_for_another_names_itself_in_the_option() -> None:
    """RFC 4861 s4.4: the target link-layer address is that of the sender of the advertisement, which may forward."""
    assert said(advertisement(ether={"src": OTHER})) == Said(ADDRESS, NEW)


def test_an_answer_to_us_alone_may_leave_the_option_out() -> None:
    """RFC 4861 s4.4: when responding to a unicast solicitation it may be left out."""
    bare = bytes(Ether(src=NEW, dst=OURS) / IPv6(src=ADDRESS, dst="fe80::1", hlim=255) / ICMPv6ND_NA(tgt=ADDRESS, S=1))
    assert said(bare) == Said(ADDRESS, NEW)


def test_ethernets_padding_is_no_part_of_it() -> None:
    assert said(advertisement() + bytes(6)) == Said(ADDRESS, NEW)


def question(**fields: Any) -> bytes:
    asked = ICMPv6ND_NS(tgt=ADDRESS) / ICMPv6NDOptSrcLLAddr(lladdr=NEW)
    return bytes(Ether(src=NEW, dst=OURS) / IPv6(src="fe80::5", dst="ff02::1:ff00:22", hlim=255) / asked)


@pytest.mark.parametrize(
    "data",
    [
        # RFC 4861 s7.1.2, one condition after the other.
        advertisement(hlim=254),
        advertisement(cksum=0x1234),
        advertisement(code=1),
        advertisement()[:70],
        advertisement(tgt="ff02::1:ff00:22"),
        advertisement(S=1),
        advertisement(ICMPv6NDOptDstLLAddr(lladdr=NEW, len=0)),
        advertisement(ICMPv6NDOptDstLLAddr(lladdr=NEW, len=2)),
        # What is no advertisement.
        question(),
        bytes(Ether(src=NEW, dst=OURS) / IPv6(src=ADDRESS, dst="fe80::1", hlim=255) / ICMPv6EchoReply()),
        solicitation(OURS, ADDRESS),
        b"",
    ],
)
def test_what_names_no_owner(data: bytes) -> None:
    assert said(data) is None


@given(st.binary(max_size=120))
def test_no_frame_breaks_the_listener(data: bytes) -> None:
    whole = advertisement()
    for start in (b"", whole[:14], whole[:54], whole[:78]):
        assert said(start + data) in {None, Said(ADDRESS, NEW)}
