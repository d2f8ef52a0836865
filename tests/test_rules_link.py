"""The rules about where we stand and who is at the device's address: published rows, weights, causes and honesty.

Rows come from fixtures/standards/oracle_checks.json, each with its source.
"""

from typing import Any

import msgspec
import pytest

from netcheck.facts import Fact
from netcheck.facts.link import Neighbour, OwnInterfaceRow, OwnInterfaces, ReverseName, Route
from netcheck.facts.network import Addresses, AddressRow, HardwareAddress, InterfaceRow, Interfaces, Service
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.move import Move
from netcheck.roles import Role
from netcheck.standard import Standard, SubnetDemand, WordEnough
from netcheck.verdict import Finding, Holds, Standing, Verdict, Weight, standings
from tests.conftest import LS_2041, NOW, make_case, published
from tests.test_judge import found, only

ADDRESS, OURS = "192.0.2.61", "192.0.2.10"
NEW_MAC, OLD_MAC, WIFI_MAC = "02:77:00:00:00:22", "02:77:00:00:00:21", "02:77:00:00:01:22"
SITE = Standard("site", subnet=SubnetDemand("192.0.2.0/24"))
UNSEEN = "ARP needs administrator's rights (a reason)"
Seen = tuple[Role, str, str, Fact]


def here(address: str = OURS, prefix: int = 24, *, up: bool | None = True) -> Seen:
    rows = (OwnInterfaceRow("lo", "127.0.0.1", 8, ""), OwnInterfaceRow("eth0", address, prefix, OLD_MAC, up=up))
    return Role.HERE, "address", "own-interfaces", OwnInterfaces(rows)


def way(source: str = OURS, *, on_link: bool = True, address: str = ADDRESS, role: Role = Role.NEW) -> Seen:
    return role, "address", "route", Route(address, "eth0" if source else "", source, on_link)


def arp(*macs: str, complete: bool = True, address: str = ADDRESS, role: Role = Role.NEW) -> Seen:
    return role, "address", "arp", Neighbour(address, macs, "arp", complete, "" if complete else "cut short")


def table(*macs: str, state: str = "", complete: bool = False, address: str = ADDRESS) -> Seen:
    fact = Neighbour(address, macs, "neighbour-table", complete, "" if complete else UNSEEN, state)
    return Role.NEW, "address", "neighbour-table", fact


def port(state: str, waited_ms: int = 2500, role: Role = Role.NEW) -> Seen:
    return role, "ports", "tcp/631 ipp", Service("ipp", 631, state, "", waited_ms, ())


def own_word(*macs: str, complete: bool = True) -> Seen:
    rows = tuple(InterfaceRow(number, "eth", "ethernetCsmacd", mac, "up", None) for number, mac in enumerate(macs, 1))
    return Role.NEW, "snmp", "ifTable", Interfaces(rows, complete)


def mask(address: str, prefix: int) -> Seen:
    row = AddressRow(address, prefix, "", 1, "manual", "preferred")
    return Role.NEW, "snmp", "ipAddressTable", Addresses((row,), complete=True)


def judged(*facts: Seen, standard: Standard = SITE, gate: Gate = Gate.SWAP, move: Move = LS_2041) -> Verdict:
    return judge(make_case(facts, move), standard, gate, {})


def rule(identity: str, *facts: Seen, **how: Any) -> Finding:
    return only(judged(*facts, **how), identity)


# --- two owners of one address


@pytest.mark.parametrize("row", published("ACD-04"))
def test_two_machines_at_one_address(row: dict[str, str]) -> None:
    finding = rule("link.owner", here(), way(), arp(NEW_MAC, OLD_MAC))
    assert "address conflict" in row["expected"]
    assert (finding.state, finding.weight, finding.gate) == (Holds.UNMET, Weight.BLOCKER, Gate.SWAP)
    assert NEW_MAC in finding.detail
    assert OLD_MAC in finding.detail


