"""The address after the move, judged now. "Our own Move" is the source of what is wanted; the rest is named."""

from pathlib import Path

import msgspec
import pytest

from netcheck.facts import Fact
from netcheck.facts.link import Neighbour, OwnGateways, PlannedNeighbour
from netcheck.facts.network import Addresses, AddressRow, Gateways, HardwareAddress, NameLookup
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.move import DeviceRef, Move, load_move
from netcheck.roles import Role
from netcheck.standard import Standard, SubnetDemand, WordEnough
from netcheck.verdict import Finding, Holds, Verdict, Weight
from tests.conftest import LS_2041, make_case
from tests.test_judge import found, only
from tests.test_rules_link import ADDRESS, NEW_MAC, OLD_MAC, SITE, Seen, arp, here, judged, own_word, rule, table, way

OLD_ADDRESS, FREE, STRANGER = "192.0.2.21", "192.0.2.70", "02:77:00:00:00:99"


def to(final: str, policy: str = "new", host: str = ADDRESS) -> Move:
    return msgspec.structs.replace(LS_2041, address=policy, new=DeviceRef(host, final=final))


KEPT, MOVED = to(OLD_ADDRESS, "keep"), to(FREE)


def at_planned(
    *macs: str, address: str = OLD_ADDRESS, method: str = "arp", complete: bool = True, state: str = ""
) -> Seen:
    fact = PlannedNeighbour(address, macs, method, complete, "" if complete else "not seen (a reason)", state)
    return Role.NEW, "planned-address", method, fact


def known(role: Role, mac: str) -> Seen:
    return role, *own_word(mac)[1:]


def address_row(address: str, origin: str = "manual", role: Role = Role.OLD) -> Seen:
    row = AddressRow(address, 24, "", 1, origin, "preferred")
    return role, "snmp", "ipAddressTable", Addresses((row,), complete=True)


def planned(verdict: Verdict) -> list[Finding]:
    return [finding for finding in verdict.findings if finding.id.startswith("planned.")]


# --- whether there is a question at all


@pytest.mark.parametrize("move", [KEPT, MOVED, to("2001:db8::61"), to(ADDRESS, "new"), to(FREE, "usb"), to(FREE, "")])
def test_what_nobody_looked_at_is_no_finding_that_counts(move: Move) -> None:
    """Nothing seen, and on loopback (no Route): no question."""
    for facts in ((), (here(),), (at_planned(STRANGER), known(Role.OLD, OLD_MAC))):
        for gate in (Gate.SURVEY, Gate.FILL, Gate.SWAP, Gate.LEAVE):
            assert not planned(judged(*facts, move=move, gate=gate))


def test_a_move_without_a_final_address_asks_nothing() -> None:
    assert not planned(judged(way(), here(), at_planned(STRANGER), own_word(NEW_MAC)))


def test_without_standard_and_without_old_device() -> None:
    move = Move(new=DeviceRef(ADDRESS, final=FREE))
    router: Seen = Role.HERE, "address", "own-gateways", OwnGateways((("192.0.2.1", "eth0"),))
    verdict = judge(make_case((way(), here(), router, at_planned(address=FREE)), move), Standard(), Gate.SWAP, {})
    assert {each.id: each.state for each in planned(verdict)} == {
        "planned.taken": Holds.MET,
        "planned.holder": Holds.MET,
    }


# --- can a host have it (RFC 1122 s3.2.1.3, RFC 3021)


@pytest.mark.parametrize(
    ("final", "network", "state"),
    [
        ("192.0.2.21", "192.0.2.0/24", Holds.MET),
        ("192.0.2.0", "192.0.2.0/24", Holds.UNMET),
        ("192.0.2.255", "192.0.2.0/24", Holds.UNMET),
        ("192.0.2.127", "192.0.2.0/25", Holds.UNMET),
        ("192.0.2.128", "192.0.2.0/24", Holds.MET),
        ("198.51.100.21", "192.0.2.0/24", Holds.UNMET),
        ("192.0.2.0", "192.0.2.0/31", Holds.MET),
        ("2001:db8::61", "192.0.2.0/24", Holds.UNMET),
        ("192.0.2.21", "2001:db8::/64", Holds.UNMET),
        ("2001:db8::61", "2001:db8::/64", Holds.MET),
    ],
)
def test_usable(final: str, network: str, state: Holds) -> None:
    standard = Standard("site", subnet=SubnetDemand(network))
    finding = rule("planned.usable", way(), move=to(final), standard=standard)
    assert (finding.state, finding.weight) == (state, Weight.BLOCKER)


