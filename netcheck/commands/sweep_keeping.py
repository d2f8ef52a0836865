"""One run of ``netcheck sweep`` as it is kept, and the night that the outputs tell of."""

import shlex
import time
from pathlib import Path

import msgspec

from netcheck.commands.sweep_asked import Asked
from netcheck.commands.sweep_gathering import Gathered
from netcheck.commands.sweep_outputs import told_line
from netcheck.errors import Complaint, InputError
from netcheck.report.sweep_night import Night
from netcheck.report.sweep_since import changes_of
from netcheck.sweeping.history import since
from netcheck.sweeping.outcome import Swept
from netcheck.sweeping.run import Ended
from netcheck.sweeping.store import Run, Store
from netcheck.sweeping.worker import Order


class Keeping:
    """One run as it is kept: in the store where there is one, else in memory."""

    def __init__(self, asked: Asked, store: Store | None, found: Gathered, *, as_json: bool) -> None:
        self._asked, self._store, self._found, self._as_json = asked, store, found, as_json
        self._memory: list[Swept] = []
        self._began = _now_ms()
        self._run = 0
        self.untold: list[Complaint] = []
        self.total = len(found.orders) + len(found.saved)
        names = [path.name for path in (asked.fleet, asked.folder) if path]
        self._fleet = " ".join([*names, *([f"--only {asked.only}"] if asked.only else [])])

    def begin(self) -> list[Order]:
        """What is left to be asked; what the sites have sent is kept. Raises InputError where the run that is to be
        resumed was of another fleet."""
        done = self._begun(self._store) if self._store else frozenset[str]()
        for swept in self._found.saved:
            if swept.row.key not in done:
                self.keep(swept)
        return [order for order in self._found.orders if order.row.key not in done]

    def _begun(self, store: Store) -> frozenset[str]:
        earlier = store.resume(self._fleet) if self._asked.resume else None
        if earlier is None:
            self._run = store.begin(self._began, self._fleet, self.total, self._found.refused)
            return frozenset()
        self._run, done = earlier
        if strange := sorted(done - self._found.keys):
            found = f"devices that this fleet has not, as {strange[0]!r} ({len(strange)} of {len(done)} done)"
            wanted = f"the same {self._fleet} as then, or a new sweep, without --resume"
            raise InputError(Complaint(str(store.path), "--resume", found, wanted))
        store.reopen(self._run, self.total, self._found.refused)
        return done

    def keep(self, swept: Swept) -> None:
        """One outcome: it is on the disk when this returns."""
        if self._store:
            self._store.add(self._run, swept)
        else:
            self._memory.append(msgspec.structs.replace(swept, evidence=b""))
        if self._as_json:
            self.untold += told_line(swept)

    def finish(self, ended: Ended) -> tuple[Night, list[Swept]]:
        """The run is over, or as far as it came: what the outputs say of it, those of before it was resumed too."""
        left, refused = len(ended.left), self._found.refused
        if self._store is None:
            return Night(self._began, _now_ms(), left, self._fleet, refused=refused), self._memory
        self._store.finish(self._run, _now_ms(), left)
        self._store.prune(self._asked.keep)
        run = next(each for each in self._store.runs() if each.number == self._run)
        return told(self._store, run, self._asked.nights)


def told(store: Store, run: Run, nights: int) -> tuple[Night, list[Swept]]:
    """A stored run and its outcomes. ``run`` must have been read before: of one that still runs, what has come since
    is counted, and is not left."""
    rows = list(store.night(run.number))
    changed = since(store, run.number, nights)
    gone = {key: row for key in changed.gone if (row := store.row(key))}
    night = Night(
        run.at_ms,
        run.finished_ms or 0,
        run.left if run.finished_ms else max(0, run.total - len(rows)),
        run.fleet,
        changes_of(changed, rows, gone),
        f"netcheck sweep --store {shlex.quote(str(store.path))} --case KEY > case.json",
        run.refused,
        _others(store, run),
    )
    return night, rows


def _others(store: Store, run: Run) -> tuple[str, ...]:
    """The other fleets that the store has nights of, the newest first."""
    of_others = [each.fleet for each in store.runs() if each.fleet != run.fleet and each.finished_ms is not None]
    return tuple(dict.fromkeys(reversed(of_others)))


def store_files(store: Path | None) -> list[Path]:
    """The store and what stands beside it while it is open."""
    return [store.with_name(store.name + end) for end in ("", "-wal", "-shm", "-journal", ".lock")] if store else []


def _now_ms() -> int:
    return time.time_ns() // 1_000_000
