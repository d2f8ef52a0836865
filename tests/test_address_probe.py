"""The `address` probe on an invented network: who is asked, and what is said of what could not be seen.

Real neighbours are in tests/real.
"""

import asyncio
import time
from collections.abc import Awaitable, Callable, Iterator
from typing import Any

import msgspec
import pytest

from netcheck.case import Attempt
from netcheck.collect import Recorder, collect_once
from netcheck.facts import KINDS
from netcheck.facts.link import Neighbour, OwnGateways, OwnInterfaceRow, OwnInterfaces, Route
from netcheck.facts.network import NameLookup, Service
from netcheck.probing import Deadline, Target
from netcheck.roles import Outcome, Role
from probes.address import PROBE, neighbour, own
from probes.address.netlink import Entry
from probes.address.own import OwnNetwork
from probes.address.table import Unreadable
from probes.address.wires import LISTEN_S, Heard, Unable, Wires

OURS, NEW = "02:77:00:00:00:10", "02:77:00:00:00:22"
ADDRESS = "192.0.2.61"
NETWORK = OwnNetwork(
    OwnInterfaces(
        (
            OwnInterfaceRow("lo", "127.0.0.1", 8, ""),
            OwnInterfaceRow("eth0", "192.0.2.10", 24, OURS, up=True),
            OwnInterfaceRow("eth0", "fe80::77:ff:fe00:10", 64, OURS, up=True),
            OwnInterfaceRow("tun0", "198.51.100.2", 24, ""),
            OwnInterfaceRow("eth1", "203.0.113.10", 24, "02:77:00:00:01:10", up=False),
        )
    ),
    OwnGateways((("192.0.2.1", "eth0"),)),
)
SOURCES = {"192.0.2": "192.0.2.10", "198.51.100": "198.51.100.2", "203.0.113": "203.0.113.10", "10.9.9": ""}


# --- who is asked, and who is not


