"""``netcheck ready``: the main job."""

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Any

from netcheck.commands.asking import device_from, gather, standard_file, standard_for, with_ports
from netcheck.commands.telling import check_savable, tell
from netcheck.credentials import profiles_path
from netcheck.errors import Complaint, InputError
from netcheck.gates import Gate
from netcheck.move import Move, QueueRef, load_move
from netcheck.report.request import render_request
from netcheck.report.text import render

_WANTED = "MOVE.toml, or --new DEVICE with --old and --queue where they are known"


def run_ready(
    move: Path | None,
    old: str | None,
    new: str | None,
    queue: str | None,
    standard: Path | None,
    gate: str | None,
    ports: Sequence[str],
    timeout: float,
    others: Sequence[Path],
    request: bool,
    **output: Any,
) -> int:
    """Collect, judge, report. Returns the exit code."""
    check_savable(output["save"], reads=(move, standard, *others, profiles_path()))
    asked = load_move(move) if move else move_from(old, new, queue, survey=gate == Gate.SURVEY)
    check_savable(output["save"], reads=(standard_file(standard, asked, move),))
    if move and (old or new or queue):
        raise InputError(Complaint("command line", "MOVE.toml", "a Move and --old, --new or --queue", "one of them"))
    at = Gate(gate or Gate.SWAP)
    asked = with_ports(asked, ports)
    if at is Gate.STANDING:
        asked = asked.alone()
    demanded = standard_for(standard, asked, move)
    case, interrupted = gather(asked, demanded, at, timeout, others)
    page = partial(render_request, demanded) if request else render
    return tell(case, demanded, at, interrupted=interrupted, page=page, compares=not request, **output)[1]


def move_from(old: str | None, new: str | None, queue: str | None, *, survey: bool) -> Move:
    """A Move from the command line; a survey needs no new device. Raises InputError."""
    if new is None and not (survey and old):
        raise InputError(
            Complaint(
                "command line", "MOVE.toml", "no Move and no --new" if old is None else "--old without --new", _WANTED
            )
        )
    if queue is not None and not queue.strip():
        raise InputError(Complaint("command line", "--queue", "nothing", "the queue's name"))
    return Move(
        old=None if old is None else device_from("--old", old),
        new=None if new is None else device_from("--new", new),
        queue=None if queue is None else QueueRef(queue),
    )
