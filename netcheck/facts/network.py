"""Facts about addresses and services: what the device says of itself, and what we saw when we tried."""

import ipaddress
from functools import lru_cache
from typing import ClassVar

import msgspec

from netcheck.facts.base import Fact


@lru_cache(1024)
def check_address(text: str) -> None:
    """Raise ValueError for what is no literal address: rules compute with addresses, also with those of a file."""
    ipaddress.ip_address(text.partition("%")[0])


@lru_cache(1024)
def check_prefix(text: str, length: int) -> None:
    """The same of an address with the length of its prefix."""
    if not 0 <= length <= ipaddress.ip_address(text.partition("%")[0]).max_prefixlen:
        raise ValueError(f"{length} is no length of a prefix of {text}")


class NameLookup(Fact, frozen=True):
    """What the resolver said about a host name; no addresses when it said that there is no such name."""

    kind: ClassVar[str] = "name-lookup"
    name: str
    addresses: tuple[str, ...]

    def __post_init__(self) -> None:
        for address in self.addresses:
            check_address(address)


class Service(Fact, frozen=True):
    """What a TCP port did when we connected and closed again. Nothing was sent on the connection.

    ``state``: ``open``, ``refused`` (a reset came back), ``silent`` (nothing came back in ``waited_ms``) or
    ``unreachable`` (our own stack or a router said so; ``error`` is the errno's name). ``round_trips_us`` has one
    number for each connect that succeeded. ``segment`` is how many octets of data one packet may carry on the way there
    (RFC 9293 s3.7.1), 0 where our system does not tell.
    """

    kind: ClassVar[str] = "service"
    service: str
    port: int
    state: str
    error: str
    waited_ms: int
    round_trips_us: tuple[int, ...]
    segment: int = 0


class SnmpAgent(Fact, frozen=True):
    """An SNMP agent answered: ``version`` is v1, v2c or v3."""

    kind: ClassVar[str] = "snmp-agent"
    version: str


class PrinterUri(msgspec.Struct, frozen=True):
    """One position of printer-uri-supported with its security and authentication (RFC 8011 s5.4.1 to s5.4.3)."""

    uri: str
    security: str
    authentication: str


class IppService(Fact, frozen=True):
    """An IPP printer object answered at ``path``. Operations are hexadecimal codes, as ``000b``."""

    kind: ClassVar[str] = "ipp-service"
    path: str
    versions: tuple[str, ...]
    operations: tuple[str, ...]
    uris: tuple[PrinterUri, ...]


class AddressRow(msgspec.Struct, frozen=True):
    """One address of the device by its own word (RFC 4293 ipAddressTable, else RFC 1213 ipAddrTable).

    ``prefix_length`` is None when the mask was not given or is not contiguous; ``mask`` is then the text as given.
    ``origin`` (manual, dhcp, linklayer, random, other) and ``status`` are "" in the old table.
    """

    address: str
    prefix_length: int | None
    mask: str
    interface: int | None
    origin: str
    status: str

    def __post_init__(self) -> None:
        check_address(self.address)


class Addresses(Fact, frozen=True):
    """The device's own addresses, loopback left out."""

    kind: ClassVar[str] = "addresses"
    rows: tuple[AddressRow, ...]
    complete: bool


class InterfaceRow(msgspec.Struct, frozen=True):
    """One network interface (RFC 2863). ``mac`` is lower case with colons, else "". ``speed_bits`` is in bit/s,
    ``duplex`` is halfDuplex, fullDuplex, unknown or "" (RFC 3635). Counters mean something only as a difference of two
    readings."""

    index: int
    description: str
    type: str
    mac: str
    oper_status: str
    speed_bits: int | None
    duplex: str = ""
    in_errors: int | None = None
    out_errors: int | None = None
    late_collisions: int | None = None


class Interfaces(Fact, frozen=True):
    """The device's network interfaces, loopback left out."""

    kind: ClassVar[str] = "interfaces"
    rows: tuple[InterfaceRow, ...]
    complete: bool


class Gateways(Fact, frozen=True):
    """The device's default routers; none in a complete answer means that it has none."""

    kind: ClassVar[str] = "gateways"
    addresses: tuple[str, ...]
    complete: bool

    def __post_init__(self) -> None:
        for address in self.addresses:
            check_address(address)


class HardwareAddress(Fact, frozen=True):
    """A MAC address read from the plate, the box or the panel: lower case with colons."""

    kind: ClassVar[str] = "mac"
    value: str
