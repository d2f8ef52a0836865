"""What DNS-SD tells on our own link, beside what the devices say themselves. Who does not announce proves nothing.

These rules want *claims* of announcements: where nobody announced anything there is no question, so that a network
without multicast, a direct cable and a rehearsal without it are judged as before.
"""

import ipaddress
import re
from collections.abc import Iterable, Iterator

from netcheck.facts.identity import Model, Serial, Uuid
from netcheck.facts.link import AdvertisedHost, Advertisement, OwnInterfaces
from netcheck.facts.network import Addresses, IppService, NameLookup, Service
from netcheck.gates import Gate
from netcheck.rules.identity import matches_model
from netcheck.ruling import (
    Beside,
    Claims,
    Here,
    HereBeside,
    HereClaims,
    Known,
    New,
    NewBeside,
    NewClaims,
    Old,
    OldBeside,
    Ruling,
    Sighting,
    Wanted,
    met,
    rule,
    unmet,
)
from netcheck.standard import ModelDemand
from netcheck.verdict import Weight
from netcheck.words import count, join

_NUMBERED = re.compile(r" (\(\d+\)|#\d+)$")
"""How responders rename an instance whose name was taken (RFC 6762 s9; the forms are common practice)."""


def hosts_of(told: Advertisement) -> list[str]:
    """Hosts that the instance leads to. Two ports of one host are one machine."""
    return list(dict.fromkeys(place.name.casefold().rstrip(".") for place in told.places))


def _reached(
    lookup: Known[NameLookup | Addresses] | Claims[NameLookup | Addresses] | Beside[NameLookup | Addresses],
) -> set[str]:
    found: set[str] = set()
    for each in (sighting.fact for sighting in lookup.every):
        found |= set(each.addresses) if isinstance(each, NameLookup) else {row.address for row in each.rows}
    return found


def _is_at(place: AdvertisedHost, addresses: Iterable[str]) -> bool:
    return bool({each.partition("%")[0] for each in place.addresses} & set(addresses))


@rule("the name under which the new device announces itself", weight=Weight.CARE)
def name_taken(
    at: NewClaims[NameLookup | Addresses], seen: NewBeside[Advertisement], around: HereBeside[Advertisement]
) -> Iterator[Ruling]:
    """Has the new device a name of its own on this network?

    Why: Two devices under one name: whoever prints by that name reaches one of them by chance.
    Do: Give the new device another name on its panel.
    Takes: about 5 minutes
    Source: RFC 6762 s9 (conflict of unique records); RFC 6763 s8 (a name is claimed by a port of 0, too).
    """
    names, own = set[str](), _reached(at)
    its = [each for each in around.every if any(_is_at(place, own) for place in each.fact.places)]
    for sighting in (*seen.every, *its):
        told = sighting.fact
        if told.instance in names:
            continue
        hosts = hosts_of(told)
        if len(hosts) > 1:
            names.add(told.instance)
            title = f"{count(len(hosts), 'machine')} use the name {told.instance}"
            yield unmet(title, join(hosts), "one machine", item=told.instance, on=(sighting,))
        elif _NUMBERED.search(told.instance):
            names.add(told.instance)
            title = f"The new device calls itself {told.instance}: its name was taken once"
            do = "If it is to have the plain name, give it that on its panel once the other device is gone."
            weight = Weight.NOTE
            wanted = "a name without a number"
            yield unmet(title, told.instance, wanted, do, item=told.instance, weight=weight, on=(sighting,))


@rule("whether the new device's name leads to it alone", weight=Weight.CARE, after=("announced.name-taken",))
def leads_elsewhere(
    seen: NewClaims[Advertisement], around: HereClaims[Advertisement], at: New[NameLookup | Addresses]
) -> Iterator[Ruling]:
    """Does the name under which the new device announces a service lead to the new device, and nowhere else?

    Why: Queues that were made by that name go on to the other device.
    Do: Give the new device another name on its panel.
    Takes: about 5 minutes
    Source: RFC 6763 s4, s8 (one name for all print services of one device).
    """
    own = _reached(at)
    names = {each.fact.instance for each in seen.every}
    for name in sorted(names):
        elsewhere = [
            (each, place)
            for each in around.every
            for place in each.fact.places
            if each.fact.instance == name and place.addresses and not _is_at(place, own)
        ]
        if elsewhere:
            found = join(dict.fromkeys(f"{place.name} {join(place.addresses[:1])}" for _, place in elsewhere))
            on = (elsewhere[0][0],)
            yield unmet(f"The name {name} also leads to another machine", found, "the new device", item=name, on=on)
        else:
            yield met(f"The name {name} leads to the new device", item=name, on=seen.every)


