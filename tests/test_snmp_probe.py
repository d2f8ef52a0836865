"""The whole probe over loopback, against an agent of pysnmp and pyasn1: what is found, what is told, what it costs."""

import asyncio
import time

import pytest

from netcheck.facts.condition import Alerts, HostPrinter
from netcheck.facts.identity import Markers, Model, Serial, System
from netcheck.facts.media import Inputs
from netcheck.facts.network import Addresses, Gateways, Interfaces, SnmpAgent
from netcheck.facts.supplies import Supplies
from netcheck.probing import Answer, Deadline, Miss
from netcheck.roles import Outcome
from netcheck.wire import Wire
from probes.snmp import PROBE
from tests import snmp_device
from tests.snmp_agent import Agent, Faults, Rows, oid
from tests.snmp_asked import asked, by_source, facts, kinds, one, reply_about, target_of

MOST_QUESTIONS = 14
"""What one device may cost in v2c."""

ALL_KINDS = {fact.kind for fact in PROBE.provides}


def test_a_device_is_read_whole_within_its_cost() -> None:
    agent = Agent(snmp_device.rows(), delay_s=0.1)  # long beside what a busy machine takes to send
    found = asked(agent)
    assert kinds(found) == ALL_KINDS
    assert all(isinstance(reply, Answer) and not reply.note for reply in found)
    assert all(getattr(fact, "complete", True) for fact in facts(found))
    assert len(agent.asked) <= MOST_QUESTIONS
    assert agent.asked[0] == "v2c Get", "a single question first: is anybody there?"
    assert agent.rounds <= 3
    assert agent.most_at_once <= 6, "printers dislike bursts"
    assert not any("Set" in question for question in agent.asked)


def test_what_the_device_said_is_what_is_found() -> None:
    """The values are those that tests/snmp_device.py serves, put into the standards' words by hand."""
    found = asked(Agent(snmp_device.rows()))
    assert one(found, SnmpAgent).version == "v2c"
    assert one(found, System).name == "halden-36r"
    assert one(found, Model) == Model("Halden 36R")
    assert one(found, Serial) == Serial("HX-77-0457")
    assert one(found, HostPrinter) == HostPrinter(1, "warning", "idle", ("lowPaper",))
    assert [row.life_count for row in one(found, Markers).rows] == [8812]
    assert [row.colorant for row in one(found, Supplies).rows] == [*snmp_device.INKS, ""]
    assert [(row.index, row.code) for row in one(found, Alerts).rows] == [
        (3, "inputMediaSupplyEmpty"),
        (7, "coverOpen"),
    ]
    assert [(row.mac, row.speed_bits) for row in one(found, Interfaces).rows] == [("02:77:00:00:00:22", 100_000_000)]
    assert [row.origin for row in one(found, Addresses).rows] == ["dhcp"]
    assert one(found, Gateways) == Gateways(("192.0.2.1",), complete=True)


@pytest.mark.parametrize("octets", [484, 700, 1472, 9000])
def test_answers_that_are_cut_are_continued(octets: int) -> None:
    """RFC 3417 s3.2: an agent need not send more than 484 octets; about 1,472 fit an Ethernet frame."""
    agent = Agent(snmp_device.rows(), octets=octets)
    found = asked(agent)
    assert by_source(found) == by_source(asked(Agent(snmp_device.rows())))
    if octets >= 1472:
        assert len(agent.asked) <= MOST_QUESTIONS


def test_many_languages_cost_nothing() -> None:
    """RFC 3805 s6, prtLocalizationTable: one row a language; the current one is among the first here."""
    languages = snmp_device.table(f"{snmp_device.PRINTER}.7.1.1", (1, 1), {4: 106})
    for number in range(2, 31):
        languages |= snmp_device.table(f"{snmp_device.PRINTER}.7.1.1", (1, number), {4: 106})
    one_language, thirty = Agent(snmp_device.rows()), Agent({**snmp_device.rows(), **languages})
    assert by_source(asked(thirty)) == by_source(asked(one_language))
    assert len(thirty.asked) == len(one_language.asked)


def test_any_device_index() -> None:
    found = asked(Agent(snmp_device.rows(device=3)))
    assert one(found, HostPrinter).device_index == 3
    assert kinds(found) == ALL_KINDS


def test_several_printers_are_remarked_on() -> None:
    both = {**snmp_device.rows(device=2), **snmp_device.rows(device=5)}
    found = asked(Agent(both))
    host = next(reply for reply in found if "hrPrinterTable" in reply.target)
    assert isinstance(host, Answer)
    assert host.note == "2 printers here (hrDeviceIndex [2, 5]); the first one is read"
    assert one(found, HostPrinter).device_index == 2


def test_an_agent_that_speaks_only_v1() -> None:
    agent = Agent(snmp_device.rows(), versions=frozenset({0}))
    found = asked(agent)
    assert one(found, SnmpAgent).version == "v1"
    assert kinds(found) == ALL_KINDS
    assert by_source(found) == by_source(asked(Agent(snmp_device.rows()))), "the same device, whoever is asked"


