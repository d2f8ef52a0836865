"""What is no store, cannot be written or has no room is told clearly; nothing is damaged by it, and nothing lost."""

import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import textwrap
from collections.abc import Callable
from pathlib import Path

import pytest

from netcheck.errors import InputError
from netcheck.sweeping.store import Store
from netcheck.sweeping.store_schema import APPLICATION_ID, VERSION
from tests.conftest import FIXTURES
from tests.sweep_nights import EVIDENCE, add_night, store_at, swept

ROOT = FIXTURES.parent
POSIX = pytest.mark.skipif(sys.platform == "win32", reason="there is no such limit on Windows")


def complaint(path: Path, *, reading: bool = False) -> str:
    """What is said of a file that cannot be opened."""
    with pytest.raises(InputError) as raised:
        Store.open(path, reading=reading)
    (only,) = raised.value.complaints
    assert only.where == str(path)
    return str(only)


def filled(folder: Path) -> Path:
    """A store of some nights, closed, all of it in the one file."""
    with store_at(folder) as store:
        for _ in range(3):
            add_night(store, [swept(f"site/192.0.2.{host}/", evidence=EVIDENCE) for host in range(20)])
    return folder / "sweep.db"


def a_text(path: Path) -> None:
    path.write_text("key,site\n" * 1000)


def a_short_text(path: Path) -> None:
    path.write_text("x")


def of_another_program(path: Path) -> None:
    connection = sqlite3.connect(path)
    connection.executescript("CREATE TABLE run (id); INSERT INTO run VALUES (1);")
    connection.close()


def marked_by_another_program(path: Path) -> None:
    connection = sqlite3.connect(path)
    connection.execute("PRAGMA application_id = 252006673")
    connection.close()


def of_a_later_version(path: Path) -> None:
    connection = sqlite3.connect(path)
    connection.executescript(
        f"PRAGMA application_id = {APPLICATION_ID}; PRAGMA user_version = {VERSION + 1}; CREATE TABLE night (id);"
    )
    connection.close()


def cut_off(path: Path) -> None:
    filled(path.parent)
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2 // 4096 * 4096])


def cut_off_in_a_page(path: Path) -> None:
    filled(path.parent)
    path.write_bytes(path.read_bytes()[:5000])


def cut_off_in_its_header(path: Path) -> None:
    filled(path.parent)
    path.write_bytes(path.read_bytes()[:60])


BROKEN: list[tuple[Callable[[Path], None], str]] = [
    (a_text, "found a file that is no store; wanted a store of netcheck, or no file"),
    (a_short_text, "found a file that is no store"),
    (of_another_program, "found a database of another program, which was left as it is"),
    (marked_by_another_program, "found a database of another program"),
    (
        of_a_later_version,
        "found tables of version 2, made by a later netcheck; wanted version 1 at most: update netcheck",
    ),
    (cut_off, "found a store that is damaged or cut off; wanted a whole store, perhaps from a backup"),
    (cut_off_in_a_page, "found a store that is damaged or cut off"),
    (cut_off_in_its_header, "found a store that is damaged or cut off"),
]


@pytest.mark.parametrize("reading", [False, True])
@pytest.mark.parametrize(("make", "told"), BROKEN, ids=[make.__name__ for make, _ in BROKEN])
def test_what_is_no_whole_store_is_told_and_left_as_it_is(
    tmp_path: Path, make: Callable[[Path], None], told: str, reading: bool
) -> None:
    path = tmp_path / "sweep.db"
    make(path)
    before = path.read_bytes()
    assert told in complaint(path, reading=reading)
    assert path.read_bytes() == before
    log = tmp_path / "sweep.db-wal"
    assert not log.exists() or not log.stat().st_size


def test_places_where_no_store_can_be(tmp_path: Path) -> None:
    assert "found a folder" in complaint(tmp_path, reading=True)
    assert "found nothing; wanted a store, as netcheck sweep --store writes it" in complaint(
        tmp_path / "none.db", reading=True
    )
    assert "which cannot be opened" in complaint(tmp_path / "no folder" / "sweep.db")
    assert "found a file that cannot be opened" in complaint(tmp_path)
    (tmp_path / "empty.db").touch()
    assert "found an empty file" in complaint(tmp_path / "empty.db", reading=True)
    with Store.open(tmp_path / "empty.db") as store:
        assert add_night(store, [swept()]) == 1


def test_a_store_whose_making_was_broken_off_is_made(tmp_path: Path) -> None:
    """What a kill between the file and its tables leaves."""
    path = tmp_path / "sweep.db"
    connection = sqlite3.connect(path)
    connection.execute("PRAGMA auto_vacuum = INCREMENTAL")
    connection.execute("PRAGMA journal_mode = WAL")
    connection.close()
    assert path.stat().st_size
    with Store.open(path) as store:
        assert add_night(store, [swept()]) == 1


# --- no room


