"""A sweep that is killed loses nothing that it had stored, and keeps nobody out; two at once are refused."""

import os
import random
import re
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from netcheck.errors import InputError
from netcheck.sweeping.store import Store
from tests.conftest import FIXTURES, NOW
from tests.sweep_nights import FLEET, add_night, store_at, swept

ROOT = FIXTURES.parent
KILLS = 20
ADDING = """
import random, sys
from tests.sweep_nights import *

night = int(sys.argv[2])
with store_at(Path(sys.argv[1])) as store:
    resumed = store.resume()
    run = resumed[0] if resumed else store.begin(NOW, FLEET, 1_000_000)
    print("ready", flush=True)
    for number in range(1_000_000):
        key = f"site/{night}-{number}/"
        evidence = EVIDENCE.replace(b"540039", b"%d" % random.getrandbits(20)) if number % 3 else b""
        store.add(run, swept(key, model=f"Halden {number % 7}", evidence=evidence))
        sys.stdout.write(key + "\\n")
        sys.stdout.flush()
"""
HOLDING = """
import sys
from tests.sweep_nights import *

with store_at(Path(sys.argv[1])):
    print("ready", flush=True)
    sys.stdin.read()
"""


@contextmanager
def running(program: str, *arguments: str) -> Iterator["subprocess.Popen[str]"]:
    """A process of its own that has opened the store; killed at the end."""
    command = [sys.executable, "-c", program, *arguments]
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE}
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    with subprocess.Popen(command, text=True, cwd=ROOT, env=environment, **pipes) as process:  # type: ignore[call-overload]
        try:
            assert process.stdout.readline() == "ready\n"
            yield process
        finally:
            process.kill()


def test_whatever_had_been_stored_when_it_was_killed_is_there_once(tmp_path: Path) -> None:
    """Twenty times on one store, each at a moment of its own: in the middle of a statement, a commit, a checkpoint."""
    path, told = tmp_path / "sweep.db", set[str]()
    for night in range(KILLS):
        with running(ADDING, str(tmp_path), str(night)) as process:
            time.sleep(random.Random(night).uniform(0.0, 0.25))
            process.kill()
            assert process.stdout
            told.update(re.findall(r"^(site/.+/)\n", process.stdout.read(), re.MULTILINE))
        connection = sqlite3.connect(path)
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
        stored = [key for (key,) in connection.execute("SELECT key FROM result JOIN device ON device.id = device")]
        connection.close()
        assert len(stored) == len(set(stored))
        assert told <= set(stored)
        assert len(stored) - len(told) <= night + 1, "at most the one of each kill that was stored and not yet told"
    assert len(told) > KILLS
    with store_at(tmp_path) as store:
        assert store.resume() == (1, frozenset(stored))
        outcomes = list(store.night(1, evidence=True))
        assert {each.row.key for each in outcomes} == set(stored)
        assert sum(bool(each.evidence) for each in outcomes) > len(stored) // 2


def test_a_second_sweep_is_refused_and_told_who_was_first(tmp_path: Path) -> None:
    before = int(time.time())
    with running(HOLDING, str(tmp_path)) as process:
        with pytest.raises(InputError) as raised:
            store_at(tmp_path)
        told = re.search(r"another sweep is writing \(process (\d+), since ([\d -:]+) UTC\)", str(raised.value))
        assert told
        assert int(told[1]) == process.pid
        since = time.strptime(told[2], "%Y-%m-%d %H:%M:%S")
        assert before <= time.mktime(since) - time.timezone + 1 <= time.time() + 2
        assert process.stdin
        process.stdin.close()
        process.wait(10)
    with store_at(tmp_path):
        pass


def test_a_sweep_that_was_killed_keeps_nobody_out(tmp_path: Path) -> None:
    with running(HOLDING, str(tmp_path)) as process:
        process.kill()
        process.wait(10)
        with store_at(tmp_path) as store:
            assert add_night(store, [swept()]) == 1


def test_readers_need_no_lock(tmp_path: Path) -> None:
    with running(ADDING, str(tmp_path), "1"), Store.open(tmp_path / "sweep.db", reading=True) as store:
        deadline, seen = time.monotonic() + 20, 0
        while not seen and time.monotonic() < deadline:
            seen = len(list(store.night(1)))
        assert seen
        with pytest.raises(InputError, match="cannot be written"):
            store.begin(NOW, FLEET, 1)


def test_one_process_does_not_open_it_twice_either(tmp_path: Path) -> None:
    """Whatever the name: POSIX locks do not keep a process from itself."""
    with store_at(tmp_path):
        with pytest.raises(InputError, match="this one"):
            store_at(tmp_path)
        (tmp_path / "link").symlink_to(tmp_path / "sweep.db")
        with pytest.raises(InputError, match="this one"):
            Store.open(tmp_path / "link")
        with running_fails(HOLDING, str(tmp_path)) as told:
            assert f"process {os.getpid()}, since" in told
    with store_at(tmp_path) as store:
        store.close()
        store.close()


@contextmanager
def running_fails(program: str, *arguments: str) -> Iterator[str]:
    command = [sys.executable, "-c", program, *arguments]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, env=environment, timeout=60)
    assert done.returncode
    yield done.stderr


@pytest.mark.skipif(not hasattr(os, "fork"), reason="there is no fork on Windows")
def test_a_forked_child_that_lives_on_does_not_hold_the_lock(tmp_path: Path) -> None:
    program = HOLDING.replace(
        '    print("ready", flush=True)',
        "    import os, time\n    child = os.fork()\n    if not child:\n        time.sleep(20)\n"
        '        os._exit(0)\n    print("ready", flush=True)\n    print(child, flush=True)',
    )
    with running(program, str(tmp_path)) as process:
        assert process.stdout
        child = int(process.stdout.readline())
        process.kill()
        process.wait(10)
        os.kill(child, 0)  # it is there
        try:
            with store_at(tmp_path):
                pass
        finally:
            os.kill(child, 9)
