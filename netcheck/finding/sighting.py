"""What one look at one device told: the pieces that `merging` joins.

Seen from a network an address is a device's; on loopback all devices have the same one, and the port tells them apart.
So a *place* is an address, and on loopback an address with a port.
"""

import ipaddress
from collections.abc import Collection, Iterable, Iterator
from typing import Final, TypeVar

import msgspec

from netcheck.case import Observation
from netcheck.facts import Fact
from netcheck.facts.condition import HostPrinter
from netcheck.facts.identity import Markers, Model, Serial, Uuid
from netcheck.facts.link import SERVICE_OF_TYPE, AdvertisedHost, Advertisement, Neighbour
from netcheck.facts.network import Interfaces, IppService, SnmpAgent
from netcheck.facts.supplies import Supplies
from netcheck.place import DEFAULT_PORTS

F = TypeVar("F", bound=Fact)
PRINTING: Final = frozenset({"ipp", "ipps", "raw", "lpd"})
HEARD, SCAN = "dnssd", "scan"
"""The two ways in which a device comes to be known: it announces itself, or it was at an address that a scan asked."""


class Way(msgspec.Struct, frozen=True, order=True):
    """How it was seen: which probe, in which object."""

    probe: str
    source: str


class Offered(msgspec.Struct, frozen=True, order=True):
    """A service that it offers; ``path`` is the resource path or queue name where one was told."""

    service: str
    port: int
    path: str = ""


class Sighting(msgspec.Struct, frozen=True, kw_only=True):
    """One look. Everything is as it was told; what is empty was not told. ``names`` are the instance names that it
    prints under, ``answered`` says that the device itself answered what it was asked. ``macs`` are those that it told
    itself, ``neighbours`` those that answered for its address: behind a repeater they are the repeater's. ``printer``
    says that the device itself called itself one."""

    ways: tuple[Way, ...]
    places: tuple[str, ...] = ()
    hosts: tuple[str, ...] = ()
    addresses: tuple[str, ...] = ()
    names: tuple[str, ...] = ()
    macs: tuple[str, ...] = ()
    neighbours: tuple[str, ...] = ()
    models: tuple[str, ...] = ()
    serials: tuple[str, ...] = ()
    uuids: tuple[str, ...] = ()
    offered: tuple[Offered, ...] = ()
    answered: bool = False
    printer: bool = False


def is_loopback(address: str) -> bool:
    """Of this machine."""
    return ipaddress.ip_address(address.partition("%")[0]).is_loopback


def place_of(address: str, port: int) -> str:
    """What an address is known by."""
    return f"{address} {port}" if is_loopback(address) else address


def announced(observations: Iterable[Observation]) -> Iterator[Sighting]:
    """A sighting for each host that an advertisement leads to: a name that two devices claim is no tie between them."""
    for item in observations:
        if item.kind == Advertisement.kind:
            advertised = msgspec.convert(item.value, Advertisement)
            for host in advertised.places:
                yield _announced(Way(item.probe, item.source), advertised, host)


def _announced(way: Way, advertised: Advertisement, host: AdvertisedHost) -> Sighting:
    service = SERVICE_OF_TYPE.get(advertised.type, "")
    # Port 0 claims the name and offers nothing (RFC 6763 s8).
    offered = (Offered(service, host.port, advertised.get("rp")),) if service and host.port else ()
    # What several hosts claim has one text, and nobody knows whose it is.
    sure = len(advertised.hosts) == 1
    return Sighting(
        ways=(way,),
        places=tuple(place_of(address, host.port) for address in host.addresses),
        hosts=(host.name.casefold(),),
        addresses=host.addresses,
        names=(advertised.instance,) if service in PRINTING else (),
        models=tuple(filter(None, [_model(advertised)])) if sure else (),
        uuids=tuple(filter(None, [advertised.get("uuid").lower()])) if sure else (),
        offered=offered,
    )


def _model(advertised: Advertisement) -> str:
    maker, model = advertised.get("usb_MFG"), advertised.get("usb_MDL")
    return advertised.get("ty") or " ".join(filter(None, (maker, model)))


def answered(address: str, place: str, observations: Iterable[Observation], ipp: int = 0) -> Sighting | None:
    """What the device at one place told when it was asked, by whatever probes; None when it told nothing. Sources that
    contradict each other are still one device: it was one place that was asked. ``ipp`` is the port where IPP was tried
    without anybody's having announced it there: what answers is then on offer as well."""
    items = [item for item in observations if item.kind in _TELL]
    if not items:
        return None
    itself = [item for item in items if item.kind != Neighbour.kind]
    return Sighting(
        ways=tuple(sorted({Way(item.probe, item.source) for item in items})),
        places=(place,),
        addresses=(address,),
        macs=tuple(dict.fromkeys(row.mac for each in _facts(items, Interfaces) for row in each.rows if row.mac)),
        neighbours=tuple(dict.fromkeys(mac for each in _facts(items, Neighbour) for mac in each.macs)),
        models=tuple(dict.fromkeys(each.value for each in _facts(items, Model))),
        serials=tuple(dict.fromkeys(each.value for each in _facts(items, Serial))),
        uuids=tuple(dict.fromkeys(each.value for each in _facts(items, Uuid))),
        offered=tuple(Offered("ipp", ipp, each.path.lstrip("/")) for each in _facts(items, IppService) if ipp),
        answered=bool(itself),
        printer=any(item.kind in _PRINTERS for item in items),
    )


def scanned(address: str, place: str, ports: Collection[int]) -> Sighting:
    """What a scan saw there, whoever it is: the ports that are open. An open port 9100 is offered to whoever prints
    (common practice); what is behind port 631, an answer in IPP has to say."""
    return Sighting(
        ways=tuple(Way(SCAN, f"tcp/{port}") for port in sorted(ports)) or (Way(SCAN, "udp/161"),),
        places=(place,),
        addresses=(address,),
        offered=(Offered("raw", RAW),) if RAW in ports else (),
        answered=True,
    )


RAW: Final = DEFAULT_PORTS["raw"]
_PRINTERS: Final = frozenset(kind.kind for kind in (HostPrinter, Markers, Supplies, IppService))
"""What only a printer has: hrDevicePrinter (RFC 2790), a Printer MIB (RFC 3805), a printer object (RFC 8011)."""
_TELL: Final = _PRINTERS | {kind.kind for kind in (Model, Serial, Uuid, Neighbour, Interfaces, SnmpAgent)}


def _facts(items: Iterable[Observation], kind: type[F]) -> list[F]:
    return [msgspec.convert(item.value, kind) for item in items if item.kind == kind.kind]
