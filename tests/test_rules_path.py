"""The rules about what happens between us and a device that is there: answers that do not come back, lost packets.

Sources are named beside each check. What hangs on nothing but habit says so.
"""

import msgspec
import pytest

from netcheck.facts.link import Advertisement, Neighbour
from netcheck.facts.network import InterfaceRow, Interfaces, IppService, Service, SnmpAgent
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.move import DeviceRef, Move
from netcheck.roles import Role
from netcheck.standard import Standard
from netcheck.verdict import Holds, Standing, Verdict, Weight, standings
from tests.conftest import LS_2041, NOW, make_case
from tests.test_judge import found, only
from tests.test_rules_link import (
    ADDRESS,
    NEW_MAC,
    OLD_MAC,
    OURS,
    SITE,
    Seen,
    arp,
    here,
    judged,
    own_word,
    port,
    rule,
    table,
    way,
)

ROUTER = "192.0.2.1"
ALONE = Move(job="LS-2041", device=DeviceRef(ADDRESS))


def asks(*addresses: str, mac: str = NEW_MAC) -> Seen:
    """The owner answered for its address, and was heard to ask for these itself."""
    return Role.NEW, "address", "arp", Neighbour(ADDRESS, (mac,), "arp", complete=True, asks=addresses)


def service(name: str, number: int, state: str, *trips: int, error: str = "", segment: int = 0) -> Seen:
    fact = Service(name, number, state, error, 2500, trips, segment)
    return Role.NEW, "ports", f"tcp/{number} {name}", fact


def ether(**fields: object) -> Seen:
    row = InterfaceRow(2, "eth0", "ethernetCsmacd", NEW_MAC, "up", None)
    return Role.NEW, "snmp", "ifTable", Interfaces((msgspec.structs.replace(row, **fields),), complete=True)


def announced() -> Seen:
    return Role.NEW, "dnssd", "Halden", Advertisement("Halden", "_ipp._tcp", 631, ("h.local",), (ADDRESS,), ())


def one_way(*facts: Seen) -> Verdict:
    return judged(here(), way(), *facts)


# --- one way: there by its hardware address, and nothing comes back


@pytest.mark.parametrize("state", ["silent", "unreachable"])
def test_who_is_there_and_answers_nothing_is_one_cause(state: str) -> None:
    """RFC 826 answers whatever mask and firewall are; RFC 1122 s3.3.1.1: the rest depends on the device's own mask."""
    verdict = one_way(arp(NEW_MAC), port(state))
    finding, reach = only(verdict, "path.one-way"), only(verdict, "services.reach")
    assert (finding.state, finding.weight, finding.gate) == (Holds.UNMET, Weight.BLOCKER, Gate.SWAP)
    assert reach.causes == (finding.key,)
    assert not finding.causes
    assert standings(verdict.findings, Gate.SWAP)[finding.key] is Standing.IN_THE_WAY
    assert NEW_MAC in finding.detail


@pytest.mark.parametrize(
    "facts",
    [
        (port("silent"),),  # nobody was asked who is there
        (arp(), port("silent")),  # nobody is there
        (arp(NEW_MAC),),  # no service was tried
        (table(NEW_MAC, state="stale"), port("silent")),  # RFC 4861 s7.3.2: remembered, not confirmed
        (table(NEW_MAC), port("silent")),
        (arp(NEW_MAC), port("open")),
        (arp(NEW_MAC), port("refused")),  # RFC 9293 s3.5.2: a reset came back
        (arp(NEW_MAC), port("silent"), (Role.NEW, "snmp", "agent", SnmpAgent("v2c"))),
        (arp(NEW_MAC), port("silent"), (Role.NEW, "ipp", "service", IppService("/", ("2.0",), (), ()))),
    ],
)
def test_without_a_sign_of_both_there_is_no_finding(facts: tuple[Seen, ...]) -> None:
    assert not found(one_way(*facts), "path.one-way")


def test_no_question_behind_a_router_on_loopback_or_where_nothing_was_seen() -> None:
    silent = arp(NEW_MAC), port("silent")
    assert not found(judged(here(), *silent), "path.one-way")  # no Route: loopback
    assert not found(judged(here(), way(on_link=False), *silent), "path.one-way")
    assert not found(judged(way()), "path.one-way")


def test_without_old_device_own_interfaces_or_standard() -> None:
    case = make_case((way(), arp(NEW_MAC), port("silent")), Move(new=DeviceRef(ADDRESS)))
    assert only(judge(case, Standard(), Gate.SWAP, {}), "path.one-way").state is Holds.UNMET


