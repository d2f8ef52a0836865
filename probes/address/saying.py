"""How neighbours are asked for on an Ethernet: what both ways, ARP and neighbour discovery, have in common."""

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Said:
    """What one frame says: ``address`` is ``mac``'s own (lower case with colons). ``asks`` is the address that its
    sender asks for besides, "" for none."""

    address: str
    mac: str
    asks: str = ""


@dataclass(frozen=True, slots=True)
class Language:
    """One way of asking. ``method`` is `Neighbour`'s label for it, ``name`` is for a person. ``question`` makes a frame
    from our hardware address and the address that is asked for; ``read`` takes any frame, and is None for one that says
    nothing of its sender. Neither ever raises."""

    name: str
    method: str
    ethertype: int
    question: Callable[[str, str], bytes]
    read: Callable[[bytes], Said | None]


def packed(mac: str) -> bytes:
    """The six octets of a hardware address."""
    return bytes.fromhex(mac.replace(":", ""))