@pytest.mark.parametrize("row", published("ACD-04"))
def test_two_interfaces_of_one_device_are_no_conflict(row: dict[str, str]) -> None:
    """The exceptions are common practice; a device that is plugged in and on Wi-Fi at once names both itself."""
    assert "unless" in row["expected"]
    finding = rule("link.owner", here(), way(), arp(NEW_MAC, WIFI_MAC), own_word(NEW_MAC, WIFI_MAC))
    assert (finding.state, finding.weight) == (Holds.UNMET, Weight.CARE)
    third = rule("link.owner", here(), way(), arp(NEW_MAC, WIFI_MAC, OLD_MAC), own_word(NEW_MAC, WIFI_MAC))
    assert third.weight is Weight.BLOCKER


def test_one_answer_to_a_whole_question_is_one_owner() -> None:
    assert rule("link.owner", here(), way(), arp(NEW_MAC)).state is Holds.MET


@pytest.mark.parametrize("told", [table(NEW_MAC, state="reachable"), arp(NEW_MAC, complete=False)])
def test_where_a_second_owner_would_not_show_it_is_a_note(told: Seen) -> None:
    finding = rule("link.owner", here(), way(), told)
    assert (finding.state, finding.weight) == (Holds.UNPROVEN, Weight.NOTE)
    assert isinstance(told[3], Neighbour)
    assert told[3].reason in finding.detail
    assert "administrator" in finding.remedy


def test_a_second_machine_at_the_old_devices_address() -> None:
    facts = here(), way(role=Role.OLD, address="192.0.2.21"), arp(OLD_MAC, NEW_MAC, address="192.0.2.21", role=Role.OLD)
    for gate, asked in ((Gate.SURVEY, True), (Gate.SWAP, True), (Gate.LEAVE, False)):
        assert bool(found(judged(*facts, gate=gate), "link.old-owner")) is asked
    finding = rule("link.old-owner", *facts)
    assert (finding.state, finding.weight, finding.role) == (Holds.UNMET, Weight.CARE, Role.OLD)


# --- nobody, somebody, and who


@pytest.mark.parametrize("told", [arp(), table(state="failed", complete=True)])
def test_nobody_there_is_the_cause_of_silence(told: Seen) -> None:
    verdict = judged(here(), way(), told, port("silent"))
    finding, reach = only(verdict, "link.neighbour"), only(verdict, "services.reach")
    assert (finding.state, finding.weight) == (Holds.UNMET, Weight.BLOCKER)
    assert reach.state is Holds.UNMET
    assert reach.causes == (finding.key,)
    assert verdict.findings[0] == finding


def test_what_answers_otherwise_is_not_nobody() -> None:
    """A device that keeps silent about a probe and opens its ports is there."""
    finding = rule("link.neighbour", here(), way(), arp(), port("open"))
    assert (finding.state, finding.weight) == (Holds.UNPROVEN, Weight.NOTE)


@pytest.mark.parametrize(
    ("told", "service", "state"),
    [
        (arp(NEW_MAC), "silent", Holds.MET),  # a firewall may drop all else
        (table(NEW_MAC, state="reachable"), "silent", Holds.MET),
        (table(NEW_MAC, state="stale"), "open", Holds.MET),
        (table(NEW_MAC, state="stale"), "refused", Holds.MET),
        (table(NEW_MAC, state="stale"), "silent", Holds.UNPROVEN),
        (table(NEW_MAC, state="permanent"), "silent", Holds.UNPROVEN),
        (table(NEW_MAC), "silent", Holds.UNPROVEN),
        (table(state="incomplete"), "silent", Holds.UNPROVEN),
        (arp(complete=False), "silent", Holds.UNPROVEN),
    ],
)
def test_what_is_remembered_is_not_there_by_that(told: Seen, service: str, state: Holds) -> None:
    """RFC 4861 s7.3.2: only "reachable" was confirmed of late; stale, delay, probe were not."""
    finding = rule("link.neighbour", here(), way(), told, port(service))
    assert finding.state is state
    assert state is Holds.MET or finding.weight is Weight.NOTE


