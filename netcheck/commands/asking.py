"""What the commands that ask have in common: devices and ports from the command line, gathering, Standards."""

import asyncio
import math
from collections.abc import Iterable
from pathlib import Path
from typing import NoReturn

import click
import msgspec

from netcheck.case import Case, in_role, joined
from netcheck.collect import Recorder, collect_once, targets_of
from netcheck.credentials import community_variable, is_set, profiles_path
from netcheck.document import load_document
from netcheck.errors import Complaint, InputError
from netcheck.gates import Gate
from netcheck.move import DeviceRef, Move, Ports, QueueRef, device_ref
from netcheck.place import WANTED_PLACE, parse_place
from netcheck.probing import installed
from netcheck.roles import Role
from netcheck.standard import Standard, load_standard

ROLES = ("old", "new", "queue")


def device_from(option: str, text: str) -> DeviceRef:
    """A device from the command line. Raises InputError."""
    try:
        return device_ref(parse_place(text))
    except ValueError as error:
        raise InputError(Complaint("command line", option, str(error), WANTED_PLACE)) from error


def with_ports(move: Move, ports: Iterable[str]) -> Move:
    """Apply ``--port``: ``new.ipp=8631``, or ``ipp=8631`` where one device is named. Raises InputError."""
    for text in ports:
        name, equals, number = text.partition("=")
        role, _, service = name.rpartition(".")
        if not (equals and number.isascii() and number.isdecimal() and len(number) <= 5 and 1 <= int(number) <= 65535):
            _refuse_port(text, "SERVICE=N or ROLE.SERVICE=N with N from 1 to 65535, as new.ipp=8631")
        if role == "queue" and service == "ipp" and move.queue:
            host = move.queue.server.rpartition(":")[0]
            move = msgspec.structs.replace(move, queue=QueueRef(move.queue.name, f"{host}:{number}"))
            continue
        move = _with_device_port(move, text, role, service, int(number))
    return move


def _with_device_port(move: Move, text: str, role: str, service: str, number: int) -> Move:
    named = [each for each in ("old", "new", "device") if getattr(move, each) is not None]
    if not role and len(named) == 1:
        role = named[0]
    if role not in named:
        _refuse_port(text, f"a port that says whose it is, as {named[-1]}.{service or 'ipp'}={number}")
    if service not in Ports.__struct_fields__:
        _refuse_port(text, f"one of {', '.join(Ports.__struct_fields__)}")
    ref: DeviceRef = getattr(move, role)
    ref = msgspec.structs.replace(ref, ports=msgspec.structs.replace(ref.ports, **{service: number}))
    return msgspec.structs.replace(move, **{role: ref})


def _refuse_port(text: str, wanted: str) -> NoReturn:
    raise InputError(Complaint("command line", "--port", repr(text), wanted))


def standard_for(option: Path | None, move: Move, move_file: Path | None) -> Standard:
    """The Standard of the command line, else the Move's own (beside the Move's file), else the empty one."""
    file = standard_file(option, move, move_file)
    return load_standard(file) if file else Standard()


def standard_file(option: Path | None, move: Move, move_file: Path | None) -> Path | None:
    """Where that Standard is, None for the empty one."""
    if option is None and move.standard and move_file is not None:
        return move_file.parent / move.standard
    return option


def load_others(move: Move, paths: Iterable[Path]) -> list[Case]:
    """The cases to be joined. One of a device by itself takes the role that its host has in the Move. Raises
    InputError where the Move does not know that host; says so where a case is of another job."""
    cases = []
    for path in paths:
        case, _ = load_document(path)
        if case.move.job != move.job and case.move.job and move.job:
            click.echo(f"netcheck: {path} is of job {case.move.job}, not of {move.job}", err=True)
        if case.move.device and not move.device:
            host = case.move.device.host
            hosts = {ref.host: role for role, ref in ((Role.OLD, move.old), (Role.NEW, move.new)) if ref}
            if host not in hosts:
                wanted = f"a case of {' or '.join(hosts)}, or one that ready has saved"
                raise InputError(Complaint(str(path), "move", f"a case of {host} by itself", wanted))
            case = in_role(case, Role.DEVICE, hosts[host])
        cases.append(case)
    return cases


def gather(
    move: Move, standard: Standard, gate: Gate, limit_s: float, others: Iterable[Path] = (), *, raw: bool = False
) -> tuple[Case, bool]:
    """Ask everything that the Move speaks of; ``raw``: keep the objects behind the facts too. Returns the case, and
    whether it was interrupted (it is then what had been gathered by then)."""
    if move.snmp_profile and not is_set(move.snmp_profile):
        # A name that nobody knows here may be a community in the wrong place: it is neither told nor recorded.
        nowhere = f"not in {profiles_path()}, and {community_variable('ITS-NAME')} is not set"
        click.echo(f"netcheck: the Move's SNMP profile is {nowhere}; trying 'public'", err=True)
        move = msgspec.structs.replace(move, snmp_profile="")
    joined_cases = load_others(move, others)
    if not math.isfinite(limit_s):
        raise InputError(Complaint("command line", "--timeout", str(limit_s), "seconds, from 0.1 to 600"))
    recorder, interrupted = Recorder(raw=raw), False
    try:
        asyncio.run(collect_once(targets_of(move, standard, gate), list(installed()), recorder, limit_s))
    except KeyboardInterrupt:
        interrupted = True
        click.echo("netcheck: interrupted; this is what had been gathered", err=True)
    return joined(recorder.case(move), joined_cases), interrupted
