"""Where do we stand, and who is at the device's address on our own link?

What these rules find explains silence. None of them makes anybody worse off who may not ask on the wire, or who reaches
the device through a router: what such a reader cannot see is a note. On loopback there is no way to speak of, and
nobody is asked; so each rule wants a claim of a way (`Route`) beside its evidence, whether or not it looks at it.
"""

import ipaddress
from collections.abc import Iterator

from netcheck.facts.link import Neighbour, OwnInterfaces, ReverseName, Route
from netcheck.facts.network import Addresses, HardwareAddress, Interfaces, Service
from netcheck.gates import Gate
from netcheck.rules import onlink
from netcheck.rules.onlink import ASKED, OldClaims
from netcheck.ruling import Here, New, NewClaims, Old, Ruling, Wanted, met, rule, unmet, unproven
from netcheck.standard import SubnetDemand
from netcheck.verdict import Weight
from netcheck.words import count, join


@rule("our own network link", gate=Gate.SURVEY, weight=Weight.CARE)
def up(own: Here[OwnInterfaces], ways: NewClaims[Route]) -> Iterator[Ruling]:
    """Is this computer's own network link up, on the side where the device is?

    Why: With our own cable out, every device looks dead.
    Do: Plug in this computer's network cable, or join the site's Wi-Fi, and run this again.
    Takes: about 1 minute
    Source: RFC 2863 s3.1.13 (ifOperStatus).
    """
    name = ways.every[0].fact.interface
    states = {row.up for row in own.fact.rows if row.name == name}
    if False in states:
        yield unmet(f"This computer's network link ({name}) is down", "down", "up", on=own.every)
    elif True in states:
        yield met(f"This computer's network link ({name}) is up", on=own.every)


@rule("how this computer got its address", gate=Gate.SURVEY, weight=Weight.CARE, after=("link.up",))
def self_assigned(own: Here[OwnInterfaces], ways: NewClaims[Route]) -> Iterator[Ruling]:
    """Has this computer an address from the network, and not one that it gave itself?

    Why: With a self-assigned address it reaches nobody but others like it on the same wire.
    Do: Check this computer's network cable or Wi-Fi and renew its address. On a direct cable to the device, give this
    computer a fixed address in the device's subnet.
    Takes: about 5 minutes
    Source: RFC 3927 s1, s2.6.2 (169.254/16 is never routed).
    """
    way = ways.every[0].fact
    if ":" in way.address:
        return
    ours = [row.address for row in onlink.outward(own.fact.rows, 4)]
    used = [way.source] if way.source else ours
    if not used:
        yield unmet("This computer has no network address", "none", "an address of the site", on=own.every)
    elif not all(map(onlink.is_self_assigned, used)):
        yield met("This computer's address is not self-assigned", join(used), on=own.every)
    elif onlink.is_self_assigned(way.address):
        yield met("This computer and the new device are both self-assigned, as on a direct cable", on=own.every)
    else:
        yield unmet(f"This computer's address {used[0]} is self-assigned", join(used), "of the site", on=own.every)


@rule(
    "whether we stand on the site's network",
    gate=Gate.SURVEY,
    weight=Weight.CARE,
    after=("link.self-assigned", "link.up"),
)
def here(own: Here[OwnInterfaces], ways: NewClaims[Route | Service], want: Wanted[SubnetDemand]) -> Iterator[Ruling]:
    """Does this computer stand on the site's network, with the site's mask?

    Why: From a guest Wi-Fi or through a VPN, firewalls swallow what we send: silence then proves nothing, and who
    answers for an address cannot be seen at all.
    Do: Join the site's own network, neither guest Wi-Fi nor VPN, with the mask that its owner gave, and run this again.
    Takes: about 5 minutes
    Source: RFC 1122 s3.3.1.1 (local or remote by one's own mask).
    """
    network = ipaddress.ip_network(want.network)
    rows = [row for row in own.fact.rows if ipaddress.ip_address(row.address) in network]
    if not onlink.of_kind(ways, Route):
        return
    # Whoever gets answers from elsewhere may well stand there by intent, as whoever watches many sites does.
    weight = Weight.NOTE if onlink.answers(ways) else Weight.CARE
    if not rows:
        found = join(map(onlink.with_mask, onlink.outward(own.fact.rows, network.version))) or "no address"
        yield unmet("This computer is not on the site's network", found, str(network), weight=weight, on=own.every)
    for row in rows[:1]:
        yield met(f"This computer is on the site's network with {row.address}", on=own.every)
        if row.prefix_length == network.prefixlen:
            yield met(f"This computer's mask is the site's, /{network.prefixlen}", item="mask", on=own.every)
        else:
            title = f"This computer's mask is /{row.prefix_length}, the site's /{network.prefixlen}"
            yield unmet(title, onlink.with_mask(row), str(network), item="mask", weight=weight, on=own.every)


