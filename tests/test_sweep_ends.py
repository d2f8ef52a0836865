"""However a sweep ends, what it says of the night is true, and nothing that it was given is lost.

Exit codes and refusals are the command line's promise; how many devices there are is the number that was simulated.
"""

import csv
import json
import os
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from netcheck.rehearsal.fleet import Held, NotHereError, held_fleet
from tests.conftest import FIXTURES

NETCHECK = [sys.executable, "-m", "netcheck"]
DEVICES, GOOD = 40, 6
WAIT_S = 120
Done = subprocess.CompletedProcess[str]


@pytest.fixture(scope="module")
def fleet(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Held]:
    try:
        with held_fleet(DEVICES, tmp_path_factory.mktemp("fleet")) as held:
            yield held
    except NotHereError as error:
        pytest.skip(str(error))


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Held]:
    """Devices that are all ready."""
    try:
        with held_fleet(GOOD, tmp_path_factory.mktemp("good"), alike=True) as held:
            yield held
    except NotHereError as error:
        pytest.skip(str(error))


def sweep(*arguments: object) -> Done:
    return subprocess.run([*NETCHECK, "sweep", *map(str, arguments)], capture_output=True, text=True, timeout=WAIT_S)


def ask(held: Held, *arguments: object) -> Done:
    return sweep(held.fleet_csv, "--standard", held.standard, "--timeout", "5", *arguments)


def stopped(held: Held, store: Path, number: signal.Signals, *more: str, lines: int = 1) -> int:
    """A sweep that gets a signal after so many devices. Returns how many devices it told of."""
    argv = [*NETCHECK, "sweep", held.fleet_csv, "--standard", held.standard, "--timeout", "5", "--rate", "10"]
    with subprocess.Popen(
        [*map(str, argv), "--json", "--store", str(store), *more],
        stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
    ) as running:  # fmt: skip
        assert running.stdout
        told = sum(bool(running.stdout.readline()) for _ in range(lines))
        running.send_signal(number)
        return told + sum(line.endswith("\n") for line in running.stdout)


def stored(store: Path) -> int:
    with sqlite3.connect(store) as connection:
        return int(connection.execute("SELECT count(*) FROM result").fetchone()[0])


# --- what the night is told to be


def test_killed_the_page_counts_all_that_are_left(fleet: Held, tmp_path: Path) -> None:
    store = tmp_path / "s.sqlite"
    stopped(fleet, store, signal.SIGKILL, lines=3)
    again = sweep("--store", store)
    first = again.stdout.splitlines()[0]
    assert f" of {DEVICES} need" in first, first
    assert f"{DEVICES - stored(store)}: the sweep still runs, or was killed. Run it again with --resume" in again.stdout
    assert again.returncode


def test_killed_after_it_was_resumed_it_counts_each_device_once(fleet: Held, tmp_path: Path) -> None:
    store = tmp_path / "s.sqlite"
    stopped(fleet, store, signal.SIGTERM)
    stopped(fleet, store, signal.SIGKILL, "--resume", lines=3)
    again = sweep("--store", store, "--metrics", tmp_path / "m.prom")
    assert f" of {DEVICES} need" in again.stdout.splitlines()[0]
    assert f"{DEVICES - stored(store)} not asked" in sweep("--store", store, "--quiet").stdout
    assert f"netcheck_sweep_left {DEVICES - stored(store)}\n" in (tmp_path / "m.prom").read_text("utf-8")
    assert ask(fleet, "--store", store, "--resume", "--fail-on", "never").returncode == 0
    assert stored(store) == DEVICES


def test_what_time_cuts_off_is_asked_when_it_is_resumed(fleet: Held, tmp_path: Path) -> None:
    store = tmp_path / "s.sqlite"
    cut = ask(fleet, "--store", store, "--limit", "0.1", "--fail-on", "never")
    assert cut.returncode == 2, cut.stderr
    before = stored(store)
    assert f"{DEVICES - before} of {DEVICES} devices were not asked" in cut.stderr
    done = ask(fleet, "--store", store, "--resume", "--json", "--fail-on", "never")
    told = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(told) == DEVICES - before
    wrong = {each["key"]: each["state"] for each in told if each["state"] != fleet.expected[each["key"]].state}
    assert not wrong


