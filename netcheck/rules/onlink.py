"""What the rules about our own link share: which sightings belong together, and what they come to. No rules here."""

import ipaddress
from collections.abc import Iterable
from typing import TypeVar

from netcheck.facts import Fact
from netcheck.facts.link import Neighbour, OwnInterfaceRow, Route
from netcheck.facts.network import Addresses, HardwareAddress, Interfaces, Service
from netcheck.rules.address import interface_of
from netcheck.ruling import Beside, Claims, Known, Ruling, Sighting, unproven
from netcheck.verdict import Weight

F = TypeVar("F", bound=Fact)
Seen = Known[Fact] | Claims[Fact] | Beside[Fact]
ONE_LOOK_MS = 2_000
"""One look tells what it heard and what our system remembers in one breath; another one comes later than that."""
_SAME_MOMENT_MS = 500
UNSEEN = "unseen"
_ON_THE_WIRE = {"arp": "ARP", "nd": "neighbour discovery"}
"""`Neighbour.method` of who was asked on the wire, and could answer twice."""
_REACHABLE = "reachable"
"""RFC 4861 s7.3.2: positive confirmation was received of late. In every other state a table only remembers."""
_AS_ADMINISTRATOR = "Run this again with administrator's rights."


def of_kind(seen: Seen, kind: type[F]) -> list[Sighting[F]]:
    """The sightings of one kind, where a rule takes several."""
    return [sighting for sighting in seen.every if isinstance(sighting.fact, kind)]  # type: ignore[misc]


def neighbours(seen: Seen) -> list[Sighting[Neighbour]]:
    """What the last look at the device's address saw, asked on the wire first. Who is at an address changes, and the
    device's address too, and on a visit both must: an earlier look does not speak for a later one."""
    told = of_kind(seen, Neighbour)
    if not told:
        return []
    last = max(told, key=lambda each: each.observation.at_ms)
    since, address = last.observation.at_ms - ONE_LOOK_MS, last.fact.address
    of_it = (each for each in told if each.fact.address == address and each.observation.at_ms >= since)
    return sorted(of_it, key=lambda each: not was_asked(each.fact))


def owners(seen: Seen) -> list[Neighbour]:
    """Who was seen at an address, of whichever kind of question."""
    return [each.fact for each in of_kind(seen, Neighbour)]


def was_asked(told: Neighbour) -> bool:
    """Was it asked on the wire?"""
    return told.method in _ON_THE_WIRE


def is_confirmed(told: Neighbour) -> bool:
    """Is the owner there, and not only remembered?"""
    return bool(told.macs) and (was_asked(told) or told.state == _REACHABLE)


def by(told: Neighbour) -> str:
    """How that was seen, for a person."""
    return _ON_THE_WIRE.get(told.method, "our system's own asking")


def not_seen(sighting: Sighting[Neighbour], title: str) -> Ruling:
    """What only a privileged reader sees: a note for all others, and an item of its own, since it explains nothing."""
    if not was_asked(sighting.fact):
        title = f"{title}: administrator's rights would show it"
    return unproven(title, sighting.fact.reason, do=_AS_ADMINISTRATOR, item=UNSEEN, weight=Weight.NOTE, on=(sighting,))


def answers(seen: Seen) -> bool:
    """Did anything come back from the device itself? A refusal did."""
    return is_any(of_kind(seen, Service), "open", "refused")


def is_any(services: Iterable[Sighting[Service]], *states: str) -> bool:
    """Is any service in one of these states?"""
    return any(each.fact.state in states for each in services)


def began(services: Iterable[Sighting[Service]]) -> int:
    """When the look began that these services were seen in (ms): what was said before that, was said of another day."""
    return min(each.observation.at_ms - each.fact.waited_ms for each in services) - _SAME_MOMENT_MS


def is_self_assigned(address: str) -> bool:
    """RFC 3927: 169.254/16. Every IPv6 interface has a link-local address, which says nothing."""
    parsed = ipaddress.ip_address(address.partition("%")[0])
    return parsed.version == 4 and parsed.is_link_local


def edge_of_ours(address: str, rows: Iterable[OwnInterfaceRow]) -> str:
    """What else an address is than a host's, by our own masks (RFC 1122 s3.2.1.3); "" where it may be a host's."""
    parsed = ipaddress.ip_address(address.partition("%")[0])
    for row in outward(rows, 4):
        network = ipaddress.IPv4Interface(f"{row.address}/{row.prefix_length}").network
        if network.prefixlen < 31 and parsed == network.broadcast_address:
            return f"the broadcast address of {network}"
        if network.prefixlen < 31 and parsed == network.network_address:
            return f"the network {network} itself"
    return ""


def outward(rows: Iterable[OwnInterfaceRow], version: int) -> list[OwnInterfaceRow]:
    """Our own addresses of one IP version that others can see."""
    parsed = ((row, ipaddress.ip_address(row.address)) for row in rows)
    return [row for row, address in parsed if address.version == version and not address.is_loopback]


def is_near(way: Route, told: Iterable[Sighting[Addresses]]) -> bool | None:
    """Are we on one link with the device by its own mask (RFC 1122 s3.3.1.1)? None where it does not tell its mask."""
    rows = (row for each in told for row in each.fact.rows if row.address == way.address)
    own = next((address for row in rows if (address := interface_of(row))), None)
    return None if own is None else ipaddress.ip_address(way.source) in own.network


def with_mask(row: OwnInterfaceRow) -> str:
    """One address of ours, for a person."""
    return f"{row.address}/{row.prefix_length} ({row.name})"


Own = Interfaces | HardwareAddress
"""What a device, or its plate, says of its hardware addresses. Who answers at its address may be another machine."""


def macs_of(seen: Beside[Own]) -> set[str]:
    """Every hardware address that one device has by its own word."""
    macs: set[str] = set()
    for each in seen.every:
        match each.fact:
            case Interfaces(rows=rows):
                macs |= {row.mac for row in rows if row.mac}
            case HardwareAddress(value=value):
                macs.add(value)
    return macs
