"""Who answers for an address on our own link: asked on the wire where we may, else what our system remembers."""

import asyncio
import time
from collections.abc import AsyncGenerator
from contextlib import suppress

from msgspec.structs import replace

from netcheck.facts.link import Neighbour, OwnGateways, OwnInterfaces, Route
from netcheck.facts.network import Service
from netcheck.probing import Answer, Deadline, Miss, Target
from netcheck.roles import Outcome
from netcheck.wire import Wire
from netcheck.words import join

from .arp import Unable, Wires
from .netlink import Entry
from .own import OwnNetwork
from .table import Unreadable, entry_of

Payload = OwnInterfaces | OwnGateways | Route | Neighbour
Reply = Answer[Payload] | Miss

KERNEL_GIVES_UP_S = 4.0
"""A system asks three times, a second apart, before it gives an address up (Linux: mcast_solicit, retrans_time_ms)."""
LOOK_AGAIN_S = 0.1
ONE_ONLY = "a neighbour table holds one owner at most: a second one would not show"
_REMEMBERED = "remembered by our system, and not confirmed of late"
_UNSETTLED = {"incomplete", ""}


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


async def ask(
    target: Target, way: Route, own: OwnNetwork, wire: Wire, deadline: Deadline
) -> AsyncGenerator[Reply, None]:
    """Ask by both ways, or by the second alone where the first is closed to us."""
    began, about = time.monotonic(), f"who answers for {target.address}"
    if reason := not_asked(target.address, way, own):
        yield Miss(about, Outcome.NOT_TRIED, reason, began)
        return
    known, heard, unable = None, None, ""
    with suppress(Unreadable):
        # First of all: an answer that our own question brings mends what the system remembers (Linux).
        known = await _remembered(target, way)
    try:
        heard = await _on_the_wire(target, way, own, wire, deadline)
        yield Answer(f"{about}, by ARP", heard, began, heard.reason)
    except Unable as error:
        unable = str(error)
        yield Miss(f"{about}, by ARP", Outcome.NOT_TRIED, unable, began)
    try:
        if heard is None:
            known = await _settled(target, way, deadline)
        elif not heard.macs:
            known = await _remembered(target, way)
    except Unreadable as error:
        yield Miss(f"{about}, by the neighbour table", Outcome.FAILED, str(error), began)
        return
    if known:
        known = replace(known, reason=join([unable, known.reason], "; "))
        yield Answer(f"{about}, by the neighbour table", known, began, known.reason)


async def _on_the_wire(target: Target, way: Route, own: OwnNetwork, wire: Wire, deadline: Deadline) -> Neighbour:
    """Ask by ARP. Raises `Unable`."""
    if ":" in target.address:
        raise Unable("IPv6 neighbours are not asked on the wire")
    wires = await wire.shared(Wires, Wires.make)
    heard = await wires.ask(way.interface, own.mac_of(way.interface), target.address, deadline)
    return Neighbour(target.address, heard.macs, "arp", not heard.cut_short, heard.cut_short)


async def _remembered(target: Target, way: Route) -> Neighbour | None:
    """What our system remembers at this moment, where it names an owner. Raises `Unreadable`."""
    entry = await entry_of(target.address, way.interface)
    return from_table(target.address, entry) if entry and entry.mac else None


async def _settled(target: Target, way: Route, deadline: Deadline) -> Neighbour:
    """What our system remembers once it has found out: that somebody is there, or that it asked in vain. The ports
    probe makes it ask; nothing is sent from here. Raises `Unreadable`."""
    end = Deadline(min(deadline.at, time.monotonic() + KERNEL_GIVES_UP_S))
    # An entry from before the ports probe's first connect may be of anytime.
    asked = bool(await target.learnt.wait_for(Service, end.left()))
    entry = await entry_of(target.address, way.interface)
    while end.left() and (entry is None or (not entry.mac and entry.state in _UNSETTLED)):
        await asyncio.sleep(min(LOOK_AGAIN_S, end.left()))
        entry = await entry_of(target.address, way.interface)
    return from_table(target.address, entry, asked=asked)


def from_table(address: str, entry: Entry | None, *, asked: bool = False) -> Neighbour:
    """A table's row, or its absence, as a fact. ``asked``: our system has tried to send there since the run began."""
    if entry is None:
        return _told(address, "", "our system has not asked for it")
    if entry.mac:
        sure = entry.state in {"reachable", "permanent"}
        return _told(address, entry.state, ONE_ONLY if sure else f"{_REMEMBERED}; {ONE_ONLY}", entry.mac)
    if entry.state == "failed" and asked:
        return Neighbour(address, (), "neighbour-table", complete=True, state=entry.state)
    return _told(address, entry.state, "our system had no answer yet")


def _told(address: str, state: str, reason: str, *macs: str) -> Neighbour:
    return Neighbour(address, macs, "neighbour-table", complete=False, reason=reason, state=state)
