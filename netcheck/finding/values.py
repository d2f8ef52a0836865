"""Small comparisons of what devices say of themselves."""

import ipaddress
from collections.abc import Sequence


def same(text: str) -> str:
    """The form in which two values are compared: case and spacing make no difference."""
    return " ".join(text.casefold().split())


def telling(text: str) -> bool:
    """Can it tell one device from another? What nobody filled in is one character over and over: 0000, XXXX, ----."""
    return len({character for character in text if character.isalnum()}) > 1


def address_order(addresses: Sequence[str]) -> tuple[int, bool, int]:
    """IPv4 before IPv6, link-local last in each, then by number; no address comes after all."""
    if not addresses:
        return 9, True, 0
    address = ipaddress.ip_address(addresses[0].partition("%")[0])
    return address.version, address.is_link_local, int(address)
