"""Is the workstation's queue there, does it lead where it should, and is it drained?"""

import difflib
import ipaddress
from collections.abc import Iterator
from fnmatch import fnmatchcase

from netcheck.facts.condition import PrinterState
from netcheck.facts.network import Addresses, NameLookup
from netcheck.facts.queue import Jobs, QueueDriver, QueueNames, QueueTarget
from netcheck.gates import Gate
from netcheck.move import DeviceRef, NewPlace, OldPlace, QueueRef
from netcheck.place import Place, parse_place
from netcheck.ruling import Known, New, Old, Queue, Ruling, Wanted, met, rule, unmet, unproven
from netcheck.standard import DriverDemand, DriverVersionDemand
from netcheck.verdict import Weight
from netcheck.versions import compare
from netcheck.words import count, join


@rule("the queue", gate=Gate.SURVEY)
def exists(seen: Queue[QueueTarget | QueueNames], want: Wanted[QueueRef]) -> Ruling:
    """Is there a queue of this name on the workstation?

    Why: The application prints to this name and will not be changed.
    Do: Take the queue's name from the application's own print dialogue, spelling and capitals included.
    Unseen: Run this on the workstation that has the queue, or name its spooler in the Move: [queue] server.
    Source: RFC 8011 s5.4.4 (printer-name); common practice, no source, for the application's side.
    """
    if isinstance(seen.fact, QueueTarget):
        return met(f"Queue {want.name} is there")
    names = seen.fact.names
    if not seen.fact.complete:
        return unproven(f"Queue {want.name} is not in the part of the list that was read", join(names), want.name)
    close = difflib.get_close_matches(want.name.casefold(), [name.casefold() for name in names], n=1)
    meant = next((name for name in names if close and name.casefold() == close[0]), "")
    do = f"The queue may be meant that is called {meant}: ask for that one." if meant else ""
    return unmet(f"There is no queue {want.name}", join(names) or "no queue at all", want.name, do)


def _is_outward(host: str) -> bool:
    try:
        return not ipaddress.ip_address(host.partition("%")[0]).is_loopback
    except ValueError:
        return False


def leads_to(uri: str, device: DeviceRef, known: Known[NameLookup | Addresses], other: DeviceRef) -> bool | None:
    """Does a device URI lead to this device, and not to the other one? By host, name or one of its addresses, never by
    the text of the URI; by port as well where both share the host that it names, as behind one print server. None where
    the URI names no host (USB, DNS-SD), and where too little is known of the device's addresses."""
    try:
        place: Place = parse_place(uri)
    except ValueError:
        return None
    hosts = {device.host.casefold(), device.final} - {""}
    for fact in known.facts():
        hosts |= set(fact.addresses) if isinstance(fact, NameLookup) else {row.address for row in fact.rows}
    if place.host.casefold() not in hosts:
        # A name that leads nowhere, or loopback that stands for a device whose own addresses were not told, could still
        # be the one that the URI means.
        told = {address for address in hosts if address != device.host.casefold()}
        return False if any(map(_is_outward, told)) else None
    if not place.ports:  # a host alone is no device URI: which of two devices behind one host is meant, it does not say
        return True if place.host.casefold() != other.host.casefold() else None
    ((service, port),) = place.ports.items()
    return place.host.casefold() != other.host.casefold() or port == device.port(service)


@rule("where the queue leads", gate=Gate.SURVEY, until=Gate.SWAP, unseen=("queue.exists",))
def points_to_old(
    seen: Queue[QueueTarget], old: Old[NameLookup | Addresses], place: Wanted[OldPlace], other: Wanted[NewPlace]
) -> Ruling:
    """Does the queue lead to the old device that is to be replaced?

    Why: A queue that leads elsewhere is not this move's: unplugging the old device would not change it, and somebody
    else's printer might be meant.
    Do: Look which printer the queue's last job came out of, and correct the Move, or the queue, before going on.
    Source: RFC 3510 and RFC 8011 (printer URIs); socket and lpd URIs are common practice, no source.
    """
    uri = seen.fact.uri
    match leads_to(uri, place.device, old, other.device):
        case True:
            return met("The queue leads to the old device", uri)
        case None:
            return unproven("Not clear whether the queue leads to the old device", uri, place.device.host)
    return unmet("The queue does not lead to the old device", uri, place.device.host)