# --- nobody's yet


@pytest.mark.parametrize(
    ("final", "state"), [("192.0.2.10", Holds.UNMET), ("192.0.2.1", Holds.UNMET), ("192.0.2.70", Holds.MET)]
)
@pytest.mark.parametrize("by_device", [False, True])
def test_taken(final: str, state: Holds, *, by_device: bool) -> None:
    """RFC 5227 s1: 192.0.2.10 is ours, 192.0.2.1 the router's, by our own system or by the device's word."""
    ours: Fact = OwnGateways((("192.0.2.1", "eth0"),))
    router: Seen = (Role.HERE, "address", "own-gateways", ours)
    if by_device:
        router = (Role.NEW, "snmp", "ipRouteTable", Gateways(("192.0.2.1",), complete=True))
    finding = rule("planned.taken", way(), here(), router, move=to(final))
    assert (finding.state, finding.weight) == (state, Weight.BLOCKER)


def test_taken_is_not_met_where_nothing_was_seen() -> None:
    assert not [each for each in found(judged(way(), move=MOVED), "planned.taken") if each.state is Holds.MET]


# --- who has it now


@pytest.mark.parametrize(
    ("move", "facts", "state", "weight"),
    [
        (KEPT, (at_planned(OLD_MAC), known(Role.OLD, OLD_MAC)), Holds.MET, Weight.BLOCKER),
        (KEPT, (at_planned(NEW_MAC), known(Role.NEW, NEW_MAC)), Holds.MET, Weight.BLOCKER),
        (KEPT, (at_planned(),), Holds.MET, Weight.BLOCKER),
        (KEPT, (at_planned(STRANGER), known(Role.OLD, OLD_MAC)), Holds.UNMET, Weight.BLOCKER),
        (KEPT, (at_planned(STRANGER, OLD_MAC), known(Role.OLD, OLD_MAC)), Holds.UNMET, Weight.BLOCKER),
        (KEPT, (at_planned(STRANGER),), Holds.UNPROVEN, Weight.NOTE),
        (KEPT, (at_planned(complete=False),), Holds.UNPROVEN, Weight.NOTE),
        (KEPT, (at_planned(STRANGER, address=FREE),), Holds.UNPROVEN, Weight.NOTE),
        (MOVED, (at_planned(OLD_MAC, address=FREE), known(Role.OLD, OLD_MAC)), Holds.UNMET, Weight.BLOCKER),
        (MOVED, (at_planned(STRANGER, address=FREE),), Holds.UNMET, Weight.BLOCKER),
        (MOVED, (at_planned(NEW_MAC, address=FREE), known(Role.NEW, NEW_MAC)), Holds.MET, Weight.BLOCKER),
        (MOVED, (at_planned(address=FREE, method="nd"),), Holds.MET, Weight.BLOCKER),
    ],
)
def test_holder(move: Move, facts: tuple[Seen, ...], state: Holds, weight: Weight) -> None:
    """RFC 5227 s2.1.1: an owner answers; our own Move says whose the address is to be."""
    finding = rule("planned.holder", way(), here(), *facts, move=move)
    assert (finding.state, finding.weight) == (state, weight)
    assert state is not Holds.UNMET or STRANGER in finding.title or OLD_MAC in finding.title


def test_a_stranger_is_named_without_the_devices_that_we_know() -> None:
    facts = at_planned(STRANGER, OLD_MAC), known(Role.OLD, OLD_MAC)
    title = rule("planned.holder", way(), *facts, move=KEPT).title
    assert STRANGER in title
    assert OLD_MAC not in title


