"""Getting at the file of a store, and saying what is wrong with it. Stage: between a path and its tables.

A file is looked at before anything is changed in it: what is no store, or one of a later netcheck, stays as it is.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from netcheck.errors import Complaint, InputError
from netcheck.sweeping.store_schema import APPLICATION_ID, SCHEMA, VERSION

WAIT_S = 10
"""How long one waits for the other's commit or checkpoint. Readers do not wait for the writer, nor it for them."""
_CACHE_KIB = 8 << 10
_PRIMARY = 0xFF  # what is above it in a result code says it more exactly
_BACKUP = "a whole store, perhaps from a backup; this file was left as it is"
_CUT_OFF = ("a store that is damaged or cut off", _BACKUP)
_MAGIC = b"SQLite format 3\x00"
_NO_STORE = ("a file that is no store", "a store of netcheck, or no file; this one was left as it is")


def open_for_writing(path: Path) -> sqlite3.Connection:
    """Create or open. Raises InputError."""
    if not path.resolve().parent.is_dir():
        raise _complaint(path, f"{path.resolve().parent}, which is no folder", "a file in a folder that can be written")
    _glance(path)
    with explained(path):
        connection = sqlite3.connect(path, timeout=WAIT_S, isolation_level=None)
        with _closed_unless_whole(connection):
            if _is_empty(connection, path):
                _create(connection)
            elif connection.execute("PRAGMA journal_mode = WAL").fetchone() != ("wal",):
                raise _complaint(path, "a place that has no shared memory", "a store on a local disk")
            # A commit then survives the process and not, for the last of them, a power cut: no file is damaged by one.
            connection.execute("PRAGMA synchronous = NORMAL")
            connection.execute("PRAGMA foreign_keys = ON")
            connection.execute(f"PRAGMA cache_size = -{_CACHE_KIB}")
            # Leaves nothing behind, and fails now where the night would have failed at its first device.
            connection.execute("BEGIN IMMEDIATE")
            connection.execute(f"PRAGMA user_version = {VERSION}")
            connection.execute("ROLLBACK")
    return connection


def open_for_reading(path: Path) -> sqlite3.Connection:
    """Open one that exists, whoever writes it. Raises InputError."""
    wanted = "a store, as netcheck sweep --store writes it"
    if not path.is_file():
        raise _complaint(path, "a folder" if path.is_dir() else "nothing", wanted)
    _glance(path)
    with explained(path):
        connection = _connected_for_reading(path)
        with _closed_unless_whole(connection):
            if _is_empty(connection, path):
                raise _complaint(path, "an empty file", wanted)
    return connection


def _glance(path: Path) -> None:
    """Raise InputError for a text; SQLite would take one of a single character for an empty file, and fill it."""
    try:
        with path.open("rb") as file:
            head = file.read(len(_MAGIC))
    except OSError:
        return  # there is none yet; or SQLite says it better
    if head and not head.startswith(_MAGIC[: len(head)]):
        raise _complaint(path, *_NO_STORE)


def _connected_for_reading(path: Path) -> sqlite3.Connection:
    # Not as read-only: such a one leaves behind the files that it shares with writers.
    address = f"{path.resolve().as_uri()}?mode=rw"
    connection = sqlite3.connect(address, uri=True, timeout=WAIT_S, isolation_level=None)
    try:
        connection.execute("PRAGMA query_only = ON")
        connection.execute("PRAGMA user_version").fetchone()
    except sqlite3.OperationalError as error:
        connection.close()
        log = path.resolve().with_name(path.name + "-wal")
        if _code(error) not in {sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY} or (
            log.exists() and log.stat().st_size
        ):
            raise
        # In a folder that cannot be written there is no room for the files that readers and writers share; with no
        # writer's log beside it nobody writes, and it can be read without them.
        address = f"{path.resolve().as_uri()}?mode=ro&immutable=1"
        connection = sqlite3.connect(address, uri=True, isolation_level=None)
    return connection


@contextmanager
def _closed_unless_whole(connection: sqlite3.Connection) -> Iterator[None]:
    try:
        yield
    except BaseException:
        connection.close()
        raise


def _is_empty(connection: sqlite3.Connection, path: Path) -> bool:
    """Is it still to become a store? Raises InputError for what is none."""
    (application,), (version,), (tables,) = (
        connection.execute(question).fetchone()
        for question in ("PRAGMA application_id", "PRAGMA user_version", "SELECT count(*) FROM sqlite_master")
    )
    if application == version == tables == 0:
        return True
    if application != APPLICATION_ID:
        raise _complaint(
            path, "a database of another program, which was left as it is", "a store of netcheck, or no file"
        )
    if version > VERSION:
        found = f"tables of version {version}, made by a later netcheck"
        raise _complaint(path, found, f"version {VERSION} at most: update netcheck")
    return False


def _create(connection: sqlite3.Connection) -> None:
    connection.execute("PRAGMA auto_vacuum = INCREMENTAL")  # only before the first table
    connection.execute("PRAGMA journal_mode = WAL")
    numbers = f"PRAGMA application_id = {APPLICATION_ID}; PRAGMA user_version = {VERSION};"
    try:
        connection.executescript(f"BEGIN IMMEDIATE; {SCHEMA} {numbers} COMMIT;")
    except sqlite3.Error:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


@contextmanager
def explained(path: Path) -> Iterator[None]:
    """Turn what SQLite says of the file or its disk into a complaint; a fault of ours stays what it is."""
    try:
        yield
    except sqlite3.DatabaseError as error:
        told = _told(error)
        if told is None:
            raise
        raise _complaint(path, *told) from error


def _code(error: sqlite3.Error) -> int:
    return getattr(error, "sqlite_errorcode", 0) & _PRIMARY


def _told(error: sqlite3.Error) -> tuple[str, str] | None:
    """What was found and what would be right, for what is no fault of ours."""
    writable = "a file in a folder that can be written"
    named = getattr(error, "sqlite_errorname", "")
    return {
        sqlite3.SQLITE_FULL: ("a disk that is full; what was stored before is whole", "room on its disk"),
        sqlite3.SQLITE_IOERR: (
            f"a disk that refused ({named}); what was stored before is whole",
            "a disk with room and without faults, and no limit on the size of a file",
        ),
        sqlite3.SQLITE_READONLY: ("a file that cannot be written", writable),
        sqlite3.SQLITE_CANTOPEN: ("a file that cannot be opened, or a folder that cannot be written", writable),
        sqlite3.SQLITE_PERM: ("a file that cannot be read", "a file that can be read"),
        sqlite3.SQLITE_NOTADB: _NO_STORE,
        sqlite3.SQLITE_CORRUPT: _CUT_OFF,
        sqlite3.SQLITE_BUSY: (f"a store that another program has kept for {WAIT_S} s", "nobody else writing to it"),
    }.get(_code(error))


def damaged(path: Path, what: str) -> InputError:
    """The complaint about contents that cannot be as they were written."""
    return _complaint(path, f"a store that is damaged ({what})", _BACKUP)


def _complaint(path: Path, found: str, wanted: str) -> InputError:
    return InputError(Complaint(str(path), "", found, wanted))
