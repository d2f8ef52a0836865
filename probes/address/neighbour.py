"""Who answers for an address on our own link: asked on the wire where we may, else what our system remembers."""

import asyncio
import time
from collections.abc import AsyncGenerator, Awaitable, Callable
from contextlib import suppress
from dataclasses import dataclass

from msgspec.structs import replace

from netcheck.facts.link import Neighbour, OwnGateways, OwnInterfaces, Route
from netcheck.facts.network import IppService, Service, SnmpAgent
from netcheck.probing import Answer, Deadline, Miss, Target
from netcheck.roles import Outcome
from netcheck.wire import Wire
from netcheck.words import join

from .netlink import Entry
from .own import OwnNetwork
from .table import Unreadable, entry_of
from .wires import LISTEN_S, Unable, Wires, language_of

Payload = OwnInterfaces | OwnGateways | Route | Neighbour
Reply = Answer[Payload] | Miss

KERNEL_GIVES_UP_S = 4.0
"""A system asks three times, a second apart, before it gives an address up (Linux: mcast_solicit, retrans_time_ms)."""
LOOK_AGAIN_S = 0.1
OVERHEAR_S = 2.6
"""How long, from the first connect on, a device is overheard that answers nothing: the ports probe waits nearly as long
for that, and a device that looks for its way meanwhile asks once a second (RFC 1122 s2.3.2.1)."""
ONE_ONLY = "a neighbour table holds one owner at most: a second one would not show"
_REMEMBERED = "remembered by our system, and not confirmed of late"
_UNSETTLED = {"incomplete", ""}


@dataclass(frozen=True, slots=True)
class Question:
    """Who has an address. The answer is a fact of ``kind``; nobody is listened for during ``listen_s``.

    ``stirred`` waits until our system has tried to send there, for so many seconds at most, and says whether it has (it
    may raise `Unreadable`). ``overheard`` waits while what an owner asks for itself may still be heard.
    """

    address: str
    way: Route
    stirred: Callable[[float], Awaitable[bool]]
    overheard: Callable[[float], Awaitable[None]] | None = None
    kind: type[Neighbour] = Neighbour
    listen_s: float = LISTEN_S

    @property
    def bare(self) -> str:
        """The address without its zone."""
        return self.address.partition("%")[0]


def of_device(target: Target, way: Route) -> Question:
    """Who has the device's address. The other probes make our system send there; nothing is sent for it from here."""
    began = time.monotonic()

    async def stirred(within_s: float) -> bool:
        return bool(await target.learnt.wait_for(Service, within_s))

    async def overheard(within_s: float) -> None:
        end = min(began + OVERHEAR_S, time.monotonic() + within_s)
        while not _answers(target) and (left := end - time.monotonic()) > 0:
            await target.learnt.wait_for(Service, min(LOOK_AGAIN_S, left))

    return Question(target.address, way, stirred, overheard)


def _answers(target: Target) -> bool:
    """Has the device answered anything, or been given up?"""
    return any(target.learnt.of(kind) for kind in (Service, SnmpAgent, IppService))


def not_asked(address: str, way: Route, own: OwnNetwork) -> str:
    """Why the question has no answer from here; "" where it has one."""
    if not way.source:
        return "our system has no way there"
    if way.source == address.partition("%")[0]:
        return "it is our own address"
    if not way.on_link:
        return f"it is behind a router, seen from {way.source}: only its own link knows who answers for it"
    if not own.mac_of(way.interface):
        return f"{way.interface} has no hardware addresses: no neighbours are asked for on it"
    if own.is_down(way.interface):
        return f"the link of {way.interface} is down"
    return ""


async def ask(question: Question, own: OwnNetwork, wire: Wire, deadline: Deadline) -> AsyncGenerator[Reply, None]:
    """Ask by both ways, or by the second alone where the first is closed to us."""
    began, about = time.monotonic(), f"who answers for {question.address}"
    if reason := not_asked(question.address, question.way, own):
        yield Miss(about, Outcome.NOT_TRIED, reason, began)
        return
    known, heard, unable = None, None, ""
    on_the_wire = f"{about}, by {language_of(question.bare).name}"
    with suppress(Unreadable):
        # First of all: an answer that our own question brings mends what the system remembers (Linux).
        known = await _remembered(question)
    try:
        heard = await _on_the_wire(question, own, wire, deadline)
        yield Answer(on_the_wire, heard, began, heard.reason)
    except Unable as error:
        unable = str(error)
        yield Miss(on_the_wire, Outcome.NOT_TRIED, unable, began)
    try:
        if heard is None:
            known = await _settled(question, deadline)
        elif not heard.macs:
            known = await _remembered(question)
    except Unreadable as error:
        yield Miss(f"{about}, by the neighbour table", Outcome.FAILED, str(error), began)
        return
    if known:
        known = replace(known, reason=join([unable, known.reason], "; "))
        yield Answer(f"{about}, by the neighbour table", known, began, known.reason)


async def _on_the_wire(question: Question, own: OwnNetwork, wire: Wire, deadline: Deadline) -> Neighbour:
    """Ask by ARP or neighbour discovery. Raises `Unable`."""
    interface, bare = question.way.interface, question.bare
    wires = await wire.shared(Wires, Wires.make)
    heard = await wires.ask(interface, own.mac_of(interface), bare, deadline, question.listen_s)
    asks: tuple[str, ...] = ()
    if heard.macs and question.overheard:
        await question.overheard(deadline.left())
        asks = wires.asked_by(interface, bare, heard.macs)
    method, cut_short = language_of(bare).method, heard.cut_short
    return question.kind(question.address, heard.macs, method, not cut_short, cut_short, asks=asks)


async def _remembered(question: Question) -> Neighbour | None:
    """What our system remembers at this moment, where it names an owner. Raises `Unreadable`."""
    entry = await entry_of(question.address, question.way.interface)
    return from_table(question, entry) if entry and entry.mac else None


async def _settled(question: Question, deadline: Deadline) -> Neighbour:
    """What our system remembers once it has found out: that somebody is there, or that it asked in vain. Raises
    `Unreadable`."""
    end = Deadline(min(deadline.at, time.monotonic() + KERNEL_GIVES_UP_S))
    # An entry from before our system last tried to send may be of anytime.
    asked = await question.stirred(end.left())
    entry = await entry_of(question.address, question.way.interface)
    while end.left() and (entry is None or (not entry.mac and entry.state in _UNSETTLED)):
        await asyncio.sleep(min(LOOK_AGAIN_S, end.left()))
        entry = await entry_of(question.address, question.way.interface)
    return from_table(question, entry, asked=asked)


def from_table(question: Question, entry: Entry | None, *, asked: bool = False) -> Neighbour:
    """A table's row, or its absence, as a fact. ``asked``: our system has tried to send there since the run began."""
    if entry is None:
        return _told(question, "", "our system has not asked for it")
    if entry.mac:
        sure = entry.state in {"reachable", "permanent"}
        return _told(question, entry.state, ONE_ONLY if sure else f"{_REMEMBERED}; {ONE_ONLY}", entry.mac)
    if entry.state == "failed" and asked:
        return replace(_told(question, entry.state, ""), complete=True)
    return _told(question, entry.state, "our system had no answer yet")


def _told(question: Question, state: str, reason: str, *macs: str) -> Neighbour:
    return question.kind(question.address, macs, "neighbour-table", complete=False, reason=reason, state=state)
