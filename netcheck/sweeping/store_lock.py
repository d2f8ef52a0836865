"""One sweep at a time: an advisory lock on a file beside the store. Stage: before the store is opened for writing.

The lock is the operating system's and ends with the process, however that ends. What is written in the file only tells
whoever comes second who was first; the file itself stays, since removing it would let two hold two files of one name.
"""

import os
import sys
import time
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

from netcheck.errors import Complaint, InputError

if sys.platform == "win32":
    import msvcrt

    _FAR = 1 << 30  # a byte that is locked cannot be read there: so not one of those that say who has it

    def _lock(descriptor: int) -> None:
        os.lseek(descriptor, _FAR, os.SEEK_SET)
        msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
else:
    import fcntl

    def _lock(descriptor: int) -> None:
        # Not flock: a worker that was forked would go on holding that after the sweep has died.
        fcntl.lockf(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)


_TOLD_BYTES = 200
_held: set[Path] = set()
"""What this process has. The system's lock does not keep a process from itself, and ends if it opens the file again."""


class SweepLock:
    """The right to write a store. Taken by `take`, given back by `release` or with the process."""

    def __init__(self, path: Path, descriptor: int) -> None:
        self._path, self._descriptor = path, descriptor

    @classmethod
    def take(cls, store: Path) -> "SweepLock":
        """Raises InputError: somebody else has it (who, since when), or the folder cannot be written."""
        path = store.resolve()
        path = path.with_name(path.name + ".lock")
        if path in _held:
            raise _taken(store, f"process {os.getpid()}, this one")
        try:
            descriptor = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o666)
        except OSError as error:
            found = f"{path.name} beside it, which cannot be opened ({error.strerror})"
            raise InputError(Complaint(str(store), "", found, "a store in a folder that can be written")) from error
        try:
            _lock(descriptor)
        except OSError as error:
            told = _told(descriptor)
            os.close(descriptor)
            raise _taken(store, told) from error
        lock = cls(path, descriptor)
        _held.add(path)
        lock._tell(
            f"process {os.getpid()}, since {datetime.fromtimestamp(int(time.time()), UTC):%Y-%m-%d %H:%M:%S} UTC"
        )
        return lock

    def release(self) -> None:
        """Let others write. Harmless the second time."""
        if self._path in _held:
            self._tell("")
            os.close(self._descriptor)
            _held.discard(self._path)

    def _tell(self, words: str) -> None:
        with suppress(OSError):  # a full disk: whoever comes second is refused all the same, and not told by whom
            os.ftruncate(self._descriptor, 0)
            os.lseek(self._descriptor, 0, os.SEEK_SET)
            os.write(self._descriptor, words.encode())


def _told(descriptor: int) -> str:
    os.lseek(descriptor, 0, os.SEEK_SET)
    text = os.read(descriptor, _TOLD_BYTES).decode("utf-8", "replace")
    return text if text and text.isprintable() else "which one is not known"


def _taken(store: Path, who: str) -> InputError:
    found = f"a store that another sweep is writing ({who})"
    return InputError(Complaint(str(store), "", found, "one sweep at a time: wait until that one has ended"))
