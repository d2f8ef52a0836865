"""What the types of the saved documents do not say: the form of a hash, a code, an address. Beside ``netcheck schema``.

A form is put on a field's schema, in a list on that of its items, in a choice on that of each type that the form's
words are for. It promises no more than whoever writes the field keeps: a device's own text has none.
"""

from typing import Any, TypeAlias

import msgspec

from netcheck.case import Attempt, Observation
from netcheck.document import Seal
from netcheck.facts.base import Measured
from netcheck.facts.link import (
    AdvertisedHost,
    Advertisement,
    Certificate,
    GatewayNeighbour,
    Neighbour,
    OwnInterfaceRow,
    PlannedNeighbour,
    ReverseName,
    Route,
)
from netcheck.facts.network import (
    AddressRow,
    Gateways,
    HardwareAddress,
    InterfaceRow,
    NameLookup,
    Service,
    SnmpAgent,
)
from netcheck.facts.raw import RawRow
from netcheck.finding.document import Row
from netcheck.finding.sighting import Offered
from netcheck.move import ADDRESS_POLICIES, WORDS, DeviceRef, Move, Ports
from netcheck.spoken import ALPHABET, GROUPS
from netcheck.standard import (
    EVIDENCE,
    ORIGINS,
    TCP_SERVICES,
    FactAge,
    OriginDemand,
    Print,
    ServicesClosed,
    ServicesRequired,
    SubnetDemand,
    SupplyLimits,
    WordEnough,
    WorksheetStep,
)
from netcheck.verdict import Finding

Form: TypeAlias = dict[str, Any]

SAFE = 2**53 - 1
"""The largest whole number that every reader of JSON reads as it was written (RFC 8785 s3.1, RFC 7493 s2.2)."""
WHOLE: Form = {"minimum": -SAFE, "maximum": SAFE}
ASCII: Form = {"pattern": r"^[\u0000-\u007f]*$"}
SINCE_1970: Form = {"minimum": 0, "maximum": 253_402_300_799_999}
"""Milliseconds; the last is that of the year 9999, behind which there is no date to show."""
COUNT: Form = {"minimum": 0, "maximum": SAFE}
PORT: Form = {"minimum": 1, "maximum": 65535}
PORT_OR_NONE: Form = {"minimum": 0, "maximum": 65535}
PERCENT: Form = {"minimum": 0, "maximum": 100}
PREFIX: Form = {"minimum": 0, "maximum": 128}
SHA_256: Form = {"pattern": "^[0-9a-f]{64}$"}
CODE: Form = {"pattern": f"^{'-'.join(f'[{ALPHABET}]{{{size}}}' for size in GROUPS)}$"}
_ID = r"[a-z0-9-]+(\.[a-z0-9-]+)+"
ID: Form = {"pattern": f"^{_ID}$"}
KEY: Form = {"pattern": f"^{_ID}@(old|new|queue|here|device)/"}
"""``id@role/item`` of a finding. The item is often a device's own text, and may be anything."""

MAC: Form = {"pattern": "^[0-9a-f]{2}(:[0-9a-f]{2}){5}$"}
MAC_OR_NONE: Form = {"pattern": "^([0-9a-f]{2}(:[0-9a-f]{2}){5})?$"}
HARDWARE: Form = {"pattern": "^[0-9a-f]{2}(:[0-9a-f]{2})*$"}
"""As long as the wire or the agent had it: not every link's are of six octets."""
HARDWARE_OR_NONE: Form = {"pattern": "^([0-9a-f]{2}(:[0-9a-f]{2})*)?$"}

