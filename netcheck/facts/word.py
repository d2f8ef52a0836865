"""What a person's word stands for: the fact that it claims, checked before it is believed."""

import ipaddress

from netcheck.facts.base import Fact
from netcheck.facts.identity import Firmware, Meter, Model, Serial
from netcheck.facts.network import Addresses, AddressRow, HardwareAddress
from netcheck.tables import parse_mac

WANTED_WORDS = {
    "model": "the model as on the plate",
    "serial": "the serial number as on the plate",
    "firmware": "a version, as 4.7.2",
    "address": "an address with its prefix length, as 192.0.2.61/24",
    "mac": "a MAC address, as 02:77:00:00:00:22",
    "meter": "a count and its unit, as 14 impressions",
}
"""What can be read from a panel or a plate, and how it is written."""
_LARGEST = 2**53 - 1


def word_fact(what: str, value: str) -> Fact:
    """The fact that a word claims. Raises ValueError where the value cannot be one, or nobody knows ``what``."""
    match what:
        case "model":
            return Model(value)
        case "serial":
            return Serial(value)
        case "firmware":
            return Firmware(value)
        case "mac":
            return HardwareAddress(parse_mac(value))
        case "address":
            return Addresses((_address(value),), complete=False)
        case "meter":
            count, _, unit = value.partition(" ")
            if not (count.isascii() and count.isdecimal() and len(count) <= 16 and int(count) <= _LARGEST):
                raise ValueError(value)
            return Meter(int(count), unit.strip())
        case _:
            raise ValueError(what)


def _address(value: str) -> AddressRow:
    text, _, length = value.partition("/")
    address = ipaddress.ip_address(text.strip())
    if address.is_unspecified or address.is_multicast:
        raise ValueError(value)
    prefix = ipaddress.ip_network(f"{address}/{length.strip()}", strict=False).prefixlen if length else None
    return AddressRow(str(address), prefix, "", None, "", "")
