"""What all outputs of a sweep share: the night that they tell of, what changed, and the words for what became of a row.

Stage: between the sweep's outcomes and its outputs, which decide nothing.
"""

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from typing import Final, NamedTuple

import msgspec

from netcheck.sweeping.outcome import Found, Row, Swept
from netcheck.verdict import Standing, State
from netcheck.words import count, join


class Kind(NamedTuple):
    """What became of a row: its name, its word, the shape that stands beside the word, and what it means."""

    name: str
    word: str
    shape: str
    means: str


_NUMBERS: Final = re.compile("([0-9]{1,18})")

_MOST_OTHERS: Final = 5
NO_VERDICT: Final = "no-verdict"
NOT_ASKED: Final = "not-asked"

KINDS: Final = {
    kind.name: kind
    for kind in (
        Kind(State.NOT_READY, "not ready", "\u25a0", "something stands in the way"),
        Kind(State.CANNOT_TELL, "cannot tell", "?", "an answer that is needed is missing"),
        Kind(NO_VERDICT, "no verdict", "\u00d7", "the question itself failed"),
        Kind(State.READY_WITH_CARE, "with care", "\u25b2", "ready, with something to watch"),
        Kind(State.READY, "ready", "\u25cf", "nothing seen that keeps it from printing"),
        Kind(NOT_ASKED, "not asked", "\u2013", "the sweep ended before its turn"),
    )
}
"""By name, in the order in which somebody should look at them."""


class Change(msgspec.Struct, frozen=True):
    """One thing that changed. ``key`` is the row's; for firmware by model it is the model, which has no row. ``name``
    is that of a device that is no longer among the rows."""

    key: str
    words: str
    name: str = ""


class Changes(msgspec.Struct, frozen=True):
    """What changed since an earlier night, each list in the order in which it is to be read. ``before_ms`` is 0 where
    there is no earlier night to compare with."""

    before_ms: int = 0
    newly: tuple[Change, ...] = ()
    recovered: tuple[Change, ...] = ()
    exchanged: tuple[Change, ...] = ()
    findings: tuple[Change, ...] = ()
    settled: tuple[Change, ...] = ()
    came: tuple[Change, ...] = ()
    gone: tuple[Change, ...] = ()
    flapping: tuple[Change, ...] = ()
    once: tuple[Change, ...] = ()
    low: tuple[Change, ...] = ()
    firmware: tuple[Change, ...] = ()

    def parts(self) -> list[tuple[str, tuple[Change, ...]]]:
        """Heading and changes, those that call for somebody first; what did not happen is left out."""
        every = (
            ("New trouble", self.newly),
            ("Another device, address or serial number", self.exchanged),
            ("New findings", self.findings),
            ("Recovered", self.recovered),
            ("Settled findings", self.settled),
            ("Coming and going", self.flapping),
            ("Trouble for one night; counts from the second", self.once),
            ("Supplies that became low", self.low),
            ("Firmware by model", self.firmware),
            ("New in the fleet", self.came),
            ("No longer in the fleet", self.gone),
        )
        return [(heading, changes) for heading, changes in every if changes]


class Night(msgspec.Struct, frozen=True):
    """One run. Times are ms since 1970; ``finished_ms`` is 0 for one that did not end. ``left`` rows were not asked,
    ``refused`` ones could not be. ``fleet`` is the fleet file's name, ``others`` are the fleets that the store knows
    besides, ``changes`` None where nobody asked for them. ``case_command`` gets the saved case of the row whose key is
    put, quoted for a shell, in the place of its last ``KEY`` or ``'KEY'``; "" where there is none."""

    started_ms: int
    finished_ms: int = 0
    left: int = 0
    fleet: str = ""
    changes: Changes | None = None
    case_command: str = ""
    refused: int = 0
    others: tuple[str, ...] = ()


def kind_of(swept: Swept) -> Kind:
    """What became of a row that was asked."""
    return KINDS[swept.state or NO_VERDICT]


def tally(night: Night, rows: Iterable[Swept]) -> Counter[str]:
    """How many of each kind, by the kind's name; those that were left too."""
    return Counter({NOT_ASKED: night.left}) + Counter(kind_of(each).name for each in rows)


