"""Who else has to be there, or must not be: the default routers, and who has the address that a device is to get.

Asked as a device's own address is. Where we may not ask on the wire, our system is made to, by one empty datagram to
the discard port: nothing else is ever sent to anybody from here. Nobody is asked for where all is on loopback.
"""

import ipaddress
import socket
from collections.abc import AsyncGenerator, Awaitable, Callable, Iterable
from contextlib import aclosing, suppress

from netcheck.facts import Fact
from netcheck.facts.link import GatewayNeighbour, Neighbour, PlannedNeighbour, Route
from netcheck.facts.network import Gateways
from netcheck.place import is_loopback
from netcheck.probing import Answer, Deadline, Miss, Target
from netcheck.roles import Role
from netcheck.wire import Wire, socket_address

from .neighbour import Question, ask
from .own import DISCARD, OwnNetwork
from .table import entry_of
from .wires import ASIDE_S

Numbered = tuple[int, Neighbour]
Reply = Answer[Numbered] | Miss

MOST_ROUTERS = 4
GATEWAYS_WITHIN_S = 2.0
"""How long to wait for a device to name its routers. It does so early, or mostly not at all."""


class Planned:
    """Who has the address that the new device is to have after the move."""

    name = "planned-address"
    wave = 2
    needs_address = False
    services: tuple[str, ...] = ()
    roles = frozenset({Role.NEW})
    provides = frozenset[type[Fact]]({PlannedNeighbour})

    async def ask(self, target: Target, wire: Wire, deadline: Deadline) -> AsyncGenerator[Reply, None]:
        """Asked where it is another address than the device is asked at."""
        if not target.planned or target.planned == target.address or _is_on_loopback(target, target.planned):
            return
        own = await wire.shared(OwnNetwork, OwnNetwork.look)
        async with aclosing(_owners_of([target.planned], PlannedNeighbour, own, wire, deadline)) as replies:
            async for reply in replies:
                yield reply

    def read(self, payload: Numbered) -> Iterable[tuple[str, Fact]]:
        """What was seen is the fact, its source named after how."""
        yield _source(payload), payload[1]


class Routers:
    """Whether our own default routers are there, and a device's."""

    name = "routers"
    wave = 2
    needs_address = False
    services: tuple[str, ...] = ()
    roles = frozenset({Role.HERE, Role.OLD, Role.NEW, Role.DEVICE})
    provides = frozenset[type[Fact]]({GatewayNeighbour})

    async def ask(self, target: Target, wire: Wire, deadline: Deadline) -> AsyncGenerator[Reply, None]:
        """For ourselves: those that our system names. For a device: those that it has named itself in time."""
        if _is_on_loopback(target):
            return
        own = await wire.shared(OwnNetwork, OwnNetwork.look)
        if target.role is Role.HERE:
            routers = list(own.gateways.rows)
        else:
            routers = await _told_by(target, own, deadline)
        addresses = (_zoned(*router) for router in routers)
        async with aclosing(_owners_of(addresses, GatewayNeighbour, own, wire, deadline)) as replies:
            async for reply in replies:
                yield reply

    def read(self, payload: Numbered) -> Iterable[tuple[str, Fact]]:
        """What was seen is the fact, its source named after how, and after which of several routers it is."""
        yield _source(payload), payload[1]


async def _told_by(target: Target, own: OwnNetwork, deadline: Deadline) -> list[tuple[str, str]]:
    """The routers that a device names, and our interface towards it."""
    if not target.address or "snmp" not in target.ports:
        return []
    told = await target.learnt.wait_for(Gateways, min(GATEWAYS_WITHIN_S, deadline.left()))
    interface = own.way_to(target.address).interface if told else ""
    return [(address, interface) for each in told for address in each.addresses]


def _zoned(address: str, interface: str) -> str:
    """A link-local address of IPv6 means nothing without its interface (RFC 4007 s6)."""
    is_bare = "%" not in address and ":" in address and ipaddress.ip_address(address).is_link_local
    return f"{address}%{interface}" if is_bare else address


async def _owners_of(
    addresses: Iterable[str], kind: type[Neighbour], own: OwnNetwork, wire: Wire, deadline: Deadline
) -> AsyncGenerator[Reply, None]:
    """One after another: there is mostly one."""
    for number, address in enumerate(list(dict.fromkeys(addresses))[:MOST_ROUTERS], 1):
        way = own.way_to(address)
        question = Question(address, way, _stirring(address, way), kind=kind, listen_s=ASIDE_S)
        async with aclosing(ask(question, own, wire, deadline)) as replies:
            async for reply in replies:
                if isinstance(reply, Miss):
                    yield reply
                elif isinstance(reply.payload, Neighbour):
                    yield Answer(reply.target, (number, reply.payload), reply.began, reply.note)


def _stirring(address: str, way: Route) -> Callable[[float], Awaitable[bool]]:
    async def stirred(_: float) -> bool:
        entry = await entry_of(address, way.interface)
        if entry and (entry.mac or entry.state == "incomplete"):
            return not entry.mac  # it is being looked for at this moment
        return _sent_nothing(address)

    return stirred


def _sent_nothing(address: str) -> bool:
    """Have our system look for a neighbour: one datagram without content, to where such are thrown away (RFC 863).
    Whether anybody listens there does not matter."""
    with suppress(OSError):  # our own system forbids it, or it is no host's address
        family, where = socket_address(address, DISCARD, socket.SOCK_DGRAM)
        with socket.socket(family, socket.SOCK_DGRAM) as asking:
            asking.sendto(b"", where)
            return True
    return False


def _is_on_loopback(target: Target, *others: str) -> bool:
    return any(is_loopback(each) for each in (target.host, target.address, *others) if each)


def _source(payload: Numbered) -> str:
    """The first one's is named as if there were no other, so that a later look at one only replaces it. Like all
    sources here it does not hold the address, which changes on a visit."""
    number, fact = payload
    return fact.method if number == 1 else f"{fact.method} {number}"


PLANNED, ROUTERS = Planned(), Routers()
