"""The code that is read over the phone. Stage: beside the saved document, whose seal carries it; pure, reads no clock.

A support desk wants to know that it looks at the very file that the technician sees. Reading 64 hexadecimal digits over
a bad line does not work, so the seal's hash becomes ten characters, 3-3-4, each of which is also a word.

*It proves integrity, not authorship*: equal codes say that two files are the same, whoever made them. There is no
secret in it, and ten characters are few enough for somebody determined to make another document with the same code.

**Alphabet.** Eleven characters, a prime number. Of every set that the eye or the ear confuses (by their names, should
somebody spell without the words) at most one is in. Seven is the only digit whose name has two syllables and no
neighbour among the rest.

**Length.** Eight characters are the hash modulo 11^8 = 214,358,881: 27.7 bits. Two documents share a code by chance
once in 214 million; among the 21 documents of a job with many visits, any two do so less than once in a million. Ten
words have at most 30 syllables: 7.5 s at an unhurried four a second, and two breaths.

**Check.** The last two characters are chosen so that, modulo 11 with places i = 1..10, both sum(c_i) and sum(i * c_i)
are 0. One wrong character, off by d, moves the first sum by d, which is not 0. Two wrong ones, off by d and e at places
i and j, would need d + e = 0 and i*d + j*e = 0, so (i - j) * d = 0; but neither factor is 0, and 11 is prime. Hence
every one or two wrong characters are caught, and with them every swap, of neighbours or not. With one check character
one would know that something is wrong; with the second also where to look, if it was a single slip.
"""

import re
from collections.abc import Iterator, Sequence
from itertools import accumulate, pairwise

WORDS = {
    "B": "Banana",
    "F": "Football",
    "H": "Hospital",
    "K": "Ketchup",
    "L": "Library",
    "M": "Magnet",
    "O": "October",
    "R": "Radio",
    "W": "Window",
    "Y": "Yesterday",
    "7": "Seven",
}
"""Character to spelling word. The order gives the characters their values, 0 to 10, and so must never change."""

ALPHABET = "".join(WORDS)
GROUPS = (3, 3, 4)
MAX_HEARD = 400  # ten words, each with a good deal of room around it

_PRIME = len(ALPHABET)
_LENGTH = sum(GROUPS)
_DATA = _LENGTH - 2
_ENDS = tuple(accumulate(GROUPS))
_CHARACTER = {word.upper(): character for character, word in WORDS.items()}
_HASH = re.compile(r"[0-9a-f]{64}")
_BREAK = re.compile(r"[-\u2010-\u2015,;/\r\n]+")  # between groups; a blank may stand between groups or characters
_GAP = re.compile(r"[-\u2010-\u2015,;/.:\s]+")

# What is not in the alphabet, and what it may be by eye. One: taken as that, for a wrong guess is one wrong character
# and so caught. More: asked again.
_MAY_BE = {
    "0": "O", "Q": "O", "D": "O", "8": "B", "3": "B", "E": "F", "I": "L", "P": "R", "X": "K",
    "1": "7L", "N": "HM", "V": "WY",
}  # fmt: skip


def code_of(whole_hex: str) -> str:
    """The code, such as ``BBB-BBB-BFYF``, of a document with this ``seal.whole`` (64 hexadecimal digits, lower case).

    It shows that two people look at the same file, not who made the file. Raises ValueError for what is no such hash.
    """
    if not _HASH.fullmatch(whole_hex):
        raise ValueError(f"{whole_hex[:80]!r} is not 64 hexadecimal digits in lower case")
    rest, values = int(whole_hex, 16), [0] * _DATA
    for place in reversed(range(_DATA)):
        rest, values[place] = divmod(rest, _PRIME)
    plain, weighted = _sums(values)
    last = (_DATA + 1) * plain - weighted  # the two equations, solved for the two places that are left
    return _grouped([*values, (-plain - last) % _PRIME, last % _PRIME])


def spoken(code: str) -> str:
    """The code as words, a comma between groups. Raises ValueError for what `heard` would refuse."""
    return ", ".join(" ".join(WORDS[each] for each in group) for group in heard(code).split("-"))


