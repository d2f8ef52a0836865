"""Where we stand, how we reach a device, and who answers for its address on our own link.

own                           our interfaces and gateways, and the way to a device; sends nothing
neighbour ─ wires ─ packets   on the wire, where we may open a packet socket:
  │   │       └──── arp, nd   what is sent there, and what it means when it comes
  │   └──── table ─ netlink   what our system remembers, by Linux's own door
  │             └── printed   or as systems print it
others                        the same of routers, and of an address that is to become the device's
"""

import ipaddress
import time
from collections.abc import AsyncGenerator, Iterable
from contextlib import aclosing

from netcheck.facts import Fact
from netcheck.facts.link import Neighbour, OwnGateways, OwnInterfaces, Route
from netcheck.probing import Answer, Deadline, Miss, Target
from netcheck.roles import Outcome, Role
from netcheck.wire import Wire

from . import neighbour
from .neighbour import Payload, Reply
from .others import PLANNED, ROUTERS
from .own import OwnNetwork

__all__ = ["PLANNED", "PROBE", "ROUTERS"]


class Address:
    """Asks our own system, and the wire that we are on. Nobody is asked about loopback."""

    name = "address"
    wave = 2
    needs_address = False
    services: tuple[str, ...] = ()
    roles = frozenset({Role.HERE, Role.OLD, Role.NEW, Role.DEVICE})
    provides = frozenset[type[Fact]]({OwnInterfaces, OwnGateways, Route, Neighbour})

    async def ask(self, target: Target, wire: Wire, deadline: Deadline) -> AsyncGenerator[Reply, None]:
        """For ourselves: interfaces and gateways. For a device: the way to it, and then its neighbours' answers."""
        began = time.monotonic()
        own = await wire.shared(OwnNetwork, OwnNetwork.look)
        if target.role is Role.HERE:
            yield Answer("our own interfaces", own.interfaces, began)
            yield Answer("our own gateways", own.gateways, began)
        elif not target.address:
            yield Miss(target.host, Outcome.NOT_TRIED, f"{target.host or 'the device'} has no address", began)
        elif not ipaddress.ip_address(target.address).is_loopback:
            way = own.way_to(target.address)
            yield Answer(f"the way to {target.address}", way, began)
            async with aclosing(neighbour.ask(neighbour.of_device(target, way), own, wire, deadline)) as replies:
                async for reply in replies:
                    yield reply

    def read(self, payload: Payload) -> Iterable[tuple[str, Fact]]:
        """What was seen is the fact. Its source is named after what was asked and not after the address, so that a
        later look replaces an earlier one."""
        yield payload.method if isinstance(payload, Neighbour) else payload.kind, payload


PROBE = Address()
