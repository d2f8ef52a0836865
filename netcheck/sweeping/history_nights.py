"""The nights that a question about changes looks at, read once. Stage: between the store and `history`.

Only as many nights are read as can matter: those since the one that is compared with, and before it those that settle
whether a device was flapping, or silent on who it is. A look at a device is a few numbers; findings and what devices
say of themselves are read where those numbers differ.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Collection, Sequence
from functools import cached_property, lru_cache
from typing import NamedTuple

from netcheck.standard import Standard
from netcheck.sweeping.history_rules import CLOSE_NIGHTS, FLAPPING_NIGHTS, Answer, answer_of
from netcheck.sweeping.outcome import Found, Supply
from netcheck.sweeping.store import Run, Store
from netcheck.sweeping.store_reading import standard_of, state_of, supplies
from netcheck.verdict import State


class Look(NamedTuple):
    """One night of one device: which night, its answer, and the numbers of what it said and of what was found."""

    night: int
    state: State | None
    answer: Answer
    identity: int
    findings: int


class Tonight(NamedTuple):
    """What only the last night is asked for."""

    fault: str
    supplies: tuple[Supply, ...]
    standard: Standard


class Identity(NamedTuple):
    """What a device says that it is, and where it was asked."""

    model: str
    serial: str
    firmware: str
    mac: str
    address: str
    host: str


class Track:
    """A device through the nights, oldest first."""

    def __init__(self, device: int, key: str, site: str) -> None:
        self.device, self.key, self.site = device, key, site
        self.looks: list[Look] = []
        self.tonight = False

    def upto(self, night: int) -> Sequence[Look]:
        """The nights in which it was asked, up to this one."""
        return self.looks[: bisect_right(self.looks, night, key=_night_of)]

    def since(self, night: int) -> Sequence[Look]:
        """The nights in which it was asked, from this one."""
        return self.looks[bisect_left(self.looks, night, key=_night_of) :]


def _night_of(look: Look) -> int:
    return look.night


class Nights:
    """Nights are numbered by their place among all of the fleet: ``last`` is the run that is asked about, ``then`` the
    one that it is compared with (-1 where there is none)."""

    def __init__(self, store: Store, run: int, nights: int) -> None:
        every = store.runs()
        asked = next((each for each in every if each.number == run), None)
        if asked is None:
            raise ValueError(f"there is no run {run}")
        self._store, self._reading = store, store.reading()
        of_fleet = [each for each in every if each.fleet == asked.fleet and each.number < run]
        self._numbers = [each.number for each in of_fleet if each.finished_ms is not None] + [run]
        whole = [each for each in of_fleet if each.finished_ms is not None and not each.thinned]
        self.runs: list[Run] = [*whole, asked]
        self._first = len(self._numbers) - len(self.runs)  # thinned nights count, but can no longer be looked at
        self.last = len(self._numbers) - 1
        self.then = max(self.last - nights, self._first) if whole else -1
        self._tracks: dict[int, Track] = {}
        self._members: dict[int, set[int]] = {}
        for night in range(max(self._first, min(self.then, self.last - nights) - FLAPPING_NIGHTS), self.last + 1):
            self._read(night)

    @property
    def before(self) -> Run | None:
        """The night that is compared with."""
        return self.runs[self.then - self._first] if self.then >= 0 else None

    def tracks(self) -> Collection[Track]:
        """Every device of these nights; those of tonight first, in the fleet's order."""
        return self._tracks.values()

    def _read(self, night: int) -> None:
        question = "SELECT device, state, identity, findings FROM result WHERE run = ?"
        members = self._members[night] = set()
        for device, name, identity, findings in self._store.ask(question, self._numbers[night]):
            members.add(device)
            state, answer = _answered(name)
            track = self._tracks.get(device) or self._track(device)
            track.looks.append(Look(night, state, answer, identity, findings))
            track.tonight = night == self.last

    def _track(self, device: int) -> Track:
        if not self._tracks:
            self._know_devices()
        return self._tracks[device]

    def _know_devices(self) -> None:
        question = """
            SELECT device.id, device.key, device.site FROM device
                LEFT JOIN result ON result.run = ? AND result.device = device.id
            ORDER BY result.id IS NULL, result.line, result.id, device.key
        """
        for row in self._store.ask(question, self._numbers[self.last]):
            self._tracks[row[0]] = Track(*row)

    # --- the fleet and its sites

    @cached_property
    def members_now(self) -> set[int]:
        """The devices that were in the fleet tonight."""
        return self._members_of(self.last)

    @cached_property
    def members_then(self) -> set[int]:
        """The devices that were in the fleet in the night that is compared with."""
        return self._members_of(self.then)

    def _members_of(self, night: int) -> set[int]:
        """Who was asked; where not everybody was or could be, also who was in it the night before."""
        members = set(self._members.get(night, ()))
        while night - 1 in self._members and not self._is_whole(night):
            night -= 1
            members |= self._members[night]
        return members

    def _is_whole(self, night: int) -> bool:
        run = self.runs[night - self._first]
        return run.finished_ms is not None and not run.left and not run.refused

    def gone(self) -> tuple[str, ...]:
        """Keys that were in the fleet then and are not now."""
        return tuple(sorted(self._tracks[device].key for device in self.members_then - self.members_now))

    @cached_property
    def _joined(self) -> dict[str, int]:
        """In which of its nights each site was first asked."""
        question = "SELECT site, min(first_run) FROM device GROUP BY site"
        return {site: bisect_left(self._numbers, run) for site, run in self._store.ask(question)}

    def closely(self, track: Track, night: int) -> bool:
        """Is this one of its site's first nights?"""
        return night - self._joined[track.site] < CLOSE_NIGHTS

    # --- what was said and found

    def findings(self, number: int) -> tuple[Found, ...]:
        """A set of findings, heaviest first."""
        return self._reading.findings(number)

    @cached_property
    def _identities(self) -> dict[int, Identity]:
        question = """
            SELECT identity.id, model, serial, firmware, mac, address, host
            FROM identity JOIN device ON device.id = identity.device
        """
        return {number: Identity(*said) for number, *said in self._store.ask(question)}

    def told(self, identity: int, what: str) -> str:
        """What a device says of itself, "" where it does not. Its address is not what it says, where that is only the
        one at which it was asked."""
        said = self._identities[identity]
        value: str = getattr(said, what)
        return "" if what == "address" and value == said.host else value

    def last_told(self, looks: Sequence[Look], what: str) -> str:
        """What it said when it last said it."""
        return next((value for look in reversed(looks) if (value := self.told(look.identity, what))), "")

    def last_firmware(self, looks: Sequence[Look]) -> tuple[str, str] | None:
        """Model and firmware when it last said both."""
        for look in reversed(looks):
            said = self._identities[look.identity]
            if said.model and said.firmware:
                return said.model, said.firmware
        return None

    def tonight(self, track: Track) -> Tonight:
        """What else there is of the last night."""
        return self._tonight[track.device]

    @cached_property
    def _tonight(self) -> dict[int, Tonight]:
        question = """
            SELECT device, fault, names, percents, content FROM result
                JOIN supply_names ON supply_names.id = result.supplies JOIN standard ON standard.id = result.standard
            WHERE run = ?
        """
        return {
            device: Tonight(fault, supplies(names, percents), standard_of(content))
            for device, fault, names, percents, content in self._store.ask(question, self._numbers[self.last])
        }

    def supplies_then(self, track: Track) -> dict[str, int | None]:
        """Percent of each supply in the night that is compared with."""
        return self._supplies_then.get(track.device, {})

    @cached_property
    def _supplies_then(self) -> dict[int, dict[str, int | None]]:
        if self.then < 0:
            return {}
        question = """
            SELECT device, names, percents FROM result JOIN supply_names ON supply_names.id = result.supplies
            WHERE run = ?
        """
        return {
            device: {supply.name: supply.percent for supply in supplies(names, percents)}
            for device, names, percents in self._store.ask(question, self._numbers[self.then])
        }


@lru_cache
def _answered(name: str | None) -> tuple[State | None, Answer]:
    state = state_of(name)
    return state, answer_of(state)
