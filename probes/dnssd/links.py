"""Which of our links multicast can leave by. Stage: ask; sends nothing."""

import errno
import os
import socket
from collections.abc import Iterator
from contextlib import suppress
from typing import Final

import netifaces

LOOPBACK: Final = "127.0.0.1"
GROUP: Final = ("224.0.0.251", 5353)
"""RFC 6762 s3."""


def usable() -> tuple[list[str], OSError | None]:
    """One address of ours for each link, and loopback. Where there is nothing but loopback, also why: ENETUNREACH, or
    what the system said of the last link."""
    found, fault = [], OSError(errno.ENETUNREACH, os.strerror(errno.ENETUNREACH))
    for address in _own():
        try:
            _try_route(address)
        except OSError as error:
            fault = error
        else:
            found.append(address)
    return [LOOPBACK, *found], None if found else fault


def _own() -> Iterator[str]:
    """The first IPv4 address of each interface but loopback, and its IPv6 link-local address: a device without IPv4 is
    heard by the other alone (RFC 6762 s3, s20)."""
    for interface in netifaces.interfaces():
        with suppress(ValueError):  # it went away meanwhile
            rows = netifaces.ifaddresses(interface)
            for row in rows.get(netifaces.AF_INET, ())[:1]:
                if not row["addr"].startswith("127."):
                    yield row["addr"]
            scoped = (row["addr"] for row in rows.get(netifaces.AF_INET6, ()))
            yield from [address for address in scoped if address.startswith("fe80:")][:1]


def _try_route(address: str) -> None:
    """Connecting a datagram socket looks the route up and sends nothing. Raises OSError where there is none."""
    if ":" in address:
        return  # the kernel takes a link-local address away from a link that is down
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton(address))
        probe.connect(GROUP)
