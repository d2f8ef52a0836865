"""Asking on the wire, for all targets of a run: one packet socket an interface and way of asking, one question an
address however many want to know.

Who owns an address is heard for as long as somebody asks for it; what its owners themselves ask for (ARP requests), for
as long as the run lasts.
"""

import asyncio
import time
from collections.abc import Iterable
from dataclasses import dataclass, field

from netcheck.probing import Deadline

from .arp import ARP
from .nd import ND
from .packets import Packets, Unable, opened
from .saying import Language, Said

__all__ = ["ASIDE_S", "LISTEN_S", "Heard", "Unable", "Wires", "language_of"]

PROBES, EVERY_S = 3, 0.5
"""RFC 5227 s1.1: three probes (PROBE_NUM) before an address counts as free, and RFC 4861 s10 as many solicitations;
sent closer together than their second or two because a technician waits."""
ENOUGH_IF_HEARD, LAST_S = 2, 0.25
"""Where somebody answered: the second probe is for a second owner, whose answer to the first one was lost, and this is
how long that owner has (a link answers in milliseconds, one that sleeps between beacons in some hundreds; common
practice, no source)."""
LISTEN_S = 2.5
"""How long to wait for somebody at all: the ports probe waits as long for a device that is silent."""
ASIDE_S = 1.5
"""The same where nothing else of the run waits for that address: half a second after the last probe."""
MOST_OWNERS = 16
"""More hardware addresses than that for one address are a fault of the network, and no better known by counting on."""
MOST_ASKS = 8


def language_of(address: str) -> Language:
    """How an address is asked for."""
    return ND if ":" in address else ARP


@dataclass(frozen=True, slots=True)
class Heard:
    """Who answered, in the order of hearing. ``cut_short`` says why the question was not asked to its end."""

    macs: tuple[str, ...]
    cut_short: str = ""


class Wires:
    """All packet sockets of a run. ``make`` is awaited by the wire that owns them."""

    def __init__(self) -> None:
        self._listeners: dict[tuple[str, str], Listener] = {}

    @classmethod
    async def make(cls) -> "Wires":
        """Nothing is opened before it is needed."""
        return cls()

    async def close(self) -> None:
        """Stop listening."""
        for listener in self._listeners.values():
            listener.close()

    async def ask(self, interface: str, mac: str, address: str, deadline: Deadline, listen_s: float) -> Heard:
        """Ask for the owners of an address without zone. Raises `Unable`."""
        language = language_of(address)
        key = interface, language.method
        if key not in self._listeners:
            self._listeners[key] = Listener(interface, mac, language)
        return await self._listeners[key].ask(address, deadline, listen_s)

    def asked_by(self, interface: str, address: str, macs: Iterable[str]) -> tuple[str, ...]:
        """What these owners of an address were heard to ask for themselves so far."""
        return self._listeners[interface, language_of(address).method].asked_by(macs)


@dataclass
class _About:
    """One address: who owns it, how often and when last it was asked for, and how many wait for that."""

    owners: dict[str, None] = field(default_factory=dict)
    sent: int = 0
    last: float = 0.0
    waiting: int = 0

    def is_settled(self) -> bool:
        """Was it asked for often enough?"""
        return bool(self.owners) and self.sent >= ENOUGH_IF_HEARD


class Listener:
    """One interface and way of asking: sends probes, and notes who says that an address is its own."""

    def __init__(self, interface: str, mac: str, language: Language) -> None:
        self._mac, self._language = mac, language
        self._about: dict[str, _About] = {}
        self._asks: dict[str, dict[str, None]] = {}
        self._what = f"{interface} was not open for {language.name}"
        self._opening: asyncio.Future[Packets] = Packets.opening(interface, language, self.hear)

    def close(self) -> None:
        """Stop listening."""
        if self._opening.done() and not self._opening.cancelled() and self._opening.exception() is None:
            self._opening.result().close()

    async def ask(self, address: str, deadline: Deadline, listen_s: float) -> Heard:
        """Send the probes that nobody else sends, and wait for owners. Raises `Unable` where it cannot."""
        packets = await opened(self._opening, self._what, deadline)
        about = self._about_now(address)
        end = Deadline(min(deadline.at, time.monotonic() + listen_s))
        about.waiting += 1
        try:
            while end.left() and packets.listens:
                wait_s = self._turn(about, address, packets)
                if not wait_s:
                    break
                await asyncio.sleep(min(wait_s, end.left()))
        finally:
            about.waiting -= 1
        return Heard(tuple(about.owners), self._cut_short(about, end, deadline, listens=packets.listens))

    def _about_now(self, address: str) -> _About:
        """What is known of an address; nothing that is older than a question takes."""
        about = self._about.get(address)
        if about is None or not (about.waiting or time.monotonic() - about.last < LISTEN_S):
            about = self._about[address] = _About()
        return about

    def _turn(self, about: _About, address: str, packets: Packets) -> float:
        """Send what is due; seconds until there may be more to do, 0.0 where there is not."""
        now = time.monotonic()
        if not about.is_settled() and about.sent < PROBES and now - about.last >= EVERY_S:
            packets.send(self._language.question(self._mac, address))
            about.sent, about.last = about.sent + 1, now
        if about.is_settled():
            return max(0.0, about.last + LAST_S - now)
        left = about.last + EVERY_S - now
        return left if left > 0 else EVERY_S

    def _cut_short(self, about: _About, end: Deadline, deadline: Deadline, *, listens: bool) -> str:
        name = self._language.name
        if not listens:
            return f"{name}: listening came to an early end"
        if about.sent < ENOUGH_IF_HEARD or (not about.owners and end.at == deadline.at):
            return f"{name}: the run's time was up before an answer was due"
        return ""

    def asked_by(self, macs: Iterable[str]) -> tuple[str, ...]:
        """See `Wires.asked_by`."""
        asks = dict.fromkeys(asked for mac in macs for asked in self._asks.get(mac, ()))
        return tuple(asks)[:MOST_ASKS]

    def hear(self, said: Said) -> None:
        """Note a frame: what it says of an address that is asked for, and what an owner of one asks for itself."""
        about = self._about.get(said.address)
        if about is not None and len(about.owners) < MOST_OWNERS:
            about.owners.setdefault(said.mac)
            self._asks.setdefault(said.mac, {})
        asks = self._asks.get(said.mac)
        if said.asks and asks is not None and len(asks) < MOST_ASKS:
            asks.setdefault(said.asks)
