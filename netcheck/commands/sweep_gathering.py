"""Whom a sweep is to ask, and by which Standard: fleet file, folder and Standards, read before anybody is asked."""

from collections.abc import Callable, Iterable
from fnmatch import fnmatchcase
from pathlib import Path

import msgspec

from netcheck.case import alone
from netcheck.commands.sweep_asked import Asked
from netcheck.errors import Complaint, InputError
from netcheck.gates import Gate
from netcheck.probing import provides
from netcheck.roles import Role
from netcheck.standard import Standard, load_standard
from netcheck.sweeping.asking import swept_of
from netcheck.sweeping.fleet import Fleet, load_fleet, load_folder, row_of
from netcheck.sweeping.outcome import Row, Swept
from netcheck.sweeping.run import round_the_sites
from netcheck.sweeping.worker import Order, Plan


class Gathered(msgspec.Struct, frozen=True):
    """What is to be asked, what the sites have sent, what is wrong with either, and how many devices are left out for
    that. ``keys`` are all devices that the fleet is known to have, those that are left out for want of a Standard
    too."""

    plan: Plan
    orders: list[Order]
    saved: list[Swept]
    complaints: list[Complaint]
    refused: int
    keys: frozenset[str]


def gathered(asked: Asked, reads: Callable[[Iterable[Path]], None]) -> Gathered:
    """Read it all; ``reads`` is told which Standards the fleet names. Raises InputError, also where there is nobody to
    ask."""
    own = load_standard(asked.standard) if asked.standard else None
    fleet = load_fleet(asked.fleet) if asked.fleet else Fleet((), ())
    rows = [row for row in fleet.rows if _is_meant(row, asked.only)]
    reads(Path(row.standard) for row in rows if row.standard)
    standards, lacking = _standards(own, rows)
    places = {path: number for number, path in enumerate(standards)}
    orders = [Order(row, places[row.standard]) for row in round_the_sites(rows) if row.standard in places]
    folder = _Folder(asked, own)
    folder.read({row.key for row in rows})
    complaints = [*fleet.complaints, *lacking, *folder.complaints]
    if not orders and not folder.saved:
        example = next((row.key for row in fleet.rows), folder.example)
        raise InputError(*complaints, _nobody(asked, example))
    keys = frozenset([*(row.key for row in rows), *(swept.row.key for swept in folder.saved)])
    refused = fleet.refused + len(rows) - len(orders) + len(folder.complaints)
    return Gathered(Plan(tuple(standards.values()), asked.timeout), orders, folder.saved, complaints, refused, keys)


def _nobody(asked: Asked, example: str) -> Complaint:
    if asked.only and example:
        wanted = f"a site of the fleet, or a pattern of keys like {example!r}"
        return Complaint("command line", "--only", f"{asked.only!r}, so that there is nothing to ask", wanted)
    wanted = "a row for each device" if asked.fleet else "saved cases, *.json"
    return Complaint(str(asked.fleet or asked.folder), "", "nothing to ask", wanted)


def _standards(own: Standard | None, rows: Iterable[Row]) -> tuple[dict[str, Standard], list[Complaint]]:
    """By path, the run's own at "", and what is wrong with those that cannot be used."""
    standards, complaints = {"": own or Standard()}, list[Complaint]()
    for path in dict.fromkeys(row.standard for row in rows):
        if path not in standards:
            try:
                standards[path] = load_standard(Path(path))
            except InputError as error:
                complaints += error.complaints
    return standards, complaints


def _is_meant(row: Row, only: str) -> bool:
    return not only or fnmatchcase(row.key.casefold(), only.casefold()) or row.site.casefold() == only.casefold()


class _Folder:
    """The cases that sites have dropped, judged by the run's Standard, else by their own."""

    def __init__(self, asked: Asked, own: Standard | None) -> None:
        self._asked, self._own = asked, own
        self.saved: list[Swept] = []
        self.complaints: list[Complaint] = []
        self.example = ""

    def read(self, asked_live: set[str]) -> None:
        """All that are meant."""
        for item in load_folder(self._asked.folder) if self._asked.folder else ():
            if isinstance(item, Complaint):
                self.complaints.append(item)
                continue
            path, case, document = item
            row = row_of(case, document)
            self.example = self.example or row.key
            if row.key in asked_live:
                found = f"{row.key}, which the fleet file asks live"
                self.complaints.append(Complaint(str(path), "move", found, "one of them"))
            elif _is_meant(row, self._asked.only):
                whole = alone(case) if row.gate is Gate.STANDING and Role.DEVICE not in case.move.roles() else case
                standard = self._own or document.standard or Standard()
                evidence = document.evidence if whole is case else None
                self.saved.append(swept_of(row, whole, standard, provides(), case.made_at, 0, evidence))
