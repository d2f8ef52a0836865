"""Linux's neighbour table, asked over rtnetlink: octets in, entries out.

A request is one header and one neighbour message, with an address where only its entry is wanted (Linux 5.0 and later).
The answer is one message like it or, for the whole table, a row of them ended by "done" (Linux, include/uapi/linux/
netlink.h, rtnetlink.h and neighbour.h; all numbers in the machine's own order):

    header    length u32, type u16, flags u16, sequence u32, port u32
    message   family u8, 3 octets unused, interface index s32, state u16, flags u8, type u8
    attribute length u16 (its own header counted), type u16, value; padded to 4 octets
"""

import errno
import ipaddress
import socket
import struct
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from netcheck.probing import Malformed

_HEADER = struct.Struct("=IHHII")
_NEIGHBOUR = struct.Struct("=BxxxiHBB")
_ATTRIBUTE = struct.Struct("=HH")
_ERRNO = struct.Struct("=i")
_ERROR, _DONE, _NEW_NEIGHBOUR, _GET_NEIGHBOUR = 2, 3, 28, 30
_REQUEST, _DUMP = 0x001, 0x300
_DESTINATION, _LINK_ADDRESS = 1, 2
_STATES = {
    0x01: "incomplete",
    0x02: "reachable",
    0x04: "stale",
    0x08: "delay",
    0x10: "probe",
    0x20: "failed",
    0x40: "noarp",
    0x80: "permanent",
}
_CANNOT_ASK_FOR_ONE = {errno.EOPNOTSUPP, errno.EINVAL}
_ANSWER_WITHIN_S = 1.0
_READ, _MOST_READS = 65_536, 256
"""16 MiB: more than ten times what the kernel keeps by default (gc_thresh3, 1024 entries)."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One row of a neighbour table. ``mac`` is lower case with colons, "" while there is none; ``state`` is a label of
    `Neighbour`, "" where the system does not tell it."""

    address: str
    interface: str
    mac: str
    state: str


def entry_of(address: ipaddress.IPv4Address | ipaddress.IPv6Address, interface: str) -> Entry | None:
    """What the kernel remembers of one address on one link. Needs no privilege. Raises OSError or `Malformed`."""
    try:
        found = _asked(request(address, socket.if_nametoindex(interface)), whole=False)
    except OSError as error:
        if error.errno == errno.ENOENT:
            return None
        if error.errno not in _CANNOT_ASK_FOR_ONE:
            raise
        found = _asked(request(), whole=True)
    of_it = (entry for entry in found if (entry.address, entry.interface) == (str(address), interface))
    return next(of_it, None)


def request(address: ipaddress.IPv4Address | ipaddress.IPv6Address | None = None, interface: int = 0) -> bytes:
    """The question for one entry; without an address, for the whole table."""
    if address is None:
        kind, flags, about = socket.AF_UNSPEC, _REQUEST | _DUMP, b""
    else:
        kind, flags = socket.AF_INET if address.version == 4 else socket.AF_INET6, _REQUEST
        about = _ATTRIBUTE.pack(_ATTRIBUTE.size + len(address.packed), _DESTINATION) + address.packed
    length = _HEADER.size + _NEIGHBOUR.size + len(about)
    return _HEADER.pack(length, _GET_NEIGHBOUR, flags, 1, 0) + _NEIGHBOUR.pack(kind, interface, 0, 0, 0) + about


def _asked(question: bytes, *, whole: bool) -> list[Entry]:
    with socket.socket(socket.AF_NETLINK, socket.SOCK_RAW, 0) as kernel:  # NETLINK_ROUTE is 0
        kernel.settimeout(_ANSWER_WITHIN_S)
        kernel.send(question)
        found: list[Entry] = []
        for _ in range(_MOST_READS):
            part, done = parse(kernel.recv(_READ), _name_of)
            found += part
            if done or not whole:
                return found
    raise Malformed("the neighbour table has no end")


def parse(data: bytes, name_of: Callable[[int], str]) -> tuple[list[Entry], bool]:
    """Entries of one read, and whether they were the last; ``name_of`` names an interface by its index.

    Raises `Malformed`, or OSError where the kernel refused.
    """
    found: list[Entry] = []
    at = 0
    while at < len(data):
        length, kind, _, _, _ = _unpack(_HEADER, data, at)
        if not _HEADER.size <= length <= len(data) - at:
            raise Malformed(f"a message of {length} octets at octet {at}")
        body = data[at + _HEADER.size : at + length]
        if kind == _DONE:
            return found, True
        if kind == _ERROR:
            raise OSError(-_unpack(_ERRNO, body, 0)[0], "the kernel refused to show its neighbour table")
        if kind == _NEW_NEIGHBOUR:
            found += _entry(body, name_of)
        at += _padded(length)
    return found, False


def _entry(body: bytes, name_of: Callable[[int], str]) -> Iterator[Entry]:
    family, index, state, _, _ = _unpack(_NEIGHBOUR, body, 0)
    values = dict(_attributes(body[_NEIGHBOUR.size :]))
    size = {int(socket.AF_INET): 4, int(socket.AF_INET6): 16}.get(family)
    where, hardware = values.get(_DESTINATION, b""), values.get(_LINK_ADDRESS, b"")
    if size is None or len(where) != size:
        return  # a bridge's own table comes the same way
    mac = hardware.hex(":") if len(hardware) == 6 else ""
    yield Entry(str(ipaddress.ip_address(where)), name_of(index), mac, _STATES.get(state, str(state)))


def _attributes(data: bytes) -> Iterator[tuple[int, bytes]]:
    at = 0
    while at < len(data):
        length, kind = _unpack(_ATTRIBUTE, data, at)
        if not _ATTRIBUTE.size <= length <= len(data) - at:
            raise Malformed(f"an attribute of {length} octets")
        yield kind, data[at + _ATTRIBUTE.size : at + length]
        at += _padded(length)


def _unpack(shape: struct.Struct, data: bytes, at: int) -> tuple[int, ...]:
    if len(data) - at < shape.size:
        raise Malformed(f"cut short at octet {at}")
    return shape.unpack_from(data, at)


def _padded(length: int) -> int:
    return (length + 3) & ~3


def _name_of(index: int) -> str:
    try:
        return socket.if_indextoname(index)
    except OSError:
        return ""  # it was taken away between the answer and the question