def test_a_person_who_read_the_old_plate_is_believed_where_the_standard_does() -> None:
    plate: Seen = (Role.OLD, "person", "plate", HardwareAddress(OLD_MAC))
    facts = way(), at_planned(STRANGER), plate
    assert rule("planned.holder", *facts, move=KEPT).state is Holds.UNPROVEN
    standard = msgspec.structs.replace(SITE, word=WordEnough(("mac",)))
    assert rule("planned.holder", *facts, move=KEPT, standard=standard).state is Holds.UNMET


def test_who_was_asked_on_the_wire_counts_more_than_memory() -> None:
    kept = at_planned(OLD_MAC, method="neighbour-table", complete=False, state="stale")
    facts = way(), kept, at_planned(STRANGER), known(Role.OLD, OLD_MAC)
    assert rule("planned.holder", *facts, move=KEPT).state is Holds.UNMET


def test_holder_folds_under_an_address_that_is_ours_and_is_not_asked_after_the_swap() -> None:
    facts = way(), here(), at_planned(OLD_MAC, address="192.0.2.10")
    verdict = judged(*facts, move=to("192.0.2.10"))
    assert only(verdict, "planned.taken").key in only(verdict, "planned.holder").causes
    assert not found(judged(*facts, move=to("192.0.2.10"), gate=Gate.LEAVE), "planned.holder")


def test_it_counts_from_the_swap_on() -> None:
    facts = way(), at_planned(STRANGER), known(Role.OLD, OLD_MAC)
    finding = rule("planned.holder", *facts, move=KEPT, gate=Gate.SURVEY)
    assert (finding.state, finding.gate) == (Holds.UNMET, Gate.SWAP)


def old_at(*macs: str) -> Seen:
    return Role.OLD, "address", "arp", Neighbour(OLD_ADDRESS, macs, "arp", complete=True)


@pytest.mark.parametrize(
    ("move", "facts"),
    [
        # RFC 4861 s7.3.2: a stale entry is what was, not who is there
        pytest.param(
            MOVED,
            (at_planned(STRANGER, address=FREE, method="neighbour-table", complete=False, state="stale"),),
            id="stale",
        ),
        # The Move names the old device's address as the final one, without a word for it
        pytest.param(to(OLD_ADDRESS, ""), (at_planned(OLD_MAC), known(Role.OLD, OLD_MAC)), id="kept-without-a-word"),
    ],
)
def test_no_false_alarm(move: Move, facts: tuple[Seen, ...]) -> None:
    findings = found(judged(way(), *facts, move=move), "planned.holder")
    assert not [each for each in findings if each.state is Holds.UNMET]


@pytest.mark.parametrize(
    "facts",
    [
        pytest.param((at_planned(OLD_MAC, STRANGER), old_at(OLD_MAC, STRANGER)), id="two-machines"),
        pytest.param((at_planned(STRANGER), old_at(STRANGER), known(Role.OLD, OLD_MAC)), id="not-its-own-word"),
    ],
)
def test_who_answers_at_an_address_is_not_proven_to_be_its_owner_by_that(facts: tuple[Seen, ...]) -> None:
    assert rule("planned.holder", way(), *facts, move=KEPT).state is not Holds.MET


def test_somebody_who_is_remembered_is_not_nobody() -> None:
    told = at_planned(STRANGER, method="neighbour-table", state="stale")
    assert rule("planned.holder", way(), told, move=KEPT).state is Holds.UNPROVEN


# --- gone (RFC 5227 s1)


def test_the_old_device_has_to_leave_the_address() -> None:
    facts = way(address=OLD_ADDRESS), known(Role.OLD, OLD_MAC)
    still = rule("planned.gone", *facts, arp(OLD_MAC, address=OLD_ADDRESS), move=KEPT, gate=Gate.LEAVE)
    assert (still.state, still.weight, still.gate) == (Holds.UNMET, Weight.BLOCKER, Gate.LEAVE)
    both = judged(*facts, arp(NEW_MAC, OLD_MAC, address=OLD_ADDRESS), move=KEPT, gate=Gate.LEAVE)
    assert only(both, "planned.gone").causes == (only(both, "link.owner").key,)
    alone = rule("planned.gone", *facts, arp(NEW_MAC, address=OLD_ADDRESS), move=KEPT, gate=Gate.LEAVE)
    assert alone.state is Holds.MET
    for nothing in (arp(address=OLD_ADDRESS), at_planned(OLD_MAC)):
        assert not found(judged(*facts, nothing, move=KEPT, gate=Gate.LEAVE), "planned.gone")
    assert not found(judged(way(), arp(NEW_MAC), gate=Gate.LEAVE), "planned.gone")


