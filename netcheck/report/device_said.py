"""Who says what of one device: the same thing told by several sources, laid side by side. Below the parts of the page.

A device tells its serial number in the Printer MIB, in its device ID and over IPP. Where all say the same it is shown
once, with all who say it; where they do not, every value stands with its tellers, and is flagged. Nothing is decided
here: which of them is right is not known to a page.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Generic, NamedTuple, TypeVar

import msgspec

from netcheck.case import Case, Observation
from netcheck.evidence import same_text
from netcheck.facts import Fact
from netcheck.report.page import Tone
from netcheck.roles import Role
from netcheck.words import join

F = TypeVar("F", bound=Fact)
R = TypeVar("R")

ROLE = Role.DEVICE
MOST_ROWS = 64
"""Rows of one table that are laid beside those of others: more than any printer has parts of one kind."""
DISAGREE = "  <- they disagree"
DEVICE_ID = "device ID"
_ID_BY = f"{DEVICE_ID} by "
_ORDER = ("snmp", "ipp")
_NAMES = {"snmp": "SNMP", "ipp": "IPP", "dnssd": "DNS-SD", "tls": "TLS", "person": "your word"}
_ID_SOURCES = ("printer-device-id", "ppmPrinterIEEE1284DeviceId")


class Line(NamedTuple):
    """One entry of the page; no label: it belongs to the entry before."""

    label: str
    text: str
    tone: Tone = Tone.PLAIN


class Claim(NamedTuple):
    """A value, and who tells it."""

    who: str
    value: str


@dataclass(frozen=True, slots=True)
class Seen(Generic[F]):
    """A fact, and who tells it."""

    who: str
    fact: F
    observation: Observation


def seen(case: Case, kind: type[F]) -> list[Seen[F]]:
    """All that is known of one kind: the latest from each source, the Printer MIB's first."""
    latest: dict[tuple[str, str], Observation] = {}
    for item in case.observations:
        key = item.probe, item.source
        if item.role is ROLE and item.kind == kind.kind and (key not in latest or latest[key].at_ms <= item.at_ms):
            latest[key] = item
    found = sorted(latest.values(), key=lambda item: _ORDER.index(item.probe) if item.probe in _ORDER else len(_ORDER))
    return [Seen(_who(item), msgspec.convert(item.value, kind), item) for item in found]


def _who(item: Observation) -> str:
    name = _NAMES.get(item.probe, item.probe)
    return f"{_ID_BY}{name}" if item.source.startswith(_ID_SOURCES) else name


def by_value(claims: Iterable[Claim], same: Callable[[str, str], bool] = same_text) -> list[tuple[str, list[str]]]:
    """Each different value once, with all who tell it; of those that are the same, the first one's wording."""
    groups: list[tuple[str, list[str]]] = []
    for who, value in claims:
        if not value.strip():
            continue
        group = next((names for head, names in groups if same(head, value)), None)
        if group is None:
            groups.append((value, [who]))
        elif who not in group:
            group.append(who)
    return groups


def told(
    label: str,
    claims: Iterable[Claim],
    same: Callable[[str, str], bool] = same_text,
    flag: str = DISAGREE,
) -> Iterator[Line]:
    """A line for each different value, with its tellers; flagged where there are several."""
    groups = by_value(claims, same)
    every = [name for _, names in groups for name in names]
    for number, (value, names) in enumerate(groups):
        text = f"{value} ({by_whom(names, every)})"
        differs = len(groups) > 1
        yield Line("" if number else label, text + flag if differs and number else text, _tone(flag, differs=differs))


def _tone(flag: str, *, differs: bool) -> Tone:
    return Tone.CARE if flag and differs else Tone.PLAIN


def by_whom(names: Sequence[str], every: Sequence[str] = ()) -> str:
    """Names of tellers. A device ID that came by two ways is one, unless the two differ."""
    short = [DEVICE_ID if name.startswith(_ID_BY) else name for name in names]
    all_ids = {name for name in every or names if name.startswith(_ID_BY)}
    return join(dict.fromkeys(short if all_ids <= set(names) else names))


def side_by_side(tables: Iterable[tuple[str, Sequence[R]]], *same: Callable[[R, R], bool]) -> list[list[tuple[str, R]]]:
    """Rows of several tables that speak of one thing, together. The tests are tried one after the other, the surest
    first, on what the ones before have left; a table's rows never go together. Only the first rows of each table."""
    groups: list[list[tuple[str, R]]] = []
    for who, rows in tables:
        free, waiting = list(range(len(groups))), list(rows[:MOST_ROWS])
        for test in same:
            still = []
            for row in waiting:
                place = next((at for at in free if any(test(each, row) for _, each in groups[at])), None)
                if place is None:
                    still.append(row)
                else:
                    free.remove(place)
                    groups[place].append((who, row))
            waiting = still
        groups += [[(who, row)] for row in waiting]
    return groups


def incomplete(who: str, rows: Sequence[object], *, complete: bool) -> Iterator[Line]:
    """That a table has more than is shown, or may have."""
    if len(rows) > MOST_ROWS:
        yield Line("", f"{who} tells {len(rows) - MOST_ROWS} more, which are not shown", Tone.CARE)
    if not complete:
        yield Line("", f"{who} was cut short: there may be more", Tone.CARE)
