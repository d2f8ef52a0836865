"""Free text: what in it is known, or looks like what names somebody, is replaced. Stage: the last walk.

One pass over a text, from left to right; at each place the longest known original wins, so that a site's name is not
taken apart for the queue's that stands in it, and a model's name, which is known as well and stays, is never cut into.
Names are found as whole words only (a queue ``Plans`` is not in ``plans-old``), and words of the trade never; serial
numbers are looked for beside a dash as well.
"""

import re
from collections import Counter
from collections.abc import Callable, Iterator
from urllib.parse import quote

Replace = Callable[[str], str]
USUAL_WORDS = frozenset[str]().union(
    ("printer", "plotter", "scanner", "print", "queue", "device", "local", "localhost", "default", "system", "office"),
    ("network", "old", "new", "here", "public", "raw", "ipp", "ipps", "lpd", "http", "https", "snmp", "resolver"),
    ("panel", "plate", "roll", "tray", "the", "and", "answer", "ready", "idle", "stopped", "address", "port", "host"),
    ("name", "state", "table", "page", "media", "supply", "ink", "test", "none", "unknown", "other", "standard"),
)
"""Names that could be anybody's: replaced where they are a name, left alone in a sentence."""
_WORD = re.compile(r"[0-9a-z]+")
_SHORTEST = 3
_SHORTEST_SERIAL = 5
_BEFORE, _AFTER = r"(?<![0-9A-Za-z])", r"(?![0-9A-Za-z])"
_PATTERNS = {
    "uri": r"\b(?:ipps?|https?|socket|lpd|dnssd|usb|smb|mdns)://[^\s,;)'\"<>]*[^\s,;.:)'\"<>]",
    "mail": rf"{_BEFORE}[\w.+-]+@[\w-]+(?:\.[\w-]+)+",
    "uuid": rf"{_BEFORE}[0-9a-f]{{8}}(?:-[0-9a-f]{{4}}){{3}}-[0-9a-f]{{12}}{_AFTER}",
    "mac": r"(?<![0-9A-Za-z:-])(?:(?:[0-9a-f]{1,2}:){5}[0-9a-f]{1,2}|(?:[0-9a-f]{2}-){5}[0-9a-f]{2}"
    r"|[0-9a-f]{4}\.[0-9a-f]{4}\.[0-9a-f]{4})(?![0-9A-Za-z]|[:-][0-9a-f])",
    "spaced": rf"{_BEFORE}(?:[0-9a-f]{{2}} ){{5}}[0-9a-f]{{2}}{_AFTER}",
    "six": r"(?<![0-9A-Za-z:.])(?:[0-9a-f]{0,4}:){2,7}[0-9a-f.]*(?<!\.)(?![0-9A-Za-z:])",
    "reverse": rf"{_BEFORE}(?:\d{{1,3}}\.){{4}}in-addr\.arpa|{_BEFORE}(?:[0-9a-f]\.){{32}}ip6\.arpa",
    "four": r"(?<!\d)(?<!\d\.)(?:\d{1,3}\.){3}\d{1,3}(?!\.?\d)",
    "host": r"(?<![\w.-])[0-9a-z](?:[\w-]*\.)+(?:local|lan|home|corp|internal|example|com|net|org|edu|gov)(?![\w-])"
    r"|(?<![\w.-])(?=[\w.-]*[a-z]{2}[\w-]*\.)(?:[0-9a-z][\w-]*\.){2,}[a-z]{2}(?![\w.-])",
    "digits": rf"{_BEFORE}(?:0x)?[0-9a-f]{{12,}}{_AFTER}",
}
_SERIAL = re.compile(
    rf"\b(?:s/n|sn|serial(?: (?:number|no\.?|#))?)[:= ]{{1,3}}((?=[a-z-]*\d)[0-9a-z][0-9a-z-]{{3,}}[0-9a-z]){_AFTER}",
    re.IGNORECASE,
)
"""A number that a text itself calls a serial number."""
_FOUND = re.compile("|".join(f"(?P<{name}>{pattern})" for name, pattern in _PATTERNS.items()), re.IGNORECASE)


def serials_in(text: str) -> list[str]:
    """What a text itself calls a serial number, as descriptions of devices and cartridges do."""
    return [found[1] for found in _SERIAL.finditer(text)]


def found_in(text: str) -> list[tuple[str, str]]:
    """Everything in a text that can be told by its form: what it is, and how it stands there."""
    return [(found.lastgroup or "", found[0]) for found in _FOUND.finditer(text)]


