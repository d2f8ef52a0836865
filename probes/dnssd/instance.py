"""What was heard of one service instance: the records of one name. Stage: between ask and read."""

from typing import Final

import msgspec

TYPES: Final = ("_ipp._tcp", "_ipps._tcp", "_printer._tcp", "_pdl-datastream._tcp", "_http._tcp")
"""Services that a printer offers, by the IANA service name registry (from memory): IPP, IPP over TLS, LPD, raw, web."""
SUBTYPES: Final = ("_print._sub._ipp._tcp", "_print._sub._ipps._tcp", "_universal._sub._ipp._tcp")
"""What clients without a driver look for: the first two are IPP Everywhere's (PWG 5100.14, from memory), the third
common practice, no source. Whatever is found there is found under ``_ipp._tcp`` or ``_ipps._tcp`` too."""
DOMAIN: Final = ".local."


class Place(msgspec.Struct, frozen=True):
    """One SRV record (RFC 2782), and the addresses of its host as far as they were told."""

    host: str
    port: int
    addresses: tuple[str, ...]


class Instance(msgspec.Struct, frozen=True):
    """The records of one instance name. Several places are one name claimed by several hosts; several ``texts`` (the
    octets of a TXT record each) are either that, or the logical queues of RFC 6763 s6.8."""

    label: str
    type: str
    places: tuple[Place, ...] = ()
    texts: tuple[bytes, ...] = ()
    subtypes: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """The full service instance name, without the dot at its end."""
        return f"{self.label}.{self.type}{DOMAIN}".removesuffix(".")

    @property
    def complete(self) -> bool:
        """Is there nothing left to ask?"""
        return bool(self.texts and self.places and all(place.addresses for place in self.places))
