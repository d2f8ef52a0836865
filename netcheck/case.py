"""The Case: everything observed, and everything tried that got no answer. Stage: the noun in the middle.

Left of it the world is touched; right of it everything is pure. An observation holds its fact as the plain value that
is saved; it becomes a typed fact only when it is judged. So a live case and a saved one are judged on
exactly the same values, a kind that this version does not know survives a round trip untouched, and judging never has
to write evidence that it has interpreted.
"""

from typing import Any

import msgspec

from netcheck import __version__
from netcheck.facts import Fact
from netcheck.move import Move
from netcheck.roles import Outcome, Role

SCHEMA = "netcheck/case/1"
EVIDENCE_KEYS = ("schema", "made_at", "tool", "move", "attempts", "observations")
TOOL = f"netcheck {__version__}"


class Observation(msgspec.Struct, frozen=True, rename={"from_": "from"}):
    """One fact: who it is about, which probe read it from which object, when, and from which of our addresses."""

    role: Role
    probe: str
    source: str
    at_ms: int
    from_: str
    kind: str
    value: dict[str, Any]


class Attempt(msgspec.Struct, frozen=True):
    """One try to ask, and how it ended. ``target`` and ``reason`` are words for a person, without any secret."""

    role: Role
    probe: str
    target: str
    outcome: Outcome
    reason: str
    at_ms: int
    took_ms: int


class Case(msgspec.Struct, frozen=True):
    """The evidence. ``made_at`` (ms since 1970) is "now" for whoever judges it."""

    schema: str
    made_at: int
    tool: str
    move: Move
    attempts: tuple[Attempt, ...]
    observations: tuple[Observation, ...]


def observation(role: Role, probe: str, source: str, at_ms: int, seen_from: str, fact: Fact) -> Observation:
    """Put a fact into the form in which it is saved and judged."""
    return Observation(role, probe, source, at_ms, seen_from, fact.kind, msgspec.json.decode(msgspec.json.encode(fact)))


def joined(case: Case, others: list[Case]) -> Case:
    """One case with the evidence of several: each fact keeps its time and where it was seen from.

    The Move is the first case's; "now" is the latest of all.
    """
    cases = [case, *others]
    return msgspec.structs.replace(
        case,
        made_at=max(each.made_at for each in cases),
        attempts=tuple(attempt for each in cases for attempt in each.attempts),
        observations=tuple(item for each in cases for item in each.observations),
    )
