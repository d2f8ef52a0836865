"""DNS-SD between real machines: Avahi and `ippeveprinter` announce, the probe listens at the workstation."""

import json
import subprocess
import sys
from typing import Final

import pytest

from .avahi import Avahi, service
from .devices import CORVID, HALDEN, Device
from .hearing import HERE, INSIDE, Target, hear, hear_until, listening
from .office import Office
from .printers import Printer
from .site import JACKS, Node, Site
from .visit import ROOT

OLD, NEW = JACKS["old"].address, JACKS["new"].address
UUID: Final = "6f1b6c1e-5d0a-5b7e-9a53-0b7c6e1d2f10"
NAME: Final = "Plans, wide — «A0»"
IPP: Final = service(
    "_ipp._tcp",
    8631,
    *("rp=ipp/plans", "ty=Halden 36R", "note=", "passreq", b"odd=\xff\x00", f"UUID={UUID}"),
    subtypes=("_print", "_universal"),
)
KEEP: Final = """
import socket
port = socket.socket(type=socket.SOCK_DGRAM)
port.bind(("", 5353))
print("kept", flush=True)
input()
"""


# --- what is seen


def test_a_service_is_seen_and_resolved(site: Site) -> None:
    raw, claim = service("_pdl-datastream._tcp", 9100, "ty=Halden 36R"), service("_printer._tcp", 0)
    with Avahi(site, "new", "plans-new", NAME, IPP, raw, claim):
        heard = hear(site)
    assert heard.names() == {f"{NAME}.{kind}.local" for kind in ("_ipp._tcp", "_pdl-datastream._tcp", "_printer._tcp")}
    ipp = heard[f"{NAME}._ipp._tcp.local"]
    assert (ipp["instance"], ipp["port"], ipp["hosts"]) == (NAME, 8631, ["plans-new.local"])
    assert ipp["addresses"][0] == NEW
    assert {entry["key"]: (entry["value"], entry["binary"]) for entry in ipp["txt"]} == {
        "rp": ("ipp/plans", ""),
        "ty": ("Halden 36R", ""),
        "note": ("", ""),
        "passreq": (None, ""),
        "odd": ("", "ff00"),
        "uuid": (UUID, ""),
    }
    assert set(ipp["subtypes"]) == {"_print._sub._ipp._tcp", "_universal._sub._ipp._tcp"}
    assert heard[f"{NAME}._printer._tcp.local"]["port"] == 0
    assert heard.missed == []


def test_a_target_gets_what_is_its_own_and_does_not_wait_for_more(site: Site) -> None:
    with Avahi(site, "new", "plans-new", NAME, IPP), Avahi(site, "old", "plans-old", "Old plans", IPP):
        heard = hear(site, ("new", NEW, {"ipp": 8631}))
        both = hear(site, ("new", NEW, {}), ("old", OLD, {}))
    assert heard.names("new") == {f"{NAME}._ipp._tcp.local"}
    assert heard.took_ms < 1000  # the answer comes within 240 ms (RFC 6762 s5.2, s6); the window is 2 s
    assert (both.names("new"), both.names("old")) == (heard.names("new"), {"Old plans._ipp._tcp.local"})


def test_an_ipp_printer_is_seen_with_the_name_that_it_only_claims(site: Site) -> None:
    """`ippeveprinter` registers _printer._tcp with port 0, as RFC 6763 s8 asks of a printer without LPD."""
    with Printer(site, "new", HALDEN, announced=True) as printer:
        printer.program.until_listening("tcp", 631)
        heard = hear_until(site, f"{HALDEN.name}._ipp._tcp.local")
    assert heard[f"{HALDEN.name}._ipp._tcp.local"]["port"] == 631
    assert heard[f"{HALDEN.name}._ipp._tcp.local"]["addresses"][0] == NEW
    assert heard[f"{HALDEN.name}._ipps._tcp.local"]["port"] == 631
    assert heard[f"{HALDEN.name}._printer._tcp.local"]["port"] == 0


