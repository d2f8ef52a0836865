"""The fleet: which devices a sweep asks. Stage: first of the sweep; reads files, asks nobody.

A fleet file is a spreadsheet (CSV) or TOML, kept by people. What is wrong in a row costs that row and nothing else: the
others are asked tonight, and every complaint is there in the morning, with the file's own line and column.
"""

from collections.abc import Iterator
from pathlib import Path

import msgspec

from netcheck.case import Case
from netcheck.document import Document, load_document
from netcheck.errors import Complaint, InputError
from netcheck.gates import Gate
from netcheck.sweeping.fleet_csv import CsvFleet
from netcheck.sweeping.fleet_lines import lines_of
from netcheck.sweeping.fleet_notes import Notes
from netcheck.sweeping.fleet_row import RowReader, key_of
from netcheck.sweeping.fleet_toml import TomlFleet
from netcheck.sweeping.outcome import Row
from netcheck.tables import read_bounded

__all__ = ["MAX_BYTES", "MOST_CASES", "Fleet", "key_of", "load_fleet", "load_folder", "row_of"]

MAX_BYTES = 32 << 20
MOST_CASES = 200_000
_AS_CSV = 'the same saved as CSV ("CSV UTF-8" where there is a choice)'
_WORKBOOKS = {
    b"PK\x03\x04": "a workbook or another archive, which is no text",
    b"\xd0\xcf\x11\xe0": "a workbook of an old spreadsheet, which is no text",
    b"%PDF": "a PDF file, which is no text",
}


class Fleet(msgspec.Struct, frozen=True):
    """The rows that can be asked, in the file's order, and everything that is wrong with the file. ``refused`` counts
    the rows that are not among them for that."""

    rows: tuple[Row, ...]
    complaints: tuple[Complaint, ...]
    refused: int = 0


def load_fleet(path: Path) -> Fleet:
    """Read a fleet file: TOML by its suffix, else CSV. Raises InputError only where no row at all can be read: no file,
    too large, no text, no header."""
    reader = RowReader(path)
    if path.suffix.lower() == ".toml":
        toml = TomlFleet(path, reader)
        complaints = toml.read()
        return Fleet(tuple(toml.rows), complaints, toml.refused)
    data = read_bounded(path, MAX_BYTES, "fleet file")
    for magic, found in _WORKBOOKS.items():
        if data.startswith(magic):
            raise InputError(Complaint(str(path), "", found, _AS_CSV))
    notes = Notes(path)
    try:
        fleet = CsvFleet(str(path), lines_of(data, notes), reader, notes)
    except InputError:
        if b"\0" in data[:4096] and not data.startswith((b"\xff\xfe", b"\xfe\xff")):
            raise InputError(Complaint(str(path), "", "octets that are no text", _AS_CSV)) from None
        raise
    fleet.read()
    return Fleet(tuple(fleet.rows), notes.complaints(), fleet.refused)


def load_folder(folder: Path) -> Iterator[tuple[Path, Case, Document] | Complaint]:
    """The saved cases of a folder, ``*.json``, the newest file first. Of several of one device (`row_of`) the first is
    given, and the others are complaints, as is whatever cannot be read, leads out of the folder, or is no file. Raises
    InputError, before the first is asked for, where there is no such folder."""
    try:
        root = folder.resolve(strict=True)
        paths = [each for each in root.iterdir() if each.suffix.lower() == ".json" and not each.name.startswith(".")]
    except (OSError, RuntimeError) as error:  # RuntimeError: a loop of links, before Python 3.13
        found = getattr(error, "strerror", None) or str(error)
        raise InputError(Complaint(str(folder), "", found, "a folder of saved cases")) from None
    return _cases(folder, root, sorted(paths, key=_newest_first))


def _newest_first(path: Path) -> tuple[int, str]:
    try:
        return (-path.stat().st_mtime_ns, path.name)
    except (OSError, RuntimeError):
        return (0, path.name)


def _cases(folder: Path, root: Path, paths: list[Path]) -> Iterator[tuple[Path, Case, Document] | Complaint]:
    first: dict[str, Path] = {}
    for inside in paths[:MOST_CASES]:
        path = folder / inside.name
        if found := _not_a_file_of(root, inside):
            yield Complaint(str(path), "", found, "a saved case in this folder")
            continue
        try:
            case, document = load_document(path)
            key = row_of(case, document).key
        except InputError as error:
            yield from (Complaint(str(path), each.key, each.found, each.wanted) for each in error.complaints)
            continue
        if (newer := first.setdefault(key, path)) != path:
            yield Complaint(
                str(path), "move", f"the same device as in {newer.name}, which is newer", "one case a device"
            )
            continue
        yield path, case, document
    if len(paths) > MOST_CASES:
        yield Complaint(str(folder), "", f"{len(paths)} cases", f"at most {MOST_CASES}; the oldest were not read")


def _not_a_file_of(root: Path, path: Path) -> str:
    try:
        real = path.resolve(strict=True)
    except (OSError, RuntimeError) as error:
        return getattr(error, "strerror", None) or "a link that leads nowhere"
    if not real.is_relative_to(root):
        return "a link that leads out of the folder"
    return "" if real.is_file() else "something that is no file"


def row_of(case: Case, document: Document) -> Row:
    """The Row of a saved case, ``line`` 0: with the key that a fleet file gives to the same site, device and queue. A
    case that was made at gate ``standing`` has no queue in it, so that its key has none either. Raises InputError for
    a case without a new device."""
    move = case.move
    new = move.new or move.device
    if new is None or not (new.host or new.serial):
        raise InputError(Complaint("", "move", "no new device", "a case of a new device, or of one by itself"))
    site = " ".join(move.site.split())
    return Row(
        key=key_of(site, new.host or new.serial, move.queue.name if move.queue else ""),
        site=site,
        new=new,
        gate=document.gate or Gate.STANDING,
        old=move.old,
        queue=move.queue,
        snmp_profile=move.snmp_profile,
    )
