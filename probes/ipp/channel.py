"""Stage: ask, the connection. Octets to and from one peer, in plain or by TLS, and a connection that is left open.

In plain the socket is used as it is: streams cost as much again as all the rest, and a sweep opens thousands.
"""

from __future__ import annotations

import asyncio
import socket
import ssl
from typing import TYPE_CHECKING, Final, Protocol

from netcheck.wire import Wire, socket_address
from probes.tls.contexts import server_name

if TYPE_CHECKING:
    import h11

    from probes.ipp.http import Endpoint

CONNECT_S: Final = 3.5
"""Long enough for the third SYN (after 0, 1 and 3 s; RFC 6298 section 2) and for a failed address resolution."""
READ: Final = 16 << 10  # also bounds how long a flood of tiny chunks can keep the event loop from others


class MalformedHttpError(ValueError):
    """The peer broke HTTP, or a bound of ours; the text says how."""


class NoAnswerError(TimeoutError):
    """Nothing, or not everything, came in time; the text says how far it got."""


class Channel(Protocol):
    """A connection."""

    async def send(self, octets: bytes) -> None:
        """Raises OSError."""
        ...

    async def receive(self) -> bytes:
        """Some octets; none when the peer has ended it. Raises OSError."""
        ...

    def close(self) -> None:
        """Not an orderly close: what is still under way from a peer that does not stop is of no interest."""
        ...


class _Plain:
    def __init__(self, sock: socket.socket) -> None:
        self._sock, self._loop = sock, asyncio.get_running_loop()

    async def send(self, octets: bytes) -> None:
        await self._loop.sock_sendall(self._sock, octets)

    async def receive(self) -> bytes:
        return await self._loop.sock_recv(self._sock, READ)

    def close(self) -> None:
        self._sock.close()


class _Secure:
    def __init__(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._reader, self._writer = reader, writer

    async def send(self, octets: bytes) -> None:
        self._writer.write(octets)
        await self._writer.drain()

    async def receive(self) -> bytes:
        return await self._reader.read(READ)

    def close(self) -> None:
        self._writer.transport.abort()


async def connected(endpoint: Endpoint, end: float) -> Channel:
    """Connect, until `end` by the event loop's clock. Raises NoAnswerError, OSError, or where the peer speaks no TLS
    MalformedHttpError."""
    loop = asyncio.get_running_loop()
    family, where = socket_address(endpoint.address, endpoint.port, socket.SOCK_STREAM)
    sock = socket.socket(family, socket.SOCK_STREAM)
    try:
        sock.setblocking(False)
        async with asyncio.timeout_at(min(end, loop.time() + CONNECT_S)):
            await loop.sock_connect(sock, where)
    except TimeoutError:
        sock.close()
        raise NoAnswerError("did not answer the attempt to connect") from None
    except BaseException:
        sock.close()
        raise
    return await _secured(sock, endpoint, endpoint.tls, end) if endpoint.tls else _Plain(sock)


async def _secured(sock: socket.socket, endpoint: Endpoint, tls: ssl.SSLContext, end: float) -> Channel:
    """By TLS. The socket is asyncio's from here on."""
    name = server_name(endpoint.host or endpoint.address)
    try:
        async with asyncio.timeout_at(end):
            return _Secure(*await asyncio.open_connection(sock=sock, ssl=tls, server_hostname=name, limit=READ))
    except TimeoutError:
        raise NoAnswerError("accepted the connection, then did not finish the TLS handshake") from None
    except (ssl.SSLError, ConnectionError) as error:
        words = getattr(error, "reason", None) or error.strerror or str(error)
        raise MalformedHttpError(f"speaks no TLS that we do ({words.lower().replace('_', ' ')})") from None


class Kept:
    """A connection that is left open for what is asked next at the same place. It keeps its place among the run's, so
    that a sweep stays below the descriptor limit; whoever makes one closes it."""

    def __init__(self, wire: Wire) -> None:
        self._wire = wire
        self._open: tuple[tuple[object, ...], Channel, h11.Connection] | None = None

    @property
    def is_open(self) -> bool:
        """Is there one, with a place among the run's connections?"""
        return self._open is not None

    def take(self, endpoint: Endpoint) -> tuple[Channel, h11.Connection] | None:
        """The one to this endpoint. From here on it is the taker's, with its place; one to elsewhere is closed."""
        if self._open is None:
            return None
        place, channel, framing = self._open
        self._open = None
        if place == _place(endpoint):
            return channel, framing
        channel.close()
        return None

    def leave(self, endpoint: Endpoint, channel: Channel, framing: h11.Connection) -> None:
        """Leave it open, as far as HTTP is concerned ready for another request."""
        self._open = _place(endpoint), channel, framing

    def close(self) -> None:
        """Nobody will ask any more."""
        if self._open:
            self._open[1].close()
            self._open = None
            self._wire.connects.release()


def _place(endpoint: Endpoint) -> tuple[object, ...]:
    return endpoint.address, endpoint.port, endpoint.tls
