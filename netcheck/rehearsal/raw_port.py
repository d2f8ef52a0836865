"""Raw TCP listeners of a simulated device: the print port, which counts what it is sent, and a line printer daemon.

A reading tool must leave a print port's `received` at 0: bytes on a raw port are printed.
"""

from __future__ import annotations

import asyncio
import socket
from collections.abc import Callable, Coroutine
from contextlib import suppress
from typing import Any

Reply = Callable[[bytes], bytes | None]
_CHUNK = 65_536


def silence(_data: bytes) -> None:
    """A raw print port answers nothing."""


def line_printer(data: bytes) -> bytes | None:
    """RFC 1179: a queue state (commands 3 and 4) gets a line of text, all else a refusal; then the daemon hangs up."""
    return b"no entries\n" if data[:1] in (b"\x03", b"\x04") else b"\x01"


class RawPort:
    """A listener. It stores nothing; `reply` may answer the first octets of a connection, which is then closed."""

    def __init__(self, reply: Reply = silence) -> None:
        self.received = 0
        self._reply = reply
        self._tasks: set[asyncio.Task[None]] = set()

    def start(self, listener: socket.socket) -> None:
        """Accepts connections on a listening, non-blocking socket until `stop`; the caller closes the socket."""
        self._keep(self._accept(listener))

    async def stop(self) -> None:
        """Accepts no more and drops every connection."""
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)

    def _keep(self, work: Coroutine[Any, Any, None]) -> None:
        task = asyncio.get_running_loop().create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def _accept(self, listener: socket.socket) -> None:
        while True:
            connection, _ = await asyncio.get_running_loop().sock_accept(listener)
            self._keep(self._converse(connection))

    async def _converse(self, connection: socket.socket) -> None:
        loop = asyncio.get_running_loop()
        with connection, suppress(ConnectionError):  # a peer may hang up as it likes
            while data := await loop.sock_recv(connection, _CHUNK):
                self.received += len(data)
                reply = self._reply(data)
                if reply is not None:
                    await loop.sock_sendall(connection, reply)
                    return
