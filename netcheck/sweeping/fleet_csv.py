"""A fleet file as people keep it in a spreadsheet. Stage: fourth of the fleet file: lines to header, rows and columns.

*What is taken as it comes.* Title rows above the header, rows of nothing but separators, lines that begin with #, an
Excel ``sep=;`` line, and rows shorter than the header: spreadsheets have left out the separators behind the last value.
A row that is longer is not taken, since a separator in a value that has no quotes moves every value behind it.

*What a quote may hide.* A quote in one row and another rows below make one value of all between, and RFC 4180 says that
this is right. Where such lines look like rows of this file, that is complained of and they are read as rows.
"""

import re
from typing import NamedTuple

from netcheck.errors import Complaint, InputError
from netcheck.place import is_address
from netcheck.sweeping.fleet_cells import COLUMNS, cleaned, is_failed, place_of
from netcheck.sweeping.fleet_lines import Broken, cells_of
from netcheck.sweeping.fleet_notes import Notes, Wrong, meant, telling
from netcheck.sweeping.fleet_row import RowReader
from netcheck.sweeping.outcome import Row

MOST_ROWS = 200_000
MOST_COLUMNS = 300
_SEPARATORS = ",;\t"
_NAMED = {",": "comma", ";": "semicolon", "\t": "tab"}
_SEP = re.compile(r'"?sep=(.)"?[,;\t]*', re.IGNORECASE)
_SEARCHED = 30
"""Lines that have something in them, among which the header must be."""
_SECRET_NAMES = ("community", "password", "passphrase", "secret", "passwort")


class Header(NamedTuple):
    """``titles`` as they are written, ``names`` the columns that they mean (None: nobody knows), ``line`` from 1,
    ``after`` the index of the first line of rows."""

    delimiter: str
    titles: list[str]
    names: list[str | None]
    line: int
    after: int

    def place(self, index: int) -> str:
        """``column C (new)``, with the letter that the spreadsheet shows."""
        title = self.titles[index] if index < len(self.titles) else ""
        return f"column {letter(index)}" + (f" ({title})" if title else "")


def letter(index: int) -> str:
    """A, B ... Z, AA, AB ... for a column from 0."""
    index, last = divmod(index, 26)
    return (letter(index - 1) if index else "") + chr(ord("A") + last)


def find_header(path: str, lines: list[str]) -> Header:
    """The first line with a column ``new``. Raises InputError where there is none."""
    best: Header | None = None
    given = next((match[1] for line in lines[:1] if (match := _SEP.fullmatch(line.strip(" ")))), "")
    seen = 0
    for at, line in enumerate(lines):
        if _is_nothing(line) or (at == 0 and given):
            continue
        header = _header(lines, at, given if given and given in line else _SEPARATORS)
        if header and "new" in header.names:
            return header
        if header and (best is None or _known(header) > _known(best)):
            best = header
        seen += 1
        if seen >= _SEARCHED:
            break
    raise InputError(_headless(path, best))


def _headless(path: str, best: Header | None) -> Complaint:
    if best is None or not _known(best):
        near = meant(_plain(best.titles[0]), tuple(COLUMNS)) if best and best.titles else ""
        wanted = f"a line with the names of the columns, as site,new,serial{near}"
        return Complaint(path, f"line {best.line}" if best else "", "no header", wanted)
    titles = [_plain(title) for title, name in zip(best.titles, best.names, strict=True) if name is None]
    near = next(filter(None, (meant(title, ("new",)) for title in titles)), "")
    found = f"a header with {', '.join(filter(None, best.names))} and without new"
    return Complaint(path, f"line {best.line}", found, f"a column new{near}: {COLUMNS['new']}")


def _known(header: Header) -> int:
    return len(set(filter(None, header.names)))


def _header(lines: list[str], at: int, separators: str) -> Header | None:
    """The line by that separator by which it has the most names that are known, and then the most columns."""
    headers = []
    for separator in separators:
        try:
            cells, after = cells_of(lines, at, separator)
        except Broken:
            continue
        titles = [" ".join(cell.strip("\ufeff\u200b ").split()) for cell in cells[:MOST_COLUMNS]]
        names = [_plain(title) if _plain(title) in COLUMNS else None for title in titles]
        titles = [title if len(title) <= 40 else f"{title[:37]}..." for title in titles]
        headers.append(Header(separator, titles, names, at + 1, after))
    return max(headers, key=lambda header: (_known(header), len(header.titles)), default=None)


def _plain(title: str) -> str:
    return re.sub(r"[\s_\-.]+", "", title).casefold().strip("'\"*:")


def _is_nothing(line: str) -> bool:
    """An empty line, separators only, or a note. A formula that failed is not a note."""
    if not line:
        return True
    if line[0] == "#" or (line[0].isspace() and line.lstrip()[:1] == "#"):
        return not is_failed(re.split(r"[,;\t]", line.strip(), maxsplit=1)[0].strip())
    return not line[0].isalnum() and not line.strip(" \t\u00a0\ufeff,;|")


