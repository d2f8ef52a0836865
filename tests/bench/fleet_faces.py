"""The devices of the simulated fleet: one simulated printer, and for each device a face of its own over it.

A face is an address on loopback, a serial number and a MAC address. They stand in the printer's answers in the place of
its own, and each is as long as what it stands for, so that putting on a face never moves an octet.
"""

import ipaddress
from dataclasses import dataclass
from functools import cached_property

from netcheck.rehearsal.scenarios import NEW

MOST = 10_000
ADDRESS = "127.10.100.100"
"""Under this address the printer itself is described: all faces have addresses of the same length."""
_FIRST, _A_SIDE = 100, 100  # of both last numbers of an address


@dataclass(frozen=True)
class Face:
    """One device, by its number from 0 to MOST - 1."""

    number: int

    @property
    def address(self) -> str:
        return f"127.10.{_FIRST + self.number // _A_SIDE}.{_FIRST + self.number % _A_SIDE}"

    @property
    def serial(self) -> str:
        return f"HX-{self.number:07d}"

    @property
    def mac(self) -> str:
        """The MAC address in lower case with colons."""
        return (b"\x02\x77" + self.number.to_bytes(4, "big")).hex(":")

    def on(self, octets: bytes) -> bytes:
        """What this device says where the printer says `octets`."""
        for own, others in self._words:
            octets = octets.replace(own, others)
        return octets

    def off(self, octets: bytes) -> bytes:
        """The reverse: a message to this device as if it were to the printer."""
        for own, others in self._words:
            octets = octets.replace(others, own)
        return octets

    @cached_property
    def _words(self) -> tuple[tuple[bytes, bytes], ...]:
        return (
            (NEW.serial.encode(), self.serial.encode()),
            (bytes.fromhex(NEW.network.mac.replace(":", "")), bytes.fromhex(self.mac.replace(":", ""))),
            (ADDRESS.encode(), self.address.encode()),
        )


def at(address: str) -> Face | None:
    """The device at an address, None where there is none."""
    octets = ipaddress.IPv4Address(address).packed
    high, low = octets[2] - _FIRST, octets[3] - _FIRST
    if octets[:2] != b"\x7f\x0a" or not (0 <= high < MOST // _A_SIDE and 0 <= low < _A_SIDE):
        return None
    return Face(high * _A_SIDE + low)
