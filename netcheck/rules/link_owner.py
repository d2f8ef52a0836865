"""Who is at the device's address on our own link? (The rest of the theme ``link`` is in `link`.)"""

from collections.abc import Iterator

from netcheck.facts.link import GatewayNeighbour, Neighbour, OwnInterfaces, Route
from netcheck.facts.network import HardwareAddress, Interfaces, Service, SnmpAgent
from netcheck.gates import Gate
from netcheck.move import OrderedMac
from netcheck.rules import onlink
from netcheck.ruling import (
    Beside,
    Here,
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
from netcheck.verdict import Weight
from netcheck.words import count, join


@rule(
    "whether anybody has the new device's address",
    after=(
        "link.up",
        "link.self-assigned",
        "announced.other-address",
        "announced.seen-not-reached",
        "planned.holder/moved",
    ),
)
def neighbour(
    seen: New[Neighbour | Service],
    _way: NewClaims[Route],
    old: OldBeside[Neighbour | Service],
    routers: HereBeside[GatewayNeighbour],
) -> Iterator[Ruling]:
    """Does anybody on our own link answer for the new device's address?

    Why: Every machine that has an address and is switched on must answer for it, whatever its firewall forbids. Nobody
    there means: off, unplugged, on another network, or at another address.
    Do: Check, in this order: is the device switched on and awake; is its network cable in, on both ends, and its link
    light on; is the address on its panel the one that does not answer; is its jack patched to this network. Ask the
    network's owner whether its jack lets a strange hardware address in, if all of that is right.
    Unseen: Run this again with administrator's rights, or look at the link light and the address on the device's panel.
    Caution: Never switch a device off while it fills its ink system or writes firmware.
    Takes: about 5 minutes
    Source: RFC 826; RFC 5227 s2.1.1 (an owner answers a probe); RFC 1122 s2.3.2.
    """
    told = onlink.neighbours(seen)
    named = [each for each in told if each.fact.macs]
    sure = [each for each in named if onlink.is_confirmed(each.fact) or onlink.answers(seen)]
    nobody = [each for each in told if each.fact.complete and not each.fact.macs]
    if sure:
        now = onlink.was_asked(sure[0].fact) or onlink.answers(seen)
        done = "answers" if now else "has answered within a minute"
        yield met(f"{sure[0].fact.macs[0]} {done} for {sure[0].fact.address}", on=sure)
    elif named:
        yield onlink.not_seen(named[0], f"{named[0].fact.macs[0]} is only remembered for {named[0].fact.address}")
    elif nobody and not onlink.answers(seen):
        title = f"Nobody on our own link answers for {nobody[0].fact.address}"
        found, otherwise = f"no answer to {onlink.by(nobody[0].fact)}", _nobody_because(old, routers)
        yield unmet(title, found, "the new device", on=nobody, otherwise=otherwise)
    elif told:
        yield onlink.not_seen(told[0], f"Not seen who answers for {told[0].fact.address}")


def _nobody_because(old: Beside[Neighbour | Service], routers: Beside[GatewayNeighbour]) -> str:
    """What else than off, unplugged or elsewhere it can be, by who else answers on our link."""
    if onlink.answers(old) or any(map(onlink.is_confirmed, onlink.owners(old))):
        return (
            "its jack does not let a strange hardware address in (a guarded port: a device that its owner has let in"
            " works there, a strange one does not, and a port that was shut has no link light), or is patched to"
            " another network"
        )
    if any(map(onlink.is_confirmed, onlink.owners(routers))):
        return (
            "clients are kept apart from each other here (guest Wi-Fi, isolated ports), since the router answers"
            " and the new device does not: try from the device's own jack, or with a cable straight to it"
        )
    nobody = old.every or routers.every
    return "this computer itself is on another wire: nobody else was seen on it; try another jack" if nobody else ""


@rule("whether two machines have the new device's address")
def owner(seen: New[Neighbour | Interfaces], _way: NewClaims[Route]) -> Iterator[Ruling]:
    """Does one machine only answer for the new device's address?

    Why: With two machines on one address, jobs go to either of them by chance, and connections break in the middle.
    Do: If the old printer had this address, see that it is unplugged, and run this again. Find the second machine by
    its hardware address (on plates, or in the switch's table). Leave it alone until you know whose it is.
    Ask the network's owner whose it is: it may be a router that answers for others.
    Unseen: Run this again with administrator's rights.
    Takes: about 15 minutes
    Source: RFC 5227 s1, s1.1 (address conflict). That proxies, standby pairs and bridges answer for others: common
    practice, no source.
    """
    told = onlink.neighbours(seen)
    own = {row.mac for each in onlink.of_kind(seen, Interfaces) for row in each.fact.rows if row.mac}
    for each in told[:1]:
        address, macs = each.fact.address, each.fact.macs
        if len(macs) > 1 and own.issuperset(macs):
            title = f"The new device answers for {address} from {count(len(macs), 'interface')} of its own"
            do = "Leave one of its interfaces connected: pull its network cable, or switch its Wi-Fi off."
            yield unmet(title, join(macs), "one interface", do, weight=Weight.CARE, on=(each,))
        elif len(macs) > 1:
            found = join(f"{mac} (the device's own)" if mac in own else mac for mac in macs)
            yield unmet(f"{count(len(macs), 'machine')} answer for {address}", found, "one machine", on=(each,))
        elif macs and each.fact.complete:
            yield met(f"One machine answers for {address}", macs[0], on=(each,))
        elif macs:
            yield onlink.not_seen(each, f"Not seen whether a second machine answers for {address}")


@rule(
    "whether two machines have the old device's address",
    gate=Gate.SURVEY,
    until=Gate.SWAP,
    weight=Weight.CARE,
    after=("address.held", "planned.holder/moved"),
)
def old_owner(seen: Old[Neighbour], _way: OldClaims[Route]) -> Iterator[Ruling]:
    """Does one machine only answer for the old device's address?

    Why: A second machine there, often the new device set to its final address too early, takes jobs from the old one,
    and what is read from the old one may be the other's.
    Do: Take the second machine off the network until the old device is unplugged.
    Takes: about 5 minutes
    Source: RFC 5227 s1, s1.1 (address conflict).
    """
    for each in onlink.neighbours(seen)[:1]:
        address, macs = each.fact.address, each.fact.macs
        if len(macs) > 1:
            title = f"{count(len(macs), 'machine')} answer for the old device's address {address}"
            yield unmet(title, join(macs), "one machine", on=(each,))
        elif macs and each.fact.complete:
            yield met(f"One machine answers for the old device's address {address}", macs[0], on=(each,))


@rule("whether it is the new device that answers for its address", weight=Weight.CARE, after=("link.owner",))
def mac_agrees(seen: New[Neighbour | Interfaces | HardwareAddress], _way: NewClaims[Route]) -> Iterator[Ruling]:
    """Is the hardware address that answers one of the new device's own?

    Why: If not, another machine is at the address, or something answers in the device's place: a router, a bridge, or
    what this computer remembers from before a swap.
    Do: Compare the hardware address on the device's plate. If this computer has remembered an old one, wait a minute,
    or switch the device off and on, and run this again.
    Caution: Never switch a device off while it fills its ink system or writes firmware.
    Takes: about 5 minutes
    Source: RFC 826; RFC 2863 (ifPhysAddress); RFC 1122 s2.3.2.1 (remembered addresses must be flushed).
    """
    told = [each for each in onlink.neighbours(seen) if each.fact.macs]
    tables = onlink.of_kind(seen, Interfaces)
    own = [row.mac for each in tables for row in each.fact.rows if row.mac]
    own += [each.fact.value for each in onlink.of_kind(seen, HardwareAddress)]
    for each in told[:1] if own else ():
        macs = each.fact.macs
        if set(macs) & set(own):
            yield met("The hardware address that answers is the new device's own", join(macs))
        elif not all(table.fact.complete for table in tables):
            title = "The new device does not tell all its hardware addresses"
            yield unproven(title, join(own), item=onlink.UNSEEN, weight=Weight.NOTE)
        else:
            title = f"{macs[0]} answers for {each.fact.address}, and is not the new device's own"
            yield unmet(title, f"{join(macs)} by {onlink.by(each.fact)}", f"{join(own)} (its own word)")


@rule("whether this computer sends to the machine that answers", weight=Weight.CARE)
def remembered(_own: Here[OwnInterfaces], seen: New[Neighbour], ways: NewClaims[Route]) -> Iterator[Ruling]:
    """Does this computer remember the hardware address that now answers for the new device's address?

    Why: After a swap at one address, neighbours send to the old device until they have forgotten it: nothing comes
    back, as if the new one were dead.
    Do: Run this again: this computer should have learnt the new one by now. If the same comes again, delete what it
    remembers for that address, as its administrator.
    Takes: about 5 minutes
    Source: RFC 1122 s2.3.2.1 (ARP cache validation); RFC 5227 s2.3 (an announcement renews it).
    """
    told = [each for each in onlink.neighbours(seen) if each.fact.macs]
    asked = [each for each in told if onlink.was_asked(each.fact)]
    kept = [each for each in told if not onlink.was_asked(each.fact)]
    for known, answered in zip(kept[:1], asked[:1], strict=False):
        mac, address = known.fact.macs[0], known.fact.address
        if mac in answered.fact.macs:
            yield met(f"This computer sends what is for {address} to who answers there", mac, on=(known, answered))
        else:
            title = f"This computer still sent what is for {address} to another machine"
            do = _forget(address, ways.every[0].fact.interface) if known.fact.state == _FIXED else ""
            wanted = f"{answered.fact.macs[0]}, which answers"
            yield unmet(title, f"{mac} remembered", wanted, do, on=(known, answered))


@rule(
    "whether what we send goes to the hardware address in the work order",
    after=("link.owner", "link.remembered", "link.mac-agrees"),
)
def intended(
    seen: New[Neighbour | Service],
    _way: NewClaims[Route],
    want: Wanted[OrderedMac],
    old: OldBeside[onlink.Own],
    talks: NewBeside[SnmpAgent],
) -> Iterator[Ruling]:
    """Where the new device offers nothing: does what we send go to the hardware address that the work order gives it?

    Why: If not, another machine is at the address, or this computer remembers one from before a swap; and nothing that
    is done to the new device will help.
    Do: Compare the address on the new device's panel with the one that does not answer, and the hardware address on its
    plate with the Move's. Wait a minute, and run this again. If it is the same, delete what this computer remembers for
    that address, as its administrator.
    Ask the network's owner whose hardware address it is, if it comes back.
    Takes: about 10 minutes
    Source: RFC 826; RFC 1122 s2.3.2.1 (remembered addresses must be flushed).
    """
    told = [each for each in onlink.neighbours(seen) if each.fact.macs]
    if not told or talks.every or onlink.is_any(onlink.of_kind(seen, Service), "open"):
        return
    macs, address = told[0].fact.macs, told[0].fact.address
    if want.value in macs:
        yield met(f"What is sent to {address} goes to the hardware address in the work order", want.value, on=told)
    elif len(told) == 1:
        whose = ", the old device's" if macs[0] in onlink.macs_of(old) else ""
        title = f"What is sent to {address} goes to {macs[0]}{whose}, not to the new device"
        yield unmet(title, join(macs), f"{want.value}, by the work order", on=told)


_FIXED = "permanent"
"""A neighbour table's entry that somebody set by hand: no asking ever renews it (Linux, ip-neighbour(8))."""


def _forget(address: str, interface: str) -> str:
    return (
        "Delete the fixed entry for this address on this computer, as its administrator (Linux: ip neigh del"
        f" {address} dev {interface}; Windows and macOS: arp -d {address}). Run this again."
    )
