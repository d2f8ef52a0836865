"""The address after the move, judged now: who has it, can a host have it, and what becomes of it when devices change.

On loopback nothing moves; so each rule wants a claim of a way (`Route`) to the device as well.
"""

import ipaddress
from collections.abc import Iterator

from netcheck.facts.link import Neighbour, OwnGateways, OwnInterfaces, PlannedNeighbour, Route
from netcheck.facts.network import Addresses, Gateways, NameLookup
from netcheck.gates import Gate
from netcheck.move import KEEP, MOVED, FinalAddress
from netcheck.rules import onlink
from netcheck.rules.address import address_fault
from netcheck.ruling import (
    HereBeside,
    New,
    NewBeside,
    NewClaims,
    Old,
    OldBeside,
    OldClaims,
    Ruling,
    Wanted,
    met,
    rule,
    unmet,
    unproven,
)
from netcheck.standard import SubnetDemand
from netcheck.verdict import Weight
from netcheck.words import join

MOVED_EARLY = "moved"
_AS_ADMINISTRATOR = "Run this again with administrator's rights, from the subnet of the planned address."


@rule("whether a host of this site can have the planned address")
def usable(_ways: NewClaims[Route], want: Wanted[FinalAddress], site: Wanted[SubnetDemand]) -> Ruling:
    """Is the address that the new device is to have one that a host of this site can have?

    Why: Outside of the site's subnet, or on its edge, the device is lost as soon as it has moved.
    Do: Correct final in the Move, or [old] host where the address is kept.
    Ask the network's owner for an address in the site's subnet.
    Takes: about 5 minutes
    Source: RFC 1122 s3.2.1.3; RFC 3021.
    """
    address, network = ipaddress.ip_address(want.address), ipaddress.ip_network(site.network)
    if address not in network:
        return unmet(f"The planned address {address} is not in {network}", str(address), str(network))
    if isinstance(address, ipaddress.IPv6Address) and address == network.network_address:
        return unmet(
            f"The planned address {address} is its routers' (RFC 4291 s2.6.1)", str(address), "a host's address"
        )
    if isinstance(network, ipaddress.IPv4Network):
        at = ipaddress.IPv4Interface(f"{address}/{network.prefixlen}")
        if fault := address_fault(at):
            return unmet(f"The planned address {address} is {fault}", str(address), f"a host's address in {network}")
    return met(f"The planned address {address} is a host's in {network}")


@rule("whether the planned address is somebody else's")
def taken(
    ways: NewClaims[Route],
    want: Wanted[FinalAddress],
    own: HereBeside[OwnInterfaces | OwnGateways],
    routers: NewBeside[Gateways],
) -> Iterator[Ruling]:
    """Is the address that the new device is to have neither this computer's nor a router's?

    Why: A printer on the router's address takes the whole site off the network.
    Do: Correct final in the Move, or [old] host where the address is kept.
    Ask the network's owner for a free address.
    Takes: about 5 minutes
    Source: RFC 5227 s1 (address conflict).
    """
    ours = {row.address for each in onlink.of_kind(own, OwnInterfaces) for row in each.fact.rows}
    gateways = {address for each in onlink.of_kind(own, OwnGateways) for address, _ in each.fact.rows}
    gateways |= {address for each in routers.every for address in each.fact.addresses}
    whose = "this computer's own" if want.address in ours else "the router's" if want.address in gateways else ""
    if whose:
        title = f"The planned address {want.address} is {whose}"
        yield unmet(title, want.address, "a free address", on=(*own.every, *routers.every))
    elif ours and gateways:
        yield met(f"The planned address {want.address} is neither ours nor a router's", on=ways.every)


@rule("who has the planned address now", until=Gate.SWAP, unseen_weight=Weight.NOTE, after=("planned.taken",))
def holder(
    told: New[PlannedNeighbour],
    _ways: NewClaims[Route],
    want: Wanted[FinalAddress],
    old: OldBeside[onlink.Own],
    new: NewBeside[onlink.Own],
) -> Ruling:
    """Is the address that the new device is to have free, or held by exactly whom it should be?

    Why: A third machine on it makes two devices on one address as soon as the new one has moved there.
    Do: Ask the network's owner whom the address belongs to. Ask the network's owner for another one, if it is taken.
    Correct final in the Move then. Leave the other machine alone: it may be right where it is.
    Takes: about 15 minutes
    Source: RFC 5227 s1, s2.1.1 (an owner answers a probe).
    """
    known = [each for each in told.every if each.fact.address == want.address]
    seen = sorted(known, key=lambda each: not onlink.was_asked(each.fact))[:1]
    macs = {mac for each in seen if onlink.is_confirmed(each.fact) for mac in each.fact.macs}
    if not macs:
        if any(each.fact.complete and not each.fact.macs for each in seen):
            return met(f"Nobody has the planned address {want.address}", on=tuple(seen))
        title = f"Not seen who has the planned address {want.address}"
        return unproven(title, do=_AS_ADMINISTRATOR, weight=Weight.NOTE, on=tuple(seen))
    olds, news = onlink.macs_of(old), onlink.macs_of(new) | ({want.mac} if want.mac else set())
    found = join(sorted(macs))
    if macs <= olds and want.policy != MOVED:
        return met(f"The old device has the planned address {want.address}", found, on=tuple(seen))
    if macs <= news:
        return met(f"The new device has the planned address {want.address} already", found, on=tuple(seen))
    if want.policy == KEEP and not olds:
        title = f"Somebody has the planned address {want.address}; not seen whether that is the old device"
        do = "Let the old device tell its hardware address (SNMP), or read it from its plate."
        return unproven(title, found, "the old device", do, weight=Weight.NOTE, on=tuple(seen))
    if macs <= olds | news and want.policy == KEEP:
        title = f"The new device already has {want.address}, while the old one is on it"
        do = "Take that address off the new device, or pull its network cable, until the old one is unplugged."
        return unmet(title, found, "the old device alone", do, item=MOVED_EARLY, on=tuple(seen))
    if macs <= olds:
        title = f"The old device ({found}) has the planned address {want.address}, which the Move calls a new one"
        do = 'Correct the Move: address = "keep" in [move], or another final in [new].'
        return unmet(title, found, "nobody", do, on=tuple(seen))
    strangers = join(sorted(macs - olds - news) or sorted(macs))
    wanted = "the old device" if want.policy == KEEP else "nobody"
    title = f"{strangers} has the planned address {want.address}"
    return unmet(title, found, wanted, on=tuple(seen))


