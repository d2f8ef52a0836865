"""The Case: everything observed, and everything tried that got no answer. Stage: the noun in the middle.

Left of it the world is touched; right of it everything is pure. An observation holds its fact as the plain value that
is saved; it becomes a typed fact only when it is judged. So a live case and a saved one are judged on
exactly the same values, a kind that this version does not know survives a round trip untouched, and judging never has
to write evidence that it has interpreted.
"""

from typing import Any, TypeVar

import msgspec

from netcheck import __version__
from netcheck.facts import Fact
from netcheck.facts.network import check_address
from netcheck.move import Move
from netcheck.roles import Outcome, Role

SCHEMA = "netcheck/case/1"
_YEAR_10000_MS = 253_402_300_800_000
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

    def __post_init__(self) -> None:
        if self.from_:
            check_address(self.from_)


class Attempt(msgspec.Struct, frozen=True):
    """One try to ask, and how it ended. ``target`` and ``reason`` are words for a person, without any secret."""

    role: Role
    probe: str
    target: str
    outcome: Outcome
    reason: str
    at_ms: int
    took_ms: int


R = TypeVar("R", Observation, Attempt)


class Case(msgspec.Struct, frozen=True):
    """The evidence. ``made_at`` (ms since 1970) is "now" for whoever judges it."""

    schema: str
    made_at: int
    tool: str
    move: Move
    attempts: tuple[Attempt, ...]
    observations: tuple[Observation, ...]

    def __post_init__(self) -> None:
        if not 0 <= self.made_at < _YEAR_10000_MS:
            raise ValueError(f"made_at {self.made_at} is no time that a calendar has, in ms since 1970")


def observation(role: Role, probe: str, source: str, at_ms: int, seen_from: str, fact: Fact) -> Observation:
    """Put a fact into the form in which it is saved and judged."""
    return Observation(role, probe, source, at_ms, seen_from, fact.kind, msgspec.json.decode(msgspec.json.encode(fact)))


def alone(case: Case) -> Case:
    """The new device of a case by itself, as gate ``standing`` sees it."""
    return msgspec.structs.replace(in_role(case, Role.NEW, Role.DEVICE), move=case.move.alone())


def in_role(case: Case, was: Role, role: Role) -> Case:
    """The same evidence, with one role in the place of another."""

    def renamed(items: tuple[R, ...]) -> tuple[R, ...]:
        return tuple(msgspec.structs.replace(each, role=role) if each.role is was else each for each in items)

    return msgspec.structs.replace(case, attempts=renamed(case.attempts), observations=renamed(case.observations))


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
