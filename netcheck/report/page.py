"""Lines of at most 80 columns, understandable without colour. Stage: below the text reports."""

import textwrap
from collections.abc import Callable
from enum import StrEnum

import msgspec

from netcheck.report.safe import terminal

WIDTH = 80
LONGEST = 600


class Tone(StrEnum):
    """What colour may add to a word that is there anyway."""

    PLAIN = "plain"
    GOOD = "good"
    CARE = "care"
    BAD = "bad"
    HEAD = "head"
    FAINT = "faint"


Paint = Callable[[str, Tone], str]


class About(msgspec.Struct, frozen=True):
    """What a page tells of its answer: the Standard's name, when it was seen where that is not now, and the code of the
    file that holds it, "" where there is none."""

    standard: str = ""
    as_of: str = ""
    code: str = ""


NOTHING_ABOUT = About()


def unpainted(text: str, tone: Tone) -> str:  # noqa: ARG001 - the same shape as a painter that does
    """No colour."""
    return text


def clipped(text: str) -> str:
    """No more than a person reads: a device may call itself anything, at any length."""
    return text if len(text) <= LONGEST else f"{text[:LONGEST]}... ({len(text) - LONGEST} more characters)"


class Page:
    """Gathers lines. All text that comes in here is made harmless; colour is put on afterwards."""

    def __init__(self, paint: Paint) -> None:
        self._paint = paint
        self._lines: list[str] = []

    def head(self, text: str) -> None:
        """A heading with an empty line above it."""
        self._lines += ["", self._paint(terminal(text), Tone.HEAD)]

    def answer(self, word: str, rest: str, tone: Tone) -> None:
        """The first line."""
        self._lines.append(f"{self._paint(terminal(word), tone)}  {terminal(rest)}")

    def gap(self) -> None:
        """An empty line."""
        self._lines.append("")

    def text(self, text: str, indent: int = 0, tone: Tone = Tone.PLAIN) -> None:
        """A paragraph."""
        self.labelled("", text, indent, indent, tone)

    def labelled(self, label: str, text: str, indent: int, hang: int, tone: Tone = Tone.PLAIN) -> None:
        """A paragraph whose first line starts with a label, and whose others hang under its text."""
        lead = " " * indent + terminal(label)
        lines = textwrap.wrap(
            terminal(clipped(text)),
            WIDTH,
            initial_indent=f"{lead} " if label and len(lead) >= hang else lead.ljust(hang),
            subsequent_indent=" " * hang,
            break_on_hyphens=False,
        )
        self._lines += [self._paint(line, tone) for line in lines]

    def __str__(self) -> str:
        return "\n".join(self._lines) + "\n"
