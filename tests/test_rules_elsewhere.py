"""The device is not where it was asked: at another address, or behind a router or a gateway that nobody has.

Sources: RFC 826 and RFC 5227 s2.1.1 (an owner answers), RFC 1122 s3.3.1 (gateways), RFC 3927 (169.254/16), RFC 6762 s11
(announcements come from our own link). What hangs on nothing but habit says so.
"""

from typing import Any

import msgspec
import pytest

from netcheck.facts.link import (
    AdvertisedHost,
    Advertisement,
    GatewayNeighbour,
    Neighbour,
    OwnInterfaceRow,
    OwnInterfaces,
    TxtEntry,
)
from netcheck.facts.network import Addresses, AddressRow, NameLookup, Service
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.move import DeviceRef, Move
from netcheck.roles import Role
from netcheck.standard import ModelDemand, Standard
from netcheck.verdict import Holds, Verdict, Weight
from tests.conftest import make_case
from tests.test_judge import found, only
from tests.test_rules_link import ADDRESS, NEW_MAC, OLD_MAC, OURS, SITE, Seen, arp, here, judged, port, rule, way

MODEL = "Halden 36R"
STANDARD = msgspec.structs.replace(SITE, model=ModelDemand(f"{MODEL}*"))
ROUTER, OLD_ADDRESS = "192.0.2.1", "192.0.2.21"
FAR = "198.51.100.10"


def router(*macs: str, role: Role = Role.HERE, method: str = "arp", complete: bool = True, state: str = "") -> Seen:
    fact = GatewayNeighbour(ROUTER, macs, method, complete, "" if complete else "not seen", state)
    return role, "routers", method, fact


STALE: dict[str, Any] = {"method": "neighbour-table", "complete": False, "state": "stale"}
GIVEN_UP: dict[str, Any] = {"method": "neighbour-table", "complete": True, "state": "failed"}


def old_there(*macs: str) -> Seen:
    return Role.OLD, "address", "arp", Neighbour(OLD_ADDRESS, macs, "arp", complete=True)


# --- our own router


@pytest.mark.parametrize(
    ("told", "state"),
    [(router(), Holds.UNMET), (router(**GIVEN_UP), Holds.UNMET), (router(NEW_MAC), Holds.MET)],
)
def test_our_own_router(told: Seen, state: Holds) -> None:
    verdict = judged(here(), way(on_link=False), told, port("silent"))
    finding, reach = only(verdict, "link.router"), only(verdict, "services.reach")
    assert (finding.state, finding.weight, finding.role) == (state, Weight.CARE, Role.HERE)
    assert (finding.key in reach.causes) is (state is Holds.UNMET)


@pytest.mark.parametrize(
    "facts",
    [
        (way(), router()),  # the device is on our own link
        (way("", on_link=False), router()),  # no way at all: another rule's
        (router(),),  # loopback
        (way(on_link=False),),
    ],
)
def test_a_router_that_nothing_depends_on_or_that_nobody_asked_for(facts: tuple[Seen, ...]) -> None:
    assert not found(judged(here(), *facts), "link.router")


@pytest.mark.parametrize("told", [router(NEW_MAC, **STALE), router(complete=False)])
def test_a_router_that_is_only_remembered_is_neither_there_nor_gone(told: Seen) -> None:
    """RFC 4861 s7.3.2; a table forgets within a minute that somebody is there (common practice)."""
    finding = rule("link.router", here(), way(on_link=False), told)
    assert (finding.state, finding.weight) == (Holds.UNPROVEN, Weight.NOTE)


def test_a_router_that_was_not_seen_explains_nothing() -> None:
    verdict = judged(here(), way(on_link=False), router(complete=False), port("silent", 900))
    assert only(verdict, "services.reach").state is Holds.UNPROVEN
    assert only(verdict, "link.router").key not in only(verdict, "services.reach").causes


# --- the device's own gateway


