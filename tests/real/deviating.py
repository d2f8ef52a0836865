"""What a deviation is: some rows of one base device, changed, and what a reader must make of it."""

import csv
import functools
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final, Literal

from .devices import HALDEN, Device
from .mib import Row, rows

Server = Literal["snmpd", "snmpsim"]
Cells = Mapping[str, int | str | bytes | Row | None]
BOTH: Final[frozenset[Server]] = frozenset({"snmpd", "snmpsim"})
SIMULATED: Final[frozenset[Server]] = frozenset({"snmpsim"})
SNMPD: Final[frozenset[Server]] = frozenset({"snmpd"})
UNMET: Final = "unmet"
UNPROVEN: Final = "unproven"
_PUBLISHED: Final = Path(__file__).parents[2] / "fixtures/mib/printer_mib.csv"


@dataclass(frozen=True)
class Deviation:
    """One. `cells` are set, or with None left out; `without` are objects that no row is left of; the rows of the
    Printer MIB stand `under` another hrDeviceIndex, all rows of the device with `moved`."""

    says: str
    cells: Cells = field(default_factory=dict)
    without: tuple[str, ...] = ()
    under: int | None = None
    moved: bool = False
    device: Device = HALDEN
    loop: str = ""
    facts: Mapping[str, Any] = field(default_factory=dict)
    findings: Mapping[str, str] = field(default_factory=dict)
    attempts: tuple[str, ...] = ()
    servers: frozenset[Server] = BOTH

    def rows(self) -> list[Row]:
        found = {row.oid: row for row in rows(self.device)}
        gone = tuple(f"{oid(name)}." for name in self.without)
        found = {name: row for name, row in found.items() if not name.startswith(gone or ("-",))}
        for name, value in self.cells.items():
            found.pop(oid(name), None)
            if value is not None:
                found[oid(name)] = _row(oid(name), value)
        return [self._placed(row) for row in found.values()]

    def _placed(self, row: Row) -> Row:
        """The row under the other index, which is the first arc behind the column."""
        table = _table_of(row.oid)
        if self.under is None or not (self.moved or table.startswith("prt")):
            return row
        arcs = row.oid.split(".")
        arcs[len(_published()[table].split(".")) + 1] = str(self.under)
        return Row(".".join(arcs), row.kind, row.value)


@functools.cache
def _published() -> dict[str, str]:
    with _PUBLISHED.open(encoding="utf-8", newline="") as file:
        return {row["object"]: row["oid"] for row in csv.DictReader(file) if row["oid"]}


@functools.cache
def oid(name: str) -> str:
    """Where an object is: `prtMarkerSuppliesLevel.1.5` or the column alone."""
    column, _, index = name.partition(".")
    return f"{_published()[column]}.{index}".rstrip(".")


@functools.cache
def _entries() -> dict[str, str]:
    return {each: name for name, each in _published().items() if name.endswith("Entry")}


def _table_of(row: str) -> str:
    arcs = row.split(".")
    found = (_entries().get(".".join(arcs[:length])) for length in range(len(arcs), 0, -1))
    return next((name for name in found if name), "")


def _row(where: str, value: int | str | bytes | Row) -> Row:
    match value:
        case Row():
            return Row(where, value.kind, value.value)
        case int():
            return Row(where, "INTEGER", str(value))
        case str():
            return Row(where, "OCTET", value.encode().hex(" "))
        case bytes():
            return Row(where, "OCTET", value.hex(" "))


def of(kind: str, value: int | str = "") -> Row:
    """A value of another type than INTEGER and OCTET; of the kinds `genErr` and `tooBig`, one that cannot be read."""
    return Row("", kind, str(value))
