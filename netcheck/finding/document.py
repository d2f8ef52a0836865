"""What ``netcheck find --json`` and ``--save`` write: ``netcheck/found/1``.

    schema    "netcheck/found/1"
    made_at   ms since 1970
    tool      "netcheck 0.1.0"
    devices   a row a physical device, by model and address, those of no known model last:
        model, serial, uuid    "" where nobody told
        names                  service instance names that it prints under (RFC 6763)
        hosts                  its host names, lower case, as plans-new.local
        addresses              IPv4 first
        macs                   lower case with colons; where our own neighbour table or the device told
        services               {service, port, path}; service is ipp, ipps, raw, lpd or http
        seen                   {probe, source}: every way in which it was seen: dnssd, it was heard; scan, it was at an
                               address that a scan asked; the others, what it told when it was asked
        ways                   the probes of these, each once
        one_way                true: it was seen in one way only
        answered               true: it answered when it was asked; false: others say that it is there
        maybe                  true: only its raw port is open, which a scan saw; nothing says that it is a printer
        contested              names of its that another device uses too
        ours                   true: it is at an address of this machine, as a queue that it shares
    attempts  what was asked, and how it ended, as in netcheck/case/1; a scanned network is one, with counts

Every key is always there. There are no floats.
"""

from collections.abc import Iterable, Sequence
from typing import Final

import msgspec

from netcheck.case import TOOL, Attempt
from netcheck.finding.merging import Device
from netcheck.finding.sighting import Offered, Way, is_loopback

SCHEMA: Final = "netcheck/found/1"


class Row(msgspec.Struct, frozen=True, kw_only=True):
    """One physical device."""

    model: str
    serial: str
    uuid: str
    names: tuple[str, ...]
    hosts: tuple[str, ...]
    addresses: tuple[str, ...]
    macs: tuple[str, ...]
    services: tuple[Offered, ...]
    seen: tuple[Way, ...]
    ways: tuple[str, ...]
    one_way: bool
    answered: bool
    maybe: bool
    contested: tuple[str, ...]
    ours: bool


class Found(msgspec.Struct, frozen=True):
    """The document."""

    schema: str
    made_at: int
    tool: str
    devices: tuple[Row, ...]
    attempts: tuple[Attempt, ...]

    def encode(self) -> bytes:
        """Indented JSON, one line feed at the end."""
        return msgspec.json.format(msgspec.json.encode(self), indent=1) + b"\n"


def found(made_at: int, devices: Iterable[Device], attempts: Sequence[Attempt], own: frozenset[str]) -> Found:
    """The printers among the devices. ``own`` are this machine's addresses; what is on loopback is simulated or
    tunnelled, and counts as what it stands for."""
    rows = tuple(_row(each, own) for each in devices if each.prints)
    return Found(SCHEMA, made_at, TOOL, rows, tuple(attempts))


def _row(device: Device, own: frozenset[str]) -> Row:
    ways = tuple(dict.fromkeys(way.probe for way in device.ways))
    return Row(
        model=device.model,
        serial=device.serial,
        uuid=device.uuid,
        names=device.names,
        hosts=device.hosts,
        addresses=device.addresses,
        macs=device.macs,
        services=device.offered,
        seen=device.ways,
        ways=ways,
        one_way=len(ways) == 1,
        answered=device.answered,
        maybe=device.perhaps,
        contested=device.contested,
        ours=any(address in own and not is_loopback(address) for address in device.addresses),
    )
