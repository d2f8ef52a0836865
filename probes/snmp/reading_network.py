"""Read half, the device's own view of its network: interface, address and routing columns to facts. Pure.

Addresses are inside the index of the newer tables: a type, a length, the octets (RFC 4001 s4.1 and s5). Loopback is
left out, since every host has it and nobody reaches the device there, and so is 0.0.0.0, the place that agents keep for
an interface without an address.
"""

import ipaddress
from collections.abc import Iterator
from typing import TypeGuard

from netcheck.facts import Fact
from netcheck.facts.network import Addresses, AddressRow, Gateways, InterfaceRow, Interfaces

from . import mib
from .ber import Oid
from .harvest import Harvest

Facts = Iterator[tuple[str, Fact]]
Address = ipaddress.IPv4Address | ipaddress.IPv6Address

_OCTETS = {1: 4, 2: 16, 3: 4, 4: 16}  # InetAddressType ipv4, ipv6, ipv4z, ipv6z: octets before any zone
_READ_HIGH_SPEED = 2**32 - 1  # ifSpeed of an interface that is too fast for it (RFC 2863 ifSpeed)
_LOOPBACK = "softwareLoopback"
_BROADCAST = "broadcast"


def interfaces(harvest: Harvest) -> Facts:
    rows = [row for row in harvest.indexes(mib.INTERFACE) if len(row) == 1]
    found = tuple(
        InterfaceRow(
            index=row[0],
            description=harvest.text("ifDescr", row),
            type=harvest.label("ifType", row),
            mac=(harvest.octets("ifPhysAddress", row) or b"").hex(":"),
            oper_status=harvest.label("ifOperStatus", row),
            speed_bits=_speed(harvest, row),
            duplex=harvest.label("dot3StatsDuplexStatus", row),
            in_errors=harvest.number("ifInErrors", row),
            out_errors=harvest.number("ifOutErrors", row),
            late_collisions=harvest.number("dot3StatsLateCollisions", row),
        )
        for row in rows
        if harvest.label("ifType", row) != _LOOPBACK
    )
    if rows:
        yield "ifTable", Interfaces(found, harvest.complete(mib.INTERFACE))


def _speed(harvest: Harvest, row: Oid) -> int | None:
    speed, high = harvest.number("ifSpeed", row), harvest.number("ifHighSpeed", row)
    if speed in (None, _READ_HIGH_SPEED):
        return high * 1_000_000 if high else None
    return speed


def addresses(harvest: Harvest) -> Facts:
    rows = harvest.indexes(mib.ADDRESS)
    if rows:
        found = tuple(row for row in (_address(harvest, row) for row in rows) if row)
        yield "ipAddressTable", Addresses(found, harvest.complete(mib.ADDRESS))
    old_rows = harvest.indexes(mib.OLD_ADDRESS)
    if old_rows:
        found = tuple(row for row in (_old_address(harvest, row) for row in old_rows) if row)
        yield "ipAddrTable", Addresses(found, harvest.complete(mib.OLD_ADDRESS))


def _address(harvest: Harvest, row: Oid) -> AddressRow | None:
    """None for what is no address of the device alone: some agents list their link's broadcast address too."""
    address, _ = inet_address(row)
    if not _reachable(address) or harvest.label("ipAddressType", row) == _BROADCAST:
        return None
    return AddressRow(
        address=str(address),
        prefix_length=_prefix_length(harvest.oid("ipAddressPrefix", row), address),
        mask="",
        interface=harvest.number("ipAddressIfIndex", row),
        origin=harvest.label("ipAddressOrigin", row),
        status=harvest.label("ipAddressStatus", row),
    )


def _reachable(address: Address | None) -> TypeGuard[Address]:
    return address is not None and not address.is_loopback and not address.is_unspecified


