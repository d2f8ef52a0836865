"""What changed since an earlier night, in words. Stage: the history's answer → what all pages of a sweep show of it."""

from collections.abc import Iterable, Iterator, Mapping
from itertools import groupby
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from netcheck.report.sweep_night import KINDS, NO_VERDICT, Change, Changes, gist, kind_of, place_of
from netcheck.sweeping.outcome import Found, Row, Swept
from netcheck.verdict import State
from netcheck.words import count, join

if TYPE_CHECKING:  # the pages are made of plain values: they need no store
    from netcheck.sweeping.history import Exchanged, FirmwareCount, Flapping, Low, Since, Turn

_NAMES: Final = {"serial": "serial number", "mac": "hardware address", "address": "address"}
_MOST_TITLES: Final = 3


def changes_of(since: "Since", rows: Iterable[Swept], gone: Mapping[str, Row] = MappingProxyType({})) -> Changes:
    """The history's answer about these rows, in words; ``gone`` are, by key, the rows of those that are not among them.
    In a first night nothing is a change but what runs low."""
    by_key = {each.row.key: each for each in rows}
    low = tuple(_low(since.low))
    if since.before_ms is None:
        return Changes(low=low)
    newly = {each.key for each in since.newly}
    differing = [each for each in since.findings if each.key not in newly]
    return Changes(
        before_ms=since.before_ms,
        newly=tuple(_turned(each, by_key) for each in since.newly),
        recovered=tuple(_recovered(each, by_key) for each in since.recovered),
        exchanged=tuple(map(_exchanged, since.exchanged)),
        findings=tuple(Change(each.key, _titles(each.appeared)) for each in differing if each.appeared),
        settled=tuple(Change(each.key, _titles(each.settled)) for each in differing if each.settled),
        flapping=tuple(map(_flapping, since.flapping)),
        once=tuple(_turned(each, by_key) for each in since.once),
        low=low,
        firmware=tuple(_firmware(since.firmware)),
        came=tuple(Change(key, _now(by_key, key)) for key in since.arrived),
        gone=tuple(Change(key, "it was asked then", _name(gone, key)) for key in since.gone),
    )


def _name(gone: Mapping[str, Row], key: str) -> str:
    return place_of(gone[key]) if key in gone else ""


def _word(state: State | None) -> str:
    return KINDS[state or NO_VERDICT].word


def _now(rows: dict[str, Swept], key: str) -> str:
    return kind_of(rows[key]).word if key in rows else "not asked"


def _turned(turn: "Turn", rows: dict[str, Swept]) -> Change:
    """Why it is not well, what it was before, and for how long it has not been well."""
    why = gist(rows[turn.key]) if turn.key in rows else turn.fault
    was = "" if turn.was is None or turn.was is turn.now else f"was {_word(turn.was)}"
    nights = f"for {turn.nights} nights" if turn.nights > 1 else ""
    return Change(turn.key, join([join([_word(turn.now), why], ": "), was, nights], "; "))


def _recovered(turn: "Turn", rows: dict[str, Swept]) -> Change:
    watch = gist(rows[turn.key]) if turn.key in rows else ""
    after = f"after {count(turn.nights, 'night')}" if turn.nights else ""
    return Change(turn.key, join([f"{_word(turn.now)}, was {_word(turn.was)}", after, watch], "; "))


def _titles(found: tuple[Found, ...]) -> str:
    more = len(found) - _MOST_TITLES
    return join([*(each.title for each in found[:_MOST_TITLES]), f"{more} more" if more > 0 else ""], "; ")


def _exchanged(change: "Exchanged") -> Change:
    return Change(change.key, f"its {_NAMES[change.what]} was {change.was}, is {change.now}")


def _flapping(flapping: "Flapping") -> Change:
    runs = [_word(state) for state, _ in groupby(flapping.answers)]
    return Change(flapping.key, f"changed {count(flapping.changes, 'time')}: {join(runs, ', then ')}")


def _low(every: Iterable["Low"]) -> Iterator[Change]:
    """Those that went under their limit since then, emptiest first: the others were told when they did."""
    for each in sorted(every, key=lambda one: one.percent):
        if each.was is None or each.was >= each.limit:
            was = "" if each.was is None else f"; was {each.was} %"
            yield Change(each.key, f"{each.name}: {each.percent} %, low under {each.limit} %{was}")


def _firmware(every: Iterable["FirmwareCount"]) -> Iterator[Change]:
    """A line for each model of which the counts differ."""
    for model, counts in groupby(every, key=lambda each: each.model):
        versions = list(counts)
        if any(each.then != each.now for each in versions):
            told = [f"{each.firmware} on {each.now:,}" + _before(each) for each in versions]
            yield Change(model or "(model not told)", join(told, "; "))


def _before(each: "FirmwareCount") -> str:
    return "" if each.now == each.then else f" (was on {each.then:,})"
