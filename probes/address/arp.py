"""Who answers for an address on the wire, asked by ARP (RFC 826) in the form that disturbs nobody.

A question that names its sender's address makes every neighbour that hears it update what it remembers of that sender.
So this asks as a host does that has no address yet: the probe of RFC 5227 s1.1, whose sender address is 0.0.0.0. Its
owner must answer it all the same (s2.1.1), every owner: two of them make two answers. Nothing is ever announced.

One packet socket an interface serves all targets of a run. It is opened, and listened to, by daemon threads: scapy
blocks and takes its time to import, and neither may hold the program's end. What they hear comes back to the loop.
"""

import asyncio
import logging
import os
import socket
import sys
import threading
import time
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from netcheck.probing import Deadline
from probes.names import in_thread

PROBES, EVERY_S = 3, 0.5
"""RFC 5227 s1.1: three probes (PROBE_NUM) before an address counts as free; sent closer together than its second or two
because a technician waits."""
ENOUGH_IF_HEARD, LAST_S = 2, 0.25
"""Where somebody answered: the second probe is for a second owner, whose answer to the first one was lost, and this is
how long that owner has (a link answers in milliseconds, one that sleeps between beacons in some hundreds; common
practice, no source)."""
LISTEN_S = 2.5
"""How long to wait for somebody at all: the ports probe waits as long for a device that is silent."""
MOST_OWNERS = 16
"""More hardware addresses than that for one address are a fault of the network, and no better known by counting on."""
_ETHERTYPE_ARP = 0x0806
_OPEN_WITHIN_S, _CLOSE_WITHIN_S = 5.0, 0.2
_BROADCAST, _NOBODY = "ff:ff:ff:ff:ff:ff", "00:00:00:00:00:00"


class Unable(Exception):  # noqa: N818 - it says how things are
    """We cannot ask on the wire; the text says why."""


@dataclass(frozen=True, slots=True)
class Heard:
    """Who answered, in the order of hearing. ``cut_short`` says why the question was not asked to its end."""

    macs: tuple[str, ...]
    cut_short: str = ""


class Wires:
    """All packet sockets of a run, one an interface. ``make`` is awaited by the wire that owns them."""

    def __init__(self) -> None:
        self._opening: dict[str, asyncio.Future[Listener]] = {}

    @classmethod
    async def make(cls) -> "Wires":
        """Nothing is opened before it is needed."""
        return cls()

    async def close(self) -> None:
        """Stop listening."""
        for opening in self._opening.values():
            if opening.done() and not opening.cancelled() and opening.exception() is None:
                opening.result().close()

    async def ask(self, interface: str, mac: str, address: str, deadline: Deadline) -> Heard:
        """Ask for the owners of an IPv4 address. Raises `Unable`."""
        if interface not in self._opening:
            listener = Listener(mac, asyncio.get_running_loop())
            self._opening[interface] = in_thread(lambda: listener.open(interface), f"open {interface}")
        try:
            async with asyncio.timeout(min(_OPEN_WITHIN_S, deadline.left())):
                listener = await asyncio.shield(self._opening[interface])
        except TimeoutError:
            raise Unable(f"{interface} was not open for ARP in time") from None
        return await listener.ask(address, deadline)


def _why_not() -> str:
    """Why this user cannot open a packet socket, "" where nothing speaks against it. Cheaper than importing scapy, and
    still nothing for the loop: Linux takes some milliseconds to close such a socket."""
    if not sys.platform.startswith("linux"):  # by design, not run
        if sys.platform == "win32":
            npcap = Path(os.environ.get("SYSTEMROOT", "C:\\Windows"), "System32", "Npcap", "wpcap.dll")
            return "" if npcap.exists() else "ARP needs the packet driver Npcap, which is not installed"
        return "" if os.access("/dev/bpf0", os.R_OK | os.W_OK) else "ARP needs administrator's rights (/dev/bpf0)"
    try:
        socket.socket(socket.AF_PACKET, socket.SOCK_RAW, 0).close()  # protocol 0: it hears nothing
    except OSError as error:
        return f"ARP needs administrator's rights ({error.strerror})"
    return ""


