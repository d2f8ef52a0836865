"""Who answers for an IPv6 address, asked by neighbour discovery (RFC 4861) as ARP does. Pure: frames and octets.

The question is the one that a host asks about an address before it uses it (RFC 4862 s5.4.2): from no address, so that
nobody remembers us, to the group that only owners of such addresses listen to. An owner answers it to all nodes of the
link (RFC 4861 s7.2.4), every owner: two of them make two answers.

    Ethernet  to 6, from 6, type 2
    IPv6      version, class and label 4, payload length 2, next header 1, hop limit 1, source 16, destination 16
    ICMPv6    type 1, code 1, checksum 2, flags or unused 4, target 16
    options   type 1, length in units of 8 octets 1, value
"""

import ipaddress
import struct
from collections.abc import Iterator

from .saying import Language, Said, packed

_ETHERTYPE = 0x86DD
_ETHERNET, _IPV6, _MESSAGE = struct.Struct("!6s6sH"), struct.Struct("!IHBB16s16s"), struct.Struct("!BBHI16s")
_VERSION_6 = 6 << 28
_ICMPV6, _FROM_THIS_LINK = 58, 255
"""RFC 4861 s7.1: a router lowers the hop limit, so that no frame with all of it came from another link."""
_SOLICITATION, _ADVERTISEMENT = 135, 136
_TARGET_LINK_ADDRESS = 2
_SOLICITED = 1 << 30
_MULTICAST = 0xFF


def solicitation(mac: str, address: str) -> bytes:
    """A neighbour solicitation for an IPv6 address in an Ethernet frame. It carries no option: from an address that is
    none, it must not name a hardware address (RFC 4861 s4.3)."""
    asked = ipaddress.IPv6Address(address).packed
    group = bytes.fromhex("ff0200000000000000000001ff") + asked[-3:]  # RFC 4291 s2.7.1
    head = _ETHERNET.pack(b"\x33\x33" + group[-4:], packed(mac), _ETHERTYPE)  # RFC 2464 s7
    ip = _IPV6.pack(_VERSION_6, _MESSAGE.size, _ICMPV6, _FROM_THIS_LINK, bytes(16), group)
    unsummed = _MESSAGE.pack(_SOLICITATION, 0, 0, 0, asked)
    total = 0xFFFF - _sum(bytes(16), group, unsummed)
    return head + ip + _MESSAGE.pack(_SOLICITATION, 0, total, 0, asked)


def said(frame: bytes) -> Said | None:
    """The address that a neighbour advertisement is about, and its owner's hardware address; None for every other
    frame, and for one that must not be believed (RFC 4861 s7.1.2)."""
    if len(frame) < _ETHERNET.size + _IPV6.size + _MESSAGE.size:
        return None
    _, came_from, ethertype = _ETHERNET.unpack_from(frame)
    first, length, following, hops, source, destination = _IPV6.unpack_from(frame, _ETHERNET.size)
    payload = frame[_ETHERNET.size + _IPV6.size :][:length]  # Ethernet pads short frames
    if (ethertype, first >> 28, following, hops) != (_ETHERTYPE, 6, _ICMPV6, _FROM_THIS_LINK):
        return None
    if len(payload) < max(length, _MESSAGE.size) or _sum(source, destination, payload) != 0xFFFF:
        return None
    kind, code, _, flags, target = _MESSAGE.unpack_from(payload)
    if (kind, code) != (_ADVERTISEMENT, 0) or target[0] == _MULTICAST:
        return None
    if destination[0] == _MULTICAST and flags & _SOLICITED:
        return None
    try:
        options = dict(_options(payload[_MESSAGE.size :]))
    except ValueError:
        return None
    owner = options.get(_TARGET_LINK_ADDRESS, came_from)
    return Said(str(ipaddress.IPv6Address(target)), owner.hex(":")) if len(owner) == len(came_from) else None


def _options(data: bytes) -> Iterator[tuple[int, bytes]]:
    """Type and value of each. Raises ValueError where one has no end, or no beginning."""
    at = 0
    while at < len(data):
        size = data[at + 1] * 8 if at + 1 < len(data) else 0
        if not 0 < size <= len(data) - at:
            raise ValueError(f"an option of {size} octets")
        yield data[at], data[at + 2 : at + size]
        at += size


def _sum(source: bytes, destination: bytes, message: bytes) -> int:
    """The sum of ICMPv6 over its pseudo-header (RFC 8200 s8.1, RFC 4443 s2.3), carries folded in: all ones where the
    checksum that is in the message is right."""
    summed = source + destination + struct.pack("!IxxxB", len(message), _ICMPV6) + message
    words: tuple[int, ...] = struct.unpack(f"!{(len(summed) + 1) // 2}H", summed + bytes(len(summed) % 2))
    total = sum(words)
    while total >> 16:
        total = (total & 0xFFFF) + (total >> 16)
    return total


ND = Language("neighbour discovery", "nd", _ETHERTYPE, solicitation, said)
