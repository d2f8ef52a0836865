"""``netcheck read``: one device by itself."""

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Any

from netcheck.commands.asking import device_from, gather, with_ports
from netcheck.commands.telling import check_savable, tell
from netcheck.facts.raw import RawObjects
from netcheck.gates import Gate
from netcheck.move import Move
from netcheck.report.device import render_device
from netcheck.roles import Outcome, Role
from netcheck.standard import Standard

NOTHING_ANSWERED = 3
_ASKED_NOBODY = {"address", "names", "person", "reverse-names"}


def run_read(
    device: str, ports: Sequence[str], timeout: float, others: Sequence[Path], raw: bool, **output: Any
) -> int:
    """Exit code 0 if any probe was answered, else 3. ``raw``: show and keep the objects behind the facts too."""
    check_savable(output["save"], reads=others)
    move = with_ports(Move(device=device_from("DEVICE", device)), ports)
    case, interrupted = gather(move, Standard(), Gate.STANDING, timeout, others, raw=raw)
    page = partial(render_device, raw=raw)
    _, code = tell(case, Standard(), Gate.STANDING, interrupted=interrupted, page=page, **output)
    if interrupted:
        return code
    heard = any(
        attempt.role is Role.DEVICE and attempt.outcome is Outcome.ANSWERED and attempt.probe not in _ASKED_NOBODY
        for attempt in case.attempts
    )
    return 0 if heard and _something_open(case.observations) else NOTHING_ANSWERED


def _something_open(observations: Sequence[Any]) -> bool:
    """The ports probe reports silence as what it saw; only an open port, or another probe's fact, is an answer."""
    return any(
        item.role is Role.DEVICE
        and item.probe not in _ASKED_NOBODY
        and item.kind != RawObjects.kind
        and item.value.get("state", "open") == "open"
        for item in observations
    )
