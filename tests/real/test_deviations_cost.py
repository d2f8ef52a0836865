"""The largest device, and one that answers from elsewhere, by net-snmp's snmpd in a namespace of its own.

What is counted is counted by snmpd: snmpInPkts (RFC 3418), and not by whoever asks.
"""

import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import pytest
from pysnmp.proto.api import v2c

from tests.test_snmp_cost import largest

from .agents import Agent
from .clients import snmp_get
from .devices import HALDEN
from .mib import HOST, PRINTER, Row
from .site import JACKS, Site

ROOT: Final = Path(__file__).parents[2]
READ: Final = Path(__file__).parent / "inside/read_v3.py"
NEW: Final = JACKS["new"].address
IN_PACKETS: Final = "1.3.6.1.2.1.11.1.0"
PAIRS: Final = 20
MOST: Final = 27
"""What test_snmp_cost.py allows for the same rows, and says why."""


def served() -> Iterator[Row]:
    """The rows of the printer, in the words of pass_persist; those of the network are snmpd's own."""
    for name, value in largest().items():
        dotted = ".".join(map(str, name))
        if dotted.startswith((f"{HOST}.", f"{PRINTER}.")):
            yield Row(dotted, *_encoded(value))


def _encoded(value: Any) -> tuple[str, str]:
    match value:
        case v2c.OctetString():
            return "OCTET", bytes(value).hex(" ")
        case v2c.ObjectIdentifier():
            return "OBJECTID", ".".join(map(str, tuple(value)))
        case v2c.TimeTicks():
            return "Timeticks", str(int(value))
        case v2c.Counter32():
            return "Counter", str(int(value))
        case _:
            return "INTEGER", str(int(value))


def read(site: Site) -> dict[str, Any]:
    done = site.run("workstation", sys.executable, READ, NEW, "", env={"PYTHONPATH": str(ROOT)})
    assert not done.returncode, done.stderr
    return dict(json.loads(done.stdout))


@pytest.fixture
def large(site: Site) -> Iterator[Agent]:
    site.ip("new", *(f"link add here{number} type veth peer name there{number}" for number in range(PAIRS)))
    with Agent(site, "new", HALDEN) as agent:
        agent.serve(list(served()))
        yield agent


def test_the_largest_device_is_read_whole_at_its_cost(site: Site, large: Agent) -> None:
    before = int(snmp_get(site, "new", IN_PACKETS))
    found = read(site)
    questions = int(snmp_get(site, "new", IN_PACKETS)) - before - 1
    assert questions <= MOST
    assert {outcome for outcome, _, _ in found["attempts"]} <= {"answered", "empty"}
    sizes = {"inputs": 6, "supplies": 12, "alerts": 30, "channels": 25, "interpreters": 25, "interfaces": 2 * PAIRS + 1}
    assert {kind: len(found["facts"][kind]["rows"]) for kind in sizes} == sizes
    assert all(found["facts"][kind]["complete"] for kind in sizes)
    assert large.program.running


@pytest.mark.parametrize(
    ("change", "noted"),
    [
        ("udp sport 161 udp sport set 1161", "answered from another port, 1161"),
        ("udp sport 161 ip saddr set 10.77.0.99", "answered from another address, 10.77.0.99"),
    ],
)
def test_an_answer_from_elsewhere_is_taken_and_noted(site: Site, change: str, noted: str) -> None:
    """RFC 3417 s3.1 has the answer come from where the question went; some agents answer from a socket of their own, or
    by the other of two interfaces (common practice, no source). The filter writes that into snmpd's answers."""
    with Agent(site, "new", HALDEN):
        leaving = ("type filter hook output priority 0;", change)
        site.filters("new", "table inet site {", "chain leaving {", *leaving, "}", "}")
        found = read(site)
    assert found["facts"]["serial"]["value"] == HALDEN.serial
    assert any(noted in reason for _, _, reason in found["attempts"]), found["attempts"]
