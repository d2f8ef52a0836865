"""IP addresses: what they become. Stage: between the text of an address and the place of its network.

The last octet of an IPv4 address stays, so that a person can still talk of "the one with .22". What an address is for
stays too: private ones stay in their own block (RFC 1918), all others go to blocks that nobody has on the Internet (RFC
2544: 198.18.0.0/15; RFC 6598: 100.64.0.0/10 where that is full), IPv6 to 2001:db8::/32 (RFC 3849) or, where it is a
unique local one (RFC 4193), to another of those. What names no customer stays as it is: loopback, self-assigned, "this
network", groups, broadcast, and the masks.
"""

import ipaddress
from collections.abc import Callable

from netcheck.redaction.hardware import Hardware
from netcheck.redaction.keyed import Key
from netcheck.redaction.networks import Block, Space

Address = ipaddress.IPv4Address | ipaddress.IPv6Address
_HALF = (1 << 64) - 1
_SOLICITED = ipaddress.ip_network("ff02::1:ff00:0/104")
"""Groups that end as an address does (RFC 4291 s2.7.1)."""
_MAPPED = ipaddress.ip_network("::ffff:0:0/96")
_MASKS = {"128.0.0.0", "192.0.0.0"}
"""Masks that could be addresses; all longer ones are in 224.0.0.0/3."""


def _block(text: str) -> Block:
    network = ipaddress.ip_network(text)
    return Block(int(network.network_address), network.prefixlen)


def _roots(*kept: str, private: dict[str, str], others: tuple[str, ...], width: str) -> dict[Block, list[Block]]:
    return {
        **{_block(each): [] for each in kept},
        **{_block(each): [_block(target)] for each, target in private.items()},
        _block(width): [_block(each) for each in others],
    }


_FOUR = _roots(
    *("0.0.0.0/8", "127.0.0.0/8", "169.254.0.0/16", "224.0.0.0/3"),
    private={each: each for each in ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16")},
    others=("198.18.0.0/15", "100.64.0.0/10"),
    width="0.0.0.0/0",
)
_SIX = _roots(*("fe80::/10", "ff00::/8"), private={"fc00::/7": "fd00::/8"}, others=("2001:db8::/32",), width="::/0")


class Gathered:
    """The addresses and networks that the fields of a case hold, before any of them is moved."""

    def __init__(self) -> None:
        self.addresses: set[Address] = set()
        self.networks: set[tuple[int, Block]] = set()

    def address(self, text: str) -> None:
        """Take note of one; what is no address is none of ours."""
        if (parsed := parse(text)) is not None:
            self.addresses.add(_unmapped(parsed))

    def network(self, text: str, length: int | str) -> None:
        """Take note of the network that an address lies in by this prefix length or mask."""
        try:
            network = ipaddress.ip_network(f"{text.partition('%')[0]}/{length}", strict=False)
        except ValueError:
            return
        self.networks.add((network.version, Block(int(network.network_address), network.prefixlen)))


class Addresses:
    """What the addresses of one case become."""

    def __init__(self, key: Key, gathered: Gathered, hardware: Hardware) -> None:
        self._hardware = hardware
        self._spaces = {4: Space(key, 32, 24, _FOUR), 6: Space(key, 128, 64, _SIX)}
        for version, space in self._spaces.items():
            own = [int(each) for each in gathered.addresses if each.version == version]
            space.settle(own, [block for of, block in gathered.networks if of == version])
        self._small = {block for of, block in gathered.networks if of == 6 and 64 < block.length < 128}

    def replaced(self, text: str, zone: Callable[[str], str] = str) -> str:
        """An address, with its zone where it has one. Raises ValueError for what is none."""
        bare, percent, name = text.partition("%")
        return f"{self._moved(ipaddress.ip_address(bare))}{percent}{zone(name)}"

    def _moved(self, address: Address) -> Address:
        if isinstance(address, ipaddress.IPv4Address):
            return address if str(address) in _MASKS else ipaddress.IPv4Address(self._spaces[4].moved(int(address)))
        if address in _MAPPED:
            inner = self._moved(_unmapped(address))
            return ipaddress.IPv6Address(int(_MAPPED.network_address) | int(inner))
        if address in _SOLICITED:
            tail = int(self._hardware.hexadecimal(f"{int(address) & 0xFFFFFF:06x}"), 16)
            return ipaddress.IPv6Address(int(_SOLICITED.network_address) | tail)
        if address.is_multicast or int(address) <= 1:
            return address
        moved = self._spaces[6].moved(int(address))
        return ipaddress.IPv6Address(moved & ~_HALF | self._identifier(int(address)))

    def _identifier(self, address: int) -> int:
        """Within a network that is narrower than a /64 the rest of the address is a number on a list, as in IPv4."""
        if any(self._spaces[6].around(address, block.length) == block for block in self._small):
            return address & _HALF
        return self._hardware.interface_identifier(address & _HALF)


def parse(text: str) -> Address | None:
    """An address without its zone; None for what is none."""
    try:
        return ipaddress.ip_address(text.partition("%")[0])
    except ValueError:
        return None


def _unmapped(address: Address) -> Address:
    mapped = address.ipv4_mapped if isinstance(address, ipaddress.IPv6Address) else None
    return mapped if mapped is not None else address