@rule(
    "a way to the new device",
    gate=Gate.SURVEY,
    weight=Weight.CARE,
    after=("link.here", "link.self-assigned", "link.up"),
)
def way(_own: Here[OwnInterfaces], ways: NewClaims[Route]) -> Ruling:
    """Does this computer know a way to the new device's address, direct or through a router?

    Why: Without one, nothing that is sent to the device ever leaves this computer.
    Do: Correct this computer's address, mask and router; or the device's address in the Move, if that is wrong.
    Takes: about 5 minutes
    Source: RFC 1122 s3.3.1.
    """
    known = ways.every[0].fact
    if not known.source:
        return unmet(f"This computer has no way to {known.address}", "no route", "a route", on=ways.every)
    return met(f"This computer sends to {known.address} from {known.source}", known.interface, on=ways.every)


@rule("whether we and the new device are on one link", weight=Weight.CARE, after=("link.here", "address.mask"))
def route(seen: New[Route | Addresses | Service], ways: NewClaims[Route]) -> Iterator[Ruling]:
    """Do this computer and the new device agree on whether they are on one link?

    Why: Each decides by its own mask whom it reaches directly. Where they disagree, one speaks through a router and the
    other does not, and answers get lost on the way.
    Do: Give both the mask of the site, as the network's owner gave it: this computer, and the device at its panel.
    Takes: about 5 minutes
    Source: RFC 1122 s3.3.1.1 (local or remote by one's own mask).
    """
    ours = ways.every[0].fact
    if not ours.source:
        return
    near = onlink.is_near(ours, onlink.of_kind(seen, Addresses))
    views = ["behind a router", "on one link"]
    theirs = "" if near is None else f"by the device's mask {views[near]}"
    found = join([f"from {ours.source}", f"by our mask {views[ours.on_link]}", theirs])
    if near is not None and near is not ours.on_link:
        far = "The new device takes us to be" if ours.on_link else "We take the new device to be"
        yield unmet(f"{far} behind a router, the other does not", found, "one view", on=seen.every)
    elif ours.on_link:
        yield met("The new device is on our own link", found, on=ways.every)
    elif near is False:
        yield met("The new device is behind a router, by our mask and its own", found, on=ways.every)
    else:
        title = "The new device is behind a router, seen from here; who answers for its address cannot be seen"
        yield unproven(title, found, weight=Weight.NOTE, on=ways.every)