class Scene:
    """Our system as a test wants it: what ARP hears (or why it may not ask), and the table's rows, one a look."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.heard: Heard | str = "ARP needs administrator's rights (a reason)"
        self.table: Iterator[Entry | str | None] = iter(())
        self.asked: list[str] = []
        self.asks: tuple[str, ...] = ()
        self.looks = 0

        async def look() -> OwnNetwork:
            return NETWORK

        async def ask(
            _: Wires, interface: str, mac: str, address: str, deadline: Deadline, listen_s: float = 0
        ) -> Heard:
            self.asked.append(f"{interface} {mac} {address}")
            assert listen_s == LISTEN_S
            if isinstance(self.heard, str):
                raise Unable(self.heard)
            return self.heard

        async def entry_of(address: str, interface: str) -> Entry | None:
            self.looks += 1
            row = next(self.table, None)
            if isinstance(row, str):
                raise Unreadable(row)
            return row

        monkeypatch.setattr(OwnNetwork, "look", look)
        monkeypatch.setattr(own, "_source_towards", lambda address: SOURCES[address.rpartition(".")[0]])
        monkeypatch.setattr(Wires, "ask", ask)
        monkeypatch.setattr(Wires, "asked_by", lambda *_: self.asks)
        monkeypatch.setattr(neighbour, "entry_of", entry_of)

    def collected(
        self,
        target: Target,
        within_s: float = 5,
        *,
        connected: bool = True,
        meanwhile: Callable[[], Awaitable[None]] | None = None,
    ) -> tuple[list[Any], list[Attempt]]:
        async def run(recorder: Recorder) -> None:
            if target.address:
                await target.learnt.add(NameLookup(target.host, (target.address,)))
            if connected:
                await target.learnt.add(Service("ipp", 631, "silent", "", 2500, ()))
            await asyncio.gather(
                collect_once([target], [PROBE], recorder, within_s), *([meanwhile()] if meanwhile else [])
            )

        recorder = Recorder()
        asyncio.run(run(recorder))
        facts = [msgspec.convert(item.value, KINDS[item.kind]) for item in recorder.observations]
        return facts, recorder.attempts


@pytest.fixture
def scene(monkeypatch: pytest.MonkeyPatch) -> Scene:
    return Scene(monkeypatch)


def device(address: str = ADDRESS) -> Target:
    return Target(Role.NEW, address, address, ports={"ipp": 631})


def entry(mac: str = "", state: str = "") -> Entry:
    return Entry(ADDRESS, "eth0", mac, state)


@pytest.mark.parametrize("address", ["127.0.0.1", "127.9.9.9", "::1"])
def test_nobody_is_asked_about_loopback(scene: Scene, address: str) -> None:
    assert scene.collected(device(address)) == ([], [])
    assert (scene.asked, scene.looks) == ([], 0)


def test_ourselves(scene: Scene) -> None:
    facts, attempts = scene.collected(Target(Role.HERE, ""))
    assert facts == [NETWORK.interfaces, NETWORK.gateways]
    assert {attempt.outcome for attempt in attempts} == {Outcome.ANSWERED}


def test_a_device_without_an_address_is_not_tried(scene: Scene) -> None:
    facts, (attempt,) = scene.collected(Target(Role.NEW, "halden.example"))
    assert facts == []
    assert (attempt.outcome, attempt.reason) == (Outcome.NOT_TRIED, "halden.example has no address")


@pytest.mark.parametrize(
    ("address", "reason"),
    [
        ("192.0.3.61", "behind a router"),
        ("198.51.100.61", "tun0 has no hardware addresses"),
        ("203.0.113.61", "the link of eth1 is down"),
        ("192.0.2.10", "our own address"),
        ("10.9.9.9", "no way there"),
    ],
)
def test_where_the_question_has_no_answer_it_is_not_asked(
    scene: Scene, monkeypatch: pytest.MonkeyPatch, address: str, reason: str
) -> None:
    monkeypatch.setitem(SOURCES, "192.0.3", "192.0.2.10")
    facts, attempts = scene.collected(device(address))
    assert [type(fact) for fact in facts] == [Route]
    assert attempts[-1].outcome is Outcome.NOT_TRIED
    assert reason in attempts[-1].reason
    assert (scene.asked, scene.looks) == ([], 0)


# --- what may be asked on the wire


def test_the_wire_is_asked_on_the_interface_towards_the_device(scene: Scene) -> None:
    scene.heard, scene.table = Heard((NEW,)), iter([entry(NEW, "reachable")])
    facts, attempts = scene.collected(device())
    assert scene.asked == [f"eth0 {OURS} {ADDRESS}"]
    assert facts[1] == Neighbour(ADDRESS, (NEW,), "arp", complete=True)
    assert {attempt.outcome for attempt in attempts} == {Outcome.ANSWERED}


def test_the_table_is_looked_at_before_an_answer_can_mend_it(scene: Scene) -> None:
    """Linux updates an entry that exists by any answer that reaches it, one to our own probe too."""
    scene.heard, scene.table = Heard((NEW,)), iter([entry("02:77:00:00:00:21", "reachable"), entry(NEW, "reachable")])
    facts, _ = scene.collected(device())
    assert [fact.macs for fact in facts if isinstance(fact, Neighbour)] == [(NEW,), ("02:77:00:00:00:21",)]


def test_who_answers_our_system_and_not_the_probe_is_not_nobody(scene: Scene) -> None:
    scene.heard, scene.table = Heard(()), iter([None, entry(NEW, "reachable")])
    facts, _ = scene.collected(device())
    assert [(fact.method, fact.macs) for fact in facts[1:]] == [("arp", ()), ("neighbour-table", (NEW,))]


def test_a_table_that_cannot_be_read_does_not_keep_us_from_asking(scene: Scene) -> None:
    scene.heard, scene.table = Heard((NEW,)), iter(["netlink: refused"])
    facts, _ = scene.collected(device())
    assert facts[1].macs == (NEW,)


def test_a_neighbour_by_ipv6_is_asked_without_the_zone_and_told_with_it(
    scene: Scene, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = "fe80::77:ff:fe00:22%eth0"
    monkeypatch.setattr(own, "_source_towards", lambda _: "fe80::77:ff:fe00:10")
    scene.heard = Heard((NEW,))
    facts, attempts = scene.collected(device(address))
    assert scene.asked == [f"eth0 {OURS} fe80::77:ff:fe00:22"]
    assert facts[1] == Neighbour(address, (NEW,), "nd", complete=True)
    assert attempts[1].target == f"who answers for {address}, by neighbour discovery"


def test_a_question_cut_short_says_so(scene: Scene) -> None:
    scene.heard = Heard((), "ARP: the run's time was up before an answer was due")
    facts, attempts = scene.collected(device())
    assert (facts[1].complete, facts[1].reason) == (False, scene.heard.cut_short)
    assert attempts[1].reason == scene.heard.cut_short


# --- what may not


def test_without_the_right_to_ask_the_table_is_read_and_says_what_it_cannot_show(scene: Scene) -> None:
    scene.table = iter([None, entry(NEW, "reachable")])
    facts, attempts = scene.collected(device())
    (told,) = [fact for fact in facts if isinstance(fact, Neighbour)]
    assert (told.macs, told.method, told.state, told.complete) == ((NEW,), "neighbour-table", "reachable", False)
    assert "administrator's rights" in told.reason
    assert "a second one would not show" in told.reason
    assert (attempts[1].outcome, attempts[1].reason) == (Outcome.NOT_TRIED, scene.heard)


@pytest.mark.parametrize("state", ["stale", "delay", "probe", ""])
def test_what_is_only_remembered_is_said_to_be(scene: Scene, state: str) -> None:
    scene.table = iter([None, entry(NEW, state)])
    assert "not confirmed" in scene.collected(device())[0][-1].reason


def test_our_systems_own_question_is_waited_for(scene: Scene) -> None:
    scene.table = iter([None, None, entry(state="incomplete"), entry(state="failed")])
    told = scene.collected(device())[0][-1]
    assert (told.macs, told.complete, told.state) == ((), True, "failed")


def test_nobody_from_before_the_run_is_no_answer(scene: Scene) -> None:
    """Before a connect has made our system ask again, an entry that it had given up may be of any time."""
    scene.table = iter([entry(state="failed")] * 100)
    told = scene.collected(device(), within_s=0.4, connected=False)[0][-1]
    assert (told.macs, told.complete, told.state) == ((), False, "failed")


def test_a_question_that_is_still_open_is_no_answer(scene: Scene) -> None:
    scene.table = iter([entry(state="incomplete")] * 100)
    told = scene.collected(device(), within_s=0.5)[0][-1]
    assert (told.macs, told.complete) == ((), False)
    assert "no answer yet" in told.reason


def test_a_table_without_the_address_is_no_answer(scene: Scene) -> None:
    told = scene.collected(device(), within_s=0.5)[0][-1]
    assert (told.macs, told.complete) == ((), False)
    assert "has not asked" in told.reason


def test_a_table_that_cannot_be_read_is_an_attempt_that_failed(scene: Scene) -> None:
    scene.table = iter(["netlink: refused"] * 2)
    facts, attempts = scene.collected(device())
    assert [type(fact) for fact in facts] == [Route]
    assert (attempts[-1].outcome, attempts[-1].reason) == (Outcome.FAILED, "netlink: refused")


def test_the_probe_keeps_to_the_runs_deadline(scene: Scene) -> None:
    scene.table = iter([entry(state="incomplete")] * 1000)
    began = time.monotonic()
    scene.collected(device(), within_s=0.6)
    assert time.monotonic() - began < 0.8


def test_a_later_look_replaces_an_earlier_one() -> None:
    """Observations of one source replace each other: the source must not hold the address, which changes on a visit."""
    sources = {
        source
        for address in ("192.0.2.61", "192.0.2.21")
        for fact in (
            Neighbour(address, (NEW,), "arp", complete=True),
            Route(address, "eth0", "192.0.2.10", on_link=True),
        )
        for source, _ in PROBE.read(fact)
    }
    assert sources == {"arp", "route"}


def test_the_probe_says_what_it_can_tell() -> None:
    assert {kind.kind for kind in PROBE.provides} == {"own-interfaces", "own-gateways", "route", "neighbour"}
