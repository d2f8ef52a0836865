"""Names and numbers on plates: what they become. Stage: one value in, one value out, the same one every time.

A name becomes a word that can be said over the phone (``host-kibudoza``); a serial number or an asset tag becomes one
of the same shape, since its shape (letters, digits, dashes) is the maker's and tells what was misread. Both hold what
the rules compare: spellings that are equal without regard to case stay equal, and different ones stay different.
"""

from collections.abc import Callable
from itertools import count

from netcheck.redaction.keyed import Key

_CONSONANTS, _VOWELS = "bdfghjklmnprstvz", "aeiou"
_SYLLABLES = 4
_PATIENCE = 64
"""Draws after which a value may fall on another one's original: there are only ten serial numbers of one digit."""
_LAST_DRAW = 10_000


def canonical_serial(text: str) -> str:
    """What makes two spellings of a serial number one: no regard to case, blanks and punctuation."""
    return "".join(char.casefold() for char in text if char.isalnum())


class Serials:
    """Serial numbers, asset tags, jacks: letters become letters, digits digits, everything else stays."""

    def __init__(self, key: Key, originals: set[str]) -> None:
        self._key = key
        self._originals = dict.fromkeys(sorted({canonical_serial(each) for each in originals}))
        self._made: dict[str, str] = {}
        self._taken: set[str] = set()

    def knows(self, text: str) -> bool:
        """Is it a serial number of this case, however it is spelled?"""
        return canonical_serial(text) in self._originals

    def replaced(self, text: str) -> str:
        """The same shape, case and length, other letters and digits."""
        new = iter(self._new(canonical_serial(text)))
        return "".join(_cased(char, [next(new) for _ in char.casefold()]) if char.isalnum() else char for char in text)

    def tail(self, text: str) -> str | None:
        """What the end of a known serial number becomes: machines announce themselves by it."""
        end = canonical_serial(text)
        whole = next((each for each in self._originals if len(end) >= 4 and each.endswith(end)), None)
        if whole is None or len(end) != len(text):
            return None
        new = self._new(whole)[-len(end) :]
        return "".join(_cased(char, [other]) for char, other in zip(text, new, strict=True))

    def _new(self, canonical: str) -> str:
        if canonical not in self._made:
            self._made[canonical] = self._draw(canonical)
        return self._made[canonical]

    def _draw(self, canonical: str) -> str:
        drawn = ""
        for draw in range(_LAST_DRAW if canonical else 0):
            numbers = self._key.digits("serial", canonical, draw)
            drawn = "".join(_like(char, number) for char, number in zip(canonical, numbers, strict=False))
            if drawn not in self._taken and (drawn not in self._originals or draw >= _PATIENCE):
                break
        self._taken.add(drawn)
        return drawn


def _like(char: str, number: int) -> str:
    if char.isascii() and char.isdigit():
        return str(number % 10)
    return chr(ord("a") + number % 26)


def _cased(char: str, new: list[str]) -> str:
    text = "".join(new)
    return text.upper() if char.isupper() else text


class Names:
    """Words for names. What it has made is what free text is searched for."""

    def __init__(self, key: Key, serial: Callable[[str], str | None]) -> None:
        self._key, self._serial = key, serial
        self._made: dict[str, str] = {}
        self._taken: set[str] = set()
        self._spelled: dict[str, str] = {}
        self._spellings: set[str] = set()

    @property
    def known(self) -> dict[str, str]:
        """Every name so far as it was spelled, with what it became."""
        return self._spelled

    def replaced(self, text: str, word: str = "name") -> str:
        """A word for a name, in small letters or capitals as the name is; blanks around it stay."""
        core = text.strip()
        if not core:
            return text
        if core not in self._spelled:
            self._spelled[core] = self._serial(core) or self._spell(core, word)
        start = text.index(core)
        return f"{text[:start]}{self._spelled[core]}{text[start + len(core) :]}"

    def _spell(self, core: str, word: str) -> str:
        canonical = core.casefold()
        made = self._made.get(canonical)
        if made is None:
            made = self._made[canonical] = self._draw(canonical, word)
        if core == core.lower():
            return made
        if core == core.upper():
            return made.upper()
        spelled = next(each for each in self._capitals(made, core) if each not in self._spellings)
        self._spellings.add(spelled)
        return spelled

    def _capitals(self, made: str, core: str) -> "map[str]":
        """Some letters large, some small: one spelling for each spelling of the original."""

        def spelled(draw: int) -> str:
            if draw == 0:
                return made.capitalize()
            bits = self._key.number("capitals", core, len(made), draw)
            return "".join(char.upper() if bits >> at & 1 else char for at, char in enumerate(made))

        return map(spelled, count())

    def _draw(self, canonical: str, word: str) -> str:
        for draw in count():
            number = self._key.number("name", canonical, 64, draw)
            syllables = []
            for _ in range(_SYLLABLES):
                number, consonant = divmod(number, len(_CONSONANTS))
                number, vowel = divmod(number, len(_VOWELS))
                syllables.append(_CONSONANTS[consonant] + _VOWELS[vowel])
            drawn = "".join(syllables)
            if drawn not in self._taken:
                self._taken.add(drawn)
                return f"{word}-{drawn}"
        raise AssertionError
