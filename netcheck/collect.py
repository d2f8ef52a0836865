"""Probes -> Case. Stage: the only place with probe concurrency; everything it learns is in the `Recorder` at once.

Two waves: what turns names into addresses, then everything else, all targets and all probes together. Each probe has
the run's deadline, so a silent device costs one deadline and not the sum; a probe that overstays it is cancelled and
keeps what it had yielded. A probe that breaks is an attempt that failed, and stops nobody else.

Whatever is recorded goes through the veil of its `Recorder`: the only place where it is made sure that no secret of
ours, and no password of a URI, comes into a case, whoever it was that said it.
"""

import asyncio
import socket
import time
from collections.abc import Iterable
from contextlib import aclosing, suppress
from dataclasses import dataclass, field, replace
from typing import Any

import msgspec

from netcheck.case import SCHEMA, TOOL, Attempt, Case, Observation, observation
from netcheck.credentials import Community, Credentials, communities, credentials
from netcheck.facts import Fact
from netcheck.facts.network import NameLookup
from netcheck.facts.raw import RawObjects, RawRow
from netcheck.gates import Gate
from netcheck.move import DeviceRef, Move, asked_host
from netcheck.place import DEFAULT_PORTS, is_loopback
from netcheck.probing import NAMES_FIRST, Answer, Deadline, Malformed, Miss, Probe, Shows, Target
from netcheck.roles import Outcome, Role
from netcheck.secret import Secret, Veil
from netcheck.standard import Standard
from netcheck.wire import Wire

LOOPBACK = "127.0.0.1"
MOST_OBJECTS = 4_000
"""How many objects a run records where they are wanted: more than a device tells that tells much, and few enough for a
saved case."""
GRACE_S = 0.15
"""What a probe gets beyond the deadline to say what did not answer; then it is cancelled."""


@dataclass
class Recorder:
    """What was gathered so far. It belongs to the caller, so that an interrupted run loses nothing. ``raw``: the
    objects behind the facts are recorded too, as far as there is room. ``veil`` is what keeps secrets out."""

    observations: list[Observation] = field(default_factory=list)
    attempts: list[Attempt] = field(default_factory=list)
    raw: bool = False
    room: int = MOST_OBJECTS
    veil: Veil = field(default_factory=Veil)

    def keep(self, role: Role, probe: str, source: str, at_ms: int, vantage: str, fact: Fact) -> bool:
        """Record a fact. False where it cannot be kept: without the secret that is in it, it is no such fact."""
        seen = observation(role, probe, self.veil.text(source), at_ms, vantage, fact)
        value = self.veil.plain(seen.value)
        if value != seen.value:
            try:
                msgspec.convert(value, type(fact))
            except msgspec.ValidationError:
                return False
            seen = msgspec.structs.replace(seen, value=value)
        self.observations.append(seen)
        return True

    def tried(self, role: Role, probe: str, target: str, outcome: Outcome, reason: str, began: float) -> None:
        """Record an attempt that began at ``began`` (monotonic seconds) and ends now."""
        took = round((time.monotonic() - began) * 1000)
        target, reason = self.veil.text(target), self.veil.text(reason)
        self.attempts.append(Attempt(role, probe, target, outcome, reason, _now_ms() - took, took))

    def case(self, move: Move) -> Case:
        """The case as of now."""
        made_at = max([_now_ms(), *(item.at_ms for item in self.observations)])
        return Case(SCHEMA, made_at, TOOL, move, tuple(self.attempts), tuple(self.observations))


def _now_ms() -> int:
    return time.time_ns() // 1_000_000


def targets_of(move: Move, standard: Standard, gate: Gate) -> list[Target]:
    """Whom a Move wants asked, and on which services: the usual ones, and those that the Standard speaks of.

    Raises InputError where the profile of the Move cannot be used.
    """
    known = credentials(move.snmp_profile)
    refs = ((Role.OLD, move.old), (Role.NEW, move.new), (Role.DEVICE, move.device))
    targets = [
        _device_target(move, role, msgspec.structs.replace(ref, host=host), standard, known)
        for role, ref in refs
        if ref is not None and (host := asked_host(move, role, gate)) is not None
    ]
    if move.queue:
        host, _, port = move.queue.server.rpartition(":")
        targets.append(Target(Role.QUEUE, host, ports={"ipp": int(port)}, queue=move.queue.name))
    if move.device:
        return targets  # a device by itself is asked, and nobody else on its network
    return [*targets, Target(Role.HERE, LOOPBACK if all(is_loopback(each.host) for each in targets) else "")]


_EXTRA_PORTS = {"ftp": 21, "telnet": 23, "smb": 445}
_ALWAYS = ("ipp", "raw", "lpd", "snmp", "http", "https")


def _device_target(move: Move, role: Role, ref: DeviceRef, standard: Standard, known: Credentials) -> Target:
    spoken = {*_ALWAYS, *standard.services()}
    usual = {name: port for name, port in {**DEFAULT_PORTS, **_EXTRA_PORTS}.items() if name in spoken}
    return Target(
        role,
        ref.host,
        # On loopback (a rehearsal, a tunnel) the usual ports are this machine's own, not the device's.
        ports={**({} if is_loopback(ref.host) else usual), **ref.ports.named()},
        path=ref.path,
        community=known.secret if isinstance(known, Community) else Secret(""),
        user=None if isinstance(known, Community) else known,
        seen=tuple(word for word in move.seen if word.role is role),
        prints=standard.prints.prints if standard.prints and role is not Role.OLD else (),
        planned=ref.final if ref.final != ref.host else "",
    )


