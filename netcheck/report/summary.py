"""A device in one line."""

import ipaddress
from typing import TypeVar

import msgspec

from netcheck.case import Case
from netcheck.facts import Fact
from netcheck.facts.identity import Firmware, Model, Serial
from netcheck.facts.network import Addresses
from netcheck.roles import Role
from netcheck.words import join

F = TypeVar("F", bound=Fact)
_TAIL = 4


def facts_of(case: Case, role: Role, kind: type[F]) -> list[F]:
    """All facts of one kind about one role, in the case's order."""
    return [
        msgspec.convert(item.value, kind) for item in case.observations if item.role is role and item.kind == kind.kind
    ]


def _is_local(address: str) -> bool:
    """A link-local IPv6 address: every interface has one, and it tells nobody anything."""
    return ipaddress.ip_address(address).version == 6 and ipaddress.ip_address(address).is_link_local


def device_line(case: Case, role: Role) -> str:
    """Model, tail of the serial number, firmware, addresses: enough to see which box it is."""
    refs = {Role.OLD: case.move.old, Role.NEW: case.move.new, Role.DEVICE: case.move.device}
    ref = refs.get(role)
    models, serials = facts_of(case, role, Model), facts_of(case, role, Serial)
    firmware, own = facts_of(case, role, Firmware), facts_of(case, role, Addresses)
    host = ref.host if ref else ""
    addresses = [
        row.address for table in own[:1] for row in table.rows if row.address != host and not _is_local(row.address)
    ]
    serial = serials[0].value if serials else ""
    return join(
        [
            models[0].value if models else "model not seen",
            f"serial ..{serial[-_TAIL:]}" if serial else "serial not seen",
            f"firmware {firmware[0].version}" if firmware else "",
            f"at {host}" if host else "not on the network",
            f"calls itself {join(addresses)}" if addresses else "",
        ]
    )
