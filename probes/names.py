"""Host name -> addresses, by the system's resolver: the wave before all others."""

import asyncio
import socket
import threading
import time
from collections.abc import AsyncGenerator, Iterable

from netcheck.facts import Fact
from netcheck.facts.network import NameLookup
from netcheck.probing import NAMES_FIRST, Answer, Deadline, Miss, Target
from netcheck.roles import Outcome, Role
from netcheck.wire import Wire

_NO_SUCH_NAME = {
    getattr(socket, name) for name in ("EAI_NONAME", "EAI_NODATA", "EAI_ADDRFAMILY") if hasattr(socket, name)
}


class Names:
    """Asks the resolver in a daemon thread: one that hangs must not hold the exit of the program."""

    name = "names"
    wave = NAMES_FIRST
    needs_address = False
    roles = frozenset({Role.OLD, Role.NEW, Role.DEVICE, Role.QUEUE})
    provides = frozenset[type[Fact]]({NameLookup})

    async def ask(
        self, target: Target, wire: Wire, deadline: Deadline
    ) -> AsyncGenerator[Answer[NameLookup] | Miss, None]:
        """Look one name up. A literal address leads to itself, and nobody is asked."""
        began = time.monotonic()
        if not target.host:
            return
        looked_up = _in_thread(target.host)
        try:
            async with asyncio.timeout(deadline.left()):
                addresses = await looked_up
        except TimeoutError:
            yield Miss(target.host, Outcome.SILENT, "the resolver did not answer", began)
        except socket.gaierror as error:
            if error.errno in _NO_SUCH_NAME:
                yield Answer(target.host, NameLookup(target.host, ()), began)
            else:
                yield Miss(target.host, Outcome.FAILED, f"the resolver says: {error.strerror}", began)
        else:
            yield Answer(target.host, NameLookup(target.host, addresses), began)

    def read(self, payload: NameLookup) -> Iterable[tuple[str, Fact]]:
        """The look-up is the fact."""
        yield "resolver", payload


def _in_thread(host: str) -> "asyncio.Future[tuple[str, ...]]":
    loop = asyncio.get_running_loop()
    future: asyncio.Future[tuple[str, ...]] = loop.create_future()

    def settle(addresses: tuple[str, ...], error: OSError | None) -> None:
        if future.done():
            return
        if error:
            future.set_exception(error)
        else:
            future.set_result(addresses)

    def look_up() -> None:
        addresses: tuple[str, ...] = ()
        error: OSError | None = None
        try:
            rows = socket.getaddrinfo(host, None, type=socket.SOCK_STREAM)
            # IPv4 first: what a printer says of its own address is mostly IPv4 (common practice, no source).
            ranked = sorted(rows, key=lambda row: row[0] != socket.AF_INET)
            addresses = tuple(dict.fromkeys(_literal(row[4], host) for row in ranked))
        except OSError as caught:
            error = caught
        if not loop.is_closed():
            loop.call_soon_threadsafe(settle, addresses, error)

    threading.Thread(target=look_up, daemon=True, name=f"resolve {host}").start()
    return future


def _literal(where: tuple[object, ...], host: str) -> str:
    """The address of a socket address. The resolver leaves the zone of a link-local one out of its text, and without it
    nobody can be reached there."""
    _, percent, zone = host.partition("%")
    return f"{where[0]}{percent}{zone}" if ":" in str(where[0]) else str(where[0])


PROBE = Names()
