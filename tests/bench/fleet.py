"""A sweep of a simulated fleet: collect and judge on one core, against a shell with the usual tools on the same core.

    python tests/bench/fleet.py [--devices 1000] [--in-flight 256]

Linux, two cores: the devices answer from a process on the other one. Machines differ and are noisy: the ratio is what
can be compared. Ends with 1 when a device was judged on less than ``netcheck read`` gives of one, came out other than
ready, was taken for another device, or was done what a reading tool must not do.

Every device is the same printer under an address, a serial number and a MAC address of its own (`fleet_faces`), judged
at gate ``standing`` by the shipped Standard and by its own work order. The devices answer at once, so what is measured
is processor time, not waiting.
"""

import argparse
import asyncio
import json
import os
import signal
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NoReturn

import fleet_shell
from fleet_faces import MOST, Face
from fleet_shell import Speed
from fleet_sweep import LIMIT_S, Seen, Sweep, Swept

from netcheck.rehearsal.site import standard_toml
from netcheck.standard import Standard, load_standard

GOAL = 12.0
BASELINE_DEVICES = 200
SHOWN_FAULTS = 5
PATIENCE_S, SLOWEST = 120, 5  # of the whole run: seconds, and one more for each so many devices
_CORES = 2
_HERE = Path(__file__).parent
_TOUCHED = ("raw_octets", "snmp_sets")


class Responder:
    """The simulated fleet, as seen from here."""

    def __init__(self, process: "subprocess.Popen[str]") -> None:
        self._process = process
        self._before: dict[str, int] = {}
        self.ports: dict[str, int] = self._line()

    def asked(self) -> dict[str, int]:
        """What it was asked since the last call; see `fleet_responder.Counted`."""
        assert self._process.stdin
        self._process.stdin.write("\n")
        self._process.stdin.flush()
        now: dict[str, int] = self._line()
        since = {name: number - self._before.get(name, 0) for name, number in now.items()}
        self._before = now
        return since

    def _line(self) -> Any:
        assert self._process.stdout
        return json.loads(self._process.stdout.readline())


