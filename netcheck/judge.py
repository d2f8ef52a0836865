"""Case x Standard x gate -> Verdict. Stage: pure; the only place where three values become four.

A requirement is met, unmet or unproven. Over all findings that count at the gate, before any folding:

    an unmet blocker                    not-ready
    else an unproven blocker            cannot-tell
    else unmet or unproven care         ready-with-care
    else                                ready

Folding only arranges: a finding names the findings that explain it (``causes``), and stays a finding of its own weight.
An unmet symptom is never explained by a cause that is itself only unproven.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from typing import assert_never

import msgspec

from netcheck import rules as _rules  # noqa: F401 - importing it fills RULES
from netcheck.case import Case
from netcheck.evidence import Absent, EvidenceBase
from netcheck.facts import Fact
from netcheck.gates import Gate
from netcheck.roles import Role
from netcheck.ruling import RULES, Beside, Rule, Ruling, Sighting
from netcheck.standard import Standard
from netcheck.verdict import STANDARDS_STEP, Evidence, Finding, Holds, State, Step, Verdict, Weight, standings
from netcheck.words import is_asked, is_asked_first, join, say, sentences

_SHOWN_BY = {"measured": "a measurement", "photo": "a photo", "word": "your word"}
Provides = Mapping[str, frozenset[str]]
"""Which kinds of fact each probe can tell, by the probe's name."""


def judge(case: Case, standard: Standard, gate: Gate, provides: Provides) -> Verdict:
    """Judge a case. Deterministic: "now" is the case's own time, and nothing but the arguments is looked at."""
    base = EvidenceBase(case, standard, provides)
    asked = (rule for rule in RULES.values() if rule.roles <= base.spoken and _is_of(rule, gate))
    findings = _unique(finding for rule in asked for finding in _asked(rule, base))
    findings = _ordered(_folded(findings), gate)
    counted = [finding for finding in findings if finding.gate.reached(gate)]
    state = _state(counted)
    return Verdict(state, tuple(findings), tuple(_steps(counted, standard, gate, state)))


def _is_of(rule: Rule, gate: Gate) -> bool:
    return rule.until is None or gate is Gate.STANDING or gate.reached(rule.until)


def _asked(rule: Rule, base: EvidenceBase) -> Iterator[Finding]:
    demands = {name: base.demands.get(kind) for name, kind in rule.wants.items()} if rule.wants else {}
    if None in demands.values():
        return
    known = {name: base.find(need) for name, need in rule.needs.items()}
    absent = [found for found in known.values() if isinstance(found, Absent)]
    if absent:
        if not rule.claims:
            yield _unproven(rule, base, absent)
        return
    evidence = [found for found in known.values() if not isinstance(found, Absent | Beside)]
    sightings = [sighting for found in evidence for sighting in found.every]
    for ruling in rule.rulings({**known, **demands}):
        yield _finding(rule, base, ruling, sightings)


def _unproven(rule: Rule, base: EvidenceBase, absent: list[Absent]) -> Finding:
    title = f"Not seen: {rule.about}"
    detail = join(dict.fromkeys(reason for each in absent for reason in each.reasons), "; ")
    denied = any(each.denied for each in absent) and rule.explanation.denied
    remedy = join(dict.fromkeys([denied or rule.explanation.unseen, *(each.remedy for each in absent)]), " ")
    remedy = remedy or "Run this again, once the device answers."
    # That a device does not answer explains what was not seen, but not why something that was seen does not stand.
    because = rule.after if all(each.seen for each in absent) else (*rule.after, *rule.unseen)
    ruling = Ruling(Holds.UNPROVEN, title, detail, do=remedy, weight=rule.unseen_weight, because=because)
    return _finding(rule, base, ruling, [])


def _finding(rule: Rule, base: EvidenceBase, ruling: Ruling, sightings: Iterable[Sighting[Fact]]) -> Finding:
    role, causes = base.subject(rule.role), ruling.because if ruling.because is not None else rule.after
    seen = tuple(ruling.on or sightings)
    says = ruling.found or ruling.title
    return Finding(
        id=rule.id,
        role=role,
        item=ruling.item,
        state=ruling.state,
        weight=ruling.weight or rule.weight,
        gate=rule.gate,
        title=_about(role, ruling.title),
        detail=_detail(rule, base, ruling, role, seen=bool(seen)),
        evidence=tuple([_evidence(sighting, says) for sighting in seen]),
        remedy=_about(role, ruling.do or (rule.explanation.do if ruling.state is Holds.UNMET else "")),
        causes=() if ruling.state is Holds.MET else causes,
        reference=rule.reference,
    )