@pytest.mark.parametrize(
    ("told", "state"),
    [
        ((router(role=Role.NEW),), Holds.UNMET),
        ((router(NEW_MAC, role=Role.NEW),), Holds.MET),
        ((router(role=Role.NEW), router(NEW_MAC, role=Role.NEW, method="nd")), Holds.MET),
        ((router(role=Role.NEW, complete=False),), None),
        ((router(),), None),  # it is our router that nobody has
    ],
)
def test_the_devices_gateway(told: tuple[Seen, ...], state: Holds | None) -> None:
    findings = found(judged(here(), way(), *told), "address.gateway-answers")
    assert [each.state for each in findings] == ([] if state is None else [state])
    for finding in findings:
        assert (finding.weight, finding.role) == (Weight.CARE, Role.NEW)
        assert ROUTER in finding.title


def test_of_a_device_by_itself() -> None:
    case = make_case((router(role=Role.DEVICE),), Move(device=DeviceRef(ADDRESS)))
    assert "new" not in only(judge(case, Standard(), Gate.STANDING, {}), "address.gateway-answers").title.split()


def test_a_remembered_gateway_is_not_there_by_that() -> None:
    told = router(NEW_MAC, role=Role.NEW, **STALE)
    assert not [
        each
        for each in found(judged(here(), way(), told), "address.gateway-answers")
        if each.state is not Holds.UNPROVEN
    ]


# --- nobody there: what else it can be, by who else is


@pytest.mark.parametrize(
    ("others", "says"),
    [
        ((), ""),
        ((old_there(OLD_MAC),), "guarded port"),
        ((port("refused", role=Role.OLD),), "guarded port"),
        ((old_there(), router(OLD_MAC)), "kept apart"),
        ((router(OLD_MAC),), "kept apart"),
        ((old_there(),), "on another wire"),
        ((router(),), "on another wire"),
        ((old_there(), router(), port("silent", role=Role.OLD)), "on another wire"),
        ((router(OLD_MAC, **STALE),), "on another wire"),
    ],
)
def test_nobody_has_the_address_or_else(others: tuple[Seen, ...], says: str) -> None:
    """Guarded ports and clients that are kept apart: common practice, no source."""
    finding = rule("link.neighbour", here(), way(), arp(), port("silent"), *others)
    assert (finding.state, finding.weight) == (Holds.UNMET, Weight.BLOCKER)
    assert ("or else" in finding.detail) is bool(says)
    assert says in finding.detail


def test_who_is_there_needs_no_other_cause() -> None:
    assert "or else" not in rule("link.neighbour", here(), way(), arp(NEW_MAC), old_there(OLD_MAC)).detail


# --- at another address


def heard(*addresses: str, host: str = "halden.local.", ty: str = MODEL, key: str = "ty") -> Seen:
    places = (AdvertisedHost(host, 631, addresses),)
    txt = (TxtEntry(key.casefold(), ty),)
    fact = Advertisement(f"{ty} at {host}", "_ipp._tcp", 631, (host,), addresses, txt, places=places)
    return Role.HERE, "dnssd", fact.instance, fact


def asked(*addresses: str, name: str = ADDRESS, role: Role = Role.NEW) -> Seen:
    return role, "names", "resolver", NameLookup(name, addresses)


def elsewhere(*facts: Seen, standard: Standard = STANDARD, state: str = "silent") -> Verdict:
    return judged(here(), way(), asked(ADDRESS), port(state), *facts, standard=standard)


@pytest.mark.parametrize("key", ["ty", "usb_MDL"])
@pytest.mark.parametrize(
    ("addresses", "remark"),
    [
        (("192.0.2.88",), ""),
        (("198.51.100.9",), "not in our subnet"),
        (("169.254.7.9",), "gave itself"),  # RFC 3927 s1
        (("fe80::1%eth0", "169.254.7.9"), "gave itself"),
        (("2001:db8::88",), "IPv4"),
    ],
)
def test_a_device_of_the_model_at_another_address(addresses: tuple[str, ...], remark: str, key: str) -> None:
    verdict = elsewhere(heard(*addresses, key=key))
    finding, reach = only(verdict, "announced.other-address"), only(verdict, "services.reach")
    assert (finding.state, finding.weight, finding.gate) == (Holds.UNMET, Weight.BLOCKER, Gate.SWAP)
    assert finding.key in reach.causes
    assert remark in finding.title
    assert addresses[-1] in finding.title
    assert ADDRESS in finding.detail


