"""Where do we stand, and how do we reach the device? Who is at its address is asked in `link_owner`.

What these rules find explains silence. None of them makes anybody worse off who may not ask on the wire, or who reaches
the device through a router: what such a reader cannot see is a note. On loopback there is no way to speak of, and
nobody is asked; so each rule wants a claim of a way (`Route`) beside its evidence, whether or not it looks at it.
"""

import ipaddress
from collections.abc import Iterator

from netcheck.facts.link import GatewayNeighbour, OwnInterfaces, ReverseName, Route
from netcheck.facts.network import Addresses, Service
from netcheck.gates import Gate
from netcheck.rules import onlink
from netcheck.ruling import Here, New, NewClaims, Ruling, Wanted, met, rule, unmet, unproven
from netcheck.standard import SubnetDemand
from netcheck.verdict import Weight
from netcheck.words import join


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
            do = f"Set this computer's mask to {network.netmask} (/{network.prefixlen}), and run this again."
            yield unmet(title, onlink.with_mask(row), str(network), do, item="mask", weight=weight, on=own.every)


@rule(
    "a way to the new device",
    gate=Gate.SURVEY,
    weight=Weight.CARE,
    after=("link.here", "link.self-assigned", "link.up"),
)
def way(own: Here[OwnInterfaces], ways: NewClaims[Route]) -> Ruling:
    """Does this computer know a way to the new device's address, direct or through a router?

    Why: Without one, nothing that is sent to the device ever leaves this computer.
    Do: Correct this computer's address, mask and router; or the device's address in the Move, if that is wrong.
    Takes: about 5 minutes
    Source: RFC 1122 s3.2.1.3, s3.3.1.
    """
    known = ways.every[0].fact
    if edge := onlink.edge_of_ours(known.address, own.fact.rows):
        title = f"By this computer's mask {known.address} is no host's address, but {edge}"
        return unmet(title, known.address, "a host's address")
    if not known.source:
        return unmet(f"This computer has no way to {known.address}", "no route", "a route", on=ways.every)
    return met(f"This computer sends to {known.address} from {known.source}", known.interface, on=ways.every)


@rule("this computer's router", gate=Gate.SURVEY, weight=Weight.CARE, after=("link.here", "link.up"))
def router(told: Here[GatewayNeighbour], ways: NewClaims[Route]) -> Iterator[Ruling]:
    """Is this computer's router there, where the way to the new device leads through it?

    Why: A device behind a router that is off, or at another address than this computer believes, cannot be reached.
    Do: Compare this computer's router with the one that the site uses, and correct it.
    Ask the network's owner whether the router is up, if it is the right one.
    Takes: about 5 minutes
    Source: RFC 826; RFC 1122 s3.3.1.2 (gateway selection).
    """
    if ways.every[0].fact.on_link or not ways.every[0].fact.source:
        return
    of_way = [each for each in told.every if (":" in each.fact.address) is (":" in ways.every[0].fact.address)]
    there = [each for each in of_way if onlink.is_confirmed(each.fact)]
    nobody = [each for each in of_way if each.fact.complete and not each.fact.macs]
    for each in there[:1]:
        yield met(f"This computer's router {each.fact.address} is there", each.fact.macs[0], on=(each,))
    if nobody and not there:
        title = f"Nobody on our link answers for this computer's router, {nobody[0].fact.address}"
        yield unmet(title, f"no answer to {onlink.by(nobody[0].fact)}", "a router", on=nobody)
    elif of_way and not there:
        yield onlink.not_seen(of_way[0], f"Not seen whether the router {of_way[0].fact.address} is there")


@rule(
    "whether we and the new device are on one link",
    weight=Weight.CARE,
    after=("link.here", "address.mask", "address.valid"),
)
def route(seen: New[Route | Addresses | Service], ways: NewClaims[Route]) -> Iterator[Ruling]:
    """Do this computer and the new device agree on whether they are on one link?

    Why: Each decides by its own mask whom it reaches directly. Where they disagree, one speaks through a router and the
    other does not, and answers get lost on the way.
    Do: Give both the mask of the site, as the network's owner gave it: this computer, and the device at its panel.
    Takes: about 5 minutes
    Source: RFC 1122 s3.3.1.1 (local or remote by one's own mask); RFC 3927 s2.6.2.
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
    elif onlink.is_self_assigned(ours.address):
        title = "The new device's address is self-assigned, which no router carries, and this computer's is not"
        yield unmet(title, found, "one network", on=ways.every)
    elif near is False:
        yield met("The new device is behind a router, by our mask and its own", found, on=ways.every)
    else:
        title = "By this computer's mask the new device is behind a router; who answers for its address cannot be seen"
        yield unproven(title, found, weight=Weight.NOTE, on=ways.every)


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
