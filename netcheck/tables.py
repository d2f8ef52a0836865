"""Reading TOML with every complaint at once. Stage: before Move and Standard.

A typed decoder stops at the first fault; a technician with one visit wants all of them. So each key is read by a method
that notes what is wrong and goes on with the default, and `Document.finish` raises if anything was noted. A key that
nobody asked for is a complaint too: a misspelt requirement must not silently be no requirement.

A complaint repeats what it found, but for what may be a secret in the wrong place: anything about SNMP, a URI with a
user or password in it, and in a document that is `Document.secretive` every value that is not known to be harmless.
"""

import difflib
import ipaddress
import re
import tomllib
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TypeVar

from netcheck.errors import Complaint, InputError
from netcheck.secret import may_tell, without_userinfo

MAX_BYTES = 1 << 20
NOT_SHOWN = "something else (not shown: it may be a secret)"
_LARGEST = 2**53 - 1
T = TypeVar("T")


class Document:
    """One TOML file and what is wrong with it. One whose values may be secrets by mistake says by a pattern which of
    them are ``harmless``."""

    def __init__(self, path: Path, harmless: re.Pattern[str] | None = None) -> None:
        self.path, self.harmless = path, harmless
        self.complaints: list[Complaint] = []
        self.root = Table(self, "", _load(path, secretive=self.secretive))

    @property
    def secretive(self) -> bool:
        """May any of its values be a secret?"""
        return self.harmless is not None

    def finish(self) -> None:
        """Raise InputError if anything was noted while the document was read."""
        self.root.refuse_unread()
        if self.complaints:
            raise InputError(*self.complaints)


def read_bounded(path: Path, limit: int, what: str) -> bytes:
    """The bytes of an input file. Raises InputError where it is missing, unreadable or larger than ``limit``."""
    try:
        with path.open("rb") as file:
            data = file.read(limit + 1)
    except OSError as error:
        raise InputError(Complaint(str(path), "", error.strerror or str(error), f"a readable {what}")) from error
    if len(data) > limit:
        raise InputError(Complaint(str(path), "", f"more than {limit} bytes", f"a {what} of at most {limit} bytes"))
    return data


