"""Is the address sane, and will it stay? Judged on what the device says of itself, not on how we reached it."""

import ipaddress
from collections.abc import Iterator

from netcheck.facts.identity import Serial
from netcheck.facts.link import GatewayNeighbour
from netcheck.facts.network import Addresses, AddressRow, Gateways
from netcheck.gates import Gate
from netcheck.move import FinalAddress
from netcheck.ruling import New, NewBeside, NewClaims, Old, OldBeside, Ruling, Wanted, met, rule, unmet, unproven
from netcheck.standard import OriginDemand, SubnetDemand
from netcheck.verdict import Weight
from netcheck.words import join

SAME_RUN_MS = 10 * 60_000
"""Two devices seen from one place within ten minutes are taken to be on the network together (common practice)."""
_NOT_USED = {"invalid", "inaccessible"}
"""States of an address that is not, or not any more, assigned (RFC 4293 IpAddressStatusTC)."""
_UNSEEN = ("services.reach", "services.snmp")
_ORIGIN_NAMES = {"manual": "static", "dhcp": "dhcp", "random": "self-assigned", "linklayer": "autoconfigured"}


def interface_of(row: AddressRow) -> ipaddress.IPv4Interface | None:
    """Address and prefix of an IPv4 row; None for IPv6, and where the mask is not told or not contiguous."""
    try:
        address = ipaddress.IPv4Address(row.address)
    except ValueError:
        return None
    if row.prefix_length is None or not 0 <= row.prefix_length <= 32:
        return None
    return ipaddress.IPv4Interface((address, row.prefix_length))


def address_fault(address: ipaddress.IPv4Interface) -> str:
    """Why a host cannot have this address; "" when it can (RFC 1122 s3.2.1.3; RFC 3021 for /31)."""
    ip, network = address.ip, address.network
    if int(ip) == 0xFFFFFFFF:
        return "the limited broadcast address"
    if int(ip) >> 24 == 0:
        return "an address of this-network, which nobody has"
    if ip.is_loopback:
        return "a loopback address"
    if ip.is_multicast:
        return "a multicast address"
    if int(ip) >> 28 == 0xF:
        return "an address of the reserved class E"
    if network.prefixlen < 31 and ip == network.network_address:
        return f"the address of the network {network} itself"
    if network.prefixlen < 31 and ip == network.broadcast_address:
        return f"the broadcast address of {network}"
    return ""


def _ipv4(rows: tuple[AddressRow, ...]) -> list[AddressRow]:
    return [row for row in rows if ":" not in row.address]


@rule("the new device's address", unseen_weight=Weight.CARE, unseen=_UNSEEN)
def valid(seen: New[Addresses]) -> Iterator[Ruling]:
    """Has the device an address that a host can have, with a mask that can be one?

    Why: A network, broadcast or self-assigned address is never reached for long.
    Do: Set address and mask on the device's panel as the network's owner gave them.
    Takes: about 5 minutes
    Source: RFC 1122 s3.2.1.3; RFC 3021; RFC 3927 s2.1; RFC 4632 s5.1 (contiguous masks); RFC 4293 (ipAddressStatus).
    """
    rows = _ipv4(seen.fact.rows)
    if not rows:
        yield unproven("The device names no IPv4 address of its own", item="IPv4")
    for row in rows:
        yield _valid(row)


def _valid(row: AddressRow) -> Ruling:
    item = row.address
    address = interface_of(row)
    if row.status == "duplicate":
        return unmet(f"The device has found {item} taken by another device", "duplicate", "preferred", item=item)
    if row.status in _NOT_USED:
        return unmet(f"The device does not use {item}: it is {row.status}", row.status, "preferred", item=item)
    if address is None:
        if row.mask:
            return unmet(f"The mask {row.mask} cannot be one", row.mask, "ones, then zeros", item=item)
        return unproven(f"The device does not tell the mask of {item}", item=item)
    if fault := address_fault(address):
        return unmet(f"{address} is {fault}", str(address), "a host's address", item=item)
    if address.ip.is_link_local:
        title = f"{item} is self-assigned: the device got no address from the network"
        return unmet(title, str(address), "an address of the site", item=item, weight=Weight.CARE)
    return met(f"{address} is a host's address", item=item)


def _of_site(rows: tuple[AddressRow, ...], network: ipaddress.IPv4Network) -> list[AddressRow]:
    return [row for row in _ipv4(rows) if ipaddress.IPv4Address(row.address) in network]


