"""A sweep of a simulated fleet, against a shell with the usual tools, in ratios from one run.

    python tests/bench/sweep.py [--devices 1000] [--sizes 100 1000 10000] [--in-flight 256]

Linux, two cores: the devices answer from a process on the other one. Machines differ and are noisy: the ratio is what
can be compared. Ends with 1 when a device came out other than the rehearsal states, was taken for another one, or was
done what a reading tool must not do.

First all alive, on one core: half of the shell's devices, the joints (collect, judge, outcome) in one process, the
whole ``netcheck sweep`` with its store, the other half: so a machine that gets slower hits all. Then the rehearsal's
mix, in which one device of twenty drops everything, in several sizes: what a device costs must not grow with the fleet,
nor memory. Whoever answers is on a core of its own, which the sweep on two cores has to share.
"""

import argparse
import asyncio
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import fleet_shell
from fleet_shell import Speed
from fleet_sweep import Outcome, Sweep

from netcheck.rehearsal.fleet import Held, held_fleet

GOAL, STRETCH = 12, 15
BASELINE_DEVICES = 200
SHOWN_FAULTS = 5
_CORES = 2
_TOUCHED = ("raw_octets", "snmp_sets")


@dataclass(frozen=True, slots=True)
class Ran:
    """One run of the whole command. Seconds by the clock and of the processor, of all its processes; `peak_mib` is that
    of the largest; `lost` are datagrams for which some socket had no room."""

    devices: int
    wall_s: float
    cpu_s: float
    peak_mib: int
    lost: int
    faults: tuple[str, ...]

    @property
    def speed(self) -> Speed:
        return Speed(self.devices, self.wall_s, self.cpu_s)


def command(fleet: Held, folder: Path, cores: Sequence[int]) -> Ran:
    """``netcheck sweep`` of a whole fleet into a new store, on these cores, with a worker on each."""
    store, told = folder / f"sweep-{time.monotonic_ns()}.db", folder / "told.jsonl"
    words = [sys.executable, "-m", "netcheck", "sweep", str(fleet.fleet_csv), "--standard", str(fleet.standard)]
    words += ["--store", str(store), "--workers", str(len(cores)), "--json", "--quiet"]
    here = os.sched_getaffinity(0)
    lost, began = lost_datagrams(), time.perf_counter()
    with told.open("wb") as out:
        os.sched_setaffinity(0, cores)
        process = subprocess.Popen(words, stdout=out)
        os.sched_setaffinity(0, here)
        _, _, used = os.wait4(process.pid, 0)
    wall_s = time.perf_counter() - began
    process.returncode = 0  # it was waited for above, which tells what it used
    faults = tuple(faults_of(told, fleet))
    return Ran(
        len(fleet.expected),
        wall_s,
        used.ru_utime + used.ru_stime,
        used.ru_maxrss >> 10,
        lost_datagrams() - lost,
        faults,
    )


def faults_of(told: Path, fleet: Held) -> list[str]:
    """Where the lines of a sweep differ from what the rehearsal states."""
    lines = {line["key"]: line for line in map(json.loads, told.read_text("utf-8").splitlines())}
    faults = [f"{key} is not there" for key in fleet.expected if key not in lines]
    for key, line in lines.items():
        if key not in fleet.expected:
            faults.append(f"{key} is nobody's")
        elif fault := fleet.expected[key].fault(line["state"], (each["id"] for each in line["findings"])):
            faults.append(f"{key} {fault}")
    return faults


def lost_datagrams() -> int:
    """UdpRcvbufErrors of this network namespace: datagrams for which some socket had no room."""
    names, numbers = (line.split() for line in Path("/proc/net/snmp").read_text().splitlines() if line[:4] == "Udp:")
    return int(numbers[names.index("RcvbufErrors")])


def touched(fleet: Held) -> list[str]:
    asked = fleet.answering.asked()
    dropped = [f"the fleet itself lost {asked['dropped']} datagrams"] if asked["dropped"] else []
    return [f"the devices were sent {asked[name]} {name}" for name in _TOUCHED if asked[name]] + dropped


