"""Frozen, typed facts: what was observed, before anybody judges it."""

from netcheck.facts import capability, channels, condition, identity, link, media, network, queue, supplies
from netcheck.facts.base import Amount, Fact, Measured, Some, Unknown, Unrestricted, amount

KINDS: dict[str, type[Fact]] = {fact.kind: fact for fact in Fact.__subclasses__()}
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
    "supplies",
]
