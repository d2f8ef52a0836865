"""Routers, and the address that a device is to get: who is asked, who is not, and what is sent to whom.

The network is invented; real neighbours are in tests/real.
"""

import asyncio
import time
from collections.abc import Iterable
from typing import Any

import msgspec
import pytest

from netcheck.case import Attempt
from netcheck.collect import Recorder, collect_once
from netcheck.commands import find
from netcheck.facts import KINDS
from netcheck.facts.link import GatewayNeighbour, OwnGateways, OwnInterfaceRow, OwnInterfaces, PlannedNeighbour
from netcheck.facts.network import Gateways, NameLookup
from netcheck.probing import Deadline, Probe, Target
from netcheck.roles import Outcome, Role
from probes.address import PLANNED, PROBE, ROUTERS, neighbour, others, own
from probes.address.netlink import Entry
from probes.address.own import OwnNetwork
from probes.address.wires import ASIDE_S, Heard, Unable, Wires

OURS, ROUTER, SECOND, STRANGER = (f"02:77:00:00:00:{end}" for end in ("10", "01", "02", "99"))
ADDRESS, PLAN, GATEWAY, DEAD = "192.0.2.61", "192.0.2.21", "192.0.2.1", "192.0.2.254"
OWN_ROWS = (
    OwnInterfaceRow("eth0", "192.0.2.10", 24, OURS, up=True),
    OwnInterfaceRow("eth0", "fe80::77:ff:fe00:10", 64, OURS, up=True),
    OwnInterfaceRow("tun0", "198.51.100.2", 24, ""),
)
SOURCES = {"192.0.2": "192.0.2.10", "198.51.100": "198.51.100.2", "203.0.113": "192.0.2.10"}


