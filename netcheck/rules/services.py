"""Does the device answer where the queue needs it?"""

from collections.abc import Iterator

from netcheck.facts.condition import HostPrinter, PrinterState
from netcheck.facts.network import IppService, NameLookup, Service, SnmpAgent
from netcheck.gates import Gate
from netcheck.rules.onlink import began
from netcheck.ruling import New, NewBeside, Old, Ruling, Sighting, Wanted, met, rule, unmet, unproven
from netcheck.standard import ServicesClosed, ServicesRequired, SnmpDemand
from netcheck.verdict import Weight
from netcheck.words import join, say

TWO_SYNS_MS = 2000
"""By then a stack has sent its SYN twice (RFC 6298 s2.1: initial retransmission time-out of 1 s); one lost packet is
no longer an explanation."""
_WHO_IS_THERE = (
    "link.neighbour/",
    "link.owner/",
    "link.remembered/",
    "link.mac-agrees/",
    "link.intended",
    "path.one-way",
)
"""With the slash, findings without an item: what could not be seen is an item of its own, and explains nothing."""
_WHERE_WE_STAND = ("link.up", "link.self-assigned", "link.here", "link.way", "link.router/")


@rule("the new device's name")
def name(lookup: New[NameLookup]) -> Ruling:
    """Does the name of the new device lead to an address?

    Why: A name that leads nowhere stops the queue as surely as a device that is off.
    Do: Correct the name in the Move, or write the address there.
    Ask whoever runs the site's name server to add the name, if the queue needs it.
    Unseen: Write the device's address, from its panel, as host in the Move, and run this again.
    Ask whoever runs the site's name server why it does not answer.
    Source: RFC 1123 s2.1, s6.1.
    """
    host = lookup.fact.name
    if lookup.fact.addresses:
        return met(f"{host} leads to {lookup.fact.addresses[0]}")
    return unmet(f"The name {host} leads to no address", "no address", "an address")


@rule(
    "whether the new device answers at all",
    after=("services.name", "announced.seen-not-reached", "announced.other-address", *_WHO_IS_THERE, *_WHERE_WE_STAND),
    unseen=("services.name",),
)
def reach(services: New[Service], talks: NewBeside[SnmpAgent]) -> Ruling:
    """Does the new device answer on any of its services?

    Why: If nothing at all answers, every other question about the device is open: it is off, unplugged, at another
    address, or we are not on its network.
    Do: Check, in this order: is it switched on and awake; is its network cable in and its link light on; is the address
    on its panel the one that does not answer; are we on the same network as the device.
    Caution: Never switch a device off while it fills its ink system or writes firmware.
    Takes: about 5 minutes
    Source: RFC 9293 s3.5 (a reset answers where nobody listens); RFC 6298 s2.1 (two SYNs by 2 s).
    """
    seen = [service for service in services.facts() if service.service != "https"]
    found = join(say(service) for service in seen)
    if any(service.state == "open" for service in seen):
        return met("The new device answers", found)
    if spoke := [each for each in talks.every if each.observation.at_ms >= began(services.every)]:
        return met(f"The new device answers by SNMP {spoke[0].fact.version} only", found)
    if seen and all(service.state == "refused" for service in seen):
        do = (
            "Compare the address on the device's panel with the one that was asked: another device may have it. If it"
            " is right, the device may still be starting: wait until its panel says ready, and run this again."
        )
        title = "Something is at the new device's address, but it refuses every service"
        return unmet(title, f"all {len(seen)} services refused", "an open service", do)
    if doubts := [doubt for sighting in services.every if (doubt := _no_proof(sighting))]:
        return unproven(f"Not clear whether the new device answers: {doubts[0]}", found)
    return unmet("The new device does not answer", found, "an open service")


@rule("the services that the queue needs", after=("services.reach",), unseen=("services.reach",))
def required(
    services: New[Service], want: Wanted[ServicesRequired], busy: NewBeside[PrinterState | HostPrinter]
) -> Iterator[Ruling]:
    """Is every service open that the Standard requires?

    Why: The queue sends its jobs to one of these services; with it closed, jobs wait for ever.
    Do: Switch the service on in the device's network settings.
    Ask the network's owner to let it through, if it is on there: a firewall on the way then blocks it.
    Takes: about 5 minutes
    Source: RFC 8011 (IPP, 631); RFC 1179 (LPD, 515); raw printing on 9100 is common practice, no source.
    """
    for service in want.names:
        seen = [sighting for sighting in services.every if sighting.fact.service == service]
        if not seen:
            yield unproven(f"{service}: not tried", item=service, on=services.every)
        for sighting in seen[:1]:
            yield _open(sighting, prints=any(map(_is_printing, busy.every)))


