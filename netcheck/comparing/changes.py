"""Which findings changed, and why. Stage: after the judge; pure.

Two answers about one site may differ because the rules are others, because something else was seen, because another
Standard asks, or because another step is asked about. One verdict beside another does not tell these apart. A chain
does: from link to link only one of the four is another, so whatever differs between two links differs for that reason.
"""

import re
from collections.abc import Sequence
from enum import StrEnum
from itertools import pairwise
from typing import TypeAlias

import msgspec

from netcheck.gates import Gate
from netcheck.roles import Role
from netcheck.verdict import Finding, Holds, Standing, Verdict, Weight, standings


class Why(StrEnum):
    """What was another when a finding changed."""

    RULES = "rules"
    EVIDENCE = "evidence"
    STANDARD = "standard"
    GATE = "gate"


class Judged(msgspec.Struct, frozen=True):
    """A link: a verdict, and why it is not the one before; None for the first. ``device`` is the role that a device by
    itself has in the other links of the chain."""

    why: Why | None
    verdict: Verdict
    gate: Gate
    device: Role = Role.DEVICE


class Place(StrEnum):
    """Where a finding stands in a report (`Standing`), as it is saved."""

    IN_THE_WAY = "in-the-way"
    MISSING = "missing"
    WATCH = "watch"
    LATER = "later"
    NOTE = "note"
    FINE = "fine"


class Side(msgspec.Struct, frozen=True):
    """A finding on one side of a change. ``gate`` is the gate from which it counts, ``stands`` where it stands in that
    side's report; ``causes`` are the keys of the findings that explain it there."""

    state: Holds
    weight: Weight
    gate: Gate
    stands: Place
    title: str
    detail: str
    causes: tuple[str, ...]


class FindingChange(msgspec.Struct, frozen=True):
    """A finding that is not what it was. A side is None where it was not asked, and that of its rule as a whole where
    the rule had nothing to say of this item by itself. ``why`` names every link at which it changed, in order."""

    key: str
    id: str
    role: Role
    item: str
    before: Side | None
    after: Side | None
    why: tuple[Why, ...]

    @property
    def was(self) -> Holds | None:
        """What became of it before; None: not asked."""
        return self.before.state if self.before else None

    @property
    def now(self) -> Holds | None:
        """What becomes of it now; None: not asked."""
        return self.after.state if self.after else None

    @property
    def stood(self) -> Standing | None:
        """Where it stood; None: not asked."""
        return _standing(self.before)

    @property
    def stands(self) -> Standing | None:
        """Where it stands; None: not asked."""
        return _standing(self.after)

    @property
    def title(self) -> str:
        """The later title, or the earlier one where there is none later."""
        side = self.after or self.before
        return side.title if side else ""

    @property
    def heavier(self) -> Side | None:
        """The side on which it stands higher up; of two that stand alike, the later."""
        sides = [side for side in (self.after, self.before) if side]
        return min(sides, key=lambda side: Standing[side.stands.name], default=None)

    @property
    def explained(self) -> bool:
        """Is it explained by another finding, on the side on which it stands higher up?"""
        return bool(self.heavier and self.heavier.causes)


def _standing(side: Side | None) -> Standing | None:
    return Standing[side.stands.name] if side else None


_Placed: TypeAlias = tuple[Finding, Side]
_SEEN = {Why.EVIDENCE, Why.STANDARD}
"""Links at which an open finding that says something else is news: what was found, or what is wanted, is another. That
better rules say the same in other words is none."""
_AGE = re.compile(r"\b\d+ minutes ago")
"""Time goes by between any two cases: that alone changes no finding."""


def changes(chain: Sequence[Judged]) -> tuple[FindingChange, ...]:
    """The findings that are not at the end of the chain what they were at its start, what matters most first: what got
    into the way, what no longer is, then what is missing, to watch, for later, a note, fine. Whatever changed and
    changed back is left out."""
    links = [(judged.why, _placed(judged)) for judged in chain]
    rules = [{(finding.id, finding.role) for finding, _ in placed.values() if finding.item} for _, placed in links]
    found = []
    for key, finding in {key: placed[0] for _, link in links for key, placed in link.items()}.items():
        rule = (finding.id, finding.role)
        if not finding.item and any(
            rule in itemised and key not in link for itemised, (_, link) in zip(rules, links, strict=True)
        ):
            continue  # what became of the whole is told of each item
        whole = f"{finding.id}@{finding.role}/"
        if change := _change(finding, [(why, link.get(key) or link.get(whole)) for why, link in links]):
            found.append(change)
    later = {key: number for number, key in enumerate(links[-1][1])}
    return tuple(sorted(found, key=lambda each: (*_rank(each), later.get(each.key, len(later)))))


def _placed(judged: Judged) -> dict[str, _Placed]:
    """The findings of one link by key, under the role that their device has in the whole chain."""
    stands = standings(judged.verdict.findings, judged.gate)
    named = {each.key: _renamed(each, judged.device) for each in judged.verdict.findings}
    placed = {}
    for each in judged.verdict.findings:
        causes = tuple(named[cause].key for cause in each.causes)
        side = Side(each.state, each.weight, each.gate, Place[stands[each.key].name], each.title, each.detail, causes)
        placed[named[each.key].key] = named[each.key], side
    return placed


def _renamed(finding: Finding, device: Role) -> Finding:
    return msgspec.structs.replace(finding, role=device) if finding.role is Role.DEVICE else finding


def _change(finding: Finding, trail: Sequence[tuple[Why | None, _Placed | None]]) -> FindingChange | None:
    why = tuple(dict.fromkeys(why for (_, one), (why, other) in pairwise(trail) if why and _differ(why, one, other)))
    first, last = trail[0][1], trail[-1][1]
    by_todays_rules = [placed for why, placed in trail if why in {None, Why.RULES}][-1]
    said = _says(by_todays_rules) or _says(first)  # in today's words, where today's rules find it open at all
    if not why or (_grade(first) == _grade(last) and _says(last) in {(), said}):
        return None
    before, after = (placed[1] if placed else None for placed in (first, last))
    return FindingChange(finding.key, finding.id, finding.role, finding.item, before, after, why)


def _differ(why: Why, one: _Placed | None, other: _Placed | None) -> bool:
    return _grade(one) != _grade(other) or (why in _SEEN and _says(one) != _says(other))


def _grade(placed: _Placed | None) -> tuple[object, ...]:
    return (placed[1].state, placed[1].weight, placed[1].gate, placed[1].stands) if placed else ()


def _says(placed: _Placed | None) -> tuple[str, ...]:
    """What an open finding says; of one that is met, the facts say what changed."""
    if placed is None or placed[1].state is Holds.MET:
        return ()
    return placed[1].title, _AGE.sub("", placed[1].detail)


def _rank(change: FindingChange) -> tuple[int, bool]:
    """What is explained by another finding comes after what is not."""
    stood, stands = (Standing.FINE if each is None else each for each in (change.stood, change.stands))
    if stands is Standing.IN_THE_WAY:
        place = 2 if stood is stands else 0
    else:
        place = 1 if stood is Standing.IN_THE_WAY else 2 + min(stood, stands)
    return place, change.explained