def heard(text: str) -> str:
    """The code as `code_of` writes it, from what somebody typed while listening.

    Case, blanks, hyphens and commas do not matter; each character may be its word; what only looks like one character
    of the alphabet is taken as that. That the code is sound proves neither that it belongs to a document (compare it)
    nor who made that. Raises ValueError: not a code, with the group in which to look and the reason.
    """
    if len(text) > MAX_HEARD:
        raise ValueError(f"{len(text)} characters of text are too long for a code of {_LENGTH} characters")
    groups = _as_grouped(text)
    known = len(groups) == len(GROUPS)
    read: list[list[str]] = []
    for number, group in enumerate(groups, 1):
        read.append([])
        for token in filter(None, _GAP.split(group.upper())):
            for found in _CHARACTER.get(token, token):
                at = number if known else _group(sum(map(len, read)))
                read[-1].append(_taken(found, token, at))
    characters = [each for group in read for each in group]
    if len(characters) != _LENGTH:
        raise ValueError(_miscounted([len(group) for group in read] if known else [], len(characters)))
    values = [ALPHABET.index(each) for each in characters]
    if not _fits(values):
        raise ValueError(_suspicion(values))
    return _grouped(values)


def _as_grouped(text: str) -> list[str]:
    """The groups as they were typed, if there are as many as a code has; else all in one."""
    groups = [each for each in _BREAK.split(text) if each.strip()]
    if len(groups) != len(GROUPS):
        groups = _GAP.sub(" ", text).split()
    return groups if len(groups) == len(GROUPS) else [text]


def _taken(found: str, token: str, group: int) -> str:
    """The character of the alphabet that was meant. Raises ValueError if that is not plain."""
    if found in WORDS:
        return found
    may_be = _MAY_BE.get(found, "")
    if len(may_be) == 1:
        return may_be
    what = repr(found) if len(token) == 1 else f"{found!r} in {token!r}"
    if may_be:
        raise ValueError(f"group {group}: {what} may be {' or '.join(may_be)}: ask for the word")
    raise ValueError(f"group {group}: {what} is in no code; the characters are {' '.join(ALPHABET)}, or their words")


def _miscounted(sizes: Sequence[int], total: int) -> str:
    """What to say of a code with too few or too many characters; ``sizes`` of its groups, if they are known."""
    wrong = [
        f"group {number} has {size} instead of {right}"
        for number, (size, right) in enumerate(zip(sizes, GROUPS, strict=False), 1)
        if size != right
    ]
    return "; ".join(wrong or [f"all groups together have {total} instead of {_LENGTH}"]) + " characters"


def _suspicion(values: Sequence[int]) -> str:
    """Where to look when the check fails. What would be right is not said: it is to be read again, not guessed."""
    places = list(_single_slips(values))
    if not places:
        return (
            "the check fails, by more than one slip: have groups " + _listed(range(1, len(GROUPS) + 1)) + " read again"
        )
    groups = sorted({_group(each) for slip in places for each in slip})
    again = f"the check fails: have group{'s' * (len(groups) > 1)} {_listed(groups)} read again"
    if len(places[0]) == 2:
        return f"{again}; if it is one slip, two neighbours there changed places"
    return f"{again}; if it is one slip, character {_within(places[0][0])} there is wrong"


def _single_slips(values: Sequence[int]) -> Iterator[tuple[int, ...]]:
    """The places at which one wrong character, or one swap of neighbours, would explain why the check fails.

    Never both kinds: a swap leaves the plain sum as it is, a wrong character does not.
    """
    plain, weighted = _sums(values)
    if plain:
        yield from ((place,) for place in range(_LENGTH) if (place + 1) * plain % _PRIME == weighted)
        return
    for first, second in pairwise(range(_LENGTH)):
        if (values[first] - values[second] + weighted) % _PRIME == 0:
            yield first, second


def _sums(values: Sequence[int]) -> tuple[int, int]:
    return sum(values) % _PRIME, sum(place * value for place, value in enumerate(values, 1)) % _PRIME


def _fits(values: Sequence[int]) -> bool:
    return _sums(values) == (0, 0)


def _group(place: int) -> int:
    """The number, from 1, of the group of a place, from 0. What is too much belongs to the last."""
    return next((number for number, end in enumerate(_ENDS, 1) if place < end), len(GROUPS))


def _within(place: int) -> int:
    """The place, from 1, inside its group."""
    group = _group(place)
    return place - (_ENDS[group - 1] - GROUPS[group - 1]) + 1


def _listed(numbers: Sequence[int]) -> str:
    *most, last = map(str, numbers)
    return f"{', '.join(most)} and {last}" if most else last


def _grouped(values: Sequence[int]) -> str:
    characters = "".join(ALPHABET[value] for value in values)
    return "-".join(characters[end - size : end] for size, end in zip(GROUPS, _ENDS, strict=True))