@rule("whether the new device is in the site's subnet", after=("address.valid",), unseen=_UNSEEN)
def subnet(seen: New[Addresses], want: Wanted[SubnetDemand]) -> Ruling:
    """Is the device's own address inside the site's subnet?

    Why: Outside of it the workstation does not reach the device, whatever else is right.
    Do: Set address, mask and gateway on the device's panel as the network's owner gave them.
    Takes: about 5 minutes
    Source: RFC 1122 s3.3.1.1 (local or remote by one's own mask).
    """
    network = ipaddress.ip_network(want.network)
    rows = _ipv4(seen.fact.rows)
    inside = [row for row in rows if ipaddress.ip_address(row.address) in network]
    if inside:
        return met(f"{inside[0].address} is in {network}")
    if not rows or not seen.fact.complete:
        return unproven(f"The device names no address in {network}", join(row.address for row in rows))
    found = join(row.address for row in rows)
    return unmet(f"The new device's address is not in {network}", found, str(network))


@rule("the new device's mask", after=("address.subnet",), unseen=_UNSEEN)
def mask(seen: New[Addresses], want: Wanted[SubnetDemand]) -> Iterator[Ruling]:
    """Is the device's mask that of the site's subnet?

    Why: Each host decides by its own mask whom it reaches directly. With another mask the device answers some of the
    site and not the rest, and it looks like a fault of the printer.
    Do: Set the mask on the device's panel to that of the site.
    Takes: about 5 minutes
    Source: RFC 1122 s3.3.1.1 (local or remote by one's own mask).
    """
    network = ipaddress.ip_network(want.network)
    for row in _of_site(seen.fact.rows, network) if isinstance(network, ipaddress.IPv4Network) else ():
        address = interface_of(row)
        if address is None:
            yield unproven(f"The device does not tell the mask of {row.address}", row.mask, item=row.address)
        elif address.network.prefixlen == network.prefixlen:
            yield met(f"The mask is {address.netmask}", item=row.address)
        else:
            found = f"{address.netmask} (/{address.network.prefixlen})"
            wanted = f"{network.netmask} (/{network.prefixlen})"
            yield unmet(f"The mask of {row.address} is {address.netmask}", found, wanted, item=row.address)


@rule("what the new device says of its own masks", weight=Weight.CARE, after=("address.mask",))
def masks_agree(seen: NewClaims[Addresses]) -> Iterator[Ruling]:
    """Does the device tell one mask for each of its addresses, wherever it tells it?

    Why: One of two masks is wrong, and it is not known which of them the device goes by.
    Do: Set the mask on the device's panel once more, and switch the device off and on.
    Caution: Never switch a device off while it fills its ink system or writes firmware.
    Takes: about 5 minutes
    Source: RFC 4293 (ipAddressPrefix; ipAdEntNetMask, deprecated): two tables about one address.
    """
    told: dict[str, dict[int, str]] = {}
    for each in seen.every:
        for row in each.fact.rows:
            if row.prefix_length is not None:
                told.setdefault(row.address, {}).setdefault(row.prefix_length, each.observation.source)
    for address, masks in told.items():
        if len(masks) > 1:
            found = join(f"/{prefix} in {source}" for prefix, source in masks.items())
            yield unmet(f"The device tells two masks for {address}", found, "one mask", item=address)


@rule(
    "the new device's gateway",
    unseen_weight=Weight.NOTE,
    weight=Weight.CARE,
    after=("address.mask", "address.subnet"),
    unseen=_UNSEEN,
)
def gateway(routers: New[Gateways], own: New[Addresses]) -> Ruling:
    """Is the default gateway one that the device can reach?

    Why: With a gateway outside its own subnet, or none, the device answers nobody in other subnets.
    Do: Set the gateway on the device's panel as the network's owner gave it.
    Takes: about 5 minutes
    Source: RFC 1122 s3.3.1.1, s3.3.1.6.
    """
    if not routers.fact.addresses:
        if routers.fact.complete:
            return unmet("The device has no gateway", "none", "the site's gateway")
        return unproven("The device does not tell its gateway")
    found = join(routers.fact.addresses)
    networks = [address for row in own.fact.rows if (address := interface_of(row))]
    for router in map(ipaddress.ip_address, routers.fact.addresses):
        for address in networks:
            edge = address.network.prefixlen < 31 and router in {
                address.network.network_address,
                address.network.broadcast_address,
            }
            if router in address.network and router != address.ip and not edge:
                return met(f"The gateway is {router}")
    if not networks:
        return unproven(f"The gateway is {found}; the device's own subnet is not known", found)
    wanted = f"an address in {join(str(address.network) for address in networks)}, not the device's own"
    return unmet(f"The gateway {found} cannot be reached from the device's subnet", found, wanted)


