"""``netcheck find``: the printers that can be seen from here.

One multicast question goes to each of our own links, and whoever answered it is asked what it is, with the questions
that ``read`` asks. A site's leave for scanning is therefore not needed. Loopback is always one of our links, so the
devices of a held rehearsal are found as any others are.

Nothing is scanned but a network that the user names (see `scanning`). Whoever is found there is asked at once, so that
an interrupted scan has its answers too, and is one row with what was heard.
"""

import asyncio
import sys
import time
from collections.abc import AsyncIterator, Iterable, Iterator, Sequence
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import click
import msgspec

from netcheck.cli import INTERRUPTED, emit
from netcheck.collect import Recorder, collect
from netcheck.commands.scanning import KNOCKS, PER_S, SNMP, Hit, Scan
from netcheck.commands.telling import check_savable, is_terminal, write_whole
from netcheck.credentials import community
from netcheck.facts.identity import Model, Serial, Uuid
from netcheck.facts.link import Advertisement, Neighbour, OwnInterfaceRow, OwnInterfaces
from netcheck.finding.document import Found, found
from netcheck.finding.merging import Device, merged
from netcheck.finding.network import addresses_of, never_asked, parse_network
from netcheck.finding.sighting import Offered, Sighting, announced, answered, is_loopback, place_of, scanned
from netcheck.place import DEFAULT_PORTS, parse_host
from netcheck.probing import NAMES_FIRST, Probe, Target, installed
from netcheck.report.found import render_found
from netcheck.roles import Outcome, Role
from netcheck.wire import Wire

NOTHING_SEEN: Final = 3
ASK_S: Final = 3.0
"""For one device. Whoever answers does so within milliseconds; silence costs this once: all are asked together."""
AT_ONCE: Final = 32
REDRAWN_S: Final = 0.1
_LINE: Final = 72
MOST_PORTS: Final = 4
MOST: Final = 512
"""Devices that are asked. More on one link than any site has: somebody is making them up."""
_LISTENS: Final = {Advertisement, OwnInterfaces}
_IDENTIFIES: Final = {Model, Serial, Uuid, Neighbour}


@dataclass(frozen=True, slots=True)
class Asked:
    """A device that is asked what it is. ``ipp`` is the port where IPP is tried unannounced, 0 where it is not."""

    target: Target
    place: str
    ipp: int = 0
    recorder: Recorder = field(default_factory=Recorder)


