"""Our own interfaces and gateways, and the way from them to a device. Sends nothing."""

import ipaddress
import socket
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Self

from netcheck.facts.link import OwnGateways, OwnInterfaceRow, OwnInterfaces, Route
from netcheck.wire import socket_address

DISCARD = 9
"""The port that the system is asked for a way to (RFC 863); for that alone nothing is sent to it."""
_LINK_STATES = Path("/sys/class/net")
_UP = {"up": True, "unknown": None}
"""RFC 2863 ifOperStatus, as Linux writes it; all other states are not up."""


@dataclass(frozen=True, slots=True)
class OwnNetwork:
    """Where we stand. A run reads it once, for all targets."""

    interfaces: OwnInterfaces
    gateways: OwnGateways

    @classmethod
    async def look(cls) -> Self:
        """Read it from the system. Raises OSError."""
        import netifaces

        rows = [row for name in netifaces.interfaces() for row in rows_of(name, netifaces.ifaddresses(name))]
        return cls(OwnInterfaces(tuple(rows)), OwnGateways(tuple(gateways_of(netifaces.gateways()))))

    async def close(self) -> None:
        """Nothing is held."""

    def way_to(self, address: str) -> Route:
        """The way to a literal address: the system chooses our own address, and its interface and mask say the rest."""
        return route(address, _source_towards(address), self.interfaces.rows)

    def mac_of(self, interface: str) -> str:
        """The hardware address of one of our interfaces; "" where it has none."""
        return next((row.mac for row in self.interfaces.rows if row.name == interface), "")

    def is_down(self, interface: str) -> bool:
        """Do we know that the link of this interface is down?"""
        return any(row.up is False for row in self.interfaces.rows if row.name == interface)


Families = Mapping[int, Sequence[Mapping[str, str]]]
"""What netifaces says of one interface: for each address family, its addresses."""


def rows_of(name: str, families: Families) -> Iterator[OwnInterfaceRow]:
    """One row an address of an interface."""
    import netifaces

    mac = next((entry.get("addr", "") for entry in families.get(netifaces.AF_LINK, ())), "").lower().replace("-", ":")
    hardware = mac if len(mac) == 17 and mac.strip("0:") else ""
    up = _link_state(name)
    for family in (netifaces.AF_INET, netifaces.AF_INET6):
        for entry in families.get(family, ()):
            address = entry.get("addr", "").partition("%")[0]
            if address:
                yield OwnInterfaceRow(name, address, _prefix_length(address, entry.get("netmask", "")), hardware, up)


def _prefix_length(address: str, mask: str) -> int:
    """Of a mask like 255.255.255.0, ffff:ffff:: or ffff:ffff::/32. One that is absent, or no mask, leaves the address
    alone on its link."""
    alone = ipaddress.ip_address(address).max_prefixlen
    text = mask.rpartition("/")[2] if "/" in mask else _ones(mask)
    return int(text) if text.isdecimal() and int(text) <= alone else alone


def _ones(mask: str) -> str:
    with suppress(ValueError):
        packed = ipaddress.ip_address(mask)
        bits = f"{int(packed):0{packed.max_prefixlen}b}"
        if "01" not in bits:
            return str(bits.count("1"))
    return ""


def _link_state(name: str) -> bool | None:
    """Is the link up? Linux says so in a file; other systems take the addresses away from an interface whose cable is
    out (Windows and macOS, from memory), so that it is not asked there."""
    if not sys.platform.startswith("linux"):
        return None
    try:
        state = (_LINK_STATES / name / "operstate").read_text("ascii").strip()
    except OSError:
        return None
    return _UP.get(state, False)


def gateways_of(said: Mapping[Any, object]) -> Iterator[tuple[str, str]]:
    """Address and interface of every default router that netifaces names."""
    for family, routers in said.items():
        if family != "default" and isinstance(routers, list):
            yield from ((str(router[0]), str(router[1])) for router in routers)


def _source_towards(address: str) -> str:
    """Our own address towards a device, "" where the system has no way there. Connecting a datagram socket looks the
    route up and sends nothing."""
    with suppress(OSError):
        family, where = socket_address(address, DISCARD, socket.SOCK_DGRAM)
        with socket.socket(family, socket.SOCK_DGRAM) as asked:
            asked.connect(where)
            return str(asked.getsockname()[0]).partition("%")[0]
    return ""


def route(address: str, source: str, rows: Sequence[OwnInterfaceRow]) -> Route:
    """Local or remote by our own mask (RFC 1122 s3.3.1.1); a zone names the interface (RFC 4007 s11)."""
    bare, _, zone = address.partition("%")
    names = [row.name for row in rows if row.address == source]
    if not names:
        return Route(address, "", source, on_link=False)
    name = zone if zone in names else names[0]
    on_link = any(_is_in(bare, row) for row in rows if row.name == name)
    return Route(address, name, source, on_link)


def _is_in(address: str, row: OwnInterfaceRow) -> bool:
    own = ipaddress.ip_interface(f"{row.address}/{row.prefix_length}")
    other = ipaddress.ip_address(address)
    return other.version == own.version and other in own.network
