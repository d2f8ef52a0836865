"""Neighbour tables as systems show them: Linux's octets, recorded beside what iproute2 made of them; and printed ones.

Printed samples are invented, in the form that each system's manual documents; those marked so are from memory.
"""

import errno
import ipaddress
import struct
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.probing import Malformed
from probes.address import netlink, printed
from probes.address.netlink import Entry

RECORDED = bytes.fromhex(
    "4c0000001c000200010000005e190000020000000200000002000001080001000a4d00160a000200027700000022000008000400040000001400"
    "0300b8010000b8010000b801000001000000400000001c000200010000005e190000020000000200000020000001080001000a4d001f08000400"
    "060000001400030026190000b60100008200000000000000400000001c000200010000005e190000020000000200000001000001080001000a4d"
    "0020080004000500000014000300f01700008000000080000000010000004c0000001c000200010000005e190000020000000100000040000003"
    "08000100000000000a0002000000000000000000080004000000000014000300f21700008200000082000000000000004c0000001c0002000100"
    "00005e190000020000000200000080000001080001000a4d001e0a0002000277000000300000080004000000000014000300b7010000b7010000"
    "b701000000000000580000001c000200010000005e1900000a000000020000004000000514000100ff0200000000000000000000000000160a00"
    "020033330000001600000800040000000000140003002a190000ba010000ba01000000000000580000001c000200010000005e1900000a000000"
    "020000004000000514000100ff0200000000000000000001ff0000220a0002003333ff000022000008000400000000001400030027190000b701"
    "0000b701000000000000580000001c000200010000005e1900000a000000020000000200000114000100fe80000000000000007700fffe000022"
    "0a0002000277000000220000080004000400000014000300b7010000b7010000b701000001000000580000001c000200010000005e1900000a00"
    "0000020000004000000514000100ff0200000000000000000000000000020a000200333300000002000008000400000000001400030"
    "02a190000ba010000ba010000000000001400000003000200010000005e19000000000000"
)
"""One answer of Linux 6.18, x86-64, to a request for the whole table."""
IPROUTE_SAID = {
    "10.77.0.22": ("02:77:00:00:00:22", "REACHABLE"),
    "10.77.0.31": ("", "FAILED"),
    "10.77.0.32": ("", "INCOMPLETE"),
    "10.77.0.30": ("02:77:00:00:00:30", "PERMANENT"),
    "fe80::77:ff:fe00:22": ("02:77:00:00:00:22", "REACHABLE"),
}
"""What `ip neigh` of iproute2 6.1 printed at that moment; it leaves entries of multicast addresses out (NOARP)."""
NOT_FOUND = bytes.fromhex(
    "3800000002000000010000005e190000feffffff240000001e0001000100000000000000020000000200000000000000080001000a4d00c8"
)
"""What the same kernel answers about an address that is not in its table: -ENOENT."""
NAMES = {1: "lo", 2: "eth0"}
little_endian = pytest.mark.skipif(sys.byteorder != "little", reason="the recording is of a little-endian machine")


def parsed(data: bytes) -> tuple[list[Entry], bool]:
    return netlink.parse(data, lambda index: NAMES.get(index, ""))


@little_endian
def test_the_kernels_table_is_what_iproute_makes_of_it() -> None:
    entries, done = parsed(RECORDED)
    shown = {entry.address: (entry.mac, entry.state.upper()) for entry in entries if entry.state != "noarp"}
    assert shown == IPROUTE_SAID
    assert {entry.interface for entry in entries if entry.address in IPROUTE_SAID} == {"eth0"}
    assert done


@little_endian
def test_an_address_that_is_not_in_the_table_is_an_errno() -> None:
    with pytest.raises(OSError, match="kernel") as caught:
        parsed(NOT_FOUND)
    assert caught.value.errno == errno.ENOENT


@little_endian
def test_a_table_cut_short_is_malformed_or_says_that_it_has_no_end() -> None:
    for cut in range(1, len(RECORDED)):
        try:
            _, done = parsed(RECORDED[:cut])
        except Malformed:
            continue
        assert not done


@given(st.binary(max_size=200))
def test_garbage_raises_nothing_else(data: bytes) -> None:
    try:
        entries, _ = parsed(data)
    except (Malformed, OSError):
        return
    assert isinstance(entries, list)