@dataclass
class Looking:
    """What was seen so far. It belongs to the caller, so that an interrupted look loses nothing."""

    scan: Scan | None = None
    here: Recorder = field(default_factory=Recorder)
    asked: list[Asked] = field(default_factory=list)

    def devices(self) -> tuple[Device, ...]:
        """The devices, as far as they are known by now."""
        return merged(self._sightings())

    def found(self) -> Found:
        """The document."""
        recorders = [self.here, *(each.recorder for each in self.asked)]
        attempts = [attempt for each in recorders for attempt in each.attempts]
        if self.scan:
            attempts = [self.scan.attempt(), *self.scan.denials, *attempts]
        own = frozenset(row.address for row in self.interfaces())
        return found(time.time_ns() // 1_000_000, self.devices(), attempts, own)

    def interfaces(self) -> list[OwnInterfaceRow]:
        """Our own, as far as they are known by now."""
        seen = [item for item in self.here.observations if item.kind == OwnInterfaces.kind]
        return [row for item in seen for row in msgspec.convert(item.value, OwnInterfaces).rows]

    def _sightings(self) -> Iterable[Sighting]:
        yield from announced(self.here.observations)
        for hit in self.scan.hits if self.scan else ():
            yield scanned(hit.address, place_of(hit.address, KNOCKS["ipp"]), hit.ports.values())
        for each in self.asked:
            if seen := answered(each.target.host, each.place, each.recorder.observations, each.ipp):
                yield seen


def run_find(
    as_json: bool,
    save: Path | None,
    quiet: bool,
    no_color: bool,  # noqa: ARG001 - the page has no colour that could be left out
    timeout: float,
    scan: str | None = None,
) -> int:
    """Exit code 0, or 3 when nothing was seen. Raises InputError."""
    check_savable(save)
    looking, interrupted = Looking(_scan_of(scan) if scan is not None else None), False
    try:
        asyncio.run(look(looking, list(installed()), timeout))
    except KeyboardInterrupt:
        interrupted = True
        far = f" after {looking.scan.progress}" if looking.scan else ""
        click.echo(f"netcheck: interrupted{far}; this is what had been seen", err=True)
    document = looking.found()
    if save:
        write_whole(save, document.encode())
    if as_json:
        emit(document.encode())
    else:
        page = render_found(document)
        emit(page.partition("\n")[0] + "\n" if quiet else page)
    if interrupted:
        return INTERRUPTED
    return 0 if document.devices else NOTHING_SEEN


def _scan_of(text: str) -> Scan:
    """The scan of the network that was named; says on stderr what it needs, because it needs nobody's hand to run."""
    scan = Scan(network := parse_network(text), community(""), addresses_of(network))
    click.echo(
        f"netcheck: asking every address of {network}, at most {PER_S} a second, about {scan.about_s:.0f} s.\n"
        "netcheck: Scan only with the leave of whoever runs this network: it is seen, and may raise an alarm.",
        err=True,
    )
    return scan


async def look(looking: Looking, probes: Sequence[Probe[Any]], limit_s: float) -> None:
    """Listen, then ask those who were heard, all within ``limit_s`` seconds; meanwhile scan, and ask those who are
    there within as many from when they were met. So a scan's own time comes on top."""
    until = time.monotonic() + limit_s
    listening = [probe for probe in probes if Role.HERE in probe.roles and probe.provides & _LISTENS]
    async with Wire() as wire, _shown(looking.scan):
        await collect([Target(Role.HERE, "")], listening, looking.here, limit_s, wire)
        limit = asyncio.Semaphore(AT_ONCE)
        async with asyncio.TaskGroup() as group:

            def ask(each: Asked, until: float) -> None:
                looking.asked.append(each)
                group.create_task(_ask(each, _fitting(probes, each.target), until, wire, limit))

            for each in (heard := _targets(looking.devices())):
                ask(each, until)
            known = {each.target.host for each in heard}

            def met(hit: Hit) -> None:
                if hit.address not in known:
                    ask(_asked(hit), time.monotonic() + limit_s)

            if looking.scan:
                await looking.scan.run(never_asked(looking.interfaces()), probes, wire, met)


@asynccontextmanager
async def _shown(scan: Scan | None) -> AsyncIterator[None]:
    """Meanwhile how far a scan is, on a terminal: one line, which is gone afterwards."""
    if not (scan and is_terminal(sys.stderr)):
        yield
        return

    async def show() -> None:
        while True:
            click.echo(f"\r{scan.progress:<{_LINE}}", nl=False, err=True)
            await asyncio.sleep(REDRAWN_S)

    showing = asyncio.create_task(show())
    try:
        yield
    finally:
        showing.cancel()
        click.echo(f"\r{'':<{_LINE}}\r", nl=False, err=True)


async def _ask(asked: Asked, probes: list[Probe[Any]], until: float, wire: Wire, limit: asyncio.Semaphore) -> None:
    async with limit:
        if (left := min(ASK_S, until - time.monotonic())) > 0:
            await collect([asked.target], probes, asked.recorder, left, wire)


def _targets(devices: Iterable[Device]) -> list[Asked]:
    """Whom to ask of those that announce themselves: a device at each of its IPv4 addresses, for want of one at
    another."""
    targets = [
        Asked(target, place_of(address, target.ports["ipp"]))
        for device in devices
        if device.prints and device.announced
        for address in _askable(device.addresses)
        for target in _at(address, device)
    ]
    return targets[:MOST]


def _askable(addresses: Iterable[str]) -> list[str]:
    """IPv4 where there is any, else one other; nothing that no single device can have, whatever was announced."""
    usable = []
    for address in addresses:
        with suppress(ValueError):
            usable.append(parse_host(address))
    return [address for address in usable if ":" not in address] or usable[:1]


def _at(address: str, device: Device) -> Iterator[Target]:
    """A device at one address, once for each port at which it says that it takes IPP. On loopback nothing else is
    asked: the usual ports there are this machine's own."""
    told = {each.port: each for each in device.offered if each.service == "ipp"}
    if is_loopback(address):
        usual = {}
    else:
        usual = {"snmp": DEFAULT_PORTS["snmp"]}
        told = told or {DEFAULT_PORTS["ipp"]: Offered("ipp", DEFAULT_PORTS["ipp"])}
    secure = {each.service: each.port for each in device.offered if each.service == "ipps"}
    for port, offered in list(told.items())[:MOST_PORTS]:
        yield Target(
            Role.DEVICE, address, ports={"ipp": port, **secure, **usual}, path=offered.path, community=community("")
        )


def _asked(hit: Hit) -> Asked:
    """Whom a scan has met: asked where it answered, and by SNMP unless nobody listens there, or not to us."""
    ports = {service: port for service, port in hit.ports.items() if service == "ipp"}
    if hit.snmp not in {Outcome.REFUSED, Outcome.DENIED}:
        ports["snmp"] = SNMP
    target = Target(Role.DEVICE, hit.address, ports=ports, community=community(""))
    return Asked(target, place_of(hit.address, KNOCKS["ipp"]), ports.get("ipp", 0))


def _fitting(probes: Iterable[Probe[Any]], target: Target) -> list[Probe[Any]]:
    """The probes that tell which device it is, and those that they need to get there."""
    return [
        probe
        for probe in probes
        if Role.DEVICE in probe.roles
        and Advertisement not in probe.provides
        and (probe.wave == NAMES_FIRST or probe.provides & _IDENTIFIES)
        and (not probe.services or any(service in target.ports for service in probe.services))
    ]
