"""The device's own view of its network, and ours of it: addresses, masks, gateways, link, keys; read and judged.

Rows are worked out by hand from RFC 1122, RFC 3927, RFC 4293, RFC 2863, RFC 1213, RFC 5227 and RFC 3414; the source
stands beside each, and an id that ends in a mark has none that was read. What is numbered in fixtures/standards is in
tests/test_snmp_reading.py, tests/test_rules_published.py and tests/test_rules_link_here.py.
"""

import ipaddress
from typing import Any

import pytest
from pysnmp.proto.secmod.rfc3414.service import SnmpUSMSecurityModel

from netcheck.facts.link import OwnInterfaceRow, OwnInterfaces, Route
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.move import DeviceRef, Move
from netcheck.probing import Miss
from netcheck.roles import Outcome, Role
from netcheck.standard import OriginDemand, Standard, SubnetDemand
from netcheck.verdict import Finding, Holds, Weight
from probes.address.arp import probe_frame
from probes.address.own import route
from probes.snmp.message import Syntax
from probes.snmp.plan import Topic
from probes.snmp.reading import read
from probes.snmp.v3_engine import HASHES
from tests import snmp_device
from tests.conftest import make_case, published
from tests.snmp_agent import V2C, Agent
from tests.snmp_asked import asked
from tests.snmp_columns import Cells, harvest, the_fact

MET, UNMET, UNPROVEN = Holds
ALONE = Move(device=DeviceRef("192.0.2.61"))
NETWORK = (Topic.INTERFACES, Topic.ADDRESSES, Topic.GATEWAYS)
DEMANDS = Standard("x", origin=OriginDemand(("static", "dhcp")), subnet=SubnetDemand("192.0.2.0/24"))


def from_memory(*values: Any, what: str) -> Any:
    return pytest.param(*values, id=f"{what}-from-memory")


def current(text: str, status: int = 1, origin: int = 2) -> Cells:
    """The address as ipAddressTable has it (RFC 4293): its prefix behind a RowPointer."""
    own = ipaddress.ip_interface(text)
    network = (1, 4, *own.network.network_address.packed, own.network.prefixlen)
    pointer = (1, 3, 6, 1, 2, 1, 4, 32, 1, 5, 2, *network)
    told = {"IfIndex": 2, "Type": 1, "Prefix": pointer, "Origin": origin, "Status": status}
    return {f"ipAddress{name}.1.4.{own.ip}": value for name, value in told.items()}


def old(address: str, mask: bytes) -> Cells:
    """The same as ipAddrTable has it (RFC 1213)."""
    return {f"ipAdEntIfIndex.{address}": 2, f"ipAdEntNetMask.{address}": (Syntax.IP_ADDRESS, mask)}


def router(address: str) -> Cells:
    return {"ipRouteNextHop.0.0.0.0": (Syntax.IP_ADDRESS, ipaddress.ip_address(address).packed)}


def ruled(identity: str, *parts: Cells) -> list[Finding]:
    cells = {name: value for part in parts for name, value in part.items()}
    told = [(Role.DEVICE, "snmp", source, fact) for topic in NETWORK for source, fact in read(harvest(topic, cells))]
    findings = judge(make_case(told, ALONE), DEMANDS, Gate.STANDING, {}).findings
    return [each for each in findings if each.id == identity]


def only(identity: str, *parts: Cells) -> Finding:
    (finding,) = ruled(identity, *parts)
    return finding


# --- addresses and masks


@pytest.mark.parametrize(
    ("text", "state"),
    # RFC 1122 s3.2.1.3: no network or broadcast address under the host's own mask; never 0/8, 127/8, 224/4, 240/4.
    [
        ("192.168.1.0/22", MET),
        ("192.168.3.255/22", UNMET),
        ("192.168.0.0/22", UNMET),
        ("10.255.255.255/8", UNMET),
        ("10.0.255.255/8", MET),
        ("172.16.0.0/12", UNMET),
        ("172.31.255.255/12", UNMET),
        ("172.31.255.255/10", MET),
        ("192.168.1.3/30", UNMET),
        ("192.168.1.2/30", MET),
        ("0.1.2.3/8", UNMET),
        ("224.0.0.251/24", UNMET),
        ("239.1.2.3/24", UNMET),
        ("254.1.2.3/24", UNMET),
        ("255.255.255.254/24", UNMET),
        from_memory("10.0.0.1/31", MET, what="RFC-3021-the-other-one"),
        from_memory("192.168.1.50/32", MET, what="RFC-3021-alone"),
        from_memory("198.18.4.4/15", MET, what="RFC-2544-benchmarks"),
        from_memory("100.127.255.254/10", MET, what="RFC-6598-shared"),
        from_memory("203.0.113.200/24", MET, what="RFC-5737-documentation"),
    ],
)
def test_who_can_have_an_address(text: str, state: Holds) -> None:
    own = ipaddress.ip_interface(text)
    assert only("address.valid", current(text)).state is state
    assert only("address.valid", old(str(own.ip), own.netmask.packed)).state is state


