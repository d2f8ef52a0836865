"""`netcheck sweep` over a simulated fleet: what each device is stated to be comes out; nothing asked is lost.

What a device must come out as is the fleet's own table (`netcheck.rehearsal.fleet.kinds`), which knows no rule; exit
codes are the command line's promise.
"""

import csv
import io
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from netcheck.commands.schema import schema_of
from netcheck.rehearsal.fleet import Held, NotHereError, held_fleet
from netcheck.report.sweep_lines import Line
from tests.conftest import FIXTURES

jsonschema = pytest.importorskip("jsonschema")
NETCHECK = [sys.executable, "-m", "netcheck"]
DEVICES = 60
WAIT_S = 120


@pytest.fixture(scope="module")
def fleet(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Held]:
    try:
        with held_fleet(DEVICES, tmp_path_factory.mktemp("fleet")) as held:
            yield held
    except NotHereError as error:
        pytest.skip(str(error))


def sweep(*arguments: object) -> "subprocess.CompletedProcess[str]":
    argv = [*NETCHECK, "sweep", *map(str, arguments)]
    return subprocess.run(argv, capture_output=True, text=True, timeout=WAIT_S)


def ask(held: Held, *arguments: object) -> "subprocess.CompletedProcess[str]":
    return sweep(held.fleet_csv, "--standard", held.standard, "--timeout", "5", *arguments)


def lines(text: str) -> dict[str, dict[str, Any]]:
    return {each["key"]: each for each in map(json.loads, text.splitlines())}


@pytest.fixture(scope="module")
def swept(fleet: Held, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, dict[str, Any]]]:
    """One night, stored: the folder with all that it left behind, and its lines by key."""
    folder = tmp_path_factory.mktemp("night")
    done = ask(
        fleet, "--store", folder / "s.sqlite", "--html", folder / "o.html", "--csv", folder / "o.csv",
        "--metrics", folder / "m.prom", "--json",
    )  # fmt: skip
    assert done.returncode == 1, done.stderr
    return folder, lines(done.stdout)


def test_every_device_comes_out_as_it_is(fleet: Held, swept: tuple[Path, dict[str, dict[str, Any]]]) -> None:
    _, told = swept
    assert set(told) == set(fleet.expected)
    wrong = {
        key: (each.kind, told[key]["state"]) for key, each in fleet.expected.items() if told[key]["state"] != each.state
    }
    assert not wrong
    for key, each in fleet.expected.items():
        assert set(each.findings) <= {found["id"] for found in told[key]["findings"]}, each.kind


def test_every_line_fits_its_schema(swept: tuple[Path, dict[str, dict[str, Any]]]) -> None:
    validator = jsonschema.Draft202012Validator(schema_of(Line))
    assert not [error.message for each in swept[1].values() for error in validator.iter_errors(each)]


def test_all_outputs_tell_of_the_same_devices(swept: tuple[Path, dict[str, dict[str, Any]]]) -> None:
    folder, told = swept
    rows = list(csv.DictReader(io.StringIO((folder / "o.csv").read_text("utf-8-sig"))))
    assert len(rows) == len(told) == DEVICES
    metrics = (folder / "m.prom").read_text("utf-8")
    wrong = sum(each["state"] == "not-ready" for each in told.values())
    assert f'netcheck_sweep_devices{{state="not-ready"}} {wrong}\n' in metrics
    assert f"{wrong} of {DEVICES}" in (folder / "o.html").read_text("utf-8")


def test_the_case_of_one_device_is_judged_as_it_was(
    swept: tuple[Path, dict[str, dict[str, Any]]], tmp_path: Path
) -> None:
    folder, told = swept
    key = next(key for key, each in told.items() if each["state"] == "not-ready")
    saved = sweep("--store", folder / "s.sqlite", "--case", key)
    assert saved.returncode == 0, saved.stderr
    case = tmp_path / "case.json"
    case.write_text(saved.stdout, "utf-8")
    again = subprocess.run([*NETCHECK, "judge", case], capture_output=True, text=True)
    assert again.returncode == 1
    assert "Changed since it was judged" not in again.stdout