@contextmanager
def responder(core: int) -> Iterator[Responder]:
    """The fleet's process on a core, ended whatever happens."""
    command = [sys.executable, str(_HERE / "fleet_responder.py"), str(core)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        try:
            yield Responder(process)
        finally:
            process.kill()


def single_read(face: Face, ports: dict[str, int]) -> Seen:
    """What ``netcheck read`` gives of one device."""
    options = [option for name, port in ports.items() for option in ("--port", f"{name}={port}")]
    command = [sys.executable, "-m", "netcheck", "read", face.address, *options, "--json"]
    ran = subprocess.run(command, stdout=subprocess.PIPE, check=True, timeout=4 * LIMIT_S)
    return Seen((item["probe"], item["source"], item["kind"]) for item in json.loads(ran.stdout)["observations"])


def shipped_standard() -> Standard:
    with tempfile.TemporaryDirectory(prefix="netcheck-") as folder:
        file = Path(folder) / "standard.toml"
        file.write_text(standard_toml(), "utf-8")
        return load_standard(file)


# --- what the system says


def lost_datagrams() -> int:
    """UdpRcvbufErrors of this network namespace: datagrams for which some socket had no room."""
    names, numbers = (line.split() for line in Path("/proc/net/snmp").read_text().splitlines() if line[:4] == "Udp:")
    return int(numbers[names.index("RcvbufErrors")])


def _memory_kib(key: str) -> int:
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith(f"{key}:"):
            return int(line.split()[1])
    raise AssertionError(key)


class Memory:
    """Growth of the resident memory from here to its peak."""

    def __init__(self) -> None:
        Path("/proc/self/clear_refs").write_text("5")  # proc(5): the peak starts again from what is resident now
        self._before = _memory_kib("VmRSS")

    def grown_kib(self) -> int:
        return _memory_kib("VmHWM") - self._before


# --- the run


@dataclass(frozen=True, slots=True)
class Run:
    """All that was measured. `lost` is UdpRcvbufErrors before and after the sweep, `grown_kib` at its peak."""

    swept: Swept
    asked: dict[str, int]
    grown_kib: int
    lost: tuple[int, int]
    baseline: Speed


def measure(fleet: Responder, devices: int, in_flight: int) -> Run:
    """Half of the baseline, the sweep, the other half: so a machine that gets slower hits both."""
    faces = [Face(number) for number in range(devices)]
    some = [face.address for face in faces[:BASELINE_DEVICES]]
    sweep = Sweep(fleet.ports, shipped_standard(), single_read(faces[0], fleet.ports))
    fleet_shell.sweep(some[:1], fleet.ports)  # what is asked for the first time is worked out, and not replayed
    asyncio.run(sweep.run(faces[:1], 1))
    baseline = fleet_shell.sweep(some[: len(some) // 2 or 1], fleet.ports)
    fleet.asked()
    memory, before = Memory(), lost_datagrams()
    swept = asyncio.run(sweep.run(faces, in_flight))
    asked, grown_kib, lost = fleet.asked(), memory.grown_kib(), (before, lost_datagrams())
    baseline += fleet_shell.sweep(some[len(some) // 2 :], fleet.ports)
    return Run(swept, asked, grown_kib, lost, baseline)


def faults(run: Run) -> list[str]:
    """What must not be."""
    touched = [f"the devices were sent {run.asked[name]} {name}" for name in _TOUCHED if run.asked[name]]
    return [*touched, *run.swept.faults]


def report(run: Run, in_flight: int) -> str:
    """The measurements in lines for a person."""
    swept, asked, shell = run.swept, run.asked, run.baseline
    devices, rate = swept.devices, swept.devices / swept.wall_s

    def milliseconds(seconds: float) -> str:
        return f"{seconds / devices * 1000:.2f}"

    whole_s = swept.collect_s + swept.judge_s + swept.encode_s
    parts = (
        f"collect {milliseconds(swept.collect_s)}, judge {milliseconds(swept.judge_s)},"
        f" encode {milliseconds(swept.encode_s)}"
    )
    states = ", ".join(f"{number} {state}" for state, number in swept.states.items())
    pdus, connections, posts = (asked[name] / devices for name in ("pdus", "connections", "ipp_requests"))
    lines = (
        f"netcheck  {rate:.1f} devices/s; CPU {milliseconds(whole_s)} ms a device: {parts}; {in_flight} in flight",
        f"shell     {shell.rate:.1f} devices/s; CPU {shell.cpu_ms:.2f} ms a device; {shell.devices} devices",
        f"ratio     {rate / shell.rate:.1f} times the shell, {shell.cpu_ms * devices / whole_s / 1000:.1f} times by"
        f" CPU (a whole sweep's goal: {GOAL:.0f})",
        f"verdicts  {states}; {swept.facts / devices:.1f} facts, {swept.saved_octets / devices / 1000:.1f} kB a device",
        f"asked     {pdus:.2f} SNMP PDUs, {posts:.2f} IPP requests, {connections:.1f} connections a device",
        f"replayed  all answers but {asked['worked_out']}",
        f"memory    {run.grown_kib // min(in_flight, devices)} KiB a device in flight, {run.grown_kib >> 10} MiB",
        f"lost      {run.lost[1] - run.lost[0]} datagrams for want of room (UdpRcvbufErrors {run.lost[0]} before,"
        f" {run.lost[1]} after), {asked['dropped']} of them by the fleet",
    )
    return "\n".join(lines)


def _out_of_time(_signal: int, _frame: object) -> NoReturn:
    raise TimeoutError("the benchmark is not done in time")


def main() -> int:
    parser = argparse.ArgumentParser(description="Sweep a simulated fleet, against a shell.")
    parser.add_argument("--devices", type=int, default=1000, choices=range(1, MOST + 1), metavar="N")
    parser.add_argument("--in-flight", type=int, default=256, choices=range(1, MOST + 1), metavar="N")
    options = parser.parse_args()
    cores = sorted(os.sched_getaffinity(0))
    if len(cores) < _CORES:
        sys.exit("two cores are needed: one for the fleet, one for whoever sweeps it")
    if missing := fleet_shell.missing():
        sys.exit(f"the baseline needs {', '.join(missing)}")
    os.sched_setaffinity(0, cores[:1])
    signal.signal(signal.SIGALRM, _out_of_time)
    signal.alarm(PATIENCE_S + options.devices // SLOWEST)
    with responder(cores[1]) as fleet:
        run = measure(fleet, options.devices, options.in_flight)
    print(report(run, options.in_flight))
    wrong = faults(run)
    for fault in wrong[:SHOWN_FAULTS]:
        print(f"WRONG: {fault}")
    if wrong:
        print(f"WRONG: {len(wrong)} faults")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