def test_of_a_device_by_itself_it_does_not_speak_of_a_new_one() -> None:
    facts = [(Role.DEVICE, *each[1:]) for each in (way(), arp(NEW_MAC), port("silent"))]
    finding = only(judge(make_case(facts, ALONE), Standard(), Gate.STANDING, {}), "path.one-way")
    assert "new" not in finding.title.split()


def test_ipv6_confirmed_by_our_system_alone_counts() -> None:
    """RFC 4861 s7.3.2: REACHABLE was confirmed of late."""
    address = "2001:db8::61"
    told = (
        Role.NEW,
        "address",
        "nd",
        Neighbour(address, (NEW_MAC,), "neighbour-table", complete=False, state="reachable"),
    )
    facts = here("2001:db8::10", 64), way("2001:db8::10", address=address), told, port("silent")
    assert rule("path.one-way", *facts).state is Holds.UNMET


def test_what_the_device_looks_for_tells_that_its_mask_is_wrong() -> None:
    """RFC 1122 s3.3.1.1: whom its mask calls remote, it sends to by its gateway, for which it asks first (RFC 826)."""
    finding = only(one_way(asks(ROUTER), port("silent")), "path.one-way")
    assert ROUTER in finding.title
    assert "mask" in finding.remedy
    assert finding.state is Holds.UNMET


@pytest.mark.parametrize("heard", [(), (OURS,), (ADDRESS,), (OURS, ROUTER), (ADDRESS, OURS)])
def test_whoever_asks_for_us_or_for_itself_does_not_look_elsewhere(heard: tuple[str, ...]) -> None:
    """A request for one's own address is a probe or an announcement (RFC 5227 s1.1)."""
    finding = only(one_way(asks(*heard), port("silent")), "path.one-way")
    assert finding.state is Holds.UNMET
    assert "looks for" not in finding.title


def test_the_old_devices_answers_clear_our_own_mask() -> None:
    other = port("open", role=Role.OLD)
    assert "this computer's mask" in only(one_way(arp(NEW_MAC), port("silent")), "path.one-way").title
    assert "this computer's mask" not in only(one_way(arp(NEW_MAC), port("silent"), other), "path.one-way").title


def test_a_word_that_it_is_forbidden_names_a_firewall_alone() -> None:
    """RFC 1122 s3.2.2.1: destination unreachable is said by somebody."""
    title = only(one_way(arp(NEW_MAC), port("unreachable")), "path.one-way").title
    assert "firewall" in title
    assert "mask" not in title


def test_who_announces_itself_is_awake() -> None:
    assert "sleeps" in only(one_way(arp(NEW_MAC), port("silent")), "path.one-way").title
    assert "sleeps" not in only(one_way(arp(NEW_MAC), port("silent"), announced()), "path.one-way").title


@pytest.mark.parametrize(
    ("facts", "cause"),
    [
        ((arp(NEW_MAC, OLD_MAC),), "link.owner"),
        ((arp(OLD_MAC), own_word(NEW_MAC)), "link.mac-agrees"),
    ],
)
def test_it_folds_under_whoever_is_there_wrongly(facts: tuple[Seen, ...], cause: str) -> None:
    verdict = one_way(*facts, port("silent"))
    one, why, reach = only(verdict, "path.one-way"), only(verdict, cause), only(verdict, "services.reach")
    assert why.state is Holds.UNMET
    assert why.key in one.causes
    assert {why.key, one.key} <= set(reach.causes)
    assert one.weight is Weight.BLOCKER  # folding does not change a weight


def test_what_we_send_to_another_machine_says_nothing_of_this_one() -> None:
    """RFC 1122 s2.3.2.1: a remembered address that is no longer right."""
    verdict = one_way(arp(NEW_MAC), table(OLD_MAC, state="reachable"), port("silent"))
    assert not found(verdict, "path.one-way")
    assert only(verdict, "link.remembered").key in only(verdict, "services.reach").causes


def test_announced_and_not_reached_folds_under_it() -> None:
    verdict = one_way(arp(NEW_MAC), port("silent"), announced())
    assert only(verdict, "path.one-way").key in only(verdict, "announced.seen-not-reached").causes


def test_a_wait_too_short_proves_nothing() -> None:
    verdict = one_way(arp(NEW_MAC), port("silent", 900))
    assert only(verdict, "services.reach").state is Holds.UNPROVEN
    assert not [each for each in found(verdict, "path.one-way") if each.state is Holds.UNMET]


# --- duplex and damaged packets


