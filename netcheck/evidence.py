"""What may be relied on. Stage: between the Case and the judge: which observations stand, and why the others do not.

An observation does not stand when it is older than the Standard allows, when the device's firmware changed after it
(its settings may have been reset), or when it is a person's word where the Standard wants a measurement. Of what
stands, the latest from each source counts; measured comes before word, and better sources before others. For a serial
number and for firmware, sources that disagree leave the fact unproven.
"""

import ipaddress
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TypeAlias, TypeVar

import msgspec

from netcheck.case import Attempt, Case, Observation
from netcheck.facts import KINDS, Fact
from netcheck.facts.condition import Alerts
from netcheck.facts.identity import Firmware, Model, Serial, Uuid
from netcheck.facts.media import Inputs, Outputs
from netcheck.facts.network import NameLookup, Service, SnmpAgent
from netcheck.facts.supplies import Supplies
from netcheck.roles import Outcome, Role
from netcheck.ruling import Beside, Claims, History, Known, Moment, Need, Rule, Sighting
from netcheck.standard import Standard

F = TypeVar("F", bound=Fact)
PERSON = "person"
_MUST_AGREE = (Serial, Firmware)
_SOURCES = ("ipp", "snmp")
_SOURCES_OF = dict.fromkeys((kind.kind for kind in (Alerts, Inputs, Outputs, Supplies)), ("snmp", "ipp"))
"""Best first, where several probes tell the same kind: the MIB has a class and a unit for every one of its rows, where
IPP copies some of its columns; IPP has a name for everything else (common practice, no source). A probe that is not
listed comes after those that are."""
_NO_SETTING = {kind.kind for kind in (NameLookup, Service, SnmpAgent, Model, Serial, Firmware, Uuid)}
"""What a change of firmware does not reset."""
ONE_RUN_MS = 60_000
"""What was seen within a minute of the new firmware was seen in the same run."""
_MS_A_MINUTE = 60_000
_REASONS, _LONGEST = 2, 160


@dataclass(frozen=True, slots=True)
class Absent:
    """A fact that was never seen, or was ``seen`` and cannot be relied on: why, and what would settle it. ``denied``:
    somebody who could tell did not let us in."""

    reasons: tuple[str, ...]
    remedy: str = ""
    seen: bool = False
    denied: bool = False


_NO_CLAIMS = Absent(())
"""Where nobody claimed anything, there is no question, and nobody asks why."""

Found: TypeAlias = Known[Fact] | Claims[Fact] | History[Fact] | Beside[Fact] | Absent
"""What is found for one need of a rule."""


