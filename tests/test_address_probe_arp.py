"""Asking on the wire: what is sent, held against the RFCs octet by octet, what is believed, and how long it is asked.

That real neighbours answer is in tests/real.
"""

import asyncio
import ipaddress
import sys
import time
from collections.abc import Callable
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scapy.layers.l2 import Ether

from netcheck.probing import Deadline
from probes.address import arp
from probes.address.arp import Listener, Unable, Wires, claimed, probe_frame
from tests.conftest import published

OURS, NEW, OLD = "02:77:00:00:00:10", "02:77:00:00:00:22", "02:77:00:00:00:21"
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


def frame(operation: int, sender: str, sender_ip: str, target_ip: str, hardware: int = 1) -> bytes:
    head = mac(OURS) + mac(sender) + b"\x08\x06" + hardware.to_bytes(2, "big") + b"\x08\x00\x06\x04"
    ips = [ipaddress.ip_address(text).packed for text in (sender_ip, target_ip)]
    return head + operation.to_bytes(2, "big") + mac(sender) + ips[0] + mac(OURS) + ips[1]


@pytest.mark.parametrize(
    ("data", "claim"),
    [
        (frame(2, NEW, ADDRESS, "0.0.0.0"), (ADDRESS, NEW)),
        # RFC 5227 s2.1.1: any ARP packet, request or reply, whose sender address is the probed one.
        (frame(1, NEW, ADDRESS, "192.0.2.77"), (ADDRESS, NEW)),
        # RFC 5227 s1.1: another one's probe names no owner.
        (frame(1, NEW, "0.0.0.0", ADDRESS), ("0.0.0.0", NEW)),
        (frame(2, NEW, ADDRESS, "0.0.0.0", hardware=6), None),
        (mac(OURS) + mac(NEW) + b"\x08\x00" + b"\x45" + bytes(40), None),
    ],
)
def test_who_claims_an_address(data: bytes, claim: tuple[str, str] | None) -> None:
    assert claimed(Ether(data)) == claim


@given(st.binary(max_size=80))
def test_no_frame_breaks_the_listener(data: bytes) -> None:
    claim = claimed(Ether(mac(OURS) + mac(NEW) + b"\x08\x06" + data))
    assert claim is None or all(claim)


class Wire:
    """A packet socket that takes frames and answers nothing; what was sent, and when."""

    def __init__(self, *, then: Callable[[int], None] = lambda _: None, refuses: bool = False) -> None:
        self.sent: list[tuple[float, bytes]] = []
        self._then, self._refuses = then, refuses

    def send(self, data: bytes) -> None:
        if self._refuses:
            raise OSError(100, "Network is down")
        self.sent.append((time.monotonic(), data))
        self._then(len(self.sent))


def asked(
    wire: Wire, answers: dict[int, list[str]], within_s: float = 10, *, running: bool = True
) -> tuple[arp.Heard, float]:
    """Ask on that wire; ``answers`` has the owners that are heard after the first, second ... probe."""

    async def run() -> arp.Heard:
        listener = Listener(OURS, asyncio.get_running_loop())
        listener._socket, listener._sniffer = wire, SimpleNamespace(running=running)

        def hear(number: int) -> None:
            for owner in answers.get(number, ()):
                listener._hear(Ether(frame(2, owner, ADDRESS, "0.0.0.0")))

        wire._then = hear
        return await listener.ask(ADDRESS, Deadline(time.monotonic() + within_s))

    began = time.monotonic()
    return asyncio.run(run()), time.monotonic() - began


def test_an_owner_is_asked_for_twice_half_a_second_apart() -> None:
    heard, took = asked(wire := Wire(), {1: [NEW], 2: [NEW]})
    assert (heard.macs, heard.cut_short) == ((NEW,), "")
    assert len(wire.sent) == 2
    assert 0.45 < wire.sent[1][0] - wire.sent[0][0] < 0.7
    assert took < 1.1


@pytest.mark.parametrize("answers", [{1: [NEW, OLD]}, {1: [NEW], 2: [NEW, OLD]}, {2: [OLD, NEW]}])
def test_two_owners_show_even_where_one_answer_is_lost(answers: dict[int, list[str]]) -> None:
    heard, _ = asked(Wire(), answers)
    assert set(heard.macs) == {NEW, OLD}


def test_nobody_is_asked_for_three_times_before_that_is_said() -> None:
    """RFC 5227 s1.1: PROBE_NUM is 3."""
    heard, took = asked(wire := Wire(), {})
    assert (heard.macs, heard.cut_short) == ((), "")
    assert len(wire.sent) == 3
    assert 2.4 < took < 2.9


def test_silence_in_too_short_a_time_is_not_nobody() -> None:
    heard, took = asked(Wire(), {}, within_s=0.7)
    assert heard.macs == ()
    assert "time was up" in heard.cut_short
    assert took < 0.9


def test_one_owner_in_too_short_a_time_may_not_be_alone() -> None:
    assert asked(Wire(), {1: [NEW]}, within_s=0.2)[0].cut_short
    assert asked(Wire(), {1: [NEW]}, within_s=0.2)[0].macs == (NEW,)


def test_silence_while_nobody_listened_is_not_nobody() -> None:
    assert asked(Wire(), {}, running=False)[0].cut_short


def test_a_wire_that_does_not_send_is_not_silence() -> None:
    with pytest.raises(Unable, match="Network is down"):
        asked(Wire(refuses=True), {})


def test_a_flood_of_owners_is_bounded() -> None:
    flood = [f"02:77:00:00:01:{number:02x}" for number in range(200)]
    assert len(asked(Wire(), {1: flood})[0].macs) == arp.MOST_OWNERS


def test_who_was_not_asked_for_is_not_remembered() -> None:
    async def run() -> None:
        listener = Listener(OURS, asyncio.get_running_loop())
        for number in range(50):
            listener._hear(Ether(frame(2, NEW, f"192.0.2.{number}", "0.0.0.0")))
        await asyncio.sleep(0)
        assert listener._owners == {}

    asyncio.run(run())


def test_without_the_right_to_ask_scapy_is_not_even_imported(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(arp, "_why_not", lambda: "ARP needs administrator's rights (a reason)")
    monkeypatch.setitem(sys.modules, "scapy.error", None)  # to import it would be an error

    async def run() -> None:
        wires = await Wires.make()
        await wires.ask("eth0", OURS, ADDRESS, Deadline(time.monotonic() + 1))

    with pytest.raises(Unable, match="administrator's rights"):
        asyncio.run(run())
