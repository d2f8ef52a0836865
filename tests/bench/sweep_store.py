"""The store of a sweep: what a device costs, how large the file gets, and how long the morning's question takes.

    python tests/bench/sweep_store.py [--devices 10000] [--nights 30] [--file FILE]

Every device is the one of `fixtures/cases/read.json` under an address, serial number and MAC of its own, of one of ten
models; every night its times, clocks, round trips, counters and levels are others. One in fifty has something wrong and
one in two hundred does not answer that night. Beside it stands the simplest thing that keeps the same evidence: zlib
alone, and a table of two columns. Ends with 1 where a goal is missed.
"""

import argparse
import random
import re
import resource
import sqlite3
import sys
import tempfile
import time
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path

import msgspec

from netcheck.document import canonical, load_document
from netcheck.move import DeviceRef
from netcheck.roles import Role
from netcheck.standard import Standard
from netcheck.sweeping.history import since
from netcheck.sweeping.outcome import Found, Row, Supply, Swept
from netcheck.sweeping.store import Store
from netcheck.verdict import Holds, Standing, State, Weight

CASE = Path(__file__).parents[2] / "fixtures" / "cases" / "read.json"
DAY_MS, BEGAN_MS = 86_400_000, 1_796_000_000_000
ADD_MS, SINCE_S = 1.0, 2.0
DEVICES_A_SITE, MODELS = 25, 10
_TIMES = re.compile(rb'("(?:at_ms|made_at)":)(\d+)')
_TOOK = re.compile(rb'("(?:took_ms|waited_ms)":)\d+')
_COUNTS = re.compile(rb'("(?:centiseconds|up_s|life_count|power_on_count|level)":)\d+')
_TRIPS = re.compile(rb'("round_trips_us":\[)[\d,]+')
_UUID = re.compile(rb"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")


class Device:
    """One device of the fleet through its nights."""

    def __init__(self, number: int, evidence: bytes) -> None:
        self.random = random.Random(number)
        self.model = f"Halden {36 + number % MODELS}R"
        self.serial = f"HX-{number:07d}"
        self.mac = "02:77:00:" + ":".join(f"{number >> shift & 255:02x}" for shift in (16, 8, 0))
        self.address = f"10.{number >> 16}.{number >> 8 & 255}.{number & 255}"
        site = f"Office {number // DEVICES_A_SITE}"
        self.row = Row(f"{site}/{self.address}/", site, DeviceRef(self.address), line=number + 2)
        self.supplies = [Supply(f"{colour} ink", self.random.randrange(101)) for colour in ("Cyan", "Magenta", "Black")]
        self._uuid = b"%032x" % self.random.getrandbits(128)
        self._case = evidence

    def _own(self) -> bytes:
        evidence = self._case
        for was, now in (
            (b"127.0.0.1", self.address),
            (b"192.0.2.61", self.address),
            (b"HX-77-0457", self.serial),
            (b"02:77:00:00:00:22", self.mac),
            (b"Halden 36R", self.model),
        ):
            evidence = evidence.replace(was, now.encode())
        return _UUID.sub(self._uuid, evidence)

    def swept(self, night: int, standard: Standard) -> Swept:
        at_ms = BEGAN_MS + night * DAY_MS + self.random.randrange(3_600_000)
        if self.random.randrange(200) == 0:
            found = (_found("services.reach", Holds.UNMET, "The device does not answer"),)
            return Swept(self.row, at_ms, 10_000, State.CANNOT_TELL, findings=found, address=self.address)
        wrong = self.random.randrange(50) == 0
        notes = (_found("services.closed", Holds.UNPROVEN, "ftp was not checked", Weight.NOTE, Standing.NOTE),)
        against = (_found("condition.media", Holds.UNMET, "Roll 1 is empty"),) if wrong else ()
        self.supplies = [msgspec.structs.replace(each, percent=self._left(each)) for each in self.supplies]
        return Swept(
            self.row,
            at_ms,
            self.random.randrange(300, 900),
            State.NOT_READY if wrong else State.READY,
            model=self.model,
            serial=self.serial,
            firmware="4.7.2",
            mac=self.mac,
            address=self.address,
            supplies=tuple(self.supplies),
            findings=against + notes,
            fine=31,
            evidence=self._seen(at_ms),
            standard=standard,
        )

    def _left(self, supply: Supply) -> int:
        return (supply.percent or 100) - self.random.randrange(2)

    def _seen(self, at_ms: int) -> bytes:
        def number(most: int) -> Callable[[re.Match[bytes]], bytes]:
            return lambda match: match[1] + b"%d" % self.random.randrange(most)

        times: dict[bytes, bytes] = {}  # what came in one answer has one time

        def moved(match: re.Match[bytes]) -> bytes:
            if match[2] not in times:
                times[match[2]] = b"%d" % (at_ms + self.random.randrange(900))
            return match[1] + times[match[2]]

        evidence = _TIMES.sub(moved, self._own())
        evidence = _COUNTS.sub(number(1_000_000), _TOOK.sub(number(90), evidence))
        return _TRIPS.sub(number(100_000), evidence)