class EvidenceBase:
    """A case, opened for judging by one Standard."""

    def __init__(self, case: Case, standard: Standard, provides: Mapping[str, frozenset[str]]) -> None:
        self.demands: dict[type, msgspec.Struct] = {
            type(demand): demand for demand in (*standard.demands(), *case.move.demands(), Moment(case.made_at))
        }
        self._case, self._provides, self._roles = case, provides, case.move.roles()
        word, age = standard.word, standard.fact_age
        self._word_enough = frozenset(word.kinds if word else ())
        self._site = ipaddress.ip_network(standard.subnet.network) if standard.subnet else None
        self._oldest = case.made_at - age.max_minutes * _MS_A_MINUTE if age else None
        self._seen: dict[tuple[Role, str], list[Observation]] = {}
        for item in case.observations:
            self._seen.setdefault((item.role, item.kind), []).append(item)
        self._changed = {role: self._firmware_change(role) for role in Role}
        self._found: dict[Need, Found] = {}
        self._facts: dict[int, Fact] = {}
        self.spoken = self._roles | {Role.NEW} if Role.DEVICE in self._roles else self._roles
        """The roles that the Move speaks of; a device by itself stands for the new one."""
        self._afar: dict[str, bool] = {}

    def subject(self, role: Role) -> Role:
        """The role that ``New`` stands for: the new device, or the device by itself."""
        return Role.DEVICE if role is Role.NEW and Role.DEVICE in self._roles else role

    def find(self, need: Need) -> Found:
        """The evidence that a rule needs, or why it is not there. Looked for once: many rules need the same."""
        found = self._found.get(need)
        if found is None:
            found = self._found[need] = self._look_for(need)
        return found

    def _look_for(self, need: Need) -> Found:
        role = self.subject(need.role)
        seen = [item for kind in need.kinds for item in self._seen.get((role, kind.kind), ())]
        if need.history and seen:
            return History(self._typed(sorted(seen, key=lambda item: item.at_ms)))
        if need.beside:
            standing = [item for item in seen if not self._doubt(role, item)]
            return Beside(self._typed(sorted(_latest(standing), key=_rank)))
        if need.claims:
            return Claims(self._typed(_latest(seen))) if seen else _NO_CLAIMS
        doubts = {id(item): doubt for item in seen if (doubt := self._doubt(role, item))}
        standing = _latest(item for item in seen if id(item) not in doubts)
        if len(standing) > 1:
            standing.sort(key=_rank)
        if not standing:
            return self._absent(role, need.kinds, list(dict.fromkeys(doubts.values())))
        known = self._typed(standing)
        if any(kind in _MUST_AGREE for kind in need.kinds) and (clash := _disagreement(known)):
            return Absent((clash,), "Read it on the device itself, and correct the source that is wrong.", seen=True)
        return Known(known)

    def _typed(self, items: Iterable[Observation]) -> tuple[Sighting[Fact], ...]:
        return tuple(Sighting(self._fact(item), item, self._is_afar(item.from_)) for item in items)

    def _fact(self, item: Observation) -> Fact:
        """Typed once, whichever rules ask."""
        fact = self._facts.get(id(item))
        if fact is None:
            fact = self._facts[id(item)] = msgspec.convert(item.value, KINDS[item.kind])
        return fact

    def _is_afar(self, seen_from: str) -> bool:
        """Asked once for each place: all that is seen in one run is mostly seen from one."""
        if seen_from not in self._afar:
            self._afar[seen_from] = self._lies_afar(seen_from)
        return self._afar[seen_from]

    def _lies_afar(self, seen_from: str) -> bool:
        """Was it seen from outside the site's subnet? Not on loopback (a rehearsal, a tunnel), nor where the Standard
        names no subnet, or the place is not known."""
        if self._site is None or not seen_from:
            return False
        address = ipaddress.ip_address(seen_from.partition("%")[0])
        return address.version == self._site.version and not address.is_loopback and address not in self._site

    def _doubt(self, role: Role, item: Observation) -> str:
        """Why an observation does not stand; "" when it does."""
        if item.probe == PERSON and item.kind not in self._word_enough:
            return (
                f"known by a person's word only, and the Standard does not take that ([facts] word) for the {item.kind}"
            )
        if self._oldest is not None and item.at_ms < self._oldest:
            return f"{item.kind} was seen {(self._case.made_at - item.at_ms) // _MS_A_MINUTE} minutes ago, too long ago"
        if item.kind not in _NO_SETTING and item.at_ms < self._changed[role] - ONE_RUN_MS:
            return f"{item.kind} was seen before the firmware was changed, which may have reset settings"
        return ""

    def _firmware_change(self, role: Role) -> int:
        """When a source first told the firmware that it tells now, if it told another before; else 0."""
        changed = 0
        last: dict[tuple[str, str], Observation] = {}
        for item in sorted(self._seen.get((role, Firmware.kind), ()), key=lambda item: item.at_ms):
            before = last.get((item.probe, item.source))
            if before and before.value["version"] != item.value["version"]:
                changed = item.at_ms
            last[item.probe, item.source] = item
        return changed

    def _absent(self, role: Role, kinds: tuple[type[Fact], ...], doubts: list[str]) -> Absent:
        names = {kind.kind for kind in kinds}
        tried = [
            attempt
            for attempt in self._case.attempts
            if attempt.role is role and names & self._provides.get(attempt.probe, frozenset())
        ]
        missed = [_missed(attempt) for attempt in tried if attempt.outcome is not Outcome.ANSWERED]
        silent = f"{_either(attempt.probe for attempt in tried)} answered without it" if tried else self._unasked(role)
        acceptable = sorted(names & self._word_enough)
        remedy = (
            f'Read it from the panel or the plate, and add it to the Move: [[seen]] what = "{acceptable[0]}".'
            if acceptable and not doubts
            else ""
        )
        if not remedy:
            remedy = "Let the device answer. Ask the desk, if it cannot." if doubts and not missed else ""
        denied = any(attempt.outcome is Outcome.DENIED for attempt in tried)
        return Absent(tuple(doubts or _shortened(missed) or [silent]), remedy, seen=bool(doubts), denied=denied)

    def _unasked(self, role: Role) -> str:
        """Why nobody was asked: mostly because there is nobody, or because who could is broken and tells nothing."""
        broken = [
            f"{attempt.probe}: {attempt.reason}"
            for attempt in self._case.attempts
            if attempt.role is role and attempt.outcome is Outcome.FAILED and not self._provides.get(attempt.probe)
        ]
        return "; ".join(_shortened(broken)) or "nobody was asked"

    def remarks(self, rule: Rule) -> str:
        """What the attempts that tell this rule's facts remarked: why a table was cut short, say."""
        kinds = {kind.kind for need in rule.needs.values() for kind in need.kinds}
        roles = {self.subject(need.role) for need in rule.needs.values()}
        noted = [
            _missed(attempt)
            for attempt in self._case.attempts
            if attempt.reason and attempt.role in roles and kinds & self._provides.get(attempt.probe, frozenset())
        ]
        return "; ".join(_shortened(noted))


