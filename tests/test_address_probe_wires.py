"""Asking on the wire: how often and how long an address is asked for, who then counts as its owner, and whom owners
ask for themselves.

The wire is invented; what is on it is put together in test_address_probe_arp and test_address_probe_nd, and real in
tests/real.
"""

import asyncio
import sys
import time
from collections.abc import Awaitable, Callable, Iterator
from contextlib import contextmanager
from types import SimpleNamespace
from typing import Any

import pytest
from scapy.layers.l2 import ARP, Ether

from netcheck.probing import Deadline
from probes.address import packets, wires
from probes.address.arp import ARP as OVER_ARP
from probes.address.packets import Packets, Unable
from probes.address.saying import Said
from probes.address.wires import LISTEN_S, Heard, Wires

OURS, NEW, OLD = "02:77:00:00:00:10", "02:77:00:00:00:22", "02:77:00:00:00:21"
ADDRESS, OTHER, GATEWAY = "192.0.2.5", "192.0.2.6", "192.0.2.1"


class Wire:
    """A packet socket that takes frames; what was sent, and when. ``answers`` has the owners that are heard after the
    first, second ... probe for the address."""

    def __init__(self, answers: dict[int, list[str]] | None = None, *, listens: bool = True) -> None:
        self.sent: list[tuple[float, str]] = []
        self.listens, self._answers = listens, answers or {}
        self.heard: Callable[[Said], None]

    def send(self, data: bytes) -> None:
        self.sent.append((time.monotonic(), Ether(data)[ARP].pdst))
        count = sum(address == ADDRESS for _, address in self.sent)
        for owner in self._answers.get(count, ()) if self.sent[-1][1] == ADDRESS else ():
            self.heard(Said(ADDRESS, owner))

    def close(self) -> None:
        pass

    @property
    def times(self) -> list[float]:
        return [at - self.sent[0][0] for at, _ in self.sent]


@contextmanager
def opened(wire: Any) -> Iterator[None]:
    def opening(_: str, __: object, heard: Callable[[Said], None]) -> "asyncio.Future[Any]":
        future = asyncio.get_running_loop().create_future()
        wire.heard = heard
        future.set_result(wire)
        return future

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Packets, "opening", opening)
        yield


def asking(wire: Any, what: Callable[[Wires], Awaitable[Any]]) -> tuple[Any, float]:
    """The outcome, and how long it took."""

    async def run() -> Any:
        asked = await Wires.make()
        try:
            return await what(asked)
        finally:
            await asked.close()

    with opened(wire):
        began = time.monotonic()
        return asyncio.run(run()), time.monotonic() - began


def ask(asked: Wires, address: str = ADDRESS, within_s: float = 10, listen_s: float = LISTEN_S) -> Awaitable[Heard]:
    return asked.ask("eth0", OURS, address, Deadline(time.monotonic() + within_s), listen_s)


def asked(wire: Any, within_s: float = 10) -> tuple[Heard, float]:
    return asking(wire, lambda each: ask(each, within_s=within_s))


# --- how often


def test_an_owner_is_asked_for_twice_half_a_second_apart() -> None:
    heard, took = asked(wire := Wire({1: [NEW], 2: [NEW]}))
    assert (heard.macs, heard.cut_short) == ((NEW,), "")
    assert len(wire.sent) == 2
    assert 0.45 < wire.times[1] < 0.7
    assert took < 1.1


@pytest.mark.parametrize("answers", [{1: [NEW, OLD]}, {1: [NEW], 2: [NEW, OLD]}, {2: [OLD, NEW]}])
def test_two_owners_show_even_where_one_answer_is_lost(answers: dict[int, list[str]]) -> None:
    assert set(asked(Wire(answers))[0].macs) == {NEW, OLD}


def test_nobody_is_asked_for_three_times_before_that_is_said() -> None:
    """RFC 5227 s1.1: PROBE_NUM is 3. RFC 4861 s10: MAX_MULTICAST_SOLICIT is 3."""
    heard, took = asked(wire := Wire())
    assert (heard.macs, heard.cut_short) == ((), "")
    assert len(wire.sent) == 3
    assert 2.4 < took < 2.9


def test_who_listens_less_asks_as_often() -> None:
    heard, took = asking(wire := Wire(), lambda each: ask(each, listen_s=wires.ASIDE_S))
    assert (heard.macs, heard.cut_short) == ((), "")
    assert len(wire.sent) == 3
    assert 1.4 < took < 1.8


def test_an_address_that_many_want_to_know_of_is_asked_for_once() -> None:
    async def run(each: Wires) -> list[Heard]:
        async def later() -> Heard:
            await asyncio.sleep(0.3)
            return await ask(each)

        async def after() -> Heard:
            await asyncio.sleep(1.0)
            return await ask(each)

        return list(await asyncio.gather(ask(each), ask(each), later(), after()))

    heard, took = asking(wire := Wire({1: [NEW]}), run)
    assert heard == [Heard((NEW,))] * 4
    assert len(wire.sent) == 2
    assert took < 1.3


