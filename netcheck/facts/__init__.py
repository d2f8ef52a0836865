"""Frozen, typed facts: what was observed, before anybody judges it."""

from collections.abc import Iterator

from netcheck.facts import capability, channels, condition, identity, link, media, network, queue, raw, supplies
from netcheck.facts.base import Amount, Fact, Measured, Some, Unknown, Unrestricted, amount


def _every(base: type[Fact]) -> Iterator[type[Fact]]:
    for fact in base.__subclasses__():
        yield fact
        yield from _every(fact)


KINDS: dict[str, type[Fact]] = {fact.kind: fact for fact in _every(Fact)}
"""Every kind of fact that this version knows, by the name under which it is saved."""

__all__ = [
    "KINDS",
    "Amount",
    "Fact",
    "Measured",
    "Some",
    "Unknown",
    "Unrestricted",
    "amount",
    "capability",
    "channels",
    "condition",
    "identity",
    "link",
    "media",
    "network",
    "queue",
    "raw",
    "supplies",
]
