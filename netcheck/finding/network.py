"""The network that is to be scanned, as a person names it: what may be named, and which of its addresses are asked.
Pure.

A scan that was meant for one office and goes to a whole region, because of a slip in a prefix, is what people remember
of scans. So the network is taken at its word, or not at all, and it is small.
"""

import ipaddress
from collections.abc import Iterable

from netcheck.errors import Complaint, InputError
from netcheck.facts.link import OwnInterfaceRow

MOST = 1024
"""Addresses of the largest network that is scanned: a /22. More than that is no office, and is asked piece by piece."""
_LONGEST = 32 - (MOST.bit_length() - 1)
_EXAMPLE = "an IPv4 network, as 192.0.2.0/24"

Network = ipaddress.IPv4Network


def parse_network(text: str) -> Network:
    """The network that ``--scan`` names, in CIDR notation (RFC 4632 s3.1). Raises InputError."""
    bare, slash, prefix = text.strip().partition("/")
    try:
        address = ipaddress.ip_address(bare)
        if isinstance(address, ipaddress.IPv6Address):
            raise _refusal(text, f"{text}, which is IPv6, where a scan would find nobody in a lifetime", _EXAMPLE)
        if not slash:
            raise _refusal(
                text, f"{text} without a prefix length", f"{text}/32 for this one address, or a network as {text}/24"
            )
        if not (prefix.isascii() and prefix.isdecimal()):
            raise _refusal(text, repr(text), _EXAMPLE)
        network = Network((address, int(prefix)), strict=False)
    except ValueError:
        raise _refusal(text, repr(text), _EXAMPLE) from None
    _check(text, address, network)
    return network


def _check(text: str, address: ipaddress.IPv4Address, network: Network) -> None:
    """RFC 1122 s3.2.1.3: what can be the addresses of single hosts; and no more of them than `MOST`."""
    if address.is_multicast or address.is_reserved or int(address) >> 24 == 0:
        raise _refusal(text, f"{text}, where no single device can be", _EXAMPLE)
    if network.prefixlen < _LONGEST:
        within = Network((address, _LONGEST), strict=False)
        found = f"{text}, which has {network.num_addresses:,} addresses"
        raise _refusal(text, found, f"at most {MOST:,}, as {within}: one network of the site after the other")
    if address != network.network_address:
        raise _refusal(
            text,
            f"{text}, whose address is inside of the network",
            f"{network} for the whole network, or {address}/32 for this one address",
        )


def _refusal(text: str, found: str, wanted: str) -> InputError:
    return InputError(Complaint("command line", "--scan", found if text.strip() else "nothing", wanted))


def addresses_of(network: Network) -> tuple[str, ...]:
    """Its hosts, in order: neither the network's own address nor its broadcast address, which a /31 (RFC 3021) and a
    /32 do not have."""
    return tuple(map(str, network.hosts()))


def never_asked(own: Iterable[OwnInterfaceRow]) -> frozenset[str]:
    """Ourselves, and the broadcast addresses of our own links, which may lie amid a larger network that was named."""
    never: set[str] = set()
    for row in own:
        address = ipaddress.ip_address(row.address.partition("%")[0])
        never.add(str(address))
        if isinstance(address, ipaddress.IPv4Address) and row.prefix_length <= 30:
            link = Network((address, row.prefix_length), strict=False)
            never |= {str(link.network_address), str(link.broadcast_address)}
    return frozenset(never)