@pytest.mark.parametrize(("fail_on", "code"), [("not-ready", 2), ("cannot-tell", 3), ("news", 2), ("never", 2)])
def test_not_all_is_well_where_devices_were_not_asked(good: Held, tmp_path: Path, fail_on: str, code: int) -> None:
    store = tmp_path / "s.sqlite"
    assert ask(good, "--store", store, "--limit", "0.1", "--fail-on", fail_on).returncode == code
    assert sweep("--store", store, "--fail-on", fail_on).returncode == code
    assert ask(good, "--store", store, "--resume", "--fail-on", fail_on).returncode == 0


def test_a_row_that_cannot_be_asked_is_not_gone(good: Held, tmp_path: Path) -> None:
    store, page = tmp_path / "s.sqlite", tmp_path / "o.html"
    rows = good.fleet_csv.read_text("utf-8").splitlines()
    edited = tmp_path / good.fleet_csv.name
    standards = ("--standard", good.standard, "--timeout", "5", "--store", store)
    (tmp_path / "standard.toml").write_bytes(good.standard.read_bytes())

    def night(*lines: str) -> Done:
        edited.write_text("\n".join(lines) + "\n", "utf-8")
        return sweep(edited, *standards, "--html", page, "--metrics", tmp_path / "m.prom")

    assert night(*rows).returncode == 0
    bad = night(rows[0], rows[1].replace("127.", "127..", 1), *rows[2:])
    assert bad.returncode == 2
    for told in (bad.stdout, page.read_text("utf-8")):
        assert "1 row of the file could not be asked" in told
        assert "No longer in the fleet" not in told
    assert "netcheck_sweep_refused 1\n" in (tmp_path / "m.prom").read_text("utf-8")
    assert "New in the fleet" not in night(*rows).stdout
    gone = night(rows[0], *rows[2:])
    host, site = _host_and_site(good, rows[1])
    assert "No longer in the fleet (1)" in gone.stdout
    assert f"{host}, {site}" in " ".join(gone.stdout.split())


def _host_and_site(held: Held, row: str) -> tuple[str, str]:
    cells = dict(zip(held.fleet_csv.read_text("utf-8").splitlines()[0].split(","), row.split(","), strict=True))
    return cells["new"].partition(":")[0], cells["site"]


# --- fleets of one store


def test_another_fleet_of_the_same_name_is_not_gone_on_with(fleet: Held, good: Held, tmp_path: Path) -> None:
    store, other = tmp_path / "s.sqlite", tmp_path / "b" / fleet.fleet_csv.name
    other.parent.mkdir()
    text = good.fleet_csv.read_text("utf-8").splitlines()
    site = _host_and_site(good, text[1])[1]
    other.write_text("\n".join(text).replace(site, "Elsewhere") + "\n", "utf-8")
    (other.parent / "standard.toml").write_bytes(good.standard.read_bytes())
    stopped(fleet, store, signal.SIGTERM)
    before = stored(store)
    refused = sweep(other, "--standard", good.standard, "--store", store, "--resume")
    assert (refused.returncode, refused.stdout) == (2, "")
    assert "this fleet has not" in refused.stderr
    assert "without --resume" in refused.stderr
    assert stored(store) == before


def test_in_a_first_night_the_other_fleets_of_the_store_are_named(good: Held, tmp_path: Path) -> None:
    store = tmp_path / "s.sqlite"
    ask(good, "--store", store)
    site = _host_and_site(good, good.fleet_csv.read_text("utf-8").splitlines()[1])[1]
    part = ask(good, "--store", store, "--only", site, "--html", tmp_path / "o.html")
    assert "No earlier night to compare with" in part.stdout
    for told in (part.stdout, (tmp_path / "o.html").read_text("utf-8")):
        assert f"nights of other fleets: {good.fleet_csv.name}." in told


# --- nobody to ask


@pytest.mark.parametrize("what", ["header only", "only", "no standard"])
def test_with_nobody_to_ask_nothing_is_left_behind(good: Held, tmp_path: Path, what: str) -> None:
    rows, more = good.fleet_csv.read_text("utf-8").splitlines(), list[str]()
    if what == "header only":
        rows = rows[:1]
    elif what == "only":
        more = ["--only", "nowhere"]
    else:
        (tmp_path / "bad.toml").write_text("no standard", "utf-8")
        rows = ["site,new,standard", "Harrow Lane,192.0.2.61,bad.toml"]
    (tmp_path / "standard.toml").write_bytes(good.standard.read_bytes())
    (tmp_path / "fleet.csv").write_text("\n".join(rows) + "\n", "utf-8")
    outputs = ("--store", tmp_path / "s.sqlite", "--html", tmp_path / "o.html", "--metrics", tmp_path / "m.prom")
    done = sweep(tmp_path / "fleet.csv", *outputs, *more)
    assert (done.returncode, done.stdout) == (2, "")
    assert "nothing to ask" in done.stderr
    if what == "only":
        assert any(repr(key) in done.stderr for key in good.expected)
    assert not {"s.sqlite", "o.html", "m.prom"} & {each.name for each in tmp_path.iterdir()}