def test_a_device_with_a_foreign_address_is_heard(site: Site) -> None:
    """MDN-12, RFC 6762 s11: what comes by multicast is on this link, whatever its source address."""
    site.configure("new", "172.16.5.5/24", gateway=None)
    with Avahi(site, "new", "plans-new", NAME, IPP):
        heard = hear(site)
    assert heard[f"{NAME}._ipp._tcp.local"]["addresses"][0] == "172.16.5.5"


# --- what has gone


def test_a_goodbye_is_honoured(site: Site) -> None:
    with Avahi(site, "new", "plans-new", NAME, IPP) as avahi, listening(site) as listener:
        before = listener.heard()
        avahi.program.end()  # SIGTERM: it takes leave (RFC 6762 s10.1)
        after = listener.again()
    assert before.names() == {f"{NAME}._ipp._tcp.local"}
    assert after.names() == set()


def test_what_was_announced_before_a_power_cut_is_not_alive(site: Site) -> None:
    with Avahi(site, "new", "plans-new", NAME, IPP) as avahi:
        before = hear(site)
        avahi.program.kill()
        after = hear(site)
    assert before.names() == {f"{NAME}._ipp._tcp.local"}
    assert after.names() == set()
    assert [(role, outcome) for role, outcome, _ in after.missed] == [("here", "silent")]


# --- one name for two


def test_a_device_that_gave_way_is_seen_under_its_other_name(site: Site) -> None:
    with Avahi(site, "old", "plans-old", "Plans", IPP), Avahi(site, "new", "plans-new", "Plans", IPP) as second:
        assert second.established != "Plans"
        heard = hear(site)
    assert heard.names() == {"Plans._ipp._tcp.local", f"{second.established}._ipp._tcp.local"}


def test_two_devices_that_claim_one_name_are_noticed(site: Site) -> None:
    claims: dict[Node, str] = {"old": "plans-old", "new": "plans-new"}
    for node, host in claims.items():
        command = (sys.executable, INSIDE / "rude.py", "Plans", host, JACKS[node].address, "631")
        site.start(node, "rude", *command).until_said("claimed")
    heard = hear(site, HERE, ("new", NEW, {}))
    here, new = (heard.facts[role, "Plans._ipp._tcp.local"] for role in ("here", "new"))
    assert sorted(here["hosts"]) == ["plans-new.local", "plans-old.local"]
    assert {place["name"]: place["addresses"] for place in here["places"]} == {
        "plans-new.local": [NEW],
        "plans-old.local": [OLD],
    }
    assert new["hosts"][0] == "plans-new.local"


# --- where it cannot be heard


def test_nobody_there_is_silence(site: Site) -> None:
    heard = hear(site)
    assert heard.missed == [("here", "silent", "no answer in 2.0 s")]
    assert heard.took_ms < 2000 + 150


def test_multicast_that_the_network_drops_is_silence(site: Site) -> None:
    with Avahi(site, "new", "plans-new", NAME, IPP):
        site.filter("workstation", "ip daddr 224.0.0.251 drop", "ip6 daddr ff02::fb drop")
        heard = hear(site)
    assert heard.missed == [("here", "silent", "no answer in 2.0 s")]


def test_a_link_that_is_down_is_told(site: Site) -> None:
    site.ip("workstation", "link set eth0 down")
    heard = hear(site, HERE, ("new", NEW, {}))
    reason = "multicast cannot be sent: Network is unreachable (ENETUNREACH)"
    assert sorted(heard.missed) == [("here", "unreachable", reason), ("new", "unreachable", reason)]


def test_a_host_without_a_default_route_hears_all_the_same(site: Site) -> None:
    """Without a named interface the system refuses with ENETUNREACH (errno 101) there."""
    assert "default" not in site.run("gateway", "ip", "route").stdout
    with Avahi(site, "new", "plans-new", NAME, IPP):
        assert hear(site, at="gateway").names() == {f"{NAME}._ipp._tcp.local"}


