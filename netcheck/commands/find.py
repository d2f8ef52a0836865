"""``netcheck find``: the printers that can be seen from here.

Nothing is scanned. One multicast question goes to each of our own links, and whoever answered it is asked what it is,
with the questions that ``read`` asks. A site's leave for scanning is therefore not needed. Loopback is always one of
our links, so the devices of a held rehearsal are found as any others are.
"""

import asyncio
import time
from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import click
import msgspec

from netcheck.cli import INTERRUPTED, emit
from netcheck.collect import Recorder, collect
from netcheck.commands.telling import write_whole
from netcheck.credentials import community
from netcheck.facts.identity import Model, Serial, Uuid
from netcheck.facts.link import Advertisement, Neighbour, OwnInterfaces
from netcheck.facts.network import SnmpAgent
from netcheck.finding.document import Found, found
from netcheck.finding.merging import Device, merged
from netcheck.finding.sighting import Offered, Sighting, announced, answered, is_loopback, place_of
from netcheck.place import DEFAULT_PORTS, parse_host
from netcheck.probing import NAMES_FIRST, Probe, Target, installed
from netcheck.report.found import render_found
from netcheck.roles import Role
from netcheck.wire import Wire

NOTHING_SEEN: Final = 3
ASK_S: Final = 3.0
"""For one device. Whoever answers does so within milliseconds; silence costs this once: all are asked together."""
AT_ONCE: Final = 32
MOST_PORTS: Final = 4
MOST: Final = 512
"""Devices that are asked. More on one link than any site has: somebody is making them up."""
_LISTENS: Final = {Advertisement, OwnInterfaces}
_IDENTIFIES: Final = {Model, Serial, Uuid, Neighbour}


@dataclass
class Looking:
    """What was seen so far. It belongs to the caller, so that an interrupted look loses nothing."""

    here: Recorder = field(default_factory=Recorder)
    asked: list[tuple[Target, str, Recorder]] = field(default_factory=list)

    def devices(self) -> tuple[Device, ...]:
        """The devices, as far as they are known by now."""
        return merged(self._sightings())

    def found(self) -> Found:
        """The document."""
        own = {row.address for each in self._own() for row in each.rows}
        recorders = [self.here, *(recorder for *_, recorder in self.asked)]
        attempts = [attempt for each in recorders for attempt in each.attempts]
        return found(time.time_ns() // 1_000_000, self.devices(), attempts, frozenset(own))

    def _sightings(self) -> Iterable[Sighting]:
        yield from announced(self.here.observations)
        for target, place, recorder in self.asked:
            if seen := answered(target.host, place, recorder.observations):
                yield seen

    def _own(self) -> list[OwnInterfaces]:
        seen = [item for item in self.here.observations if item.kind == OwnInterfaces.kind]
        return [msgspec.convert(item.value, OwnInterfaces) for item in seen]


def run_find(
    as_json: bool,
    save: Path | None,
    quiet: bool,
    no_color: bool,  # noqa: ARG001 - the page has no colour that could be left out
    timeout: float,
) -> int:
    """Exit code 0, or 3 when nothing was seen."""
    looking, interrupted = Looking(), False
    try:
        asyncio.run(look(looking, list(installed()), timeout))
    except KeyboardInterrupt:
        interrupted = True
        click.echo("netcheck: interrupted; this is what had been seen", err=True)
    document = looking.found()
    if save:
        write_whole(save, document.encode())
    text = document.encode().decode() if as_json else render_found(document)
    emit(text.partition("\n")[0] + "\n" if quiet and not as_json else text)
    if interrupted:
        return INTERRUPTED
    return 0 if document.devices else NOTHING_SEEN


async def look(looking: Looking, probes: Sequence[Probe[Any]], limit_s: float) -> None:
    """Listen, then ask those who were heard; all within ``limit_s`` seconds."""
    until = time.monotonic() + limit_s
    listening = [probe for probe in probes if Role.HERE in probe.roles and probe.provides & _LISTENS]
    async with Wire() as wire:
        await collect([Target(Role.HERE, "")], listening, looking.here, limit_s, wire)
        limit = asyncio.Semaphore(AT_ONCE)
        async with asyncio.TaskGroup() as group:
            for target, place in _targets(looking.devices()):
                recorder = Recorder()
                looking.asked.append((target, place, recorder))
                group.create_task(_ask(target, _fitting(probes, target), recorder, until, wire, limit))


async def _ask(
    target: Target, probes: list[Probe[Any]], recorder: Recorder, until: float, wire: Wire, limit: asyncio.Semaphore
) -> None:
    async with limit:
        if (left := min(ASK_S, until - time.monotonic())) > 0:
            await collect([target], probes, recorder, left, wire)


def _targets(devices: Iterable[Device]) -> list[tuple[Target, str]]:
    """Whom to ask, and the place that this asks: a device at each of its IPv4 addresses, for want of one at another."""
    targets = [
        (target, place_of(address, target.ports["ipp"]))
        for device in devices
        if device.prints
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


def _fitting(probes: Iterable[Probe[Any]], target: Target) -> list[Probe[Any]]:
    """The probes that tell which device it is, and those that they need to get there."""
    return [
        probe
        for probe in probes
        if Role.DEVICE in probe.roles
        and Advertisement not in probe.provides
        and (probe.wave == NAMES_FIRST or probe.provides & _IDENTIFIES)
        and not (SnmpAgent in probe.provides and "snmp" not in target.ports)
    ]
