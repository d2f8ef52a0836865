"""The link as it is: real neighbours and their tables, held against iproute2 and against the frames on the wire.

Two readers look at it: an administrator, who may open a packet socket, and whoever may not.
"""

import ipaddress
import json
import re
import sys
import time
from typing import Final

import pytest

from netcheck.facts.link import Neighbour, OwnGateways, OwnInterfaces, ReverseName, Route
from netcheck.roles import Outcome
from tests.conftest import published

from .looking import ARP, IPV4, Look, frames, remembered
from .site import JACKS, Site

NEW, OLD, OURS = JACKS["new"], JACKS["old"], JACKS["workstation"]
ABSENT, ELSEWHERE = "10.77.0.99", "198.51.100.7"


def share(site: Site) -> None:
    """Give the old printer the new one's address as well, as a wrong setting at its panel would."""
    site.ip("old", f"addr add {NEW.address}/24 dev eth0")


# --- what an administrator sees


def test_a_neighbour(site: Site) -> None:
    look = Look(site, NEW.address)
    assert look.by("arp") == Neighbour(NEW.address, (NEW.mac,), "arp", complete=True)
    assert {each.outcome for each in look.attempts()} == {Outcome.ANSWERED}


def test_two_owners_of_one_address(site: Site) -> None:
    share(site)
    assert set(Look(site, NEW.address).by("arp").macs) == {NEW.mac, OLD.mac}


def test_an_address_that_nobody_has(site: Site) -> None:
    assert Look(site, ABSENT).by("arp") == Neighbour(ABSENT, (), "arp", complete=True)


def test_a_neighbour_that_keeps_silent_otherwise(site: Site) -> None:
    """RFC 826 is below what a firewall filters."""
    site.filter("new", "drop")
    assert Look(site, NEW.address).by("arp").macs == (NEW.mac,)


def move_silently(site: Site) -> str:
    """An address that the workstation remembers at the old printer, and that the new one took without a word."""
    address = "10.77.0.50"
    site.ip("old", f"addr add {address}/24 dev eth0")
    assert site.run("workstation", "ping", "-c1", "-W1", address).returncode == 0
    site.ip("old", f"addr del {address}/24 dev eth0")
    site.ip("new", f"addr add {address}/24 dev eth0")
    row = remembered(site, address)
    assert (row["lladdr"], row["state"]) == (OLD.mac, ["REACHABLE"])
    return address


def test_what_our_system_still_remembers(site: Site) -> None:
    look = Look(site, move_silently(site))
    assert look.by("arp").macs == (NEW.mac,)
    assert (look.by("neighbour-table").macs, look.by("neighbour-table").state) == ((OLD.mac,), "reachable")


def test_silence_in_half_a_second_is_not_nobody(site: Site) -> None:
    look = Look(site, ABSENT, seconds=0.6)
    assert not any(each.complete for each in look.of(Neighbour))


# --- what anybody sees


def test_without_the_right_to_ask_the_table_is_read(site: Site) -> None:
    look = Look(site, NEW.address, nobody=True)
    told = look.by("neighbour-table")
    assert (told.macs, told.complete) == ((NEW.mac,), False)
    assert (told.macs[0], told.state.upper()) == (
        remembered(site, NEW.address)["lladdr"],
        *remembered(site, NEW.address)["state"],
    )
    assert look.neighbour("arp") is None
    (refused,) = [each for each in look.attempts() if each.outcome is Outcome.NOT_TRIED]
    assert "administrator's rights (Operation not permitted)" in refused.reason
    assert refused.reason in told.reason


def test_without_the_right_to_ask_a_second_owner_does_not_show_and_that_is_said(site: Site) -> None:
    share(site)
    told = Look(site, NEW.address, nobody=True).by("neighbour-table")
    assert len(told.macs) == 1
    assert "a second one would not show" in told.reason


def test_without_the_right_to_ask_nobody_is_known_once_our_system_has_asked(site: Site) -> None:
    look = Look(site, ABSENT, nobody=True)
    told = look.by("neighbour-table")
    assert (told.macs, told.complete, told.state) == ((), True, "failed")
    assert remembered(site, ABSENT)["state"] == ["FAILED"]


def test_an_entry_from_before_does_not_pass_for_an_answer(site: Site) -> None:
    """Given up before the device was plugged in, and there now."""
    site.plug("new", connected=False)
    assert Look(site, NEW.address, nobody=True).by("neighbour-table").state == "failed"
    site.plug("new", connected=True)
    assert Look(site, NEW.address, nobody=True).by("neighbour-table").macs == (NEW.mac,)


# --- where the question has no answer


@pytest.mark.parametrize("nobody", [False, True])
def test_behind_the_gateway_nobody_is_asked_for(site: Site, *, nobody: bool) -> None:
    site.ip("gateway", f"addr add {ELSEWHERE}/32 dev lo")
    look = Look(site, ELSEWHERE, nobody=nobody)
    assert look.of(Neighbour) == []
    assert look.of(Route) == [Route(ELSEWHERE, "eth0", OURS.address, on_link=False)]
    assert "behind a router" in look.attempts()[-1].reason
    assert look.attempts()[-1].outcome is Outcome.NOT_TRIED


