"""The sockets of a simulated fleet: for every address at once, and deaf to whatever does not come over loopback.

Linux: a socket is tied to an interface by SO_BINDTODEVICE, for which nobody has needed privileges since 5.7.
"""

from __future__ import annotations

import socket
from contextlib import ExitStack, suppress

from netcheck.rehearsal.device import Service

LISTENING: tuple[Service, ...] = ("ipp", "raw", "lpd", "http")
_ANY = "0.0.0.0"  # noqa: S104 - tied to loopback
_LOOPBACK, _HOST = b"lo", "127.0.0.1"
_SO_BINDTODEVICE = 25  # asm-generic/socket.h
_BUFFER = 4 << 20
_BACKLOG = 4096


def datagram_socket(port: int) -> socket.socket:
    """For SNMP, at a port or (0) at a free one. Raises OSError."""
    bound = _tied(socket.SOCK_DGRAM, port, shared=True)
    bound.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, _BUFFER)
    return bound


def listener(port: int) -> socket.socket:
    """For one service, at a port or (0) at a free one. Raises OSError."""
    bound = _tied(socket.SOCK_STREAM, port, shared=True)
    bound.listen(_BACKLOG)
    return bound


def closed(kind: socket.SocketKind, stack: ExitStack) -> int:
    """A port at which nobody listens, at any address, and at which nobody else will as long as ``stack`` is open."""
    bound = stack.enter_context(socket.socket(socket.AF_INET, kind))
    bound.bind((_HOST, 0))
    if kind is socket.SOCK_DGRAM:
        bound.connect(bound.getsockname())  # hears only itself, so everybody else meets a closed port
    port: int = bound.getsockname()[1]
    return port


def silent(kind: socket.SocketKind, stack: ExitStack) -> int:
    """A port of TCP that drops everything: a listener that takes nobody and whose queue is full. Linux then drops every
    SYN (tcp_abort_on_overflow is about the end of a handshake, not its beginning)."""
    bound = stack.enter_context(_tied(kind, 0, shared=False))
    bound.listen(0)
    port: int = bound.getsockname()[1]
    waiting = stack.enter_context(socket.socket(socket.AF_INET, kind))
    waiting.settimeout(1.0)
    with suppress(TimeoutError):
        waiting.connect((_HOST, port))
    return port


def _tied(kind: socket.SocketKind, port: int, *, shared: bool) -> socket.socket:
    bound = socket.socket(socket.AF_INET, kind)
    try:
        bound.setblocking(False)
        bound.setsockopt(socket.SOL_SOCKET, _SO_BINDTODEVICE, _LOOPBACK)
        if shared:
            bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEPORT, 1)
        bound.bind((_ANY, port))
    except BaseException:
        bound.close()
        raise
    return bound
