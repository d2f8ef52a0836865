"""Twenty times killed in the middle of the night, and each time taken up again: no device is lost, none is asked twice.

    pytest -m soak tests/test_sweep_killed.py

SIGKILL cannot be caught (POSIX.1, signal.h), so nothing but the store itself can have kept what was done.
"""

import json
import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest

from netcheck.rehearsal.fleet import NotHereError, held_fleet

KILLS, DEVICES = 20, 400
SEED = 2041


@pytest.mark.soak
@pytest.mark.skipif("NETCHECK_SOAK" not in os.environ, reason="takes minutes: NETCHECK_SOAK=1 runs it")
def test_killed_twenty_times_it_comes_to_its_end(tmp_path: Path) -> None:
    moments, told = random.Random(SEED), list[str]()
    try:
        with held_fleet(DEVICES, tmp_path) as fleet:
            argv = [sys.executable, "-m", "netcheck", "sweep", fleet.fleet_csv, "--standard", fleet.standard]
            argv += ["--timeout", "5", "--rate", "25", "--json", "--store", tmp_path / "s.sqlite"]
            for number in range(KILLS):
                resume = ["--resume"] if number else []
                running = subprocess.Popen(list(map(str, argv + resume)), stdout=subprocess.PIPE, text=True)
                time.sleep(moments.uniform(0.3, 3.0))
                running.send_signal(signal.SIGKILL)
                out, _ = running.communicate(timeout=60)
                told += [line for line in out.splitlines(keepends=True) if line.endswith("\n")]
                _sound(tmp_path / "s.sqlite")
            done = subprocess.run(list(map(str, [*argv, "--resume"])), capture_output=True, text=True, timeout=300)
            told += done.stdout.splitlines(keepends=True)
    except NotHereError as error:
        pytest.skip(str(error))
    assert done.returncode == 1, done.stderr
    keys = [json.loads(line)["key"] for line in told]
    assert len(keys) == len(set(keys)), "a device was asked twice"
    with sqlite3.connect(tmp_path / "s.sqlite") as store:
        runs = store.execute("SELECT count(*) FROM run").fetchone()[0]
        rows = store.execute("SELECT count(*), count(DISTINCT device) FROM result").fetchone()
    assert (runs, rows) == (1, (DEVICES, DEVICES))
    assert set(keys) <= set(fleet.expected)


def _sound(store: Path) -> None:
    if store.exists():
        with sqlite3.connect(store) as connection:
            assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
