"""A request to whoever owns the site's network, to be pasted into a message: what must be prepared for the new device.

Stage: after the verdict, like the pages. It says what the Move and the case know, and leaves a gap that is easily seen
where they do not.
"""

import ipaddress

from netcheck.case import Case
from netcheck.evidence import facts_of
from netcheck.facts.identity import Model
from netcheck.facts.link import Neighbour
from netcheck.facts.network import Addresses, HardwareAddress, Interfaces
from netcheck.gates import Gate
from netcheck.move import KEEP, USB, DeviceRef
from netcheck.place import DEFAULT_PORTS, is_address
from netcheck.report.page import NOTHING_ABOUT, About, Page, Paint
from netcheck.roles import Role
from netcheck.rules.planned import MOVED_EARLY
from netcheck.standard import Standard
from netcheck.verdict import Holds, Verdict
from netcheck.words import is_asked_first, join

GAP = "________"
_HANG = 15
_GUARDED = "Move the new device to its jack only after that: a strange hardware address may shut a guarded port."


def render_request(
    demanded: Standard, case: Case, verdict: Verdict, gate: Gate, paint: Paint, about: About = NOTHING_ABOUT
) -> str:
    """The request, as plain text."""
    del gate, about
    move, page = case.move, Page(paint)
    old, new = move.old or DeviceRef(""), move.new or DeviceRef("")
    if move.address == USB:
        page.text("The new device is to be connected by USB: nothing is needed of the network.")
        return str(page)
    page.text(join(["To the network's owner", join([move.site, move.job and f"job {move.job}"])], ": "))
    page.text(f"A printer is replaced. Please prepare what follows, by {move.when or GAP}.")
    page.gap()
    address = "" if _is_refused(verdict) else new.final or (new.host if move.address != KEEP else "")
    old_mac, new_mac = _mac(case, Role.OLD, old), _mac(case, Role.NEW, new)
    for label, text in (
        ("jack", new.jack or GAP),
        ("old device", join([_model(case, Role.OLD), old_mac or f"hardware address {GAP}", old.host])),
        (
            "new device",
            join([_model(case, Role.NEW), new_mac or f"hardware address {GAP}", new.serial and f"serial {new.serial}"]),
        ),
        ("address", join([f"{address or GAP}{_prefix(demanded, address)}", _came(case, address)])),
    ):
        page.labelled(label, text, 2, _HANG)
    page.gap()
    for number, text in enumerate(_wishes(demanded, case, verdict, address, old_mac, new_mac or GAP), 1):
        page.labelled(f"{number}.", text, 2, 5)
    page.gap()
    page.text(_GUARDED)
    return str(page)


def _is_refused(verdict: Verdict) -> bool:
    """Is the planned address one that the new device cannot have? Nobody is to be asked to prepare that."""
    refusing = {"planned.usable", "planned.taken", "planned.holder"}
    return any(
        each.id in refusing and each.state is Holds.UNMET and each.item != MOVED_EARLY for each in verdict.findings
    )


def _wishes(demanded: Standard, case: Case, verdict: Verdict, address: str, old_mac: str, new_mac: str) -> list[str]:
    move = case.move
    jack = (move.new and move.new.jack) or GAP
    asked = [step for step in verdict.steps if is_asked_first(step.do)]
    return [
        _reservation(case, address, old_mac, new_mac),
        f"Let {new_mac} in at jack {jack}, where jacks are guarded or devices are on an allow-list; take"
        f" {old_mac or 'the old device'} off it once the old device is gone.",
        f"Let through to {address or GAP}, from where the site prints: {_services(demanded, move.new)}.",
        *(f"Found: {step.why}. Please {_wish(step.do)}" for step in asked),
    ]


def _wish(asked: str) -> str:
    """What the owner is asked for, said to the owner; what somebody else is asked for, to be passed on."""
    owner = "Ask the network's owner "
    if not asked.startswith(owner):
        return f"ask {asked.removeprefix('Ask ')}"
    how, _, what = asked.removeprefix(owner).partition(" ")
    return {"to": what, "for": f"give us {what}"}.get(how, f"tell us {how} {what}")


def _reservation(case: Case, address: str, old_mac: str, new_mac: str) -> str:
    where, origin = address or GAP, _origin(case, address)
    by_hand = f"keep {where} out of what DHCP gives out: it is set by hand. Tell us mask and gateway if they change."
    if case.move.address != KEEP:
        return f"Reserve {where} for {new_mac}; or, if it is to be set by hand: {by_hand}"
    change = (
        f"Change the reservation of {where} from {old_mac or GAP} to {new_mac}, at the time of the swap; the old lease"
        " must end, or the new device gets another address."
    )
    return {"manual": by_hand[0].upper() + by_hand[1:], "dhcp": change}.get(
        origin, f"{change} If it is set by hand instead: {by_hand}"
    )


def _services(demanded: Standard, new: DeviceRef | None) -> str:
    names = demanded.services_required.names if demanded.services_required else ("ipp", "raw")
    ports = new.ports.named() if new else {}
    wanted = [f"TCP {ports.get(name, DEFAULT_PORTS.get(name, GAP))} ({name})" for name in names if name != "snmp"]
    return join([*wanted, f"UDP {ports.get('snmp', DEFAULT_PORTS['snmp'])} (snmp, to read its state)"])


def _mac(case: Case, role: Role, ref: DeviceRef) -> str:
    """The work order's hardware address, else the one that was seen."""
    plates = [each.value for each in facts_of(case, role, HardwareAddress)]
    tables = [row.mac for each in facts_of(case, role, Interfaces) for row in each.rows if row.mac]
    wire = [mac for each in facts_of(case, role, Neighbour)[:1] for mac in each.macs if len(each.macs) == 1]
    return next(iter([mac for mac in (ref.mac, *plates, *tables, *wire) if mac]), "")


def _model(case: Case, role: Role) -> str:
    return next((each.value for each in facts_of(case, role, Model)), "model not seen")


def _prefix(demanded: Standard, address: str) -> str:
    """The site's prefix length, where the address is the site's."""
    network = ipaddress.ip_network(demanded.subnet.network) if demanded.subnet else None
    return (
        f"/{network.prefixlen}" if network and is_address(address) and ipaddress.ip_address(address) in network else ""
    )


def _came(case: Case, address: str) -> str:
    how = {"manual": "set by hand", "dhcp": "from DHCP"}.get(_origin(case, address), "")
    return how and f"which the old device has {how}"


def _origin(case: Case, address: str) -> str:
    """How the old device got the address (RFC 4293 ipAddressOrigin); "" where it did not tell."""
    tables = facts_of(case, Role.OLD, Addresses)[:1]
    return next((row.origin for each in tables for row in each.rows if row.address == address), "")