@pytest.mark.parametrize(
    ("told", "word", "state", "weight"),
    [
        (arp(NEW_MAC), own_word(NEW_MAC, WIFI_MAC), Holds.MET, Weight.CARE),
        (arp(OLD_MAC), own_word(NEW_MAC), Holds.UNMET, Weight.CARE),
        (table(OLD_MAC, state="reachable"), own_word(NEW_MAC), Holds.UNMET, Weight.CARE),
        (arp(OLD_MAC), own_word(NEW_MAC, complete=False), Holds.UNPROVEN, Weight.NOTE),
        (arp(OLD_MAC), own_word(WIFI_MAC, NEW_MAC, complete=False), Holds.UNPROVEN, Weight.NOTE),
    ],
)
def test_the_hardware_address_on_the_wire_against_the_devices_word(
    told: Seen, word: Seen, state: Holds, weight: Weight
) -> None:
    finding = rule("link.mac-agrees", here(), way(), told, word)
    assert (finding.state, finding.weight) == (state, weight)


def test_a_device_that_tells_no_hardware_address_is_not_contradicted() -> None:
    assert not found(judged(here(), way(), arp(NEW_MAC), own_word("")), "link.mac-agrees")
    assert not found(judged(here(), way(), arp(), own_word(NEW_MAC)), "link.mac-agrees")


def test_a_plate_counts_where_the_standard_takes_a_persons_word() -> None:
    plate: Seen = (Role.NEW, "person", "plate", HardwareAddress(NEW_MAC))
    assert not found(judged(here(), way(), arp(OLD_MAC), plate), "link.mac-agrees")
    standard = msgspec.structs.replace(SITE, word=WordEnough(("mac",)))
    finding = rule("link.mac-agrees", here(), way(), arp(OLD_MAC), plate, standard=standard)
    assert finding.state is Holds.UNMET


def test_what_we_remember_is_not_who_answers() -> None:
    verdict = judged(here(), way(), arp(NEW_MAC), table(OLD_MAC, state="reachable"), port("silent"), own_word(NEW_MAC))
    finding = only(verdict, "link.remembered")
    assert (finding.state, finding.weight, finding.role) == (Holds.UNMET, Weight.CARE, Role.HERE)
    assert finding.key in only(verdict, "services.reach").causes
    assert standings(verdict.findings, Gate.SWAP)[finding.key] is Standing.IN_THE_WAY
    assert only(verdict, "link.mac-agrees").state is Holds.MET  # who was asked on the wire counts


def test_two_sightings_of_different_addresses_are_not_compared() -> None:
    """The new device was at one address, and is at another: what was remembered of the first one says nothing."""
    facts = here(), way(), arp(NEW_MAC, address="192.0.2.21"), table(OLD_MAC)
    case = make_case(facts)
    earlier = msgspec.structs.replace(case.observations[3], at_ms=NOW - 1_000)
    case = msgspec.structs.replace(case, observations=(*case.observations[:3], earlier))
    assert not found(judge(case, SITE, Gate.SWAP, {}), "link.remembered")


# --- names back


@pytest.mark.parametrize(
    ("names", "leads_to", "state"),
    [
        (("halden.example",), (ADDRESS,), Holds.MET),
        (("corvid.example",), ("192.0.2.21",), Holds.UNMET),
        (("corvid.example",), (), Holds.UNMET),
        (("halden.example",), None, Holds.UNPROVEN),
    ],
)
def test_the_name_back(names: tuple[str, ...], leads_to: tuple[str, ...] | None, state: Holds) -> None:
    told: Seen = (Role.NEW, "reverse-names", "resolver", ReverseName(ADDRESS, names, "resolver", leads_to))
    finding = rule("link.name-back", told)
    assert (finding.state, finding.weight) == (state, Weight.NOTE)


def test_no_name_back_is_no_question() -> None:
    told: Seen = (Role.NEW, "reverse-names", "resolver", ReverseName(ADDRESS, (), "resolver"))
    assert not found(judged(told), "link.name-back")
