"""Facts about the wire: where we stand ourselves, and who answers for an address on it."""

from typing import ClassVar

import msgspec

from netcheck.facts.base import Fact
from netcheck.facts.network import check_address, check_prefix


class OwnInterfaceRow(msgspec.Struct, frozen=True):
    """One address of one interface of ours. ``mac`` is lower case with colons, "" where there is none. ``up`` is
    whether its link is up (RFC 2863 s3.1.13: ready to pass packets); None where our system does not tell."""

    name: str
    address: str
    prefix_length: int
    mac: str
    up: bool | None = None

    def __post_init__(self) -> None:
        check_prefix(self.address, self.prefix_length)


class OwnInterfaces(Fact, frozen=True):
    """Our own interfaces, loopback included."""

    kind: ClassVar[str] = "own-interfaces"
    rows: tuple[OwnInterfaceRow, ...]


class OwnGateways(Fact, frozen=True):
    """Our own default routers, as (address, interface)."""

    kind: ClassVar[str] = "own-gateways"
    rows: tuple[tuple[str, str], ...]


class Route(Fact, frozen=True):
    """How we reach the device: from which interface and address of ours, and whether it is on that interface's own
    subnet (``on_link``) or behind a router. Worked out from our interfaces (RFC 1122 s3.3.1.1); nothing was sent.
    ``interface`` and ``source`` are "" where our system has no way there."""

    kind: ClassVar[str] = "route"
    address: str
    interface: str
    source: str
    on_link: bool

    def __post_init__(self) -> None:
        check_address(self.address)
        if self.source:
            check_address(self.source)


class Neighbour(Fact, frozen=True):
    """Who answers for an address on our own link. ``macs`` are all that were seen, lower case with colons; none in a
    ``complete`` answer means that nobody owns it. ``method`` is ``arp`` (asked on the wire) or ``neighbour-table``
    (what our system remembered, which may be stale, and holds one owner at most) or ``nd`` (IPv6, asked on the wire).
    ``reason`` says what could not be seen, and why. ``state`` is the table's own word (RFC 4861 s7.3.2: reachable,
    stale, delay, probe, incomplete; and failed, permanent), "" where it has none. ``asks`` are the addresses that its
    owners themselves were heard to ask for while we listened (ARP requests, RFC 826): whom they are about to send to.
    """

    kind: ClassVar[str] = "neighbour"
    address: str
    macs: tuple[str, ...]
    method: str
    complete: bool
    reason: str = ""
    state: str = ""
    asks: tuple[str, ...] = ()


class PlannedNeighbour(Neighbour, frozen=True):
    """The same of the address that the new device is to have after the move: who has it now."""

    kind: ClassVar[str] = "planned-neighbour"


class GatewayNeighbour(Neighbour, frozen=True):
    """The same of a default router: of ours, or of the one that the device names."""

    kind: ClassVar[str] = "gateway-neighbour"


class ReverseName(Fact, frozen=True):
    """The name that an address leads back to (PTR, in DNS or in mDNS); none when there is none. ``leads_to`` are the
    addresses that the first of the names leads to in turn; None when that was not learnt."""

    kind: ClassVar[str] = "reverse-name"
    address: str
    names: tuple[str, ...]
    by: str
    leads_to: tuple[str, ...] | None = None


class TxtEntry(msgspec.Struct, frozen=True):
    """One key of a TXT record (RFC 6763 s6.4), lower case. ``value`` None: the key stood alone; "": "key="; octets that
    are not UTF-8 are hex in ``binary``."""

    key: str
    value: str | None
    binary: str = ""


SERVICE_OF_TYPE = {
    "_ipp._tcp": "ipp",
    "_ipps._tcp": "ipps",
    "_printer._tcp": "lpd",
    "_pdl-datastream._tcp": "raw",
    "_http._tcp": "http",
}
"""What we call the services that DNS-SD names (IANA service name registry, from memory)."""

USUAL_TXT = {
    "txtvers": "1",
    "qtotal": "1",
    "priority": "50",
    "pdl": "application/postscript",
    "note": "",
    "air": "none",
    **dict.fromkeys(("transparent", "binary", "tbcp"), "F"),
    **dict.fromkeys(("color", "duplex", "bind", "collate", "copies", "punch", "sort", "staple", "papercustom"), "U"),
    **dict.fromkeys(("scan", "fax"), "U"),
}
"""What an absent key of a printer's TXT record means (printing over DNS-SD, taken over by PWG 5100.14; from memory)."""


class AdvertisedHost(msgspec.Struct, frozen=True):
    """One SRV record of an instance: the host that it leads to, and the addresses that were told for that host."""

    name: str
    port: int
    addresses: tuple[str, ...]


class Advertisement(Fact, frozen=True):
    """One service instance of DNS-SD (RFC 6763), resolved by answers that came now, not from a cache. ``hosts`` are all
    SRV targets: more than one means that two devices use one name. ``port`` 0 is a claimed name without a service.
    ``places`` says which host has which port and addresses; ``subtypes`` are those that it was also found under."""

    kind: ClassVar[str] = "advertisement"
    instance: str
    type: str
    port: int
    hosts: tuple[str, ...]
    addresses: tuple[str, ...]
    txt: tuple[TxtEntry, ...]
    subtypes: tuple[str, ...] = ()
    places: tuple[AdvertisedHost, ...] = ()

    def get(self, key: str) -> str:
        """Value of a TXT key; "" when it is absent, empty or alone."""
        return next((entry.value or "" for entry in self.txt if entry.key == key.lower()), "")

    def usual(self, key: str) -> str:
        """The same, and what its absence means by convention when it is absent; "" where nothing is agreed."""
        has = any(entry.key == key.lower() for entry in self.txt)
        return self.get(key) if has else USUAL_TXT.get(key.lower(), "")


class Certificate(Fact, frozen=True):
    """The certificate that a TLS service showed (RFC 5280). Times are ms since 1970. ``verified`` is False where our
    own system does not trust its chain (most devices sign their own), ``fault`` says why. ``names`` are its subject
    alternative names, else its common names; ``names_complete`` is False where there were too many to keep.
    ``key_type`` is the algorithm's label in its RFC (``rsaEncryption``), or its dotted identifier; ``key_bits`` is 0
    for a type that has one size only, or that we do not know. ``fingerprint`` is SHA-256 in hex. ``chain_length``
    counts the certificates that came, 0 where our own side does not tell. ``tls`` is the version agreed on, as
    ``TLSv1.3``.
    """

    kind: ClassVar[str] = "certificate"
    port: int
    tls: str
    subject: str
    issuer: str
    names: tuple[str, ...]
    not_before_ms: int
    not_after_ms: int
    key_type: str
    key_bits: int
    fingerprint: str
    self_signed: bool
    chain_length: int
    verified: bool
    fault: str
    names_complete: bool = True
