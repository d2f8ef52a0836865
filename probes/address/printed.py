"""Neighbour tables as systems print them: text in, entries out. Pure."""

import ipaddress
import re
from collections.abc import Iterator

from .netlink import Entry

_ADDRESS = re.compile(r"(?<![\w.])(\d{1,3}(?:\.\d{1,3}){3})(?![\w.])")
_HARDWARE = re.compile(r"(?<![\w:-])([0-9A-Fa-f]{1,2}(?:([:-])[0-9A-Fa-f]{1,2})(?:\2[0-9A-Fa-f]{1,2}){4})(?![\w:-])")
_INTERFACE = re.compile(r"\bon (\S+)")
_NOBODY = {"", "00:00:00:00:00:00"}
_BROADCAST = "ff:ff:ff:ff:ff:ff"


def proc_net_arp(text: str) -> Iterator[Entry]:
    """Linux, /proc/net/arp: address, hardware type, flags, hardware address, mask, device (proc_net_arp(5) in proc(5)).

    Flags 0x0 is an entry without an owner, be it still asked for or given up: the file does not tell which.
    """
    for line in text.splitlines()[1:]:
        cells = line.split()
        if len(cells) == 6 and _is_address(cells[0]):
            mac = cells[3].lower()
            yield Entry(cells[0], cells[5], "" if mac in _NOBODY or cells[2] == "0x0" else mac, "")


def arp_command(text: str) -> Iterator[Entry]:
    """What ``arp -a`` prints on Windows (dashes, a line an entry under a heading) and on BSD systems (colons, leading
    zeros left out, "on" its interface). Its words are in the system's language, so that only addresses are looked for.
    """
    for line in text.splitlines():
        address, hardware = _ADDRESS.search(line), _HARDWARE.search(line)
        if address is None or not _is_address(address[1]):
            continue
        if hardware is None and "(incomplete)" not in line:
            continue  # a heading: it has an address of our own
        mac = hardware and ":".join(part.zfill(2) for part in re.split("[:-]", hardware[1].lower()))
        interface = _INTERFACE.search(line)
        if mac != _BROADCAST:
            yield Entry(address[1], interface[1] if interface else "", mac or "", "" if mac else "incomplete")


def _is_address(text: str) -> bool:
    try:
        ipaddress.IPv4Address(text)
    except ValueError:
        return False
    return True