def _detail(rule: Rule, base: EvidenceBase, ruling: Ruling, role: Role, *, seen: bool) -> str:
    found = ruling.found or (base.remarks(rule) if ruling.state is Holds.UNPROVEN else "")
    parts = (f"found {found}" if seen and found else found, f"wanted {ruling.wanted}" if ruling.wanted else "")
    otherwise = f"or else {_about(role, ruling.otherwise)}" if ruling.otherwise else ""
    return join(map(str.strip, (*parts, otherwise)), "; ")


def _about(role: Role, words: str) -> str:
    """Rules speak of the new device; of a device by itself there is no new one."""
    return words.replace(" new device", " device") if role is Role.DEVICE else words


def _evidence(sighting: Sighting[Fact], found: str) -> Evidence:
    """A small fact speaks for itself; of a table, it says what was found in it."""
    seen = sighting.observation
    return Evidence(seen.role, seen.probe, seen.source, say(sighting.fact) or found)


def _unique(findings: Iterable[Finding]) -> list[Finding]:
    """Give every finding a key of its own: items are often names that a device chose, and it may choose one twice."""
    unique: dict[str, Finding] = {}
    for finding in findings:
        number, item, key = 1, finding.item, finding.key
        while key in unique:
            number += 1
            finding = msgspec.structs.replace(finding, item=f"{item} ({number})")  # noqa: PLW2901 - until it is free
            key = finding.key
        unique[key] = finding
    return list(unique.values())


def _folded(findings: list[Finding]) -> list[Finding]:
    """Turn the rules in ``causes`` (``id``, or ``id/item`` for one item) into the keys of the findings that explain."""
    by_id: dict[str, list[Finding]] = {}
    for finding in findings:
        for name in (finding.id, f"{finding.id}/{finding.item}"):
            by_id.setdefault(name, []).append(finding)

    voiding = [each for each in findings if RULES[each.id].voids and each.state is Holds.UNMET]

    def explained(finding: Finding) -> Finding:
        if finding.state is Holds.MET:
            return finding
        causes = [cause for identity in finding.causes for cause in by_id.get(identity, ())]
        causes += [
            each
            for each in voiding
            if each.role is finding.role and each is not finding and not RULES[finding.id].voids
        ]
        keys = tuple(dict.fromkeys(cause.key for cause in causes if _explains(cause.state, finding.state)))
        return finding if keys == finding.causes else msgspec.structs.replace(finding, causes=keys)

    return [explained(finding) for finding in findings]


def _explains(cause: Holds, symptom: Holds) -> bool:
    match symptom:
        case Holds.MET:
            return False
        case Holds.UNMET:
            return cause is Holds.UNMET
        case Holds.UNPROVEN:
            return cause is not Holds.MET
        case _:
            assert_never(symptom)


def _ordered(findings: list[Finding], gate: Gate) -> list[Finding]:
    """As they stand, heaviest first; then what nothing else explains; of that the earliest gate's (a wrong box comes
    before its mask), and of those what explains most."""
    stands = standings(findings, gate)
    explains = Counter(cause for finding in findings for cause in finding.causes)
    gates = {each: number for number, each in enumerate(Gate)}

    def place(each: Finding) -> tuple[int, bool, int, int]:
        return stands[each.key], bool(each.causes), gates[each.gate], -explains[each.key]

    return sorted(findings, key=place)


def _state(counted: list[Finding]) -> State:
    blockers = {finding.state for finding in counted if finding.weight is Weight.BLOCKER}
    cares = {finding.state for finding in counted if finding.weight is Weight.CARE}
    if Holds.UNMET in blockers:
        return State.NOT_READY
    if Holds.UNPROVEN in blockers:
        return State.CANNOT_TELL
    if cares - {Holds.MET}:
        return State.READY_WITH_CARE
    return State.READY


def _steps(counted: list[Finding], standard: Standard, gate: Gate, state: State) -> Iterator[Step]:
    """What to do, in order: what others must be asked for, since waiting for them starts then; the rest of the remedies
    of what nothing else explains; then the Standard's own steps for an open gate."""
    remedies: dict[str, Step] = {}
    for finding in counted:
        if finding.state is Holds.MET or finding.causes:
            continue
        caution = RULES[finding.id].explanation.caution
        for sentence in sentences(finding.remedy):
            known = remedies.setdefault(sentence, Step(sentence, finding.title, ""))
            if caution not in known.caution and not is_asked(sentence):
                remedies[sentence] = msgspec.structs.replace(known, caution=join([known.caution, caution], " "))
    yield from sorted(remedies.values(), key=lambda step: not is_asked_first(step.do))
    if state in {State.READY, State.READY_WITH_CARE}:
        for step in standard.worksheet:
            if step.gate is gate:
                yield Step(step.step, STANDARDS_STEP + _SHOWN_BY[step.evidence or "word"], step.caution)