@rule(
    "whether the old device is gone from the new one's address",
    gate=Gate.LEAVE,
    after=("link.owner", "identity.is-old"),
)
def gone(seen: New[Neighbour], _ways: NewClaims[Route], old: OldBeside[onlink.Own]) -> Iterator[Ruling]:
    """Does the new device have the address alone, now that the old one is replaced?

    Why: An old device that is still plugged in, or is switched on again, takes the address and the jobs back.
    Do: Unplug the old device's network cable and its mains plug.
    Caution: Wait until its carriage has stopped and it has switched itself off.
    Takes: about 5 minutes
    Source: RFC 5227 s1; RFC 826.
    """
    olds = onlink.macs_of(old)
    there = [each for each in onlink.neighbours(seen) if onlink.is_confirmed(each.fact)]
    for each in there[:1] if olds else ():
        if still := sorted(olds & set(each.fact.macs)):
            yield unmet(
                f"The old device still answers for {each.fact.address}", join(still), "the new device", on=(each,)
            )
        else:
            yield met(f"The old device does not answer for {each.fact.address}", join(each.fact.macs), on=(each,))


@rule("what happens to the address's reservation", until=Gate.SWAP, weight=Weight.CARE)
def reservation(
    told: OldClaims[Addresses], _ways: NewClaims[Route], want: Wanted[FinalAddress], new: NewBeside[onlink.Own]
) -> Iterator[Ruling]:
    """Will the new device be given the address that the old one has from the site's DHCP server?

    Why: A reservation is made for a hardware address: the new device has another one, and gets some other address, or
    none while the old lease runs.
    Do: Print the request for the network's owner: netcheck ready MOVE.toml --request.
    Ask the network's owner to change the reservation to the new device's hardware address at the time of the swap, and
    no sooner.
    Takes: about 5 minutes, and the network's owner's time
    Source: RFC 2131 s2.1 (a lease is keyed by client identifier or hardware address, from memory); RFC 2132 s9.14.
    """
    rows = [(each, row) for each in told.every for row in each.fact.rows if row.address == want.address]
    for each, row in rows[:1]:
        if row.origin == "dhcp" and want.policy == KEEP:
            mac = join(sorted(onlink.macs_of(new))[:1]) or "the new device"
            title = f"The old device has {want.address} from DHCP: the reservation does not pass to the new one"
            yield unmet(title, "dhcp, for the old device", f"a reservation for {mac}", on=(each,))


@rule("the old device's name after the move", until=Gate.SWAP, weight=Weight.NOTE)
def name(lookup: Old[NameLookup], _ways: NewClaims[Route], want: Wanted[FinalAddress]) -> Iterator[Ruling]:
    """Does the name that the site uses for the printer still lead to it after the move?

    Why: Whoever prints by that name goes on to the old address.
    Do: Ask whoever runs the site's name server to lead the name to the new address, at the time of the swap.
    Source: RFC 1034 s3.6 (A records).
    """
    found = lookup.fact.addresses
    if lookup.fact.name in found or not found:
        return
    if want.address in found:
        yield met(f"The name {lookup.fact.name} leads to the planned address")
    else:
        title = f"The name {lookup.fact.name} will still lead to the old address"
        yield unmet(title, join(found), want.address)


@rule("what others will remember of the planned address", until=Gate.SWAP, weight=Weight.NOTE)
def caches(
    told: New[PlannedNeighbour], _ways: NewClaims[Route], want: Wanted[FinalAddress], old: OldBeside[onlink.Own]
) -> Iterator[Ruling]:
    """Will others still send to the old device's hardware address after the swap?

    Why: Whoever spoke with the old device remembers its hardware address: a computer for a minute or so, a router often
    for hours. Until then the new device seems dead to them, and is well.
    Do: Switch the new device on after it is plugged in at the old one's jack, so that it announces itself to all. Wait
    some minutes before you look for another fault.
    Ask the network's owner to clear the router's table, if other subnets do not reach the device after that.
    Caution: Never switch a device off while it fills its ink system or writes firmware.
    Source: RFC 1122 s2.3.2.1 (remembered addresses must be flushed); RFC 5227 s2.3 (an announcement renews them).
    """
    held = [
        each for each in told.every if onlink.macs_of(old) & set(each.fact.macs) and each.fact.address == want.address
    ]
    if want.policy == KEEP and held:
        macs = join(sorted(onlink.macs_of(old) & set(held[0].fact.macs)))
        title = (
            f"After the swap others may go on sending to the old device ({macs}) for some minutes, a router for hours"
        )
        yield unmet(title, macs, "the new device's", on=tuple(held[:1]))