@pytest.mark.parametrize(
    ("arguments", "ignored"),
    [
        (("--store", "s", "--only", "x"), "--only"),
        (("--store", "s", "--standard", "x.toml"), "--standard"),
        (("--store", "s", "--resume"), "--resume"),
        (("--store", "s", "--limit", "0"), "--limit"),
        (("--store", "s", "--rate", "5"), "--rate"),
        (("--store", "s", "--workers", "2"), "--workers"),
        (("f.csv", "--resume"), "--resume"),
        (("f.csv", "--since", "1"), "--since"),
        (("f.csv", "--keep", "90"), "--keep"),
        (("f.csv", "--store", "s", "--case", "x"), "FLEET"),
        (("--store", "s", "--case", "x", "--html", "o.html"), "--html"),
    ],
)
def test_an_option_that_would_be_ignored_is_refused(arguments: tuple[str, ...], ignored: str) -> None:
    done = sweep(*arguments)
    assert (done.returncode, done.stdout) == (2, "")
    assert f"command line: {ignored}: found" in done.stderr
    assert len(done.stderr.splitlines()) == 1


# --- outputs


@pytest.mark.parametrize("option", ["--html", "--csv", "--metrics"])
@pytest.mark.parametrize("taken", ["fleet.csv", "own.toml", "row.toml", "s.sqlite", "cases/ready.json"])
def test_no_output_takes_the_place_of_what_is_read(tmp_path: Path, option: str, taken: str) -> None:
    (tmp_path / "fleet.csv").write_text("site,new,standard\nHarrow Lane,192.0.2.61,row.toml\n", "utf-8")
    for name in ("own", "row"):
        (tmp_path / f"{name}.toml").write_text('name = "Plan plotters"\n', "utf-8")
    (tmp_path / "cases").mkdir()
    (tmp_path / "cases" / "ready.json").write_bytes((FIXTURES / "cases" / "ready.json").read_bytes())
    before = {each: each.read_bytes() for each in tmp_path.rglob("*") if each.is_file()}
    asked = ("--standard", tmp_path / "own.toml", "--store", tmp_path / "s.sqlite", "--from", tmp_path / "cases")
    done = sweep(tmp_path / "fleet.csv", *asked, option, os.path.relpath(tmp_path / taken))
    assert (done.returncode, done.stdout) == (2, "")
    assert f"{option}: found" in done.stderr
    assert {each: each.read_bytes() for each in tmp_path.rglob("*") if each.is_file()} == before


def _rows_of(table: Path) -> int:
    with table.open(encoding="utf-8-sig", newline="") as file:
        return len(list(csv.DictReader(file)))


def test_two_outputs_to_one_file_are_refused(good: Held, tmp_path: Path) -> None:
    done = ask(good, "--html", tmp_path / "x", "--csv", tmp_path / "x")
    assert (done.returncode, done.stdout) == (2, "")
    assert "--csv: found" in done.stderr
    assert not (tmp_path / "x").exists()


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full (Linux, full(4))")
def test_an_output_that_fails_costs_no_other(good: Held, tmp_path: Path) -> None:
    done = ask(good, "--html", "/dev/full", "--csv", tmp_path / "o.csv")
    assert done.returncode == 2
    assert "/dev/full: --html: found No space left on device" in done.stderr
    assert done.stdout.startswith(f"0 of {GOOD} need somebody")
    assert _rows_of(tmp_path / "o.csv") == GOOD


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full (Linux, full(4))")
@pytest.mark.parametrize("more", [(), ("--json",)])
def test_a_full_stdout_costs_no_file(good: Held, tmp_path: Path, more: tuple[str, ...]) -> None:
    argv = [*NETCHECK, "sweep", good.fleet_csv, "--standard", good.standard, "--csv", tmp_path / "o.csv", *more]
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(list(map(str, argv)), stdout=full, stderr=subprocess.PIPE, text=True, timeout=WAIT_S)
    assert done.returncode == 2
    assert "No space left on device" in done.stderr
    assert _rows_of(tmp_path / "o.csv") == GOOD
