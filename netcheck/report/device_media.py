"""What is loaded where, and how much of it. A part of the page of one device.

A feed is a tray or a roll. The Printer MIB calls it an input and knows what is left; IPP lists what is ready, by a
source of its own naming. They are joined by name, else by the size's name, by size, by number.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from netcheck.case import Case
from netcheck.facts import Amount, Measured, Unknown
from netcheck.facts.condition import SubUnit
from netcheck.facts.media import InputRow, Inputs, MediaReady, OutputRow, Outputs, ReadyRow, parse_size_name
from netcheck.report.device_amounts import counted, left, metres, roll_words, sheet_words, size_name, spelt
from netcheck.report.device_said import (
    DISAGREE,
    MOST_ROWS,
    Claim,
    Line,
    by_value,
    by_whom,
    incomplete,
    seen,
    side_by_side,
)
from netcheck.report.page import Tone
from netcheck.rules.media import ROLL, TOLERANCE_UM
from netcheck.words import join

_READY = {"available-idle", "available-active", "available-busy", "available-standby", "unknown"}
_BLANK = {"", "other", "unknown"}
_NUMBERS = {"main-roll": 1, "alternate-roll": 2}
"""Sources without a number (PWG 5100.7, from memory), by the inputs that they are (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Feed:
    """A feed as one source tells it. Lengths in micrometres, 0 where not told; ``reach`` is the longest print that a
    roll is said to take. ``ready``: it is in a list of what is ready, which tells no level."""

    name: str
    number: int | None
    roll: bool | None
    width: int
    length: int
    media_name: str
    media_type: str
    kind: str = ""
    reach: int = 0
    level: Amount = field(default_factory=Unknown)
    capacity: Amount = field(default_factory=Unknown)
    unit: str = ""
    status: SubUnit | None = None
    ready: bool = False


def media(case: Case) -> Iterator[Line]:
    """A line a feed; then the outputs."""
    inputs, lists = seen(case, Inputs), seen(case, MediaReady)
    tables = [(each.who, [_input(row) for row in each.fact.rows]) for each in inputs]
    tables += [(each.who, [_ready(row) for row in each.fact.rows]) for each in lists]
    groups = side_by_side(tables, _same_name, _same_medium, _same_size, _same_number)
    placed = [group for group in groups if any(feed.name or not feed.ready for _, feed in group)]
    yield from map(_feed, placed)
    yield from _nowhere([group for group in groups if group not in placed])
    for nothing in [each for each in lists if not each.fact.rows][:1]:
        yield Line("ready", f"nothing ({nothing.who})")
    for outputs in seen(case, Outputs)[:1]:
        for row in outputs.fact.rows[:MOST_ROWS]:
            label, what = (row.name, "output") if row.name else (f"output {row.index}", "")
            yield Line(label, join([what, _output(row)]))
    for each in inputs:
        yield from incomplete(each.who, each.fact.rows, complete=each.fact.complete)


def _input(row: InputRow) -> Feed:
    name = row.name or row.description
    kind = "" if row.type in _BLANK else row.type
    width, length = (each.value if isinstance(each, Measured) else 0 for each in (row.cross, row.feed))
    roll = kind == ROLL if kind else None
    return Feed(
        name=name,
        number=row.index,
        roll=roll,
        width=width,
        length=0 if roll else length,
        media_name=row.media_name,
        media_type=row.media_type,
        kind=kind,
        level=row.level,
        capacity=row.capacity,
        unit=row.unit,
        status=row.status,
    )


def _ready(row: ReadyRow) -> Feed:
    size = row.size
    ranged = size is not None and (size.y.low != size.y.high or not size.y.high)
    roll = ranged or "roll" in f"{row.source} {row.name}".casefold()
    trailing = re.search(r"(\d{1,4})$", row.source)
    number = int(trailing[1]) if trailing else _NUMBERS.get(row.source)
    return Feed(
        name=row.source,
        number=number,
        roll=roll,
        width=size.x.high if size else 0,
        length=size.y.high if size and not roll else 0,
        media_name=row.name,
        media_type=row.type,
        reach=size.y.high if size and roll else 0,
        ready=True,
    )


# --- which of them are one feed --------------------------------------------------------------------------------------


def _same_name(one: Feed, other: Feed) -> bool:
    return bool(_slug(one.name)) and _slug(one.name) == _slug(other.name)


def _slug(name: str) -> str:
    """``Roll 1`` and ``roll-1`` are one name."""
    return re.sub(r"[\W_]+", "-", name.casefold()).strip("-")


def _same_medium(one: Feed, other: Feed) -> bool:
    return bool(one.media_name) and one.media_name == other.media_name and _same_kind(one, other)


def _same_size(one: Feed, other: Feed) -> bool:
    return bool(one.width and other.width) and _same_kind(one, other) and _equal(one, other)


def _same_number(one: Feed, other: Feed) -> bool:
    told = one.width and other.width
    return one.number is not None and one.number == other.number and _same_kind(one, other) and not told


def _same_kind(one: Feed, other: Feed) -> bool:
    return one.roll is None or other.roll is None or one.roll == other.roll


def _equal(one: Feed, other: Feed) -> bool:
    """Of a roll the width counts; a sheet may lie either way round (RFC 3805 s6: dimensions follow the feed)."""
    if one.roll or other.roll:
        return abs(one.width - other.width) <= TOLERANCE_UM
    pairs = zip(sorted((one.width, one.length)), sorted((other.width, other.length)), strict=True)
    return all(abs(a - b) <= TOLERANCE_UM for a, b in pairs)


# --- in words --------------------------------------------------------------------------------------------------------

Group = Sequence[tuple[str, Feed]]


def _feed(group: Group) -> Line:
    feeds = [feed for _, feed in group]
    name = next((feed.name for feed in feeds if feed.name), "")
    kind = next((feed.kind for feed in feeds if feed.kind and feed.kind != ROLL), "")
    label = name or f"input {feeds[0].number}"
    size = _sizes(group)
    empty = any(feed.level == Measured(0) for feed in feeds)
    ready = [who for who, feed in group if feed.ready]
    parts = [size or "size not told", _called(feeds), _type(group), _left(group), _status(feeds)]
    if not size and kind and not name:
        parts.insert(0, spelt(kind))
    flag = f"  <- but {by_whom(ready)} calls it ready" if empty and ready else ""
    tone = Tone.BAD if empty else Tone.CARE if DISAGREE in join(parts) else Tone.PLAIN
    return Line(label, join(parts, "; " if DISAGREE in join(parts) else ", ") + flag, tone)


def _nowhere(groups: Sequence[Group]) -> Iterator[Line]:
    """What is ready without a word about where: mostly the sheets that a roll can be cut to."""
    names = [
        size_name(feed.width, feed.length) or _sizes(group) or feed.media_name
        for group in groups
        for _, feed in group[:1]
    ]
    if names:
        who = [who for group in groups for who, _ in group]
        yield Line("ready too", f"{join(dict.fromkeys(names))} ({by_whom(who)})")


def _sizes(group: Group) -> str:
    """The size, or each different one with who tells it."""
    roll = next((feed.roll for _, feed in group if feed.roll is not None), None)
    different: list[tuple[Feed, list[str]]] = []
    for who, feed in group:
        if feed.width and (roll or feed.length or len(group) == 1):
            same = next((names for head, names in different if _equal(head, feed)), None)
            if same is None:
                different.append((feed, [who]))
            else:
                same.append(who)
    if len(different) < 2:
        return "".join(_size(feed, roll) for feed, _ in different) or ("roll, width not told" if roll else "")
    return join(f"{_size(feed, roll)} ({by_whom(who)})" for feed, who in different) + DISAGREE


def _size(feed: Feed, roll: bool | None) -> str:
    if roll:
        return roll_words(feed.width)
    return sheet_words(feed.width, feed.length) if feed.length else roll_words(feed.width).removesuffix(" roll")


def _called(feeds: Sequence[Feed]) -> str:
    """The medium's name, where it is more than a size (PWG 5101.1) or a type."""
    types = {feed.media_type.casefold() for feed in feeds}
    names = dict.fromkeys(feed.media_name for feed in feeds if feed.media_name.casefold() not in types)
    return join(f'called "{name}"' for name in names if name and parse_size_name(name) is None)


def _type(group: Group) -> str:
    """What the feed is set to hold, which is what the printer will print for."""
    groups = by_value(Claim(who, feed.media_type) for who, feed in group)
    if len(groups) > 1:
        return "set to " + join(f"{value} ({by_whom(who)})" for value, who in groups) + DISAGREE
    return f"set to {groups[0][0]}" if groups else "type not told"


def _left(group: Group) -> str:
    inputs = [(who, feed) for who, feed in group if not feed.ready]
    known = [(who, feed) for who, feed in inputs if not isinstance(feed.level, Unknown)]
    if not known:
        reach = max((feed.reach for _, feed in group), default=0)
        longest = f"prints up to {metres(reach)} long" if reach else ""
        return join(["how much is left is not known", longest])
    groups = by_value(Claim(who, left(feed.level, feed.capacity, feed.unit)) for who, feed in known)
    if len(groups) == 1:
        return groups[0][0]
    one_unit = len({feed.unit for _, feed in known}) == 1
    return join(f"{value} ({by_whom(who)})" for value, who in groups) + (DISAGREE if one_unit else "")


def _status(feeds: Sequence[Feed]) -> str:
    """What keeps the feed from being used (PrtSubUnitStatusTC)."""
    said: list[str] = []
    for status in [feed.status for feed in feeds if feed.status is not None]:
        said += [] if status.availability in _READY else [spelt(status.availability.replace("-", " "))]
        said += [words for is_so, words in ((status.critical, "critical alert"), (status.offline, "off-line")) if is_so]
    return join(dict.fromkeys(said))


def _output(row: OutputRow) -> str:
    return join([left(row.remaining, row.capacity, row.unit, "room left"), f"holds {_holds(row)}"])


def _holds(row: OutputRow) -> str:
    return counted(row.capacity.value, row.unit) if isinstance(row.capacity, Measured) else "an amount not told"
