"""What single values become: truths about addresses that the rules rest on, kept for all; shapes; one-to-one."""

import ipaddress
import re
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from netcheck.evidence import same_text
from netcheck.redaction.addresses import Addresses, Gathered
from netcheck.redaction.hardware import Hardware, bare
from netcheck.redaction.keyed import Key
from netcheck.redaction.names import Names, Serials

keys = st.binary(min_size=16, max_size=32).map(Key)
KEY = Key(bytes(range(32)))
PRIVATE = [ipaddress.IPv4Network(each) for each in ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16")]  # RFC 1918 s3
NOBODYS = [
    ipaddress.ip_network(each)
    for each in ("198.18.0.0/15", "100.64.0.0/10", "192.0.2.0/24", "198.51.100.0/24", "203.0.113.0/24")
]
"""RFC 2544 appendix C.2.2, RFC 6598 s7, RFC 5737 s3: none of it is on the Internet."""
KEPT = [
    "0.0.0.0",
    "127.0.0.1",
    "127.8.9.10",
    "169.254.7.9",
    "224.0.0.251",
    "255.255.255.255",
    "255.255.254.0",
    "240.1.2.3",
]


def moved(
    key: Key, addresses: list[str], networks: list[tuple[str, int]] | None = None, macs: frozenset[str] = frozenset()
) -> list[str]:
    """What addresses become, where these networks are known."""
    gathered = Gathered()
    for each in addresses:
        gathered.address(each)
    for host, length in networks or []:
        gathered.network(host, length)
    made = Addresses(key, gathered, Hardware(key, set(macs)))
    return [made.replaced(each) for each in addresses]


def in_block(network: ipaddress.IPv4Network) -> st.SearchStrategy[str]:
    """Addresses of a block, many of them near each other and at the edges of small networks."""
    last = network.num_addresses - 1
    near = st.builds(
        lambda net, host: (net << 8 | host) & last, st.integers(0, 9), st.sampled_from([0, 1, 61, 127, 128, 254, 255])
    )
    return (near | st.integers(0, last)).map(lambda at: str(network[at]))


privates = st.one_of(*map(in_block, PRIVATE))
globals_ = in_block(ipaddress.IPv4Network("130.226.0.0/16")) | in_block(ipaddress.IPv4Network("192.0.2.0/24"))
masks = st.sampled_from([30, 29, 27, 25, 24, 23, 22, 20, 17, 16])
wide_masks = masks | st.sampled_from([15, 12, 9, 8])


def same_truths(addresses: list[str], masks_of: list[int], new: list[str]) -> None:
    """Whatever a rule may ask of two addresses and their masks is answered as before (RFC 1122 s3.2.1.3, s3.3.1.1)."""
    before = [ipaddress.ip_interface(f"{a}/{m}") for a, m in zip(addresses, masks_of, strict=True)]
    after = [ipaddress.ip_interface(f"{a}/{m}") for a, m in zip(new, masks_of, strict=True)]
    for one, other in combinations(range(len(before)), 2):
        for here, there in ((one, other), (other, one)):
            net, net_after = before[here].network, after[here].network
            assert (before[there].ip in net) == (after[there].ip in net_after)
            assert (before[there].ip == net[0]) == (after[there].ip == net_after[0])
            assert (before[there].ip == net[-1]) == (after[there].ip == net_after[-1])
            assert (net == before[there].network) == (net_after == after[there].network)
    for was, now in zip(before, after, strict=True):
        assert (was.ip == was.network[0], was.ip == was.network[-1]) == (
            now.ip == now.network[0],
            now.ip == now.network[-1],
        )
        assert int(was.ip) & 0xFF == int(now.ip) & 0xFF  # the last octet is what people say


@settings(max_examples=300)
@given(keys, st.lists(st.tuples(privates, wide_masks), min_size=1, max_size=9))
def test_private_addresses_stay_private_and_related_as_they_were(key: Key, known: list[tuple[str, int]]) -> None:
    addresses = [each for each, _ in known]
    new = moved(key, addresses, known)
    same_truths(addresses, [mask for _, mask in known], new)
    for was, now in zip(addresses, new, strict=True):
        assert [ipaddress.ip_address(was) in each for each in PRIVATE] == [
            ipaddress.ip_address(now) in each for each in PRIVATE
        ]


@settings(max_examples=200)
@given(keys, st.lists(st.tuples(globals_ | privates, masks), min_size=1, max_size=9))
def test_public_addresses_become_nobodys_and_related_as_they_were(key: Key, known: list[tuple[str, int]]) -> None:
    addresses = [each for each, _ in known]
    new = moved(key, addresses, known)
    same_truths(addresses, [mask for _, mask in known], new)
    for now in map(ipaddress.ip_address, new):
        assert any(now in each for each in (*PRIVATE, *NOBODYS)), now
    assert len(set(new)) == len(set(addresses))


@given(keys, st.lists(st.ip_addresses(v=4).map(str), min_size=2, max_size=40, unique=True))
def test_no_two_addresses_become_one(key: Key, addresses: list[str]) -> None:
    assert len(set(moved(key, addresses))) == len(addresses)


@given(keys, st.lists(st.ip_addresses(v=6).map(str), min_size=2, max_size=20, unique=True))
def test_no_two_ipv6_addresses_become_one(key: Key, addresses: list[str]) -> None:
    assert len(set(moved(key, addresses))) == len(addresses)


@pytest.mark.parametrize("address", KEPT)
def test_what_names_nobody_stays(address: str) -> None:
    assert moved(KEY, [address]) == [address]


def test_a_whole_crowded_block_has_room() -> None:
    """All 256 networks of 192.168/16 at once, and one mask that spans them."""
    addresses = [f"192.168.{third}.{last}" for third in range(256) for last in (0, 61, 255)]
    new = moved(KEY, addresses, [("192.168.7.61", 16), ("192.168.7.61", 24)])
    assert len(set(new)) == len(addresses)
    assert "192.168.0.0" in new
    assert "192.168.255.255" in new  # it was the network's last address, and is so still


def test_a_network_moves() -> None:
    """Not onto itself, nor onto another of the case: a name of a network is found in the text otherwise."""
    for octet in range(256):
        old = [f"10.77.{octet}.22", f"192.168.{octet}.1", "192.168.99.1"]
        new = moved(Key(bytes([octet] * 32)), old, [(each, 24) for each in old])
        assert not {each.rpartition(".")[0] for each in old} & {each.rpartition(".")[0] for each in new}


@pytest.mark.parametrize(
    ("address", "within"),
    [("2a00:1:2:3::61", "2001:db8::/32"), ("fd12:3456:789a:1::61", "fd00::/8"), ("fe80::1:2:3:4", "fe80::/64")],
)
def test_ipv6_stays_in_its_class(address: str, within: str) -> None:
    """RFC 3849 s2: 2001:db8::/32 is for documentation; RFC 4193 s3.1; RFC 4291 s2.5.6."""
    (new,) = moved(KEY, [address], [(address, 64)])
    assert ipaddress.ip_address(new) in ipaddress.ip_network(within)
    assert new != address


def test_ipv6_networks_keep_what_lies_in_them() -> None:
    addresses = ["2a00:1:2:3::61", "2a00:1:2:3::62", "2a00:1:2:4::61", "2a00:1:3::", "2a00:9::5"]
    new = [
        ipaddress.IPv6Address(each) for each in moved(KEY, addresses, [("2a00:1:2:3::61", 64), ("2a00:1:2:3::61", 48)])
    ]
    site = ipaddress.ip_network(f"{new[0]}/48", strict=False)
    assert [each in site for each in new] == [True, True, True, False, False]
    assert [int(each) >> 64 == int(new[0]) >> 64 for each in new] == [True, True, False, False, False]
    assert int(new[3]) & (1 << 64) - 1 == 0  # the routers' own (RFC 4291 s2.6.1)


def test_an_interface_identifier_of_a_hardware_address_follows_it() -> None:
    """RFC 4291 appendix A: 02:77:00:00:00:22 makes ::77:ff:fe00:22, the universal/local bit turned over."""
    hardware = Hardware(KEY, {"027700000022"})
    (new,) = moved(KEY, ["fe80::77:ff:fe00:22"], macs=frozenset({"027700000022"}))
    octets = bytes.fromhex(hardware.digits("027700000022"))
    expected = bytes([octets[0] ^ 2]) + octets[1:3] + b"\xff\xfe" + octets[3:]
    assert ipaddress.ip_address(new).packed == b"\xfe\x80" + bytes(6) + expected


macs = st.binary(min_size=6, max_size=6).map(lambda octets: octets.hex(":"))


@given(keys, st.lists(macs, min_size=1, max_size=20, unique=True))
def test_hardware_addresses_become_local_ones_one_to_one(key: Key, addresses: list[str]) -> None:
    """RFC 9542 s2.1: the local bit is the second lowest of the first octet, the group bit the lowest."""
    hardware = Hardware(key, {bare(each) for each in addresses})
    new = [hardware.mac(each) for each in addresses]
    assert len(set(new)) == len(new)
    for was, now in zip(addresses, new, strict=True):
        first = int(now[:2], 16)
        assert first & 1 == int(was[:2], 16) & 1
        assert now == was or first & 2


@pytest.mark.parametrize(
    "spelled",
    ["02:77:0b:00:00:22", "02-77-0b-00-00-22", "0277.0b00.0022", "02770b000022", "2:77:b:0:0:22", "02 77 0b 00 00 22"],
)
def test_every_spelling_of_a_hardware_address_becomes_the_same(spelled: str) -> None:
    hardware = Hardware(KEY, {"02770b000022"})
    assert bare(hardware.mac(spelled)) == hardware.digits("02770b000022")
    assert hardware.mac(spelled.upper()) == hardware.mac(spelled).upper()


@pytest.mark.parametrize(
    "mac", ["00:00:00:00:00:00", "ff:ff:ff:ff:ff:ff", "00:00:5e:00:01:07", "01:00:5e:00:00:fb", "33:33:00:00:00:fb"]
)
def test_hardware_addresses_of_protocols_stay(mac: str) -> None:
    """RFC 9542 s2.1; RFC 9568 s7.3 (VRRP); RFC 1112 s6.4; RFC 2464 s7."""
    assert Hardware(KEY, set()).mac(mac) == mac


def test_a_uuid_keeps_its_kind_and_follows_the_hardware_address_in_it() -> None:
    """RFC 9562 s4.1, s4.2, s5.1: the version is the thirteenth digit, the variant the seventeenth, the node the end."""
    hardware = Hardware(KEY, {"027700000022"})
    for text in ("6D4FF0CE-6B11-11D8-8020-027700000022", "4509a320-00a0-508f-90b6-027700000022"):
        new = hardware.uuid(text)
        assert re.fullmatch(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", new.lower())
        assert (new[14], new[19]) == (text[14], text[19])
        assert new.lower().endswith(hardware.digits("027700000022"))
        assert hardware.uuid(text.lower()) == new.lower()
    assert hardware.uuid("00000000-0000-0000-0000-000000000000") == "00000000-0000-0000-0000-000000000000"


def test_an_engine_identifier_follows_the_hardware_address_in_it() -> None:
    """RFC 3411 s5 SnmpEngineID: enterprise with the high bit, 3 for a MAC address, and the address."""
    hardware = Hardware(KEY, set())
    assert hardware.in_digits("80001f8803027700000022") == f"80001f8803{hardware.digits('027700000022')}"
    assert hardware.in_digits("179560000000") == "179560000000"  # a number


plates = st.text(st.sampled_from("abcXYZ019-/. "), min_size=1, max_size=14)


@given(keys, st.lists(plates, min_size=1, max_size=12, unique=True))
def test_serial_numbers_keep_shape_and_equality(key: Key, serials: list[str]) -> None:
    """Equal is what the rules call equal: no regard to case and to blanks."""
    made = Serials(key, set(serials))
    new = [made.replaced(each) for each in serials]
    shape = str.maketrans(
        "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789", "a" * 26 + "A" * 26 + "0" * 10
    )
    assert [each.translate(shape) for each in new] == [each.translate(shape) for each in serials]
    for one, other in combinations(range(len(serials)), 2):
        assert same_text(serials[one], serials[other]) == same_text(new[one], new[other])
        assert (serials[one] == serials[other]) == (new[one] == new[other])


@given(keys)
def test_there_is_a_serial_number_for_each(key: Key) -> None:
    """Ten of one digit: each of the ten digits is taken once."""
    made = Serials(key, set("0123456789"))
    assert {made.replaced(each) for each in "0123456789"} == set("0123456789")


@given(keys, st.lists(st.text(min_size=1, max_size=12), min_size=1, max_size=12, unique=True))
def test_names_stay_different_and_equal_without_regard_to_case(key: Key, names: list[str]) -> None:
    made = Names(key, lambda _: None)
    new = [made.replaced(each) for each in names]
    assert len(set(new)) == len(new)
    for one, other in combinations(range(len(names)), 2):
        alike = names[one].casefold().strip() == names[other].casefold().strip()
        assert alike == (new[one].casefold().strip() == new[other].casefold().strip())


def test_a_name_is_in_capitals_where_it_was() -> None:
    made = Names(KEY, lambda _: None)
    small, large, mixed = made.replaced("zorb-9", "host"), made.replaced("ZORB-9"), made.replaced("Zorb-9")
    assert re.fullmatch(r"host-[a-z]{8}", small)
    assert (large, mixed) == (small.upper(), small.capitalize())
    assert made.replaced("") == ""
    assert made.replaced(" zorb-9 ") == f" {small} "