@pytest.mark.parametrize(
    "told",
    [
        heard("192.0.2.88", ty="Corvid 24S"),  # another model
        heard(ADDRESS),
        heard(ADDRESS, "fe80::1%eth0"),
        heard(),  # a host without addresses: RFC 6762 s6 lets them come in another answer
        heard(OLD_ADDRESS),  # the old device is of the same model
    ],
)
def test_no_false_alarm(told: Seen) -> None:
    own: Seen = (
        Role.OLD,
        "snmp",
        "ipAddressTable",
        Addresses((AddressRow(OLD_ADDRESS, 24, "", 1, "", ""),), complete=True),
    )
    assert not found(elsewhere(told, own), "announced.other-address")


def test_not_asked_where_it_answers_is_unknown_or_nothing_was_announced() -> None:
    for state in ("open", "refused"):
        assert not found(elsewhere(heard("192.0.2.88"), state=state), "announced.other-address")
    assert not found(elsewhere(heard("192.0.2.88"), standard=SITE), "announced.other-address")
    assert not found(elsewhere(), "announced.other-address")


def test_without_old_device_and_without_our_own_interfaces() -> None:
    facts = asked(ADDRESS), port("silent"), heard("192.0.2.88")
    case = make_case(facts, Move(new=DeviceRef(ADDRESS)))
    assert only(judge(case, STANDARD, Gate.SWAP, {}), "announced.other-address").state is Holds.UNMET


def test_nobody_at_its_address_folds_under_where_it_is() -> None:
    verdict = elsewhere(heard("192.0.2.88"), arp())
    other, nobody = only(verdict, "announced.other-address"), only(verdict, "link.neighbour")
    assert nobody.causes == (other.key,)
    assert nobody.weight is Weight.BLOCKER


def test_nobody_at_its_address_folds_under_an_announcement_of_its_own() -> None:
    own = Role.NEW, *heard("198.51.100.9")[1:]
    verdict = judged(here(), way(), asked(ADDRESS), port("silent"), arp(), own)
    assert only(verdict, "announced.seen-not-reached").key in only(verdict, "link.neighbour").causes


def test_our_own_link_being_down_explains_it() -> None:
    verdict = judged(here(up=False), way(), asked(ADDRESS), port("silent"), heard("192.0.2.88"), standard=STANDARD)
    assert only(verdict, "link.up").key in only(verdict, "announced.other-address").causes


def test_two_machines_of_the_model_are_two_items() -> None:
    verdict = elsewhere(heard("192.0.2.88"), heard("192.0.2.89", host="second.local"))
    assert {each.item for each in found(verdict, "announced.other-address")} == {"halden.local", "second.local"}


def test_a_zone_does_not_make_it_another_address() -> None:
    """RFC 4007 s6: the zone names our own interface and is no part of the address."""
    there = "fe80::61%eth0"
    facts = here("fe80::10", 64), way("fe80::10", address=there), asked(there, name=there), port("silent")
    assert not found(judged(*facts, heard(there), standard=STANDARD), "announced.other-address")


def test_own_interfaces_of_odd_shapes_do_not_break_it() -> None:
    rows = (OwnInterfaceRow("eth0", "fe80::10%eth0", 64, ""), OwnInterfaceRow("ppp0", OURS, 32, ""))
    facts = (Role.HERE, "address", "own-interfaces", OwnInterfaces(rows)), way(), asked(ADDRESS), port("silent")
    finding = only(judged(*facts, heard(FAR), standard=STANDARD), "announced.other-address")
    assert "not in our subnet" in finding.title


def test_an_unreachable_service_is_no_answer() -> None:
    told: Seen = (Role.NEW, "ports", "tcp/631 ipp", Service("ipp", 631, "unreachable", "EHOSTUNREACH", 3000, ()))
    verdict = judged(here(), asked(ADDRESS), told, heard("192.0.2.88"), standard=STANDARD)
    assert found(verdict, "announced.other-address")