@pytest.mark.parametrize("host", ["0.0", "0.255", "1.0", "254.255", "255.0", "255.255"])
def test_an_address_that_a_device_gave_itself(host: str) -> None:
    """RFC 3927 s2.1: the first and the last 256 are reserved; none of them comes from the network."""
    finding = only("address.valid", current(f"169.254.{host}/16", origin=6))
    assert finding.state is UNMET
    assert only("address.origin", current(f"169.254.{host}/16", origin=6)).state is UNMET


@pytest.mark.parametrize(
    ("mask", "prefix"),
    # RFC 4632 s5.1: ones, then zeros. Four octets, as IpAddress has them (RFC 2578 s7.1.5).
    [
        ("ffffff00", 24),
        ("fffffe00", 23),
        ("ff000000", 8),
        ("ffffffff", 32),
        ("fffffffe", 31),
        ("00000000", 0),
        ("ff00ff00", None),
        ("00ffffff", None),
        ("7fffffff", None),
        ("fffffffd", None),
        ("ffffff", None),
        ("", None),
    ],
)
def test_a_mask(mask: str, prefix: int | None) -> None:
    row = the_fact(Topic.ADDRESSES, old("192.0.2.61", bytes.fromhex(mask))).rows[0]
    assert row.prefix_length == prefix


@pytest.mark.parametrize(
    ("origin", "state"),
    # RFC 4293 IpAddressOriginTC: other, manual, dhcp, linklayer, random; 3 does not exist.
    [(1, UNPROVEN), (2, MET), (3, UNPROVEN), (4, MET), (5, UNMET), (6, UNMET)],
)
def test_how_the_address_came(origin: int, state: Holds) -> None:
    assert only("address.origin", current("192.0.2.61/24", origin=origin)).state is state


def test_an_address_that_another_has_too() -> None:
    """RFC 4293 IpAddressStatusTC: duplicate(7)."""
    finding = only("address.valid", current("192.0.2.61/24", status=7))
    assert (finding.state, finding.weight) == (UNMET, Weight.BLOCKER)


@pytest.mark.parametrize("pointer", [(0, 0), (1, 3, 6, 1, 2, 1, 4, 32, 1, 5, 2, 1, 4, 192, 0, 2, 0, 33)])
def test_a_pointer_to_no_prefix_tells_no_mask(pointer: tuple[int, ...]) -> None:
    """RFC 4293 ipAddressPrefix: 0.0 is no row; no IPv4 prefix is longer than 32."""
    cells = {**current("192.0.2.61/24"), "ipAddressPrefix.1.4.192.0.2.61": pointer}
    assert only("address.valid", cells).state is UNPROVEN


@pytest.mark.parametrize(
    ("text", "gateway", "state"),
    # RFC 1122 s3.3.1.1, s3.3.1.6: a first hop is on the host's own subnet. That it is another host than itself, and a
    # host's address at all: common practice.
    [
        ("192.0.2.61/24", "192.0.2.1", MET),
        ("192.0.2.61/24", "192.0.2.254", MET),
        ("192.0.2.61/25", "192.0.2.129", UNMET),
        ("192.0.2.61/24", "198.51.100.1", UNMET),
        ("192.0.2.61/24", "192.0.2.61", UNMET),
        ("192.0.2.61/24", "192.0.2.0", UNMET),
        ("192.0.2.61/24", "192.0.2.255", UNMET),
        ("192.0.2.61/23", "192.0.2.255", MET),
        ("192.0.2.60/31", "192.0.2.61", MET),
        ("192.0.2.61/32", "192.0.2.1", UNMET),
    ],
)
def test_a_gateway(text: str, gateway: str, state: Holds) -> None:
    assert only("address.gateway", current(text), router(gateway)).state is state