def _found(
    rule: str, state: Holds, title: str, weight: Weight = Weight.BLOCKER, standing: Standing = Standing.IN_THE_WAY
) -> Found:
    return Found(f"{rule}@device/", rule, Role.DEVICE, "", state, weight, standing, title, root=True)


def evidence() -> bytes:
    return canonical(load_document(CASE)[1].evidence)


def fill(path: Path, devices: int, nights: int) -> Iterator[tuple[float, str]]:
    """All nights; CPU a device in ms, and a line, after each of the first ones and the last."""
    case, standard = evidence(), Standard("Plan plotters 2026")
    fleet = [Device(number, case) for number in range(devices)]
    for night in range(nights):
        cpu_s = slowest_s = 0.0
        with Store.open(path) as store:
            run = store.begin(BEGAN_MS + night * DAY_MS, "fleet.csv", devices)
            for device in fleet:
                swept = device.swept(night, standard)
                before, began = time.process_time(), time.perf_counter()
                store.add(run, swept)
                cpu_s += time.process_time() - before
                slowest_s = max(slowest_s, time.perf_counter() - began)
            store.finish(run, BEGAN_MS + night * DAY_MS + 3_600_000, 0)
        if night < 2 or night == nights - 1:
            size = f"{path.stat().st_size / (1 << 20):.1f} MiB, resident {_resident_mib()} MiB at most"
            each = f"{cpu_s / devices * 1000:.3f} ms of CPU a device, slowest {slowest_s * 1000:.0f} ms"
            yield cpu_s / devices * 1000, f"night {night + 1:<4} {each}, {size}"


def _resident_mib() -> int:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss >> 10


def plain(folder: Path, devices: int) -> tuple[float, int]:
    """Milliseconds of CPU and bytes a device by the simplest thing that keeps the same evidence."""
    path = folder / "plain.db"
    connection = sqlite3.connect(path, isolation_level=None)
    connection.executescript("PRAGMA journal_mode = WAL; PRAGMA synchronous = NORMAL; CREATE TABLE t (k TEXT, v BLOB);")
    case, cpu_s = evidence(), 0.0
    for number in range(devices):
        swept = Device(number, case).swept(0, Standard())
        before = time.process_time()
        connection.execute("INSERT INTO t VALUES (?, ?)", (swept.row.key, zlib.compress(swept.evidence)))
        cpu_s += time.process_time() - before
    connection.close()
    return cpu_s / devices * 1000, path.stat().st_size // devices


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--devices", type=int, default=10_000)
    parser.add_argument("--nights", type=int, default=30)
    parser.add_argument("--file", type=Path)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="netcheck-") as folder:
        path = options.file or Path(folder) / "sweep.db"
        plain_ms, plain_bytes = plain(Path(folder), min(options.devices, 1000))
        print(f"plain      {plain_ms:.3f} ms of CPU and {plain_bytes} B a device; evidence {len(evidence())} B")
        dearest_ms = 0.0
        for each_ms, line in fill(path, options.devices, options.nights):
            dearest_ms = max(dearest_ms, each_ms)
            print(line, flush=True)
        size = path.stat().st_size
        share = size / options.devices / options.nights
        less = f"{share:.0f} B a device and night, {plain_bytes / share:.1f} times less"
        print(f"size       {size / (1 << 20):.0f} MiB, {less}")
        slowest_s = _questions(path, options.nights)
        with Store.open(path) as store:
            began = time.perf_counter()
            gone = store.prune(max(1, options.nights // 2))
        print(
            f"prune      {gone} outcomes in {time.perf_counter() - began:.1f} s, {path.stat().st_size >> 20} MiB left"
        )
    return int(slowest_s > SINCE_S or dearest_ms > ADD_MS)


def _questions(path: Path, nights: int) -> float:
    slowest_s = 0.0
    with Store.open(path, reading=True) as store:
        run = store.runs()[-1].number
        for number in (1, 7, nights):
            began = time.perf_counter()
            found = since(store, run, number)
            slowest_s = max(slowest_s, took_s := time.perf_counter() - began)
            lists = {
                name: len(value) for name in found.__struct_fields__ if isinstance(value := getattr(found, name), tuple)
            }
            told = ", ".join(f"{name} {number}" for name, number in lists.items())
            print(f"since {number:<4} {took_s:.2f} s; {told}; resident {_resident_mib()} MiB at most")
        began = time.perf_counter()
        rows = sum(1 for _ in store.night(run))
        print(f"night      {rows} outcomes read in {time.perf_counter() - began:.2f} s")
    return slowest_s


if __name__ == "__main__":
    sys.exit(main())