def test_v1_refuses_all_for_one_object() -> None:
    """noSuchName names the object that is missing (RFC 1157 s4.1.2, from memory); the others are asked again."""
    without = snmp_device.rows()
    del without[oid("1.3.6.1.2.1.1.6.0")]
    system = one(asked(Agent(without, versions=frozenset({0}))), System)
    assert (system.name, system.location) == ("halden-36r", "")


def test_an_agent_that_speaks_both_is_spoken_to_in_v2c_even_when_the_first_question_is_lost() -> None:
    found = asked(Agent(snmp_device.rows(), faults=Faults(ignores=1, v2c_delay_s=0.05)))
    assert one(found, SnmpAgent).version == "v2c"
    assert kinds(found) == ALL_KINDS


SUPPLIES = oid("1.3.6.1.2.1.43.11.1.1")


def test_identifiers_that_go_round_end_the_table_and_nothing_else() -> None:
    level = (*SUPPLIES, 9, 1, 2)
    found = asked(Agent(snmp_device.rows(), faults=Faults(loops_at=level)))
    supplies = one(found, Supplies)
    assert not supplies.complete
    assert len(supplies.rows) == 7, "the rows are known from the columns that were read"
    reply = reply_about(found, "prtMarkerSuppliesTable")
    assert isinstance(reply, Answer)
    assert "prtMarkerSuppliesLevel: the agent's identifiers do not increase" in reply.note
    assert one(found, Inputs).complete, "what lies before it is whole"


def test_a_view_that_ends_early_ends_tables_and_not_the_reading() -> None:
    """From outside it cannot be told from a device that has no more: what is missing is simply not there."""
    found = asked(Agent(snmp_device.rows(), faults=Faults(ends_at=oid("1.3.6.1.2.1.43.10.2"))))
    assert {"inputs", "outputs", "host-printer"} <= kinds(found)
    assert not {"markers", "supplies"} & kinds(found)


@pytest.mark.parametrize("answer", [1, 5, None], ids=["tooBig", "genErr", "silence"])
def test_getbulk_that_does_not_work_is_done_without(answer: int | None) -> None:
    found = asked(Agent(snmp_device.rows(), faults=Faults(bulk=answer)), seconds=20)
    assert by_source(found) == by_source(asked(Agent(snmp_device.rows())))


def test_one_object_that_breaks_costs_one_column() -> None:
    broken = frozenset({(*oid("1.3.6.1.2.1.43.8.2.1"), 12, 1, 2)})
    found = asked(Agent(snmp_device.rows(), faults=Faults(breaks_at=broken)))
    inputs = one(found, Inputs)
    assert not inputs.complete
    assert [row.media_name for row in inputs.rows] == ["roll 914 mm", ""]
    assert [row.name for row in inputs.rows] == ["Roll 1", "Roll 2"]
    reply = reply_about(found, "prtInputTable")
    assert isinstance(reply, Answer)
    assert reply.note == "prtInputMediaName: the agent answers genErr"


def test_an_error_state_of_the_wrong_type_is_not_no_errors() -> None:
    wrong: Rows = {**snmp_device.rows(), oid("1.3.6.1.2.1.25.3.5.1.2.1"): snmp_device.integer(0)}
    assert one(asked(Agent(wrong)), HostPrinter).errors is None


def test_an_answer_from_elsewhere_is_remarked_on() -> None:
    found = asked(Agent(snmp_device.rows(), faults=Faults(elsewhere=True)))
    assert kinds(found) == ALL_KINDS
    assert all(isinstance(reply, Answer) and "answered from another port" in reply.note for reply in found)


def test_what_came_before_the_end_is_kept() -> None:
    """A slow agent, a deadline that comes first: tables that came are there, the others have a reason."""
    agent = Agent(snmp_device.rows(), delay_s=0.35)
    found = asked(agent, seconds=0.8)
    assert {"system", "host-printer", "supplies"} <= kinds(found)
    late = [reply for reply in found if isinstance(reply, Miss)]
    assert late
    assert {reply.outcome for reply in late} == {Outcome.SILENT}
    assert {reply.target.rpartition("SNMPv2c ")[2] for reply in found} == {
        reply.target.rpartition("SNMPv2c ")[2] for reply in asked(Agent(snmp_device.rows()))
    }, "every topic is told of, read or not"


def test_stopping_leaves_nothing_behind() -> None:
    async def run() -> int:
        async with Agent(snmp_device.rows(), delay_s=0.1) as agent, Wire() as wire:
            stream = PROBE.ask(target_of(agent.port), wire, Deadline(time.monotonic() + 8))
            assert [type(await anext(stream)), type(await anext(stream))] == [Answer, Answer]
            await stream.aclose()
            await asyncio.sleep(0.01)
            return len(asyncio.all_tasks())

    assert asyncio.run(run()) == 1, "this one"
