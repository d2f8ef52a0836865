"""Who answers for an IPv4 address, asked by ARP (RFC 826) in the form that disturbs nobody. Pure: frames and octets.

A question that names its sender's address makes every neighbour that hears it update what it remembers of that sender.
So this asks as a host does that has no address yet: the probe of RFC 5227 s1.1, whose sender address is 0.0.0.0. Its
owner must answer it all the same (s2.1.1), every owner: two of them make two answers. Nothing is ever announced.

    Ethernet  to 6, from 6, type 2
    ARP       hardware 2, protocol 2, their lengths 1 and 1, operation 2;
              sender: hardware address 6, address 4; target: hardware address 6, address 4
"""

import ipaddress
import struct

from .saying import Language, Said, packed

_ETHERTYPE = 0x0806
_FRAME = struct.Struct("!6s6sHHHBBH6s4s6s4s")
_ETHERNET_AND_IPV4 = (1, 0x0800, 6, 4)
_REQUEST = 1
_EVERYBODY, _NOBODY, _NO_ADDRESS = b"\xff" * 6, bytes(6), bytes(4)


def probe_frame(mac: str, address: str) -> bytes:
    """An ARP probe for an IPv4 address in an Ethernet frame."""
    us, asked = packed(mac), ipaddress.IPv4Address(address).packed
    ends = _EVERYBODY, us, _ETHERTYPE
    return _FRAME.pack(*ends, *_ETHERNET_AND_IPV4, _REQUEST, us, _NO_ADDRESS, _NOBODY, asked)


def said(frame: bytes) -> Said | None:
    """The address that the sender of a frame says is its own, and whom it asks for. A question says the former as well
    as an answer does (RFC 5227 s2.1.1). A probe claims nothing, and neither it nor an announcement (s1.1: its own
    address in both places) asks for somebody to send to."""
    if len(frame) < _FRAME.size:
        return None
    _, _, ethertype, *kind, operation, mac, sender, _, target = _FRAME.unpack_from(frame)
    if ethertype != _ETHERTYPE or tuple(kind) != _ETHERNET_AND_IPV4 or sender == _NO_ADDRESS:
        return None
    asks = str(ipaddress.IPv4Address(target)) if operation == _REQUEST and target != sender else ""
    return Said(str(ipaddress.IPv4Address(sender)), mac.hex(":"), asks)


ARP = Language("ARP", "arp", _ETHERTYPE, probe_frame, said)
