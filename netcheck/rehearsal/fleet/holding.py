"""Starts a simulated fleet and always stops it."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any, NamedTuple

from netcheck.rehearsal.device import Service
from netcheck.rehearsal.fleet.kinds import Behind
from netcheck.rehearsal.fleet.listing import Expected, expected_of, write
from netcheck.rehearsal.fleet.members import MOST, member
from netcheck.rehearsal.fleet.ports import LISTENING, closed, silent

_PATIENCE_S = 10.0
_MOST_PROCESSES = 4
_DEVICES_A_PROCESS = 500  # below that, another process costs more than it gives


class NotHereError(OSError):
    """This system cannot hold a simulated fleet; the text says why."""


class Held(NamedTuple):
    """A fleet that is up: its list, its Standard, and what must come of each device by the key of its row."""

    fleet_csv: Path
    standard: Path
    expected: dict[str, Expected]
    answering: Answering


class Answering:
    """The processes that answer for the devices."""

    def __init__(self, processes: Sequence[subprocess.Popen[str]], ports: dict[Service, int]) -> None:
        self.ports = ports
        self._processes = processes
        self._before: dict[str, int] = {}

    def asked(self) -> dict[str, int]:
        """What they were asked since the last call, by name: see `responder.Counted`."""
        now: dict[str, int] = {}
        for process in self._processes:
            assert process.stdin  # noqa: S101 - it was opened as a pipe
            process.stdin.write("\n")
            process.stdin.flush()
            for name, number in _line(process).items():
                now[name] = now.get(name, 0) + number
        since = {name: number - self._before.get(name, 0) for name, number in now.items()}
        self._before = now
        return since


@contextmanager
def held_fleet(
    devices: int, folder: Path, *, alike: bool = False, processes: int = 0, cores: Sequence[int] = ()
) -> Iterator[Held]:
    """So many devices, up as long as the block runs; the files that lead to them are in ``folder``.

    ``alike``: all are ready and prompt. ``processes`` is how many answer, 0 for as many as suit this machine; they keep
    to ``cores``, in turn, where some are named. Raises NotHereError, and ValueError for a number of devices that no
    fleet has.
    """
    if not 1 <= devices <= MOST:
        raise ValueError(f"{devices} devices, and not 1 to {MOST}")
    if not sys.platform.startswith("linux"):
        raise NotHereError("a simulated fleet needs Linux, where all of 127.0.0.0/8 is this machine")
    number = processes or min(_MOST_PROCESSES, max(1, (os.cpu_count() or 1) - 1), devices // _DEVICES_A_PROCESS + 1)
    members = [member(each, alike=alike) for each in range(devices)]
    with ExitStack() as stack:
        try:
            nobody = _without(closed, stack) | {"snmp": closed(socket.SOCK_DGRAM, stack)}
            silence = _without(silent, stack)
        except OSError as error:
            raise NotHereError(f"no socket can be tied to loopback here: {error}") from error
        answering = _started(number, cores, stack, alike=alike)
        ports = {Behind.SERVICE: answering.ports, Behind.NOBODY: nobody, Behind.SILENCE: silence}
        fleet, standard = write(members, ports, folder)
        yield Held(fleet, standard, expected_of(members), answering)


def _without(made: Callable[[socket.SocketKind, ExitStack], int], stack: ExitStack) -> dict[Service, int]:
    """A port that is no service, for each of TCP."""
    return {service: made(socket.SOCK_STREAM, stack) for service in LISTENING}


def _started(number: int, cores: Sequence[int], stack: ExitStack, *, alike: bool) -> Answering:
    ports: dict[Service, int] = {}
    running: list[subprocess.Popen[str]] = []
    for each in range(number):
        told = {"ports": ports, "alike": alike, "core": cores[each % len(cores)] if cores else None}
        command = [sys.executable, "-m", "netcheck.rehearsal.fleet.responder", json.dumps(told)]
        process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)  # noqa: S603 - ours
        stack.enter_context(process)
        stack.callback(process.kill)
        running.append(process)
        ports = _line(process)
    return Answering(running, ports)


def _line(process: subprocess.Popen[str]) -> Any:
    assert process.stdout  # noqa: S101 - it was opened as a pipe
    line = process.stdout.readline()
    if not line:
        raise NotHereError(f"a process of the fleet ended at once, with {process.wait(_PATIENCE_S)}")
    return json.loads(line)
