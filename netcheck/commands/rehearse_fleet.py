"""``netcheck rehearse --fleet N``: a simulated fleet, swept for real, and held against what each device is."""

import tempfile
import time
from pathlib import Path
from typing import NoReturn

import click

from netcheck.cli import TOOL_FAILED, emit
from netcheck.errors import Complaint, InputError
from netcheck.rehearsal.fleet import Held, NotHereError, held_fleet
from netcheck.standard import load_standard
from netcheck.sweeping.fleet import load_fleet
from netcheck.sweeping.outcome import Swept
from netcheck.sweeping.run import Limits, Sweep, cores, round_the_sites
from netcheck.sweeping.worker import Order, Plan

LIMIT_S = 5.0
_MOST_SHOWN = 20
_NAP_S = 3600


def run_rehearse_fleet(devices: int, *, hold: bool) -> int:
    """Sweep so many simulated devices: 0 if each came out as stated, else 4. Held, they are up until Ctrl-C. Raises
    InputError where this system cannot hold them."""
    with tempfile.TemporaryDirectory(prefix="netcheck-") as folder:
        try:
            with held_fleet(devices, Path(folder)) as held:
                if hold:
                    _held(held, devices)
                return _swept(held)
        except (NotHereError, ValueError) as error:
            raise InputError(Complaint("command line", "--fleet", str(error), "1 or more, on Linux")) from error


def _held(held: Held, devices: int) -> NoReturn:
    emit(f"{devices} devices are up until Ctrl-C. Try:\n  netcheck sweep {held.fleet_csv} --timeout {LIMIT_S:g}")
    emit(f" --store {held.fleet_csv.parent / 'sweep.sqlite'}\n")
    click.echo("netcheck: holding", err=True)
    while True:
        time.sleep(_NAP_S)


def _swept(held: Held) -> int:
    outcomes: list[Swept] = []
    orders = [Order(row, 0) for row in round_the_sites(load_fleet(held.fleet_csv).rows)]
    plan = Plan((load_standard(held.standard),), LIMIT_S)
    began = time.monotonic()
    Sweep(orders, plan, Limits(cores()), outcomes.append, lambda _: None).run()
    took = time.monotonic() - began
    faults = [f"{each.row.key}: {fault}" for each in outcomes if (fault := _fault(held, each))]
    emit("".join(f"{each}\n" for each in faults[:_MOST_SHOWN]))
    right = len(outcomes) - len(faults)
    emit(f"{right} of {len(held.expected)} devices came out as stated, in {took:.1f} s\n")
    return 0 if right == len(held.expected) else TOOL_FAILED


def _fault(held: Held, swept: Swept) -> str:
    return swept.fault or held.expected[swept.row.key].fault(swept.state, (each.id for each in swept.findings))
