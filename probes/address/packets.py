"""A packet socket on one interface, opened and listened to by daemon threads.

scapy blocks and takes its time to import, and neither may hold the program's end. What is heard comes back to the loop.
"""

import asyncio
import logging
import os
import socket
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any, Self

from netcheck.probing import Deadline
from probes.names import in_thread

from .saying import Language, Said

_OPEN_WITHIN_S, _CLOSE_WITHIN_S = 5.0, 0.2


class Unable(Exception):  # noqa: N818 - it says how things are
    """We cannot ask on the wire; the text says why."""


def why_not() -> str:
    """Why this user cannot open a packet socket, "" where nothing speaks against it. Cheaper than importing scapy, and
    still nothing for the loop: Linux takes some milliseconds to close such a socket."""
    if not sys.platform.startswith("linux"):  # by design, not run
        if sys.platform == "win32":
            npcap = Path(os.environ.get("SYSTEMROOT", "C:\\Windows"), "System32", "Npcap", "wpcap.dll")
            return "" if npcap.exists() else "needs the packet driver Npcap, which is not installed"
        return "" if os.access("/dev/bpf0", os.R_OK | os.W_OK) else "needs administrator's rights (/dev/bpf0)"
    try:
        socket.socket(socket.AF_PACKET, socket.SOCK_RAW, 0).close()  # protocol 0: it hears nothing
    except OSError as error:
        return f"needs administrator's rights ({error.strerror})"
    return ""


class Packets:
    """The frames of one language on one interface. ``heard`` is called in the loop."""

    def __init__(self, language: Language, heard: Callable[[Said], None], loop: asyncio.AbstractEventLoop) -> None:
        self._language, self._heard, self._loop = language, heard, loop
        self._socket: Any = None
        self._sniffer: Any = None

    @classmethod
    def opening(cls, interface: str, language: Language, heard: Callable[[Said], None]) -> "asyncio.Future[Self]":
        """Open one; see `opened`."""
        packets = cls(language, heard, asyncio.get_running_loop())
        return in_thread(lambda: packets._open(interface), f"open {interface}")

    @property
    def listens(self) -> bool:
        """Is what comes in still heard?"""
        return bool(self._sniffer.running)

    def send(self, frame: bytes) -> None:
        """Send one frame. Raises `Unable`."""
        try:
            self._socket.send(frame)
        except OSError as error:
            raise Unable(f"{self._language.name}: {error.strerror}") from error

    def _open(self, interface: str) -> Self:
        """Open the socket and listen; blocks. Raises `Unable`."""
        name = self._language.name
        if reason := why_not():
            raise Unable(f"{name} {reason}")
        try:
            from scapy.error import Scapy_Exception  # it sets up the log of the others

            logging.getLogger("scapy").setLevel(logging.CRITICAL)  # its complaints are ours to tell, not the terminal's
            from scapy.config import conf
            from scapy.layers.l2 import Ether  # before the socket, which looks its decoder up among the loaded ones
            from scapy.sendrecv import AsyncSniffer
        except ImportError as error:
            raise Unable(f"scapy: {error}") from error
        device = f"\\Device\\NPF_{interface}" if sys.platform == "win32" else interface
        listening = threading.Event()
        try:
            # One protocol only, and never promiscuous: what is not for us is none of our business.
            self._socket = conf.L2socket(iface=device, type=self._language.ethertype, promisc=False)
        except (OSError, Scapy_Exception) as error:
            raise Unable(f"{name} on {interface}: {error}") from error
        if self._socket.LL is not Ether:
            self._socket.close()
            raise Unable(f"{name} on {interface}: it is no Ethernet")
        self._sniffer = AsyncSniffer(
            opened_socket=self._socket, store=False, prn=self._came, started_callback=listening.set
        )
        self._sniffer.start()
        if not listening.wait(_OPEN_WITHIN_S):
            self._socket.close()
            raise Unable(f"{name} on {interface}: nobody listens")
        return self

    def _came(self, packet: Any) -> None:
        """In the sniffer's thread."""
        said = self._language.read(packet.original)
        if said and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._heard, said)

    def close(self) -> None:
        """Stop listening."""
        from scapy.error import Scapy_Exception

        with suppress(Scapy_Exception):  # it has stopped by itself
            self._sniffer.stop(join=False)
        self._sniffer.thread.join(_CLOSE_WITHIN_S)  # it wakes at once; a daemon, if it should not
        self._socket.close()


async def opened(opening: "asyncio.Future[Packets]", what: str, deadline: Deadline) -> Packets:
    """Wait for one that many may wait for. Raises `Unable`."""
    try:
        async with asyncio.timeout(min(_OPEN_WITHIN_S, deadline.left())):
            return await asyncio.shield(opening)
    except TimeoutError:
        raise Unable(f"{what} in time") from None
