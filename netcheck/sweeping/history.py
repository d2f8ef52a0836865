"""What changed since an earlier night. Stage: pure questions on the store; the outputs put the answers into words.

A night is a run that has finished; nights are compared with those of the same fleet only. What counts as a change is
settled in `history_rules`. What a device was like *then* is what it was in the last night, up to the one that is
compared with, that is fit to be compared: a single bad night is not, nor is a device's silence on who it is.
"""

from collections import Counter
from collections.abc import Iterator
from typing import Literal

import msgspec

from netcheck.sweeping.history_nights import Look, Nights, Track
from netcheck.sweeping.history_rules import (
    FLAPPING_NIGHTS,
    Answer,
    appeared,
    bad_nights,
    changes,
    counts,
    is_flapping,
    is_once,
    low_percent,
    settled,
)
from netcheck.sweeping.outcome import Found
from netcheck.sweeping.store import Store
from netcheck.verdict import State

Named = Literal["serial", "mac", "address"]


class Turn(msgspec.Struct, frozen=True):
    """A device whose answer is another than it was. ``was`` is None where there was none; ``now`` is None where there
    is no verdict, and ``fault`` then says why. ``nights`` is how many in a row have been bad: up to now, or for one
    that has recovered, up to its last bad one."""

    key: str
    was: State | None
    now: State | None
    fault: str
    nights: int


class Flapping(msgspec.Struct, frozen=True):
    """A device that comes and goes: its answers of the last nights, oldest first, and how often they changed."""

    key: str
    answers: tuple[State | None, ...]
    changes: int


class Differing(msgspec.Struct, frozen=True):
    """A device whose findings are others, heaviest first."""

    key: str
    appeared: tuple[Found, ...]
    settled: tuple[Found, ...]


class Exchanged(msgspec.Struct, frozen=True):
    """A device that names itself otherwise: another serial or MAC is another device at the address."""

    key: str
    what: Named
    was: str
    now: str


class FirmwareCount(msgspec.Struct, frozen=True):
    """How many devices of a model have a firmware, as far as they have told; a silent one has what it had."""

    model: str
    firmware: str
    then: int
    now: int


class Low(msgspec.Struct, frozen=True):
    """A supply under its limit, in percent. ``was`` is None where the device did not say or was not asked then."""

    key: str
    name: str
    percent: int
    limit: int
    was: int | None


class Since(msgspec.Struct, frozen=True):
    """What changed up to ``run``. ``before`` is the run that it is compared with, ``before_ms`` when that began, None
    where there is no earlier night: then everything that is wrong is new, and no device is. A flapping device is
    neither newly not ready, nor recovered, nor once, and its findings are not compared. Each list is in the fleet's
    order, devices that are gone by key, ``firmware`` by model and version."""

    run: int
    at_ms: int
    before: int | None
    before_ms: int | None
    newly: tuple[Turn, ...]
    recovered: tuple[Turn, ...]
    once: tuple[Turn, ...]
    flapping: tuple[Flapping, ...]
    findings: tuple[Differing, ...]
    exchanged: tuple[Exchanged, ...]
    firmware: tuple[FirmwareCount, ...]
    low: tuple[Low, ...]
    arrived: tuple[str, ...]
    gone: tuple[str, ...]
    closely: tuple[str, ...]
    """Sites in their first nights."""

    @property
    def changed_firmware(self) -> tuple[FirmwareCount, ...]:
        """Only where the counts differ."""
        return tuple(each for each in self.firmware if each.then != each.now)


def since(store: Store, run: int, nights: int = 1) -> Since:
    """What changed in a run since ``nights`` nights before, or since the first night where there are not so many.

    Raises ValueError where there is no such run, or less than one night is asked for; InputError as the store does.
    """
    if nights < 1:
        raise ValueError(f"{nights} nights: at least one")
    with store.intact(f"run {run}"):
        return _since(Nights(store, run, nights))


