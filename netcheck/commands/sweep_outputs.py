"""What a sweep leaves behind: page, overview, spreadsheet, metrics; and the exit code that a script asks for."""

from collections.abc import Iterable
from pathlib import Path

import msgspec

from netcheck.cli import WRONG_INPUT, emit
from netcheck.commands.telling import check_savable, paint_for, write_whole
from netcheck.errors import Complaint, InputError
from netcheck.report.sweep_lines import csv_lines, json_line
from netcheck.report.sweep_metrics import render_metrics
from netcheck.report.sweep_night import Night
from netcheck.report.sweep_overview import render_overview
from netcheck.report.sweep_text import render_sweep
from netcheck.sweeping.outcome import Swept
from netcheck.verdict import State


class Outputs(msgspec.Struct, frozen=True):
    """Where to. ``as_json``: a line a device to stdout instead of the page, as soon as it is done."""

    html: Path | None
    csv: Path | None
    metrics: Path | None
    as_json: bool
    quiet: bool
    no_color: bool


def _named(outputs: Outputs) -> list[tuple[str, Path]]:
    named = (("--html", outputs.html), ("--csv", outputs.csv), ("--metrics", outputs.metrics))
    return [(option, path) for option, path in named if path]


def check_outputs(outputs: Outputs, reads: Iterable[Path], folder: Path | None) -> None:
    """Raise InputError now, and not after the night, where a file could not be written, would take the place of one
    that the sweep ``reads`` (of ``folder``, every case), or of another output."""
    reads = list(reads)
    for option, path in _named(outputs):
        is_case = folder is not None and path.suffix.lower() == ".json" and path.resolve().parent == folder.resolve()
        check_savable(path, option, [*reads, path] if is_case else reads)
        reads.append(path)


def told_line(swept: Swept) -> list[Complaint]:
    """Print the line of a device. Returns what is wrong where there is no room: what is to be kept must be kept."""
    return _printed(json_line(swept))


def _printed(text: str) -> list[Complaint]:
    try:
        emit(text)
    except InputError as error:
        return [*error.complaints]
    return []


def write_outputs(
    outputs: Outputs, night: Night, rows: list[Swept], fail_on: str, untold: Iterable[Complaint] = ()
) -> int:
    """Print and write what is wanted, each whatever becomes of the others. Returns the exit code. Raises InputError
    with all that could not be written, what was ``untold`` before included."""
    complaints = list(untold)
    if not outputs.as_json:
        page = render_sweep(night, rows, paint_for(no_color=outputs.no_color))
        complaints += _printed(page.partition("\n")[0] + "\n" if outputs.quiet else page)
    complaints += _written(outputs, night, rows)
    if complaints:
        raise InputError(*complaints)
    return exit_code(night, rows, fail_on)


def _written(outputs: Outputs, night: Night, rows: list[Swept]) -> list[Complaint]:
    """Every file; what is wrong with those that could not be written."""
    contents = {
        "--html": lambda: render_overview(night, rows),
        "--csv": lambda: "".join(csv_lines(rows)),
        "--metrics": lambda: render_metrics(night, rows),
    }
    complaints: list[Complaint] = []
    for option, path in _named(outputs):
        try:
            write_whole(path, contents[option]().encode(), option)
        except InputError as error:
            complaints += error.complaints
    return complaints


def exit_code(night: Night, rows: list[Swept], fail_on: str) -> int:
    """1 where a device is not ready (of news: newly so), 3 where one cannot be told, or was not asked, and that is
    asked for; 2 where all is well but that one was not asked, or could not be."""
    return _by_answers(night, rows, fail_on) or (WRONG_INPUT if night.left or night.refused else 0)


def _by_answers(night: Night, rows: list[Swept], fail_on: str) -> int:
    states = {swept.state for swept in rows}
    if fail_on == "never":
        return 0
    if fail_on == "news":
        return int(bool(night.changes and night.changes.newly))
    if State.NOT_READY in states:
        return 1
    return 3 if fail_on == "cannot-tell" and (night.left or states & {State.CANNOT_TELL, None}) else 0
