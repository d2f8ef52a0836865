"""What is wrong with a fleet file, gathered for its owner. Stage: beside the readers of the fleet file.

The same fault often stands in a whole column, filled down. It is then one complaint which names all its lines: a
thousand sentences alike would hide the one that differs.
"""

import difflib
import re
from collections.abc import Callable, Iterable
from functools import lru_cache
from itertools import groupby
from pathlib import Path

from netcheck.errors import Complaint
from netcheck.secret import may_tell
from netcheck.tables import shown

MOST = 1000
"""Different complaints about one file. Whoever has more mends those first."""
_MOST_SPANS = 20

Complain = Callable[[str, str, str], None]
"""Takes the column's name ("" for the whole row), what was found, and what would be right."""


class Wrong(Exception):  # noqa: N818 - a value that is no good; args are what was found and what would be right
    """One value that cannot be used."""

    def __init__(self, found: str, wanted: str) -> None:
        super().__init__(found, wanted)
        self.found, self.wanted = found, wanted


class Notes:
    """The complaints about one file, by line."""

    def __init__(self, path: Path) -> None:
        self._path = str(path)
        self._lines: dict[tuple[str, str, str], list[int]] = {}
        self._untold: list[int] = []

    def add(self, line: int, place: str, found: str, wanted: str) -> None:
        """``line`` from 1 as an editor counts; ``place`` in it, "" for all of it."""
        fault = (place, found, wanted)
        if fault in self._lines:
            self._lines[fault].append(line)
        elif len(self._lines) < MOST:
            self._lines[fault] = [line]
        else:
            self._untold.append(line)

    def complaints(self) -> tuple[Complaint, ...]:
        """In the order of the lines that they begin at."""
        ranked = sorted(self._lines.items(), key=lambda item: item[1][0])
        told = [self._complaint(lines, *fault) for fault, lines in ranked]
        if self._untold:
            found = f"{len(self._untold)} faults more, in {spans(sorted(set(self._untold)))}"
            told.append(Complaint(self._path, "", found, "those above mended first"))
        return tuple(told)

    def _complaint(self, lines: list[int], place: str, found: str, wanted: str) -> Complaint:
        first, *others = dict.fromkeys(lines)
        also = f" (and so in {spans(others)})" if others else ""
        return Complaint(self._path, f"line {first}{', ' if place else ''}{place}", found + also, wanted)


def spans(lines: Iterable[int]) -> str:
    """``line 3``, ``lines 3 and 5``, ``lines 3, 5 to 9 and 12``; of rising numbers, and at most so many of them."""
    numbers = list(lines)
    texts: list[str] = []
    told = 0
    for _, run in groupby(enumerate(numbers), lambda pair: pair[1] - pair[0]):
        row = [number for _, number in run]
        if len(texts) < _MOST_SPANS:
            texts += [f"{row[0]} to {row[-1]}"] if len(row) > 2 else map(str, row)
            told += len(row)
    if told < len(numbers):
        texts.append(f"{len(numbers) - told} more")
    listed = " and ".join(filter(None, [", ".join(texts[:-1]), texts[-1]]))
    return f"line{'s' if len(numbers) > 1 else ''} {listed}"


@lru_cache(256)
def meant(word: str, words: tuple[str, ...]) -> str:
    """`` (meant gate?)`` where a known word is near, else nothing."""
    close = difflib.get_close_matches(word.casefold(), words, n=1)
    return f" (meant {close[0]}?)" if close else ""


_BEFORE_A_PASSWORD = re.compile(r"(?<![0-9A-Fa-f:.])[^\s:/]+:(?!\d{1,5}\b|//)\S")


def telling(text: str) -> str:
    """A found value as a complaint repeats it, which it does not where a password may be in it."""
    if may_tell(text) or (_BEFORE_A_PASSWORD.search(text) and not _ADDRESS.fullmatch(text)):
        return "something that is not shown, as a password may be in it"
    return shown(text)


_ADDRESS = re.compile(r"\[?[0-9A-Fa-f:.-]+\]?(%\w+)?")
