"""``netcheck compare``: what changed between two saved cases, and why."""

from pathlib import Path

import click

from netcheck.cli import emit
from netcheck.commands.telling import EXIT, check_savable, paint_for, write_whole
from netcheck.comparing.chain import is_alone
from netcheck.comparing.document import Saved, difference
from netcheck.comparing.pairing import UnknownDeviceError, strangers
from netcheck.document import load_document
from netcheck.errors import Complaint, InputError
from netcheck.gates import Gate
from netcheck.probing import provides
from netcheck.report.difference import render_difference
from netcheck.standard import load_standard


def run_compare(
    before: Path,
    after: Path,
    standard: Path | None,
    gate: str | None,
    as_json: bool,
    save: Path | None,
    quiet: bool,
    no_color: bool,
) -> int:
    """Judge the later case by the Standard and the gate that are given, else by those that it was judged by, and tell
    what is not as it was in the earlier one. Returns the exit code of the later case's answer. Raises InputError."""
    check_savable(save, reads=(before, after, standard))
    one, other = _loaded(before), _loaded(after)
    asked = other.question()
    at = Gate(gate) if gate else asked.gate
    if is_alone(other.case) and at is not Gate.STANDING:
        found = f"{at}, and a case of one device by itself"
        raise InputError(Complaint("command line", "--gate", found, "standing, or a case that ready has saved"))
    _say_what_is_odd(one, other)
    try:
        document = difference(one, other, load_standard(standard) if standard else asked.standard, at, provides())
    except UnknownDeviceError as error:
        single = before if is_alone(one.case) else after
        raise InputError(Complaint(str(single), "move", error.found, error.wanted)) from error
    if save:
        write_whole(save, document.encode())
    if as_json:
        emit(document.encode())
    else:
        page = render_difference(document, paint_for(no_color=no_color))
        emit(page.partition("\n")[0] + "\n" if quiet else page)
    return EXIT[document.now]


def _loaded(path: Path) -> Saved:
    return Saved(path.name, *load_document(path))


def _say_what_is_odd(one: Saved, other: Saved) -> None:
    """Whoever compares apples and pears may want to; but should know."""
    for words in strangers(one.case.move, other.case.move):
        click.echo(f"netcheck: two cases of different sites or devices: {words}", err=True)
    if one.case.made_at > other.case.made_at:
        click.echo(f"netcheck: {one.name} was made after {other.name}: before and after may be the wrong way", err=True)