def all_alive(devices: int, in_flight: int, mine: int, theirs: int) -> list[str]:
    """Prints the ratios; returns what was wrong."""
    with (
        tempfile.TemporaryDirectory(prefix="netcheck-") as folder,
        held_fleet(devices, Path(folder), alike=True, processes=1, cores=[theirs]) as fleet,
    ):
        sweep = Sweep(fleet)
        ports = {str(service): port for service, port in fleet.answering.ports.items()}
        some = [row.new.host for row in sweep.rows[:BASELINE_DEVICES]]
        fleet_shell.sweep(some[:1], ports)  # what is asked for the first time is worked out, and not replayed
        asyncio.run(sweep.run(sweep.rows[:1], 1))
        fleet.answering.asked()
        shell = fleet_shell.sweep(some[: len(some) // 2 or 1], ports)
        lost = lost_datagrams()
        joints = asyncio.run(sweep.run(sweep.rows, in_flight))
        lost = lost_datagrams() - lost
        whole = command(fleet, Path(folder), [mine])
        shell += fleet_shell.sweep(some[len(some) // 2 :], ports)
        faults = [*joints.faults, *whole.faults, *touched(fleet)]
    print(f"{f'{devices} devices, all alive, one core':48} devices/s  CPU ms a device  times the shell: rate    CPU")
    _row(f"shell ({shell.devices} devices)", shell, shell)
    _row(f"collect, judge and outcome, {in_flight} in flight", _speed(joints), shell)
    _row("netcheck sweep, stored, as a process", whole.speed, shell)
    print(f"goal {GOAL} times, stretch {STRETCH}; {joints.packed_octets // devices} octets a device to store")
    print(f"datagrams lost for want of room: {lost} and {whole.lost}\n")
    return faults


def _speed(outcome: Outcome) -> Speed:
    return Speed(outcome.devices, outcome.wall_s, outcome.cpu_s)


def _row(name: str, speed: Speed, shell: Speed) -> None:
    by_rate, by_cpu = speed.rate / shell.rate, shell.cpu_ms / speed.cpu_ms
    print(f"{name:48}{speed.rate:10.1f}{speed.cpu_ms:17.2f}{by_rate:23.1f}{by_cpu:7.1f}")


def mixed(sizes: Sequence[int], mine: int, theirs: int) -> list[str]:
    """Prints what fleets of these sizes cost; returns what was wrong."""
    faults: list[str] = []
    print(
        "the rehearsal's mix, one in twenty silent      seconds  devices/s  CPU ms a device  peak MiB  lost  as stated"
    )
    for devices in sizes:
        with (
            tempfile.TemporaryDirectory(prefix="netcheck-") as folder,
            held_fleet(devices, Path(folder), processes=1, cores=[theirs]) as fleet,
        ):
            for cores in ([mine], [mine, theirs]):
                ran = command(fleet, Path(folder), cores)
                right = devices - len(ran.faults)
                name = f"{devices} devices, {len(cores)} {'core' if len(cores) == 1 else 'cores'}"
                speed = f"{ran.wall_s:16.1f}{ran.speed.rate:11.1f}{ran.speed.cpu_ms:17.2f}"
                print(f"{name:34}{speed}{ran.peak_mib:10}{ran.lost:6}  {right} of {devices}", flush=True)
                faults += ran.faults
            faults += touched(fleet)
    return faults


def main() -> int:
    parser = argparse.ArgumentParser(description="Sweep a simulated fleet, against a shell.")
    parser.add_argument("--devices", type=int, default=1000, metavar="N")
    parser.add_argument("--in-flight", type=int, default=256, metavar="N")
    parser.add_argument("--sizes", type=int, nargs="*", default=[100, 1000, 10_000], metavar="N")
    options = parser.parse_args()
    cores = sorted(os.sched_getaffinity(0))
    if len(cores) < _CORES:
        sys.exit("two cores are needed: one for the fleet, one for whoever sweeps it")
    if missing := fleet_shell.missing():
        sys.exit(f"the baseline needs {', '.join(missing)}")
    os.sched_setaffinity(0, cores[:1])
    faults = all_alive(options.devices, options.in_flight, *cores[:2])
    faults += mixed(options.sizes, *cores[:2])
    for fault in faults[:SHOWN_FAULTS]:
        print(f"WRONG: {fault}")
    if faults:
        print(f"WRONG: {len(faults)} faults")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