class Listener:
    """One interface: sends probes on it, and notes who says that an address is its own."""

    def __init__(self, mac: str, loop: asyncio.AbstractEventLoop) -> None:
        self._mac, self._loop = mac, loop
        self._owners: dict[str, dict[str, None]] = {}
        self._socket: Any = None
        self._sniffer: Any = None

    def open(self, interface: str) -> "Listener":
        """Open the socket and listen; blocks. Raises `Unable`."""
        if reason := _why_not():
            raise Unable(reason)
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
            # ARP only, and never promiscuous: what is not for us is none of our business.
            self._socket = conf.L2socket(iface=device, type=_ETHERTYPE_ARP, promisc=False)
        except (OSError, Scapy_Exception) as error:
            raise Unable(f"ARP on {interface}: {error}") from error
        if self._socket.LL is not Ether:
            self._socket.close()
            raise Unable(f"ARP on {interface}: it is no Ethernet")
        self._sniffer = AsyncSniffer(
            opened_socket=self._socket, store=False, prn=self._hear, started_callback=listening.set
        )
        self._sniffer.start()
        if not listening.wait(_OPEN_WITHIN_S):
            self._socket.close()
            raise Unable(f"ARP on {interface}: nobody listens")
        return self

    def close(self) -> None:
        """Stop listening."""
        from scapy.error import Scapy_Exception

        with suppress(Scapy_Exception):  # it has stopped by itself
            self._sniffer.stop(join=False)
        self._sniffer.thread.join(_CLOSE_WITHIN_S)  # it wakes at once; a daemon, if it should not
        self._socket.close()

    async def ask(self, address: str, deadline: Deadline) -> Heard:
        """Send the probes, and wait for owners. Raises `Unable` where the interface does not send."""
        owners = self._owners.setdefault(address, {})
        frame = probe_frame(self._mac, address)
        end = Deadline(min(deadline.at, time.monotonic() + LISTEN_S))
        sent = 0
        while end.left() and self._sniffer.running and not (owners and sent >= ENOUGH_IF_HEARD):
            if sent < PROBES:
                self._send(frame)
                sent += 1
            wait_s = LAST_S if sent >= ENOUGH_IF_HEARD and owners else EVERY_S
            await asyncio.sleep(min(wait_s, end.left()))
        return Heard(tuple(owners), self._cut_short(sent, end, deadline, heard=bool(owners)))

    def _send(self, frame: bytes) -> None:
        try:
            self._socket.send(frame)
        except OSError as error:
            raise Unable(f"ARP: {error.strerror}") from error

    def _cut_short(self, sent: int, end: Deadline, deadline: Deadline, *, heard: bool) -> str:
        if not self._sniffer.running:
            return "ARP: listening came to an early end"
        if sent < ENOUGH_IF_HEARD or (not heard and end.at == deadline.at):
            return "ARP: the run's time was up before an answer was due"
        return ""

    def _hear(self, packet: Any) -> None:
        """In the sniffer's thread."""
        claim = claimed(packet)
        if claim and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._note, *claim)

    def _note(self, address: str, mac: str) -> None:
        owners = self._owners.get(address)
        if owners is not None and len(owners) < MOST_OWNERS:
            owners.setdefault(mac)


def probe_frame(mac: str, address: str) -> bytes:
    """An ARP probe for an IPv4 address in an Ethernet frame."""
    from scapy.layers.l2 import ARP, Ether

    question = ARP(op="who-has", hwsrc=mac, psrc="0.0.0.0", hwdst=_NOBODY, pdst=address)  # noqa: S104 - nobody's address
    return bytes(Ether(src=mac, dst=_BROADCAST) / question)


def claimed(packet: Any) -> tuple[str, str] | None:
    """The address that the sender of a frame says is its own, and its hardware address. A question says it as well as
    an answer does (RFC 5227 s2.1.1); a probe claims nothing."""
    from scapy.layers.l2 import ARP

    said = packet.getlayer(ARP)
    if said is None or (said.hwtype, said.ptype, said.hwlen, said.plen) != (1, 0x0800, 6, 4):
        return None
    return str(said.psrc), str(said.hwsrc).lower()