def _since(seen: Nights) -> Since:
    tracks = [track for track in seen.tracks() if track.tonight]
    news = [_News(seen, track) for track in tracks]
    before = seen.before
    return Since(
        run=seen.runs[-1].number,
        at_ms=seen.runs[-1].at_ms,
        before=before.number if before else None,
        before_ms=before.at_ms if before else None,
        newly=tuple(each.turn() for each in news if each.newly),
        recovered=tuple(each.turn() for each in news if each.recovered),
        once=tuple(each.turn() for each in news if each.once),
        flapping=tuple(each.flaps() for each in news if each.flapping),
        findings=tuple(filter(None, (each.differing() for each in news))),
        exchanged=tuple(change for each in news for change in each.exchanged()),
        firmware=tuple(_firmware(seen)),
        low=tuple(low for each in news for low in each.low()),
        arrived=tuple(each.track.key for each in news if before and each.track.device not in seen.members_then),
        gone=seen.gone(),
        closely=tuple(sorted({each.track.site for each in news if seen.closely(each.track, seen.last)})),
    )


class _News:
    """What is new of one device that was asked tonight."""

    def __init__(self, seen: Nights, track: Track) -> None:
        self._seen, self.track = seen, track
        self._then = track.upto(seen.then)
        answers = [look.answer for look in track.looks]
        closely = seen.closely(track, seen.last)
        was_bad = bool(self._then) and counts(answers[: len(self._then)], closely=self._closely(self._then[-1]))
        self.flapping = is_flapping([look.answer for look in track.since(seen.last - FLAPPING_NIGHTS)])
        is_bad, steady = counts(answers, closely=closely), not self.flapping
        self.newly = steady and is_bad and not was_bad
        self.recovered = steady and was_bad and answers[-1] is Answer.WELL
        self.once = steady and is_once(answers, closely=closely)
        self._answers = answers

    def _closely(self, look: Look) -> bool:
        return self._seen.closely(self.track, look.night)

    def turn(self) -> Turn:
        fault = self._seen.tonight(self.track).fault
        was = self._then[-1].state if self.recovered else self._compared.state if self._compared else None
        answers = self._answers[: len(self._then)] if self.recovered else self._answers
        return Turn(self.track.key, was, self.track.looks[-1].state, fault, bad_nights(answers))

    def flaps(self) -> Flapping:
        looks = self.track.since(self._seen.last - FLAPPING_NIGHTS)
        return Flapping(self.track.key, tuple(look.state for look in looks), changes([look.answer for look in looks]))

    @property
    def _compared(self) -> Look | None:
        """The last night up to then that is fit to be compared: no single bad one, and one with a verdict."""
        for number in range(len(self._then), 0, -1):
            look = self._then[number - 1]
            if look.state is not None and not is_once(self._answers[:number], closely=self._closely(look)):
                return look
        return None

    def differing(self) -> Differing | None:
        """Whose findings of tonight are others than then."""
        before, now = self._compared, self.track.looks[-1]
        if self.once or self.flapping or now.state is None or before is None or before.findings == now.findings:
            return None
        old, new = self._seen.findings(before.findings), self._seen.findings(now.findings)
        differing = Differing(self.track.key, appeared(old, new), settled(old, new))
        return differing if differing.appeared or differing.settled else None

    def exchanged(self) -> Iterator[Exchanged]:
        """What the device says of itself, where it said something else when it last said it."""
        now = self.track.looks[-1].identity
        if self._seen.before is None or all(look.identity == now for look in self._then):
            return
        names: tuple[Named, ...] = ("serial", "mac", "address")
        for what in names:
            told, was = self._seen.told(now, what), self._seen.last_told(self._then, what)
            if told and was and told != was:
                yield Exchanged(self.track.key, what, was, told)

    def low(self) -> Iterator[Low]:
        tonight = self._seen.tonight(self.track)
        limit = low_percent(tonight.standard)
        before = self._seen.supplies_then(self.track)
        for supply in tonight.supplies:
            if supply.percent is not None and supply.percent < limit:
                yield Low(self.track.key, supply.name, supply.percent, limit, before.get(supply.name))


def _firmware(seen: Nights) -> Iterator[FirmwareCount]:
    """Counts of each model and version, then and now."""
    then: Counter[tuple[str, str]] = Counter()
    now: Counter[tuple[str, str]] = Counter()
    for track in seen.tracks():
        for members, looks, counted in (
            (seen.members_then, track.upto(seen.then), then),
            (seen.members_now, track.looks, now),
        ):
            if track.device in members and (pair := seen.last_firmware(looks)):
                counted[pair] += 1
    for model, firmware in sorted(then.keys() | now.keys()):
        yield FirmwareCount(model, firmware, then[model, firmware], now[model, firmware])
