"""Asking a test agent with the whole probe, for the tests that look at what came of it."""

import asyncio
import time
from contextlib import aclosing
from typing import Any

from netcheck.facts import Fact
from netcheck.facts.network import SnmpAgent
from netcheck.probing import Answer, Deadline, Target
from netcheck.roles import Role
from netcheck.secret import Secret
from netcheck.wire import Wire
from probes.snmp import PROBE
from probes.snmp.asking import Reply
from tests.snmp_agent import COMMUNITY, Agent


def target_of(port: int, community: str = COMMUNITY) -> Target:
    return Target(Role.NEW, "127.0.0.1", "127.0.0.1", {"snmp": port}, community=Secret(community))


async def replies(target: Target, seconds: float = 8.0) -> list[Reply]:
    deadline = Deadline(time.monotonic() + seconds)
    async with Wire() as wire, aclosing(PROBE.ask(target, wire, deadline)) as stream:
        return [reply async for reply in stream]


def asked(agent: Agent, seconds: float = 8.0, community: str = COMMUNITY) -> list[Reply]:
    """All replies about one agent. Whatever happened, the community is in none of them and in no fact."""

    async def run() -> list[Reply]:
        async with agent:
            return await replies(target_of(agent.port, community), seconds)

    found = asyncio.run(run())
    assert found
    assert community not in repr(found)
    assert community not in repr(facts(found))
    return found


def facts(found: list[Reply]) -> list[Fact]:
    return [fact for reply in found if isinstance(reply, Answer) for _, fact in PROBE.read(reply.payload)]


def by_source(found: list[Reply]) -> dict[str, Fact]:
    """Facts by where they were read; those of the version that answered are left out."""
    answers = [reply for reply in found if isinstance(reply, Answer)]
    pairs = [pair for reply in answers for pair in PROBE.read(reply.payload)]
    return {source: fact for source, fact in pairs if not isinstance(fact, SnmpAgent)}


def kinds(found: list[Reply]) -> set[str]:
    return {fact.kind for fact in facts(found)}


def one(found: list[Reply], kind: type[Any]) -> Any:
    return next(fact for fact in facts(found) if isinstance(fact, kind))


def reply_about(found: list[Reply], words: str) -> Reply:
    return next(reply for reply in found if reply.target.endswith(words))
