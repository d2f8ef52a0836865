"""The values of one device to its Row. Stage: third of the fleet file; the same for spreadsheets, TOML and saved cases.

*The key* names a device in the store for as long as the store lives: site, host and queue. Each of the three is made
harmless before they are joined: composed (Unicode NFC), in one case (casefold, since neither host names nor queues nor
people keep to one), with one blank where there are several; then whatever would act in a path, in a terminal or as a
separator (a slash, a percent sign, what cannot be seen) is percent-encoded as in RFC 3986 s2.1. So two devices that are
different have different keys, and capitals or blanks that somebody mends do not make a new device of an old one. An
address is in its canonical form. A part of more than 200 characters is cut, and ends in a hash of all of it.
"""

import hashlib
import unicodedata
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TypeVar

from netcheck.gates import Gate
from netcheck.move import DEFAULT_SERVER, DeviceRef, Ports, QueueRef, device_ref
from netcheck.sweeping.fleet_cells import (
    COLUMNS,
    gate_of,
    mac_of,
    place_of,
    ports_of,
    profile_of,
    server_of,
)
from netcheck.sweeping.fleet_notes import Complain, Wrong, telling
from netcheck.sweeping.outcome import Row

_LONGEST_PART = 200
T = TypeVar("T")
Cells = Mapping[str, str]
"""The values that are not empty, by column, as `cleaned` gives them."""


def key_of(site: str, host: str, queue: str = "") -> str:
    """``harrow lane land-survey office/192.0.2.61/plans``; without a queue it ends in the slash."""
    return "/".join((_part(site), _part(host.removesuffix(".")), _part(queue)))


def _part(text: str) -> str:
    text = " ".join(unicodedata.normalize("NFC", text).casefold().split())
    if not (text.isprintable() and "/" not in text and "%" not in text):
        text = "".join(char if char.isprintable() and char not in "/%" else _encoded(char) for char in text)
    if len(text) > _LONGEST_PART:
        text = f"{text[:_LONGEST_PART]}~{hashlib.sha256(text.encode()).hexdigest()[:16]}"
    return text


def _encoded(char: str) -> str:
    return "".join(f"%{octet:02X}" for octet in char.encode("utf-8", "surrogatepass"))


class RowReader:
    """Makes the rows of one file, and knows which devices it has had."""

    def __init__(self, path: Path) -> None:
        self._folder = path.parent
        self._standards: dict[str, str | Wrong] = {}
        self._first: dict[str, int] = {}

    def row(self, cells: Cells, line: int, complain: Complain) -> Row | None:
        """The Row, or None after everything that is wrong with it was complained of."""
        reading = _Reading(cells, complain)
        if "new" not in cells:
            complain("new", "nothing", COLUMNS["new"])
        new = reading.taken("new", _device) if "new" in cells else None
        ports = reading.taken("ports", lambda _, text: ports_of(text)) or Ports()
        mac = reading.taken("mac", lambda _, text: mac_of(text)) or ""
        old = reading.taken("old", _device)
        server = reading.taken("server", lambda _, text: server_of(text)) or DEFAULT_SERVER
        gate = reading.taken("gate", lambda _, text: gate_of(text)) or Gate.STANDING
        profile = reading.taken("snmp", lambda _, text: profile_of(text)) or ""
        standard = reading.taken("standard", lambda _, text: self._standard(text)) or ""
        if new is None or reading.is_wrong:
            return None
        site, queue = cells.get("site", ""), cells.get("queue", "")
        if lacking := _lacking(gate, cells):
            complain("gate", f"{gate}, {lacking}", f"old and queue beside it, or {Gate.STANDING}")
            return None
        key = key_of(site, new.host, queue)
        if (first := self._first.setdefault(key, line)) != line:
            found = f"the same site, device and queue as in line {first}"
            complain("new", found, "one row each, or the site or queue that tells them apart")
            return None
        known = {name: cells.get(name, "") for name in ("serial", "asset")}
        new = _with(new, ports, mac=mac, **known)
        named = QueueRef(queue, server) if queue else None
        return Row(key, site, new, gate, old, named, standard, profile, cells.get("notes", ""), line)

    def _standard(self, text: str) -> str:
        """The path of a Standard that is there, looked for once."""
        if text not in self._standards:
            self._standards[text] = self._looked_for(text)
        found = self._standards[text]
        if isinstance(found, Wrong):
            raise Wrong(found.found, found.wanted)
        return found

    def _looked_for(self, text: str) -> str | Wrong:
        path = self._folder / text
        try:
            is_there, why = path.is_file(), "which is not there"
        except OSError as error:
            is_there, why = False, f"which cannot be looked at ({error.strerror or type(error).__name__})"
        return str(path) if is_there else Wrong(f"{telling(text)}, {why}", COLUMNS["standard"])


class _Reading:
    """One row as it is read: goes on after what is wrong, so that all of it is told."""

    def __init__(self, cells: Cells, complain: Complain) -> None:
        self._cells, self._complain = cells, complain
        self.is_wrong = False

    def taken(self, column: str, parse: Callable[[str, str], T]) -> T | None:
        """What ``parse`` makes of (column, value); None where there is none or it is wrong."""
        text = self._cells.get(column)
        if text is None:
            return None
        try:
            return parse(column, text)
        except Wrong as wrong:
            self.is_wrong = True
            self._complain(column, wrong.found, wrong.wanted)
            return None


def _device(column: str, text: str) -> DeviceRef:
    return device_ref(place_of(column, text))


def _with(ref: DeviceRef, ports: Ports, **known: str) -> DeviceRef:
    """What the row says of the device beside where it is; a port by itself wins over the URI's."""
    both = Ports(**{**ref.ports.named(), **ports.named()})
    return DeviceRef(ref.host, ref.path, ports=both, **known)


def _lacking(gate: Gate, cells: Cells) -> str:
    """What makes the question at this gate one that cannot be answered, whatever is seen; "" for nothing. A row that
    lacks only one of the two is judged: its verdict says what nobody looked at."""
    if gate in (Gate.STANDING, Gate.FILL) or "old" in cells or "queue" in cells:
        return ""
    return "with neither an old device nor a queue"