FILLING = """
    from tests.sweep_nights import *
    from netcheck.errors import InputError
    import random, sys
    folder = Path(sys.argv[1])
    {limit}
    done = []
    try:
        with store_at(folder) as store:
            run = store.resume()[0] if store.resume() else store.begin(NOW, FLEET, 9999)
            for number in range(100_000):
                key = f"site/{{random.getrandbits(60):x}}/"
                store.add(run, swept(key, None, fault=random.randbytes(2000).hex()))
                done.append(key)
    except InputError as error:
        print(error)
    print(len(done), *done, sep="\\n")
"""
LIMITED = "import resource; resource.setrlimit(resource.RLIMIT_FSIZE, (3_000_000, 3_000_000))"


def ran(program: str, *arguments: str, before: str = "") -> list[str]:
    """The lines that a program printed which ended by itself."""
    code = textwrap.dedent(program)
    command = [sys.executable, "-c", code, *arguments]
    if before:
        command = ["unshare", "--mount", "sh", "-ec", f'{before}; exec "$@"', "sh", *command]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, env=environment, timeout=120)
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


def held_whole(path: Path, keys: list[str]) -> None:
    """All that was stored before is there, and the store goes on."""
    connection = sqlite3.connect(path)
    assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    connection.close()
    with Store.open(path) as store:
        resumed = store.resume()
        assert resumed
        assert resumed[1] == set(keys)
        store.add(resumed[0], swept("site/after/"))


@POSIX
def test_a_limit_on_the_size_of_a_file_is_told_and_nothing_is_lost(tmp_path: Path) -> None:
    told, number, *keys = ran(FILLING.format(limit=LIMITED), str(tmp_path))
    assert "found a disk that refused" in told
    assert "what was stored before is whole" in told
    assert int(number) == len(keys) > 20
    held_whole(tmp_path / "sweep.db", keys)


def can_mount() -> bool:
    if sys.platform != "linux" or not shutil.which("unshare"):
        return False
    return subprocess.run(["unshare", "--mount", "true"], capture_output=True).returncode == 0


@pytest.mark.skipif(not can_mount(), reason="needs a mount namespace: Linux, root")
def test_a_full_disk_is_told_and_nothing_is_lost(tmp_path: Path) -> None:
    """A disk of 6 MB; what is on it when it is full is copied away before it goes with its namespace."""
    small, kept = tmp_path / "small", tmp_path / "kept"
    small.mkdir()
    program = FILLING.format(limit=f"import atexit, shutil; atexit.register(shutil.copytree, folder, {str(kept)!r})")
    told, number, *keys = ran(program, str(small), before=f"mount -t tmpfs -o size=6m none {small}")
    assert "found a disk that is full; what was stored before is whole; wanted room on its disk" in told
    assert int(number) == len(keys) > 20
    held_whole(kept / "sweep.db", keys)


@pytest.mark.skipif(not can_mount(), reason="needs a mount namespace: Linux, root")
def test_a_disk_that_is_full_before_there_is_a_store_is_told(tmp_path: Path) -> None:
    before = f"mount -t tmpfs -o size=64k none {tmp_path}; dd if=/dev/zero of={tmp_path}/full status=none || true"
    told, number = ran(FILLING.format(limit=""), str(tmp_path), before=before)
    assert "found a disk that is full" in told
    assert number == "0"


# --- no right to write


OPENING = """
    from pathlib import Path
    from netcheck.errors import InputError
    from netcheck.sweeping.store import Store
    import sys
    path = Path(sys.argv[1])
    try:
        Store.open(path)
    except InputError as error:
        print(error)
    with Store.open(path, reading=True) as store:
        print(len(list(store.night(1))))
"""


@pytest.mark.skipif(not can_mount(), reason="needs a mount namespace: Linux, root")
def test_a_folder_that_cannot_be_written_is_told_and_can_be_read(tmp_path: Path) -> None:
    path = filled(tmp_path)
    (tmp_path / "sweep.db.lock").unlink()
    before = f"mount --bind {tmp_path} {tmp_path}; mount -o remount,ro,bind {tmp_path}"
    told, number = ran(OPENING, str(path), before=before)
    assert "cannot be opened (Read-only file system); wanted a store in a folder that can be written" in told
    assert number == "20"


@pytest.mark.skipif(not can_mount(), reason="needs a mount namespace: Linux, root")
def test_a_file_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    path = filled(tmp_path)
    told, number = ran(OPENING, str(path), before=f"mount --bind {path} {path}; mount -o remount,ro,bind {path}")
    assert "found a file that cannot be written" in told
    assert number == "20"


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such bits")
def test_a_folder_that_one_may_not_write_is_told_and_can_be_read() -> None:
    """As a user who is no administrator: with a folder of its own, since those of the tests are private."""
    nobody = "import os; os.geteuid() or (os.setegid(65534), os.seteuid(65534))"
    program = OPENING.replace("    path =", f"    import netcheck.judge; {nobody}\n    path =")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        path = filled(folder)
        (folder / "sweep.db.lock").unlink()
        folder.chmod(0o555)
        try:
            told, number = ran(program, str(path))
        finally:
            folder.chmod(0o755)
    assert "(Permission denied); wanted a store in a folder that can be written" in told
    assert number == "20"
