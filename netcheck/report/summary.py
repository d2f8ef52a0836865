"""A device in one line."""

import ipaddress

from netcheck.case import Case
from netcheck.evidence import facts_of
from netcheck.facts.identity import Firmware, Model, Serial
from netcheck.facts.network import Addresses
from netcheck.gates import Gate
from netcheck.move import asked_host
from netcheck.roles import Role
from netcheck.words import join

_TAIL = 4


def _is_local(address: str) -> bool:
    """A link-local IPv6 address: every interface has one, and it tells nobody anything."""
    parsed = ipaddress.ip_address(address.partition("%")[0])
    return parsed.version == 6 and parsed.is_link_local


def device_line(case: Case, role: Role, gate: Gate) -> str:
    """Model, tail of the serial number, firmware, addresses: enough to see which box it is."""
    move = case.move
    ref = {Role.OLD: move.old, Role.NEW: move.new, Role.DEVICE: move.device}.get(role)
    host = asked_host(move, role, gate) if ref else ""
    if host is None:
        return "not asked: its address is to be the new one's now"
    models, serials = facts_of(case, role, Model), facts_of(case, role, Serial)
    firmware, own = facts_of(case, role, Firmware), facts_of(case, role, Addresses)
    addresses = [row.address for table in own[:1] for row in table.rows if row.address != host]
    addresses = [address for address in addresses if not _is_local(address)]
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