@rule("whether anybody has the new device's address", after=("link.up", "link.self-assigned"))
def neighbour(seen: New[Neighbour | Service], _way: NewClaims[Route]) -> Iterator[Ruling]:
    """Does anybody on our own link answer for the new device's address?

    Why: Every machine that has an address and is switched on must answer for it, whatever its firewall forbids. Nobody
    there means: off, unplugged, on another network, or at another address.
    Do: Check, in this order: is the device switched on and awake; is its network cable in, on both ends, and its link
    light on; is the address on its panel the one in the Move; is its jack patched to this network.
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
        now = sure[0].fact.method == ASKED or onlink.answers(seen)
        done = "answers" if now else "has answered within a minute"
        yield met(f"{sure[0].fact.macs[0]} {done} for {sure[0].fact.address}", on=sure)
    elif named:
        yield onlink.not_seen(named[0], f"{named[0].fact.macs[0]} is only remembered for {named[0].fact.address}")
    elif nobody and not onlink.answers(seen):
        title = f"Nobody on our own link has the address {nobody[0].fact.address}"
        yield unmet(title, f"no answer to {onlink.by(nobody[0].fact)}", "the new device", on=nobody)
    elif told:
        yield onlink.not_seen(told[0], f"Not seen who answers for {told[0].fact.address}")


@rule("whether two machines have the new device's address")
def owner(seen: New[Neighbour | Interfaces], _way: NewClaims[Route]) -> Iterator[Ruling]:
    """Does one machine only answer for the new device's address?

    Why: With two machines on one address, jobs go to either of them by chance, and connections break in the middle.
    Do: Find the second machine by its hardware address (on plates, or in the switch's table), and give it another
    address or unplug it. If one of the two is a router that answers for others, ask the network's owner.
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
            yield unmet(f"{count(len(macs), 'machine')} answer for {address}", join(macs), "one machine", on=(each,))
        elif macs and each.fact.complete:
            yield met(f"One machine answers for {address}", macs[0], on=(each,))
        elif macs:
            yield onlink.not_seen(each, f"Not seen whether a second machine answers for {address}")


@rule(
    "whether two machines have the old device's address",
    gate=Gate.SURVEY,
    until=Gate.SWAP,
    weight=Weight.CARE,
    after=("address.held",),
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
def remembered(_own: Here[OwnInterfaces], seen: New[Neighbour], _way: NewClaims[Route]) -> Iterator[Ruling]:
    """Does this computer remember the hardware address that now answers for the new device's address?

    Why: After a swap at one address, neighbours send to the old device until they have forgotten it: nothing comes
    back, as if the new one were dead.
    Do: Run this again: asking has renewed what this computer remembers. Others on the site forget within minutes, or at
    once when the device is switched off and on and announces itself.
    Caution: Never switch a device off while it fills its ink system or writes firmware.
    Takes: about 5 minutes
    Source: RFC 1122 s2.3.2.1 (ARP cache validation); RFC 5227 s2.3 (an announcement renews it).
    """
    told = [each for each in onlink.neighbours(seen) if each.fact.macs]
    asked = [each for each in told if each.fact.method == ASKED]
    kept = [each for each in told if each.fact.method != ASKED]
    for known, answered in zip(kept[:1], asked[:1], strict=False):
        mac, address = known.fact.macs[0], known.fact.address
        if mac in answered.fact.macs:
            yield met(f"This computer sends what is for {address} to who answers there", mac, on=(known, answered))
        else:
            title = f"This computer still sent what is for {address} to another machine"
            yield unmet(title, f"{mac} remembered", f"{answered.fact.macs[0]}, which answers", on=(known, answered))


@rule("the name of the new device's address", weight=Weight.NOTE)
def name_back(seen: NewClaims[ReverseName]) -> Iterator[Ruling]:
    """Does the name that the new device's address leads back to lead to that address?

    Why: A name left over from another device shows in logs and print dialogs, and sends people to the wrong machine.
    Do: Ask whoever runs the site's name server to correct the name of this address.
    Source: RFC 1034 s3.6 (PTR); RFC 1912 s2.1 (every address should lead back to its name).
    """
    for each in seen.every[:1]:
        address, names, leads_to = each.fact.address, each.fact.names, each.fact.leads_to
        if not names:
            continue
        if leads_to is None:
            yield unproven(f"{address} leads back to {names[0]}; where that leads was not learnt", join(names))
        elif address.partition("%")[0] in {there.partition("%")[0] for there in leads_to}:
            yield met(f"{address} leads back to {names[0]}, and that to it", join(names))
        else:
            title = f"{address} leads back to {names[0]}, which is another device's name"
            yield unmet(title, join([names[0], join(leads_to) or "no address"], " at "), address)
