"""The mechanism of judging: what is asked, what is unproven, what counts at a gate, what folds."""

from graphlib import TopologicalSorter

import msgspec
import pytest

from netcheck.facts import Fact, Measured
from netcheck.facts.condition import Alerts, Covers, HostPrinter, PrinterState
from netcheck.facts.identity import Firmware, Serial
from netcheck.facts.network import Addresses, AddressRow, Gateways, IppService, NameLookup, Service, SnmpAgent
from netcheck.facts.supplies import Supplies, Supply
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.move import DeviceRef, Move, Seen
from netcheck.roles import Outcome, Role
from netcheck.ruling import RULES
from netcheck.standard import (
    FactAge,
    FirmwareDemand,
    ServicesRequired,
    SnmpDemand,
    Standard,
    SubnetDemand,
    SupplyLimits,
    WordEnough,
)
from netcheck.verdict import Finding, Holds, Standing, State, Verdict, Weight, standings
from tests.conftest import LS_2041, NOW, attempt, make_case

STANDARD = Standard("test", firmware=FirmwareDemand("4.7.2", "dotted"))
ALONE = Move(device=DeviceRef("192.0.2.61"))


def found(verdict: Verdict, identity: str) -> list[Finding]:
    return [finding for finding in verdict.findings if finding.id == identity]


def only(verdict: Verdict, identity: str) -> Finding:
    (finding,) = found(verdict, identity)
    return finding


def open_service(name: str, port: int) -> Service:
    return Service(name, port, "open", "", 2, (900,))


def test_a_rule_whose_demand_is_not_made_is_not_asked() -> None:
    case = make_case([(Role.NEW, "ipp", "v", Firmware("4.8.0"))])
    assert not found(judge(case, Standard("empty"), Gate.SWAP, {}), "identity.firmware")
    assert only(judge(case, STANDARD, Gate.SWAP, {}), "identity.firmware").state is Holds.UNMET


def test_a_rule_whose_role_the_move_does_not_speak_of_is_not_asked() -> None:
    verdict = judge(make_case([], Move(new=DeviceRef("192.0.2.61"))), Standard(), Gate.SWAP, {})
    assert not [finding for finding in verdict.findings if finding.role in {Role.OLD, Role.QUEUE}]


def test_what_was_not_observed_is_unproven_and_says_why() -> None:
    case = make_case([], attempts=[attempt(Role.NEW, "ipp", Outcome.SILENT, "no answer in 3 s")])
    finding = only(judge(case, STANDARD, Gate.SWAP, {"ipp": frozenset({"firmware"})}), "identity.firmware")
    assert finding.state is Holds.UNPROVEN
    assert "no answer in 3 s" in finding.detail


def test_nothing_observed_at_all_is_never_ready() -> None:
    for gate in Gate:
        move = LS_2041.alone() if gate is Gate.STANDING else LS_2041
        assert judge(make_case([], move), Standard(), gate, {}).state is State.CANNOT_TELL


@pytest.mark.parametrize(
    ("at", "counts"), [(Gate.SURVEY, False), (Gate.FILL, False), (Gate.SWAP, True), (Gate.LEAVE, True)]
)
def test_a_requirement_blocks_from_its_own_gate_on(at: Gate, *, counts: bool) -> None:
    verdict = judge(make_case([(Role.NEW, "ipp", "v", Firmware("4.8.0"))]), STANDARD, at, {})
    finding = only(verdict, "identity.firmware")
    assert finding.state is Holds.UNMET
    assert (standings(verdict.findings, at)[finding.key] is Standing.IN_THE_WAY) is counts
    assert (verdict.state is State.NOT_READY) is counts


def test_a_person_is_believed_where_the_standard_says_so() -> None:
    case = make_case([(Role.NEW, "person", "panel", Firmware("4.7.2"))])
    assert only(judge(case, STANDARD, Gate.SWAP, {}), "identity.firmware").state is Holds.UNPROVEN
    accepting = msgspec.structs.replace(STANDARD, word=WordEnough(("firmware",)))
    assert only(judge(case, accepting, Gate.SWAP, {}), "identity.firmware").state is Holds.MET