@pytest.mark.parametrize("address", ["10.77.0.22", "fe80::77:ff:fe00:22"])
def test_a_question_for_one_entry_is_laid_out_as_the_kernel_wants_it(address: str) -> None:
    """Linux, include/uapi/linux: nlmsghdr, ndmsg, nlattr; RTM_GETNEIGH is 30, NLM_F_REQUEST 1, NDA_DST 1."""
    where = ipaddress.ip_address(address)
    asked = netlink.request(where, 7)
    length, kind, flags, _, _ = struct.unpack_from("=IHHII", asked)
    assert (length, kind, flags) == (len(asked), 30, 1)
    assert struct.unpack_from("=i", asked, 20) == (7,)
    assert asked[28:] == struct.pack("=HH", 4 + len(where.packed), 1) + where.packed


def test_proc_net_arp() -> None:
    """The form of proc(5): flag 0x2 is complete, 0x4 permanent, 0x8 published; without 0x2 there is no owner."""
    sample = (
        "IP address       HW type     Flags       HW address            Mask     Device\n"
        "192.0.2.21       0x1         0x2         02:77:00:00:00:21     *        eth0\n"
        "192.0.2.30       0x1         0x6         02:77:00:00:00:3A     *        eth0\n"
        "192.0.2.99       0x1         0x0         00:00:00:00:00:00     *        eth0\n"
        "192.0.2.98       0x1         0x0         02:77:00:00:00:98     *        wlan0\n"
        "192.0.2.250      0x1         0xc         00:00:00:00:00:00     *        eth0\n"
    )
    assert list(printed.proc_net_arp(sample)) == [
        Entry("192.0.2.21", "eth0", "02:77:00:00:00:21", ""),
        Entry("192.0.2.30", "eth0", "02:77:00:00:00:3a", ""),
        Entry("192.0.2.99", "eth0", "", ""),
        Entry("192.0.2.98", "wlan0", "", ""),
        Entry("192.0.2.250", "eth0", "", ""),
    ]


WINDOWS = """
Interface: 192.0.2.10 --- 0x7
  Internet Address      Physical Address      Type
  192.0.2.21            02-77-00-00-00-21     dynamic
  192.0.2.255           ff-ff-ff-ff-ff-ff     static
  224.0.0.251           01-00-5e-00-00-fb     static
"""
WINDOWS_IN_GERMAN = (
    WINDOWS.replace("Interface", "Schnittstelle")
    .replace("Internet Address      Physical Address      Type", "Internetadresse       Physische Adresse     Typ")
    .replace("dynamic", "dynamisch")
    .replace("static", "statisch")
)
MACOS = """? (192.0.2.1) at 2:77:0:0:0:1 on en0 ifscope [ethernet]
halden.example (192.0.2.22) at 2:77:0:0:0:22 on en0 ifscope [ethernet]
? (192.0.2.99) at (incomplete) on en0 ifscope [ethernet]
? (192.0.2.255) at ff:ff:ff:ff:ff:ff on en0 ifscope [ethernet]
"""


@pytest.mark.parametrize("sample", [WINDOWS, WINDOWS_IN_GERMAN])
def test_arp_of_windows_in_any_language(sample: str) -> None:
    """From memory. The heading names an address of our own, which is no neighbour; nor is the broadcast address."""
    found = list(printed.arp_command(sample))
    assert found[0] == Entry("192.0.2.21", "", "02:77:00:00:00:21", "")
    assert [entry.address for entry in found] == ["192.0.2.21", "224.0.0.251"]


def test_arp_of_macos_leaves_leading_zeros_out() -> None:
    """From memory."""
    assert list(printed.arp_command(MACOS)) == [
        Entry("192.0.2.1", "en0", "02:77:00:00:00:01", ""),
        Entry("192.0.2.22", "en0", "02:77:00:00:00:22", ""),
        Entry("192.0.2.99", "en0", "", "incomplete"),
    ]


@pytest.mark.parametrize(
    "line",
    [
        "",
        "No ARP Entries Found.",
        "? (999.0.2.1) at 2:77:0:0:0:1 on en0",
        "? (192.0.2.1) at 2:77:0:0:1 on en0",
        "? (192.0.2.1) at 2:77:0:0:0:1:7 on en0",
        "version 1.192.0.2.1 at 02:77:00:00:00:21",
    ],
)
def test_what_is_no_entry_is_none(line: str) -> None:
    assert list(printed.arp_command(line)) == []


@given(st.text(max_size=300))
def test_any_text_is_read_without_a_complaint(text: str) -> None:
    for entry in (*printed.arp_command(text), *printed.proc_net_arp(text)):
        ipaddress.IPv4Address(entry.address)
