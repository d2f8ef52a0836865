"""pyasn1 as the simulated agent uses it: one way in, and one error for everything that cannot be decoded."""

from __future__ import annotations

from typing import Any

from pyasn1.codec.ber import decoder
from pyasn1.error import PyAsn1Error
from pysnmp.proto import api

# The last two come out of pyasn1 0.6 itself on some broken messages, such as a primitive type with the constructed bit.
_BROKEN = (PyAsn1Error, TypeError, IndexError)


class UndecodableError(Exception):
    """The octets are no BER, or not of the type that was asked for."""


def decode(octets: bytes, spec: Any) -> Any:
    """The value of `spec`'s type that `octets` begin with. Raises UndecodableError."""
    try:
        value, _ = decoder.decode(octets, asn1Spec=spec)
    except _BROKEN as fault:
        raise UndecodableError(str(fault)) from fault
    return value


def message_version(octets: bytes) -> int:
    """The version field of an SNMP message: 0 is v1, 1 is v2c, 3 is v3. Raises UndecodableError."""
    try:
        return int(api.decodeMessageVersion(octets))
    except _BROKEN as fault:
        raise UndecodableError(str(fault)) from fault
