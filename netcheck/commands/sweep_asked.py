"""What the command line of ``netcheck sweep`` asks for, and which of it would be ignored: that is refused."""

from collections.abc import Iterable, Iterator
from pathlib import Path

import msgspec

from netcheck.errors import Complaint, InputError


class Asked(msgspec.Struct, frozen=True):
    """What the command line asks for, outputs apart. ``given`` names the options that somebody gave."""

    fleet: Path | None
    folder: Path | None
    standard: Path | None
    only: str
    timeout: float
    limit: float
    rate: int
    workers: int
    resume: bool
    nights: int
    keep: int
    fail_on: str
    given: frozenset[str] = frozenset()

    @property
    def asks(self) -> bool:
        """Is anybody to be asked? Else the last night is told again."""
        return self.fleet is not None or self.folder is not None


_OF_ASKING = ("only", "standard", "timeout", "limit", "rate", "workers", "resume", "keep")
_OF_STORE = ("resume", "nights", "keep")
_NOT_OF_CASE = ("fleet", "folder", *_OF_ASKING, "nights", "html", "csv", "metrics", "fail_on")
_CALLED = {"fleet": "FLEET", "folder": "--from", "nights": "--since", "fail_on": "--fail-on"}


def check_asked(asked: Asked, store: Path | None, case: str | None) -> None:
    """Raise InputError for every option that has nothing to act on: whoever gave it counts on it."""
    if complaints := list(_ignored(asked, store, case)):
        raise InputError(*complaints)


def _ignored(asked: Asked, store: Path | None, case: str | None) -> Iterator[Complaint]:
    if case is not None:
        yield from _each(asked, _NOT_OF_CASE, "--case, which only reads the store", "--store FILE --case KEY alone")
        return
    if not asked.asks and store is None:
        yield Complaint("command line", "FLEET.csv", "nothing to ask", "a fleet file, --from or --store")
        return
    if not asked.asks:
        yield from _each(asked, _OF_ASKING, "nobody to ask", "a fleet file or --from beside it")
    elif store is None:
        yield from _each(asked, _OF_STORE, "no store", "--store FILE beside it")


def _each(asked: Asked, names: Iterable[str], found: str, wanted: str) -> Iterator[Complaint]:
    for name in names:
        if name in asked.given:
            yield Complaint("command line", _CALLED.get(name, f"--{name}"), found, wanted)
