"""Sightings → devices: which looks were at the same thing. Pure; the order of the sightings makes no difference.

What ties two sightings is tried strongest first: serial number, UUID, own MAC, host name, place. No tie is made between
sightings that name different serial numbers: two devices whose configuration was cloned share a UUID, and two that
fight for an address share that. A wrong tie hides a device, a missing one shows it twice with what each look told; the
second is the lesser evil.
"""

from collections.abc import Callable, Iterable, Sequence
from typing import Final

import msgspec

from netcheck.finding.sighting import HEARD, PRINTING, SCAN, Offered, Sighting, Way
from netcheck.finding.values import address_order, same, telling

_PROBES: Final = (HEARD, SCAN, "ipp", "snmp")
"""Best known first, in the order in which a page names them. For a model the device's own answer comes first."""

_SERVICES: Final = ("ipp", "ipps", "raw", "lpd", "http")


class Device(msgspec.Struct, frozen=True):
    """One physical device, as far as can be told. ``printer`` says that it called itself one when it was asked,
    ``contested`` are names of its that another device uses too: one name is to stand for one device, whatever the
    service (RFC 6763 s8)."""

    model: str
    serial: str
    uuid: str
    names: tuple[str, ...]
    hosts: tuple[str, ...]
    addresses: tuple[str, ...]
    places: tuple[str, ...]
    macs: tuple[str, ...]
    offered: tuple[Offered, ...]
    ways: tuple[Way, ...]
    answered: bool
    printer: bool = False
    contested: tuple[str, ...] = ()

    @property
    def prints(self) -> bool:
        """Does it say that it is a printer, or offer any service that prints?"""
        return self.printer or any(each.service in PRINTING for each in self.offered)

    @property
    def announced(self) -> bool:
        """Was it heard?"""
        return any(way.probe == HEARD for way in self.ways)

    @property
    def perhaps(self) -> bool:
        """Has it a port open at which printers print, and nothing that says that it is one? Other services are behind
        that port too."""
        return self.prints and not self.printer and not self.announced


Keys = Callable[[Sighting], Iterable[str]]
_TIES: Final[tuple[Keys, ...]] = (
    lambda each: filter(telling, map(same, each.serials)),
    lambda each: filter(telling, map(same, each.uuids)),
    lambda each: filter(telling, each.macs),
    lambda each: each.hosts,
    lambda each: each.places,
)


def merged(sightings: Iterable[Sighting]) -> tuple[Device, ...]:
    """The devices, by model and address; those of no known model last."""
    # The same look twice is one look, and a fixed order makes the outcome depend on nothing else.
    ordered = [seen for _, seen in sorted({repr(seen): seen for seen in sightings}.items())]
    clusters = _Clusters(ordered)
    for tie in _TIES:
        homes: dict[str, list[int]] = {}
        for number, seen in enumerate(ordered):
            for key in tie(seen):
                homes.setdefault(key, []).append(number)
        for key in sorted(homes):
            clusters.tie(homes[key])
    devices = [_device(members) for members in clusters.groups()]
    return tuple(sorted(_with_contests(devices), key=_device_order))


class _Clusters:
    """Disjoint sets of sightings that can be tied together, unless serial numbers speak against it."""

    def __init__(self, sightings: Sequence[Sighting]) -> None:
        self._sightings = sightings
        self._parent = list(range(len(sightings)))
        self._serials = [set(filter(telling, map(same, seen.serials))) for seen in sightings]

    def tie(self, numbers: Iterable[int]) -> None:
        """All of these have something in common: join each to the first of the others that it can be."""
        roots: list[int] = []
        for number in numbers:
            root = self._root(number)
            if root in roots:
                continue
            partner = next((each for each in roots if self._can_be_one(each, root)), None)
            if partner is None:
                roots.append(root)
            else:
                self._parent[root] = partner
                self._serials[partner] |= self._serials[root]

    def groups(self) -> list[list[Sighting]]:
        """The sets."""
        found: dict[int, list[Sighting]] = {}
        for number, seen in enumerate(self._sightings):
            found.setdefault(self._root(number), []).append(seen)
        return list(found.values())

    def _root(self, number: int) -> int:
        while self._parent[number] != number:
            self._parent[number] = self._parent[self._parent[number]]
            number = self._parent[number]
        return number

    def _can_be_one(self, one: int, other: int) -> bool:
        mine, its = self._serials[one], self._serials[other]
        return not (mine and its) or bool(mine & its)


def _device(seen: Sequence[Sighting]) -> Device:
    # What it said itself when it was asked is better than what it announces to everybody.
    best_first = sorted(seen, key=lambda each: not each.answered)

    def all_of(values: Callable[[Sighting], Iterable[str]]) -> tuple[str, ...]:
        return tuple(dict.fromkeys(value for each in best_first for value in values(each)))

    def best(values: tuple[str, ...]) -> str:
        return next(filter(telling, values), values[0] if values else "")

    return Device(
        model=best(all_of(lambda each: each.models)),
        serial=best(all_of(lambda each: each.serials)),
        uuid=best(all_of(lambda each: each.uuids)),
        names=tuple(sorted(all_of(lambda each: each.names))),
        hosts=tuple(sorted(all_of(lambda each: each.hosts))),
        addresses=tuple(sorted(all_of(lambda each: each.addresses), key=lambda each: address_order([each]))),
        places=tuple(sorted(all_of(lambda each: each.places))),
        macs=tuple(sorted(all_of(lambda each: (*each.macs, *each.neighbours)))),
        offered=_offered(offered for each in seen for offered in each.offered),
        ways=tuple(sorted({way for each in seen for way in each.ways}, key=_way_order)),
        answered=any(each.answered for each in seen),
        printer=any(each.printer for each in seen),
    )


def _offered(told: Iterable[Offered]) -> tuple[Offered, ...]:
    """Each once; a port for which a path was told is not named without one as well."""
    offers = set(told)
    known = {(each.service, each.port) for each in offers if each.path}
    plain = {each for each in offers if not each.path and (each.service, each.port) in known}
    return tuple(sorted(offers - plain, key=_offer_order))


def _device_order(device: Device) -> tuple[bool, str, tuple[int, bool, int]]:
    return not device.model, same(device.model), address_order(device.addresses)


def _way_order(way: Way) -> tuple[int, Way]:
    return (_PROBES.index(way.probe) if way.probe in _PROBES else len(_PROBES)), way


def _offer_order(offered: Offered) -> tuple[int, Offered]:
    return _SERVICES.index(offered.service), offered


def _with_contests(devices: Sequence[Device]) -> list[Device]:
    claims: dict[str, int] = {}
    for device in devices:
        for name in {same(name) for name in device.names}:
            claims[name] = claims.get(name, 0) + 1
    return [
        msgspec.structs.replace(each, contested=tuple(name for name in each.names if claims[same(name)] > 1))
        for each in devices
    ]
