"""Routers, the address that a device is to get, and whom a device looks for itself: real neighbours, held against
iproute2 and against the frames on the wire."""

import ipaddress

import pytest

from netcheck.facts.link import GatewayNeighbour, Neighbour, PlannedNeighbour
from netcheck.facts.network import Service
from netcheck.roles import Outcome

from .looking import ARP, IPV4, Look, frames, remembered
from .site import GATEWAY, JACKS, Site

NEW, OLD, OURS, ROUTER = JACKS["new"], JACKS["old"], JACKS["workstation"], JACKS["gateway"]
FREE, ELSEWHERE = "10.77.0.99", "198.51.100.7"
BOTH_READERS = pytest.mark.parametrize("nobody", [False, True])


# --- the planned address


@BOTH_READERS
def test_a_planned_address_that_somebody_has(site: Site, *, nobody: bool) -> None:
    look = Look(site, NEW.address, "ports,planned-address", f"planned={OLD.address}", nobody=nobody)
    told = look.only(PlannedNeighbour)
    assert (told.macs, told.complete) == ((OLD.mac,), not nobody)
    if nobody:
        assert told.state.upper() in remembered(site, OLD.address)["state"]


@BOTH_READERS
def test_a_planned_address_that_is_free(site: Site, *, nobody: bool) -> None:
    look = Look(site, NEW.address, "ports,planned-address", f"planned={FREE}", nobody=nobody)
    told = look.only(PlannedNeighbour)
    assert (told.macs, told.complete, told.method) == ((), True, "neighbour-table" if nobody else "arp")
    assert remembered(site, FREE).get("state") == (["FAILED"] if nobody else None)


def test_a_planned_address_that_two_have(site: Site) -> None:
    site.ip("old", f"addr add {FREE}/24 dev eth0")
    site.ip("gateway", f"addr add {FREE}/24 dev eth0")
    look = Look(site, NEW.address, "planned-address", f"planned={FREE}")
    assert set(look.only(PlannedNeighbour).macs) == {OLD.mac, ROUTER.mac}


@BOTH_READERS
def test_a_planned_address_behind_the_gateway_is_not_known_from_here(site: Site, *, nobody: bool) -> None:
    look = Look(site, NEW.address, "planned-address", f"planned={ELSEWHERE}", nobody=nobody)
    (attempt,) = look.attempts("planned-address")
    assert (look.of(PlannedNeighbour), attempt.outcome) == ([], Outcome.NOT_TRIED)
    assert "behind a router" in attempt.reason


# --- routers


@BOTH_READERS
def test_routers_that_are_there(site: Site, *, nobody: bool) -> None:
    look = Look(site, NEW.address, "ports,routers", f"gateway={GATEWAY}", nobody=nobody)
    for role in ("here", "new"):
        told = look.only(GatewayNeighbour, role)
        assert (told.address, told.macs, told.complete) == (GATEWAY, (ROUTER.mac,), not nobody)
    if nobody:
        assert remembered(site, GATEWAY)["lladdr"] == ROUTER.mac


@BOTH_READERS
def test_routers_that_are_not(site: Site, *, nobody: bool) -> None:
    site.plug("gateway", connected=False)
    look = Look(site, NEW.address, "ports,routers", f"gateway={FREE}", nobody=nobody)
    for role, address in (("here", GATEWAY), ("new", FREE)):
        told = look.only(GatewayNeighbour, role)
        assert (told.address, told.macs, told.complete) == (address, (), True)


# --- whom the device looks for itself


def test_a_device_with_too_narrow_a_mask_looks_for_its_gateway(site: Site) -> None:
    """10.77.0.16/28 is 10.77.0.17 to .30 (RFC 4632 s3.1): the workstation, .10, is not in it, and nobody is .17."""
    site.configure("new", f"{NEW.address}/28", gateway="10.77.0.17")
    look = Look(site, NEW.address)
    assert look.by("arp") == Neighbour(NEW.address, (NEW.mac,), "arp", complete=True, asks=("10.77.0.17",))
    assert {each.state for each in look.of(Service)} == {"silent"}
    assert "10.77.0.17" in site.run("new", "ip", "neigh").stdout


def test_a_device_with_too_narrow_a_mask_and_no_gateway_looks_for_nobody(site: Site) -> None:
    site.configure("new", f"{NEW.address}/28", gateway=None)
    look = Look(site, NEW.address)
    assert look.by("arp").asks == ()
    assert {each.state for each in look.of(Service)} == {"silent"}


def test_what_others_look_for_is_not_told_of_the_device(site: Site) -> None:
    site.configure("new", f"{NEW.address}/28", gateway=None)
    site.start("old", "noise", "ping", "-i", "0.5", FREE)
    assert Look(site, NEW.address).by("arp").asks == ()
    assert f"{FREE} dev eth0" in site.run("old", "ip", "neigh").stdout


# --- what is sent


def asked(frame: bytes) -> str:
    """Whom an ARP probe asks for (RFC 826, RFC 5227 s1.1); AssertionError where it is anything else."""
    assert frame[12:14] == ARP
    assert (frame[20:22], frame[28:32]) == (b"\x00\x01", bytes(4))
    return str(ipaddress.ip_address(frame[38:42]))


EVERYTHING = "address,planned-address,routers"


def test_all_that_an_administrator_sends(site: Site) -> None:
    """Two probes an owner, three where there is none, and our router is the device's: asked for once."""
    sent = frames(site, NEW.address, EVERYTHING, f"planned={FREE}", f"gateway={GATEWAY}", kinds={IPV4, ARP})
    assert sorted(map(asked, sent)) == sorted([NEW.address] * 2 + [FREE] * 3 + [GATEWAY] * 2)


def test_all_that_a_nobody_sends(site: Site) -> None:
    """One empty datagram (RFC 768: a length of 8) to the discard port (RFC 863) of the router, and of the planned
    address if somebody has it; and what the kernel itself asks to deliver it."""
    words = (f"planned={OLD.address}", f"gateway={GATEWAY}")
    sent = frames(site, NEW.address, "planned-address,routers", *words, kinds={IPV4, ARP}, nobody=True)
    datagrams = [frame for frame in sent if frame[12:14] == IPV4]
    ends = [(str(ipaddress.ip_address(each[30:34])), each[23], each[36:38], each[38:40]) for each in datagrams]
    assert sorted(ends) == [(address, 17, b"\x00\x09", b"\x00\x08") for address in (GATEWAY, OLD.address)]
    assert len(sent) - len(datagrams) == 2


def test_what_our_system_knows_already_is_left_alone(site: Site) -> None:
    for address in (OLD.address, GATEWAY):
        assert site.run("workstation", "ping", "-c1", "-W1", address).returncode == 0
    words = (f"planned={OLD.address}", f"gateway={GATEWAY}")
    assert frames(site, NEW.address, "planned-address,routers", *words, kinds={IPV4, ARP}, nobody=True) == []


# --- in time


def test_how_long_it_takes(site: Site) -> None:
    """A device that answers is not waited for; nobody at all is known within half a second of the last question."""
    words = (f"planned={FREE}", f"gateway={GATEWAY}")
    assert Look(site, NEW.address, f"{EVERYTHING},ports", *words).took < 3
    words = (f"planned={OLD.address}", f"gateway={GATEWAY}")
    assert Look(site, NEW.address, f"{EVERYTHING},ports", *words, nobody=True).took < 1.5
