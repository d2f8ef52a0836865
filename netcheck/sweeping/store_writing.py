"""Storing one outcome: what repeats is looked up, and stored only when it is new. Stage: behind `Store.add`."""

import hashlib
import sqlite3
from collections.abc import Callable, Hashable
from typing import TypeVar

import msgspec

from netcheck.document import canonical
from netcheck.standard import Standard
from netcheck.sweeping.outcome import Found, Row, Supply, Swept
from netcheck.sweeping.store_packing import packed, unpacked

_KNOWN = 4096
"""Numbers kept in memory for each kind of thing that repeats; forgetting one costs a look into the file."""
_SAMPLES = 32
"""Samples kept in memory, 24 kB each."""
_TRIED = 3
_GOOD = 12
"""A sample is of use where a case gets by it to less than one part in so many; by itself it gets to one in six."""
_RESULT = """
    INSERT INTO result (run, device, line, at_ms, took_ms, state, fault, fine, asked, identity, standard, findings,
        supplies, percents)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
"""
_FINDING = """
    INSERT INTO finding (hash, key, rule, role, item, state, weight, standing, title, root, remedy, sources)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
"""
K = TypeVar("K", bound=Hashable)
V = TypeVar("V")


class Writing:
    """Everything that `add` has to know. After a transaction that failed it must be forgotten, and a new one made: it
    may know numbers that are not in the file."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        self._standards: dict[Standard, int] = {}
        self._findings: dict[Found, int] = {}
        self._sets: dict[tuple[Found, ...], int] = {}
        self._names: dict[tuple[str, ...], int] = {}
        self._samples: dict[str, list[int]] = {}
        self._whole: dict[int, bytes] = {}

    def add(self, run: int, swept: Swept) -> None:
        """Within a transaction of the caller. Raises sqlite3.IntegrityError where the run has that key already."""
        device = self._device(run, swept.row)
        percents = msgspec.json.encode([supply.percent for supply in swept.supplies]).decode()
        values = (
            run,
            device,
            swept.row.line,
            swept.at_ms,
            swept.took_ms,
            swept.state,
            swept.fault,
            swept.fine,
            self._asked(device, swept.row),
            self._identity(device, swept),
            _known(self._standards, swept.standard, self._standard),
            _known(self._sets, swept.findings, self._set),
            self._supplies(swept.supplies),
            percents,
        )
        result = self._insert(_RESULT, *values)
        if swept.evidence:
            sample, data = self._packed(swept.model, swept.evidence)
            self._insert("INSERT INTO evidence (result, sample, packed) VALUES (?, ?, ?)", result, sample, data)

    def _insert(self, statement: str, *values: object) -> int:
        number = self._connection.execute(statement, values).lastrowid
        if number is None:
            raise AssertionError("an INSERT has a row")
        return number

    def _find(self, question: str, *values: object) -> int | None:
        row = self._connection.execute(question, values).fetchone()
        return None if row is None else int(row[0])

    def _device(self, run: int, row: Row) -> int:
        known = self._find("SELECT id FROM device WHERE key = ?", row.key)
        if known is not None:
            return known
        statement = "INSERT INTO device (key, site, host, first_run) VALUES (?, ?, ?, ?)"
        return self._insert(statement, row.key, row.site, row.new.host, run)

    def _asked(self, device: int, row: Row) -> int:
        line = msgspec.json.encode(msgspec.structs.replace(row, line=0)).decode()
        question = "SELECT id, line FROM asked WHERE device = ? ORDER BY id DESC LIMIT 1"
        last = self._connection.execute(question, (device,)).fetchone()
        if last is not None and last[1] == line:
            return int(last[0])
        return self._insert("INSERT INTO asked (device, line) VALUES (?, ?)", device, line)

    def _identity(self, device: int, swept: Swept) -> int:
        said = (swept.model, swept.serial, swept.firmware, swept.mac, swept.address)
        question = (
            "SELECT id, model, serial, firmware, mac, address FROM identity WHERE device = ? ORDER BY id DESC LIMIT 1"
        )
        last = self._connection.execute(question, (device,)).fetchone()
        if last is not None and last[1:] == said:
            return int(last[0])
        statement = "INSERT INTO identity (device, model, serial, firmware, mac, address) VALUES (?, ?, ?, ?, ?, ?)"
        return self._insert(statement, device, *said)

    def _standard(self, standard: Standard) -> int:
        content = canonical(msgspec.to_builtins(standard))
        digest = hashlib.sha256(content).hexdigest()
        known = self._find("SELECT id FROM standard WHERE hash = ?", digest)
        if known is not None:
            return known
        statement = "INSERT INTO standard (hash, name, content) VALUES (?, ?, ?)"
        return self._insert(statement, digest, standard.name, content.decode())

    def _finding(self, found: Found) -> int:
        content = msgspec.json.encode(found)
        digest = hashlib.sha256(content).hexdigest()
        known = self._find("SELECT id FROM finding WHERE hash = ?", digest)
        if known is not None:
            return known
        sources = msgspec.json.encode(found.sources).decode()
        own = (found.key, found.id, found.role, found.item, found.state, found.weight, int(found.standing), found.title)
        return self._insert(_FINDING, digest, *own, int(found.root), found.remedy, sources)

    def _set(self, findings: tuple[Found, ...]) -> int:
        without = [msgspec.structs.replace(found, detail="") for found in findings]
        numbers = [_known(self._findings, found, self._finding) for found in without]
        members = [(number, found.detail) for number, found in zip(numbers, findings, strict=True)]
        digest = hashlib.sha256(msgspec.json.encode(members)).hexdigest()
        known = self._find("SELECT id FROM finding_set WHERE hash = ?", digest)
        if known is not None:
            return known
        new = self._insert("INSERT INTO finding_set (hash) VALUES (?)", digest)
        statement = "INSERT INTO set_finding (set_id, place, finding, detail) VALUES (?, ?, ?, ?)"
        self._connection.executemany(statement, [(new, place, *member) for place, member in enumerate(members)])
        return new

    def _supplies(self, supplies: tuple[Supply, ...]) -> int:
        return _known(self._names, tuple(supply.name for supply in supplies), self._supply_names)

    def _supply_names(self, names: tuple[str, ...]) -> int:
        text = msgspec.json.encode(names).decode()
        known = self._find("SELECT id FROM supply_names WHERE names = ?", text)
        return self._insert("INSERT INTO supply_names (names) VALUES (?)", text) if known is None else known

    def _packed(self, model: str, evidence: bytes) -> tuple[int, bytes]:
        """The evidence by one of the newest samples of its model. Where none is of use, it becomes one itself: so a
        device that has two ways to answer gets a sample for each."""
        samples = _known(self._samples, model, self._newest)
        for sample in samples:
            data = packed(evidence, self._sample(sample))
            if len(data) * _GOOD < len(evidence):
                samples.remove(sample)
                samples.insert(0, sample)
                return sample, data
        new = self._insert("INSERT INTO sample (model, packed) VALUES (?, ?)", model, packed(evidence))
        samples.insert(0, new)
        del samples[_TRIED:]
        return new, packed(evidence, evidence)

    def _newest(self, model: str) -> list[int]:
        question = "SELECT id FROM sample WHERE model = ? ORDER BY id DESC LIMIT ?"
        return [number for (number,) in self._connection.execute(question, (model, _TRIED))]

    def _sample(self, number: int) -> bytes:
        if number not in self._whole:
            (data,) = self._connection.execute("SELECT packed FROM sample WHERE id = ?", (number,)).fetchone()
            _forget(self._whole, _SAMPLES)
            self._whole[number] = unpacked(data)
        return self._whole[number]


def _known(memory: dict[K, V], thing: K, find: Callable[[K], V]) -> V:
    found = memory.get(thing)
    if found is None:
        found = find(thing)
        _forget(memory, _KNOWN)
        memory[thing] = found
    return found


def _forget(memory: dict[K, V], most: int) -> None:
    """Make room for one: what has been known longest goes."""
    while len(memory) >= most:
        del memory[next(iter(memory))]
