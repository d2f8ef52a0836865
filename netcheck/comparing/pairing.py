"""Who is who in two cases: which role a device by itself has beside a whole move, and whether a device was swapped for
another. Pure."""

from collections.abc import Iterable, Iterator

import msgspec

from netcheck.case import Case, Observation, in_role
from netcheck.comparing.chain import is_alone
from netcheck.facts.identity import Serial
from netcheck.facts.link import Neighbour
from netcheck.facts.network import HardwareAddress, Interfaces
from netcheck.finding.values import same, telling
from netcheck.move import DeviceRef, Move
from netcheck.roles import Role

SERIAL, MAC = "serial", "mac"


class UnknownDeviceError(ValueError):
    """A case of one device by itself that the other case's move does not know: what was found, and what is wanted."""

    def __init__(self, found: str, wanted: str) -> None:
        super().__init__(found, wanted)
        self.found, self.wanted = found, wanted


class Swapped(msgspec.Struct, frozen=True):
    """What tells one box from another, and is another now: ``what`` is serial or mac. Nothing of what was seen before
    was seen again."""

    role: Role
    what: str
    before: tuple[str, ...]
    after: tuple[str, ...]


def paired(before: Case, after: Case) -> tuple[Case, Case, Role | None]:
    """What can be compared of the two cases, with one role for one device, and the role in the move that a device by
    itself has: of a whole move, only that device is compared with it. None where both are of a move, or of one device
    each. Raises UnknownDeviceError."""
    if is_alone(before) is is_alone(after):
        return before, after, None
    single, whole = (before, after) if is_alone(before) else (after, before)
    role = _role_in(whole, single)
    renamed, part = in_role(single, Role.DEVICE, role), _only(whole, role)
    return (renamed, part, role) if single is before else (part, renamed, role)


def _only(case: Case, role: Role) -> Case:
    return msgspec.structs.replace(
        case,
        attempts=tuple(each for each in case.attempts if each.role is role),
        observations=tuple(each for each in case.observations if each.role is role),
    )


def _role_in(whole: Case, single: Case) -> Role:
    """Whose host it is; where old and new are at one place, one after the other, its serial number says."""
    ref = single.move.device
    known = {role: each for role, each in ((Role.NEW, whole.move.new), (Role.OLD, whole.move.old)) if each}
    roles = [role for role, each in known.items() if ref and _is_at(each, ref)]
    if not roles:
        hosts = " or ".join(dict.fromkeys(each.host for each in known.values() if each.host))
        raise UnknownDeviceError(
            f"a case of {ref.host if ref else ''} by itself", f"a case of {hosts}, or one of a move"
        )
    serials = set(_serials(single, Role.DEVICE))
    by_serial = [role for role in roles if serials & set(_serials(whole, role))]
    by_ports = [role for role in roles if ref and ref.ports.named() and known[role].ports == ref.ports]
    return [*by_serial, *by_ports, *roles][0]


def _is_at(known: DeviceRef, ref: DeviceRef) -> bool:
    return bool(ref.host) and ref.host in {known.host, known.final}


def strangers(before: Move, after: Move) -> list[str]:
    """In what two moves differ, so that who compares them may be wrong: jobs and devices, in words."""
    told = []
    if before.job and after.job and before.job != after.job:
        told.append(f"job {before.job}, and job {after.job}")
    for role in ("old", "new", "device"):
        one, other = getattr(before, role), getattr(after, role)
        if one and other and not ({one.host, one.final} & {other.host, other.final} - {""}):
            told.append(f"{role} device {one.host or 'without an address'}, and {other.host or 'without an address'}")
    return told


def swapped(before: Case, after: Case) -> tuple[Swapped, ...]:
    """The devices of which nothing that was seen of their serial numbers, or of their hardware addresses, was seen
    again. Where one of the two cases tells none, nobody can say."""
    return tuple(_swapped(before, after))


def _swapped(before: Case, after: Case) -> Iterator[Swapped]:
    for role in (Role.OLD, Role.NEW, Role.DEVICE):
        for what, told in ((SERIAL, _serials), (MAC, _macs)):
            one, other = (tuple(dict.fromkeys(told(case, role))) for case in (before, after))
            if one and other and not {same(each) for each in one} & {same(each) for each in other}:
                yield Swapped(role, what, one, other)


def _serials(case: Case, role: Role) -> Iterator[str]:
    """What nobody filled in tells no box from another."""
    return (item.value["value"] for item in _of(case, role, Serial.kind) if telling(item.value["value"]))


def _macs(case: Case, role: Role) -> Iterator[str]:
    """By its own word or its plate; for want of that, who answered for its address."""
    own = [row["mac"] for item in _of(case, role, Interfaces.kind) for row in item.value["rows"] if row["mac"]]
    own += [item.value["value"] for item in _of(case, role, HardwareAddress.kind)]
    near = [mac for item in _of(case, role, Neighbour.kind) for mac in item.value["macs"]]
    return iter(own or near)


def _of(case: Case, role: Role, kind: str) -> Iterable[Observation]:
    return (item for item in case.observations if item.role is role and item.kind == kind)