@rule("where the queue leads now", gate=Gate.LEAVE, unseen=("queue.exists",))
def points_to_new(
    seen: Queue[QueueTarget], new: New[NameLookup | Addresses], place: Wanted[NewPlace], other: Wanted[OldPlace]
) -> Ruling:
    """Does the queue lead to the new device?

    Why: This is what the visit was for.
    Do: Repoint the queue, keeping its name and options. Where the new device keeps the old one's address, give it that
    address.
    Source: RFC 3510 and RFC 8011 (printer URIs); socket and lpd URIs are common practice, no source.
    """
    uri = seen.fact.uri
    match leads_to(uri, place.device, new, other.device):
        case True:
            return met("The queue leads to the new device", uri)
        case None:
            return unproven("Not clear whether the queue leads to the new device", uri, place.device.host)
    return unmet("The queue does not lead to the new device yet", uri, place.device.final or place.device.host)


@rule("whether the queue takes and prints jobs", gate=Gate.SURVEY, unseen=("queue.exists",))
def enabled(seen: Queue[PrinterState]) -> Iterator[Ruling]:
    """Is the queue enabled, and does it accept jobs?

    Why: A queue that was stopped before the move will be blamed on the new device afterwards.
    Do: Find out who stopped the queue and why. Then enable it, so that the waiting jobs come out on the old device
    (this needs an administrator of the workstation).
    Source: RFC 8011 s5.4.11, s5.4.23.
    """
    state, message = seen.fact.state, seen.fact.message
    if state == "stopped":
        found = join(["stopped", message and f"({message})"], " ")
        yield unmet("The queue is stopped", found, "idle or processing", item="state")
    elif state in {"idle", "processing"}:
        yield met(f"The queue is {state}", item="state")
    else:
        yield unproven("The queue does not tell its state", state, "idle or processing", item="state")
    match seen.fact.accepting:
        case True:
            yield met("The queue accepts jobs", item="accepting")
        case False:
            yield unmet("The queue does not accept jobs", "not accepting", "accepting", item="accepting")
        case None:
            yield unproven("The queue does not tell whether it accepts jobs", item="accepting")


@rule("jobs in the queue", after=("queue.enabled/state",), unseen=("queue.exists",))
def drained(seen: Queue[Jobs]) -> Ruling:
    """Is the queue empty?

    Why: Waiting jobs were made for the old device's driver. On the new device they come out wrong, or twice.
    Do: Let the waiting jobs finish on the old device, or have their owners cancel them. Do not let them go to the new
    one.
    Takes: as long as the jobs take
    Source: RFC 8011 s5.4.24 (queued-job-count), s4.2.6 (Get-Jobs).
    """
    fact = seen.fact
    waiting = max(fact.waiting or 0, len(fact.rows))
    if waiting:
        found = join(f"job {row.job} {row.state}" for row in fact.rows[:5]) or count(waiting, "job")
        verb = "waits" if waiting == 1 else "wait"
        return unmet(f"{count(waiting, 'job')} {verb} in the queue", found, "none")
    if fact.waiting is None and not fact.complete:
        return unproven("The queue's list of jobs was cut short")
    return met("No job waits in the queue")


@rule("the queue's driver", gate=Gate.LEAVE, unseen=("queue.exists",))
def driver(seen: Queue[QueueDriver], want: Wanted[DriverDemand]) -> Ruling:
    """Has the queue the driver that the Standard requires?

    Why: With the old device's driver the page comes out in the wrong size, or not at all.
    Do: Give the queue the required driver (this needs an administrator of the workstation), keeping its name.
    Source: RFC 8011 s5.4.9 (printer-make-and-model of the queue).
    """
    if fnmatchcase(seen.fact.name.casefold(), want.pattern.casefold()):
        return met(f"The driver is {seen.fact.name}")
    return unmet(f"The queue's driver is {seen.fact.name}", seen.fact.name, want.pattern)


@rule(
    "the version of the queue's driver",
    gate=Gate.LEAVE,
    weight=Weight.CARE,
    after=("queue.driver",),
    unseen=("queue.exists",),
)
def driver_version(seen: Queue[QueueDriver], want: Wanted[DriverVersionDemand]) -> Ruling:
    """Has the driver the version that the Standard requires?

    Why: The application was tested with it.
    Do: Install the required version of the driver (this needs an administrator of the workstation).
    Source: the Standard's own requirement; spoolers name versions in no common way (common practice, no source).
    """
    wanted = f"{want.operator}{want.version}"
    if not seen.fact.version:
        return unproven("The spooler does not tell the driver's version", "no version", wanted)
    order = compare(seen.fact.version, want.version)
    if order is None:
        return unproven(f"Driver version {seen.fact.version} cannot be compared", seen.fact.version, wanted)
    holds = {"==": order == 0, ">=": order >= 0, "<=": order <= 0}[want.operator]
    if holds:
        return met(f"The driver's version is {seen.fact.version}")
    return unmet(f"The driver's version is {seen.fact.version}", seen.fact.version, wanted)