_OCTET = "(25[0-5]|2[0-4][0-9]|1[0-9][0-9]|[1-9]?[0-9])"
_IPV4: Form = {"pattern": rf"^{_OCTET}(\.{_OCTET}){{3}}$"}
_IPV6: Form = {"pattern": "^[0-9A-Fa-f.]*:[0-9A-Fa-f:.]*$", "format": "ipv6"}
_ZONED: Form = {"pattern": "^[0-9A-Fa-f.]*:[0-9A-Fa-f:.]*%.+$"}
"""RFC 4007 s11.2; the format ``ipv6`` (RFC 4291 s2.2) knows no zone."""
ADDRESS: Form = {"anyOf": [_IPV4, _IPV6, _ZONED]}
ADDRESS_OR_NONE: Form = {"anyOf": [{"const": ""}, _IPV4, _IPV6, _ZONED]}
SUBNET: Form = {"pattern": rf"^({_OCTET}(\.{_OCTET}){{3}}|[0-9A-Fa-f:.]*:[0-9A-Fa-f:.]*)/[0-9]{{1,3}}$"}


def _one_of(*words: str) -> Form:
    return {"enum": list(words)}


_NEIGHBOUR = {"address": ADDRESS, "macs": HARDWARE, "method": _one_of("arp", "nd", "neighbour-table"), "asks": ADDRESS}

FORMS: dict[type[msgspec.Struct], dict[str, Form]] = {
    # evidence
    Observation: {"at_ms": SINCE_1970, "from": ADDRESS_OR_NONE},
    Attempt: {"at_ms": SINCE_1970, "took_ms": COUNT},
    Move: {"address": _one_of("", *ADDRESS_POLICIES)},
    DeviceRef: {"final": ADDRESS_OR_NONE, "mac": MAC_OR_NONE},
    Ports: dict.fromkeys(Ports.__struct_fields__, PORT),
    # facts
    Measured: {"value": COUNT},
    AddressRow: {"address": ADDRESS, "prefix_length": PREFIX},
    AdvertisedHost: {"port": PORT_OR_NONE, "addresses": ADDRESS},
    Advertisement: {"port": PORT_OR_NONE, "addresses": ADDRESS},
    Certificate: {"port": PORT, "fingerprint": SHA_256, "key_bits": COUNT, "chain_length": COUNT},
    GatewayNeighbour: _NEIGHBOUR,
    Gateways: {"addresses": ADDRESS},
    HardwareAddress: {"value": MAC},
    InterfaceRow: {"mac": HARDWARE_OR_NONE},
    NameLookup: {"addresses": ADDRESS},
    Neighbour: _NEIGHBOUR,
    OwnInterfaceRow: {"address": ADDRESS, "prefix_length": PREFIX, "mac": HARDWARE_OR_NONE},
    PlannedNeighbour: _NEIGHBOUR,
    RawRow: {"depth": COUNT},
    ReverseName: {"address": ADDRESS, "leads_to": ADDRESS},
    Route: {"address": ADDRESS, "source": ADDRESS_OR_NONE},
    Service: {
        "port": PORT,
        "state": _one_of("open", "refused", "silent", "unreachable"),
        "waited_ms": COUNT,
        "round_trips_us": COUNT,
        "segment": COUNT,
    },
    SnmpAgent: {"version": _one_of("v1", "v2c", "v3")},
    # judgement
    FactAge: {"max_minutes": {"minimum": 1, "maximum": SAFE}},
    OriginDemand: {"origins": _one_of(*ORIGINS)},
    Print: {
        "x": {"minimum": 1, "maximum": SAFE},
        "y": {"minimum": 1, "maximum": SAFE},
        "feed": _one_of("", "roll", "sheet"),
    },
    ServicesClosed: {"names": _one_of(*TCP_SERVICES)},
    ServicesRequired: {"names": _one_of(*TCP_SERVICES)},
    SubnetDemand: {"network": SUBNET},
    SupplyLimits: dict.fromkeys(SupplyLimits.__struct_fields__, PERCENT),
    WordEnough: {"kinds": _one_of(*WORDS)},
    WorksheetStep: {"evidence": _one_of("", *EVIDENCE)},
    Finding: {"id": ID, "causes": KEY},
    # the seal
    Seal: {"evidence": SHA_256, "whole": SHA_256, "code": CODE},
    # what was found
    Offered: {"port": PORT_OR_NONE},
    Row: {"addresses": ADDRESS, "macs": HARDWARE},
}
"""By the name under which a field is saved."""
