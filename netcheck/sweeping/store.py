"""The store of a sweep: every night's outcomes and cases in one SQLite file. Stage: between the run and its outputs.

One process writes it (`store_lock`), any number read it meanwhile. The tables and their reasons are in `store_schema`;
`store_packing` says how a case gets small. An outcome is in the file as soon as `Store.add` has returned, and survives
the end of the process, however it ends. Local disks only: SQLite's log needs memory that all its users share.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import msgspec

from netcheck.errors import Complaint, InputError
from netcheck.sweeping.outcome import Row, Swept
from netcheck.sweeping.store_lock import SweepLock
from netcheck.sweeping.store_opening import damaged, explained, open_for_reading, open_for_writing
from netcheck.sweeping.store_packing import DamagedError
from netcheck.sweeping.store_pruning import prune
from netcheck.sweeping.store_reading import Reading, document_of, evidence_of
from netcheck.sweeping.store_writing import Writing

_RUNS = """
    SELECT id, at_ms, fleet, total, finished_ms, CASE
            WHEN finished_ms IS NOT NULL OR thinned THEN coalesce(unasked, 0)
            ELSE max(0, total - (SELECT count(*) FROM result WHERE result.run = run.id))
        END, thinned, refused
    FROM run ORDER BY id
"""


class Run(msgspec.Struct, frozen=True, array_like=True):
    """One sweep. ``finished_ms`` is None for one that still runs or was killed; ``left`` devices were not asked, or not
    yet, and ``refused`` rows of the fleet could not be. Of one that is ``thinned`` only the last cases of some devices
    are still there."""

    number: int
    at_ms: int
    fleet: str
    total: int
    finished_ms: int | None
    left: int
    thinned: bool
    refused: int


class Store:
    """A context manager. Every method raises InputError where the file, its disk or its contents are at fault."""

    def __init__(self, path: Path, connection: sqlite3.Connection, lock: SweepLock | None) -> None:
        self.path = path
        self._connection, self._lock = connection, lock
        self._writing = Writing(connection)

    @classmethod
    def open(cls, path: Path, *, reading: bool = False) -> "Store":
        """Create or open for a sweep, or open one that exists for ``reading`` only, which needs no lock.

        Raises InputError: another sweep is writing it, no store, made by a later netcheck, damaged, a folder that
        cannot be written, no room.
        """
        if reading:
            return cls(path, open_for_reading(path), None)
        lock = SweepLock.take(path)
        try:
            return cls(path, open_for_writing(path), lock)
        except BaseException:
            lock.release()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of file and lock. Harmless the second time."""
        try:
            with explained(self.path):
                self._connection.close()
        finally:
            if self._lock:
                self._lock.release()

    # --- what a sweep writes

    def begin(self, at_ms: int, fleet: str, total: int, refused: int = 0) -> int:
        """A new run; returns its number. Nights are compared with those of the same ``fleet``: a sweep of only a part
        of it needs a text of its own, or the rest would look as if it had gone."""
        with self._transaction():
            statement = "INSERT INTO run (at_ms, fleet, total, refused) VALUES (?, ?, ?, ?)"
            number = self._connection.execute(statement, (at_ms, fleet, total, refused)).lastrowid
        if number is None:
            raise AssertionError("an INSERT has a row")
        return number

    def resume(self, fleet: str | None = None) -> tuple[int, frozenset[str]] | None:
        """The last run (of ``fleet``), where it did not finish or left devices unasked: its number and the keys that
        are done. None where it came to its end, even if an earlier one did not: that night is over."""
        runs = [run for run in self.runs() if fleet is None or run.fleet == fleet]
        if not runs or (runs[-1].finished_ms is not None and not runs[-1].left):
            return None
        question = "SELECT device.key FROM result JOIN device ON device.id = result.device WHERE result.run = ?"
        return runs[-1].number, frozenset(key for (key,) in self.ask(question, runs[-1].number))

    def reopen(self, run: int, total: int, refused: int = 0) -> None:
        """Go on with a run: until it is finished again, it is no night, and what it still has to do is left."""
        statement = "UPDATE run SET finished_ms = NULL, unasked = NULL, total = ?, refused = ? WHERE id = ?"
        with self._transaction():
            self._connection.execute(statement, (total, refused, run))

    def add(self, run: int, swept: Swept) -> None:
        """Store one outcome, for good. Raises ValueError, and changes nothing, where the run has that key already or is
        not there; InputError where it cannot be written: what was stored before stays."""
        try:
            with self._transaction():
                self._writing.add(run, swept)
        except sqlite3.IntegrityError as error:
            raise ValueError(f"run {run} has {swept.row.key!r} already, or there is no such run") from error

    def finish(self, run: int, at_ms: int, left: int) -> None:
        """The run is over; it came not to ``left`` of its devices. A run that was resumed is finished again."""
        with self._transaction():
            self._connection.execute("UPDATE run SET finished_ms = ?, unasked = ? WHERE id = ?", (at_ms, left, run))

    def prune(self, keep_nights: int) -> int:
        """Forget what is older than the last ``keep_nights`` nights of each fleet, but no device's last outcome and no
        device's last case; give the room back. Returns how many outcomes were forgotten. Not within a run."""
        if keep_nights < 1:
            raise ValueError("the last night is always kept")
        with explained(self.path):
            forgotten = prune(self._connection, keep_nights)
        self._writing = Writing(self._connection)  # what it knew may be gone
        return forgotten

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        with explained(self.path):
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                yield
                self._connection.execute("COMMIT")
            except BaseException:
                if self._connection.in_transaction:  # some faults of the disk have rolled it back already
                    self._connection.execute("ROLLBACK")
                self._writing = Writing(self._connection)
                raise

    # --- what everybody reads

    def ask(self, question: str, *values: object) -> Iterator[tuple[Any, ...]]:
        """The rows that answer an SQL question; for `history`, beside the methods here."""
        with explained(self.path):
            yield from self._connection.execute(question, values)

    def runs(self) -> list[Run]:
        """All that ever began, oldest first."""
        return [msgspec.convert(row, Run, strict=False) for row in self.ask(_RUNS)]

    def reading(self) -> Reading:
        """For several questions of one caller: what repeats is read once."""
        return Reading(self._connection)

    def night(self, run: int, *, evidence: bool = False) -> Iterator[Swept]:
        """All of a run in the fleet's order; without evidence unless it is asked for."""
        with self.intact(f"run {run}"):
            yield from self.reading().night(run, evidence=evidence)

    def document(self, run: int, key: str) -> dict[str, Any]:
        """The case of a device in a run as the document that `netcheck judge` reads (netcheck/case/1). Its evidence has
        the seal that it had then; its verdict is that of today's rules. Raises InputError where there is none."""
        with self.intact(f"{key} of run {run}"):
            swept = self.reading().one(run, key)
            seen = evidence_of(swept) if swept is not None and swept.evidence else None
        if swept is not None and seen is not None:
            return document_of(swept, *seen)
        found = f"no case of run {run}" + (f" ({swept.fault})" if swept and swept.fault else "")
        raise InputError(Complaint(str(self.path), key, found, "a device, and a run, that has a case"))

    def last_case(self, key: str) -> int | None:
        """The newest run that has a case of a device; None where there is none."""
        question = """
            SELECT max(result.run) FROM result JOIN device ON device.id = result.device
                JOIN evidence ON evidence.result = result.id WHERE device.key = ?
        """
        (found,) = next(self.ask(question, key))
        return None if found is None else int(found)

    def row(self, key: str) -> Row | None:
        """A device as it stood in its fleet when it was last asked."""
        question = "SELECT line FROM asked JOIN device ON device.id = asked.device WHERE key = ? ORDER BY asked.id DESC"
        with self.intact(key):
            return next((msgspec.json.decode(line, type=Row) for (line,) in self.ask(question, key)), None)

    @contextmanager
    def intact(self, what: str) -> Iterator[None]:
        """Around what interprets contents: what cannot be as it was written is a complaint about the file."""
        try:
            with explained(self.path):
                yield
        except (DamagedError, msgspec.DecodeError) as error:
            raise damaged(self.path, f"{what}: {error}") from error