def inet_address(index: Oid) -> tuple[Address | None, Oid]:
    """Read an InetAddressType and InetAddress from the front of an index; return the address and what follows."""
    if len(index) < 2:
        return None, ()
    kind, length = index[:2]
    octets, rest = index[2 : 2 + length], index[2 + length :]
    size = _OCTETS.get(kind)
    if size is None or not size <= len(octets) == length or any(octet > 255 for octet in octets):
        return None, ()
    return ipaddress.ip_address(bytes(octets[:size])), rest


def _prefix_length(pointer: Oid | None, address: Address) -> int | None:
    """The length that ends the row to which ipAddressPrefix points; 0.0 points nowhere (RFC 4293)."""
    table = mib.ADDRESS_PREFIX_ORIGIN[:-2]  # some agents point to another column of the row: the index is the same
    if pointer is None or pointer[: len(table)] != table or pointer[-1] > address.max_prefixlen:
        return None
    return pointer[-1]


def _old_address(harvest: Harvest, row: Oid) -> AddressRow | None:
    address = _ipv4(row)
    if not _reachable(address):
        return None
    octets = harvest.octets("ipAdEntNetMask", row)
    mask = ipaddress.IPv4Address(octets) if octets is not None and len(octets) == 4 else None
    return AddressRow(
        address=str(address),
        prefix_length=_contiguous(mask) if mask is not None else None,
        mask=str(mask) if mask is not None else (octets or b"").hex(),
        interface=harvest.number("ipAdEntIfIndex", row),
        origin="",
        status="",
    )


def _contiguous(mask: ipaddress.IPv4Address) -> int | None:
    """Prefix length of a mask, None where ones follow zeros."""
    zeros = int(mask) ^ 0xFFFF_FFFF
    return None if zeros & zeros + 1 else 32 - zeros.bit_length()


def _ipv4(index: Oid) -> ipaddress.IPv4Address | None:
    if len(index) != 4 or any(octet > 255 for octet in index):
        return None
    return ipaddress.IPv4Address(bytes(index))


def gateways(harvest: Harvest) -> Facts:
    """Default routers of all tables that the agent has, as one fact; which of them is right is not said here.

    A table without a default route says that there is none. That takes a table: an agent that has none of the four
    says nothing.
    """
    tables = (
        ("ipDefaultRouterTable", "ipDefaultRouterLifetime", mib.DEFAULT_ROUTER, _router),
        ("inetCidrRouteTable", "inetCidrRouteIfIndex", mib.INET_ROUTE, _inet_next_hop),
        ("ipCidrRouteTable", "ipCidrRouteNextHop", mib.CIDR_ROUTE, _cidr_next_hop),
        ("ipRouteTable", "ipRouteNextHop", mib.OLD_ROUTE, _old_next_hop),
    )
    found: dict[str, None] = {}
    sources, complete = [], True
    for source, name, table, next_hop in tables:
        column = harvest.column(name)
        complete = complete and column.complete
        if not column.rows and (column.after or ())[: len(table.oid)] != table.oid:
            continue
        sources.append(source)
        hops = (next_hop(harvest, row) for row in column.rows)
        found |= {str(hop): None for hop in hops if hop is not None and not hop.is_unspecified}
    if sources:
        yield ", ".join(sources), Gateways(tuple(found), complete)


def _router(_: Harvest, row: Oid) -> Address | None:
    return inet_address(row)[0]


def _inet_next_hop(_: Harvest, row: Oid) -> Address | None:
    """The row begins behind destination and prefix length: a policy of counted arcs, then the next hop."""
    return inet_address(row[1 + row[0] :])[0] if row else None


def _cidr_next_hop(_: Harvest, row: Oid) -> Address | None:
    """The row begins behind destination and mask: a type of service, then the next hop."""
    return _ipv4(row[1:])


def _old_next_hop(harvest: Harvest, row: Oid) -> Address | None:
    octets = harvest.octets("ipRouteNextHop", row)
    return ipaddress.IPv4Address(octets) if octets is not None and len(octets) == 4 else None