@pytest.mark.parametrize(
    ("ours", "theirs", "state"),
    # RFC 1122 s3.3.1.1: each end decides by its own mask. Only where both say the same do packets go one way.
    [
        ("192.168.1.10/25", "192.168.1.200/25", MET),  # both: behind a router
        ("192.168.1.10/24", "192.168.1.50/24", MET),
        ("192.168.1.10/24", "192.168.1.50/30", UNMET),
        ("192.168.1.10/24", "192.168.2.50/16", UNMET),
        ("192.168.1.10/22", "192.168.2.50/24", UNMET),
        ("192.168.1.10/22", "192.168.2.50/22", MET),
        ("10.1.0.5/16", "10.2.0.5/8", UNMET),
        ("10.0.0.0/31", "10.0.0.1/31", MET),
        ("192.168.1.10/24", "172.16.1.10/12", MET),  # two subnets on one wire: both ask a router
    ],
)
def test_two_masks(ours: str, theirs: str, state: Holds) -> None:
    own, other = ipaddress.ip_interface(ours), ipaddress.ip_interface(theirs)
    rows = (OwnInterfaceRow("eth0", str(own.ip), own.network.prefixlen, "02:77:00:00:00:10", up=True),)
    way = route(str(other.ip), str(own.ip), rows)
    assert isinstance(way, Route)
    assert way.on_link is (other.ip in own.network)
    told = [(Role.DEVICE, "snmp", source, fact) for source, fact in read(harvest(Topic.ADDRESSES, current(theirs)))]
    facts = [(Role.HERE, "address", "own", OwnInterfaces(rows)), (Role.DEVICE, "address", "route", way), *told]
    findings = judge(
        make_case(facts, Move(device=DeviceRef(str(other.ip)))), Standard("none"), Gate.STANDING, {}
    ).findings
    (finding,) = [each for each in findings if each.id == "link.route"]
    assert finding.state is state


# --- the interface


@pytest.mark.parametrize(
    ("speed", "high", "bits"),
    # RFC 2863: ifSpeed in bit/s; above 4,294,967,295 that number, and ifHighSpeed in 10^6 bit/s.
    [(10**9, 1000, 10**9), (2**32 - 1, 25_000, 25 * 10**9), (None, 100, 10**8), (10**7, None, 10**7)],
)
def test_the_speed_of_a_link(speed: int | None, high: int | None, bits: int) -> None:
    told = {"ifSpeed": speed, "ifHighSpeed": high}
    cells: Cells = {f"{name}.2": (Syntax.GAUGE32, value) for name, value in told.items() if value is not None}
    assert the_fact(Topic.INTERFACES, {"ifType.2": 6} | cells).rows[0].speed_bits == bits


def test_several_interfaces_and_no_loopback() -> None:
    """RFC 2863, IANAifType: ethernetCsmacd(6), ieee80211(71), usb(160), softwareLoopback(24)."""
    cells = {f"ifType.{number}": kind for number, kind in ((1, 24), (2, 6), (3, 71), (4, 160))}
    rows = the_fact(Topic.INTERFACES, cells).rows
    assert [(row.index, row.type) for row in rows] == [(2, "ethernetCsmacd"), (3, "ieee80211"), (4, "usb")]


@pytest.mark.parametrize(
    "state", list(enumerate(["up", "down", "testing", "unknown", "dormant", "notPresent", "lowerLayerDown"], 1))
)
def test_the_state_of_a_link(state: tuple[int, str]) -> None:
    """RFC 2863 ifOperStatus."""
    assert the_fact(Topic.INTERFACES, {"ifOperStatus.2": state[0]}).rows[0].oper_status == state[1]


# --- who is at an address: what is sent, and what it may do to others


@pytest.mark.parametrize("row", published("ACD-01", "ACD-05"))
def test_what_is_sent_claims_nothing_and_ends_no_claim(row: dict[str, str]) -> None:
    """ACD-01, ACD-05: who claims an address waits 4 to 7 s, and gives it up after a second ARP packet whose *sender*
    address it is (RFC 5227 s1.1, RFC 3927 s2.5). Ours has none, so that the times of both bind others and not us."""
    assert row["source"]
    sent = probe_frame("02:77:00:00:00:10", "192.0.2.61")
    sender, target = sent[28:32], sent[38:42]  # RFC 826, behind an Ethernet header of 14 octets
    assert (sender, target) == (b"\0\0\0\0", bytes((192, 0, 2, 61)))


# --- SNMP versions


@pytest.mark.parametrize("row", published("USM-11"))
def test_a_wrong_community_is_silence_and_not_a_refusal(row: dict[str, str]) -> None:
    """An agent of v1 and v2c alone, which no discovery can tell from a host that is off."""
    assert row["expected"].startswith("no answer at all")
    (found,) = asked(Agent(snmp_device.rows()), seconds=1.6, community="another-than-the-agent-knows")
    assert isinstance(found, Miss)
    assert found.outcome is Outcome.SILENT
    assert "another-than" not in found.reason


def test_sha_256_keys() -> None:
    """RFC 7860 s9.3 takes the way of RFC 3414 A.2 with another hash; computed from that, not from this program."""
    service = SnmpUSMSecurityModel.AUTH_SERVICES[HASHES["SHA-256"]]
    master = service.hash_passphrase(b"maplesyrup")
    local = service.localize_key(master, V2C.OctetString(bytes(11) + b"\x02"))
    assert bytes(master).hex() == "ab51014d1e077f6017df2b12bee5f5aa72993177e9bb569c4dff5a4ca0b4afac"
    assert bytes(local).hex() == "8982e0e549e866db361a6b625d84cccc11162d453ee8ce3a6445c2d6776f0f8b"
