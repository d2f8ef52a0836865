"""What was stored, as it was: outcomes and saved documents. Stage: behind `Store.night` and `Store.document`."""

import sqlite3
from collections.abc import Iterator
from functools import lru_cache
from typing import Any

import msgspec

from netcheck.case import Case
from netcheck.document import Document
from netcheck.facts import KINDS
from netcheck.judge import judge
from netcheck.probing import provides
from netcheck.standard import Standard
from netcheck.sweeping.outcome import Found, Row, Supply, Swept
from netcheck.sweeping.store_packing import DamagedError, unpacked
from netcheck.verdict import State

_REPEATED = 4096
_SAMPLES = 32
_COLUMNS = """
    SELECT result.id, asked.line, result.line, result.at_ms, result.took_ms, result.state, result.fault,
        identity.model, identity.serial, identity.firmware, identity.mac, identity.address,
        supply_names.names, result.percents, result.findings, result.fine, standard.content
    FROM result JOIN asked ON asked.id = result.asked JOIN identity ON identity.id = result.identity
        JOIN supply_names ON supply_names.id = result.supplies JOIN standard ON standard.id = result.standard
"""


class Reading:
    """One pass over the store. What repeats is read once and shared between the outcomes."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        self.findings = lru_cache(_REPEATED)(self._findings)
        self._sample = lru_cache(_SAMPLES)(self._unpacked_sample)

    def night(self, run: int, *, evidence: bool) -> Iterator[Swept]:
        """All outcomes of a run in the fleet's order, with a row at a time in memory."""
        for row in self._connection.execute(f"{_COLUMNS} WHERE result.run = ? ORDER BY result.line, result.id", (run,)):
            yield self._swept(row, evidence=evidence)

    def one(self, run: int, key: str) -> Swept | None:
        """One outcome with its evidence."""
        question = f"{_COLUMNS} JOIN device ON device.id = result.device WHERE result.run = ? AND device.key = ?"
        row = self._connection.execute(question, (run, key)).fetchone()
        return None if row is None else self._swept(row, evidence=True)

    def _swept(self, columns: tuple[Any, ...], *, evidence: bool) -> Swept:
        (number, asked, line, at_ms, took_ms, state, fault, *said, names, percents, findings, fine, standard) = columns
        model, serial, firmware, mac, address = said
        return Swept(
            row=msgspec.structs.replace(msgspec.json.decode(asked, type=Row), line=line),
            at_ms=at_ms,
            took_ms=took_ms,
            state=state_of(state),
            fault=fault,
            model=model,
            serial=serial,
            firmware=firmware,
            mac=mac,
            address=address,
            supplies=supplies(names, percents),
            findings=self.findings(findings),
            fine=fine,
            evidence=self.evidence(number) if evidence else b"",
            standard=standard_of(standard),
        )

    def evidence(self, result: int) -> bytes:
        """The evidence of a result, b"" where it has none. Raises DamagedError."""
        question = "SELECT sample, packed FROM evidence WHERE result = ?"
        row = self._connection.execute(question, (result,)).fetchone()
        return b"" if row is None else unpacked(row[1], self._sample(row[0]))

    def _unpacked_sample(self, number: int) -> bytes:
        row = self._connection.execute("SELECT packed FROM sample WHERE id = ?", (number,)).fetchone()
        if row is None:
            raise DamagedError(f"sample {number} is missing")
        return unpacked(row[0])

    def _findings(self, number: int) -> tuple[Found, ...]:
        question = """
            SELECT key, rule, role, item, state, weight, standing, title, root, detail, remedy, sources
            FROM set_finding JOIN finding ON finding.id = set_finding.finding WHERE set_id = ? ORDER BY place
        """
        return tuple(map(_found, self._connection.execute(question, (number,))))


def _found(columns: tuple[Any, ...]) -> Found:
    names = ("key", "id", "role", "item", "state", "weight", "standing", "title", "root", "detail", "remedy", "sources")
    fields = dict(zip(names, columns, strict=True))
    sources = msgspec.json.decode(fields["sources"], type=tuple[str, ...])
    return msgspec.convert({**fields, "root": bool(fields["root"]), "sources": sources}, Found)


def state_of(name: str | None) -> State | None:
    """A stored state. Raises msgspec.ValidationError for what is none."""
    return msgspec.convert(name, State | None)


def supplies(names: str, percents: str) -> tuple[Supply, ...]:
    """Supplies from the two columns that hold them."""
    return tuple(map(Supply, _names(names), msgspec.json.decode(percents, type=list[int | None])))


@lru_cache(_REPEATED)
def _names(text: str) -> tuple[str, ...]:
    return msgspec.json.decode(text, type=tuple[str, ...])


@lru_cache(_SAMPLES)
def standard_of(content: str) -> Standard:
    """A stored Standard. Raises msgspec.ValidationError for one that a later netcheck has stored."""
    return msgspec.json.decode(content, type=Standard)


def evidence_of(swept: Swept) -> tuple[Case, dict[str, Any]]:
    """The case of an outcome with evidence, and the evidence keys as they were saved, in their declared order.
    Raises msgspec.ValidationError for what is no case."""
    plain: dict[str, Any] = msgspec.json.decode(swept.evidence)
    case = msgspec.convert(plain, Case)
    told = [{**item, "value": _in_reading_order(item["kind"], item["value"])} for item in plain["observations"]]
    return case, _in_order(Case, {**plain, "observations": told})


def document_of(swept: Swept, case: Case, evidence: dict[str, Any]) -> dict[str, Any]:
    """The saved document. The verdict is what today's rules come to, as in any file that is saved now."""
    verdict = judge(case, swept.standard, swept.row.gate, provides())
    return Document(evidence, swept.row.gate, swept.standard, verdict).plain()


def _in_reading_order(kind: str, value: dict[str, Any]) -> dict[str, Any]:
    return _in_order(KINDS[kind], value) if kind in KINDS else value


def _in_order(kind: type[msgspec.Struct], value: dict[str, Any]) -> dict[str, Any]:
    """The same, its keys in the order of their declaration, as they were before they were sealed in another; unless
    there is more in it than this version declares."""
    try:
        ordered: dict[str, Any] = msgspec.json.decode(msgspec.json.encode(msgspec.convert(value, kind)))
    except msgspec.ValidationError:
        return value
    return ordered if ordered == value else value
