"""Services beside what else the device says: it prints, it answers by SNMP alone; and what else it can be.

That many devices serve one raw or LPD connection at a time is common practice, no source. The states are RFC 8011
s5.4.11 (processing) and RFC 2790 (hrPrinterStatus printing).
"""

import msgspec
import pytest

from netcheck.facts.condition import HostPrinter, PrinterState
from netcheck.facts.network import NameLookup, Service, SnmpAgent
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.move import DeviceRef, Move
from netcheck.roles import Role
from netcheck.standard import ServicesRequired, Standard, SubnetDemand
from netcheck.verdict import Finding, Holds, State, Verdict, Weight
from tests.conftest import NOW, make_case
from tests.test_judge import found, only
from tests.test_rules_link import Seen, here, judged, port, way

NEEDS = Standard("site", services_required=ServicesRequired(("ipp", "raw", "lpd")))
PRINTS: Seen = (Role.NEW, "ipp", "printer-state", PrinterState("processing", (), accepting=True))
PRINTING: Seen = (Role.NEW, "snmp", "hrPrinter", HostPrinter(1, "running", "printing", ()))
IDLE: Seen = (Role.NEW, "ipp", "printer-state", PrinterState("idle", (), accepting=True))
WARM: Seen = (Role.NEW, "snmp", "hrPrinter", HostPrinter(1, "running", "warmup", ()))
AGENT: Seen = (Role.NEW, "snmp", "agent", SnmpAgent("v2c"))
PORTS = {"ipp": 631, "raw": 9100, "lpd": 515, "https": 443}


def tcp(name: str, state: str, waited_ms: int = 2500, role: Role = Role.NEW) -> Seen:
    trips = (900,) if state == "open" else ()
    return role, "ports", f"tcp/{PORTS[name]} {name}", Service(name, PORTS[name], state, "", waited_ms, trips)


def required(*facts: Seen, standard: Standard = NEEDS) -> dict[str, Finding]:
    return {each.item: each for each in found(judged(*facts, standard=standard), "services.required")}


# --- a device that prints


@pytest.mark.parametrize("busy", [PRINTS, PRINTING])
@pytest.mark.parametrize("state", ["refused", "silent"])
def test_one_connection_at_a_time(busy: Seen, state: str) -> None:
    each = required(tcp("ipp", state), tcp("raw", state), tcp("lpd", state), busy)
    assert each["ipp"].state is Holds.UNMET  # IPP is served to many at once
    for name in ("raw", "lpd"):
        assert (each[name].state, each[name].weight) == (Holds.UNPROVEN, Weight.BLOCKER)
        assert "idle" in each[name].remedy
        assert "or else" not in each[name].detail


@pytest.mark.parametrize("busy", [(), (IDLE,), (WARM,), (IDLE, WARM)])
def test_an_idle_device_has_its_services_free(busy: tuple[Seen, ...]) -> None:
    each = required(tcp("ipp", "open"), tcp("raw", "refused"), *busy)
    assert (each["ipp"].state, each["raw"].state) == (Holds.MET, Holds.UNMET)
    assert each["lpd"].state is Holds.UNPROVEN  # never tried


def test_a_busy_device_whose_service_is_open_is_open() -> None:
    assert required(tcp("raw", "open"), PRINTS)["raw"].state is Holds.MET


def test_what_a_busy_device_keeps_from_us_is_missing_and_not_in_the_way() -> None:
    verdict = judged(tcp("ipp", "open"), tcp("raw", "refused"), tcp("lpd", "open"), PRINTS, standard=NEEDS)
    assert {each.state for each in verdict.findings if each.weight is Weight.BLOCKER} == {Holds.MET, Holds.UNPROVEN}
    assert verdict.state is State.CANNOT_TELL


def test_what_never_got_there_was_not_kept_waiting_by_a_job() -> None:
    """RFC 1122 s3.2.2.1: destination unreachable is a router's or our own system's word."""
    assert required(tcp("ipp", "open"), tcp("raw", "unreachable"), PRINTS)["raw"].state is Holds.UNMET


# --- what else it can be


