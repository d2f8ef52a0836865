"""What agents get wrong, served by net-snmp's snmpd and by snmpsim, and read and judged as if the device stood there.

Each deviation is a few rows of one base device (deviations.py); what must come of it is the standard's word, or common
practice where it says so. The judgement is compared with that of the base device, so that a deviation adds the findings
that it should, and no other.
"""

import asyncio
import importlib.util
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from netcheck.facts import Fact
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.move import DeviceRef, Move
from netcheck.probing import Answer, Target
from netcheck.roles import Role
from netcheck.secret import Secret
from netcheck.standard import Print, PrintDemand, SnmpDemand, Standard, SupplyLimits
from netcheck.verdict import Holds
from probes.snmp import PROBE
from probes.snmp.asking import Reply
from tests.conftest import make_case
from tests.snmp_asked import replies

from .agents import LOOPBACK, Loopback, Simulator
from .deviating import Deviation
from .deviations import BASE, DEVIATIONS
from .devices import HALDEN
from .mib import rows

PLAN = Print("na_arch-d_24x36in", 609_600, 914_400, "stationery-coated", "roll")
STANDARD = Standard("x", snmp=SnmpDemand(), supplies=SupplyLimits(30, 10), prints=PrintDemand((PLAN,)))
ALONE = Move(device=DeviceRef("192.0.2.61"))
FEW = 10
"""Rows in an answer of an agent that sends few."""

Told = list[tuple[str, Fact]]


@pytest.fixture(scope="module")
def snmpd(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Loopback]:
    with Loopback(tmp_path_factory.mktemp("snmpd")) as agent:
        yield agent


@pytest.fixture(scope="module")
def simulator(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Simulator]:
    """Every deviation, each under a community of its own."""
    _need_snmpsim()
    devices = {name: each.rows() for name, each in {**DEVIATIONS, "base": BASE}.items() if "snmpsim" in each.servers}
    with Simulator(tmp_path_factory.mktemp("snmpsim"), devices) as agent:
        yield agent


def _need_snmpsim() -> None:
    if not importlib.util.find_spec("snmpsim"):
        pytest.skip("missing: snmpsim (PyPI)")


def ask(port: int, community: str = "public", seconds: float = 8) -> list[Reply]:
    target = Target(Role.DEVICE, LOOPBACK, LOOPBACK, {"snmp": port}, community=Secret(community))
    return asyncio.run(replies(target, seconds))


def told(found: list[Reply]) -> Told:
    return [pair for reply in found if isinstance(reply, Answer) for pair in PROBE.read(reply.payload)]


def at(facts: Told, path: str) -> Any:
    """`supplies.rows.4.level`: the fact of a kind, its fields and positions."""
    kind, *steps = path.split(".")
    value: Any = next(fact for _, fact in facts if fact.kind == kind)
    for step in steps:
        value = value[int(step)] if step.isdigit() else getattr(value, step)
    return value


def judged(facts: Told) -> dict[str, str]:
    """What is not met, by rule and item."""
    case = make_case([(Role.DEVICE, PROBE.name, source, fact) for source, fact in facts], ALONE)
    verdict = judge(case, STANDARD, Gate.STANDING, {PROBE.name: frozenset(kind.kind for kind in PROBE.provides)})
    against = [finding for finding in verdict.findings if finding.state is not Holds.MET]
    return {f"{finding.id}/{finding.item}".rstrip("/"): str(finding.state) for finding in against}


def assert_as_expected(deviation: Deviation, found: list[Reply], base: dict[str, str]) -> None:
    facts = told(found)
    for path, value in deviation.facts.items():
        assert at(facts, path) == value, (path, deviation.says)
    # What the base device leaves open (nobody looked at it by IPP) is no work of the deviation.
    added = {name: state for name, state in judged(facts).items() if name not in base}
    assert added == deviation.findings, deviation.says
    notes = "; ".join(filter(None, (reply.note if isinstance(reply, Answer) else reply.reason for reply in found)))
    for words in deviation.attempts:
        assert words in notes, deviation.says
    assert deviation.attempts or not notes


@pytest.fixture(scope="module")
def base(snmpd: Loopback) -> dict[str, str]:
    snmpd.serve(BASE.rows())
    found = told(ask(snmpd.port))
    assert at(found, "serial.value") == HALDEN.serial
    against = judged(found)
    assert not {name for name in against if name.startswith(("condition.", "supplies.", "media."))} - {
        name for name, state in against.items() if state == "unproven"
    }
    return against


@pytest.mark.parametrize("name", [name for name, each in DEVIATIONS.items() if "snmpd" in each.servers])
def test_by_net_snmp(snmpd: Loopback, base: dict[str, str], name: str) -> None:
    deviation = DEVIATIONS[name]
    snmpd.serve(deviation.rows(), deviation.loop)
    assert_as_expected(deviation, ask(snmpd.port), base)


@pytest.mark.parametrize("name", [name for name, each in DEVIATIONS.items() if "snmpsim" in each.servers])
def test_by_snmpsim(simulator: Simulator, base: dict[str, str], name: str) -> None:
    assert_as_expected(DEVIATIONS[name], ask(simulator.port, name), base)


# --- deviations of the whole agent


def test_both_serve_the_same_base_device(snmpd: Loopback, simulator: Simulator) -> None:
    snmpd.serve(BASE.rows())
    of_the_printer = {source: fact for source, fact in told(ask(snmpd.port)) if source != "system"}
    assert of_the_printer == {source: fact for source, fact in told(ask(simulator.port, "base")) if source != "system"}
    assert len(of_the_printer) > 12


def test_answers_with_few_rows_are_continued(tmp_path: Path, snmpd: Loopback) -> None:
    """RFC 3416 s4.2.3: a GETBULK is answered with as many rows as the agent likes."""
    _need_snmpsim()
    snmpd.serve(BASE.rows())
    whole = {source: fact for source, fact in told(ask(snmpd.port)) if source != "system"}
    with Simulator(tmp_path, {"few": rows(HALDEN)}, varbinds=FEW) as agent:
        found = ask(agent.port, "few")
    assert {source: fact for source, fact in told(found) if source != "system"} == whole


def test_version_1_only(tmp_path: Path, snmpd: Loopback) -> None:
    """RFC 1157 s4.1.2 (from memory): noSuchName refuses the whole request for one object; silence in v2c."""
    snmpd.serve(BASE.rows())
    whole = [fact for _, fact in told(ask(snmpd.port)) if fact.kind not in {"snmp-agent", "system"}]
    with Loopback(tmp_path / "v1", versions=("v1",)) as agent:
        agent.serve(BASE.rows())
        found = ask(agent.port)
    assert at(told(found), "snmp-agent.version") == "v1"
    said = [fact for _, fact in told(found) if fact.kind not in {"snmp-agent", "system"}]
    assert sorted(map(repr, said)) == sorted(map(repr, whole))


def test_an_agent_that_wakes_up_late_is_read(snmpd: Loopback, base: dict[str, str]) -> None:
    """A device that sleeps answers the second try (common practice, no source)."""
    snmpd.serve(BASE.rows())

    async def late() -> list[Reply]:
        snmpd.program.pause()
        asyncio.get_running_loop().call_later(1.3, snmpd.program.resume)
        target = Target(Role.DEVICE, LOOPBACK, LOOPBACK, {"snmp": snmpd.port}, community=Secret("public"))
        return await replies(target)

    began = time.monotonic()
    found = asyncio.run(late())
    assert time.monotonic() - began > 1.3
    assert_as_expected(BASE, found, base)