class CsvFleet:
    """The rows of one file, read once."""

    def __init__(self, path: str, lines: list[str], reader: RowReader, notes: Notes) -> None:
        self._lines, self._reader, self._notes = lines, reader, notes
        self._header = find_header(path, lines)
        self._columns: list[tuple[int, str]] = []
        self._untitled: set[int] = set()
        self.rows: list[Row] = []
        self.refused = 0
        self._check_header()
        self._index = {name: index for index, name in self._columns}

    def read(self) -> None:
        """All rows."""
        at, end = self._header.after, len(self._lines)
        while at < end:
            if _is_nothing(self._lines[at]):
                at += 1
                continue
            if len(self.rows) + self.refused >= MOST_ROWS:
                self._notes.add(at + 1, "", f"more than {MOST_ROWS} rows", "several files")
                return
            at = self._record(at)

    def _record(self, at: int) -> int:
        """Take one record; returns where the next one begins."""
        header, line = self._header, at + 1
        try:
            cells, after = cells_of(self._lines, at, header.delimiter)
        except Broken as broken:
            self._notes.add(line, header.place(broken.column), broken.found, broken.wanted)
            self.refused += 1
            return at + 1
        row = self._row(cells, line)
        if row is not None:
            self.rows.append(row)
        return after if after == at + 1 else self._swallowed(cells, at, after)

    def _swallowed(self, cells: list[str], at: int, after: int) -> int:
        """Where reading goes on behind a record of several lines: at the first of them that looks like a row."""
        column = max(index for index, cell in enumerate(cells) if "\n" in cell)
        # The last line is what stands behind the quotes as well: it tells only where its device is before them.
        last = after if self._index["new"] < column else after - 1
        for inside in range(at + 1, last):
            if self._looks_like_a_row(inside):
                found = f"quotes that take in line {inside + 1}, which looks like a row"
                wanted = "no stray quotes: a row has a line of its own"
                self._notes.add(at + 1, self._header.place(column), found, wanted)
                return inside
        return after

    def _looks_like_a_row(self, at: int) -> bool:
        """Has the line, by itself, the header's number of cells, with a device where one belongs?"""
        try:
            cells, _ = cells_of(self._lines[at : at + 1], 0, self._header.delimiter)
            new = cleaned("new", cells[self._index["new"]]) if len(cells) == len(self._header.titles) > 1 else ""
            host = place_of("new", new).host if new else ""
        except Wrong:
            return False
        return is_address(host) or "." in host or any(map(str.isdigit, host))

    def _row(self, raw: list[str], line: int) -> Row | None:
        cells: dict[str, str] = {}
        is_wrong = self._is_too_long(raw, line)
        count = len(raw)
        for index, name in self._columns:
            if index >= count or not raw[index]:
                continue
            try:
                if text := cleaned(name, raw[index]):
                    cells[name] = text
            except Wrong as wrong:
                self._complain(line, name, wrong.found, wrong.wanted)
                is_wrong = True
        for index in self._untitled:
            if index < count and raw[index].strip():
                wanted = f"a title for it in line {self._header.line}, or nothing in it"
                self._notes.add(line, f"column {letter(index)}", "values in a column without a title", wanted)
        if not cells and not is_wrong:
            return None
        row = None if is_wrong else self._checked(cells, line)
        self.refused += row is None
        return row

    def _checked(self, cells: dict[str, str], line: int) -> Row | None:
        if _plain(cells.get("new", "")) == "new" and all(_plain(text) == name for name, text in cells.items()):
            self._notes.add(line, "", "the header once more", "a device")
            return None

        def complain(name: str, found: str, wanted: str) -> None:
            self._complain(line, name, found, wanted)

        return self._reader.row(cells, line, complain)

    def _is_too_long(self, raw: list[str], line: int) -> bool:
        titles = len(self._header.titles)
        extra = next((index for index in range(titles, len(raw)) if raw[index].strip()), None)
        if extra is None:
            return False
        mark = _NAMED.get(self._header.delimiter, self._header.delimiter)
        found = f"a row of {len(raw)} values under a header of {titles}"
        self._notes.add(line, f"column {letter(extra)}", found, f'quotes around a value with a {mark} in it, as "a, b"')
        return True

    def _complain(self, line: int, name: str, found: str, wanted: str) -> None:
        self._notes.add(line, self._header.place(self._index[name]), found, wanted)

    def _check_header(self) -> None:
        """Which columns are read. What nobody knows is complained of and not read."""
        header = self._header
        seen: dict[str, int] = {}
        for index, (title, name) in enumerate(zip(header.titles, header.names, strict=True)):
            if name is None and not title:
                self._untitled.add(index)
            elif name is None:
                self._notes.add(header.line, f"column {letter(index)}", *_unknown(title))
            elif name in seen:
                found = f"a second column {name}, which is not read"
                wanted = f"one: column {letter(seen[name])} is one already"
                self._notes.add(header.line, f"column {letter(index)}", found, wanted)
            else:
                seen[name] = index
                self._columns.append((index, name))


def _unknown(title: str) -> tuple[str, str]:
    """What was found and is wanted where a title is none of ours."""
    if any(name in _plain(title) for name in _SECRET_NAMES):
        return f"a column for secrets, {telling(title)}, which is not read", f"no secret in this file; snmp is {_SNMP}"
    known = ", ".join(COLUMNS)
    return f"a column that is not known, {telling(title)}", f"one of {known}{meant(_plain(title), tuple(COLUMNS))}"


_SNMP = COLUMNS["snmp"]
