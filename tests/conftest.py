"""What the tests share: cases and Standards built in memory, and the published checks."""

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pytest

from netcheck.case import SCHEMA, TOOL, Attempt, Case, observation
from netcheck.facts import Fact
from netcheck.move import DeviceRef, Move, QueueRef
from netcheck.roles import Outcome, Role

FIXTURES = Path(__file__).resolve().parent.parent / "fixtures"
NOW = 1_795_600_000_000
"""A moment in 2026, in ms: the time of the cases that the tests make."""
OUR_ADDRESS = "192.0.2.10"

LS_2041 = Move(
    job="LS-2041",
    site="Harrow Lane land-survey office",
    old=DeviceRef("192.0.2.21"),
    new=DeviceRef("192.0.2.61"),
    queue=QueueRef("Plans"),
)


def make_case(
    facts: Iterable[tuple[Role, str, str, Fact]], move: Move = LS_2041, attempts: Iterable[Attempt] = ()
) -> Case:
    """A case with these observations: (role, probe, source, fact), all of them of now."""
    seen = tuple(observation(role, probe, source, NOW, OUR_ADDRESS, fact) for role, probe, source, fact in facts)
    return Case(SCHEMA, NOW, TOOL, move, tuple(attempts), seen)


def attempt(role: Role, probe: str, outcome: Outcome, reason: str = "") -> Attempt:
    """One attempt of now."""
    return Attempt(role, probe, "192.0.2.61", outcome, reason, NOW, 3)


def published(*prefixes: str) -> list[Any]:
    """Rows of fixtures/standards/oracle_checks.json, as parameters whose id says the source's standing."""
    rows = json.loads((FIXTURES / "standards" / "oracle_checks.json").read_text("utf-8"))
    standing = {"M": "-from-memory", "P": "-second-hand", "C": "-common-practice"}
    return [
        pytest.param(row, id=row["id"] + standing.get(row["evidence"], ""))
        for row in rows
        if row["id"].startswith(prefixes)
    ]