@rule("whether the new device's gateway is there", weight=Weight.CARE, after=("address.gateway", "link.here"))
def gateway_answers(told: NewClaims[GatewayNeighbour]) -> Iterator[Ruling]:
    """Does anybody have the address that the new device takes for its gateway?

    Why: With a gateway that does not exist the device serves its own subnet, and nobody else, ever.
    Do: Set the gateway on the device's panel as the network's owner gave it.
    Takes: about 5 minutes
    Source: RFC 1122 s3.3.1.2; RFC 826 (who has an address answers for it).
    """
    there = [each for each in told.every if each.fact.macs and (each.fact.complete or each.fact.state == "reachable")]
    nobody = [each for each in told.every if each.fact.complete and not each.fact.macs]
    for each in there[:1]:
        yield met(f"The new device's gateway {each.fact.address} is there", join(each.fact.macs), on=(each,))
    for each in nobody[:1] if not there else ():
        title = f"Nobody answers for the new device's gateway, {each.fact.address}"
        yield unmet(title, "no answer", "the site's gateway", on=(each,))


@rule("how the new device got its address", after=("address.subnet",), unseen=_UNSEEN)
def origin(seen: New[Addresses], want: Wanted[OriginDemand]) -> Iterator[Ruling]:
    """Did the address come as the Standard wants it: set by hand, or from the site's DHCP server?

    Why: An address that came otherwise is gone after the next power cut.
    Do: Set the address on the panel by hand, if the network's owner wants it so.
    Ask the network's owner for a reservation, if it is to come by DHCP.
    Takes: about 5 minutes
    Source: RFC 4293 (ipAddressOrigin).
    """
    for row in _ipv4(seen.fact.rows):
        came = _ORIGIN_NAMES.get(row.origin, row.origin)
        if row.origin not in _ORIGIN_NAMES:
            title = f"The device does not tell how it got {row.address}"
            yield unproven(title, came, join(want.origins, " or "), item=row.address, weight=Weight.CARE)
        elif came in want.origins:
            yield met(f"{row.address} is {came}", item=row.address)
        else:
            yield unmet(f"{row.address} is {came}", came, join(want.origins, " or "), item=row.address)


@rule(
    "whether old and new claim one address",
    until=Gate.SWAP,
    unseen_weight=Weight.CARE,
    after=("identity.is-old", "planned.holder/moved"),
    unseen=("services.old-reach", *_UNSEEN),
)
def held(
    new: New[Addresses], old: Old[Addresses], serial: NewBeside[Serial], old_serial: OldBeside[Serial]
) -> Iterator[Ruling]:
    """Does the new device leave the old one's address alone while the old one still uses it?

    Why: With two devices on one address jobs go to either of them by chance, and connections break in the middle.
    Do: Take one of them off the network: give the new device a free address until the old one is unplugged.
    Takes: about 5 minutes
    Source: RFC 5227 s1.1 (address conflict).
    """
    if {each.fact.value for each in serial.every} & {each.fact.value for each in old_serial.every}:
        return  # one device that was seen twice claims nothing twice
    one, other = new.every[0].observation, old.every[0].observation
    shared = sorted({row.address for row in new.fact.rows} & {row.address for row in old.fact.rows})
    together = one.from_ == other.from_ and abs(one.at_ms - other.at_ms) <= SAME_RUN_MS
    if not shared:
        yield met("Old and new have different addresses")
    elif together:
        yield unmet(f"Old and new both claim {shared[0]}", join(shared), "one device to an address")
    else:
        yield met(f"{shared[0]} is set on both, which were not seen on one network together")


@rule("the new device's final address", gate=Gate.LEAVE, unseen=_UNSEEN)
def final(seen: New[Addresses], want: Wanted[FinalAddress]) -> Ruling:
    """Has the new device the address that it is to keep?

    Why: The queue, the reservation and the site's notes all name that address.
    Do: Set the final address on the device's panel, or renew its lease once the reservation is changed.
    Takes: about 5 minutes
    Source: the Move's own requirement.
    """
    found = [row.address for row in seen.fact.rows]
    if want.address in found:
        return met(f"The new device has {want.address}")
    if not seen.fact.complete:
        return unproven("The device did not tell all its addresses", join(found), want.address)
    return unmet(f"The new device does not have {want.address} yet", join(found), want.address)