@rule("whether what announces itself can be reached", after=("link.here", "path.one-way"))
def seen_not_reached(
    seen: NewClaims[Advertisement], services: New[Service], own: Here[OwnInterfaces]
) -> Iterator[Ruling]:
    """Can the new device, which announces itself on our link, be reached by its address?

    Why: Announcements cross the wire whatever the addresses are. A device that is heard and cannot be reached is on the
    right wire with a wrong address or mask, or something between us keeps us apart.
    Do: Compare address and mask on the device's panel with the site's.
    Ask the network's owner whether clients are kept apart from each other (guest Wi-Fi, isolated ports), if they are
    right.
    Takes: about 10 minutes
    Source: RFC 6762 s11 (answers by multicast come from our own link, whatever their source address); RFC 1122
    s3.3.1.1.
    """
    if not seen.every or any(service.state in {"open", "refused"} for service in services.facts()):
        return
    addresses = list(dict.fromkeys(each for sighting in seen.every for each in sighting.fact.addresses))
    networks = [ipaddress.ip_network(f"{row.address}/{row.prefix_length}", strict=False) for row in own.fact.rows]
    inside = [
        each for each in addresses if any(ipaddress.ip_address(each.partition("%")[0]) in net for net in networks)
    ]
    where = "in our subnet, so something keeps us apart, or its mask is wrong" if inside else "not in our subnet"
    title = "The new device announces itself on our link, and cannot be reached"
    yield unmet(title, f"{join(addresses)}: {where}", "an open service", on=seen.every)


@rule("whether the new device is at another address", after=("link.up", "link.self-assigned"))
def other_address(
    services: New[Service],
    around: HereClaims[Advertisement],
    at: New[NameLookup],
    want: Wanted[ModelDemand],
    own: HereBeside[OwnInterfaces],
    old: OldBeside[NameLookup | Addresses],
) -> Iterator[Ruling]:
    """Does a device of the new model announce itself at another address, while nobody answers at the one in the Move?

    Why: A device that has another address than everybody believes looks dead, and is well.
    Do: Compare the address on the device's panel with the Move, and correct the one that is wrong. If the device gave
    itself the address, no DHCP server answered it: set it by hand, or have its jack and the server looked at.
    Takes: about 10 minutes
    Source: RFC 6762 s11 (answers by multicast come from our own link, whatever their source address); RFC 3927 s1.
    """
    if any(service.state in {"open", "refused"} for service in services.facts()):
        return
    known = {each.partition("%")[0] for each in (*at.fact.addresses, *_reached(old))}
    for host, (sighting, place) in _alike(around, want.pattern).items():
        found = [each.partition("%")[0] for each in place.addresses]
        if found and not set(found) & known:
            title = f"A device of the new model announces itself as {host} at {_where(found, own)}"
            wanted = join(at.fact.addresses) or at.fact.name
            yield unmet(title, join(found), wanted, item=host, on=(sighting,), otherwise=_ANOTHER)


_ANOTHER = (
    "it is another device of this model, and the new one is off or unplugged: compare the serial number on its plate"
    " with the work order"
)


def _where(addresses: list[str], own: Beside[OwnInterfaces]) -> str:
    """The address to name, and what is remarkable about it."""
    parsed = [ipaddress.ip_address(each) for each in addresses]
    four = next((each for each in parsed if each.version == 4), None)
    if four is None:
        return f"{addresses[0]}: no IPv4 address of it was heard"
    if four.is_link_local:
        return f"{four}, which it gave itself: it got none from the network"
    networks = [
        ipaddress.ip_network(f"{row.address}/{row.prefix_length}", strict=False)
        for each in own.every
        for row in each.fact.rows
    ]
    return f"{four}" if any(four in network for network in networks) else f"{four}, which is not in our subnet"


def _alike(around: Claims[Advertisement], pattern: str) -> dict[str, tuple[Sighting[Advertisement], AdvertisedHost]]:
    """The machines that announce themselves as this model: each by its host name, with an announcement of it."""
    return {
        place.name.casefold().rstrip("."): (each, place)
        for each in around.every
        for place in each.fact.places
        if any(matches_model(name, pattern) for name in (each.fact.get("ty"), each.fact.get("usb_MDL")) if name)
    }