def test_the_last_night_is_told_again_without_asking(swept: tuple[Path, dict[str, dict[str, Any]]]) -> None:
    folder, told = swept
    again = sweep("--store", folder / "s.sqlite", "--json", "--fail-on", "never")
    assert again.returncode == 0
    assert lines(again.stdout) == told


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_stopped_it_finishes_what_is_in_flight_and_goes_on_later(
    fleet: Held, tmp_path: Path, number: signal.Signals
) -> None:
    store = tmp_path / "s.sqlite"
    argv = [*NETCHECK, "sweep", fleet.fleet_csv, "--standard", fleet.standard, "--timeout", "5", "--store", store]
    with closing(_started([*map(str, argv), "--rate", "12", "--json"])) as running:
        first = running.line()  # something is stored
        running.process.send_signal(number)
        rest, err = running.rest()
    assert running.process.returncode == 130
    assert "--resume goes on" in err
    before = lines(first + rest)
    assert 0 < len(before) < DEVICES
    done = ask(fleet, "--store", store, "--resume", "--json")
    after = lines(done.stdout)
    assert not set(before) & set(after), "none is asked twice"
    assert set(before) | set(after) == set(fleet.expected)
    assert len(lines(sweep("--store", store, "--json").stdout)) == DEVICES


def test_a_second_interrupt_lets_go_of_what_is_in_flight(fleet: Held, tmp_path: Path) -> None:
    """The silent ones would take 5 s and more; what is let go of is not done, and is asked later."""
    store = tmp_path / "s.sqlite"
    argv = [*NETCHECK, "sweep", fleet.fleet_csv, "--standard", fleet.standard, "--timeout", "5", "--store", store]
    with closing(_started([*map(str, argv), "--json"])) as running:
        first = running.line()
        running.process.send_signal(signal.SIGINT)
        time.sleep(0.5)
        running.process.send_signal(signal.SIGINT)
        began = time.monotonic()
        rest, err = running.rest()
    assert time.monotonic() - began < 3
    assert running.process.returncode == 130
    assert "--resume goes on" in err
    before = lines(first + rest)
    after = lines(ask(fleet, "--store", store, "--resume", "--json").stdout)
    assert after
    assert not set(before) & set(after)
    assert set(before) | set(after) == set(fleet.expected)


class _Running:
    def __init__(self, process: "subprocess.Popen[str]") -> None:
        self.process = process

    def line(self) -> str:
        assert self.process.stdout
        return self.process.stdout.readline()

    def rest(self) -> tuple[str, str]:
        """What else it writes until it ends: stdout, stderr. `communicate` would read past what `line` has buffered."""
        assert self.process.stdout
        assert self.process.stderr
        written = self.process.stdout.read(), self.process.stderr.read()
        self.process.wait(WAIT_S)
        return written

    def close(self) -> None:
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()


def _started(argv: list[str]) -> _Running:
    return _Running(subprocess.Popen(argv, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True))


def test_killed_it_loses_nothing_that_was_finished(fleet: Held, tmp_path: Path) -> None:
    """SIGKILL leaves no time for anything: what was told as done is in the store, once, and the rest is asked later."""
    store = tmp_path / "s.sqlite"
    argv = [*NETCHECK, "sweep", fleet.fleet_csv, "--standard", fleet.standard, "--timeout", "5", "--store", store]
    with closing(_started([*map(str, argv), "--json"])) as running:
        told = [running.line() for _ in range(7)]
        workers = _children(running.process.pid)
        assert workers
        running.process.kill()
        told += running.rest()[0].splitlines(keepends=True)
    before = {json.loads(each)["key"] for each in told if each.endswith("\n")}
    _are_gone(workers)
    done = ask(fleet, "--store", store, "--resume", "--json")
    assert done.returncode == 1, done.stderr
    assert not before & set(lines(done.stdout))
    whole = lines(sweep("--store", store, "--json").stdout)
    assert set(whole) == set(fleet.expected)