def _load(path: Path, *, secretive: bool) -> dict[str, object]:
    try:
        return tomllib.loads(read_bounded(path, MAX_BYTES, "TOML file").decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        complaint = Complaint(str(path), "", f"octet {error.object[error.start]:#04x} at {error.start}", "UTF-8 text")
        raise InputError(complaint) from error
    except (ValueError, RecursionError) as error:  # not only its own: a number of 5,000 digits is Python's ValueError
        # What the parser says ends in where it is; before that may stand a key as it was written.
        where = _POSITION.search(str(error)) if secretive else None
        told = (where[0] if where else "not shown: it may be a secret") if secretive else f"({error})"
        raise InputError(Complaint(str(path), "", f"TOML that cannot be read {told}", "valid TOML 1.0")) from None


_POSITION = re.compile(r"\(at [a-z0-9, ]+\)$")


def shown(value: object) -> str:
    """A found value as a complaint shows it."""
    if isinstance(value, dict) or (isinstance(value, list) and any(isinstance(item, dict) for item in value)):
        return "a table" if isinstance(value, dict) else "a list of tables"
    text = {True: "true", False: "false"}.get(value) if isinstance(value, bool) else repr(value)
    if text and may_tell(text):
        return "something that is not shown, as a password may be in it"
    return text if text and len(text) <= 80 else f"{str(text)[:77]}..."


class Table:
    """One table of a document. Every method reads one key; ``None`` (or nothing) means that it is not there."""

    def __init__(self, document: Document, name: str, values: dict[str, object]) -> None:
        self._document, self._name, self._values = document, name, values
        self._read: list[str] = []
        self._children: list[Table] = []

    def __bool__(self) -> bool:
        return bool(self._values)

    def has(self, key: str) -> bool:
        """Is there anything at ``key``, right or wrong?"""
        return key in self._values

    def complain(self, key: str, found: str, wanted: str) -> None:
        """Note one thing that is wrong with ``key``."""
        place = f"[{self._name}] {key}".strip() if self._name else key
        self._document.complaints.append(Complaint(str(self._document.path), place, found, wanted))

    @property
    def _is_secretive(self) -> bool:
        return self._document.secretive or "snmp" in self._name.split(".")

    def _shown(self, key: str, value: object) -> str:
        """A found value, unless it may be a secret in the wrong place."""
        if not self._is_secretive and key != "snmp":
            return shown(value)
        harmless = self._document.harmless
        return shown(value) if harmless and harmless.fullmatch(str(value)) else NOT_SHOWN

    def _get(self, key: str) -> object | None:
        if key not in self._read:
            self._read.append(key)
        return self._values.get(key)

    def text(self, key: str, wanted: str = "text") -> str:
        """A string without control characters; "" when absent."""
        value = self._get(key)
        if value is None:
            return ""
        if isinstance(value, str) and value.isprintable() and value.strip():
            if without_userinfo(value) == value or self._is_secretive:
                return value.strip()
            self.complain(key, "a URI with a user or password in it, which would end up in reports", wanted)
            return ""
        self.complain(key, self._shown(key, value), wanted)
        return ""

    def parsed(self, key: str, parse: Callable[[str], T], wanted: str) -> T | None:
        """A string that ``parse`` accepts; it raises ValueError for one that it does not."""
        text = self.text(key, wanted)
        if not text:
            return None
        try:
            return parse(text)
        except ValueError:
            self.complain(key, self._shown(key, text), wanted)
            return None

    def hidden(self, key: str, parse: Callable[[str], T], wanted: str) -> T | None:
        """The same where a secret may stand by mistake: a complaint says that something is wrong, and never what."""
        value = self._get(key)
        if value is None:
            return None
        try:
            if isinstance(value, str):
                return parse(value.strip())
        except ValueError:
            pass
        self.complain(key, NOT_SHOWN, wanted)
        return None

    def choice(self, key: str, choices: Iterable[str], default: str = "") -> str:
        """One of a closed list of words."""
        words = list(choices)
        text = self.text(key, " or ".join(words))
        if text and text not in words:
            self.complain(key, self._shown(key, text), " or ".join(words) + _meant(text, words))
            return default
        return text or default

    def flag(self, key: str) -> bool | None:
        """true or false."""
        value = self._get(key)
        if value is None or isinstance(value, bool):
            return value
        self.complain(key, self._shown(key, value), "true or false")
        return None

    def integer(self, key: str, low: int, high: int = _LARGEST) -> int | None:
        """A whole number from ``low`` to ``high``."""
        value = self._get(key)
        if value is None or (isinstance(value, int) and not isinstance(value, bool) and low <= value <= high):
            return value
        self.complain(key, self._shown(key, value), f"a whole number from {low} to {high}")
        return None

    def micrometres(self, key: str) -> int | None:
        """A length in millimetres, whole or decimal, as whole micrometres."""
        value = self._get(key)
        if value is None:
            return None
        if isinstance(value, int | float) and not isinstance(value, bool) and 0 < value <= 1_000_000:
            return round(value * 1000)
        self.complain(key, self._shown(key, value), "a length in millimetres, as 914.4")
        return None

    def words(self, key: str, choices: Iterable[str] | None = None, wanted: str = "words") -> tuple[str, ...]:
        """A list of strings, of a closed list where ``choices`` are given."""
        value = self._get(key)
        if value is None:
            return ()
        allowed = list(choices) if choices is not None else None
        if not isinstance(value, list):
            self.complain(key, self._shown(key, value), f"a list, as {(allowed or ['word'])[:2]}")
            return ()
        for item in value:
            if not isinstance(item, str) or not item.strip() or (allowed is not None and item not in allowed):
                options = f"any of {', '.join(allowed)}{_meant(str(item), allowed)}" if allowed else wanted
                self.complain(key, self._shown(key, item), options)
        return tuple(item for item in value if isinstance(item, str) and (allowed is None or item in allowed))

    def table(self, key: str) -> "Table":
        """A sub-table; an empty one when absent."""
        value = self._get(key)
        if value is not None and not isinstance(value, dict):
            self.complain(key, self._shown(key, value), f"a table, as [{key}]")
        return self._child(key, value if isinstance(value, dict) else {})

    def named(self) -> dict[str, "Table"]:
        """Every key of this table, each as a sub-table: where the names are the user's own."""
        return {key: self.table(key) for key in self._values}

    def tables(self, key: str) -> list["Table"]:
        """An array of tables."""
        value = self._get(key)
        if value is None:
            return []
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            self.complain(key, self._shown(key, value), f"tables, each as [[{key}]]")
            return []
        return [self._child(f"{key} {number}", item) for number, item in enumerate(value, 1)]

    def _child(self, key: str, values: dict[str, object]) -> "Table":
        child = Table(self._document, f"{self._name}.{key}" if self._name else key, values)
        self._children.append(child)
        return child

    def refuse_unread(self) -> None:
        """Complain of every key that nobody asked for, with the known key that it may have been meant to be."""
        for key in self._values:
            if key not in self._read:
                known = ", ".join(self._read)
                name = key if not self._is_secretive or _WORD.fullmatch(key) else "(a key that is not shown)"
                self.complain(name, "a key that is not known", f"one of {known}{_meant(key, self._read)}")
        for child in self._children:
            child.refuse_unread()


_WORD = re.compile(r"[a-z]+(_[a-z]+)*")


def _meant(word: str, words: list[str]) -> str:
    close = difflib.get_close_matches(word, words, n=1)
    return f" (meant {close[0]}?)" if close else ""


def parse_mac(text: str) -> str:
    """A MAC address as twelve hex digits with colons, dashes, dots or nothing between: lower case with colons."""
    digits = text.lower().translate({ord(mark): None for mark in ":-. "})
    if len(digits) != 12 or not all(digit in "0123456789abcdef" for digit in digits):
        raise ValueError(text)
    return ":".join(digits[i : i + 2] for i in range(0, 12, 2))


def parse_address(text: str) -> str:
    """A literal IPv4 or IPv6 address in its canonical form."""
    return str(ipaddress.ip_address(text))


def parse_subnet(text: str) -> str:
    """A network with its prefix length, no host bits set."""
    if "/" not in text:
        raise ValueError(text)
    return str(ipaddress.ip_network(text))