class Scene:
    """Our system as a test wants it: who has which address, and whether we may ask on the wire."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.routers: tuple[tuple[str, str], ...] = ((GATEWAY, "eth0"),)
        self.owners = {GATEWAY: ROUTER, "fe80::1": SECOND}
        self.may = True
        self.asked: list[str] = []
        self.sent: list[str] = []
        self.table: dict[str, str] = {}
        """Hardware address, or the state of what has none."""

        async def look() -> OwnNetwork:
            return OwnNetwork(OwnInterfaces(OWN_ROWS), OwnGateways(self.routers))

        async def ask(
            _: Wires, interface: str, mac: str, address: str, deadline: Deadline, listen_s: float = 0
        ) -> Heard:
            if not self.may:
                raise Unable("ARP needs administrator's rights (a reason)")
            assert (interface, mac, listen_s) == ("eth0", OURS, ASIDE_S)
            self.asked.append(address)
            return Heard(tuple(mac for mac in (self.owners.get(address),) if mac))

        async def entry_of(address: str, interface: str) -> Entry | None:
            bare = address.partition("%")[0]
            held = self.table.get(bare)
            if held is None:
                return None
            return Entry(bare, interface, held, "reachable") if ":" in held else Entry(bare, interface, "", held)

        def send(address: str) -> bool:
            self.sent.append(address)
            self.table[address] = self.owners.get(address, "failed")
            return True

        monkeypatch.setattr(OwnNetwork, "look", look)
        monkeypatch.setattr(own, "_source_towards", _source)
        monkeypatch.setattr(Wires, "ask", ask)
        monkeypatch.setattr(neighbour, "entry_of", entry_of)
        monkeypatch.setattr(others, "entry_of", entry_of)
        monkeypatch.setattr(others, "_sent_nothing", send)

    def collected(
        self, probe: Probe[Any], target: Target, gateways: Iterable[str] | None = None
    ) -> tuple[list[Any], list[Attempt]]:
        async def run(recorder: Recorder) -> None:
            if target.address:
                await target.learnt.add(NameLookup(target.host, (target.address,)))
            if gateways is not None:
                await target.learnt.add(Gateways(tuple(gateways), complete=True))
            await collect_once([target], [probe], recorder, 5)

        recorder = Recorder()
        asyncio.run(run(recorder))
        self.sources = [item.source for item in recorder.observations]
        facts = [msgspec.convert(item.value, KINDS[item.kind]) for item in recorder.observations]
        return facts, recorder.attempts


def _source(address: str) -> str:
    return "fe80::77:ff:fe00:10" if ":" in address else SOURCES[address.rpartition(".")[0]]


@pytest.fixture
def scene(monkeypatch: pytest.MonkeyPatch) -> Scene:
    return Scene(monkeypatch)


def device(address: str = ADDRESS, planned: str = "", role: Role = Role.NEW, **ports: int) -> Target:
    return Target(role, address, address, ports={"ipp": 631, **ports}, planned=planned)


HERE = Target(Role.HERE, "")


# --- the planned address


def test_a_planned_address_that_is_free(scene: Scene) -> None:
    facts, _ = scene.collected(PLANNED, device(planned=PLAN))
    assert facts == [PlannedNeighbour(PLAN, (), "arp", complete=True)]
    assert (scene.asked, scene.sent) == ([PLAN], [])


def test_a_planned_address_that_somebody_has(scene: Scene) -> None:
    scene.owners[PLAN] = STRANGER
    assert scene.collected(PLANNED, device(planned=PLAN))[0][0].macs == (STRANGER,)


def test_a_planned_address_is_asked_for_before_the_device_has_any(scene: Scene) -> None:
    facts, _ = scene.collected(PLANNED, Target(Role.NEW, "", planned=PLAN))
    assert facts == [PlannedNeighbour(PLAN, (), "arp", complete=True)]


@pytest.mark.parametrize(
    "target",
    [
        device(),
        device(planned=ADDRESS),
        device("127.0.0.1", planned=PLAN),
        device(planned="127.0.0.1"),
        Target(Role.NEW, "localhost", planned=PLAN),
        device(planned=PLAN, role=Role.OLD),
    ],
)
def test_where_nothing_is_planned_nobody_is_asked(scene: Scene, target: Target) -> None:
    assert scene.collected(PLANNED, target) == ([], [])
    assert (scene.asked, scene.sent) == ([], [])


def test_a_planned_address_that_is_not_on_our_link_is_not_known_from_here(scene: Scene) -> None:
    facts, (attempt,) = scene.collected(PLANNED, device(planned="203.0.113.9"))
    assert (facts, scene.asked, scene.sent) == ([], [], [])
    assert (attempt.outcome, attempt.probe) == (Outcome.NOT_TRIED, "planned-address")
    assert "behind a router" in attempt.reason


def test_without_the_right_to_ask_our_system_is_made_to(scene: Scene) -> None:
    scene.may = False
    facts, _ = scene.collected(PLANNED, device(planned=PLAN))
    assert scene.sent == [PLAN]
    assert (facts[0].macs, facts[0].complete, facts[0].state) == ((), True, "failed")
    scene.owners[PLAN] = STRANGER
    scene.table = {PLAN: "failed"}  # of any time before
    facts, _ = scene.collected(PLANNED, device(planned=PLAN))
    assert scene.sent == [PLAN, PLAN]
    assert (facts[0].macs, facts[0].complete) == ((STRANGER,), False)


def test_nothing_is_sent_to_whom_our_system_knows(scene: Scene) -> None:
    scene.may, scene.table = False, {PLAN: STRANGER}
    facts, _ = scene.collected(PLANNED, device(planned=PLAN))
    assert (facts[0].macs, scene.sent) == ((STRANGER,), [])


def test_nothing_is_sent_to_whom_our_system_is_looking_for(scene: Scene, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(neighbour, "KERNEL_GIVES_UP_S", 0.2)
    scene.may, scene.table = False, {PLAN: "incomplete"}
    facts, _ = scene.collected(PLANNED, device(planned=PLAN))
    assert (facts[0].complete, scene.sent) == (False, [])


def test_what_our_system_must_not_send_is_not_nobody(scene: Scene, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(others, "_sent_nothing", lambda _: False)
    scene.may, scene.table = False, {PLAN: "failed"}
    assert not scene.collected(PLANNED, device(planned=PLAN))[0][0].complete


# --- routers


def test_our_own_router(scene: Scene) -> None:
    facts, _ = scene.collected(ROUTERS, HERE)
    assert facts == [GatewayNeighbour(GATEWAY, (ROUTER,), "arp", complete=True)]
    scene.owners.clear()
    facts, _ = scene.collected(ROUTERS, HERE)
    assert facts == [GatewayNeighbour(GATEWAY, (), "arp", complete=True)]


def test_two_routers_of_ours_are_told_apart(scene: Scene) -> None:
    scene.routers = ((GATEWAY, "eth0"), (DEAD, "eth0"), (GATEWAY, "eth0"))
    facts, _ = scene.collected(ROUTERS, HERE)
    assert [(fact.address, fact.macs) for fact in facts] == [(GATEWAY, (ROUTER,)), (DEAD, ())]
    assert scene.sources == ["arp", "arp 2"]


def test_a_router_by_its_link_local_address_is_asked_for_on_its_interface(scene: Scene) -> None:
    scene.routers = (("fe80::1", "eth0"),)
    facts, _ = scene.collected(ROUTERS, HERE)
    assert facts == [GatewayNeighbour("fe80::1%eth0", (SECOND,), "nd", complete=True)]
    assert scene.asked == ["fe80::1"]


def test_a_router_behind_an_interface_without_hardware_addresses_is_not_asked_for(scene: Scene) -> None:
    scene.routers = (("198.51.100.1", "tun0"),)
    facts, (attempt,) = scene.collected(ROUTERS, HERE)
    assert (facts, attempt.outcome) == ([], Outcome.NOT_TRIED)


@pytest.mark.parametrize("role", [Role.OLD, Role.NEW, Role.DEVICE])
def test_a_devices_own_router(scene: Scene, role: Role) -> None:
    facts, _ = scene.collected(ROUTERS, device(role=role, snmp=161), [DEAD])
    assert facts == [GatewayNeighbour(DEAD, (), "arp", complete=True)]
    assert scene.asked == [DEAD]


def test_without_the_right_to_ask_a_router_gets_one_empty_datagram(scene: Scene) -> None:
    scene.may = False
    facts, _ = scene.collected(ROUTERS, device(snmp=161), [GATEWAY])
    assert (facts[0].macs, facts[0].method, scene.sent) == ((ROUTER,), "neighbour-table", [GATEWAY])


def test_a_device_that_names_no_router(scene: Scene) -> None:
    assert scene.collected(ROUTERS, device(snmp=161), []) == ([], [])


def test_a_device_that_nobody_asks_for_its_router_is_not_waited_for(scene: Scene) -> None:
    began = time.monotonic()
    assert scene.collected(ROUTERS, device()) == ([], [])
    assert time.monotonic() - began < 0.2


def test_a_device_that_does_not_tell_is_waited_for_in_vain(scene: Scene) -> None:
    began = time.monotonic()
    assert scene.collected(ROUTERS, device(snmp=161)) == ([], [])
    assert others.GATEWAYS_WITHIN_S - 0.1 < time.monotonic() - began < others.GATEWAYS_WITHIN_S + 0.3


@pytest.mark.parametrize("target", [Target(Role.HERE, "127.0.0.1"), device("127.0.0.1", snmp=161)])
def test_where_all_is_on_loopback_nobody_is_asked(scene: Scene, target: Target) -> None:
    assert scene.collected(ROUTERS, target, [GATEWAY]) == ([], [])
    assert (scene.asked, scene.sent) == ([], [])


def test_a_flood_of_routers_is_bounded(scene: Scene) -> None:
    scene.collected(ROUTERS, device(snmp=161), [f"192.0.2.{number}" for number in range(100, 200)])
    assert len(scene.asked) == others.MOST_ROUTERS


# --- what they tell


def test_a_later_look_replaces_an_earlier_one(scene: Scene) -> None:
    """Observations of one source replace each other: the source must not hold the address, which changes on a visit."""
    for planned in (PLAN, DEAD):
        scene.collected(PLANNED, device(planned=planned))
        assert scene.sources == ["arp"]


def test_looking_for_devices_asks_for_neither() -> None:
    """``netcheck find`` wants to know who a device is, and of ourselves where we stand only."""
    assert find._fitting([PLANNED, ROUTERS, PROBE], device(role=Role.DEVICE, snmp=161)) == [PROBE]
    assert not (PLANNED.provides | ROUTERS.provides) & find._LISTENS


def test_the_probes_say_what_they_can_tell() -> None:
    assert {kind.kind for kind in PLANNED.provides} == {"planned-neighbour"}
    assert {kind.kind for kind in ROUTERS.provides} == {"gateway-neighbour"}
