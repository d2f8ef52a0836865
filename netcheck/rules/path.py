"""What happens between us and a device that is there: answers that do not come back, packets that get lost.

Who is there at all is the theme ``link``; what is open, ``services``.
"""

from collections.abc import Iterable, Iterator

from netcheck.facts.link import Advertisement, Neighbour, OwnInterfaces, Route
from netcheck.facts.network import InterfaceRow, Interfaces, IppService, Service, SnmpAgent
from netcheck.rules import onlink
from netcheck.rules.services import TWO_SYNS_MS
from netcheck.ruling import (
    HereBeside,
    New,
    NewBeside,
    NewClaims,
    NewHistory,
    OldBeside,
    Ruling,
    Sighting,
    met,
    rule,
    unmet,
)
from netcheck.verdict import Weight
from netcheck.words import count, join

_RESENT_US = 900_000
"""A first SYN that stayed unanswered is sent again after 1 s (RFC 6298 s2.1); so long a connect was not the first."""
_USUAL_SEGMENT = 1208
"""What is left of the smallest packet that every IPv6 link carries, 1280 octets, after both headers and a time stamp
(RFC 8200 s5, RFC 9293 s3.7.1, RFC 7323 s3.2). Less than that is less than any Ethernet takes."""


_FORBIDDEN = (
    "Run this from another computer of the same network. If it is the same there, look for an access list or a filter"
    " in the device's network settings; if not, at this computer's own firewall. Ask the network's owner to let us"
    " through, if neither is it."
)
"""Somebody said no, so that mask and gateway are not in question."""


@rule(
    "whether what the new device answers comes back",
    after=("link.up", "link.self-assigned", "link.owner", "link.mac-agrees", "link.remembered", "link.here/mask"),
)
def one_way(
    seen: New[Neighbour | Service],
    ways: NewClaims[Route],
    talks: NewBeside[SnmpAgent | IppService | Advertisement],
    old: OldBeside[Service],
    own: HereBeside[OwnInterfaces],
) -> Iterator[Ruling]:
    """Does a device that is there, on our own link, also answer what we send to it?

    Why: Whoever has an address says so to all on the wire, whatever its mask, its router and its firewall are. What it
    sends to us alone depends on all three.
    Do: Compare mask and gateway on the device's panel with the site's, and look whether the panel says ready. Run this
    from another computer of the same network: if that one is answered, it is between this computer and the device.
    Ask the network's owner whether a firewall, on the device or between us, drops what is not expected.
    Caution: Never switch a device off while it fills its ink system or writes firmware.
    Takes: about 10 minutes
    Source: RFC 1122 s3.3.1.1 (each host decides by its own mask whom it answers directly); RFC 826.
    """
    told = onlink.neighbours(seen)
    there = [each for each in told if onlink.is_confirmed(each.fact)]
    if len({each.fact.macs for each in told if each.fact.macs}) > 1:
        return  # what we send goes to another machine: `link.remembered`
    services = onlink.of_kind(seen, Service)
    if not (there and services and ways.every[0].fact.on_link) or onlink.is_any(services, "open", "refused"):
        return
    spoke = (each for each in talks.every if not isinstance(each.fact, Advertisement))
    if any(each.observation.at_ms >= onlink.began(services) for each in spoke):
        return
    if any(each.fact.state == "silent" and each.fact.waited_ms < TWO_SYNS_MS for each in services):
        return
    address, mac = there[0].fact.address, there[0].fact.macs[0]
    ours = {row.address for each in own.every for row in each.fact.rows}
    astray = [asked for each in there for asked in each.fact.asks if asked not in {*ours, address}]
    if astray and not any(asked in ours for each in there for asked in each.fact.asks):
        title = f"The new device does not answer us directly: it looks for {astray[0]} when we speak to it"
        do = (
            "Set the mask on the device's panel to the site's: by its own it takes this computer to be on another"
            " network, and sends its answers to its gateway. Run this again."
        )
        otherwise = "a firewall drops what we send, and it looks for its gateway of its own accord"
        yield unmet(title, f"{mac} asks who has {astray[0]}", "answers to us", do, on=there, otherwise=otherwise)
        return
    do = ""
    reasons = ["its mask or its gateway is wrong", "a firewall drops what we send", "this computer's mask is wrong"]
    if onlink.answers(old):
        reasons.pop()  # it serves us well towards the old device
    if not any(isinstance(each.fact, Advertisement) for each in talks.every):
        reasons.append("it hangs, starts or sleeps")
    if onlink.is_any(services, "unreachable"):
        reasons = ["a firewall, on the device, on this computer or between them, forbids what we send"]
        do = _FORBIDDEN
    title = f"The new device is there, and nothing but that comes back: {join(reasons, ', or ')}"
    found = f"{mac} answers for {address}; {count(len(services), 'service')} {join(_states(services), ' or ')}"
    yield unmet(title, found, "answers", do, on=there)


def _states(services: Iterable[Sighting[Service]]) -> list[str]:
    return sorted({each.fact.state for each in services})


