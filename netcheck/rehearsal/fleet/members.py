"""The devices of a simulated fleet, by number: a kind, and a face of its own over the answers of that kind.

A face is an address on loopback, a serial number, a MAC address and a UUID. They stand in the printer's answers in the
place of its own, and each is as long as what it stands for, so that putting on a face never moves an octet.
"""

from __future__ import annotations

import ipaddress
import uuid
from dataclasses import dataclass
from functools import cached_property

from netcheck.rehearsal.fleet.kinds import QUICKEST_S, SLOWEST_S, Kind, kind_of
from netcheck.rehearsal.scenarios import NEW

MOST = 10_000
ADDRESS = "127.10.100.100"
"""Under this address the printer itself is described: all faces have addresses of the same length."""
_FIRST, _A_SIDE = 100, 100  # of both last numbers of an address
_A_SITE = 8  # devices
_SPACE = uuid.UUID("0b7c6e1d-2f10-5b7e-9a53-6f1b6c1e5d0a")  # invented; keeps UUIDs the same on every run
_UUID_OCTETS = 36  # of the text


@dataclass(frozen=True)
class Member:
    """One device, by its number from 0 to MOST - 1; ``kind`` is that of its number, unless all are to be alike."""

    number: int
    kind: Kind

    @property
    def address(self) -> str:
        return f"127.10.{_FIRST + self.number // _A_SIDE}.{_FIRST + self.number % _A_SIDE}"

    @property
    def site(self) -> str:
        return f"survey-office-{self.number // _A_SITE + 1:04d}"

    @property
    def serial(self) -> str:
        return f"HX-{self.number:07d}"

    @property
    def ordered_serial(self) -> str:
        """What the fleet's list says that it is."""
        return self.serial if self.kind.ordered else f"HX-{MOST + self.number:07d}"

    @property
    def mac(self) -> str:
        """The MAC address in lower case with colons."""
        return (b"\x02\x77" + self.number.to_bytes(4, "big")).hex(":")

    @property
    def delay_s(self) -> float:
        """How long a slow device takes for an answer."""
        return QUICKEST_S + (SLOWEST_S - QUICKEST_S) * (self.number * 37 % 100) / 100

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
        own_uuid = self.kind.speaks_ipp.uuid.removeprefix("urn:uuid:").encode()
        return (
            (ADDRESS.encode(), self.address.encode()),
            (NEW.serial.encode(), self.serial.encode()),
            (bytes.fromhex(NEW.network.mac.replace(":", "")), bytes.fromhex(self.mac.replace(":", ""))),
            (own_uuid, str(uuid.uuid5(_SPACE, self.serial)).encode()),
        )


def member(number: int, *, alike: bool = False) -> Member:
    """A device by its number."""
    return Member(number, kind_of(0 if alike else number))


def number_at(address: bytes) -> int | None:
    """The number of the device at an address (its four octets), None where there is none."""
    high, low = address[2] - _FIRST, address[3] - _FIRST
    if address[:2] != b"\x7f\x0a" or not (0 <= high < MOST // _A_SIDE and 0 <= low < _A_SIDE):
        return None
    return high * _A_SIDE + low


def packed(address: str) -> bytes:
    """The four octets of an address."""
    return ipaddress.IPv4Address(address).packed
