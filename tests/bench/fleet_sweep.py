"""The joints of a sweep as they are: collect, judge and encode, many devices at a time over one wire, in one process.

Nothing is kept of a device but what is counted.
"""

import asyncio
import csv
import gc
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from netcheck.move import DeviceRef, Ports
from netcheck.probing import Probe, installed, provides
from netcheck.rehearsal.fleet import Expected, Held
from netcheck.standard import Standard, load_standard
from netcheck.sweeping.asking import NOT_OF_A_SWEEP, packed, swept_live
from netcheck.sweeping.outcome import Row, Swept
from netcheck.wire import Wire

LIMIT_S = 10.0
"""For one device, as on the command line."""


@dataclass
class Outcome:
    """What came of a sweep. Times are in seconds, ``cpu_s`` of the processor."""

    states: Counter[str] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)
    packed_octets: int = 0
    wall_s: float = 0.0
    cpu_s: float = 0.0

    @property
    def devices(self) -> int:
        return self.states.total()


class Sweep:
    """A sweep of a simulated fleet, by the Standard that goes with it."""

    def __init__(self, fleet: Held, probes: Sequence[Probe[Any]] | None = None) -> None:
        self.rows = list(rows_of(fleet.fleet_csv))
        self.standard: Standard = load_standard(fleet.standard)
        self._expected = fleet.expected
        self._probes = probes or [probe for probe in installed() if probe.name not in NOT_OF_A_SWEEP]
        self._provides = provides()

    async def run(self, rows: Sequence[Row], in_flight: int) -> Outcome:
        """Sweep the devices, so many at a time."""
        outcome, waiting = Outcome(), iter(rows)
        _spare_the_collector()
        wall, cpu = time.perf_counter(), time.process_time()
        async with Wire(sparing=True) as wire, asyncio.TaskGroup() as group:
            for _ in range(min(in_flight, len(rows))):
                group.create_task(self._work(waiting, wire, outcome))
        outcome.wall_s, outcome.cpu_s = time.perf_counter() - wall, time.process_time() - cpu
        return outcome

    async def _work(self, waiting: Iterator[Row], wire: Wire, outcome: Outcome) -> None:
        for row in waiting:
            swept = await swept_live(row, self.standard, self._probes, self._provides, wire, LIMIT_S)
            outcome.packed_octets += len(packed([swept]))
            outcome.states[swept.state or "none"] += 1
            if fault := fault_of(swept, self._expected[row.key]):
                outcome.faults.append(f"{row.new.host}: {fault}")


def fault_of(swept: Swept, expected: Expected) -> str:
    """What is wrong with an outcome; "" when nothing is. Whoever was read as another one is wrong, too."""
    if expected.kind == "ready" and swept.serial != swept.row.new.serial:
        return f"has serial number {swept.row.new.serial}, and was read as {swept.serial}"
    return expected.fault(swept.state, (each.id for each in swept.findings))


def rows_of(fleet_csv: Path) -> Iterator[Row]:
    """The rows of a list that the rehearsal wrote; a sweep's own reader is another matter."""
    with fleet_csv.open(encoding="utf-8", newline="") as file:
        for line, row in enumerate(csv.DictReader(file), 2):
            named = (each.split("=") for each in row["ports"].split())
            ports = Ports(**{service: int(port) for service, port in named})
            device = DeviceRef(row["new"], serial=row["serial"], mac=row["mac"], ports=ports)
            yield Row(f"{row['site']}/{row['new']}/", row["site"], device, line=line)


def _spare_the_collector() -> None:
    """What a process that sweeps owes itself: a device leaves hardly any garbage that is circular, and looking for it
    among everything that is in flight takes longer the more that is."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(10_000)
