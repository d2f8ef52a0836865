"""The sockets that probes share. Stage: below the probes; collect owns one `Wire` for a run.

Datagrams of all devices leave through one socket and are told apart by a token inside them (for SNMP the request-id),
so that a sweep costs one descriptor and not one a device. What makes that hard is the refusal: an ICMP "port
unreachable" says that no agent is there, which silence does not, and an unconnected socket never hears of it. Linux
keeps such errors in a queue beside the socket (``IP_RECVERR``) with the address that they are about. Other systems have
no such queue; there every exchange gets a connected socket of its own, which is slower and hears refusals as well.

What makes it dangerous is the room for answers: a sweep can ask faster than it reads, and an answer that the system had
no room for looks like silence. So a question is only sent while those asked in the last moments, answered ones left
out, leave room for its answer; and whatever has come in is read before a time-out is believed.
"""

import asyncio
import itertools
import os
import secrets
import socket
import struct
import sys
from collections.abc import Awaitable, Callable
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from typing import Protocol, TypeVar, cast

from netcheck.room import Room

TokenOf = Callable[[bytes], int | None]
"""Finds the token in a datagram that came in; None for one that has none. Must never raise."""

MAX_DATAGRAM = 65_535
CONNECTS_AT_ONCE = 256
RECEIVE_BUFFER = 4 << 20
"""Octets that we ask the system to keep for us; it gives what it may, mostly 212,992, and on Linux twice that."""
_ANSWER_COSTS = 4 << 10
"""What an answer of one frame (1,500 octets) takes of that at the most, the system's book-keeping included."""
_MOST_AT_ONCE = 4096
"""Datagrams or errors that are read before others get their turn."""
_IP_RECVERR, _IPV6_RECVERR = 11, 25
_EXTENDED_ERROR = struct.Struct("=IBBBBII")
_TOKENS = 2**31 - 1

Address = tuple[str, int] | tuple[str, int, int, int]


@dataclass(frozen=True, slots=True)
class Datagram:
    """What came back, and from whom: not always from whom we asked."""

    data: bytes
    sender: tuple[str, int]


@lru_cache(4096)
def socket_address(address: str, port: int, kind: socket.SocketKind) -> tuple[socket.AddressFamily, Address]:
    """Family and socket address of a literal address, the zone of a link-local one included. Never looks a name up."""
    family, _, _, _, where = socket.getaddrinfo(address, port, type=kind, flags=socket.AI_NUMERICHOST)[0]
    return family, where  # type: ignore[return-value]  # typeshed allows for address families without an address


class Closable(Protocol):
    """Something that holds sockets."""

    async def close(self) -> None:
        """Let go of them."""
        ...


R = TypeVar("R", bound=Closable)


class Wire:
    """Shared sockets and limits of one run. Use as an async context manager, inside the event loop that uses it.

    A ``sparing`` run asks thousands of devices: what changes no answer, and only whoever looks at one device would
    miss, is not asked then.
    """

    def __init__(self, *, sparing: bool = False) -> None:
        self.sparing = sparing
        self.connects = asyncio.Semaphore(CONNECTS_AT_ONCE)
        """Held while a TCP connection is open, so that a sweep stays below the descriptor limit."""
        self._hubs: dict[tuple[socket.AddressFamily, TokenOf], SharedSocket] = {}
        self._resources: dict[type[Closable], Closable] = {}
        self._making = asyncio.Lock()
        self._tokens = itertools.count(secrets.randbelow(_TOKENS))

    async def __aenter__(self) -> "Wire":
        return self

    async def __aexit__(self, *_: object) -> None:
        for resource in self._resources.values():
            await resource.close()
        for hub in self._hubs.values():
            hub.close()

    async def shared(self, kind: type[R], make: Callable[[], Awaitable[R]]) -> R:
        """The one resource of this kind that the run has, made on first use and closed with the wire: what listens to
        multicast, say, listens once for all targets."""
        async with self._making:
            if kind not in self._resources:
                self._resources[kind] = await make()
            resource = self._resources[kind]
        return cast(R, resource)

    async def place(self, wait_s: float) -> None:
        """Acquire `connects` within so many seconds. Raises TimeoutError."""
        if not self.connects.locked():
            await self.connects.acquire()  # at once
            return
        async with asyncio.timeout(wait_s):
            await self.connects.acquire()

    def token(self) -> int:
        """A number that no exchange of this run has used lately: 1 to 2^31 - 1, from a start that cannot be guessed."""
        return next(self._tokens) % _TOKENS + 1

    async def exchange(
        self, address: str, port: int, data: bytes, token: int, token_of: TokenOf, wait_s: float
    ) -> Datagram:
        """Send one datagram and wait for the one that carries the same token.

        Raises TimeoutError when none came, or OSError when the network said so (refused: nobody listens there).
        """
        family, where = socket_address(address, port, socket.SOCK_DGRAM)
        if not sys.platform.startswith("linux"):
            return await _exchange_connected(where, data, token, token_of, wait_s)
        hub = self._hubs.get((family, token_of))
        if hub is None:
            hub = self._hubs[family, token_of] = SharedSocket(family, token_of)
        return await hub.exchange(where, data, token, wait_s)


