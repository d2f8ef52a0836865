"""Stage: ask, the carrier. Where a redirect may lead.

Only to another path on the same host, scheme and port. A device must not be able to send our octets anywhere else:
least of all to its own port 9100, which would print them. One that asks for TLS on the same host is heard as that
demand, and answered at the port that is known for it. Pure.
"""

from __future__ import annotations

import ipaddress
import re
from typing import TYPE_CHECKING, Final
from urllib.parse import SplitResult, urlsplit

if TYPE_CHECKING:
    from probes.ipp.http import Endpoint

_PATH: Final = re.compile(r"/[!-~]{0,1023}")
_PLAIN: Final = {"http": 80, "ipp": 631}
_SECURE: Final = {"https": 443, "ipps": 631}


def followed(endpoint: Endpoint, location: str) -> str | None:
    """The path that a redirect points to, when it is one that may be followed."""
    try:
        target = urlsplit(location)
        elsewhere = bool(target.scheme or target.netloc) and not _same_place(endpoint, target)
    except ValueError:
        return None
    path = f"{target.path}?{target.query}" if target.query else target.path
    return path if not elsewhere and _PATH.fullmatch(path) else None


def demands_tls(endpoint: Endpoint, location: str) -> bool:
    """Does a redirect from the plain port ask for the same host by TLS?"""
    try:
        target = urlsplit(location)
    except ValueError:
        return False
    return endpoint.tls is None and target.scheme in _SECURE and _same_host(endpoint, target)


def _same_place(endpoint: Endpoint, target: SplitResult) -> bool:
    """Raises ValueError for a port that is none."""
    schemes = _SECURE if endpoint.tls else _PLAIN
    return (
        target.scheme in schemes
        and (target.port or schemes[target.scheme]) == endpoint.port
        and _same_host(endpoint, target)
    )


def _same_host(endpoint: Endpoint, target: SplitResult) -> bool:
    return _comparable(target.hostname or "") in {_comparable(endpoint.address), _comparable(endpoint.host)}


def _comparable(host: str) -> str:
    bare = host.partition("%")[0]
    try:
        return str(ipaddress.ip_address(bare))
    except ValueError:
        return bare.lower().removesuffix(".")