def test_a_measurement_outweighs_a_person_and_the_contradiction_is_a_finding() -> None:
    standard = msgspec.structs.replace(STANDARD, word=WordEnough(("firmware",)))
    case = make_case(
        [(Role.NEW, "person", "panel", Firmware("4.7.2")), (Role.NEW, "ipp", "v", Firmware("4.8.0"))],
        msgspec.structs.replace(LS_2041, seen=(Seen(Role.NEW, "firmware", "4.7.2", "panel", "technician"),)),
    )
    verdict = judge(case, standard, Gate.SWAP, {})
    assert only(verdict, "identity.firmware").state is Holds.UNMET
    assert only(verdict, "identity.word").state is Holds.UNMET


def test_sources_that_disagree_leave_the_serial_unproven() -> None:
    move = msgspec.structs.replace(LS_2041, new=DeviceRef("192.0.2.61", serial="HX-77-0457"))
    case = make_case(
        [
            (Role.NEW, "ipp", "printer-device-id", Serial("HX-77-0457")),
            (Role.NEW, "snmp", "serial", Serial("HX-77-9999")),
        ],
        move,
    )
    verdict = judge(case, Standard(), Gate.FILL, {})
    serial, sources = only(verdict, "identity.serial"), only(verdict, "identity.sources")
    assert serial.state is Holds.UNPROVEN
    assert sources.state is Holds.UNMET
    assert serial.causes == (sources.key,)


def test_a_fact_that_is_too_old_does_not_stand() -> None:
    standard = msgspec.structs.replace(STANDARD, fact_age=FactAge(30))
    case = make_case([(Role.NEW, "ipp", "v", Firmware("4.7.2"))])
    assert only(judge(case, standard, Gate.SWAP, {}), "identity.firmware").state is Holds.MET
    later = msgspec.structs.replace(case, made_at=NOW + 31 * 60_000)
    finding = only(judge(later, standard, Gate.SWAP, {}), "identity.firmware")
    assert finding.state is Holds.UNPROVEN
    assert "31 minutes ago" in finding.detail


def test_facts_from_before_a_firmware_change_do_not_stand() -> None:
    case = make_case([(Role.NEW, "ipp", "v", Firmware("4.8.0")), (Role.NEW, "snmp", "c", Covers((), complete=True))])
    new = msgspec.structs.replace(case.observations[0], at_ms=NOW + 600_000, value={"version": "4.7.2", "modules": []})
    after = msgspec.structs.replace(case, observations=(*case.observations, new), made_at=NOW + 600_000)
    verdict = judge(after, STANDARD, Gate.SWAP, {})
    assert only(verdict, "identity.firmware").state is Holds.MET
    covers = only(verdict, "condition.covers")
    assert covers.state is Holds.UNPROVEN
    assert "before the firmware was changed" in covers.detail


def _full(level: int) -> Supplies:
    row = Supply(1, "receptacleThatIsFilled", "wasteInk", "Waste", "percent", Measured(100), Measured(level), "")
    return Supplies((row,), complete=True)


def test_an_unmet_cause_explains_its_symptoms_without_changing_their_weight() -> None:
    case = make_case(
        [
            (Role.NEW, "snmp", "s", _full(0)),
            (Role.NEW, "ipp", "printer-state", PrinterState("stopped", ("marker-waste-full-error",), accepting=True)),
            (Role.NEW, "snmp", "h", HostPrinter(1, "down", "other", ("serviceRequested",))),
        ]
    )
    verdict = judge(case, Standard(), Gate.SWAP, {})
    cause = only(verdict, "supplies.empty")
    stopped = next(each for each in found(verdict, "condition.state") if each.item == "IPP")
    assert verdict.findings[0] == cause
    assert cause.key in stopped.causes
    assert stopped.weight is Weight.BLOCKER
    down = next(each for each in found(verdict, "condition.state") if each.item == "SNMP")
    assert cause.key in down.causes


def test_an_unmet_symptom_never_folds_under_an_unproven_cause() -> None:
    supply = Supply(1, "supplyThatIsConsumed", "ink", "Cyan", "percent", Measured(100), Measured(50), "cyan")
    case = make_case(
        [
            (Role.NEW, "snmp", "s", Supplies((supply,), complete=False)),
            (Role.NEW, "ipp", "printer-state", PrinterState("stopped", ("marker-supply-empty-error",), accepting=True)),
        ]
    )
    verdict = judge(case, Standard(), Gate.SWAP, {})
    assert {finding.state for finding in found(verdict, "supplies.empty")} == {Holds.UNPROVEN}
    reason = only(verdict, "condition.reasons")
    assert reason.state is Holds.UNMET
    assert reason.causes == ()


