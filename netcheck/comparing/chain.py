"""The chain of verdicts that leads from one answer to another. Stage: around the judge; pure.

    what the file says         by the rules of the netcheck that made it
      rules                    the same evidence, Standard and gate by the rules of today
      evidence                 what else was seen
      standard                 what else is asked
      gate                     another step

A link at which nothing is another is left out.
"""

from collections.abc import Iterator

import msgspec

from netcheck.case import Case, alone, in_role
from netcheck.comparing.changes import Judged, Why
from netcheck.gates import Gate
from netcheck.judge import Provides, judge
from netcheck.roles import Role
from netcheck.standard import Standard
from netcheck.verdict import Verdict


class Question(msgspec.Struct, frozen=True):
    """What is judged, by what, and for which step."""

    case: Case
    standard: Standard
    gate: Gate


def is_alone(case: Case) -> bool:
    """Is it a case of one device by itself?"""
    return case.move.device is not None


def judged(question: Question, provides: Provides, device: Role = Role.NEW) -> Verdict:
    """The answer. At gate ``standing`` of a whole move, it is that of one of its devices by itself."""
    case = question.case
    if question.gate is Gate.STANDING and not is_alone(case):
        case = _by_itself(case, device)
    return judge(case, question.standard, question.gate, provides)


def _by_itself(case: Case, device: Role) -> Case:
    if device is not Role.OLD:
        return alone(case)
    words = tuple(msgspec.structs.replace(word, role=Role.DEVICE) for word in case.move.seen if word.role is Role.OLD)
    move = msgspec.structs.replace(case.move.alone(), device=case.move.old, seen=words)
    return msgspec.structs.replace(in_role(case, Role.OLD, Role.DEVICE), move=move)


def chain_of(
    stored: Verdict | None, earlier: Question, later: Question, provides: Provides, device: Role | None = None
) -> tuple[Judged, ...]:
    """From ``earlier`` to ``later``. ``stored`` is the answer that was given to ``earlier`` at its time, None where
    nobody knows it. A case of one device by itself is of the ``device`` of the other case's move; of the new one, where
    it is not said."""
    mixed = Gate.STANDING in {earlier.gate, later.gate} and earlier.gate is not later.gate
    role = device or (Role.NEW if mixed or is_alone(earlier.case) is not is_alone(later.case) else Role.DEVICE)
    verdicts: list[tuple[Why | None, Verdict, Gate]] = [(None, judged(earlier, provides, role), earlier.gate)]
    if stored is not None and stored != verdicts[0][1]:
        verdicts = [(None, stored, earlier.gate), (Why.RULES, *verdicts[0][1:])]
    verdicts += ((why, judged(each, provides, role), each.gate) for why, each in _steps(earlier, later))
    return tuple(Judged(why, verdict, gate, role) for why, verdict, gate in verdicts)


def _steps(at: Question, later: Question) -> Iterator[tuple[Why, Question]]:
    """One thing after the other. The gate comes first where the later case can be asked about its own gate only."""
    order = {Why.EVIDENCE: "case", Why.STANDARD: "standard", Why.GATE: "gate"}
    names = sorted(order, key=lambda why: why is not Why.GATE) if is_alone(later.case) else list(order)
    for why in names:
        if getattr(at, order[why]) != getattr(later, order[why]):
            at = msgspec.structs.replace(at, **{order[why]: getattr(later, order[why])})
            yield why, at
