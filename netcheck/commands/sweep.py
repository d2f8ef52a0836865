"""``netcheck sweep``: the question for a whole fleet, every night, unattended. A single check is a sweep of one."""

import math
import shlex
import sys
import time
from collections.abc import Iterable
from contextlib import nullcontext
from fnmatch import fnmatchcase
from pathlib import Path

import click
import msgspec

from netcheck.case import alone
from netcheck.cli import INTERRUPTED, WRONG_INPUT, emit
from netcheck.commands.sweep_outputs import Outputs, check_outputs, write_outputs
from netcheck.document import encoded
from netcheck.errors import Complaint, InputError
from netcheck.gates import Gate
from netcheck.probing import provides
from netcheck.report.sweep_lines import json_line
from netcheck.report.sweep_night import Night
from netcheck.report.sweep_since import changes_of
from netcheck.roles import Role
from netcheck.standard import Standard, load_standard
from netcheck.sweeping.asking import swept_of
from netcheck.sweeping.fleet import load_fleet, load_folder, row_of
from netcheck.sweeping.history import since
from netcheck.sweeping.outcome import Row, Swept
from netcheck.sweeping.run import Ended, Limits, Sweep, Told, cores, round_the_sites
from netcheck.sweeping.store import Store
from netcheck.sweeping.worker import Order, Plan

_LOGGED_EVERY_S = 60
_SHOWN_EVERY_S = 0.5


class Asked(msgspec.Struct, frozen=True):
    """What the command line asks for, outputs apart."""

    fleet: Path | None
    folder: Path | None
    standard: Path | None
    only: str
    timeout: float
    limit: float
    rate: int
    workers: int
    resume: bool
    nights: int
    keep: int
    fail_on: str


def run_sweep(asked: Asked, store: Path | None, case: str | None, outputs: Outputs) -> int:
    """Ask, store, tell. Returns the exit code: by ``--fail-on``, 2 where a row of the file cannot be asked and all else
    is well, 130 where it was stopped. Raises InputError."""
    if case is not None:
        return _saved_case(store, case)
    check_outputs(outputs)
    if asked.fleet is None and asked.folder is None:
        return _told_again(asked, store, outputs)
    found = _gathered(asked)
    orders, saved = found.orders, found.saved
    for complaint in found.complaints:
        click.echo(f"netcheck: {complaint}", err=True)
    with Store.open(store) if store else nullcontext() as kept:
        night = _Night(asked, kept, outputs.as_json)
        orders, total = night.begin(orders, saved)
        for swept in saved:
            night.keep(swept)
        ended = Sweep(orders, found.plan, _limits(asked), night.keep, _Progress(quiet=outputs.quiet)).run()
        night.finish(ended)
        code = write_outputs(outputs, night.told(ended), night.rows, asked.fail_on)
    if ended.stopped or ended.out_of_time:
        why = "stopped" if ended.stopped else f"its {asked.limit:g} s were up"
        click.echo(f"netcheck: {why}; {len(ended.left)} of {total} devices were not asked (--resume goes on)", err=True)
    if ended.stopped:
        return INTERRUPTED
    return code or (WRONG_INPUT if found.refused else 0)


def _limits(asked: Asked) -> Limits:
    return Limits(asked.workers or cores(), rate=asked.rate, whole_s=asked.limit or math.inf)


class Gathered(msgspec.Struct, frozen=True):
    """What is to be asked, what the sites have sent, what is wrong with either, and how many devices are left out for
    that."""

    plan: Plan
    orders: list[Order]
    saved: list[Swept]
    complaints: list[Complaint]
    refused: int


def _gathered(asked: Asked) -> Gathered:
    own = load_standard(asked.standard) if asked.standard else None
    fleet = load_fleet(asked.fleet) if asked.fleet else None
    complaints = list(fleet.complaints) if fleet else []
    rows = [row for row in fleet.rows if _is_meant(row, asked.only)] if fleet else []
    standards: dict[str, Standard] = {"": own or Standard()}
    for path in dict.fromkeys(row.standard for row in rows):
        if path not in standards:
            try:
                standards[path] = load_standard(Path(path))
            except InputError as error:
                complaints += error.complaints
    places = {path: number for number, path in enumerate(standards)}
    orders = [Order(row, places[row.standard]) for row in round_the_sites(rows) if row.standard in places]
    saved, more = _from_folder(asked, own, {order.row.key for order in orders})
    refused = (fleet.refused if fleet else 0) + len(rows) - len(orders) + len(more)
    return Gathered(Plan(tuple(standards.values()), asked.timeout), orders, saved, complaints + more, refused)


def _is_meant(row: Row, only: str) -> bool:
    return not only or fnmatchcase(row.key.casefold(), only.casefold()) or row.site.casefold() == only.casefold()


