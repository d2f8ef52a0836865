"""Small wordings that findings share."""

import re
from collections.abc import Iterable
from functools import cache

from netcheck.facts import Amount, Fact, Measured, Some, Unknown, Unrestricted
from netcheck.facts.link import Certificate
from netcheck.facts.network import Service


def join(parts: Iterable[str], by: str = ", ") -> str:
    """The parts that are not empty."""
    return by.join(part for part in parts if part)


def sentences(text: str) -> list[str]:
    """A remedy, taken apart into its steps."""
    return [each for each in re.split(r"(?<=[.!?]) (?=[A-Z])", text) if each]


def is_asked(step: str) -> bool:
    """Is it a step that somebody else must do, when asked?"""
    return step.startswith("Ask ")


def is_asked_first(step: str) -> bool:
    """Is it one that need not wait for what we find out before?"""
    return is_asked(step) and ", if " not in step


def say(fact: Fact) -> str:
    """A fact in a few words, as evidence shows it; "" for a table, whose words are its finding's."""
    if isinstance(fact, Service):
        return join([f"{fact.service} {fact.port} {fact.state}", fact.error], " ")
    if isinstance(fact, Certificate):
        return f"{fact.subject}, signed by {fact.issuer}"
    for name in _telling(type(fact)):
        if text := getattr(fact, name):
            return str(text)
    return ""


@cache
def _telling(kind: type[Fact]) -> tuple[str, ...]:
    """What a kind of fact can be told by, best first."""
    return tuple(name for name in ("value", "version", "uri", "name", "state", "description") if hasattr(kind, name))


def percent(level: Amount, capacity: Amount, unit: str) -> int | None:
    """Percent left, 0 to 100, where the device said enough to compute it (RFC 3805 s6).

    A level in percent stands alone when the capacity is unknown (common practice, no source).
    """
    if not isinstance(level, Measured):
        return None
    if isinstance(capacity, Measured) and capacity.value > 0:
        return min(100, level.value * 100 // capacity.value)
    if unit == "percent" and isinstance(capacity, Unknown) and level.value <= 100:
        return level.value
    return None


def quantity(level: Amount, unit: str) -> str:
    """A level in words."""
    match level:
        case Measured(value):
            return f"{value} {unit}" if unit else str(value)
        case Some():
            return "some, amount not told"
        case Unknown():
            return "not told"
        case Unrestricted():
            return "not limited"


def millimetres(micrometres: int) -> str:
    """A length for a person."""
    return f"{micrometres / 1000:.1f}".removesuffix(".0") + " mm"


def count(number: int, noun: str) -> str:
    """``1 answer``, ``2 answers``."""
    return f"{number} {noun}" + ("" if number == 1 else "s")