async def collect(
    targets: Iterable[Target], probes: Iterable[Probe[Any]], recorder: Recorder, limit_s: float, wire: Wire
) -> None:
    """Ask everything of everybody within ``limit_s`` seconds. Cancelling it keeps what is in the recorder.

    Many collections may share one wire: that is what a fleet does.
    """
    deadline = Deadline(time.monotonic() + limit_s)
    asked = list(targets)
    recorder.veil.hide([*communities(), *(secret for target in asked for secret in _secrets_of(target))])
    by_wave: dict[bool, list[Probe[Any]]] = {True: [], False: []}
    for probe in probes:
        by_wave[probe.wave == NAMES_FIRST].append(probe)
    async with asyncio.TaskGroup() as group:
        for target in asked:
            group.create_task(_ask_target(target, by_wave[True], by_wave[False], wire, deadline, recorder))


def _secrets_of(target: Target) -> Iterable[Secret]:
    yield target.community
    if target.user:
        yield from (target.user.auth_secret, target.user.priv_secret)


async def collect_once(
    targets: Iterable[Target], probes: Iterable[Probe[Any]], recorder: Recorder, limit_s: float
) -> None:
    """The same for a single run, which has a wire of its own."""
    async with Wire() as wire:
        await collect(targets, probes, recorder, limit_s, wire)


async def _ask_target(
    target: Target,
    names: list[Probe[Any]],
    others: list[Probe[Any]],
    wire: Wire,
    deadline: Deadline,
    recorder: Recorder,
) -> None:
    await _ask_all(target, names, wire, deadline, recorder, "")
    addresses = [address for lookup in target.learnt.of(NameLookup) for address in lookup.addresses]
    located = replace(target, address=addresses[0] if addresses else "")
    await _ask_all(located, others, wire, deadline, recorder, _vantage(located.address))


async def _ask_all(
    target: Target, probes: list[Probe[Any]], wire: Wire, deadline: Deadline, recorder: Recorder, vantage: str
) -> None:
    async with asyncio.TaskGroup() as group:
        for probe in probes:
            if target.role in probe.roles:
                group.create_task(_run(probe, target, wire, deadline, recorder, vantage))


async def _run(
    probe: Probe[Any], target: Target, wire: Wire, deadline: Deadline, recorder: Recorder, vantage: str
) -> None:
    began = time.monotonic()

    def missed(outcome: Outcome, reason: str) -> None:
        _record_miss(probe, target, Miss(target.host, outcome, reason, began), recorder)

    if probe.services and not any(name in target.ports for name in probe.services):
        named = " or ".join(f"--port {name}=N" for name in probe.services)
        missed(Outcome.NOT_TRIED, f"no port is named for it: {named}")
        return
    if probe.needs_address and not target.address:
        missed(Outcome.NOT_TRIED, f"{target.host} has no address" if target.host else "not on the network")
        return
    try:
        async with asyncio.timeout(deadline.left() + GRACE_S):
            async with aclosing(probe.ask(target, wire, deadline)) as stream:
                async for reply in stream:
                    await _record(probe, target, reply, recorder, vantage)
    except TimeoutError:
        missed(Outcome.SILENT, "not finished when the run's time was up")
    except asyncio.CancelledError:
        missed(Outcome.SILENT, "interrupted before it had finished")
        raise
    except Exception as error:  # noqa: BLE001 - our bug, kept as a failed attempt with its reason: it must not stop the others
        missed(Outcome.FAILED, f"netcheck's own fault: {type(error).__name__}: {error}")


async def _record(
    probe: Probe[Any], target: Target, reply: Answer[Any] | Miss, recorder: Recorder, vantage: str
) -> None:
    if isinstance(reply, Miss):
        _record_miss(probe, target, reply, recorder)
        return
    now, facts, lost, left = _now_ms(), 0, 0, 0
    outcome, notes = Outcome.ANSWERED, [reply.note]
    try:
        for source, fact in probe.read(reply.payload):
            lost += not recorder.keep(target.role, probe.name, source, now, vantage, fact)
            await target.learnt.add(fact)
            facts += 1
        if not facts:
            outcome = Outcome.EMPTY
    except Malformed as error:
        outcome, notes = Outcome.MALFORMED, [str(error)]
    if recorder.raw and isinstance(probe, Shows):
        left = _record_objects(probe.name, probe.objects(reply.payload), target.role, recorder, vantage)
    notes += [f"{left} more objects were not recorded"] if left else []
    notes += [f"{lost} facts were not recorded: a secret is in them"] if lost else []
    recorder.tried(target.role, probe.name, reply.target, outcome, "; ".join(filter(None, notes)), reply.began)


def _record_objects(
    probe: str, objects: Iterable[tuple[str, RawRow]], role: Role, recorder: Recorder, vantage: str
) -> int:
    """The objects of one answer, an observation for each group; returns for how many there was no room."""
    groups: dict[str, list[RawRow]] = {}
    left = 0
    for group, row in objects:
        if recorder.room:
            recorder.room -= 1
            groups.setdefault(group, []).append(row)
        else:
            left += 1
    now = _now_ms()
    for group, rows in groups.items():
        recorder.keep(role, probe, group, now, vantage, RawObjects(tuple(rows)))
    return left


def _record_miss(probe: Probe[Any], target: Target, miss: Miss, recorder: Recorder) -> None:
    recorder.tried(target.role, probe.name, miss.target, miss.outcome, miss.reason, miss.began)


def _vantage(address: str) -> str:
    """Our own address towards a device: what the system would send from. Sends nothing."""
    if not address:
        return ""
    with suppress(OSError):
        family, _, _, _, where = socket.getaddrinfo(address, 9, type=socket.SOCK_DGRAM, flags=socket.AI_NUMERICHOST)[0]
        with socket.socket(family, socket.SOCK_DGRAM) as probe:
            probe.connect(where)
            return str(probe.getsockname()[0])
    return ""
