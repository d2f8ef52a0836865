"""A fleet file in TOML. Stage: fourth of the fleet file, beside the spreadsheet.

    [fleet]
    standard = "standard.toml"
    [[device]]
    site = "Harrow Lane land-survey office"
    new = "192.0.2.61"
    ports = "ipp=8631 raw=9101"

The keys are the columns of the spreadsheet. What ``[fleet]`` says holds for every device that says nothing else.
"""

import re
from pathlib import Path

from netcheck.errors import Complaint, InputError
from netcheck.sweeping.fleet_cells import COLUMNS
from netcheck.sweeping.fleet_row import RowReader
from netcheck.sweeping.outcome import Row
from netcheck.tables import MAX_BYTES, Document, Table, read_bounded

INHERITED = ("standard", "gate", "snmp")
_DEVICE = re.compile(r"\s*\[\[\s*(?:device|\"device\"|'device')\s*\]\]")
_NAMED = re.compile(r"\[device (\d+)[\].]")


class TomlFleet:
    """The rows of one file, read once. Raises InputError for what is no TOML, or has no device in it."""

    def __init__(self, path: Path, reader: RowReader) -> None:
        self._document = Document(path)
        self._reader = reader
        self._general = self._document.root.table("fleet")
        self.rows: list[Row] = []
        self.refused = 0

    def read(self) -> tuple[Complaint, ...]:
        """All rows; returns what is wrong, with the lines of the tables where these can be told."""
        document = self._document
        given = {name: text for name in INHERITED if (text := self._general.text(name, COLUMNS[name]))}
        unusable = {name for name in INHERITED if self._general.has(name) and name not in given}
        tables = document.root.tables("device")
        lines = self._lines_of(len(tables))
        for table, line in zip(tables, lines, strict=True):
            self._device(table, line, given, unusable)
        document.root.refuse_unread()
        if not tables:
            document.root.complain("device", "nothing", "tables, each as [[device]], one a device")
            raise InputError(*document.complaints)
        return tuple(_placed(each, lines) for each in dict.fromkeys(document.complaints))

    def _device(self, table: Table, line: int, given: dict[str, str], unusable: set[str]) -> None:
        before = len(self._document.complaints)
        own = {name: text for name in COLUMNS if (text := table.text(name, COLUMNS[name]))}
        inherited = {name: text for name, text in given.items() if not table.has(name)}
        is_wrong = len(self._document.complaints) > before or any(not table.has(name) for name in unusable)

        def complain(name: str, found: str, wanted: str) -> None:
            (self._general if name in inherited else table).complain(name, found, wanted)

        row = None if is_wrong else self._reader.row({**inherited, **own}, line, complain)
        if row is None:
            self.refused += 1
        else:
            self.rows.append(row)

    def _lines_of(self, count: int) -> list[int]:
        """The line of each table, as far as the headers that can be seen are as many as there are tables: 0 for all
        where one stands in a text of several lines, or where they are written in another way."""
        text = read_bounded(self._document.path, MAX_BYTES, "TOML file").decode("utf-8-sig")
        lines = [number for number, line in enumerate(text.split("\n"), 1) if _DEVICE.match(line)]
        return lines if len(lines) == count else [0] * count


def _placed(complaint: Complaint, lines: list[int]) -> Complaint:
    named = _NAMED.match(complaint.key)
    line = lines[int(named[1]) - 1] if named else 0
    return (
        Complaint(complaint.where, f"line {line}, {complaint.key}", complaint.found, complaint.wanted)
        if line
        else complaint
    )
