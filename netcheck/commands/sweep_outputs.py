"""What a sweep leaves behind: page, overview, spreadsheet, metrics; and the exit code that a script asks for."""

from pathlib import Path

import msgspec

from netcheck.cli import emit
from netcheck.commands.telling import check_savable, paint_for, write_whole
from netcheck.report.sweep_lines import csv_lines
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


def check_outputs(outputs: Outputs) -> None:
    """Raise InputError now, and not after the night, where a file could not be written."""
    for path in (outputs.html, outputs.csv, outputs.metrics):
        check_savable(path)


def write_outputs(outputs: Outputs, night: Night, rows: list[Swept], fail_on: str) -> int:
    """Write and print what is wanted. Returns the exit code. Raises InputError."""
    if outputs.html:
        write_whole(outputs.html, render_overview(night, rows).encode())
    if outputs.csv:
        write_whole(outputs.csv, "".join(csv_lines(rows)).encode())
    if outputs.metrics:
        write_whole(outputs.metrics, render_metrics(night, rows).encode())
    if not outputs.as_json:
        page = render_sweep(night, rows, paint_for(no_color=outputs.no_color))
        emit(page.partition("\n")[0] + "\n" if outputs.quiet else page)
    return exit_code(night, rows, fail_on)


def exit_code(night: Night, rows: list[Swept], fail_on: str) -> int:
    """1 where a device is not ready (of news: newly so), 3 where one cannot be told and that is asked for."""
    states = {swept.state for swept in rows}
    if fail_on == "never":
        return 0
    if fail_on == "news":
        return int(bool(night.changes and night.changes.newly))
    if State.NOT_READY in states:
        return 1
    return 3 if fail_on == "cannot-tell" and states & {State.CANNOT_TELL, None} else 0
