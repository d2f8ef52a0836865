"""What ``netcheck compare --json`` and ``--save`` write: ``netcheck/difference/1``.

    schema     "netcheck/difference/1"
    made_at    ms since 1970: when the later case was made, which is "now"; the same two files give the same document
    tool       "netcheck 0.1.0", whose rules judged both
    before     the earlier file:
        name       of the file
        made_at    when its case was made, tool by which netcheck
        whole      its seal's hash, and code what is read of it over the phone
        gate       the step that it was judged for, standard the name of the Standard that it was judged by, and state
                   the answer, as the file has them; null where it has none
        seen_from  our addresses from which it was seen
    after      the later file, in the same way
    gate       the step for which the later case is judged now
    standard   the name of the Standard by which it is; "" for none
    was        the answer before, as it was given
    now        the answer of the later case
    alike      the answer of the earlier case by the rules, the Standard and the gate of ``now``; null where a case of
               one device cannot be asked about that gate
    swapped    {role, what, before, after}: the device is another one, or may be: of its serial numbers, or of its
               hardware addresses (what is serial or mac), none was seen again
    findings   what is not as it was, what matters most first: {key, id, role, item, before, after, why}
        before, after  {state, weight, gate, stands, title, detail, causes}; null where it was not asked; stands is
                       in-the-way, missing, watch, later, note or fine
        why            what was another when it changed: rules, evidence, standard, gate
    facts      what was seen otherwise, what matters most first:
               {role, kind, probe, source, row, theme, how, fields, moves, findings, reason}
        row            which row of a table; "" for the fact itself
        theme          what it is about
        how            changed; gone and new where who tells it answered both times; not-seen and seen-now where not,
                       with the reason
        fields         {field, before, after} in words; null where nothing was told; of a list only what differs
        moves          true: it always does (clocks, timings, counters), and says nothing of the device
        findings       keys of the findings above that rest on it
    attempts   questions that ended otherwise: {role, probe, what, before, after, reason}
    asked      {field, before, after}: what the Move says otherwise

Every key is always there. There are no floats.
"""

from typing import Final

import msgspec

from netcheck.case import TOOL, Case
from netcheck.comparing.attempts import AttemptChange, attempt_changes
from netcheck.comparing.chain import Question, chain_of, is_alone, judged
from netcheck.comparing.changes import FindingChange, changes
from netcheck.comparing.facts import FactChange, FieldChange, fact_changes, move_changes, resting
from netcheck.comparing.pairing import Swapped, paired, swapped
from netcheck.document import Document
from netcheck.gates import Gate
from netcheck.judge import Provides
from netcheck.roles import Role
from netcheck.standard import Standard
from netcheck.verdict import State

SCHEMA: Final = "netcheck/difference/1"


class File(msgspec.Struct, frozen=True):
    """One of the two files, and what it says of itself."""

    name: str
    made_at: int
    tool: str
    whole: str
    code: str
    gate: Gate | None
    standard: str | None
    state: State | None
    seen_from: tuple[str, ...]


class Difference(msgspec.Struct, frozen=True, kw_only=True):
    """The document."""

    schema: str
    made_at: int
    tool: str
    before: File
    after: File
    gate: Gate
    standard: str
    was: State
    now: State
    alike: State | None
    swapped: tuple[Swapped, ...]
    findings: tuple[FindingChange, ...]
    facts: tuple[FactChange, ...]
    attempts: tuple[AttemptChange, ...]
    asked: tuple[FieldChange, ...]

    def encode(self) -> bytes:
        """Indented JSON, one line feed at the end."""
        return msgspec.json.format(msgspec.json.encode(self), indent=1) + b"\n"


class Saved(msgspec.Struct, frozen=True):
    """A saved case as it was loaded."""

    name: str
    case: Case
    document: Document

    def question(self) -> Question:
        """What it was judged by, and for which step."""
        usual = Gate.STANDING if is_alone(self.case) else Gate.SWAP
        return Question(self.case, self.document.standard or Standard(), self.document.gate or usual)


def difference(before: Saved, after: Saved, standard: Standard, gate: Gate, provides: Provides) -> Difference:
    """Compare two saved cases; the later one is judged by ``standard`` at ``gate``. Raises UnknownDeviceError
    (see `paired`)."""
    one, other, device = paired(before.case, after.case)
    later = Question(after.case, standard, gate)
    chain = chain_of(before.document.verdict, before.question(), later, provides, device)
    found = changes(chain)
    return Difference(
        schema=SCHEMA,
        made_at=after.case.made_at,
        tool=TOOL,
        before=_file(before),
        after=_file(after),
        gate=gate,
        standard=standard.name,
        was=chain[0].verdict.state,
        now=chain[-1].verdict.state,
        alike=_alike(before.case, later, provides, device or Role.NEW),
        swapped=swapped(one, other),
        findings=found,
        facts=fact_changes(one, other, resting(chain, found)),
        attempts=attempt_changes(one, other),
        asked=() if device else move_changes(before.case, after.case),
    )


def _alike(case: Case, later: Question, provides: Provides, device: Role) -> State | None:
    if is_alone(case) and later.gate is not Gate.STANDING:
        return None
    return judged(msgspec.structs.replace(later, case=case), provides, device).state


def _file(saved: Saved) -> File:
    case, document = saved.case, saved.document
    return File(
        name=saved.name,
        made_at=case.made_at,
        tool=case.tool,
        whole=document.whole,
        code=document.code,
        gate=document.gate,
        standard=document.standard.name if document.standard else None,
        state=document.verdict.state if document.verdict else None,
        seen_from=tuple(dict.fromkeys(item.from_ for item in case.observations if item.from_)),
    )