def _shortened(reasons: list[str]) -> list[str]:
    """The first few different ones, each short enough to be read in a report."""
    different = list(
        dict.fromkeys(reason if len(reason) <= _LONGEST else f"{reason[:_LONGEST]}..." for reason in reasons)
    )
    more = len(different) - _REASONS
    return [*different[:_REASONS], *([f"and {more} more"] if more > 0 else [])]


def _missed(attempt: Attempt) -> str:
    return f"{attempt.probe} {attempt.target}: {attempt.reason or attempt.outcome}"


def _either(names: Iterable[str]) -> str:
    return " and ".join(dict.fromkeys(names))


def _latest(items: Iterable[Observation]) -> list[Observation]:
    """The latest observation from each source. An earlier one of a later run is replaced, not contradicted."""
    latest: dict[tuple[str, str, str], Observation] = {}
    for item in items:
        key = (item.kind, item.probe, item.source)
        if key not in latest or latest[key].at_ms <= item.at_ms:
            latest[key] = item
    return list(latest.values())


def _rank(item: Observation) -> tuple[bool, int, int]:
    order = _SOURCES_OF.get(item.kind, _SOURCES)
    source = order.index(item.probe) if item.probe in order else len(order)
    return item.probe == PERSON, source, -item.at_ms


def facts_of(case: Case, role: Role, kind: type[F]) -> list[F]:
    """All facts of one kind about one role: measured before told, and of each the newest first."""
    seen = [item for item in case.observations if item.role is role and item.kind == kind.kind]
    seen.sort(key=lambda item: (item.probe == PERSON, -item.at_ms))
    return [msgspec.convert(item.value, kind) for item in seen]


def same_text(one: str, other: str) -> bool:
    """Identity values are compared without regard to case, blanks at the ends and inner spacing."""
    return one.casefold().split() == other.casefold().split()


def _disagreement(known: tuple[Sighting[Fact], ...]) -> str:
    """What measured sources say that must agree and does not; "" when all is well."""
    measured = [sighting for sighting in known if sighting.observation.probe != PERSON]
    values = [
        (
            sighting.observation.source,
            sighting.fact.value if isinstance(sighting.fact, Serial) else sighting.fact.version,
        )
        for sighting in measured
        if isinstance(sighting.fact, _MUST_AGREE)
    ]
    if all(same_text(values[0][1], value) for _, value in values[1:]):
        return ""
    return "sources disagree: " + ", ".join(f"{source} says {value}" for source, value in values)
