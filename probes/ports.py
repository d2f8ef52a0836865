"""TCP services: which of them are open, and how far away they are.

Every port is connected to and closed again; nothing is ever written, since whatever reaches a raw port is printed.
Open, refused, silent and unreachable stay apart: a reset proves a host, silence proves nothing yet, and "unreachable"
may be our own system's word.
"""

import asyncio
import errno
import socket
import time
from collections.abc import AsyncGenerator, Iterable

from netcheck.facts import Fact
from netcheck.facts.network import Service
from netcheck.probing import Answer, Deadline, Miss, Target
from netcheck.roles import Role
from netcheck.wire import Wire, socket_address

SILENT_AFTER_S = 2.5
"""Long enough for two SYNs (RFC 6298 s2.1: the second leaves after 1 s) and a slow answer to the second."""
ONCE_MORE_S = 1.3
"""Two more, for a service that is silent on a device whose others answer: where a fifth of all packets is lost, two are
lost together once in 25 times, and four once in 600."""
CONNECTS = 3
"""One connect proves the service; the others give the round trip (common practice, no source)."""
_LATE_S = 0.8
"""A first connect that takes longer may be one of which a SYN was lost or slept through: then the others tell. A
sparing run makes them only then."""


class Ports:
    """Connects to each TCP service of the target at once."""

    name = "ports"
    wave = 2
    needs_address = True
    services: tuple[str, ...] = ()
    roles = frozenset({Role.OLD, Role.NEW, Role.DEVICE})
    provides = frozenset[type[Fact]]({Service})

    async def ask(self, target: Target, wire: Wire, deadline: Deadline) -> AsyncGenerator[Answer[Service] | Miss, None]:
        """One answer a service, as they come. What was seen is the answer, a refusal and silence too."""
        tcp = {name: port for name, port in target.ports.items() if name != "snmp"}
        began = time.monotonic()
        answers = asyncio.Event()
        tasks = [
            asyncio.create_task(_try(name, (target.address, port), answers, wire, deadline))
            for name, port in tcp.items()
        ]
        try:
            for next_done in asyncio.as_completed(tasks):
                service = await next_done
                yield Answer(f"{target.host} tcp/{service.port}", service, began)
        finally:
            for task in tasks:
                task.cancel()

    def read(self, payload: Service) -> Iterable[tuple[str, Fact]]:
        """What the port did is the fact."""
        yield f"tcp/{payload.port} {payload.service}", payload


async def _try(service: str, where: tuple[str, int], answers: asyncio.Event, wire: Wire, deadline: Deadline) -> Service:
    """``answers`` is set once any service of the device did."""
    address, port = where
    trips: list[int] = []
    async with wire.connects:
        began = time.monotonic()
        state, error, segment = await _connect(address, port, min(SILENT_AFTER_S, deadline.left()))
        if state == "silent" and answers.is_set() and deadline.left():
            state, error, segment = await _connect(address, port, min(ONCE_MORE_S, deadline.left()))
        waited = time.monotonic() - began
        if state == "open":
            answers.set()
            trips.append(round(waited * 1_000_000))
        if wire.sparing and waited < _LATE_S:
            return Service(service, port, state, error, round(waited * 1000), tuple(trips), segment)
        while trips and len(trips) < CONNECTS and deadline.left():
            again = time.monotonic()
            if (await _connect(address, port, min(SILENT_AFTER_S, deadline.left())))[0] != "open":
                break  # many devices serve one connection at a time: that the first one worked is what counts
            trips.append(round((time.monotonic() - again) * 1_000_000))
    return Service(service, port, state, error, round(waited * 1000), tuple(trips), segment)


async def _connect(address: str, port: int, wait_s: float) -> tuple[str, str, int]:
    """State, errno's name and segment size of one connect."""
    family, where = socket_address(address, port, socket.SOCK_STREAM)
    with socket.socket(family, socket.SOCK_STREAM) as probe:
        probe.setblocking(False)
        try:
            async with asyncio.timeout(wait_s):
                await asyncio.get_running_loop().sock_connect(probe, where)
        except TimeoutError as error:
            # The system's own time-out (ETIMEDOUT) is a TimeoutError too, and means the same: nothing came back.
            return "silent", errno.errorcode.get(error.errno, "") if error.errno else "", 0
        except (ConnectionRefusedError, ConnectionResetError) as error:
            return "refused", errno.errorcode.get(error.errno or 0, ""), 0
        except OSError as error:
            return "unreachable", errno.errorcode.get(error.errno or 0, str(error)), 0
        return "open", "", _segment(probe)


def _segment(connected: socket.socket) -> int:
    """The segment size that both ends agreed on; 0 where our system does not tell (Windows)."""
    if not hasattr(socket, "TCP_MAXSEG"):
        return 0
    try:
        return connected.getsockopt(socket.IPPROTO_TCP, socket.TCP_MAXSEG)
    except OSError:
        return 0  # the peer has closed it already


PROBE = Ports()
