"""Stage: ask. Which of all that is heard is told, and when it is enough.

For ``here`` everything that comes within the window is told. A device gets only what is its own: an instance that leads
to its address or to its host name; once that has come, nobody waits for more. On loopback a device is an address and a
port, since all devices there have one address, and nothing is sent to any other link.
"""

import asyncio
import errno
import ipaddress
import os
import time
from collections.abc import AsyncGenerator, Sequence
from contextlib import aclosing
from importlib import import_module
from typing import TYPE_CHECKING, Final, TypeAlias

import msgspec

from netcheck.facts.network import Service
from netcheck.probing import Answer, Deadline, Miss, Target
from netcheck.roles import Outcome, Role
from netcheck.wire import Wire
from probes.dnssd.instance import Instance, Place

if TYPE_CHECKING:
    from probes.dnssd.browsing import Browser

WINDOW_S: Final = 2.0
"""Holds the first question and its repetition after a second (RFC 6762 s5.2), with time to answer (s6: 120 ms)."""
ANSWERED_WINDOW_S: Final = 0.4
"""For a device that answers otherwise, and so is no riddle: three times what an answer takes (RFC 6762 s6)."""
LOOPBACK_WINDOW_S: Final = 1.2
"""Nothing gets lost on loopback: the first question is enough, and what its answers leave out. But who answers shares
this machine's processor with us and with whatever else it does."""
MARGIN_S: Final = 0.05
"""Left of the deadline to say what was not heard."""
ASKED: Final = "multicast DNS"
_NAMED: Final = 3

Reply: TypeAlias = Answer[tuple[Instance, ...]] | Miss


async def ask(target: Target, wire: Wire, deadline: Deadline) -> AsyncGenerator[Reply, None]:
    """What is new, each time that it gets quiet; a miss when nothing was the target's."""
    began = time.monotonic()
    here = target.role is Role.HERE
    if not here and not target.host:
        return  # it is not on the network
    local = _is_loopback(target.address or target.host)
    try:
        browser, fault = await _browser(wire, local=local)
    except OSError as error:
        yield _cannot_listen(error, began)
        return
    if fault:
        yield Miss(ASKED, Outcome.UNREACHABLE, f"multicast cannot be sent: {_in_words(fault)}", began)
        if not here:
            return
    until = min(began + (LOOPBACK_WINDOW_S if local or fault else WINDOW_S), deadline.at - MARGIN_S)
    async with aclosing(_heard(target, browser, began, until, local=local or bool(fault))) as replies:
        async for reply in replies:
            if not (fault and isinstance(reply, Miss)):
                yield reply


async def _heard(
    target: Target, browser: "Browser", began: float, until: float, *, local: bool
) -> AsyncGenerator[Reply, None]:
    """What is the target's of what comes until then; on loopback, or for a device, until the first of it is there."""
    here = target.role is Role.HERE
    version, told = 0, dict[str, Instance]()
    # Not from `began` on: the library had to be loaded first.
    soon = until if local else min(until, time.monotonic() + ANSWERED_WINDOW_S)
    while True:
        version = await browser.settled(version, soon if time.monotonic() < soon else until)
        over = time.monotonic() >= (soon if _answers(target) else until)
        heard = browser.instances()
        own = [each for each in heard if each.places] if here else _own(heard, target, local=local)
        news = tuple(each for each in own if (over or each.complete) and told.get(each.name) != each)
        told.update((each.name, each) for each in news)
        if news:
            yield Answer(ASKED, news, began)
        if over or (told and (local or not here) and all(each.complete for each in (heard if here else own))):
            break
        await browser.resolve(until)
    if not told:
        yield Miss(ASKED, Outcome.SILENT, _silence(heard, time.monotonic() - began), began)
    elif here and (lost := [each.name for each in heard if not each.places]):
        reason = f"announced, but nobody says where: {', '.join(lost[:_NAMED])}"
        yield Miss(ASKED, Outcome.SILENT, reason + (" and more" if lost[_NAMED:] else ""), began)


def _answers(target: Target) -> bool:
    """Is a service of it open, as another probe learnt?"""
    return any(service.state == "open" for service in target.learnt.of(Service))


async def _browser(wire: Wire, *, local: bool) -> tuple["Browser", OSError | None]:
    """The run's browser, and why it reaches nobody but this machine where that is so. The library is loaded in a
    thread: meanwhile other probes measure times in this loop."""
    await asyncio.to_thread(import_module, "probes.dnssd.browsing")
    from probes.dnssd.browsing import Loopback, Network

    kind = Loopback if local else Network
    ears = await wire.shared(kind, kind.open)
    return await ears.browser(), ears.fault


def _own(heard: Sequence[Instance], target: Target, *, local: bool) -> list[Instance]:
    """The target's instances, each with the place that is the target's before any other that claims the name."""
    named, address = _bare(target.host), target.address.partition("%")[0]

    def is_its(place: Place) -> bool:
        if local and place.port not in target.ports.values():
            return False
        return address in place.addresses or _bare(place.host) == named

    return [
        msgspec.structs.replace(each, places=tuple(sorted(each.places, key=lambda place: not is_its(place))))
        for each in heard
        if any(map(is_its, each.places))
    ]


def _bare(host: str) -> str:
    return host.removesuffix(".").casefold()


def _is_loopback(host: str) -> bool:
    try:
        return ipaddress.ip_address(host.partition("%")[0]).is_loopback
    except ValueError:
        return host.casefold() == "localhost"


def _cannot_listen(error: OSError, began: float) -> Miss:
    taken = "another program keeps port 5353 to itself: " if error.errno == errno.EADDRINUSE else ""
    return Miss(ASKED, Outcome.FAILED, f"cannot listen: {taken}{_in_words(error)}", began)


def _in_words(error: OSError) -> str:
    return f"{os.strerror(error.errno or 0)} ({errno.errorcode.get(error.errno or 0, error.errno)})"


def _silence(heard: Sequence[Instance], waited_s: float) -> str:
    others = f"; {len(heard)} others were heard" if heard else ""
    return f"no answer in {waited_s:.1f} s{others}"
