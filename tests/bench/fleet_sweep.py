"""The sweep that is measured: collect, judge and encode, many devices at a time over one wire, in one process.

It goes through the joints as they are and keeps nothing of a device but what is counted.
"""

import asyncio
import gc
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

from fleet_faces import Face

from netcheck.case import Case
from netcheck.collect import Recorder, collect, targets_of
from netcheck.commands.telling import provides
from netcheck.document import Document, evidence_of
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.move import DeviceRef, Move, Ports
from netcheck.probing import installed
from netcheck.standard import Standard
from netcheck.verdict import State
from netcheck.wire import Wire

LIMIT_S = 10.0
"""For one device, as on the command line."""
NOT_OF_A_SWEEP = {"dnssd"}
"""Multicast ends at the site's edge: a sweep of many sites asks devices and listens to none."""

Seen = Counter[tuple[str, str, str]]
"""How often each probe told each kind of fact from each source."""


@dataclass
class Swept:
    """What came of a sweep. Times are in seconds, all but `wall_s` of the processor; `cpu_s` is the whole."""

    states: Counter[State] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)
    facts: int = 0
    saved_octets: int = 0
    wall_s: float = 0.0
    cpu_s: float = 0.0
    judge_s: float = 0.0
    encode_s: float = 0.0
    check_s: float = 0.0

    @property
    def devices(self) -> int:
        return self.states.total()

    @property
    def collect_s(self) -> float:
        return self.cpu_s - self.judge_s - self.encode_s - self.check_s


class Sweep:
    """A sweep by one Standard. `expected` is what every device has to be judged on, at the least."""

    def __init__(self, ports: dict[str, int], standard: Standard, expected: Seen) -> None:
        self._ports, self._standard, self._expected = Ports(**ports), standard, expected
        self._provides, self._probes = provides(), [probe for probe in installed() if probe.name not in NOT_OF_A_SWEEP]
        self._swept = Swept()

    async def run(self, faces: list[Face], in_flight: int) -> Swept:
        """Sweep the devices, so many at a time."""
        self._swept = swept = Swept()
        waiting = iter(faces)
        _spare_the_collector()
        wall, cpu = time.perf_counter(), time.process_time()
        async with Wire() as wire, asyncio.TaskGroup() as group:
            for _ in range(min(in_flight, len(faces))):
                group.create_task(self._work(waiting, wire))
        swept.wall_s, swept.cpu_s = time.perf_counter() - wall, time.process_time() - cpu
        return swept

    async def _work(self, waiting: Iterator[Face], wire: Wire) -> None:
        for face in waiting:
            device = DeviceRef(face.address, serial=face.serial, mac=face.mac, ports=self._ports)
            recorder, move = Recorder(), Move(device=device)
            await collect(targets_of(move, self._standard, Gate.STANDING), self._probes, recorder, LIMIT_S, wire)
            self._judge(face, recorder.case(move))

    def _judge(self, face: Face, case: Case) -> None:
        swept, began = self._swept, time.process_time()
        verdict = judge(case, self._standard, Gate.STANDING, self._provides)
        judged = time.process_time()
        saved = Document(evidence_of(case), Gate.STANDING, self._standard, verdict).encode()
        encoded = time.process_time()
        swept.states[verdict.state] += 1
        swept.facts += len(case.observations)
        swept.saved_octets += len(saved)
        swept.faults += self._faults(face, case, verdict.state)
        swept.judge_s += judged - began
        swept.encode_s += encoded - judged
        swept.check_s += time.process_time() - encoded

    def _faults(self, face: Face, case: Case, state: State) -> Iterator[str]:
        seen = Seen((item.probe, item.source, item.kind) for item in case.observations)
        if missing := self._expected - seen:
            yield f"{face.address} was judged without {', '.join(map(' '.join, missing))}"
        serials = {item.value["value"] for item in case.observations if item.kind == "serial"}
        if serials - {face.serial}:
            yield f"{face.address} has serial number {face.serial} and was read as {serials}"
        if state is not State.READY:
            yield f"{face.address} is {state}: " + "; ".join(
                f"{each.probe} {each.target} {each.outcome} {each.reason}"
                for each in case.attempts
                if each.outcome != "answered"
            )


def _spare_the_collector() -> None:
    """What a process that sweeps owes itself: a device leaves hardly any garbage that is circular, and looking for it
    among everything that is in flight takes longer the more that is."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(10_000)