def test_a_cause_stands_where_the_heaviest_finding_it_explains_would_stand() -> None:
    """The old device's silence is a matter of care; that it leaves a blocker unproven lifts it."""
    move = msgspec.structs.replace(LS_2041, old=DeviceRef("192.0.2.21", serial="CV24-008812"))
    case = make_case([(Role.OLD, "ports", "p", Service("ipp", 631, "silent", "", 2500, ()))], move)
    verdict = judge(case, Standard(), Gate.SWAP, {})
    silence = only(verdict, "services.old-reach")
    assert silence.weight is Weight.CARE
    assert silence.key in only(verdict, "identity.old-serial").causes
    assert standings(verdict.findings, Gate.SWAP)[silence.key] is Standing.MISSING


def test_unseen_facts_fold_under_the_device_that_does_not_answer_but_known_faults_do_not() -> None:
    standard = msgspec.structs.replace(STANDARD, word=WordEnough(("firmware",)))
    case = make_case(
        [
            (Role.NEW, "ports", "tcp/631", Service("ipp", 631, "silent", "", 2500, ())),
            (Role.NEW, "person", "panel", Firmware("4.8.0")),
        ]
    )
    verdict = judge(case, standard, Gate.SWAP, {})
    reach = only(verdict, "services.reach")
    assert reach.key in only(verdict, "condition.covers").causes
    assert only(verdict, "services.snmp").causes == (reach.key,)
    assert only(verdict, "identity.firmware").causes == ()


def test_udp_silence_is_not_a_no_and_tcp_silence_after_two_syns_is() -> None:
    """RFC 6298 s2.1: the initial retransmission time-out is 1 s, so a second SYN has left by 2 s."""
    standard = Standard("x", services_required=ServicesRequired(("ipp", "raw", "lpd")), snmp=SnmpDemand())
    case = make_case(
        [
            (Role.NEW, "ports", "tcp/631", open_service("ipp", 631)),
            (Role.NEW, "ports", "tcp/9100", Service("raw", 9100, "silent", "", 2500, ())),
            (Role.NEW, "ports", "tcp/515", Service("lpd", 515, "silent", "", 900, ())),
        ],
        attempts=[attempt(Role.NEW, "snmp", Outcome.SILENT)],
    )
    verdict = judge(case, standard, Gate.SWAP, {"snmp": frozenset({"snmp-agent"})})
    states = {finding.item: finding.state for finding in found(verdict, "services.required")}
    assert states == {"ipp": Holds.MET, "raw": Holds.UNMET, "lpd": Holds.UNPROVEN}
    assert only(verdict, "services.snmp").state is Holds.UNPROVEN


def test_silence_seen_from_another_network_proves_nothing() -> None:
    """From a guest network or a tunnel, a firewall swallows the SYN: only what answers is evidence there."""
    silent = (Role.NEW, "ports", "tcp/631", Service("ipp", 631, "silent", "", 2500, ()))
    for network, expected in (("192.0.2.0/24", Holds.UNMET), ("198.51.100.0/24", Holds.UNPROVEN)):
        standard = Standard("x", subnet=SubnetDemand(network), services_required=ServicesRequired(("ipp",)))
        verdict = judge(make_case([silent]), standard, Gate.SWAP, {})
        assert only(verdict, "services.reach").state is expected
        assert only(verdict, "services.required").state is expected


@pytest.mark.parametrize("share", [9, 29, 30])
def test_supplies_against_the_standards_limits(share: int) -> None:
    standard = Standard("x", supplies=SupplyLimits(30, 10))
    verdict = judge(make_case([(Role.NEW, "snmp", "s", _full(share))]), standard, Gate.SWAP, {})
    finding = only(verdict, "supplies.level")
    expected = {9: (Holds.UNMET, Weight.BLOCKER), 29: (Holds.UNMET, Weight.CARE), 30: (Holds.MET, Weight.BLOCKER)}
    assert (finding.state, finding.weight) == expected[share]