@rule("the new device's network link", weight=Weight.CARE)
def duplex(seen: New[Interfaces], _ways: NewClaims[Route]) -> Iterator[Ruling]:
    """Does the new device send and receive at once (full duplex)?

    Why: Where one end of a cable is set to half duplex and the other is not, small tests pass, and large jobs crawl or
    break off.
    Do: Set the device's link speed on its panel to automatic, and run this again.
    Ask the network's owner to set the switch's port to automatic as well, if it stays.
    Takes: about 5 minutes
    Source: RFC 3635 (dot3StatsDuplexStatus); one end that is fixed makes a mismatch: common practice, no
    source.
    """
    for row in _links(seen.fact.rows):
        name = row.description or str(row.index)
        if row.duplex == "halfDuplex":
            late = f"{row.late_collisions} late collisions" if row.late_collisions else ""
            title = f"The new device's link {name} is half duplex"
            yield unmet(title, join([row.duplex, late]), "fullDuplex", item=str(row.index))
        elif row.duplex == "fullDuplex":
            yield met(f"The new device's link {name} is full duplex", item=str(row.index))


def _links(rows: Iterable[InterfaceRow]) -> list[InterfaceRow]:
    return [row for row in rows if row.oper_status in {"up", ""}]


@rule("whether the new device's link damages packets", weight=Weight.NOTE)
def errors(seen: NewHistory[Interfaces], _ways: NewClaims[Route]) -> Iterator[Ruling]:
    """Does the new device count damaged packets on its link?

    Why: A bad cable or plug, or a wrong duplex, damages packets; each is sent again, and large jobs crawl.
    Do: Try another cable, then another jack. Run this again and see whether the count still rises.
    Takes: about 5 minutes
    Source: RFC 2863 s3.1.5 (ifInErrors, ifOutErrors: meaningful as a difference of two readings); RFC 3635 (late
    collisions).
    """
    first, last = seen.every[0], seen.every[-1]
    before = {row.index: _damaged(row) for row in first.fact.rows}
    for row in _links(last.fact.rows):
        now = _damaged(row)
        risen = now - before.get(row.index, now)
        name = row.description or str(row.index)
        if risen > 0:
            title = f"The new device's link {name} damages packets: {risen} more since it was first looked at"
            yield unmet(
                title, f"{now} errors", "no new ones", item=str(row.index), weight=Weight.CARE, on=(first, last)
            )
        elif now and first is not last and before.get(row.index) == now:
            title = f"The new device's link {name} has damaged no more packets since it was first looked at"
            yield met(title, f"{now} errors", item=str(row.index), on=(first, last))
        elif now:
            yield unmet(f"The new device's link {name} has damaged {count(now, 'packet')} so far", item=str(row.index))


def _damaged(row: InterfaceRow) -> int:
    """Late collisions are among the ones that could not be sent (RFC 3635 s3.2.8, from memory)."""
    return (row.in_errors or 0) + (row.late_collisions or 0 if row.out_errors is None else row.out_errors)


@rule("how fast the new device answers at first", weight=Weight.NOTE)
def woke(services: New[Service], _ways: NewClaims[Route]) -> Iterator[Ruling]:
    """Did the new device answer at once, or only when it was asked again?

    Why: A device that sleeps may miss the first packets that wake it; a link that loses packets looks the same, but not
    on all services at once.
    Do: Run this again: a device that was asleep is awake now. If answers still get lost, try another cable.
    Takes: about 2 minutes
    Source: RFC 6298 s2.1 (the second SYN leaves after 1 s). That devices sleep: common practice, no source.
    """
    opened = [each for each in services.every if each.fact.state == "open" and each.fact.round_trips_us]
    late = [each for each in opened if each.fact.round_trips_us[0] >= _RESENT_US > min(each.fact.round_trips_us)]
    if not late:
        return
    if len(late) == len(opened) == 1:
        title = "The new device answered only when it was asked again: it was asleep, or a packet was lost"
    elif len(late) == len(opened):
        title = "The new device answered only when it was asked again, and then at once, as one that was asleep"
    else:
        title = f"Packets get lost on the way: {len(late)} of {len(opened)} services answered only the second time"
    yield unmet(title, join(map(_first, late)), "an answer to the first packet", on=tuple(late))


def _first(sighting: Sighting[Service]) -> str:
    return f"{sighting.fact.service} after {sighting.fact.round_trips_us[0] // 1000} ms"


@rule("how large packets may be on the way to the new device", weight=Weight.NOTE)
def size(services: New[Service], _ways: NewClaims[Route]) -> Iterator[Ruling]:
    """Do packets of a usual size go through to the new device?

    Why: Where something on the way carries small packets only, and does not say so, small tests pass and large jobs
    hang.
    Do: Send one large print through the queue before you rely on it.
    Ask the network's owner which packet size the way to the device carries, if it hangs.
    Takes: about 5 minutes
    Source: RFC 9293 s3.7.1 (maximum segment size); RFC 1191; RFC 2923 s2.1 (black holes).
    """
    small = [each for each in services.every if 0 < each.fact.segment < _USUAL_SEGMENT]
    if small:
        octets = min(each.fact.segment for each in small)
        title = (
            f"The new device takes {octets} octets of data in a packet, fewer than usual, or something on the way does"
        )
        yield unmet(title, str(octets), f"{_USUAL_SEGMENT} or more", on=tuple(small[:1]))