@pytest.mark.parametrize(
    ("duplex", "status", "state"),
    [
        ("halfDuplex", "up", Holds.UNMET),
        ("halfDuplex", "", Holds.UNMET),
        ("fullDuplex", "up", Holds.MET),
        ("unknown", "up", None),
        ("", "up", None),
        ("halfDuplex", "down", None),
    ],
)
def test_duplex(duplex: str, status: str, state: Holds | None) -> None:
    """RFC 3635: dot3StatsDuplexStatus is unknown, halfDuplex or fullDuplex; unknown is not a no."""
    findings = found(one_way(ether(duplex=duplex, oper_status=status), port("open")), "path.duplex")
    assert [each.state for each in findings] == ([] if state is None else [state])
    assert all(each.weight is Weight.CARE and each.item == "2" for each in findings)


def test_late_collisions_are_told_beside_half_duplex() -> None:
    assert "7 late collisions" in rule("path.duplex", way(), ether(duplex="halfDuplex", late_collisions=7)).detail
    assert "late" not in rule("path.duplex", way(), ether(duplex="halfDuplex", late_collisions=0)).detail


def counted(before: int | None, now: int | None, **more: object) -> Verdict:
    case = make_case((way(), ether(in_errors=before), ether(in_errors=now, **more)))
    earlier = msgspec.structs.replace(case.observations[1], at_ms=NOW - 60_000)
    case = msgspec.structs.replace(case, observations=(case.observations[0], earlier, case.observations[2]))
    return judge(case, SITE, Gate.SWAP, {})


@pytest.mark.parametrize(
    ("before", "now", "weight"),
    [(5, 9, Weight.CARE), (9, 2, Weight.NOTE), (0, 0, None), (None, None, None), (4, None, None)],
)
def test_damaged_packets_are_a_difference(before: int | None, now: int | None, weight: Weight | None) -> None:
    """RFC 2863 s3.1.5: a counter's value alone means nothing, and it may begin again."""
    findings = found(counted(before, now), "path.errors")
    assert [each.weight for each in findings] == ([] if weight is None else [weight])
    if weight is Weight.CARE:
        assert "4 more" in findings[0].title


def test_one_look_is_a_note_and_a_link_that_is_down_says_nothing() -> None:
    assert rule("path.errors", way(), ether(out_errors=3)).weight is Weight.NOTE
    assert not found(judged(way(), ether(out_errors=3, oper_status="down")), "path.errors")
    assert not found(judged(ether(out_errors=3)), "path.errors")  # no Route: loopback


def test_a_late_collision_is_one_damaged_packet() -> None:
    assert "3 packets" in rule("path.errors", way(), ether(out_errors=3, late_collisions=3)).title


# --- woken, and small packets


def test_all_services_late_at_first_was_asleep_and_some_were_lost() -> None:
    """RFC 6298 s2.1: the second SYN leaves after 1 s. That devices sleep: common practice, no source."""
    late, quick = (1_004_000, 900, 800), (900, 800, 700)
    asleep = rule("path.woke", way(), service("ipp", 631, "open", *late), service("raw", 9100, "open", *late))
    assert (asleep.state, asleep.weight) == (Holds.UNMET, Weight.NOTE)
    assert "asleep" in asleep.title
    lost = rule("path.woke", way(), service("ipp", 631, "open", *late), service("raw", 9100, "open", *quick))
    assert "1 of 2 services" in lost.title
    assert "ipp after 1004 ms" in lost.detail


@pytest.mark.parametrize("trips", [(), (1_004_000,), (900, 1_004_000), (1_004_000, 1_100_000), (899_999, 900)])
def test_slow_is_not_late(trips: tuple[int, ...]) -> None:
    assert not found(judged(way(), service("ipp", 631, "open", *trips)), "path.woke")


@pytest.mark.parametrize(("segment", "small"), [(0, False), (536, True), (1207, True), (1208, False), (1460, False)])
def test_small_segments(segment: int, *, small: bool) -> None:
    """RFC 8200 s5: 1280 octets go over every IPv6 link, less 40 and 20 of headers and 12 of a time stamp (RFC
    7323 s3.2, from memory); RFC 9293 s3.7.1: 536 for IPv4 is
    what is assumed of whoever announces nothing."""
    findings = found(judged(way(), service("ipp", 631, "open", 900, segment=segment)), "path.size")
    assert bool(findings) is small
    assert all(each.weight is Weight.NOTE and str(segment) in each.title for each in findings)


def test_nothing_of_this_theme_on_loopback() -> None:
    late = service("ipp", 631, "open", 1_004_000, 900, segment=500)
    verdict = judge(make_case((late, ether(duplex="halfDuplex", in_errors=9)), LS_2041), SITE, Gate.SWAP, {})
    assert not [each for each in verdict.findings if each.id.startswith("path.")]