class SharedSocket:
    """One unconnected datagram socket whose answers are told apart by token, and whose refusals by address (Linux)."""

    def __init__(self, family: socket.AddressFamily, token_of: TokenOf) -> None:
        self._token_of = token_of
        self._waiting: dict[int, tuple[Address, asyncio.Future[Datagram]]] = {}
        self._socket = socket.socket(family, socket.SOCK_DGRAM)
        self._socket.setblocking(False)
        if family == socket.AF_INET6:
            self._socket.setsockopt(socket.IPPROTO_IPV6, _IPV6_RECVERR, 1)
        else:
            self._socket.setsockopt(socket.IPPROTO_IP, _IP_RECVERR, 1)
        with suppress(OSError):
            self._socket.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, RECEIVE_BUFFER)
        kept = self._socket.getsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF)
        self._room = Room(max(1, kept // _ANSWER_COSTS))
        self._loop = asyncio.get_running_loop()
        self._loop.add_reader(self._socket, self._readable)

    def close(self) -> None:
        """Stop listening. Exchanges under way are cancelled."""
        self._loop.remove_reader(self._socket)
        self._socket.close()
        self._room.close()
        for _, future in self._waiting.values():
            future.cancel()

    async def exchange(self, where: Address, data: bytes, token: int, wait_s: float) -> Datagram:
        """See `Wire.exchange`. Waits for room before it sends; the time for that is not taken from `wait_s`."""
        await self._room.take(token)
        future: asyncio.Future[Datagram] = self._loop.create_future()
        self._waiting[token] = where, future
        # Not asyncio.timeout: a fleet waits for twelve answers a device, and cancelling a task takes longer than this.
        late = self._loop.call_later(wait_s, _too_late, future)
        try:
            self._send(where, data)
            return await future
        finally:
            late.cancel()
            del self._waiting[token]
            self._room.leave(token)

    def _send(self, where: Address, data: bytes) -> None:
        try:
            self._socket.sendto(data, where)
        except BlockingIOError:
            pass  # a full send buffer loses a datagram as a full network does: the caller asks again
        except OSError:
            # An error that waits on the socket is reported by the next call, whomever that one was about.
            self._drain_errors()
            self._socket.sendto(data, where)

    def _readable(self) -> None:
        # All that is there: what stays behind would be taken for silence by a time-out that is due now.
        for _ in range(_MOST_AT_ONCE):
            try:
                data, sender = self._socket.recvfrom(MAX_DATAGRAM)
            except BlockingIOError:
                break
            except OSError:
                self._drain_errors()
                continue
            token = self._token_of(data)
            waiting = self._waiting.get(token) if token is not None else None
            if waiting and not waiting[1].done():
                waiting[1].set_result(Datagram(data, (sender[0], sender[1])))
        self._drain_errors()

    def _drain_errors(self) -> None:
        for _ in range(_MOST_AT_ONCE):
            try:
                _, ancillary, _, about = self._socket.recvmsg(0, 512, socket.MSG_ERRQUEUE)
            except OSError:
                return
            for _, _, raw in ancillary:
                number = _EXTENDED_ERROR.unpack_from(raw)[0]
                self._fail(about[:2], OSError(number, os.strerror(number)))

    def _fail(self, about: tuple[str, int], error: OSError) -> None:
        for where, future in self._waiting.values():
            if where[:2] == about and not future.done():
                future.set_exception(error)


def _too_late(future: "asyncio.Future[Datagram]") -> None:
    if not future.done():
        future.set_exception(TimeoutError())


class _Connected(asyncio.DatagramProtocol):
    def __init__(self, token: int, token_of: TokenOf) -> None:
        self.answer: asyncio.Future[Datagram] = asyncio.get_running_loop().create_future()
        self._token, self._token_of = token, token_of

    def datagram_received(self, data: bytes, addr: tuple[str, int]) -> None:
        if self._token_of(data) == self._token and not self.answer.done():
            self.answer.set_result(Datagram(data, (addr[0], addr[1])))

    def error_received(self, exc: Exception) -> None:
        if not self.answer.done():
            self.answer.set_exception(exc)


async def _exchange_connected(where: Address, data: bytes, token: int, token_of: TokenOf, wait_s: float) -> Datagram:
    loop = asyncio.get_running_loop()
    transport, protocol = await loop.create_datagram_endpoint(
        lambda: _Connected(token, token_of), remote_addr=where[:2]
    )
    try:
        transport.sendto(data)
        async with asyncio.timeout(wait_s):
            return await protocol.answer
    finally:
        transport.close()
