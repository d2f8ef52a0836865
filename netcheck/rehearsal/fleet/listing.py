"""The files that lead to a simulated fleet, and what must come of each device in them."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from netcheck.rehearsal.device import Service
from netcheck.rehearsal.fleet.kinds import Behind
from netcheck.rehearsal.fleet.members import Member
from netcheck.rehearsal.site import standard_toml

FLEET, STANDARD = "fleet.csv", "standard.toml"
_COLUMNS = ("site", "new", "standard", "ports", "serial", "mac", "notes")
PortsBehind = Mapping[Behind, Mapping[Service, int]]
"""The port of a service, by what is behind it."""


@dataclass(frozen=True, slots=True)
class Expected:
    """What a device must come out as: its state, and among what is unmet or unproven the findings of these ids."""

    kind: str
    state: str
    findings: tuple[str, ...]

    def fault(self, state: str | None, against: Iterable[str]) -> str:
        """What is wrong with an outcome, given the ids of what is unmet or unproven in it; "" when nothing is."""
        found = list(dict.fromkeys(against))
        missing = [each for each in self.findings if each not in found]
        if state == self.state and not missing:
            return ""
        stated = f"{self.kind}: {self.state} was stated" + (f", for {', '.join(missing)}" if missing else "")
        return f"{stated}, and it came out as {state or 'nothing'}" + (f", for {', '.join(found)}" if found else "")


def key_of(each: Member) -> str:
    """The key of its row: site, host and queue; there is no queue."""
    return f"{each.site}/{each.address}/"


def expected_of(members: Iterable[Member]) -> dict[str, Expected]:
    """What must come of each, by the key of its row."""
    return {key_of(each): Expected(each.kind.name, each.kind.state, each.kind.findings) for each in members}


def write(members: Iterable[Member], ports: PortsBehind, folder: Path) -> tuple[Path, Path]:
    """Writes the fleet's list and the shipped Standard into a folder; returns the paths of both."""
    fleet, standard = folder / FLEET, folder / STANDARD
    standard.write_text(standard_toml(), "utf-8")
    with fleet.open("w", encoding="utf-8", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(_COLUMNS)
        for each in members:
            named = " ".join(f"{service}={port}" for service, port in ports_of(each, ports).items())
            rows.writerow((each.site, each.address, STANDARD, named, each.ordered_serial, each.mac, each.kind.meaning))
    return fleet, standard


def ports_of(each: Member, ports: PortsBehind) -> dict[Service, int]:
    """The ports of one device. Silence over SNMP is the service's own: a socket that nobody reads would lose datagrams,
    and the system counts those where it counts what a sweep loses."""
    behind = {**dict.fromkeys(ports[Behind.SERVICE], Behind.SERVICE), **each.kind.behind}
    if behind["snmp"] is Behind.SILENCE:
        behind["snmp"] = Behind.SERVICE
    return {service: ports[behind[service]][service] for service in ports[Behind.SERVICE]}
