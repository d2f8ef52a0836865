"""The octets of a fleet file to lines, and lines to cells. Stage: first of the fleet file; knows no column.

*Encodings.* UTF-8 with or without a byte order mark, and UTF-16, which spreadsheets call "Unicode text". A line that is
not UTF-8 is read as Windows-1252, which is what spreadsheets in the western world write where nobody asks for anything
else, and it is complained of, with the first such character as it was read. Refusing it would leave a site unasked for
an accent in its name; reading it without a word would let a wrong name stand. Octets that Windows-1252 does not have
either become U+FFFD, and no row with one of these is taken.

*Quotes.* RFC 4180, and blanks around the quotes. A quote in a value that does not begin with one is an inch mark. A
quote that is never closed must not swallow the file: its own line is given up, and reading goes on at the next one.
"""

import re
from typing import Final

from netcheck.sweeping.fleet_notes import Notes, Wrong

LONGEST: Final = 4000
"""Characters of one quoted value, and with `_MOST_LINES` how far a closing quote is looked for."""
_MOST_LINES = 50
LOST: Final = "\ufffd"
_AS_UTF_8: Final = 'the file saved as UTF-8 (a spreadsheet calls it "CSV UTF-8")'
_QUOTED = 'a quote at its end as well, and quotes inside of it doubled, as "the 24"" one"'
_MARKS = {b"\xff\xfe": "utf-16-le", b"\xfe\xff": "utf-16-be"}
_LOOKED_AT = 32


class Broken(Wrong):
    """A quoted value without an end. ``column`` counts from 0."""

    def __init__(self, column: int, found: str) -> None:
        super().__init__(found, _QUOTED)
        self.column = column


def lines_of(data: bytes, notes: Notes) -> list[str]:
    """The lines of a file, without their ends, which are CRLF, CR or LF."""
    if encoding := _sixteen_bits(data):
        return _split(data.decode(encoding, "replace").removeprefix("\ufeff"))
    data = data.removeprefix(b"\xef\xbb\xbf")
    try:
        return _split(data.decode("utf-8"))
    except UnicodeDecodeError:
        return _mixed(data, notes)


def _split(text: str) -> list[str]:
    return text.replace("\r\n", "\n").replace("\r", "\n").split("\n")


def _sixteen_bits(data: bytes) -> str:
    """The name of its UTF-16, by its mark or by the zeros that ASCII has in it; "" for another encoding."""
    if data[:2] in _MARKS:
        return _MARKS[data[:2]]
    start = data[:_LOOKED_AT]
    half = max(1, len(start) // 2)
    for encoding, zeros, others in (("utf-16-le", start[1::2], start[::2]), ("utf-16-be", start[::2], start[1::2])):
        if len(start) > 3 and zeros.count(0) * 10 > half * 9 and others.count(0) * 10 < half:
            return encoding
    return ""


def _mixed(data: bytes, notes: Notes) -> list[str]:
    lines: list[str] = []
    found = ""
    for number, raw in enumerate(data.replace(b"\r\n", b"\n").replace(b"\r", b"\n").split(b"\n"), 1):
        try:
            lines.append(raw.decode("utf-8"))
        except UnicodeDecodeError as error:
            octet = raw[error.start : error.start + 1]
            read = octet.decode("cp1252", "replace")
            lines.append(raw.decode("cp1252", "replace"))
            found = found or f"octet 0x{octet[0]:02X}, which is not UTF-8; read as {read!r}, as Windows-1252 has it"
            if LOST not in lines[-1]:  # else the row itself is complained of
                notes.add(number, "", found, _AS_UTF_8)
    return lines


def cells_of(lines: list[str], at: int, delimiter: str) -> tuple[list[str], int]:
    """The cells of the record that begins at this line, and where the next one begins. Raises Broken."""
    if '"' not in lines[at]:
        return lines[at].split(delimiter), at + 1
    record = _Record(lines, at, delimiter)
    return record.cells(), record.at + 1


class _Record:
    """One record with quotes in it, read from left to right."""

    def __init__(self, lines: list[str], at: int, delimiter: str) -> None:
        self._lines, self._first, self._delimiter = lines, at, delimiter
        self.at, self._text, self._place = at, lines[at], 0
        blank = " \u00a0" if delimiter == "\t" else r"\s"
        self._blanks = re.compile(f"[{blank}]*")
        self._opening = re.compile(f'[{blank}]*"')

    def cells(self) -> list[str]:
        """All its cells."""
        cells: list[str] = []
        while True:
            if opening := self._opening.match(self._text, self._place):
                self._place = opening.end()
                cells.append(self._quoted(len(cells)))
            else:
                cells.append(self._bare())
            if self._place >= len(self._text):
                return cells
            self._place += 1  # the delimiter
            if self._place == len(self._text):
                return [*cells, ""]

    def _bare(self) -> str:
        start = self._place
        end = self._text.find(self._delimiter, start)
        self._place = len(self._text) if end < 0 else end
        return self._text[start : self._place]

    def _quoted(self, column: int) -> str:
        parts: list[str] = []
        length = 0
        while True:
            end = self._text.find('"', self._place)
            if end < 0:
                parts.append(self._text[self._place :] + "\n")
                length += len(parts[-1])
                self._next_line(column, length)
            elif self._text.startswith('""', end):
                parts.append(self._text[self._place : end + 1])
                self._place = end + 2
            else:
                parts.append(self._text[self._place : end])
                self._close(end + 1, column)
                return "".join(parts)

    def _next_line(self, column: int, length: int) -> None:
        self.at += 1
        if self.at >= len(self._lines) or length > LONGEST or self.at - self._first > _MOST_LINES:
            raise Broken(column, "a value that begins with a quote and has none at its end")
        self._text, self._place = self._lines[self.at], 0

    def _close(self, at: int, column: int) -> None:
        blanks = self._blanks.match(self._text, at)
        self._place = blanks.end() if blanks else at
        if self._place < len(self._text) and self._text[self._place] != self._delimiter:
            raise Broken(column, "a value in quotes that goes on after its closing quote")
