"""The Verdict: what judging a Case comes to. Stage: after the judge, before the reports, which decide nothing."""

from collections.abc import Iterable
from enum import IntEnum, StrEnum

import msgspec

from netcheck.gates import Gate
from netcheck.roles import Role


class State(StrEnum):
    """The answer at a gate."""

    READY = "ready"
    READY_WITH_CARE = "ready-with-care"
    NOT_READY = "not-ready"
    CANNOT_TELL = "cannot-tell"


class Holds(StrEnum):
    """What became of one requirement. What was not observed is never met."""

    MET = "met"
    UNMET = "unmet"
    UNPROVEN = "unproven"


class Weight(StrEnum):
    """How much a requirement weighs."""

    BLOCKER = "blocker"
    CARE = "care"
    NOTE = "note"


class Evidence(msgspec.Struct, frozen=True):
    """One thing that a finding rests on: who it is about, which probe saw it at which object, and what it says."""

    role: Role
    probe: str
    source: str
    says: str


class Finding(msgspec.Struct, frozen=True):
    """One requirement (or one item of it) and what became of it. ``role`` is who must change; ``causes`` are the keys
    of the findings that explain this one; ``gate`` is the gate from which it counts."""

    id: str
    role: Role
    item: str
    state: Holds
    weight: Weight
    gate: Gate
    title: str
    detail: str
    evidence: tuple[Evidence, ...]
    remedy: str
    causes: tuple[str, ...]
    reference: tuple[str, ...]

    @property
    def key(self) -> str:
        """``id@role/item``: unique in a verdict."""
        return f"{self.id}@{self.role}/{self.item}"


class Standing(IntEnum):
    """Where a finding stands in a report, heaviest first."""

    IN_THE_WAY = 0
    MISSING = 1
    WATCH = 2
    LATER = 3
    NOTE = 4
    FINE = 5


def standings(findings: Iterable[Finding], gate: Gate) -> dict[str, Standing]:
    """Where each finding stands, by its key. A cause stands where the heaviest finding that it explains would stand."""
    by_key = {finding.key: finding for finding in findings}
    stands = {key: _own_standing(finding, gate) for key, finding in by_key.items()}

    def lift(key: str, standing: Standing) -> None:
        for cause in by_key[key].causes:
            if stands[cause] > standing:
                stands[cause] = standing
                lift(cause, standing)

    for key in by_key:
        lift(key, stands[key])
    return stands


def _own_standing(finding: Finding, gate: Gate) -> Standing:
    if finding.state is Holds.MET:
        return Standing.FINE
    if finding.weight is Weight.NOTE:
        return Standing.NOTE
    if not finding.gate.reached(gate):
        return Standing.LATER
    if finding.weight is Weight.CARE:
        return Standing.WATCH
    return Standing.IN_THE_WAY if finding.state is Holds.UNMET else Standing.MISSING


STANDARDS_STEP = "the Standard's step: "
"""How the ``why`` of a step begins that is the Standard's own and not a finding's remedy."""


class Step(msgspec.Struct, frozen=True):
    """One thing to do, why, and what to be careful of while doing it."""

    do: str
    why: str
    caution: str


class Verdict(msgspec.Struct, frozen=True):
    """The answer, everything that it rests on (met findings too), and what to do, in order."""

    state: State
    findings: tuple[Finding, ...]
    steps: tuple[Step, ...]
