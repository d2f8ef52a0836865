"""``netcheck sweep``: the question for a whole fleet, every night, unattended. A single check is a sweep of one."""

import math
import sys
import time
from collections.abc import Iterable
from contextlib import nullcontext
from pathlib import Path
from typing import Self

import click

from netcheck.cli import INTERRUPTED, emit
from netcheck.commands.sweep_asked import Asked, check_asked
from netcheck.commands.sweep_gathering import gathered
from netcheck.commands.sweep_keeping import Keeping, store_files, told
from netcheck.commands.sweep_outputs import Outputs, check_outputs, told_line, write_outputs
from netcheck.commands.telling import is_terminal
from netcheck.document import encoded
from netcheck.errors import Complaint, InputError
from netcheck.streams import complain
from netcheck.sweeping.run import Limits, Sweep, Told, cores
from netcheck.sweeping.store import Store

__all__ = ["Asked", "run_sweep"]

_LOGGED_EVERY_S = 60
_SHOWN_EVERY_S = 0.5
_WIDE = 70


def run_sweep(asked: Asked, store: Path | None, case: str | None, outputs: Outputs) -> int:
    """Ask, store, tell. Returns the exit code: by ``--fail-on``, 2 where a device was not asked and all else is well,
    130 where it was stopped. Raises InputError."""
    check_asked(asked, store, case)
    if case is not None:
        return _saved_case(store, case)
    reads = [each for each in (asked.fleet, asked.standard) if each] + store_files(store)
    check_outputs(outputs, reads, asked.folder)
    if not asked.asks:
        return _told_again(asked, store, outputs)

    def reads_too(standards: Iterable[Path]) -> None:
        check_outputs(outputs, set(standards), asked.folder)

    found = gathered(asked, reads_too)
    for complaint in found.complaints:
        complain(f"netcheck: {complaint}")
    with Store.open(store) if store else nullcontext() as kept:
        keeping = Keeping(asked, kept, found, as_json=outputs.as_json)
        orders = keeping.begin()
        with _Progress(quiet=outputs.quiet) as progress:
            ended = Sweep(orders, found.plan, _limits(asked), keeping.keep, progress).run()
        night, rows = keeping.finish(ended)
    if ended.stopped or ended.out_of_time:
        why = "stopped" if ended.stopped else f"its {asked.limit:g} s were up"
        on = " (--resume goes on)" if store else ""
        complain(f"netcheck: {why}; {len(ended.left)} of {keeping.total} devices were not asked{on}")
    code = write_outputs(outputs, night, rows, asked.fail_on, keeping.untold)
    return INTERRUPTED if ended.stopped else code


def _limits(asked: Asked) -> Limits:
    return Limits(asked.workers or cores(), rate=asked.rate, whole_s=asked.limit or math.inf)


def _told_again(asked: Asked, store: Path | None, outputs: Outputs) -> int:
    """The last run once more, asking nobody."""
    if store is None:
        raise AssertionError("there is a store, or somebody to ask")
    with Store.open(store, reading=True) as kept:
        runs = kept.runs()
        if not runs:
            raise InputError(Complaint(str(store), "", "no run", "a store of an earlier sweep"))
        night, rows = told(kept, runs[-1], asked.nights)
    untold = [each for swept in rows for each in told_line(swept)] if outputs.as_json else []
    return write_outputs(outputs, night, rows, asked.fail_on, untold)


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
    """On a terminal one line that changes and is gone afterwards; in a log a line a minute."""

    def __init__(self, *, quiet: bool) -> None:
        self._live, self._quiet = is_terminal(sys.stderr), quiet
        self._next = time.monotonic() + (_SHOWN_EVERY_S if self._live else _LOGGED_EVERY_S)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self._live and not self._quiet:
            click.echo(f"\r{'':<{_WIDE}}\r", err=True, nl=False)

    def __call__(self, told: Told) -> None:
        """Say how far it is, where it is time to."""
        now = time.monotonic()
        if self._quiet or now < self._next:
            return
        self._next = now + (_SHOWN_EVERY_S if self._live else _LOGGED_EVERY_S)
        left = "" if told.left_s is None else f", about {told.left_s} s left"
        line = f"{told.done} of {told.total} devices, {told.rate} a second{left}"
        if self._live:
            click.echo(f"\r{line:<{_WIDE}}", err=True, nl=False)
        else:
            complain(f"netcheck: {line}")
