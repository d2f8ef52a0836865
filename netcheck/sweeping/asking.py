"""One row of a sweep: collect, judge, and what the outputs need of both. Stage: in a worker, around the usual joints.

A single check is a sweep of one: the same collect, the same rules, the same document.
"""

import time
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

import msgspec

from netcheck.case import Case
from netcheck.collect import Recorder, collect, targets_of
from netcheck.document import canonical, evidence_of
from netcheck.errors import InputError
from netcheck.evidence import PERSON, facts_of
from netcheck.facts import Fact
from netcheck.facts.identity import Firmware, Model, Serial
from netcheck.facts.network import Addresses, HardwareAddress, Interfaces
from netcheck.facts.supplies import Supplies
from netcheck.judge import Provides, judge
from netcheck.probing import Probe
from netcheck.roles import Role
from netcheck.standard import Standard
from netcheck.sweeping.outcome import Found, Row, Supply, Swept
from netcheck.verdict import Holds, Verdict, standings
from netcheck.wire import Wire
from netcheck.words import percent

NOT_OF_A_SWEEP = {"dnssd"}
"""Multicast ends at the site's edge: a sweep of many sites asks devices, and listens to none."""


async def swept_live(
    row: Row, standard: Standard, probes: Sequence[Probe[Any]], provides: Provides, wire: Wire, limit_s: float
) -> Swept:
    """Ask one device over a wire that others use as well, within ``limit_s`` seconds, and judge."""
    began, at_ms = time.monotonic(), time.time_ns() // 1_000_000
    move = row.move()
    try:
        targets = targets_of(move, standard, row.gate)
    except InputError as error:
        return Swept(row, at_ms, 0, None, fault=str(error))
    recorder = Recorder()
    await collect(targets, probes, recorder, limit_s, wire)
    took = round((time.monotonic() - began) * 1000)
    return swept_of(row, recorder.case(move), standard, provides, at_ms, took)


def swept_of(
    row: Row,
    case: Case,
    standard: Standard,
    provides: Provides,
    at_ms: int,
    took_ms: int,
    evidence: dict[str, Any] | None = None,
) -> Swept:
    """The outcome of a case, live or saved; ``evidence`` is given where it came from a file: it is kept as it was."""
    verdict = judge(case, standard, row.gate, provides)
    role = Role.DEVICE if Role.DEVICE in case.move.roles() else Role.NEW
    ref = case.move.device or case.move.new
    macs = [each.value for each in facts_of(case, role, HardwareAddress)]
    macs += [entry.mac for each in facts_of(case, role, Interfaces) for entry in each.rows if entry.mac]
    return Swept(
        row,
        at_ms,
        took_ms,
        verdict.state,
        model=_steady(case, role, Model, "value"),
        serial=_steady(case, role, Serial, "value"),
        firmware=_steady(case, role, Firmware, "version"),
        mac=next(iter(macs), ""),
        address=_own_address(case, role) or (ref.host if ref else ""),
        supplies=tuple(_supplies(case, role)),
        findings=tuple(_against(verdict, row)),
        fine=sum(each.state is Holds.MET for each in verdict.findings),
        evidence=canonical(evidence if evidence is not None else evidence_of(case)),
        standard=standard,
    )


def _steady(case: Case, role: Role, kind: type[Fact], name: str) -> str:
    """What one source says, the same one every night: where two contradict each other, which of them answered first
    tonight must not look like another device."""
    seen = (item for item in case.observations if item.role is role and item.kind == kind.kind)
    first = min(seen, key=lambda item: (item.probe == PERSON, item.probe, item.source), default=None)
    return str(first.value[name]) if first else ""


def _own_address(case: Case, role: Role) -> str:
    """The first address that the device itself names."""
    return next((entry.address for each in facts_of(case, role, Addresses)[:1] for entry in each.rows), "")


def _supplies(case: Case, role: Role) -> Iterator[Supply]:
    for table in facts_of(case, role, Supplies)[:1]:
        for each in table.rows:
            yield Supply(each.description or each.colorant, percent(each.level, each.capacity, each.unit))


def _against(verdict: Verdict, row: Row) -> Iterator[Found]:
    stands = standings(verdict.findings, row.gate)
    for each in verdict.findings:
        if each.state is not Holds.MET:
            yield Found(
                key=each.key,
                id=each.id,
                role=each.role,
                item=each.item,
                state=each.state,
                weight=each.weight,
                standing=stands[each.key],
                title=each.title,
                root=not each.causes,
                detail=each.detail,
                remedy=each.remedy,
                sources=tuple(dict.fromkeys(f"{seen.role} {seen.probe} {seen.source}" for seen in each.evidence)),
            )


def faulty(row: Row, fault: str) -> Swept:
    """A row of which nothing is known, and why."""
    return Swept(row, time.time_ns() // 1_000_000, 0, None, fault=fault)


def packed(outcomes: Iterable[Swept]) -> bytes:
    """Outcomes on their way to whoever stores them. The Standard stays behind: it is known there."""
    return msgspec.msgpack.encode([msgspec.structs.replace(each, standard=Standard()) for each in outcomes])


unpacked = msgspec.msgpack.Decoder(list[Swept]).decode
"""The same outcomes on arrival, without their Standard."""
