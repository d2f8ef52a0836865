"""Stage: read. Instances → advertisements. Pure."""

from collections.abc import Iterable, Iterator

from netcheck.facts import Fact
from netcheck.facts.link import AdvertisedHost, Advertisement, TxtEntry
from probes.dnssd.instance import Instance
from probes.dnssd.txt import entries

_USUAL_PRIORITY = 50
_VERSIONS = {"", "1"}
"""Of a printer's TXT record (key txtvers: printing over DNS-SD, from memory)."""


def read(payload: Iterable[Instance]) -> Iterator[tuple[str, Fact]]:
    """One fact for each TXT record of each instance; mostly there is one. Of several the preferred comes first."""
    for instance in payload:
        texts = sorted((_known(entries(text)) for text in instance.texts), key=_priority) or [()]
        for number, txt in enumerate(texts, 1):
            source = instance.name if number == 1 else f"{instance.name} TXT {number}"
            yield source, _advertisement(instance, txt)


def _advertisement(instance: Instance, txt: tuple[TxtEntry, ...]) -> Advertisement:
    hosts = tuple(AdvertisedHost(place.host, place.port, place.addresses) for place in instance.places)
    return Advertisement(
        instance=instance.label,
        type=instance.type,
        port=hosts[0].port if hosts else 0,
        hosts=tuple(dict.fromkeys(host.name for host in hosts)),
        addresses=tuple(dict.fromkeys(address for host in hosts for address in host.addresses)),
        txt=txt,
        subtypes=instance.subtypes,
        places=hosts,
    )


def _known(txt: tuple[TxtEntry, ...]) -> tuple[TxtEntry, ...]:
    """Of a record whose version we do not know, the version alone (RFC 6763 s6.7: it is ignored)."""
    unknown = tuple(entry for entry in txt if entry.key == "txtvers" and (entry.value or entry.binary) not in _VERSIONS)
    return unknown or txt


def _priority(txt: tuple[TxtEntry, ...]) -> int:
    """A logical queue's priority, 0 first (RFC 6763 s6.8 names the key; the order is from memory)."""
    said = next((entry.value or "" for entry in txt if entry.key == "priority"), "")
    return int(said) if said.isascii() and said.isdecimal() and len(said) < 4 else _USUAL_PRIORITY
