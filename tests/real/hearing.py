"""The DNS-SD probe run at a machine of the site, and what it heard there."""

import json
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

from .site import Place, Site
from .visit import ROOT

INSIDE: Final = Path(__file__).parent / "inside"
Target = tuple[str, str, dict[str, int]]
HERE: Final[Target] = ("here", "", {})


class Heard:
    """One line of `inside/hear.py`."""

    def __init__(self, line: str) -> None:
        told = json.loads(line)
        self.took_ms: int = told["took_ms"]
        self.missed: list[tuple[str, str, str]] = [tuple(row) for row in told["missed"]]
        self.facts: dict[tuple[str, str], dict[str, Any]] = {
            (role, source): value for role, source, value in told["facts"]
        }

    def names(self, role: str = "here") -> set[str]:
        return {source for each, source in self.facts if each == role}

    def __getitem__(self, source: str) -> dict[str, Any]:
        return next(value for (_, each), value in self.facts.items() if each == source)


class Listener:
    """The probe at one machine, run once when it is made and again for each `again`, on one wire."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self._process = process

    def heard(self) -> Heard:
        assert self._process.stdout
        line = self._process.stdout.readline()
        assert line, self._process.stderr and self._process.stderr.read()
        return Heard(line)

    def again(self) -> Heard:
        assert self._process.stdin
        self._process.stdin.write("\n")
        self._process.stdin.flush()
        return self.heard()


@contextmanager
def listening(site: Site, *targets: Target, at: Place = "workstation") -> Iterator[Listener]:
    command = site.command(at, sys.executable, INSIDE / "hear.py", json.dumps(targets or (HERE,)))
    pipe = subprocess.PIPE
    env = {"PYTHONPATH": str(ROOT), "PATH": "/usr/sbin:/usr/bin:/sbin:/bin"}
    with subprocess.Popen(command, stdin=pipe, stdout=pipe, stderr=pipe, text=True, env=env) as process:
        try:
            yield Listener(process)
        finally:
            assert process.stdin
            process.stdin.close()
            process.wait(15)


def hear(site: Site, *targets: Target, at: Place = "workstation") -> Heard:
    with listening(site, *targets, at=at) as listener:
        return listener.heard()


def hear_until(site: Site, source: str) -> Heard:
    """It is announced a second or two after it listens."""
    for _ in range(4):
        heard = hear(site)
        if source in heard.names():
            break
    return heard
