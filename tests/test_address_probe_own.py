"""Our own interfaces as netifaces gives them, and local or remote by our own mask against published tables."""

import asyncio
import re
import sys
from typing import Any

import netifaces
import pytest

from netcheck.collect import Recorder, collect_once
from netcheck.facts.link import OwnInterfaceRow, Route
from netcheck.probing import Target
from netcheck.roles import Role
from probes.address import PROBE, own
from probes.address.own import gateways_of, route, rows_of
from tests.conftest import published

OURS = "02:77:00:00:00:10"
ROWS = (
    OwnInterfaceRow("lo", "127.0.0.1", 8, ""),
    OwnInterfaceRow("eth0", "192.0.2.10", 24, OURS, up=True),
    OwnInterfaceRow("tun0", "198.51.100.2", 24, ""),
)


# --- our own interfaces


@pytest.mark.parametrize(
    ("family", "entry", "address", "prefix"),
    [
        (netifaces.AF_INET, {"addr": "192.0.2.10", "netmask": "255.255.255.0"}, "192.0.2.10", 24),
        (netifaces.AF_INET, {"addr": "192.0.2.10", "netmask": "255.255.255.254"}, "192.0.2.10", 31),
        (netifaces.AF_INET, {"addr": "192.0.2.10"}, "192.0.2.10", 32),
        (netifaces.AF_INET, {"addr": "192.0.2.10", "netmask": "255.255.0.255"}, "192.0.2.10", 32),  # IPV-90: no mask
        (netifaces.AF_INET, {"addr": "192.0.2.10", "netmask": "nonsense"}, "192.0.2.10", 32),
        (netifaces.AF_INET6, {"addr": "2001:db8::10", "netmask": "ffff:ffff:ffff:ffff::/64"}, "2001:db8::10", 64),
        (netifaces.AF_INET6, {"addr": "fe80::1%eth0", "netmask": "ffff:ffff:ffff:ffff::"}, "fe80::1", 64),
        (netifaces.AF_INET6, {"addr": "fe80::1%eth0", "netmask": "ffff:ffff:ffff:ffff::/999"}, "fe80::1", 128),
    ],
)
def test_an_address_with_its_mask(family: int, entry: dict[str, str], address: str, prefix: int) -> None:
    """The forms in which netifaces gives masks; contiguous ones only (RFC 4632 s5.1)."""
    (row,) = rows_of("nosuch0", {netifaces.AF_LINK: [{"addr": "02:77:00:00:00:1A"}], family: [entry]})
    assert row == OwnInterfaceRow("nosuch0", address, prefix, "02:77:00:00:00:1a", None)


@pytest.mark.parametrize("hardware", ["", "00:00:00:00:00:00", "192.0.2.1", "00:00:00:00:fe:80:00:00:00:00"])
def test_what_is_no_ethernet_address_is_none(hardware: str) -> None:
    rows = rows_of("nosuch0", {netifaces.AF_LINK: [{"addr": hardware}], netifaces.AF_INET: [{"addr": "192.0.2.10"}]})
    assert [row.mac for row in rows] == [""]


def test_gateways_of_both_families() -> None:
    said = {
        "default": {netifaces.AF_INET: ("192.0.2.1", "eth0")},
        netifaces.AF_INET: [("192.0.2.1", "eth0", True), ("198.51.100.1", "tun0", False)],
        netifaces.AF_INET6: [("fe80::1", "eth0", True)],
    }
    assert set(gateways_of(said)) == {("192.0.2.1", "eth0"), ("198.51.100.1", "tun0"), ("fe80::1", "eth0")}


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="Linux tells the state of a link in a file")
@pytest.mark.parametrize(("state", "up"), [("up", True), ("unknown", None), ("down", False), ("lowerlayerdown", False)])
def test_the_state_of_a_link(monkeypatch: pytest.MonkeyPatch, tmp_path: Any, state: str, up: bool | None) -> None:
    """RFC 2863 s3.1.13: of the seven states only "up" passes packets; "unknown": the driver does not tell."""
    (tmp_path / "eth9").mkdir()
    (tmp_path / "eth9" / "operstate").write_text(f"{state}\n")
    monkeypatch.setattr(own, "_LINK_STATES", tmp_path)
    (row,) = rows_of("eth9", {netifaces.AF_INET: [{"addr": "192.0.2.10"}]})
    assert row.up is up


# --- the way


@pytest.mark.parametrize("row", published("MSK-"))
def test_local_or_remote_by_our_own_mask(row: dict[str, str]) -> None:
    """RFC 1122 s3.3.1.1, from the published table: workstation and printer, each with its mask."""
    said = re.match(r"workstation (\S+)/(\d+), printer (\S+)/\d+", row["input"])
    wanted = re.search(r"workstation sees printer on-link=(True|False)", row["expected"])
    assert said is not None
    assert wanted is not None
    ours = OwnInterfaceRow("eth0", said[1], int(said[2]), OURS)
    assert route(said[3], said[1], [ours]).on_link is (wanted[1] == "True")


def test_an_interface_with_two_addresses_reaches_both_subnets() -> None:
    rows = [OwnInterfaceRow("eth0", "192.0.2.10", 24, OURS), OwnInterfaceRow("eth0", "198.51.100.5", 24, OURS)]
    assert route("198.51.100.9", "192.0.2.10", rows) == Route("198.51.100.9", "eth0", "192.0.2.10", on_link=True)


def test_another_interfaces_subnet_is_not_on_this_link() -> None:
    assert not route("198.51.100.9", "192.0.2.10", ROWS).on_link


def test_a_zone_names_the_link() -> None:
    """RFC 4007: a link-local address with its zone is on that link."""
    rows = [OwnInterfaceRow("eth0", "fe80::10", 64, OURS), OwnInterfaceRow("wlan0", "fe80::10", 64, OURS)]
    assert route("fe80::61%wlan0", "fe80::10", rows) == Route("fe80::61%wlan0", "wlan0", "fe80::10", on_link=True)


def test_no_way_is_said_as_such() -> None:
    assert route("10.9.9.9", "", ROWS) == Route("10.9.9.9", "", "", on_link=False)


def test_this_computer_is_on_loopback_at_least() -> None:
    """Through netifaces, and no more than that can be said of any machine."""
    recorder = Recorder()
    asyncio.run(collect_once([Target(Role.HERE, "")], [PROBE], recorder, 2))
    rows = next(item.value["rows"] for item in recorder.observations if item.kind == "own-interfaces")
    assert ("127.0.0.1", 8) in {(row["address"], row["prefix_length"]) for row in rows}