def _children(parent: int) -> list[int]:
    """The worker processes of a sweep (Linux, proc(5))."""
    listed = Path(f"/proc/{parent}/task/{parent}/children").read_text("utf-8").split()
    return [int(each) for each in listed if b"spawn_main" in Path(f"/proc/{each}/cmdline").read_bytes()]


def _are_gone(workers: list[int]) -> None:
    """Workers end when their parent is gone: nobody would store what they find."""
    end = time.monotonic() + 20
    while any(Path(f"/proc/{each}").exists() for each in workers):
        assert time.monotonic() < end, "a worker outlives its sweep"
        time.sleep(0.05)


def test_two_sweeps_on_one_store_are_refused(fleet: Held, tmp_path: Path) -> None:
    store = tmp_path / "s.sqlite"
    argv = [*NETCHECK, "sweep", fleet.fleet_csv, "--standard", fleet.standard, "--store", store, "--json"]
    with closing(_started(list(map(str, argv)))) as running:
        running.line()
        second = ask(fleet, "--store", store)
        assert second.returncode == 2
        assert str(running.process.pid) in second.stderr
        running.process.send_signal(signal.SIGTERM)
        running.rest()


def test_the_cases_that_sites_have_saved_are_swept_as_well(tmp_path: Path) -> None:
    for name in ("ready", "few-demands", "found"):
        (tmp_path / f"{name}.json").write_bytes((FIXTURES / "cases" / f"{name}.json").read_bytes())
    done = sweep("--from", tmp_path, "--store", tmp_path / "s.sqlite", "--json", "--fail-on", "never")
    assert done.returncode == 2  # what `find` saves is no case
    assert "found.json" in done.stderr
    told = lines(done.stdout)
    assert sorted(each["state"] for each in told.values()) == ["not-ready", "ready"]
    key = next(key for key, each in told.items() if each["state"] == "ready")
    plain = json.loads(sweep("--store", tmp_path / "s.sqlite", "--case", key).stdout)
    assert plain["seal"]["evidence"] == json.loads((tmp_path / "ready.json").read_text("utf-8"))["seal"]["evidence"]


def test_a_bad_row_is_told_and_the_good_ones_are_asked(fleet: Held, tmp_path: Path) -> None:
    head, first, *_ = fleet.fleet_csv.read_text("utf-8").splitlines()
    bad = tmp_path / "fleet.csv"
    (tmp_path / "standard.toml").write_bytes(fleet.standard.read_bytes())
    bad.write_text("\n".join([head, first.replace("127.", "127..", 1), first]) + "\n", "utf-8")
    done = sweep(bad, "--standard", fleet.standard, "--json", "--fail-on", "never")
    assert done.returncode == 2
    assert "line 2" in done.stderr
    assert len(lines(done.stdout)) == 1


def test_the_whole_time_is_kept(fleet: Held, tmp_path: Path) -> None:
    began = time.monotonic()
    done = ask(fleet, "--store", tmp_path / "s.sqlite", "--limit", "2", "--rate", "5")
    assert time.monotonic() - began < 15
    assert "--resume goes on" in done.stderr
    assert "its 2 s were up" in done.stderr


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ((), "a fleet file, --from or --store"),
        (("none.csv",), "none.csv"),
        (("--case", "x"), "--store"),
        (("--store", "none.sqlite"), "none.sqlite"),
        (("--from", "no-folder"), "no-folder"),
    ],
)
def test_what_cannot_be_asked_is_told_what_would_be_right(arguments: tuple[str, ...], says: str) -> None:
    done = sweep(*arguments)
    assert (done.returncode, done.stdout) == (2, "")
    assert says in done.stderr


def test_only_one_site(fleet: Held) -> None:
    key = next(iter(fleet.expected))
    site = key.partition("/")[0]
    done = ask(fleet, "--only", site, "--json", "--fail-on", "never")
    told = lines(done.stdout)
    assert set(told) == {each for each in fleet.expected if each.startswith(f"{site}/")}
    assert os.linesep in done.stdout
