"""A sparing run asks less, and no verdict is another one for that."""

import asyncio
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress

import pytest

from netcheck import rules as _rules  # noqa: F401 - importing it fills RULES
from netcheck.facts.channels import Console, MediaPaths
from netcheck.facts.network import IppService, PrinterUri, Service
from netcheck.probing import Answer, Deadline, Miss, Target
from netcheck.rehearsal.background import running_site
from netcheck.rehearsal.scenarios import SCENARIOS
from netcheck.roles import Outcome, Role
from netcheck.ruling import RULES
from netcheck.wire import Wire
from probes import ports as probing_ports
from probes import tls
from probes.snmp import PROBE as SNMP
from probes.snmp import plan
from probes.snmp.plan import Topic
from probes.tls.asking import Shown


def target(**named: int) -> Target:
    return Target(Role.DEVICE, "127.0.0.1", "127.0.0.1", ports=named)


@contextmanager
def hanging_up() -> Iterator[int]:
    """The port of a listener that ends every connection at once."""
    with socket.create_server(("127.0.0.1", 0)) as server:

        def take() -> None:
            with suppress(OSError):
                while True:
                    server.accept()[0].close()

        threading.Thread(target=take, daemon=True).start()
        yield server.getsockname()[1]
        server.shutdown(socket.SHUT_RDWR)


async def service(port: int, *, sparing: bool) -> Service:
    async with Wire(sparing=sparing) as wire:
        told = [each async for each in probing_ports.PROBE.ask(target(raw=port), wire, Deadline(float("inf")))]
    (answer,) = told
    assert isinstance(answer, Answer)
    return answer.payload


@pytest.mark.parametrize(("sparing", "connects"), [(False, probing_ports.CONNECTS), (True, 1)])
def test_an_open_port_is_connected_to_once(sparing: bool, connects: int) -> None:
    with hanging_up() as port:
        found = asyncio.run(service(port, sparing=sparing))
    assert (found.state, len(found.round_trips_us)) == ("open", connects)


def test_a_port_that_answered_late_is_connected_to_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whether it slept or a packet was lost shows in the second connect."""
    monkeypatch.setattr(probing_ports, "_LATE_S", 0.0)
    with hanging_up() as port:
        found = asyncio.run(service(port, sparing=True))
    assert len(found.round_trips_us) == probing_ports.CONNECTS


def test_no_rule_takes_what_is_spared() -> None:
    taken = {kind for rule in RULES.values() for need in rule.needs.values() for kind in need.kinds}
    assert not taken & {Console, MediaPaths}
    assert {Topic.CONSOLE, Topic.MEDIA_PATHS} == plan.SPARED


def test_all_else_is_read_as_it_is_otherwise() -> None:
    with running_site(SCENARIOS["ready"]) as site:
        found = [asyncio.run(topics(site.ports["new"]["snmp"], sparing=sparing)) for sparing in (False, True)]
    assert found[0] - found[1] == {f"127.0.0.1 udp/{site.ports['new']['snmp']} SNMPv2c {each}" for each in plan.SPARED}
    assert found[1] < found[0]
    assert len(found[1]) == len(Topic) - len(plan.SPARED)


async def topics(port: int, *, sparing: bool) -> set[str]:
    async with Wire(sparing=sparing) as wire:
        deadline = Deadline(asyncio.get_running_loop().time() + 5)
        return {each.target async for each in SNMP.ask(target(snmp=port), wire, deadline)}


def told(*security: str) -> IppService:
    uris = tuple(PrinterUri(f"ipp://192.0.2.61/{number}", each, "none") for number, each in enumerate(security))
    return IppService("/ipp/print", ("2.0",), ("000b",), uris)


async def shaken(port: int, said: IppService | None, *, sparing: bool) -> Answer[Shown] | Miss:
    asked = target(ipp=port)
    if said:
        await asked.learnt.add(said)
    deadline = Deadline(asyncio.get_running_loop().time() + 1.0)
    async with Wire(sparing=sparing) as wire:
        (reply,) = [each async for each in tls.PROBE.ask(asked, wire, deadline)]
    return reply


@pytest.mark.parametrize(
    ("sparing", "said"),
    [
        (True, told("none", "tls")),  # RFC 8011 s5.4.3
        (True, told()),
        (True, None),
        (False, told("none")),
    ],
)
def test_tls_is_tried_where_it_may_be_spoken(sparing: bool, said: IppService | None) -> None:
    with hanging_up() as port:
        reply = asyncio.run(shaken(port, said, sparing=sparing))
    assert isinstance(reply, Miss)
    assert reply.outcome is Outcome.MALFORMED


@pytest.mark.parametrize("said", [told("none"), told("none", "none")])
def test_tls_is_not_tried_where_the_device_says_that_it_has_none(said: IppService) -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        reply = asyncio.run(shaken(server.getsockname()[1], said, sparing=True))
        server.setblocking(False)
        with pytest.raises(BlockingIOError):
            server.accept()  # nobody has connected
    assert isinstance(reply, Miss)
    assert reply.outcome is Outcome.NOT_TRIED
