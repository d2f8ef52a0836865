"""What the commands that judge have in common: judge, save, print, exit code."""

import os
import sys
import tempfile
from collections.abc import Callable, Iterable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click

from netcheck.case import Case
from netcheck.cli import INTERRUPTED, emit
from netcheck.document import Document, encoded, evidence_of, load_document
from netcheck.errors import Complaint, InputError
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.probing import provides
from netcheck.report.page import About, Paint, Tone, unpainted
from netcheck.report.since import render_since
from netcheck.report.text import render
from netcheck.standard import Standard
from netcheck.streams import is_terminal
from netcheck.verdict import State, Verdict

EXIT = {State.READY: 0, State.READY_WITH_CARE: 0, State.NOT_READY: 1, State.CANNOT_TELL: 3}
__all__ = ["EXIT", "check_savable", "is_terminal", "last_run", "paint_for", "tell", "write_whole"]

Render = Callable[[Case, Verdict, Gate, Paint, About], str]

Changed = Callable[[Verdict, Paint], str]
"""What is said under the page of a saved case: what changed since it was judged, and why."""

_STYLES: dict[Tone, dict[str, Any]] = {
    Tone.PLAIN: {},
    Tone.GOOD: {"fg": "green", "bold": True},
    Tone.CARE: {"fg": "yellow", "bold": True},
    Tone.BAD: {"fg": "red", "bold": True},
    Tone.HEAD: {"bold": True},
    Tone.FAINT: {"dim": True},
}


def tell(
    case: Case,
    standard: Standard,
    gate: Gate,
    *,
    as_json: bool,
    save: Path | None,
    quiet: bool,
    no_color: bool,
    interrupted: bool = False,
    evidence: dict[str, Any] | None = None,
    code: str = "",
    page: Render = render,
    compares: bool = True,
    changed: Changed | None = None,
) -> tuple[Verdict, int]:
    """Judge, save, print. ``evidence`` is given where it was read from a file and must be saved as it was; ``code`` is
    that file's. A page that ``compares`` ends with what changed since the run whose file this one replaces, one that
    has ``changed`` with that."""
    plain = evidence if evidence is not None else evidence_of(case)
    last = last_run(save, case) if compares and evidence is None and not as_json else None
    if save:
        # The evidence is on the disk before anything interprets it: a fault of ours must not lose what was gathered.
        write_whole(save, Document(plain, gate, standard).encode())
    verdict = judge(case, standard, gate, provides())
    paint = paint_for(no_color=no_color)
    if save or as_json:
        whole = Document(plain, gate, standard, verdict).plain()
        if save:
            write_whole(save, encoded(whole))
            code = whole["seal"]["code"]
        if as_json:
            emit(encoded(whole))
    if not as_json:
        as_of = f"as seen {datetime.fromtimestamp(case.made_at // 1000, UTC):%Y-%m-%d %H:%M} UTC" if evidence else ""
        text = page(case, verdict, gate, paint, About(standard.name, as_of, code))
        if last:
            text += render_since(judge(last, standard, gate, provides()), last.made_at, verdict, gate, paint)
        if changed:
            text += changed(verdict, paint)
        emit(text.partition("\n")[0] + "\n" if quiet else text)
    return verdict, INTERRUPTED if interrupted else EXIT[verdict.state]


def last_run(saved: Path | None, case: Case) -> Case | None:
    """The case that this run is about to replace, where it is of the same move."""
    if saved is None or not saved.is_file():
        return None
    try:
        last, _ = load_document(saved)
    except InputError:
        return None  # whatever it is, it is no earlier run of this
    return last if _speaks_of(last) == _speaks_of(case) and last.made_at < case.made_at else None


def _speaks_of(case: Case) -> tuple[str, ...]:
    """Which job and devices; what the work order says of them may be corrected between two runs."""
    refs = (case.move.old, case.move.new, case.move.device)
    return (case.move.job, *(ref.host if ref else "" for ref in refs))


def paint_for(*, no_color: bool) -> Paint:
    """Colour on a terminal only, and only where nobody forbids it."""
    return unpainted if no_color or os.environ.get("NO_COLOR") or not is_terminal(sys.stdout) else _painted


def _painted(text: str, tone: Tone) -> str:
    return click.style(text, **_STYLES[tone])


def check_savable(path: Path | None, option: str = "--save", reads: Iterable[Path | None] = ()) -> None:
    """Raise InputError now, and not after the visit, where a file could not be saved, or would take the place of one
    that this command ``reads``, or writes by another option (None: one that was not given)."""
    if path is None:
        return
    folder = path.resolve().parent
    if not folder.is_dir() or not os.access(folder, os.W_OK) or path.is_dir():
        found = "a folder" if path.is_dir() else f"{folder}, which cannot be written"
        raise InputError(Complaint(str(path), option, found, "a file in a folder that can be written"))
    if any(_is_same(path, each) for each in reads if each is not None):
        found = "a file that this very command reads or writes"
        raise InputError(Complaint(str(path), option, found, "another file"))


def _is_same(path: Path, other: Path) -> bool:
    """Do two paths lead to one file? What is no file (a terminal, a null device) is not lost by being written to."""
    if path.exists() and not path.is_file():
        return False
    try:
        return path.samefile(other)
    except OSError:  # one of them is not there yet
        return path.resolve() == other.resolve()


def write_whole(path: Path, data: bytes, option: str = "--save") -> None:
    """Write a file whole or not at all; what is no file (a pipe, a device) is written to as it is.

    Raises InputError.
    """
    try:
        if path.exists() and not path.is_file():
            path.write_bytes(data)
        else:
            _replace(path.resolve(), data)
    except OSError as error:
        found = error.strerror or str(error)
        raise InputError(Complaint(str(path), option, found, "a file in a folder that can be written")) from error


def _replace(path: Path, data: bytes) -> None:
    descriptor, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    try:
        with os.fdopen(descriptor, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        # A temporary file is its owner's only; the result is to be read by whoever may read files here.
        mask = os.umask(0)
        os.umask(mask)
        Path(name).chmod(0o666 & ~mask)
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
