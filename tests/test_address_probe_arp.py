"""ARP as it is asked for an owner: what is sent, held against the RFCs octet by octet, and what is believed.

That real neighbours answer is in tests/real.
"""

import ipaddress

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scapy.layers.l2 import ARP, Ether

from probes.address.arp import probe_frame, said
from probes.address.saying import Said
from tests.conftest import published

OURS, NEW = "02:77:00:00:00:10", "02:77:00:00:00:22"
ADDRESS = "192.0.2.5"


def octets(frame: bytes) -> dict[str, bytes]:
    """An Ethernet frame with ARP in it, by RFC 826 (format; hardware 1 is Ethernet, protocol 0x0800 is IPv4)."""
    ends = {"to": 6, "from": 12, "type": 14, "hardware": 16, "protocol": 18, "lengths": 20, "operation": 22}
    ends |= {"sender mac": 28, "sender ip": 32, "target mac": 38, "target ip": 42}
    starts = [0, *ends.values()]
    return {name: frame[start:end] for (name, end), start in zip(ends.items(), starts, strict=False)}


def mac(text: str) -> bytes:
    return bytes.fromhex(text.replace(":", ""))


@pytest.mark.parametrize("row", published("ACD-02"))
def test_what_is_sent_is_a_probe(row: dict[str, str]) -> None:
    """ACD-02, and RFC 5227 s1.1: sender address all zero, target hardware address all zero, "ignored" but so."""
    sent = octets(probe_frame(OURS, ADDRESS))
    assert "probe, not an announcement" in row["expected"]
    assert ADDRESS in row["input"]
    assert sent == {
        "to": b"\xff" * 6,
        "from": mac(OURS),
        "type": b"\x08\x06",
        "hardware": b"\x00\x01",
        "protocol": b"\x08\x00",
        "lengths": b"\x06\x04",
        "operation": b"\x00\x01",
        "sender mac": mac(OURS),
        "sender ip": b"\0" * 4,
        "target mac": b"\0" * 6,
        "target ip": ipaddress.ip_address(ADDRESS).packed,
    }


def test_what_is_sent_is_what_another_decoder_reads() -> None:
    """scapy's."""
    sent = Ether(probe_frame(OURS, ADDRESS))
    assert (sent.dst, sent.src, sent[ARP].op, sent[ARP].psrc) == ("ff:ff:ff:ff:ff:ff", OURS, 1, "0.0.0.0")
    assert (sent[ARP].hwsrc, sent[ARP].hwdst, sent[ARP].pdst) == (OURS, "00:00:00:00:00:00", ADDRESS)


@pytest.mark.parametrize("row", published("ACD-03"))
def test_nothing_that_is_sent_is_an_announcement(row: dict[str, str]) -> None:
    """ACD-03: an announcement has its sender address in both places, whatever address is asked for."""
    assert row["expected"] == "ARP announcement"

    @given(st.integers(0x01000000, 0xDFFFFFFF))
    def for_any(number: int) -> None:
        sent = octets(probe_frame(OURS, str(ipaddress.IPv4Address(number))))
        assert sent["sender ip"] != sent["target ip"]
        assert sent["sender ip"] == b"\0\0\0\0"

    for_any()


def frame(operation: int, sender_ip: str, target_ip: str, hardware: int = 1, padding: int = 18) -> bytes:
    """From the new device, as long as Ethernet makes it (46 octets of payload at least)."""
    head = mac(OURS) + mac(NEW) + b"\x08\x06" + hardware.to_bytes(2, "big") + b"\x08\x00\x06\x04"
    ips = [ipaddress.ip_address(text).packed for text in (sender_ip, target_ip)]
    return head + operation.to_bytes(2, "big") + mac(NEW) + ips[0] + mac(OURS) + ips[1] + bytes(padding)


@pytest.mark.parametrize(
    ("data", "means"),
    [
        (frame(2, ADDRESS, "0.0.0.0"), Said(ADDRESS, NEW)),
        (frame(2, ADDRESS, "0.0.0.0", padding=0), Said(ADDRESS, NEW)),
        # RFC 5227 s2.1.1: any ARP packet, request or reply, whose sender address is the probed one. RFC 826: a request
        # is how a host finds whom it is about to send to.
        (frame(1, ADDRESS, "192.0.2.77"), Said(ADDRESS, NEW, "192.0.2.77")),
        # An answer names in its target whom it answers, not whom it looks for (RFC 826).
        (frame(2, ADDRESS, "192.0.2.77"), Said(ADDRESS, NEW)),
        # RFC 5227 s1.1: another one's probe names no owner, and an announcement asks for nobody.
        (frame(1, "0.0.0.0", ADDRESS), None),
        (frame(1, ADDRESS, ADDRESS), Said(ADDRESS, NEW)),
        (frame(2, ADDRESS, "0.0.0.0", hardware=6), None),
        (frame(2, ADDRESS, "0.0.0.0", padding=0)[:-1], None),
        (mac(OURS) + mac(NEW) + b"\x08\x00" + b"\x45" + bytes(40), None),
    ],
)
def test_what_a_frame_says(data: bytes, means: Said | None) -> None:
    assert said(data) == means


@given(st.binary(max_size=80))
def test_no_frame_breaks_the_listener(data: bytes) -> None:
    for start in (b"", mac(OURS) + mac(NEW) + b"\x08\x06", mac(OURS) + mac(NEW) + bytes.fromhex("0806000108000604")):
        means = said(start + data)
        assert means is None or (means.address and means.mac)
