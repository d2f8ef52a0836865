"""How many questions a whole device costs, up to the largest.

A device of usual size costs at most 14. What is larger costs what its octets cost: 1,098 objects of 24,000 octets do
not fit into fewer than 17 answers of 1,430 octets, which is what an Ethernet frame leaves for the rows, so that no way
of asking reads them with 14. The bound is that number and ten more: the greeting, the eight questions that everything
begins with, of which each may be answered in part, and one.
"""

import math

import pytest
from pyasn1.codec.ber import encoder

from netcheck.facts import Fact
from netcheck.facts.channels import Channels, Interpreters
from netcheck.facts.condition import Alerts
from netcheck.facts.media import Inputs
from netcheck.facts.network import Interfaces
from netcheck.facts.supplies import Supplies
from probes.snmp import plan
from tests import snmp_device
from tests.snmp_agent import V2C, Agent, Rows
from tests.snmp_asked import asked, one
from tests.snmp_device import PRINTER, table

FRAME, ROOM = 1472, 1430
"""Octets of an answer in one Ethernet frame, and what the message around the rows leaves of it."""
SIZES: dict[type[Fact], int] = {Inputs: 6, Supplies: 12, Alerts: 30, Interfaces: 40, Channels: 25, Interpreters: 25}


def largest() -> Rows:
    """Six rolls, twelve supplies, thirty alerts, forty interfaces, 25 ways in and 25 languages."""
    found = snmp_device.rows()
    for number in range(1, 41):
        found |= _interface(number)
    for number in range(1, 31):
        words = {8: f"Alert {number}: the roll is nearly used up", 9: V2C.TimeTicks(number)}
        found |= table(f"{PRINTER}.18.1.1", (1, number), {2: 4, 3: 3, 4: 8, 5: 1, 6: -2, 7: 807, **words})
    for number in range(1, 26):
        found |= table(f"{PRINTER}.14.1.1", (1, number), {2: 37, 6: 3, 7: 2, 8: 0, 9: f"Port={9100 + number}\n"})
        language = {2: 54, 3: "1.7", 5: f"Language number {number}", 6: "4.7.2"}
        found |= table(f"{PRINTER}.15.1.1", (1, number), language)
    for number in range(1, 13):
        words = {6: f"Ink cartridge {number}, pigment, 700 ml", 7: 15}
        found |= table(f"{PRINTER}.11.1.1", (1, number), {2: 1, 3: number, 4: 3, 5: 6, 8: 7000, 9: 3000, **words})
        found |= table(f"{PRINTER}.12.1.1", (1, number), {2: 1, 3: 3, 4: "light magenta", 5: 256})
    for number in range(1, 7):
        size = {2: 6, 3: 4, 4: -1, 5: 914_400, 6: -2, 7: 914_400, 8: 17, 9: 50, 10: 31, 11: 0}
        words = {12: "roll 914 mm", 13: f"Roll {number}", 18: f"Roll {number}, lower", 21: "stationery-coated"}
        found |= table(f"{PRINTER}.8.2.1", (1, number), size | words)
    return found


def _interface(number: int) -> Rows:
    mac, errors = bytes((2, 0x77, 0, 0, 0, number)), V2C.Counter32(1)
    wired = {2: f"eth{number}", 3: 6, 5: V2C.Gauge32(100_000_000), 6: mac, 8: 1, 14: errors, 20: errors}
    return {
        **table("1.3.6.1.2.1.2.2.1", (number,), wired),
        **table("1.3.6.1.2.1.31.1.1.1", (number,), {15: V2C.Gauge32(100)}),
        **table("1.3.6.1.2.1.10.7.2.1", (number,), {8: V2C.Counter32(5), 19: 3}),
    }


def least_answers(rows: Rows) -> int:
    """Into how many frames the rows that are asked for fit, encoded by pysnmp and pyasn1."""
    wanted = [each.oid for each in plan.WANTED.values()]
    octets = sum(
        len(encoder.encode(V2C.ObjectIdentifier(name))) + len(encoder.encode(value)) + 2
        for name, value in rows.items()
        if any(name[: len(column)] == column for column in wanted)
    )
    return math.ceil(octets / ROOM)


def test_the_largest_device_costs_its_octets_and_ten() -> None:
    agent = Agent(largest(), octets=FRAME)
    found = asked(agent)
    assert {kind: len(one(found, kind).rows) for kind in SIZES} == SIZES
    assert all(one(found, kind).complete for kind in SIZES)
    assert least_answers(largest()) == 17
    assert len(agent.asked) <= 17 + 10


@pytest.mark.parametrize("octets", [FRAME, 8192])
def test_a_usual_device_costs_no_more_than_14(octets: int) -> None:
    agent = Agent(snmp_device.rows(), octets=octets)
    asked(agent)
    assert len(agent.asked) <= 14