def test_an_old_entry_of_ours_is_not_the_old_device() -> None:
    """RFC 1122 s2.3.2.1: after a swap neighbours go on remembering the old one."""
    facts = way(address=OLD_ADDRESS), known(Role.OLD, OLD_MAC), table(OLD_MAC, state="stale", address=OLD_ADDRESS)
    findings = found(judged(*facts, move=KEPT, gate=Gate.LEAVE), "planned.gone")
    assert not [each for each in findings if each.state is Holds.UNMET]


# --- reservation (RFC 2131 s2.1: leases are keyed by client identifier or hardware address) and name (RFC 1034 s3.6)


@pytest.mark.parametrize(
    ("move", "origin", "asked"),
    [(KEPT, "dhcp", True), (KEPT, "manual", False), (KEPT, "other", False), (to(OLD_ADDRESS), "dhcp", False)],
)
def test_a_reservation_does_not_pass_to_another_device(move: Move, origin: str, *, asked: bool) -> None:
    facts = way(), address_row(OLD_ADDRESS, origin), own_word(NEW_MAC)
    findings = found(judged(*facts, move=move), "planned.reservation")
    assert bool(findings) is asked
    for finding in findings:
        assert (finding.state, finding.weight, finding.role) == (Holds.UNMET, Weight.CARE, Role.OLD)
        assert NEW_MAC in finding.detail
    assert not found(judged(*facts, move=move, gate=Gate.LEAVE), "planned.reservation")


@pytest.mark.parametrize(
    ("name", "leads_to", "final", "state"),
    [
        ("plans.example", (OLD_ADDRESS,), FREE, Holds.UNMET),
        ("plans.example", (OLD_ADDRESS, FREE), FREE, Holds.MET),
        ("plans.example", (), FREE, None),  # another rule's question
        (OLD_ADDRESS, (OLD_ADDRESS,), FREE, None),
    ],
)
def test_the_old_name(name: str, leads_to: tuple[str, ...], final: str, state: Holds | None) -> None:
    lookup: Seen = (Role.OLD, "names", "resolver", NameLookup(name, leads_to))
    findings = found(judged(way(), lookup, move=to(final)), "planned.name")
    assert [each.state for each in findings] == ([] if state is None else [state])
    assert all(each.weight is Weight.NOTE for each in findings)


# --- the Move


@pytest.mark.parametrize(
    ("policy", "old", "final", "expected"),
    [
        ("keep", OLD_ADDRESS, "", OLD_ADDRESS),
        ("keep", OLD_ADDRESS, FREE, FREE),
        ("keep", "plans.example", "", ""),
        ("keep", "127.0.0.1", "", ""),
        ("new", OLD_ADDRESS, "", ""),
        ("usb", OLD_ADDRESS, "", ""),
    ],
)
def test_keep_means_the_old_devices_address(tmp_path: Path, policy: str, old: str, final: str, expected: str) -> None:
    file = tmp_path / "move.toml"
    said = f'final = "{final}"\n' if final else ""
    file.write_text(f'[move]\naddress = "{policy}"\n[old]\nhost = "{old}"\n[new]\nhost = "{ADDRESS}"\n{said}', "utf-8")
    move = load_move(file)
    assert move.new is not None
    assert move.new.final == expected


# --- what others remember (RFC 1122 s2.3.2.1)


def test_what_others_remember_is_a_note_where_the_address_stays() -> None:
    note = rule("planned.caches", way(), at_planned(OLD_MAC), known(Role.OLD, OLD_MAC), move=KEPT)
    assert (note.state, note.weight) == (Holds.UNMET, Weight.NOTE)
    assert OLD_MAC in note.title
    for facts, move in (
        ((at_planned(),), KEPT),
        ((at_planned(STRANGER),), KEPT),
        ((at_planned(OLD_MAC, address=FREE),), MOVED),
    ):
        assert not found(judged(way(), known(Role.OLD, OLD_MAC), *facts, move=move), "planned.caches")
