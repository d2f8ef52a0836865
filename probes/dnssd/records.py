"""Stage: ask. The records in a cache → instances. What has expired, or was taken back, is not there any more."""

from collections.abc import Iterator
from ipaddress import ip_address
from itertools import islice
from typing import Final

from zeroconf import current_time_millis
from zeroconf._cache import DNSCache
from zeroconf._dns import DNSAddress, DNSPointer, DNSRecord, DNSService, DNSText

from probes.dnssd.instance import DOMAIN, SUBTYPES, TYPES, Instance, Place

_IN, _A, _PTR, _TXT, _AAAA, _SRV = 1, 1, 12, 16, 28, 33  # RFC 1035 s3.2.2, RFC 3596 s2.1, RFC 2782
MAX_INSTANCES: Final = 4096
_MOST: Final = 16
"""Records of one name and type. Two are a conflict already."""


def instances(cache: DNSCache) -> tuple[Instance, ...]:
    """Every instance of a type that we browse for, in order of type and name."""
    subtypes: dict[str, list[str]] = {}
    for subtype in SUBTYPES:
        for alias in _pointers(cache, subtype):
            subtypes.setdefault(alias.lower(), []).append(subtype)
    found = (
        _instance(cache, service, alias, tuple(subtypes.get(alias.lower(), ())))
        for service in TYPES
        for alias in _names(cache, service)
    )
    return tuple(islice(found, MAX_INSTANCES))


def _names(cache: DNSCache, service: str) -> list[str]:
    """Full names: those that browsing shows, and those that are only claimed. A device without LPD claims its name
    under _printer._tcp with port 0, and points to it from nowhere (RFC 6763 s8)."""
    ending = f".{service}{DOMAIN}"
    pointed = [alias for alias in _pointers(cache, service) if alias.lower().endswith(ending)]
    claimed = [
        record.name for name in cache.names() if name.endswith(ending) for record in _live(cache, name, _SRV)[:1]
    ]
    return sorted({name.lower(): name for name in (*claimed, *pointed)}.values())


def _instance(cache: DNSCache, service: str, alias: str, subtypes: tuple[str, ...]) -> Instance:
    places = [
        Place(record.server.removesuffix("."), record.port, _addresses(cache, record.server))
        for record in _live(cache, alias, _SRV)
        # The root as the target says that there is decidedly no such service (RFC 2782).
        if isinstance(record, DNSService) and record.server != "."
    ]
    texts = [record.text for record in _live(cache, alias, _TXT) if isinstance(record, DNSText)]
    label = alias[: -len(f".{service}{DOMAIN}")]
    return Instance(label, service, tuple(sorted(places, key=lambda place: place.host)), tuple(texts), subtypes)


def _addresses(cache: DNSCache, host: str) -> tuple[str, ...]:
    """IPv4 first. Without the zone of a link-local one, which is ours and not the device's."""
    records = (*_live(cache, host, _A), *_live(cache, host, _AAAA))
    octets = [record.address for record in records if isinstance(record, DNSAddress) and len(record.address) in (4, 16)]
    return tuple(dict.fromkeys(str(ip_address(address)) for address in octets))


def _pointers(cache: DNSCache, service: str) -> Iterator[str]:
    for record in _live(cache, f"{service}{DOMAIN}", _PTR, MAX_INSTANCES):
        if isinstance(record, DNSPointer):
            yield record.alias


def _live(cache: DNSCache, name: str, kind: int, most: int = _MOST) -> list[DNSRecord]:
    now = current_time_millis()
    return [record for record in cache.get_all_by_details(name, kind, _IN) if not record.is_expired(now)][:most]
