"""Where a device is: a host name, an address, or a printing URI, as a person writes it."""

import ipaddress
import re
from dataclasses import dataclass
from urllib.parse import urlsplit

WANTED_PLACE = "a host name, an IPv4 or IPv6 address, or a printing URI, as ipp://192.0.2.61/ipp/print"
DEFAULT_PORTS = {"ipp": 631, "ipps": 631, "raw": 9100, "lpd": 515, "snmp": 161, "http": 80, "https": 443}
SERVICE_OF_SCHEME = {"ipp": "ipp", "ipps": "ipps", "socket": "raw", "lpd": "lpd", "http": "http", "https": "https"}
_LABEL = re.compile(r"(?!-)[A-Za-z0-9_-]{1,63}(?<!-)")


@dataclass(frozen=True, slots=True)
class Place:
    """``host`` is a name or a literal address; ``ports`` and ``path`` are what a URI said beyond it."""

    host: str
    ports: dict[str, int]
    path: str = ""


def parse_place(text: str) -> Place:
    """Take a device apart. Raises ValueError whose text says what is wrong with it, and repeats nothing of a password
    that may be in it; never looks a name up."""
    scheme, slashes, rest = text.partition("://")
    # A password may have any delimiter in it unencoded, so that only the @ itself tells that there is one.
    if "@" in text or "%40" in (rest if slashes else scheme).partition("/")[0]:
        raise ValueError("a URI with a user or password in it (it has an @), which would end up in reports")
    if slashes:
        return _parse_uri(text)
    return Place(parse_host(text.strip("[]")), {})


def is_address(host: str) -> bool:
    """Is it a literal address, and not a name?"""
    try:
        ipaddress.ip_address(host.partition("%")[0])
    except ValueError:
        return False
    return True


def is_loopback(host: str) -> bool:
    """Is it this machine, by address or by name?"""
    try:
        return ipaddress.ip_address(host.partition("%")[0]).is_loopback
    except ValueError:
        return host.casefold() == "localhost"


def parse_host(text: str) -> str:
    """A name or literal address that could belong to a device (RFC 1123 s2.1; RFC 1122 s3.2.1.3)."""
    if not text:
        raise ValueError("nothing")
    bare, _, zone = text.partition("%")
    try:
        address = ipaddress.ip_address(bare)
    except ValueError:
        return _parse_name(text)
    if address.is_multicast or address.is_unspecified or (address.version == 4 and int(address) >> 24 in {0, 255}):
        raise ValueError(f"{text}, which no single device can have")
    if address.version == 6 and address.is_link_local and not zone:
        raise ValueError(f"{text} without the interface that it is on, as {text}%eth0")
    return f"{address}%{zone}" if zone else str(address)


def _parse_name(text: str) -> str:
    labels = text.removesuffix(".").split(".")
    if labels[-1].isdigit():
        raise ValueError(f"{text!r}, which is not an IPv4 address and cannot be a name, as it ends in a number")
    if len(text) > 253 or not all(_LABEL.fullmatch(label) for label in labels):
        raise ValueError(f"{text!r}, which cannot be a host name")
    return text


def _parse_uri(text: str) -> Place:
    parts = urlsplit(text)
    service = SERVICE_OF_SCHEME.get(parts.scheme)
    if service is None:
        raise ValueError(f"a {parts.scheme}: URI, which is none of {', '.join(SERVICE_OF_SCHEME)}")
    try:
        port = parts.port or DEFAULT_PORTS[service]
    except ValueError:
        raise ValueError("a URI whose port is not a number from 1 to 65535") from None
    host = parse_host(parts.hostname or "")
    path = parts.path if service in {"ipp", "ipps"} and parts.path != "/" else ""
    return Place(host, {service: port}, path)