@rule("whether the new device announces itself", weight=Weight.NOTE)
def not_heard(
    around: HereClaims[Advertisement], services: New[Service], at: New[NameLookup | Addresses]
) -> Iterator[Ruling]:
    """Does the new device announce itself, where others do?

    Why: Who looks for a printer by name does not find it. A queue that was made by address does not need that.
    Do: Switch announcing on in the device's network settings, if the site finds its printers that way.
    Takes: about 5 minutes
    Source: RFC 6762 s11; RFC 6763. Silence on multicast proves no fault.
    """
    own = _reached(at)
    heard = [each for each in around.every if any(_is_at(place, own) for place in each.fact.places)]
    if not heard and any(service.state == "open" for service in services.facts()):
        title = "The new device is reached, and does not announce itself as others here do"
        yield unmet(title, f"{count(len(around.every), 'announcement')}, none of it", "one", on=around.every[:1])


@rule("which of several devices of this model is the new one", gate=Gate.FILL, weight=Weight.NOTE)
def several_alike(around: HereClaims[Advertisement], want: Wanted[ModelDemand]) -> Iterator[Ruling]:
    """Is there one device of the new model on this network, or are there several?

    Why: With several of one model on a site it is easy to check one and unpack another.
    Do: Compare the serial number on the plate with the work order before anything is filled or unplugged.
    Source: RFC 6763 s6 (TXT keys ty, usb_MDL: printing over DNS-SD, from memory).
    """
    alike = _alike(around, want.pattern)
    if len(alike) > 1:
        title = f"{count(len(alike), 'device')} of this model announce themselves here"
        yield unmet(title, join(sorted(alike)), "one", on=tuple(sighting for sighting, _ in alike.values()))


@rule("whether announcements agree with the device", weight=Weight.NOTE)
def agrees(seen: NewClaims[Advertisement], said: New[Uuid | Model | Serial | IppService]) -> Iterator[Ruling]:
    """Does what the device announces agree with what it says when it is asked?

    Why: An announcement that differs is stale, or another device's under the same name. What the device says when it is
    asked counts.
    Do: Restart the device's network services from its panel; if it stays, believe what the device itself says.
    Source: RFC 6763 s6 (TXT is advertising); key UUID equals printer-uuid (PWG 5100.14, from memory).
    """
    uuids = {each.value.casefold() for each in said.facts() if isinstance(each, Uuid)}
    for sighting in seen.every:
        told = sighting.fact.get("UUID").casefold().removeprefix("urn:uuid:")
        if told and uuids and told not in uuids:
            title = f"The announcement {sighting.fact.instance} carries another device's UUID"
            yield unmet(title, told, join(sorted(uuids)), item=sighting.fact.instance, on=(sighting,))


@rule("whether two machines carry one identity", weight=Weight.NOTE)
def one_uuid(around: HereClaims[Advertisement]) -> Iterator[Ruling]:
    """Does each machine here announce an identifier of its own?

    Why: An identifier under two host names is one device seen twice, or a device that was set up from a copy of
    another's settings; whoever tells devices apart by it mixes up the two.
    Do: Compare the serial numbers of both. If they differ, reset the network settings of the copy on its panel.
    Source: RFC 9562 s4 (a UUID is unique); key UUID equals printer-uuid (PWG 5100.14, from memory).
    """
    hosts: dict[str, dict[str, Sighting[Advertisement]]] = {}
    for each in around.every:
        for host in hosts_of(each.fact)[:1] if each.fact.get("UUID") else ():
            hosts.setdefault(each.fact.get("UUID").casefold().removeprefix("urn:uuid:"), {}).setdefault(host, each)
    for uuid, seen in hosts.items():
        if len(seen) > 1:
            title = f"{join(sorted(seen), ' and ')} announce one and the same identifier"
            yield unmet(title, uuid, "one each", item=uuid, on=tuple(seen.values()))


@rule("whether the old device still announces itself", gate=Gate.LEAVE, weight=Weight.CARE)
def old_announced(around: HereClaims[Advertisement], old: Old[Uuid | Serial]) -> Iterator[Ruling]:
    """Is the old device silent, now that it was replaced?

    Why: An old device that is still plugged in takes jobs from whoever prints by its name, and may take its address
    back.
    Do: Unplug the old device's network cable and its mains plug.
    Caution: Wait until its carriage has stopped and it has switched itself off.
    Source: RFC 6762 s10 (only fresh answers prove presence).
    """
    uuids = {each.value.casefold() for each in old.facts() if isinstance(each, Uuid)}
    still = [each for each in around.every if each.fact.get("UUID").casefold().removeprefix("urn:uuid:") in uuids]
    if still:
        title = f"The old device still announces itself as {still[0].fact.instance}"
        yield unmet(title, join(still[0].fact.addresses), "nothing", on=tuple(still))
