"""Neighbours by IPv6, as Linux answers for them; held against iproute2 and against the frames on the wire.

IPv6 addresses are link-local from the hardware address (RFC 4291 app. A), or of RFC 3849.
"""

from typing import Final

import pytest
from scapy.layers.inet6 import ICMPv6ND_NS, IPv6
from scapy.layers.l2 import Ether

from netcheck.facts.link import Neighbour
from netcheck.roles import Outcome

from .looking import IPV6, Look, frames, remembered
from .site import JACKS, Node, Site

NEW, OLD, OURS = JACKS["new"], JACKS["old"], JACKS["workstation"]
LOCAL: Final = "fe80::77:ff:fe00:22%eth0"
ABSENT: Final = "fe80::77:ff:fe00:99%eth0"
GLOBAL: Final = "2001:db8:77::22"


def give(site: Site, *nodes: Node) -> str:
    """Have these machines own one global address; the workstation is in its subnet."""
    site.ip("workstation", "addr add 2001:db8:77::10/64 dev eth0 nodad")
    for node in nodes:
        site.ip(node, f"addr add {GLOBAL}/64 dev eth0 nodad")
    return GLOBAL


def test_a_neighbour(site: Site) -> None:
    look = Look(site, LOCAL)
    assert look.by("nd") == Neighbour(LOCAL, (NEW.mac,), "nd", complete=True)
    assert {each.outcome for each in look.attempts()} == {Outcome.ANSWERED}
    assert remembered(site, LOCAL.partition("%")[0])["lladdr"] == NEW.mac  # by the ports probe's connects


def test_two_owners_of_one_address(site: Site) -> None:
    assert set(Look(site, give(site, "old", "new")).by("nd").macs) == {NEW.mac, OLD.mac}


def test_an_address_that_nobody_has(site: Site) -> None:
    look = Look(site, ABSENT)
    assert look.by("nd") == Neighbour(ABSENT, (), "nd", complete=True)
    assert look.took < 5


def test_what_our_system_still_remembers(site: Site) -> None:
    address = give(site, "old")
    assert site.run("workstation", "ping", "-c1", "-W1", address).returncode == 0
    site.ip("old", f"addr del {address}/64 dev eth0")
    site.ip("new", f"addr add {address}/64 dev eth0 nodad")
    look = Look(site, address, "address")
    assert look.by("nd").macs == (NEW.mac,)
    assert look.by("neighbour-table").macs == (OLD.mac,)


@pytest.mark.parametrize(("address", "state"), [(LOCAL, "reachable"), (ABSENT, "failed")])
def test_without_the_right_to_ask_the_table_is_read(site: Site, address: str, state: str) -> None:
    look = Look(site, address, nobody=True)
    told = look.by("neighbour-table")
    assert (told.state, told.macs) == (state, (NEW.mac,) if address == LOCAL else ())
    assert remembered(site, address.partition("%")[0])["state"] == [state.upper()]
    assert "neighbour discovery needs administrator's rights (Operation not permitted)" in told.reason


def solicitations(site: Site, address: str, *, nobody: bool = False) -> list[bytes]:
    """Those that leave the workstation (ICMPv6 type 135, RFC 4861 s4.3); its kernel also says which groups it is in."""
    sent = frames(site, address, kinds={IPV6}, nobody=nobody)
    return [frame for frame in sent if (frame[20], frame[54]) == (58, 135)]


@pytest.mark.parametrize(("address", "number"), [(LOCAL, 2), (ABSENT, 3)])
def test_every_question_is_one_of_duplicate_address_detection(site: Site, address: str, number: int) -> None:
    """RFC 4862 s5.4.2, taken apart by scapy. Nobody remembers the workstation afterwards."""
    site.ip("new", "neigh flush dev eth0")
    sent = [Ether(frame) for frame in solicitations(site, address)]
    assert len(sent) == number
    bare = address.partition("%")[0]
    for frame in sent:
        assert (frame[IPv6].src, frame[IPv6].dst[:13], frame[IPv6].hlim) == ("::", "ff02::1:ff00:", 255)
        assert frame[ICMPv6ND_NS].tgt == bare
        assert not frame[ICMPv6ND_NS].payload
    assert OURS.mac not in site.run("new", "ip", "-6", "neigh").stdout


def test_a_nobody_sends_no_question_of_its_own(site: Site) -> None:
    assert solicitations(site, LOCAL, nobody=True) == []
