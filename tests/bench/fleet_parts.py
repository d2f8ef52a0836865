"""Where the processor's time goes for one device of a sweep: milliseconds a device, by probe, step and rule.

    python tests/bench/fleet_parts.py [--devices 300] [--in-flight 256]

Linux, two cores. Each probe is asked of every device by itself, all alive, so its row has its share of the event loop;
the steps after it are timed on what one device said. All rows are from one run.
"""

import argparse
import asyncio
import gc
import os
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import fleet_sweep
import msgspec
from fleet_sweep import LIMIT_S, Sweep

from netcheck import judge as judging
from netcheck.case import Case, observation
from netcheck.collect import Recorder, collect, targets_of
from netcheck.document import canonical, evidence_of
from netcheck.evidence import EvidenceBase
from netcheck.facts import KINDS
from netcheck.gates import Gate
from netcheck.probing import NAMES_FIRST, Answer, Probe, installed, provides
from netcheck.rehearsal.fleet import Held, held_fleet
from netcheck.ruling import RULES, Rule
from netcheck.sweeping.asking import NOT_OF_A_SWEEP, packed, swept_of
from netcheck.wire import Wire

_TIMES = 40
_DEAREST = 10

Row = tuple[str, float]


def times(act: Callable[[], object], number: int = _TIMES) -> float:
    """Milliseconds of the processor for one call: the best of five."""
    act()
    best = float("inf")
    for _ in range(5):
        began = time.process_time()
        for _ in range(number):
            act()
        best = min(best, time.process_time() - began)
    return best / number * 1000


class _Kept:
    """A probe that keeps the payloads of another one."""

    def __init__(self, probe: Probe[Any]) -> None:
        self._probe, self.payloads = probe, list[Any]()

    def __getattr__(self, name: str) -> Any:
        return getattr(self._probe, name)

    async def ask(self, *told: Any) -> Any:
        async for reply in self._probe.ask(*told):
            if isinstance(reply, Answer):
                self.payloads.append(reply.payload)
            yield reply


async def collected(sweep: Sweep, probes: Sequence[Any], devices: int, in_flight: int) -> float:
    """Milliseconds of the processor to collect one device."""
    waiting = iter(sweep.rows[:devices])

    async def work(wire: Wire) -> None:
        for row in waiting:
            targets = targets_of(row.move(), sweep.standard, row.gate)
            await collect(targets, probes, Recorder(), LIMIT_S, wire)

    async with Wire(sparing=True) as wire:
        began = time.process_time()
        await asyncio.gather(*(work(wire) for _ in range(in_flight)))
        return (time.process_time() - began) / devices * 1000


async def by_probe(sweep: Sweep, devices: int, in_flight: int) -> list[Row]:
    probes = [probe for probe in installed() if probe.name not in NOT_OF_A_SWEEP]
    names = [probe for probe in probes if probe.wave == NAMES_FIRST]
    rows = []
    none = await collected(sweep, names, devices, in_flight)
    rows.append(("names", none))
    for probe in probes:
        if probe not in names:
            whole = await collected(sweep, [*names, probe], devices, in_flight)
            rows.append((f"{probe.name}, with reading and recording", whole - none))
    rows.append(("collect, all of them together", await collected(sweep, probes, devices, in_flight)))
    return rows


async def one(sweep: Sweep) -> tuple[Case, list[_Kept]]:
    probes = [_Kept(probe) for probe in installed() if probe.name not in NOT_OF_A_SWEEP]
    row, recorder = sweep.rows[0], Recorder()
    async with Wire(sparing=True) as wire:
        await collect(targets_of(row.move(), sweep.standard, row.gate), probes, recorder, LIMIT_S, wire)
    return recorder.case(row.move()), probes


def steps(sweep: Sweep, case: Case, probes: list[_Kept]) -> Iterator[Row]:
    facts = []
    for probe in probes:
        if probe.payloads:

            def read(probe: _Kept = probe) -> list[Any]:
                return [pair for payload in probe.payloads for pair in probe.read(payload)]

            facts += [(probe.name, source, fact) for source, fact in read()]
            yield f"read: {probe.name}", times(read)
    role, moment = case.observations[0].role, case.made_at
    yield (
        "record: plain values",
        times(lambda: [observation(role, name, source, moment, "", fact) for name, source, fact in facts]),
    )
    yield (
        "record: the same, through the veil",
        times(lambda: [Recorder().keep(role, name, source, moment, "", fact) for name, source, fact in facts]),
    )
    row, told = sweep.rows[0], provides()
    yield "judge", times(lambda: judging.judge(case, sweep.standard, Gate.STANDING, told))
    yield (
        "  facts made of values, once each",
        times(lambda: [msgspec.convert(each.value, KINDS[each.kind]) for each in case.observations]),
    )
    plain = evidence_of(case)
    yield "document: plain values of the case", times(lambda: evidence_of(case))
    yield "document: canonical form", times(lambda: canonical(plain))
    swept = swept_of(row, case, sweep.standard, told, 0, 0)
    yield "outcome, judged, with its evidence", times(lambda: swept_of(row, case, sweep.standard, told, 0, 0))
    yield "outcome, packed for whoever stores it", times(lambda: packed([swept]))


def by_rule(sweep: Sweep, case: Case) -> list[Row]:
    base = EvidenceBase(case, sweep.standard, provides())

    def asking(rule: Rule) -> Callable[[], object]:
        return lambda: list(judging._asked(rule, base))

    rows = [(f"  {rule.id}", times(asking(rule))) for rule in RULES.values() if rule.roles <= base.spoken]
    rows.sort(key=lambda row: -row[1])
    return [("rules, all of them", sum(row[1] for row in rows)), *rows[:_DEAREST]]


async def measured(fleet: Held, devices: int, in_flight: int) -> list[Row]:
    sweep = Sweep(fleet)
    await sweep.run(sweep.rows[:2], 1)  # what is asked for the first time is worked out, and not replayed
    fleet_sweep._spare_the_collector()
    rows = await by_probe(sweep, devices, in_flight)
    case, probes = await one(sweep)
    return [*rows, *steps(sweep, case, probes), *by_rule(sweep, case)]


def main() -> None:
    parser = argparse.ArgumentParser(description="Where the time of a sweep goes.")
    parser.add_argument("--devices", type=int, default=300, metavar="N")
    parser.add_argument("--in-flight", type=int, default=256, metavar="N")
    options = parser.parse_args()
    cores = sorted(os.sched_getaffinity(0))
    os.sched_setaffinity(0, cores[:1])
    with (
        tempfile.TemporaryDirectory(prefix="netcheck-") as folder,
        held_fleet(options.devices, Path(folder), alike=True, processes=1, cores=cores[-1:]) as fleet,
    ):
        rows = asyncio.run(measured(fleet, options.devices, options.in_flight))
    gc.collect()
    for name, cost in rows:
        print(f"{cost:8.3f}  {name}")


if __name__ == "__main__":
    main()
