"""Two cases, fact by fact. Pure.

An observation is found again by its role, its kind, its probe and its source, a row of a table by its own key (see
`tables`). Then three things are kept apart that look alike in a list of differences:

* *gone*: who told it before answered, and does not tell it any more; *new* the other way round;
* *not seen*: nobody answered who could tell it, so it may be there all the same; *seen now* the other way round;
* what one netcheck records and another does not yet: no difference of the devices, and left out.

Of what a joined case holds several times, the latest from each source counts.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from enum import StrEnum
from typing import Any, NamedTuple, TypeAlias

import msgspec

from netcheck.case import Case, Observation
from netcheck.comparing.attempts import Unseen
from netcheck.comparing.changes import FindingChange, Judged
from netcheck.comparing.loopback import settled
from netcheck.comparing.tables import (
    LEFT_OUT,
    MOVES,
    NAMED_BY,
    PAIRS,
    ROW_KEYS,
    STARTED_ANEW,
    THEMES,
    ZERO_IS_NOTHING,
    Theme,
)
from netcheck.comparing.wording import field_name, label, row_text, summary, words
from netcheck.roles import Role


class How(StrEnum):
    """What became of a fact, or of a row."""

    CHANGED = "changed"
    GONE = "gone"
    NEW = "new"
    NOT_SEEN = "not-seen"
    SEEN_NOW = "seen-now"


class FieldChange(msgspec.Struct, frozen=True):
    """One field, in words; None where the source says nothing of it. Of a list only what differs: ``before`` what is in
    it no longer, ``after`` what is new in it."""

    field: str
    before: str | None
    after: str | None


class FactChange(msgspec.Struct, frozen=True, kw_only=True):
    """A fact, or one ``row`` of it, that is not as it was. ``moves``: it always does, and says nothing of the device.
    ``findings`` are the keys of the findings that changed and rest on it; ``reason`` says why it was not seen."""

    role: Role
    kind: str
    probe: str
    source: str
    row: str
    theme: Theme
    how: How
    fields: tuple[FieldChange, ...]
    moves: bool = False
    findings: tuple[str, ...] = ()
    reason: str = ""


class Part(NamedTuple):
    """A fact itself, or one of its rows: its name for people, and its fields."""

    label: str
    fields: dict[str, Any]


Key: TypeAlias = tuple[Role, str, str, str]
Place: TypeAlias = tuple[Role, str, str]
"""Where evidence was seen: role, probe, source."""


def fact_changes(
    before: Case, after: Case, resting: Mapping[Place, tuple[str, ...]] | None = None
) -> tuple[FactChange, ...]:
    """Every fact that is not in the later case what it is in the earlier one; first those that ``resting`` names: the
    facts that findings which changed rest on."""
    one, other = _latest(settled(before)), _latest(settled(after))
    unseen = Unseen(before), Unseen(after)
    found: list[FactChange] = []
    for key in dict.fromkeys((*other, *one)):
        was, now = one.get(key), other.get(key)
        if was and now:
            found += _compared(was, now)
        elif was:
            found.append(_lost(was, unseen[1], How.GONE, How.NOT_SEEN))
        elif now:
            found.append(_lost(now, unseen[0], How.NEW, How.SEEN_NOW))
    findings = resting or {}
    named = (
        msgspec.structs.replace(each, findings=findings.get((each.role, each.probe, each.source), ())) for each in found
    )
    return tuple(sorted(named, key=_rank))


def resting(chain: Sequence[Judged], changes: Sequence[FindingChange]) -> dict[Place, tuple[str, ...]]:
    """Which of the findings that changed rest on what was seen where, at either end of the chain."""
    keys = {change.key for change in changes}
    found: dict[Place, dict[str, None]] = {}
    for judged in (chain[0], chain[-1]):
        for finding in judged.verdict.findings:
            role = judged.device if finding.role is Role.DEVICE else finding.role
            if (key := f"{finding.id}@{role}/{finding.item}") in keys:
                for seen in finding.evidence:
                    place = (judged.device if seen.role is Role.DEVICE else seen.role, seen.probe, seen.source)
                    found.setdefault(place, {})[key] = None
    return {place: tuple(names) for place, names in found.items()}


def move_changes(before: Case, after: Case) -> tuple[FieldChange, ...]:
    """What the work order says otherwise: findings may change for that alone."""
    one, other = (dict(_flat("", msgspec.to_builtins(settled(case).move))) for case in (before, after))
    found = []
    for name in dict.fromkeys((*other, *one)):
        was, now = words("", one.get(name)) or None, words("", other.get(name)) or None
        if was != now:
            found.append(FieldChange(name, was, now))
    return tuple(found)


def _flat(prefix: str, value: Any) -> Iterator[tuple[str, Any]]:
    if not isinstance(value, Mapping):
        yield prefix, value
        return
    for name, each in value.items():
        yield from _flat(f"{prefix} {field_name(name)}".strip(), each)


_THEMES, _HOWS, _ROLES = list(Theme), list(How), [Role.NEW, Role.DEVICE, Role.OLD, Role.QUEUE, Role.HERE]


def _rank(change: FactChange) -> tuple[bool, bool, int, int, int]:
    return (
        change.moves,
        not change.findings,
        _THEMES.index(change.theme),
        _HOWS.index(change.how),
        _ROLES.index(change.role),
    )


def _latest(case: Case) -> dict[Key, Observation]:
    latest: dict[Key, Observation] = {}
    for item in case.observations:
        if item.kind in LEFT_OUT:
            continue
        names = NAMED_BY.get(item.kind)
        source = item.source if names is None else _own_name(item.kind, item.value)
        key = (item.role, item.kind, item.probe, source)
        if key not in latest or latest[key].at_ms <= item.at_ms:
            latest[key] = item
    return latest


def _lost(item: Observation, unseen: Unseen, answered: How, unanswered: How) -> FactChange:
    """A fact that only one of the cases has; ``unseen`` is of the case without it."""
    reason = unseen.why(item)
    how = unanswered if reason else answered
    said = summary(item.kind, item.value)
    fields = (_sided(item.kind, said, how),) if said else ()
    return _told(item, _own_name(item.kind, item.value), how, fields, reason=reason)


def _own_name(kind: str, value: Mapping[str, Any]) -> str:
    """What a fact is called that its source does not name."""
    return " ".join(str(value.get(name, "")) for name in NAMED_BY.get(kind, ()))


def _sided(name: str, text: str, how: How) -> FieldChange:
    return FieldChange(name, text, None) if how in {How.GONE, How.NOT_SEEN} else FieldChange(name, None, text)


def _told(item: Observation, row: str, how: How, fields: tuple[FieldChange, ...], **more: Any) -> FactChange:
    theme = THEMES.get(item.kind, Theme.REST)
    if item.role is Role.QUEUE:
        theme = Theme.QUEUE
    return FactChange(
        role=item.role,
        kind=item.kind,
        probe=item.probe,
        source=item.source,
        row=row,
        theme=theme,
        how=how,
        fields=fields,
        **more,
    )


def _compared(was: Observation, now: Observation) -> Iterator[FactChange]:
    if was.value == now.value:
        return
    one, other = _parts(was.kind, was.value, now.value), _parts(now.kind, now.value, was.value)
    for key in dict.fromkeys((*other, *one)):
        before, after = one.get(key), other.get(key)
        if before and after:
            yield from _fields_compared(now, before, after)
        elif before:
            whole = now.value.get("complete", True)
            how, reason = (How.GONE, "") if whole else (How.NOT_SEEN, "the table was cut short")
            yield _told(now, before.label, how, (_sided("row", row_text(before.fields, was.kind), how),), reason=reason)
        elif after:
            whole = was.value.get("complete", True)
            how, reason = (How.NEW, "") if whole else (How.SEEN_NOW, "the table was cut short then")
            yield _told(now, after.label, how, (_sided("row", row_text(after.fields, now.kind), how),), reason=reason)


def _fields_compared(item: Observation, before: Part, after: Part) -> Iterator[FactChange]:
    still: list[FieldChange] = []
    moving: list[FieldChange] = []
    for name in after.fields:
        one, other = before.fields.get(name, _NOWHERE), after.fields[name]
        if one is _NOWHERE or one == other or ((item.kind, name) in ZERO_IS_NOTHING and 0 in {one, other}):
            continue  # what only one of two versions, or of two looks, records says nothing of the device
        if change := _field(name, one, other, before.fields, after.fields):
            moves = (item.kind, name) in MOVES and not _restarted(item.kind, name, one, other)
            (moving if moves else still).append(change)
    for fields, moves in ((still, False), (moving, True)):
        if fields:
            yield _told(item, after.label or before.label, How.CHANGED, tuple(fields), moves=moves)


_NOWHERE = object()
_UNSURE_S = 2
"""Two readings of one clock may come as much apart, in seconds, as the readings took (common practice, no source)."""


def _restarted(kind: str, name: str, before: Any, after: Any) -> bool:
    ticks = STARTED_ANEW.get((kind, name))
    return bool(ticks and isinstance(before, int) and isinstance(after, int) and after < before - _UNSURE_S * ticks)


def _field(name: str, one: Any, other: Any, row: Mapping[str, Any], later: Mapping[str, Any]) -> FieldChange | None:
    if isinstance(one, list) and isinstance(other, list):
        left, came = _only(name, one, other), _only(name, other, one)
        return FieldChange(field_name(name), left, came) if left or came else None
    return FieldChange(field_name(name), words(name, one, row) or None, words(name, other, later) or None)


def _only(name: str, one: list[Any], other: list[Any]) -> str | None:
    """What is in one list and not in the other. Their order alone is no difference."""
    mine, its = ([(msgspec.json.encode(each), each) for each in values] for values in (one, other))
    left = Counter(key for key, _ in mine) - Counter(key for key, _ in its)
    by_key = dict(mine)
    return ", ".join(words(name, by_key[key]) for key in left.elements()) or None


def _parts(kind: str, value: Mapping[str, Any], beside: Mapping[str, Any]) -> dict[str, Part]:
    """A fact taken apart: itself under "", and each row that has a key of its own, in the fact that it is compared with
    too."""
    plain: dict[str, Any] = {}
    rows: dict[str, Part] = {}
    for name, each in value.items():
        keys = ROW_KEYS.get((kind, name))
        if (kind, name) in PAIRS:
            plain |= {f"{name} {pair[0]}": pair[1] for pair in each}
            plain |= {f"{name} {pair[0]}": None for pair in beside.get(name, ()) if f"{name} {pair[0]}" not in plain}
        elif keys and _are_keys(keys, each) and _are_keys(keys, beside.get(name, [])):
            rows |= {f"{name} {_key(keys, row)}": Part(label(row) or f"{kind} {_key(keys, row)}", row) for row in each}
        else:
            plain[name] = each
    return {"": Part(_own_name(kind, value), plain), **rows}


def _key(keys: tuple[str, ...], row: Mapping[str, Any]) -> str:
    return " ".join(str(row.get(key, "")) for key in keys)


def _are_keys(keys: tuple[str, ...], rows: Sequence[Mapping[str, Any]]) -> bool:
    """Does each row have a key, and one of its own?"""
    found = [_key(keys, row) for row in rows]
    return len(set(found)) == len(found) and all(each.strip() for each in found)
