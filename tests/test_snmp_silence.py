"""When nothing comes back: refused, silent, denied and garbled are told apart, over loopback, in bounded time."""

import asyncio
import socket
import time

from netcheck.facts.condition import HostPrinter
from netcheck.probing import Deadline, Miss
from netcheck.roles import Outcome
from netcheck.wire import Wire
from probes.snmp import PROBE
from probes.snmp.asking import Reply
from tests import snmp_device
from tests.snmp_agent import Agent, Faults
from tests.snmp_asked import asked, one, replies, target_of


def test_nothing_but_silence() -> None:
    agent = Agent(snmp_device.rows(), versions=frozenset())
    began = time.monotonic()
    found = asked(agent)
    assert [(reply.outcome, type(reply)) for reply in found if isinstance(reply, Miss)] == [(Outcome.SILENT, Miss)]
    assert len(found) == 1
    assert sorted(question[:3] for question in agent.asked) == ["v1", "v2c", "v2c", "v2c", "v3"], (
        "asked again before giving up"
    )
    assert time.monotonic() - began < 4.5


def test_silence_ends_with_the_deadline() -> None:
    began = time.monotonic()
    found = asked(Agent(snmp_device.rows(), versions=frozenset()), seconds=0.5)
    assert [reply.outcome for reply in found if isinstance(reply, Miss)] == [Outcome.SILENT]
    assert time.monotonic() - began < 0.65
    assert isinstance(found[0], Miss)
    assert "no time was left for v1 and SNMPv3" in found[0].reason, "what was not tried is not said to be silent"


def test_a_closed_port_is_refused_and_not_silent() -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    began = time.monotonic()
    found = asyncio.run(replies(target_of(port)))
    assert [reply.outcome for reply in found if isinstance(reply, Miss)] == [Outcome.REFUSED]
    assert time.monotonic() - began < 0.5


def test_an_agent_that_ignores_our_community_is_told_from_a_dead_one() -> None:
    """RFC 3414 s4: discovery needs no community. RFC 1157 (from memory): a wrong one is met with silence."""
    agent = Agent(snmp_device.rows(), discovers=True)
    found = asked(agent, seconds=1.6, community="another-than-the-agent-knows")
    assert len(found) == 1
    assert isinstance(found[0], Miss)
    assert found[0].outcome is Outcome.DENIED
    assert "SNMPv3 discovery" in found[0].reason
    assert "v3" in agent.asked


def test_an_agent_that_denies_everything() -> None:
    found = asked(Agent(snmp_device.rows(), faults=Faults(denies=True)))
    assert [reply.outcome for reply in found if isinstance(reply, Miss)] == [Outcome.DENIED]


def test_garbled_answers_are_malformed_and_not_silence() -> None:
    found = asked(Agent(snmp_device.rows(), faults=Faults(garbles=True)), seconds=1)
    assert [reply.outcome for reply in found if isinstance(reply, Miss)] == [Outcome.MALFORMED]
    assert isinstance(found[0], Miss)
    assert "octet" in found[0].reason


def test_a_dead_device_does_not_hold_a_live_one() -> None:
    """Two devices over the same shared socket: one dead, one alive. The answers are told apart by their ids."""

    async def run() -> tuple[list[Reply], list[Reply]]:
        dead, alive = Agent(snmp_device.rows(), versions=frozenset()), Agent(snmp_device.rows(device=4))
        async with dead, alive, Wire() as wire:
            deadline = Deadline(time.monotonic() + 1.2)

            async def read(agent: Agent) -> list[Reply]:
                return [reply async for reply in PROBE.ask(target_of(agent.port), wire, deadline)]

            return await asyncio.gather(read(dead), read(alive))

    silent, answered = asyncio.run(run())
    assert [reply.outcome for reply in silent if isinstance(reply, Miss)] == [Outcome.SILENT]
    assert one(answered, HostPrinter).device_index == 4