HEALTHY: list[tuple[Role, str, str, Fact]] = [
    (Role.DEVICE, "names", "resolver", NameLookup("192.0.2.61", ("192.0.2.61",))),
    (Role.DEVICE, "ports", "tcp/631", open_service("ipp", 631)),
    (Role.DEVICE, "snmp", "agent", SnmpAgent("v2c")),
    (Role.DEVICE, "ipp", "service", IppService("/ipp/print", ("2.0",), (), ())),
    (Role.DEVICE, "snmp", "supplies", Supplies((), complete=True)),
    (Role.DEVICE, "snmp", "alerts", Alerts((), complete=True)),
    (Role.DEVICE, "snmp", "covers", Covers((), complete=True)),
    (Role.DEVICE, "snmp", "hr", HostPrinter(1, "running", "idle", ())),
    (
        Role.DEVICE,
        "snmp",
        "addresses",
        Addresses((AddressRow("192.0.2.61", 24, "255.255.255.0", 1, "manual", "preferred"),), complete=True),
    ),
    (Role.DEVICE, "snmp", "gateway", Gateways(("192.0.2.1",), complete=True)),
]


@pytest.mark.parametrize(
    ("reason", "expected"),
    [
        ("", State.READY),
        ("media-low-report", State.READY),
        ("media-low-warning", State.READY_WITH_CARE),
        ("media-low", State.READY_WITH_CARE),
        ("media-jam-error", State.NOT_READY),
    ],
)
def test_the_state_follows_the_heaviest_finding(reason: str, expected: State) -> None:
    """RFC 8011 s5.4.12: report, warning, error; no suffix counts as a warning while the printer is not stopped."""
    state = PrinterState("idle", (reason,) if reason else (), accepting=True)
    verdict = judge(make_case([*HEALTHY, (Role.DEVICE, "ipp", "ps", state)], ALONE), Standard(), Gate.STANDING, {})
    assert verdict.state is expected


def test_a_state_that_nobody_told_is_enough_for_cannot_tell() -> None:
    facts = [each for each in HEALTHY if each[2] != "hr"]
    assert judge(make_case(facts, ALONE), Standard(), Gate.STANDING, {}).state is State.CANNOT_TELL


@pytest.mark.parametrize("left_out", ["agent", "supplies", "addresses"])
def test_what_may_lawfully_be_missing_is_a_matter_of_care_where_nobody_demands_it(left_out: str) -> None:
    """RFC 3805 s6: supplies and the serial number are in optional groups; a device may have no agent at all."""
    facts = [each for each in HEALTHY if each[2] != left_out]
    idle = PrinterState("idle", (), accepting=True)
    verdict = judge(make_case([*facts, (Role.DEVICE, "ipp", "ps", idle)], ALONE), Standard(), Gate.STANDING, {})
    assert verdict.state is State.READY_WITH_CARE


def test_judging_is_deterministic_and_does_not_touch_the_case() -> None:
    case = make_case([(Role.NEW, "ipp", "v", Firmware("4.8.0")), (Role.NEW, "snmp", "s", _full(3))])
    before = msgspec.json.encode(case)
    verdicts = {msgspec.json.encode(judge(case, STANDARD, Gate.SWAP, {})) for _ in range(5)}
    assert len(verdicts) == 1
    assert msgspec.json.encode(case) == before


def test_keys_are_unique_even_when_a_device_names_two_things_alike() -> None:
    row = _full(0).rows[0]
    case = make_case([(Role.NEW, "snmp", "s", Supplies((row, row, row), complete=True))])
    verdict = judge(case, Standard(), Gate.SWAP, {})
    keys = [finding.key for finding in verdict.findings]
    assert len(keys) == len(set(keys))
    assert len(found(verdict, "supplies.empty")) == 3


def test_the_graph_of_causes_has_no_cycle_and_names_only_rules() -> None:
    graph = {rule.id: {name.partition("/")[0] for name in (*rule.after, *rule.unseen)} for rule in RULES.values()}
    assert not {name for names in graph.values() for name in names} - set(graph)
    TopologicalSorter(graph).prepare()  # raises CycleError


@pytest.mark.parametrize("rule", RULES.values(), ids=lambda rule: rule.id)
def test_every_rule_explains_itself(rule: object) -> None:
    explanation = RULES[rule.id].explanation  # type: ignore[attr-defined]
    assert explanation.asks.endswith("?")
    assert explanation.why.endswith(".")
    assert explanation.do.endswith(".")
    assert explanation.source


def test_there_are_at_least_fifteen_rules() -> None:
    assert len(RULES) >= 15