def _is_printing(sighting: Sighting[PrinterState | HostPrinter]) -> bool:
    fact = sighting.fact
    return (fact.state if isinstance(fact, PrinterState) else fact.printer_status) in {"processing", "printing"}


_NO_ANSWER = {"silent", "unreachable"}
_BOTH_SILENT = "one thing keeps us from both devices, since the new one does not answer either: mend that first"


def _no_proof(sighting: Sighting[Service]) -> str:
    """Why silence proves nothing here; "" where it does, or where there was no silence."""
    if sighting.fact.state not in _NO_ANSWER:
        return ""
    if sighting.afar:
        return f"we stand on another network ({sighting.observation.from_})"
    if sighting.fact.state == "silent" and sighting.fact.waited_ms < TWO_SYNS_MS:
        return "we did not wait long enough"
    return ""


_ONE_AT_A_TIME = {"raw", "lpd"}
"""Services of which many devices serve one connection at a time (common practice, no source)."""
_OR_ELSE = {
    "refused": "the device's own filter, or a firewall between us, refuses it for this computer: then it is open from"
    " another one",
    "silent": "the device's own filter, or a firewall between us, drops it: then it is open from another computer, or"
    " from none",
    "unreachable": "the device's own filter forbids it: then it is closed from every computer",
}


def _open(sighting: Sighting[Service], *, prints: bool) -> Ruling:
    it = sighting.fact
    about = f"{it.service} (port {it.port})"
    if it.state == "open":
        return met(f"{about} is open", item=it.service, on=(sighting,))
    if doubt := _no_proof(sighting):
        return unproven(f"{about} did not answer, but {doubt}", say(it), item=it.service, on=(sighting,))
    if prints and it.service in _ONE_AT_A_TIME and it.state != "unreachable":
        title = f"{about} is not free: the device prints, and may serve one connection at a time"
        do = "Wait until the device is idle, and run this again."
        return unproven(title, say(it), "open", do, item=it.service, on=(sighting,))
    title = {"refused": f"{about} is refused", "silent": f"{about} did not answer"}.get(
        it.state, f"{about} cannot be reached"
    )
    otherwise, do = _OR_ELSE.get(it.state, ""), _opened(it)
    return unmet(title, say(it), "open", do, item=it.service, on=(sighting,), otherwise=otherwise)


def _opened(it: Service) -> str:
    """Where somebody said no on the way, the device's own settings are not the first thing to look at."""
    ask = f"Ask the network's owner to let TCP port {it.port} ({it.service}) through to the new device"
    if it.state == "unreachable":
        look = "Look for an access list or a filter in the device's network settings"
        return f"Try from another computer. {look}. {ask}, if there is none: a router or a firewall forbids it."
    on = f"Switch {it.service} on in the device's network settings"
    return f"{on}. {ask}, if it is on there: a firewall on the way then blocks it."


@rule("services that must be closed", weight=Weight.CARE, after=("services.reach",), unseen=("services.reach",))
def closed(services: New[Service], want: Wanted[ServicesClosed]) -> Iterator[Ruling]:
    """Is every service closed that the Standard wants closed?

    Why: An open service that nobody needs is a way in.
    Do: Switch the service off in the device's network settings.
    Takes: about 5 minutes
    Source: the Standard's own requirement.
    """
    for service in want.names:
        seen = [each for each in services.every if each.fact.service == service]
        if not seen:
            yield unproven(f"{service} was not checked", item=service, weight=Weight.NOTE, on=services.every)
        for sighting in seen[:1]:
            about = f"{service} (port {sighting.fact.port})"
            match sighting.fact.state:
                case "open":
                    yield unmet(f"{about} is open", "open", "closed", item=service, on=(sighting,))
                case "refused":
                    yield met(f"{about} is closed", item=service, on=(sighting,))
                case _:
                    yield unproven(f"{about} did not answer: closed or filtered", item=service, on=(sighting,))


