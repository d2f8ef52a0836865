"""Announcements against what they are about: RFC 6762, RFC 6763."""

from typing import Any

import pytest

from netcheck.facts.identity import Serial, Uuid
from netcheck.facts.link import AdvertisedHost, Advertisement, OwnInterfaceRow, OwnInterfaces, TxtEntry
from netcheck.facts.network import NameLookup, Service
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.roles import Role
from netcheck.standard import ModelDemand, Standard
from netcheck.verdict import Finding, Holds, Weight
from tests.conftest import make_case

NEW, OLD = "192.0.2.61", "192.0.2.21"
OURS = (Role.HERE, "address", "interfaces", OwnInterfaces((OwnInterfaceRow("eth0", "192.0.2.10", 24, ""),)))
LOOKUP = (Role.NEW, "names", "resolver", NameLookup(NEW, (NEW,)))


def told(instance: str, *places: tuple[str, str], port: int = 631, **txt: str) -> Advertisement:
    hosts = tuple(AdvertisedHost(f"{name}.local.", port, (address,)) for name, address in places)
    entries = tuple(TxtEntry(key.lower(), value) for key, value in txt.items())
    names, addresses = tuple(host.name for host in hosts), tuple(address for _, address in places)
    return Advertisement(instance, "_ipp._tcp", port, names, addresses, entries, (), hosts)


def seen(role: Role, fact: Advertisement) -> tuple[Role, str, str, Any]:
    return role, "dnssd", f"{fact.instance}._ipp._tcp.local.", fact


def found(identity: str, facts: list[Any], gate: Gate = Gate.SWAP, standard: Standard = Standard()) -> list[Finding]:  # noqa: B008
    verdict = judge(make_case(facts), standard, gate, {})
    return [each for each in verdict.findings if each.id == f"announced.{identity}"]


PLANS = told("Plans", ("plans-new", NEW))


@pytest.mark.parametrize("identity", ["name-taken", "leads-elsewhere", "seen-not-reached", "several-alike", "agrees"])
def test_without_any_announcement_there_is_no_question(identity: str) -> None:
    """RFC 6762: silence proves nothing; multicast may not cross (common practice, no source)."""
    silent = (Role.NEW, "ports", "tcp/631", Service("ipp", 631, "silent", "", 2500, ()))
    assert not found(identity, [LOOKUP, OURS, silent], standard=Standard("x", model=ModelDemand("Halden*")))


def test_two_hosts_under_one_name_are_a_conflict() -> None:
    """RFC 6762 s9: a unique record with different rdata from two sources; two ports of one host are none."""
    both = told("Plans", ("plans-new", NEW), ("plans-old", OLD))
    (finding,) = found("name-taken", [LOOKUP, seen(Role.NEW, both)])
    assert (finding.state, finding.weight) == (Holds.UNMET, Weight.CARE)
    one = told("Plans", ("plans-new", NEW), ("Plans-New", NEW))
    assert not found("name-taken", [LOOKUP, seen(Role.NEW, one)])


def test_a_renamed_instance_is_a_note() -> None:
    """RFC 6762 s9: the name is kept over power cycles, so the conflict may be long over."""
    (finding,) = found("name-taken", [LOOKUP, seen(Role.NEW, told("Plans (2)", ("plans-new", NEW)))])
    assert finding.weight is Weight.NOTE


@pytest.mark.parametrize(("port", "state"), [(631, Holds.UNMET), (0, Holds.UNMET)])
def test_a_name_that_leads_elsewhere_too(port: int, state: Holds) -> None:
    """RFC 6763 s8: a port of 0 claims the name without a service."""
    other = (Role.HERE, "dnssd", "Plans._printer._tcp.local.", told("Plans", ("plans-old", OLD), port=port))
    (finding,) = found("leads-elsewhere", [LOOKUP, seen(Role.NEW, PLANS), seen(Role.HERE, PLANS), other])
    assert finding.state is state
    assert OLD in finding.detail


def test_a_name_that_leads_to_the_device_alone() -> None:
    (finding,) = found("leads-elsewhere", [LOOKUP, seen(Role.NEW, PLANS), seen(Role.HERE, PLANS)])
    assert finding.state is Holds.MET


@pytest.mark.parametrize(
    ("address", "says"), [("198.51.100.61", "not in our subnet"), (NEW, "in our subnet, so something keeps us apart")]
)
def test_heard_and_not_reached(address: str, says: str) -> None:
    """RFC 6762 s11: a multicast answer is from our own link, whatever its source address."""
    silent = (Role.NEW, "ports", "tcp/631", Service("ipp", 631, "silent", "", 2500, ()))
    heard = seen(Role.NEW, told("Plans", ("plans-new", address)))
    (finding,) = found("seen-not-reached", [LOOKUP, OURS, silent, heard])
    assert (finding.state, finding.weight) == (Holds.UNMET, Weight.BLOCKER)
    assert says in finding.detail
    reach = next(
        each
        for each in judge(make_case([LOOKUP, OURS, silent, heard]), Standard(), Gate.SWAP, {}).findings
        if each.id == "services.reach"
    )
    assert finding.key in reach.causes


def test_several_of_the_model() -> None:
    standard = Standard("x", model=ModelDemand("Halden 36R*"))
    two = [
        seen(Role.HERE, told(f"P{number}", (f"p{number}", f"192.0.2.{number}"), ty="Halden 36R")) for number in (61, 62)
    ]
    (finding,) = found("several-alike", two, Gate.FILL, standard)
    assert finding.weight is Weight.NOTE
    assert not found("several-alike", two[:1], Gate.FILL, standard)


def test_an_announcement_with_anothers_uuid() -> None:
    uuid = (Role.NEW, "ipp", "printer-uuid", Uuid("0f7cfa9e-0000-4000-8000-000000000061"))
    stale = seen(Role.NEW, told("Plans", ("plans-new", NEW), UUID="0f7cfa9e-0000-4000-8000-000000000021"))
    (finding,) = found("agrees", [LOOKUP, uuid, stale])
    assert finding.state is Holds.UNMET
    same = seen(Role.NEW, told("Plans", ("plans-new", NEW), UUID="0F7CFA9E-0000-4000-8000-000000000061"))
    assert not found("agrees", [LOOKUP, uuid, same])


def test_the_old_device_that_still_announces_itself() -> None:
    uuid = (Role.OLD, "ipp", "printer-uuid", Uuid("0f7cfa9e-0000-4000-8000-000000000021"))
    serial = (Role.OLD, "snmp", "prtGeneralSerialNumber.1", Serial("CV24-008812"))
    still = seen(Role.HERE, told("Plans", ("plans-old", OLD), UUID="0f7cfa9e-0000-4000-8000-000000000021"))
    (finding,) = found("old-announced", [uuid, serial, still], Gate.LEAVE)
    assert finding.state is Holds.UNMET
    assert not found("old-announced", [uuid, serial, seen(Role.HERE, PLANS)], Gate.LEAVE)


def test_reached_and_not_heard_is_a_note_where_others_are_heard() -> None:
    """RFC 6762: multicast works here, as others are heard; it is still no fault."""
    up = (Role.NEW, "ports", "tcp/631", Service("ipp", 631, "open", "", 2, (900,)))
    other = seen(Role.HERE, told("Elsewhere", ("other", "192.0.2.77")))
    (finding,) = found("not-heard", [LOOKUP, up, other])
    assert finding.weight is Weight.NOTE
    assert not found("not-heard", [LOOKUP, up, other, seen(Role.HERE, PLANS)])
    assert not found("not-heard", [LOOKUP, up])