@pytest.mark.parametrize(
    ("state", "says"), [("refused", "firewall"), ("silent", "drops"), ("unreachable", "every computer")]
)
def test_the_second_cause_has_a_way_to_tell(state: str, says: str) -> None:
    finding = required(tcp("ipp", "open"), tcp("raw", state))["raw"]
    assert finding.state is Holds.UNMET
    assert says in finding.detail.partition("or else ")[2]


@pytest.mark.parametrize("told", [tcp("raw", "open"), tcp("raw", "silent", 900)])
def test_no_second_cause_where_there_is_no_fault(told: Seen) -> None:
    finding = required(tcp("ipp", "open"), told)["raw"]
    assert finding.state is not Holds.UNMET
    assert "or else" not in finding.detail


def test_silence_from_another_network_is_no_second_cause_either() -> None:
    standard = msgspec.structs.replace(NEEDS, subnet=SubnetDemand("198.51.100.0/24"))
    assert required(tcp("raw", "silent"), standard=standard)["raw"].state is Holds.UNPROVEN


# --- SNMP alone


def reach(*facts: Seen) -> Finding:
    return only(judged(*facts), "services.reach")


def test_silent_everywhere_and_answering_by_snmp_is_there() -> None:
    """What is on UDP port 161 answered; all TCP may be filtered (our own rule's question: any of its services)."""
    finding = reach(here(), way(), port("silent"), AGENT)
    assert finding.state is Holds.MET
    assert "SNMP" in finding.title
    assert reach(here(), way(), port("silent")).state is Holds.UNMET


@pytest.mark.parametrize(
    ("facts", "state"),
    [
        ((tcp("ipp", "open"), tcp("raw", "silent")), Holds.MET),
        ((tcp("ipp", "refused"), tcp("raw", "refused")), Holds.UNMET),
        ((tcp("ipp", "refused"), tcp("raw", "silent")), Holds.UNMET),
        ((tcp("ipp", "silent", 900),), Holds.UNPROVEN),  # RFC 6298 s2.1
        ((tcp("ipp", "silent", 900), AGENT), Holds.MET),
        ((tcp("https", "open"), tcp("ipp", "silent")), Holds.UNMET),
        ((AGENT,), Holds.UNPROVEN),  # no port was tried: not seen
        ((), Holds.UNPROVEN),
    ],
)
def test_reach(facts: tuple[Seen, ...], state: Holds) -> None:
    finding = reach(here(), way(), *facts)
    assert (finding.state, finding.weight) == (state, Weight.BLOCKER)


def test_snmp_of_the_old_device_says_nothing_of_the_new_one() -> None:
    assert reach(here(), way(), port("silent"), (Role.OLD, *AGENT[1:])).state is Holds.UNMET


def test_without_old_device_without_standard_on_loopback() -> None:
    case = make_case((tcp("ipp", "silent"), AGENT), Move(new=DeviceRef("127.0.0.1")))
    verdict = judge(case, Standard(), Gate.SWAP, {})
    assert only(verdict, "services.reach").state is Holds.MET
    assert not found(verdict, "services.required")


def test_a_name_that_leads_nowhere_is_the_cause() -> None:
    """RFC 1123 s2.1; an old device that is not in the Move is not asked about."""
    lookup: Seen = (Role.NEW, "names", "resolver", NameLookup("halden.example", ()))
    verdict = judged(here(), lookup, port("silent"))
    assert only(verdict, "services.name").key in only(verdict, "services.reach").causes
    case = make_case((lookup,), Move(new=DeviceRef("halden.example")))
    assert not found(judge(case, Standard(), Gate.SWAP, {}), "services.old-name")


def seen_before(minutes: int) -> Verdict:
    case = make_case((here(), way(), AGENT, port("silent")))
    earlier = tuple(
        msgspec.structs.replace(each, at_ms=NOW - minutes * 60_000) if each.kind == "snmp-agent" else each
        for each in case.observations
    )
    return judge(msgspec.structs.replace(case, observations=earlier), Standard(), Gate.SWAP, {})


def test_who_answered_this_morning_does_not_answer_now_by_that() -> None:
    assert only(seen_before(240), "services.reach").state is not Holds.MET