@rule("SNMP on the new device", weight=Weight.CARE, unseen=("services.reach",))
def snmp(agent: New[SnmpAgent]) -> Ruling:
    """Does the new device answer SNMP?

    Why: Levels, media, covers and alerts of most devices can be read by SNMP only; without it they stay unproven.
    Do: Switch SNMP on in the device's network settings, with the community that the site uses.
    Unseen: Switch SNMP on in the device's network settings.
    Ask the network's owner whether UDP port 161 is let through, if it is on there.
    Denied: What was refused is said above. Correct it where the profile is kept ([snmp] profile in the Move,
    profiles.toml, or NETCHECK_SNMP_COMMUNITY): the community, or the user, authentication or privacy that it names. Run
    this again. Ask the network's owner for a view of the whole MIB, if the user may not see enough.
    Takes: about 5 minutes
    Source: RFC 3805 s2.1; RFC 3584; RFC 3414 s3.2; RFC 3415. Silence of a UDP service is not a no.
    """
    return met(f"SNMP {agent.fact.version} answers")


@rule("SNMP, which the Standard requires", unseen=("services.snmp", "services.reach"))
def snmp_required(agent: New[SnmpAgent], want: Wanted[SnmpDemand]) -> Ruling:  # noqa: ARG001 - that it is made is all
    """Does the new device answer SNMP, as the Standard requires?

    Why: The owner of the rollout watches the device by it.
    Do: Switch SNMP on in the device's network settings, with the community that the site uses.
    Takes: about 5 minutes
    Source: the Standard's own requirement.
    """
    return met(f"SNMP {agent.fact.version} answers, as the Standard requires")


@rule("an IPP printer on the new device", weight=Weight.CARE, unseen=("services.required/ipp", "services.reach"))
def ipp(service: New[IppService]) -> Ruling:
    """Does an IPP printer object answer on the new device?

    Why: Formats, media, state and firmware are told by IPP; an open port alone tells nothing of them.
    Do: Switch IPP on in the device's network settings.
    Unseen: Look at the device's panel: it may still be starting. If it says ready, large packets may get lost on the
    way: try from the device's own jack. If IPP is off in its network settings, switch it on. If it hangs, switch it off
    and on again.
    Denied: The device wants a name and a password, or an encrypted connection: allow reading without.
    Ask the network's owner, if reading must stay closed.
    Caution: Never switch a device off while it fills its ink system or writes firmware.
    Takes: about 5 minutes
    Source: RFC 8011 s4.2.5 (Get-Printer-Attributes, which every IPP printer must answer).
    """
    return met(f"An IPP printer answers at {service.fact.path}")


@rule("IPP, which the Standard requires", unseen=("services.ipp", "services.required/ipp", "services.reach"))
def ipp_required(service: New[IppService], want: Wanted[ServicesRequired]) -> Iterator[Ruling]:
    """Does the device answer by IPP, where the Standard requires it, and not only listen on its port?

    Why: A queue that prints by IPP needs an answer and not an open port.
    Do: Switch IPP on in the device's network settings.
    Takes: about 5 minutes
    Source: RFC 8011 s4.2.5.
    """
    if "ipp" in want.names:
        yield met("IPP answers, as the Standard requires", service.fact.path)


@rule("the old device's name", gate=Gate.SURVEY, until=Gate.SWAP, weight=Weight.CARE)
def old_name(lookup: Old[NameLookup]) -> Ruling:
    """Does the name of the old device lead to an address?

    Why: Under a name that leads nowhere the old device cannot be looked at.
    Do: Correct the old device's name in the Move, or write its address there.
    Source: RFC 1123 s2.1, s6.1.
    """
    host = lookup.fact.name
    if lookup.fact.addresses:
        return met(f"{host} leads to {lookup.fact.addresses[0]}")
    return unmet(f"The name {host} leads to no address", "no address", "an address")


@rule(
    "whether the old device answers",
    gate=Gate.SURVEY,
    until=Gate.SWAP,
    weight=Weight.CARE,
    after=("services.old-name", *_WHERE_WE_STAND),
    unseen=("services.old-name",),
)
def old_reach(services: Old[Service], new: NewBeside[Service]) -> Ruling:
    """Does the old device still answer?

    Why: Only a device that can still be read is known well enough to go back to.
    Do: If the old device still works, switch it on and connect it before it is replaced. If it does not, read model and
    serial number from its plate and add them to the Move under [[seen]]; there is then no way back to it.
    Unseen: Switch the old device on and connect it before it is replaced.
    Source: common practice, no source.
    """
    found = join(say(service) for service in services.facts() if service.service != "https")
    if any(service.state == "open" for service in services.facts()):
        return met("The old device answers", found)
    otherwise = _BOTH_SILENT if new.every and all(each.fact.state in _NO_ANSWER for each in new.every) else ""
    return unmet("The old device does not answer", found, "an open service", otherwise=otherwise)