def answer(counts: Counter[str]) -> str:
    """The first line's first half: how many need somebody."""
    wrong, total = counts[State.NOT_READY], counts.total()
    if not total:
        return "No device was asked"
    return f"{wrong:,} of {total:,} {'needs' if wrong == 1 else 'need'} somebody"


def besides(counts: Counter[str]) -> tuple[list[str], list[str]]:
    """The other half: of how many it is not known, and what became of the rest."""
    unclear = [KINDS[name] for name in (State.CANNOT_TELL, NO_VERDICT, NOT_ASKED)]
    rest = [KINDS[name] for name in (State.READY, State.READY_WITH_CARE)]

    def said(kinds: list[Kind]) -> list[str]:
        return [f"{counts[kind.name]:,} {kind.word}" for kind in kinds if counts[kind.name]]

    return said(unclear), said(rest)


def worst_first(rows: Iterable[Swept]) -> list[Swept]:
    """Those first that somebody should look at first; within one kind, by site and host."""
    order = {name: number for number, name in enumerate(KINDS)}

    def rank(each: Swept) -> tuple[int, Natural, Natural, str]:
        return order[kind_of(each).name], natural(each.row.site), natural(each.row.new.host), each.row.key

    return sorted(rows, key=rank)


Natural = tuple[tuple[int, str], ...]


def natural(text: str) -> Natural:
    """To sort as people count: office 2 before office 10, 192.0.2.9 before 192.0.2.61. Digits beyond eighteen are text:
    a device may name a number of any length."""
    parts = _NUMBERS.split(text.casefold())
    return tuple((int(part), "") if place % 2 else (0, part) for place, part in enumerate(parts))


def open_roots(swept: Swept) -> list[Found]:
    """What is not settled and nothing else explains, heaviest first."""
    found = [each for each in swept.findings if each.root and each.standing <= Standing.WATCH]
    return sorted(found, key=lambda each: each.standing)


def gist(swept: Swept) -> str:
    """The heaviest thing about a row in a few words, "" where there is nothing."""
    found = open_roots(swept)
    if swept.state is None or not found:
        return swept.fault
    return found[0].title + (f" (and {len(found) - 1} more)" if len(found) > 1 else "")


def lowest(swept: Swept) -> int | None:
    """Percent left of the supply that has least, None where no supply says."""
    return min((each.percent for each in swept.supplies if each.percent is not None), default=None)


def place_of(row: Row) -> str:
    """A row as a person names it."""
    return join([row.new.host, row.site, row.queue.name if row.queue else ""])


def moment(at_ms: int) -> str:
    """A time for a person; the same wherever the page is read."""
    return f"{datetime.fromtimestamp(at_ms // 1000, UTC):%Y-%m-%d %H:%M} UTC"


def since_when(changes: Changes) -> str:
    """What the changes are compared with, as a heading."""
    return f"Changed since {moment(changes.before_ms)}" if changes.before_ms else "No earlier night to compare with"


def beside(night: Night) -> str:
    """Where there is no night to compare with, which fleets there are nights of; "" where there are none."""
    if not night.others or (night.changes and night.changes.before_ms):
        return ""
    more = len(night.others) - _MOST_OTHERS
    told = [*night.others[:_MOST_OTHERS], f"{more:,} more" if more > 0 else ""]
    return f"The store has nights of other fleets: {join(told)}."


def refused(night: Night) -> str:
    """How many rows are in no count, "" where there are none."""
    return f"{count(night.refused, 'row')} of the file could not be asked" if night.refused else ""


def times(night: Night) -> str:
    """When the night was."""
    if not night.finished_ms:
        return f"began {moment(night.started_ms)}, did not finish"
    seconds = max(0, night.finished_ms - night.started_ms) // 1000
    hours, minutes = seconds // 3600, seconds // 60 % 60
    lasted = join([f"{hours} h" if hours else "", f"{minutes} min" if minutes else "", f"{seconds % 60} s"], " ")
    return f"{moment(night.started_ms)}, took {lasted}"


def standards_of(rows: Sequence[Swept]) -> list[str]:
    """The names of the Standards that were judged by, most used first."""
    return [name for name, _ in Counter(each.standard.name for each in rows if each.standard.name).most_common()]
