"""Names both ways, by the system's resolver: host name -> addresses in the wave before all others, and afterwards
address -> the name that it leads back to, and where that name leads in turn."""

import asyncio
import ipaddress
import socket
import threading
import time
from collections.abc import AsyncGenerator, Callable, Iterable
from typing import TypeVar

from netcheck.facts import Fact
from netcheck.facts.link import ReverseName
from netcheck.facts.network import NameLookup
from netcheck.probing import NAMES_FIRST, Answer, Deadline, Miss, Target
from netcheck.roles import Outcome, Role
from netcheck.wire import Wire

T = TypeVar("T")
REVERSE_WITHIN_S = 1.5
"""A name server of the site answers long before (common practice, no source), and nobody else's answer about a private
address is worth holding up the run for."""
_NO_SUCH_NAME = {
    getattr(socket, name) for name in ("EAI_NONAME", "EAI_NODATA", "EAI_ADDRFAMILY") if hasattr(socket, name)
}
_NO_NAME_BACK = {1, 4, 11001, 11004}
"""HOST_NOT_FOUND and NO_DATA of netdb.h, and the same two of Windows (from memory)."""
_MOST_NAMES = 16
_REVERSE_ZONES = (".in-addr.arpa", ".ip6.arpa")


class Names:
    """Asks the resolver in a daemon thread: one that hangs must not hold the exit of the program."""

    name = "names"
    wave = NAMES_FIRST
    needs_address = False
    services: tuple[str, ...] = ()
    roles = frozenset({Role.OLD, Role.NEW, Role.DEVICE, Role.QUEUE})
    provides = frozenset[type[Fact]]({NameLookup})

    async def ask(
        self, target: Target, wire: Wire, deadline: Deadline
    ) -> AsyncGenerator[Answer[NameLookup] | Miss, None]:
        """Look one name up. A literal address leads to itself, and nobody is asked."""
        began = time.monotonic()
        if not target.host:
            return
        if _is_literal(target.host):
            yield Answer(target.host, NameLookup(target.host, (target.host,)), began)
            return
        looked_up = in_thread(lambda: _addresses(target.host), f"resolve {target.host}")
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


def _is_literal(host: str) -> bool:
    try:
        return str(ipaddress.ip_address(host)) == host
    except ValueError:
        return False


class ReverseNames:
    """Asks the resolver, in a daemon thread too, for the name of an address. Nobody is asked about loopback."""

    name = "reverse-names"
    wave = 2
    needs_address = True
    services: tuple[str, ...] = ()
    roles = frozenset({Role.OLD, Role.NEW, Role.DEVICE})
    provides = frozenset[type[Fact]]({ReverseName})

    async def ask(
        self, target: Target, wire: Wire, deadline: Deadline
    ) -> AsyncGenerator[Answer[ReverseName] | Miss, None]:
        """Look one address up, and its name again."""
        began, address = time.monotonic(), target.address
        if ipaddress.ip_address(address).is_loopback:
            return
        try:
            async with asyncio.timeout(min(REVERSE_WITHIN_S, deadline.left())):
                names = await in_thread(lambda: _names_of(address), f"name of {address}")
                leads_to = await in_thread(lambda: _leads_to(names), f"addresses of {names[0]}") if names else None
        except TimeoutError:
            yield Miss(address, Outcome.SILENT, "the resolver did not answer", began)
        except OSError as error:
            yield Miss(address, Outcome.FAILED, f"the resolver says: {error.strerror}", began)
        except UnicodeError:
            yield Miss(address, Outcome.MALFORMED, "the name that it leads back to is not text", began)
        else:
            yield Answer(address, ReverseName(address, names, "resolver", leads_to), began)

    def read(self, payload: ReverseName) -> Iterable[tuple[str, Fact]]:
        """The look-up is the fact."""
        yield "resolver", payload


def in_thread(call: Callable[[], T], what: str) -> "asyncio.Future[T]":
    """Run a call that blocks in a daemon thread, which nobody waits for at the program's end; ``what`` names it."""
    loop = asyncio.get_running_loop()
    future: asyncio.Future[T] = loop.create_future()

    def settle(came: Callable[[], None]) -> None:
        if not future.done():
            came()

    def run() -> None:
        came: Callable[[], None]
        try:
            result = call()
        except Exception as error:  # noqa: BLE001 - raised again where the future is awaited
            raised = error
            came = lambda: future.set_exception(raised)  # noqa: E731
        else:
            came = lambda: future.set_result(result)  # noqa: E731
        if not loop.is_closed():
            loop.call_soon_threadsafe(settle, came)

    threading.Thread(target=run, daemon=True, name=what).start()
    return future


def _addresses(host: str) -> tuple[str, ...]:
    rows = socket.getaddrinfo(host, None, type=socket.SOCK_STREAM)
    # IPv4 first: what a printer says of its own address is mostly IPv4 (common practice, no source).
    ranked = sorted(rows, key=lambda row: row[0] != socket.AF_INET)
    return tuple(dict.fromkeys(_literal(row[4], host) for row in ranked))


def _literal(where: tuple[object, ...], host: str) -> str:
    """The address of a socket address. The resolver leaves the zone of a link-local one out of its text, and without it
    nobody can be reached there."""
    _, percent, zone = host.partition("%")
    return f"{where[0]}{percent}{zone}" if ":" in str(where[0]) else str(where[0])


def _names_of(address: str) -> tuple[str, ...]:
    """The names of an address; none where the resolver says so. Raises OSError where it cannot tell."""
    try:
        first, others, _ = socket.gethostbyaddr(address)
    except socket.herror as error:
        if error.errno in _NO_NAME_BACK:
            return ()
        raise
    # Several PTR records make aliases, and so does a delegated reverse zone (RFC 2317), whose own names are none.
    names = dict.fromkeys(name for name in (first, *others) if name and not name.endswith(_REVERSE_ZONES))
    return tuple(names)[:_MOST_NAMES]


def _leads_to(names: tuple[str, ...]) -> tuple[str, ...] | None:
    """The addresses of the first name; none where the resolver says that it has none, None where it cannot tell."""
    try:
        return _addresses(names[0])[:_MOST_NAMES]
    except socket.gaierror as error:
        return () if error.errno in _NO_SUCH_NAME else None
    except UnicodeError:
        return None


PROBE = Names()
REVERSE = ReverseNames()
