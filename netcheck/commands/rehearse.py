"""``netcheck rehearse``: the main job on a simulated site, which nothing but its addresses tells from a real one."""

import asyncio
import tempfile
from pathlib import Path
from typing import Any, Final, NoReturn

import click

from netcheck.case import Case
from netcheck.cli import TOOL_FAILED, emit
from netcheck.collect import Recorder, collect_once, targets_of
from netcheck.commands.telling import EXIT, check_savable, tell
from netcheck.errors import Complaint, InputError
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.move import load_move
from netcheck.probing import installed, provides
from netcheck.rehearsal.scenarios import SCENARIOS, Scenario
from netcheck.rehearsal.site import Site
from netcheck.standard import Standard, load_standard

LIMIT_S = 4.0
"""Everything is on this machine: whoever has not answered by then will not."""
_TAKES: Final = {
    "--fleet": (("--fleet", "--hold"), "--fleet N, with --hold to sweep it by yourself, which can save and print JSON"),
    "--list": (("--list",), "--list by itself"),
    "--all": (("--all",), "--all by itself; one SCENARIO can be saved and printed as JSON"),
    "--hold": (("--hold", "--fleet", "SCENARIO"), "--hold with a SCENARIO or --fleet; what is held is asked by ready"),
}
"""What can go beside a way to rehearse that has no case to tell, and what to do instead."""


def run_rehearse(
    scenario: str | None, list_them: bool, all_of_them: bool, hold: bool, fleet: int | None, **output: Any
) -> int:
    """Play one scenario, or all, or a fleet. Returns the exit code of ``ready``; for all and for a fleet: 0 if each
    came out as stated, else 4."""
    modes = {"--fleet": fleet is not None, "--list": list_them, "--all": all_of_them, "--hold": hold}
    given = {"SCENARIO": scenario is not None, "--json": output["as_json"], "--save": output["save"] is not None}
    _check_together(modes | given)
    check_savable(output["save"])
    if fleet is not None:
        from netcheck.commands.rehearse_fleet import run_rehearse_fleet  # the sweep's own modules take their time

        return run_rehearse_fleet(fleet, hold=hold)
    if list_them:
        emit("".join(f"{name}\t{each.meaning}\n" for name, each in SCENARIOS.items()))
        return 0
    if all_of_them:
        return _all()
    chosen = _chosen(scenario or "ready")
    if hold:
        return asyncio.run(_held(chosen))
    case, standard = asyncio.run(_played(chosen))
    return tell(case, standard, Gate.SWAP, **output)[1]


def _check_together(given: dict[str, bool]) -> None:
    """Raise InputError rather than leave out what was asked for, and say nothing of it."""
    for mode, (beside, wanted) in _TAKES.items():
        if given[mode] and (ignored := [name for name, is_given in given.items() if is_given and name not in beside]):
            raise InputError(Complaint("command line", mode, f"{' and '.join(ignored)} beside it", wanted))


def _chosen(name: str) -> Scenario:
    if name not in SCENARIOS:
        raise InputError(Complaint("command line", "SCENARIO", repr(name), f"one of {', '.join(SCENARIOS)}"))
    return SCENARIOS[name]


async def _played(scenario: Scenario) -> tuple[Case, Standard]:
    async with Site(scenario) as site:
        with tempfile.TemporaryDirectory(prefix="netcheck-") as folder:
            file = site.write(Path(folder))
            move = load_move(file)
            standard = load_standard(file.parent / move.standard)
        recorder = Recorder()
        await collect_once(targets_of(move, standard, Gate.SWAP), list(installed()), recorder, LIMIT_S)
    return recorder.case(move), standard


def _all() -> int:
    """A line each. Every scenario is judged as `ready` would; its exit code must be the one that the list promises."""
    as_stated = True
    for name, scenario in SCENARIOS.items():
        case, standard = asyncio.run(_played(scenario))
        verdict = judge(case, standard, Gate.SWAP, provides())
        right = EXIT[verdict.state] == scenario.exit_code
        as_stated = as_stated and right
        emit(f"{name:20} {verdict.state:16} {'as stated' if right else f'WRONG: {scenario.state} was stated'}\n")
    return 0 if as_stated else TOOL_FAILED


async def _held(scenario: Scenario) -> NoReturn:
    """Keep the site up until Ctrl-C, with a Move and a Standard that lead to it."""
    async with Site(scenario) as site:
        with tempfile.TemporaryDirectory(prefix="netcheck-") as folder:
            file = site.write(Path(folder))
            emit(f"The site {scenario.name!r} is up until Ctrl-C. Try:\n  netcheck ready {file}\n")
            new = site.ports["new"]
            ports = " ".join(f"--port {name}={port}" for name, port in new.items())
            emit(f"  netcheck read 127.0.0.1 {ports}\n")
            emit("  netcheck find\n")
            click.echo("netcheck: holding", err=True)
            await asyncio.Event().wait()
    raise AssertionError