def _from_folder(asked: Asked, own: Standard | None, asked_live: set[str]) -> tuple[list[Swept], list[Complaint]]:
    """The cases that sites have dropped, judged by the run's Standard, else by their own."""
    found: list[Swept] = []
    complaints: list[Complaint] = []
    for item in load_folder(asked.folder) if asked.folder else ():
        if isinstance(item, Complaint):
            complaints.append(item)
            continue
        path, case, document = item
        row = row_of(case, document)
        if row.key in asked_live:
            complaints.append(Complaint(str(path), "move", f"{row.key}, which the fleet file asks live", "one of them"))
        elif _is_meant(row, asked.only):
            whole = alone(case) if row.gate is Gate.STANDING and Role.DEVICE not in case.move.roles() else case
            standard = own or document.standard or Standard()
            evidence = document.evidence if whole is case else None
            found.append(swept_of(row, whole, standard, provides(), case.made_at, 0, evidence))
    return found, complaints


class _Night:
    """One run as it is kept: in the store where there is one, else in memory."""

    def __init__(self, asked: Asked, store: Store | None, as_json: bool) -> None:
        self._asked, self._store, self._as_json = asked, store, as_json
        self._memory: list[Swept] = []
        self._began = time.time_ns() // 1_000_000
        self._run = 0
        names = [path.name for path in (asked.fleet, asked.folder) if path]
        self.fleet = " ".join([*names, *([f"--only {asked.only}"] if asked.only else [])])

    def begin(self, orders: list[Order], saved: list[Swept]) -> tuple[list[Order], int]:
        """What is left to be asked, and how many devices there are in all."""
        total = len(orders) + len(saved)
        earlier = self._store.resume(self.fleet) if self._store and self._asked.resume else None
        if self._store:
            self._run, done = earlier or (self._store.begin(self._began, self.fleet, total), frozenset())
            saved[:] = [swept for swept in saved if swept.row.key not in done]
            orders = [order for order in orders if order.row.key not in done]
        return orders, total

    def keep(self, swept: Swept) -> None:
        """One outcome: it is on the disk when this returns."""
        if self._store:
            self._store.add(self._run, swept)
        else:
            self._memory.append(msgspec.structs.replace(swept, evidence=b""))
        if self._as_json:
            emit(json_line(swept))

    def finish(self, ended: Ended) -> None:
        """The run is over, or as far as it came."""
        if self._store:
            self._store.finish(self._run, time.time_ns() // 1_000_000, len(ended.left))
            self._store.prune(self._asked.keep)

    @property
    def rows(self) -> list[Swept]:
        """All outcomes of the run, those of before it was resumed too."""
        return list(self._store.night(self._run)) if self._store else self._memory

    def told(self, ended: Ended) -> Night:
        """What the outputs say of it."""
        return _night(self._store, self._run, self._asked.nights, self.rows, self._began, len(ended.left), self.fleet)


def _night(
    store: Store | None, run: int, nights: int, rows: Iterable[Swept], began: int, left: int, fleet: str
) -> Night:
    now = time.time_ns() // 1_000_000
    if store is None:
        return Night(began, now, left, fleet)
    kept = next(each for each in store.runs() if each.number == run)
    command = f"netcheck sweep --store {shlex.quote(str(store.path))} --case KEY > case.json"
    return Night(
        kept.at_ms, kept.finished_ms or 0, kept.left, kept.fleet, changes_of(since(store, run, nights), rows), command
    )


def _told_again(asked: Asked, store: Path | None, outputs: Outputs) -> int:
    """The last run once more, asking nobody."""
    if store is None:
        raise InputError(Complaint("command line", "FLEET.csv", "nothing to ask", "a fleet file, --from or --store"))
    with Store.open(store, reading=True) as kept:
        runs = kept.runs()
        if not runs:
            raise InputError(Complaint(str(store), "", "no run", "a store of an earlier sweep"))
        last = runs[-1]
        rows = list(kept.night(last.number))
        for swept in rows if outputs.as_json else ():
            emit(json_line(swept))
        night = _night(kept, last.number, asked.nights, rows, last.at_ms, last.left, last.fleet)
        return write_outputs(outputs, night, rows, asked.fail_on)


def _saved_case(store: Path | None, key: str) -> int:
    """The last saved case of one device, as `netcheck judge` reads it."""
    if store is None:
        raise InputError(Complaint("command line", "--case", "no --store", "the store of the sweep that asked it"))
    with Store.open(store, reading=True) as kept:
        run = kept.last_case(key)
        if run is None:
            raise InputError(
                Complaint(str(store), "--case", repr(key), "the key of a device, as --json and --csv have it")
            )
        emit(encoded(kept.document(run, key)))
    return 0


class _Progress:
    """On a terminal one line that changes; in a log a line a minute."""

    def __init__(self, *, quiet: bool) -> None:
        self._live, self._quiet = sys.stderr.isatty(), quiet
        self._next = time.monotonic() + (_SHOWN_EVERY_S if self._live else _LOGGED_EVERY_S)

    def __call__(self, told: Told) -> None:
        """Say how far it is, where it is time to."""
        now = time.monotonic()
        if self._quiet or now < self._next:
            return
        self._next = now + (_SHOWN_EVERY_S if self._live else _LOGGED_EVERY_S)
        left = "" if told.left_s is None else f", about {told.left_s} s left"
        line = f"{told.done} of {told.total} devices, {told.rate} a second{left}"
        click.echo(f"\r{line:<70}" if self._live else f"netcheck: {line}", err=True, nl=not self._live)