def test_a_link_without_ipv4_hears_all_the_same(site: Site) -> None:
    """RFC 6762 s20: IPv6 link-local addresses carry it as well."""
    for node in ("workstation", "new"):
        site.ip(node, "addr flush dev eth0 scope global")
    with Avahi(site, "new", "plans-new", NAME, IPP):
        heard = hear(site)
    assert heard[f"{NAME}._ipp._tcp.local"]["addresses"] == ["fe80::77:ff:fe00:22"]


def test_a_program_that_keeps_the_port_to_itself_is_told(site: Site) -> None:
    command = site.command("workstation", sys.executable, "-c", KEEP)
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as keeper:
        assert keeper.stdout
        assert keeper.stdout.readline() == "kept\n"
        heard = hear(site)
        keeper.communicate("\n", timeout=5)
    ((role, outcome, reason),) = heard.missed
    assert (role, outcome) == ("here", "failed")
    assert "another program keeps port 5353 to itself" in reason


@pytest.mark.parametrize(
    ("targets", "leaves"), [([HERE], True), ([("here", "127.0.0.1", {}), ("new", "127.0.0.1", {})], False)]
)
def test_what_is_asked_on_loopback_never_leaves_the_machine(site: Site, targets: list[Target], leaves: bool) -> None:
    command = site.command("gateway", sys.executable, INSIDE / "sniff.py", "eth0")
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as sniffer:
        assert sniffer.stdout
        assert sniffer.stdout.readline() == "listening\n"
        hear(site, *targets)
        seen, _ = sniffer.communicate("\n", timeout=5)
    assert (int(seen) > 0) is leaves


# --- the whole command


def find(site: Site, *options: str) -> subprocess.CompletedProcess[str]:
    return site.run("workstation", sys.executable, INSIDE / "find.py", *options, env={"PYTHONPATH": str(ROOT)})


def test_find_shows_one_row_a_device() -> None:
    with Office(announced=True) as office:
        hear_until(office.site, f"{HALDEN.name}._ipp._tcp.local")
        hear_until(office.site, f"{CORVID.name}._ipp._tcp.local")
        page, document = find(office.site), find(office.site, "--json")
        office.assert_no_byte_was_printed()
    assert (page.returncode, document.returncode) == (0, 0), page.stderr
    first, *lines = page.stdout.splitlines()
    assert first == "2 printers can be seen from here."
    assert all(len(line) <= 80 for line in lines)
    rows = {row["model"]: row for row in json.loads(document.stdout)["devices"]}
    assert set(rows) == {CORVID.name, HALDEN.name}
    places: dict[Node, Device] = {"old": CORVID, "new": HALDEN}
    for node, device in places.items():
        row = rows[device.name]
        assert row["serial"] == device.serial
        assert row["addresses"][0] == JACKS[node].address
        assert JACKS[node].mac in row["macs"]
        assert (row["answered"], row["one_way"], row["ours"], row["contested"]) == (True, False, False, [])
        assert {"dnssd", "ipp", "snmp"} <= set(row["ways"])
        assert any(device.serial in line and JACKS[node].address in line for line in lines)


def test_find_tells_what_announces_itself_and_does_not_answer(site: Site) -> None:
    """Seen by multicast, not reached by IP: a wrong address, or a filter."""
    site.configure("new", "172.16.5.5/24", gateway=None)
    with Avahi(site, "new", "plans-new", "Plans", IPP):
        page, document = find(site), find(site, "--json")
    (row,) = json.loads(document.stdout)["devices"]
    assert (row["answered"], row["one_way"], row["ways"]) == (False, True, ["dnssd"])
    assert "DNS-SD only" in page.stdout
    assert "announces itself, but gave no answer of its own" in " ".join(page.stdout.split())


def test_find_with_nobody_there_says_so_and_ends_with_3(site: Site) -> None:
    page = find(site)
    assert page.returncode == 3
    assert page.stdout.startswith("No printer can be seen from here.\n")
    assert "no answer in 2.0 s" in page.stdout