def test_two_addresses_are_asked_for_each(monkeypatch: pytest.MonkeyPatch) -> None:
    heard, _ = asking(
        wire := Wire({1: [NEW]}), lambda each: asyncio.gather(ask(each), ask(each, OTHER, listen_s=wires.ASIDE_S))
    )
    assert [each.macs for each in heard] == [(NEW,), ()]
    assert sorted(address for _, address in wire.sent) == [ADDRESS] * 2 + [OTHER] * 3


def test_who_was_there_is_asked_for_again_by_and_by(monkeypatch: pytest.MonkeyPatch) -> None:
    """A fleet's run is long, and a device may be unplugged during it."""
    monkeypatch.setattr(wires, "LISTEN_S", 0.1)

    async def run(each: Wires) -> list[Heard]:
        first = await ask(each)
        return [first, await ask(each, listen_s=wires.ASIDE_S)]

    heard, _ = asking(wire := Wire({1: [NEW]}), run)
    assert [each.macs for each in heard] == [(NEW,), ()]
    assert len(wire.sent) == 5


# --- what silence means


def test_silence_in_too_short_a_time_is_not_nobody() -> None:
    heard, took = asked(Wire(), within_s=0.7)
    assert heard.macs == ()
    assert "time was up" in heard.cut_short
    assert took < 0.9


def test_one_owner_in_too_short_a_time_may_not_be_alone() -> None:
    heard, _ = asked(Wire({1: [NEW]}), within_s=0.2)
    assert heard.macs == (NEW,)
    assert heard.cut_short


def test_silence_while_nobody_listened_is_not_nobody() -> None:
    assert asked(Wire(listens=False))[0].cut_short


def test_a_flood_of_owners_is_bounded() -> None:
    flood = [f"02:77:00:00:01:{number:02x}" for number in range(200)]
    assert len(asked(Wire({1: flood}))[0].macs) == wires.MOST_OWNERS


def test_who_was_not_asked_for_is_not_remembered() -> None:
    async def run(each: Wires) -> tuple[Heard, tuple[str, ...]]:
        task = asyncio.ensure_future(ask(each, listen_s=0.2))
        await asyncio.sleep(0.1)
        for number in range(50, 100):
            wire.heard(Said(f"192.0.2.{number}", NEW, GATEWAY))
        return await task, each.asked_by("eth0", ADDRESS, [NEW])

    (heard, asks), _ = asking(wire := Wire(), run)
    assert (heard.macs, asks) == ((), ())


# --- whom owners ask for


def overheard(*said: Said) -> tuple[str, ...]:
    async def run(each: Wires) -> tuple[str, ...]:
        heard = await ask(each)
        for one in said:
            wire.heard(one)
        return each.asked_by("eth0", ADDRESS, heard.macs)

    wire = Wire({1: [NEW]})
    asks: tuple[str, ...] = asking(wire, run)[0]
    return asks


def test_whom_an_owner_asks_for() -> None:
    assert overheard(Said(ADDRESS, NEW, GATEWAY), Said(ADDRESS, NEW, "192.0.2.10"), Said(ADDRESS, NEW, GATEWAY)) == (
        GATEWAY,
        "192.0.2.10",
    )


def test_an_owner_asks_from_another_of_its_addresses() -> None:
    assert overheard(Said("198.51.100.9", NEW, GATEWAY)) == (GATEWAY,)


def test_whom_others_ask_for_is_not_noted() -> None:
    assert overheard(Said(OTHER, OLD, GATEWAY), Said(OTHER, OLD), Said(ADDRESS, NEW)) == ()


def test_whom_an_owner_asks_for_is_bounded() -> None:
    said = [Said(ADDRESS, NEW, f"192.0.2.{number}") for number in range(100)]
    assert len(overheard(*said)) == wires.MOST_ASKS == 8


# --- where it cannot be asked


def test_a_wire_that_does_not_send_is_not_silence() -> None:
    class Down:
        def send(self, _: bytes) -> None:
            raise OSError(100, "Network is down")

    broken = Packets(OVER_ARP, lambda _: None, asyncio.new_event_loop())
    broken._socket, broken._sniffer = Down(), SimpleNamespace(running=True)
    broken.close = lambda: None  # type: ignore[method-assign]
    with pytest.raises(Unable, match="ARP: Network is down"):
        asked(broken)
    broken._loop.close()


@pytest.mark.parametrize(("address", "name"), [(ADDRESS, "ARP"), ("fe80::1", "neighbour discovery")])
def test_without_the_right_to_ask_scapy_is_not_even_imported(
    monkeypatch: pytest.MonkeyPatch, address: str, name: str
) -> None:
    monkeypatch.setattr(packets, "why_not", lambda: "needs administrator's rights (a reason)")
    monkeypatch.setitem(sys.modules, "scapy.error", None)  # to import it would be an error

    async def run() -> None:
        await ask(await Wires.make(), address)

    with pytest.raises(Unable, match=f"{name} needs administrator's rights"):
        asyncio.run(run())
