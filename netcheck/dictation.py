"""What was typed at the desk while somebody read, back into the fields of a read-out. Stage: beside `readout`; pure.

People say *oh four five seven*, *four point seven*, *LS dash 2041* and *fifty-four*; what is typed is whatever was
heard. Each field takes what can only have meant one thing, and refuses the rest with what would be right.
"""

import re
from collections.abc import Callable
from typing import Final

from netcheck.gates import Gate
from netcheck.readout import CHECKS, COUNTED, LONGEST, NONE, TAIL, UNKNOWN, in_words
from netcheck.spoken import ALPHABET, WORDS, heard

_UNITS: Final = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
_TEENS: Final = tuple(f"{each}teen" for each in ("thir", "four", "fif", "six", "seven", "eigh", "nine"))
_TENS: Final = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
_SMALL: Final = {
    word: str(number) for number, word in enumerate((*_UNITS, "ten", "eleven", "twelve", *_TEENS))
} | dict.fromkeys(("oh", "o"), "0")
_LARGE: Final = re.compile(rf"\b({'|'.join(_TENS)})(?:[ -]+({'|'.join(_UNITS[1:])}))?\b")
_WORD: Final = re.compile(rf"\b({'|'.join(_SMALL)})\b")
_POINT: Final = re.compile(r"\s*\b(?:point|dot)\b\s*|\s*\.\s*")
_DASH: Final = re.compile(r"\s*\b(?:dash|hyphen|minus)\b\s*", re.IGNORECASE)


class NotHeardError(ValueError):
    """A field that cannot be what was read out: which, and what would be right."""

    def __init__(self, field: str, found: str, wanted: str) -> None:
        super().__init__(f"{field}: {found}; right would be {wanted}")
        self.field, self.found, self.wanted = field, found, wanted


def take(field: str, typed: str) -> str:
    """One field as it would have been printed. Raises NotHeardError."""
    text = " ".join(typed.split()).strip(" .,;")
    if not text:
        raise NotHeardError(field, "nothing", _WANTED[field])
    if len(text) > LONGEST and field not in _LONG:
        raise NotHeardError(field, f"{len(text)} characters", f"{_WANTED[field]}, {LONGEST} characters at most")
    if text.casefold() in {NONE, "no", "-"}:
        text = NONE
    try:
        return NONE if text == NONE and field != "counts" else _TAKEN[field](text)
    except ValueError as error:
        raise NotHeardError(field, str(error) or repr(text), _WANTED[field]) from error


def take_check(typed: str) -> str:
    """The three characters of the check, from characters or words. Raises NotHeardError."""
    words = {word.upper(): character for character, word in WORDS.items()}
    spaced = _DASH.sub(" ", typed).upper()
    text = "".join(words.get(each, each) for each in re.split(r"[\s,;.-]+", spaced))
    if len(text) != CHECKS or not set(text) <= set(ALPHABET):
        raise NotHeardError("check", repr(typed[:LONGEST]), f"three of {' '.join(ALPHABET)}, or their words")
    return text


def in_figures(text: str) -> str:
    """Numbers up to ninety-nine in words as figures, a point as a point; lower case."""

    def large(found: re.Match[str]) -> str:
        return str((_TENS.index(found[1]) + 2) * 10 + (_UNITS.index(found[2]) if found[2] else 0))

    figures = _WORD.sub(lambda found: _SMALL[found[1]], _LARGE.sub(large, text.casefold()))
    return _POINT.sub(".", figures)


def _gate(text: str) -> str:
    if text.casefold() not in set(Gate):
        raise ValueError
    return text.casefold()


def _blockers(text: str) -> str:
    plain = text.casefold()
    if plain == UNKNOWN or plain in COUNTED:
        return plain
    number = in_figures(plain)
    if not re.fullmatch(r"[0-9]{1,3}", number):
        raise ValueError
    return in_words(int(number))


def _findings(text: str) -> str:
    listed, more, rest = re.sub(r"[,;]", " ", in_figures(text)).partition("and")
    numbers = listed.split()
    if len(numbers) % 3 == 0 and all(re.fullmatch(r"[0-9]", each) for each in numbers):
        numbers = ["".join(numbers[at : at + 3]) for at in range(0, len(numbers), 3)]
    if not numbers or not all(re.fullmatch(r"[1-9][0-9]{2}", each) for each in numbers):
        raise ValueError
    if more and not re.fullmatch(r" *[1-9][0-9]?( more)? *", rest):
        raise ValueError
    return " ".join([*numbers, *([f"and {rest.split()[0]} more"] if more else [])])


def _serial(text: str) -> str:
    tail = "".join(filter(str.isalnum, in_figures(text))).upper()
    if not 1 <= len(tail) <= TAIL:
        raise ValueError
    return tail


def _address(text: str) -> str:
    number = "".join(in_figures(text).split())
    if not re.fullmatch(r"[0-9a-f]{1,4}", number):
        raise ValueError
    return number


def _counts(text: str) -> str:
    figures = in_figures("0" if text == NONE else text)
    counts = re.findall(r"[0-9]{1,4}", figures)
    if len(counts) != 4 or re.search(r"[^0-9 ,;/]", figures):
        raise ValueError
    return " ".join(str(int(each)) for each in counts)


_LONG: Final = {"code", "counts", "findings"}
_TAKEN: Final[dict[str, Callable[[str], str]]] = {
    "job": lambda text: _DASH.sub("-", text),
    "gate": _gate,
    "blockers": _blockers,
    "findings": _findings,
    "serial": _serial,
    "firmware": in_figures,
    "address": _address,
    "counts": _counts,
    "code": lambda text: heard(_DASH.sub(" ", text)),
}
_WANTED: Final = {
    "job": f"the job number, or {NONE}",
    "gate": f"one of {', '.join(Gate)}",
    "blockers": "none, unknown or how many",
    "findings": f"numbers of three digits, or {NONE}",
    "serial": f"the last {TAIL} of the serial number, or {NONE}",
    "firmware": f"the firmware's version, or {NONE}",
    "address": f"the last number of the address, or {NONE}",
    "counts": "four numbers: measured, on a person's word, to watch, missing",
    "code": f"ten characters or words, or {NONE}",
}