class Known:
    """Finds the originals that are known. Each is looked for only in a text that has the rarest of its words, so that
    thousands of names in a case cost no more than those that stand in a text."""

    def __init__(self, patterns: dict[str, str]) -> None:
        words = {original: _WORD.findall(original.lower()) for original in patterns}
        often = Counter(word for each in words.values() for word in set(each))
        self._by_word: dict[str, list[str]] = {}
        for original, its in words.items():
            self._by_word.setdefault(min(its, key=lambda word: (often[word], word), default=""), []).append(original)
        self._patterns = patterns
        self._compiled: dict[tuple[str, ...], re.Pattern[str]] = {}

    def pattern_for(self, text: str) -> re.Pattern[str] | None:
        """What to look for in a text, the longest first; None where nothing can be in it."""
        words = {"", *_WORD.findall(text.lower())}
        found = {original for word in words for original in self._by_word.get(word, ())}
        longest = tuple(sorted(found, key=lambda each: (-len(each), each)))
        if longest and longest not in self._compiled:
            self._compiled[longest] = re.compile("|".join(map(self._patterns.__getitem__, longest)), re.IGNORECASE)
        return self._compiled.get(longest)


class Text:
    """Replaces in free text. The originals are as they are spelled; ``words`` are parts of them, which are looked for
    in that spelling only; ``kept`` are models and versions."""

    def __init__(
        self,
        *,
        names: dict[str, str],
        words: dict[str, str],
        serials: dict[str, str],
        kept: set[str],
        by_form: dict[str, Replace],
    ) -> None:
        self._by_form = by_form
        self._new: dict[str, str] = {}
        self._alike: dict[str, str] = {}
        self._kept: set[str] = set()
        self._done: dict[str, str] = {}
        self._patterns: dict[str, str] = {}
        for text in kept:
            if len(text) >= _SHORTEST:
                self._patterns[text.lower()] = rf"{_BEFORE}{re.escape(text)}{_AFTER}"
                self._kept.add(text.lower())
        for serial, new in serials.items():
            for one, other in {serial: new, _squeezed(serial): _squeezed(new)}.items():
                if is_telling_serial(one):
                    self._add(one, other, rf"{_BEFORE}{re.escape(one)}{_AFTER}")
        for name, new in (*names.items(), *serials.items()):
            if _is_telling(name):
                for one, other in {name: new, quote(name, safe=""): quote(new, safe="")}.items():
                    self._add(one, other, rf"(?<![\w-]){re.escape(one)}(?![\w-])")
        for word, new in words.items():
            self._add(word, new, rf"(?<![\w-])(?-i:{re.escape(word)})(?![\w-])")
        self._known = Known(self._patterns)

    def _add(self, one: str, other: str, pattern: str) -> None:
        """What was added first holds: models and versions, so that they stay however they are spelled."""
        if one.lower() not in self._kept:
            self._patterns.setdefault(one.lower(), pattern)
            self._alike.setdefault(one.lower(), other)
            self._new.setdefault(one, other)

    def replaced(self, text: str) -> str:
        """The text as it may be shown to anybody."""
        if text not in self._done:
            self._done[text] = "".join(self._pieces(text))
        return self._done[text]

    def _renamed(self, original: str) -> str:
        if original.lower() in self._kept:
            return original
        return self._new.get(original) or self._alike.get(original.lower(), "(redacted)")

    def _pieces(self, text: str) -> Iterator[str]:
        known, at = self._known.pattern_for(text), 0
        by_name = known and known.search(text)
        by_form = _FOUND.search(text)
        while by_name or by_form:
            if by_name and (not by_form or by_name.start() <= by_form.start()):
                found, new = by_name, self._renamed(by_name[0])
            elif by_form:
                found, new = by_form, self._by_form[by_form.lastgroup or ""](by_form[0])
            yield text[at : found.start()] + new
            at = found.end()
            if by_name and by_name.start() < at:
                by_name = known and known.search(text, at)
            if by_form and by_form.start() < at:
                by_form = _FOUND.search(text, at)
        yield text[at:]


def _squeezed(text: str) -> str:
    return "".join(char for char in text if char.isalnum())


def is_telling_serial(text: str) -> bool:
    """Would it be noticed beside a dash? It has a digit, and is no port or count."""
    plain = _squeezed(text)
    return len(plain) >= (_SHORTEST_SERIAL + plain.isdecimal()) and any(map(str.isdecimal, plain))


def _is_telling(name: str) -> bool:
    """Would it be noticed in a sentence that is not about it? Numbers alone are ports and counts as well."""
    short = len(name) < _SHORTEST or (not any(char.isalpha() for char in name) and len(_squeezed(name)) < 2 * _SHORTEST)
    return not short and name.casefold() not in USUAL_WORDS