def test_our_own_cable_out(site: Site) -> None:
    site.plug("workstation", connected=False)
    look = Look(site, NEW.address)
    assert "link of eth0 is down" in look.attempts()[-1].reason
    (own,) = look.of(OwnInterfaces)
    assert {row.up for row in own.rows if row.name == "eth0"} == {False}


def test_no_way_at_all(site: Site) -> None:
    site.configure("workstation", f"{OURS.address}/24", gateway=None)
    assert Look(site, ELSEWHERE).of(Route) == [Route(ELSEWHERE, "", "", on_link=False)]


# --- where we stand, by iproute2


def test_our_own_interfaces_and_gateways(site: Site) -> None:
    look = Look(site, NEW.address)
    said = {
        (link["ifname"], address["local"], address["prefixlen"])
        for link in json.loads(site.run("workstation", "ip", "-j", "addr").stdout)
        for address in link["addr_info"]
    }
    (own,), (gateways,) = look.of(OwnInterfaces), look.of(OwnGateways)
    assert {(row.name, row.address, row.prefix_length) for row in own.rows} == said
    assert {row.mac for row in own.rows if row.name == "eth0"} == {OURS.mac}
    (default,) = json.loads(site.run("workstation", "ip", "-j", "route", "show", "default").stdout)
    assert gateways.rows == ((default["gateway"], default["dev"]),)


def test_the_way_is_the_kernels_own(site: Site) -> None:
    """Published pairs of workstation and printer, each put before the kernel: does it send through the gateway?"""
    for row in published("MSK-"):
        ends = re.match(r"workstation (\S+)/(\d+), printer (\S+)/", row.values[0]["input"])
        assert ends is not None
        subnet = ipaddress.ip_network(f"{ends[1]}/{ends[2]}", strict=False)
        site.configure("workstation", f"{ends[1]}/{ends[2]}", gateway=str(subnet[1]))
        (said,) = json.loads(site.run("workstation", "ip", "-j", "route", "get", ends[3]).stdout)
        (way,) = Look(site, ends[3], "address", seconds=0.2).of(Route)
        assert (way.interface, way.source) == (said["dev"], said["prefsrc"])
        assert way.on_link is ("gateway" not in said), row.id


def test_names_back(site: Site) -> None:
    site.name_hosts("workstation", {NEW.address: "halden.example"})
    (told,) = Look(site, NEW.address, "reverse-names").of(ReverseName)
    assert told == ReverseName(NEW.address, ("halden.example",), "resolver", (NEW.address,))


# --- what is sent


@pytest.mark.parametrize(("address", "number"), [(NEW.address, 2), (ABSENT, 3)])
def test_every_question_is_a_probe_for_the_targets_address(site: Site, address: str, number: int) -> None:
    """RFC 5227 s1.1: the sender's address is all zero, so that nobody's memory changes. By the layout of RFC 826."""
    sent = frames(site, address, kinds={IPV4, ARP})
    assert len(sent) == number
    for frame in sent:
        assert frame[12:14] == b"\x08\x06"
        assert frame[20:22] == b"\x00\x01"
        assert frame[28:32] == bytes(4)
        assert frame[38:42] == ipaddress.ip_address(address).packed
    if address == NEW.address:
        assert OURS.address not in site.run("new", "ip", "neigh").stdout


def test_nothing_is_sent_about_an_address_behind_the_gateway(site: Site) -> None:
    assert frames(site, ELSEWHERE, kinds={IPV4, ARP}) == []


PROMISCUOUS: Final = """
import socket, struct, time
SOL_PACKET, PACKET_ADD_MEMBERSHIP, PACKET_MR_PROMISC = 263, 1, 1
with socket.socket(socket.AF_PACKET, socket.SOCK_RAW, 0) as card:
    wish = struct.pack("iHH8s", socket.if_nametoindex("eth0"), PACKET_MR_PROMISC, 0, b"")
    card.setsockopt(SOL_PACKET, PACKET_ADD_MEMBERSHIP, wish)
"""


def test_the_card_does_not_listen_to_what_is_not_for_us(site: Site) -> None:
    """iproute2 tells when a card becomes promiscuous; that it would, is seen last (packet(7))."""
    watcher = site.start("workstation", "modes", "ip", "-d", "monitor", "link")
    time.sleep(0.2)
    Look(site, NEW.address)
    assert "promiscuity 1" not in watcher.output
    assert site.run("workstation", sys.executable, "-c", PROMISCUOUS).returncode == 0
    watcher.until_said("promiscuity 1")


# --- in time


def test_how_long_it_takes(site: Site) -> None:
    """Without privilege a live neighbour costs nothing; with it, two probes; a dead one, what the kernel needs."""
    assert Look(site, NEW.address, nobody=True).took < 1.5
    assert Look(site, NEW.address).took < 3.5
    assert Look(site, ABSENT).took < 5
    assert Look(site, ABSENT, nobody=True).took < 5.5
