"""Inks, toners and receptacles as bars, a row each however many sources tell it. A part of the page of one device."""

from collections.abc import Iterator, Sequence

from netcheck.case import Case
from netcheck.facts import Measured, Some, Unknown
from netcheck.facts.supplies import Supplies, Supply
from netcheck.report.device_amounts import UNNAMED, left, spelt
from netcheck.report.device_said import DISAGREE, Line, by_whom, incomplete, seen, side_by_side
from netcheck.report.page import Tone
from netcheck.rules.supplies import RECEPTACLE
from netcheck.words import join, percent

_CELLS = 20
_ROUNDING = 1
"""Percent: what two sources may differ by, because each rounds for itself (common practice, no source)."""
_BLANK = {"", "other", "unknown"}
_NOT_KNOWN = "not known"


def supplies(case: Case) -> Iterator[Line]:
    """A line for each supply, and one more for each source that tells another level."""
    tables = seen(case, Supplies)
    groups = side_by_side([(each.who, each.fact.rows) for each in tables], _same_name, _same_place, _same_ink)
    for group in groups:
        yield from _supply(group)
    for each in tables:
        yield from incomplete(each.who, each.fact.rows, complete=each.fact.complete)


def _same_name(one: Supply, other: Supply) -> bool:
    return bool(one.description) and one.description.casefold() == other.description.casefold() and _fit(one, other)


def _same_place(one: Supply, other: Supply) -> bool:
    return one.index == other.index and _fit(one, other)


def _same_ink(one: Supply, other: Supply) -> bool:
    return one.colorant not in _BLANK and one.colorant.casefold() == other.colorant.casefold() and _fit(one, other)


def _fit(one: Supply, other: Supply) -> bool:
    """Nothing that both tell speaks against their being the same."""
    pairs = ((one.family, other.family), (one.type, other.type), (one.colorant, other.colorant))
    return all(a.casefold() == b.casefold() or a in _BLANK or b in _BLANK for a, b in pairs)


def _supply(group: Sequence[tuple[str, Supply]]) -> Iterator[Line]:
    name = next((row.description for _, row in group if row.description), "")
    row = group[0][1]
    name = name or join([row.colorant, spelt(row.type)], " ") or f"supply {row.index}"
    different: list[tuple[Supply, list[str]]] = []
    for who, each in _telling(group):
        same = next((names for head, names in different if _same_level(head, each)), None)
        if same is None:
            different.append((each, [who]))
        else:
            same.append(who)
    for number, (each, tellers) in enumerate(different):
        by = f"  ({by_whom(tellers)})" if len(different) > 1 else ""
        yield Line("" if number else name, f"{_level(each)}{by}{DISAGREE if number else ''}", _tone(each))


def _telling(group: Sequence[tuple[str, Supply]]) -> Sequence[tuple[str, Supply]]:
    """Those who know the level, who says it in a share first; all, where nobody does."""
    known = [(who, row) for who, row in group if not isinstance(row.level, Unknown)]
    return sorted(known, key=lambda told: _share(told[1]) is None) or group[:1]


def _same_level(one: Supply, other: Supply) -> bool:
    first, second = _share(one), _share(other)
    if first is not None and second is not None:
        return abs(first - second) <= _ROUNDING and (first == 0) == (second == 0)
    some, exact = (one, other) if isinstance(one.level, Some) else (other, one)
    if isinstance(some.level, Some):
        return exact.level != Measured(0)
    return one.level == other.level or (one.unit != other.unit and Measured(0) not in (one.level, other.level))


def _share(row: Supply) -> int | None:
    return percent(row.level, row.capacity, row.unit)


def _tone(row: Supply) -> Tone:
    return Tone.BAD if row.level == Measured(0) else Tone.PLAIN


def _level(row: Supply) -> str:
    what = "room left" if row.family == RECEPTACLE else "left"
    share = _share(row)
    if share is None:
        return _NOT_KNOWN if isinstance(row.level, Unknown) else left(row.level, row.capacity, row.unit, what)
    told = "" if _only_percent(row) else f"  {left(row.level, row.capacity, row.unit, what)}"
    return f"{_bar(share)} {share:3} %{told or (f'  {what}' if row.family == RECEPTACLE else '')}"


def _only_percent(row: Supply) -> bool:
    """The share says all: a level in percent, or of a hundred of whatever, neither nothing nor more than all."""
    in_full = isinstance(row.capacity, Unknown) or row.capacity == Measured(100)
    over = isinstance(row.level, Measured) and row.level.value > 100
    return row.unit in {"percent", *UNNAMED} and in_full and not over and row.level != Measured(0)


def _bar(share: int) -> str:
    """Full only where all is left, and empty only where nothing is."""
    full = max(share * _CELLS // 100, 1 if share else 0)
    return "[" + "#" * full + "." * (_CELLS - full) + "]"
