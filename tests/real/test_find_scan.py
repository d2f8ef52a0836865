"""`netcheck find --scan` in a network of its own: who is found and as what, and, by the frames that leave the
workstation, who was asked and how gently."""

import ipaddress
import json
import os
import pty
import re
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any, Final, NamedTuple, Self

import pytest

from netcheck.commands.scanning import PER_S

from .agents import Agent
from .devices import CORVID, HALDEN, Device
from .hearing import hear_until
from .printers import Printer
from .raw import RawPort
from .site import JACKS, Site
from .visit import ROOT

STAMPED: Final = Path(__file__).parent / "inside/stamped.py"
WHOLE: Final = "10.77.0.0/24"
PART: Final = ipaddress.IPv4Network("10.77.0.16/28")
"""Both printers' jacks and the stranger's; neither the gateway nor the workstation."""
OLD, NEW, STRANGER, GATEWAY = (JACKS[node].address for node in ("old", "new", "stranger", "gateway"))
ENV: Final = {"PYTHONPATH": str(ROOT), "NO_COLOR": "1"}


class Router(Agent):
    """An agent without a printer."""

    def _configuration(self, device: Device) -> str:
        lines = super()._configuration(device).splitlines(keepends=True)
        return "".join(line for line in lines if not line.startswith("pass_persist"))


def arguments(site: Site, *options: str) -> list[str]:
    return site.command("workstation", sys.executable, "-m", "netcheck", "find", *options)


def find(site: Site, *options: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        arguments(site, *options), env={**os.environ, **ENV}, capture_output=True, text=True, timeout=60
    )


def rows(found: subprocess.CompletedProcess[str]) -> dict[str, dict[str, Any]]:
    """By address."""
    return {row["addresses"][0]: row for row in json.loads(found.stdout)["devices"]}


def words(text: str) -> str:
    return " ".join(text.split())


# --- who is found


@pytest.fixture
def street(site: Site) -> Iterator[Site]:
    """A printer that announces itself, one that only SNMP can ask, one of which nothing but port 9100 is open, and a
    router with an agent and a web server at the printers' port."""
    with ExitStack() as stack:
        stack.enter_context(Printer(site, "old", CORVID, announced=True))
        stack.enter_context(Agent(site, "old", CORVID))
        stack.enter_context(Agent(site, "new", HALDEN))
        stack.enter_context(RawPort(site, "stranger"))
        stack.enter_context(Router(site, "gateway", CORVID))
        server = site.start("gateway", "web", sys.executable, "-m", "http.server", "631")
        server.until_listening("tcp", 631)
        hear_until(site, f"{CORVID.name}._ipp._tcp.local")
        yield site


def test_what_is_found_and_as_what(street: Site) -> None:
    began = time.monotonic()
    document = find(street, "--scan", WHOLE, "--json")
    took_s = time.monotonic() - began
    assert took_s < 12
    assert document.returncode == 0, document.stderr
    found = rows(document)
    assert set(found) == {OLD, NEW, STRANGER}  # the gateway answers in SNMP and on port 631, and is no printer
    old, new, stranger = found[OLD], found[NEW], found[STRANGER]
    assert (old["model"], old["serial"], old["maybe"]) == (CORVID.name, CORVID.serial, False)
    assert {"dnssd", "scan", "ipp", "snmp"} <= set(old["ways"])
    assert (new["model"], new["serial"], new["maybe"], new["services"]) == (HALDEN.name, HALDEN.serial, False, [])
    assert {"scan", "snmp"} <= set(new["ways"])
    assert not {"dnssd", "ipp"} & set(new["ways"])
    assert (stranger["model"], stranger["serial"], stranger["maybe"]) == ("", "", True)
    assert [(each["service"], each["port"]) for each in stranger["services"]] == [("raw", 9100)]
    (scan,) = (each for each in json.loads(document.stdout)["attempts"] if each["probe"] == "scan")
    assert scan["target"].startswith(f"{WHOLE} ")
    # 254 hosts (RFC 950 s2.1: not all zeros, not all ones), ourselves left out.
    assert scan["reason"] == "253 of 253 addresses asked, 4 answered"


def test_the_page(street: Site) -> None:
    page = find(street, "--scan", str(PART))
    assert page.stdout.startswith("2 printers can be seen from here, and 1 more may be one.\n")
    assert all(len(line) <= 80 for line in page.stdout.splitlines())
    text = words(page.stdout)
    assert f"Maybe: {STRANGER}: only its raw port is open, so maybe." in text
    assert f"Scanned: {PART} udp/161, tcp/631, tcp/9100: 14 of 14 addresses asked, 3 answered." in text
    assert "only with the leave of whoever runs this network" in page.stderr
    # Not a terminal: no progress.
    assert "\r" not in page.stderr
    assert len(page.stderr.splitlines()) == 2


def test_an_agent_that_ignores_our_community_is_told(site: Site) -> None:
    """It answers SNMPv3 discovery (RFC 3414 s4), whether or not anything else of the device does."""
    with (
        Printer(site, "old", CORVID),
        Agent(site, "old", CORVID, community="another"),
        Agent(site, "new", HALDEN, community="another"),
    ):
        page, document = find(site, "--scan", str(PART)), find(site, "--scan", str(PART), "--json")
    assert set(rows(document)) == {OLD}  # what the other one is, nobody knows
    text = words(page.stdout)
    for address in (OLD, NEW):
        assert f"Needs profile: {address} udp/161" in text
    assert text.count("it answers SNMPv3 discovery") == 2


# --- what leaves the workstation


class Frame(NamedTuple):
    """One frame by the layouts of RFC 826, RFC 791, RFC 9293 and RFC 768."""

    at_s: float
    kind: str
    to: str
    port: int = 0
    flags: int = 0
    data: int = 0

    @classmethod
    def read(cls, line: str) -> Self:
        stamp, octets = line.split()
        at_s, frame = float(stamp), bytes.fromhex(octets)
        ethertype, packet = frame[12:14], frame[14:]
        if ethertype == b"\x08\x06":
            return cls(at_s, "arp", str(ipaddress.IPv4Address(packet[24:28])))
        if ethertype != b"\x08\x00":
            return cls(at_s, "other", "")
        start, length = (packet[0] & 15) * 4, int.from_bytes(packet[2:4])
        to, rest = str(ipaddress.IPv4Address(packet[16:20])), packet[start:length]
        port = int.from_bytes(rest[2:4])
        match packet[9]:
            case 6:
                return cls(at_s, "tcp", to, port, rest[13], len(rest) - (rest[12] >> 4) * 4)
            case 17:
                return cls(at_s, "udp", to, port, 0, len(rest) - 8)
            case protocol:
                return cls(at_s, f"ip {protocol}", to)


SYN: Final = 0x02
MDNS: Final = "224.0.0.251"
IGMP: Final = "ip 2"


class Frames:
    """What left, once the block is over."""

    def __init__(self) -> None:
        self.all: list[Frame] = []

    def to(self, address: str) -> list[Frame]:
        return [frame for frame in self.all if frame.to == address]

    @property
    def unicast(self) -> list[Frame]:
        """Everything of IPv4 and ARP but multicast DNS and the group memberships that it needs (RFC 3376)."""
        quiet = ("other", IGMP)
        return [frame for frame in self.all if frame.kind not in quiet and (frame.to, frame.port) != (MDNS, 5353)]


@contextmanager
def leaving(site: Site) -> Iterator[Frames]:
    # Whatever the system says by itself at its start is over, and no neighbour is known from before.
    site.ip("workstation", "neigh flush all")
    sniffer = site.start("workstation", "stamped", sys.executable, STAMPED, "eth0")
    sniffer.until_said("listening")
    frames = Frames()
    yield frames
    sniffer.end()
    frames.all = [Frame.read(line) for line in sniffer.output.splitlines()[1:] if " " in line]


def test_only_the_network_that_was_named_is_asked(site: Site) -> None:
    with Agent(site, "gateway", CORVID), RawPort(site, "old") as raw, leaving(site) as frames:
        find(site, "--scan", str(PART))
    hosts = {str(address) for address in PART.hosts()}
    assert {frame.to for frame in frames.unicast} == hosts
    # Nobody is at most of them: they are looked for, and nothing can be sent to them.
    assert {frame.kind for frame in frames.unicast if frame.to not in (OLD, NEW, STRANGER)} == {"arp"}
    assert raw.received == b""
    assert len(raw.connections) == 1
    to_raw = [frame for frame in frames.to(OLD) if frame.port == 9100]
    assert {frame.kind for frame in to_raw} == {"tcp"}
    assert sum(frame.flags == SYN for frame in to_raw) == 1
    assert sum(frame.data for frame in to_raw) == 0


def test_who_is_silent_is_asked_once(site: Site) -> None:
    """One question, and a SYN for each port with its one repetition after a second (RFC 6298 s2.1)."""
    site.filter("stranger", "drop")
    with leaving(site) as frames:
        find(site, "--scan", str(PART))
    sent = Counter((frame.kind, frame.port) for frame in frames.to(STRANGER) if frame.kind != "arp")
    assert sent == {("udp", 161): 1, ("tcp", 631): 2, ("tcp", 9100): 2}


def test_the_pace_is_kept(site: Site) -> None:
    with leaving(site) as frames:
        find(site, "--scan", "10.77.0.0/25")
    first: dict[str, float] = {}
    for frame in frames.unicast:
        first.setdefault(frame.to, frame.at_s)
    assert len(first) == 125  # 126 hosts without ourselves
    times = sorted(first.values())
    assert max(sum(start <= each < start + 1 for each in times) for start in times) <= PER_S + 1
    # An address where nobody is costs its link an ARP request a second, three at the most (as the module says).
    asked = Counter(frame.to for frame in frames.unicast if frame.kind == "arp")
    assert max(number for address, number in asked.items() if address not in (OLD, NEW, STRANGER, GATEWAY)) <= 3


def test_without_a_scan_nothing_but_multicast_leaves(site: Site) -> None:
    with Agent(site, "old", CORVID), RawPort(site, "new"), leaving(site) as frames:
        assert find(site).returncode == 3
    assert frames.unicast == []
    assert any((frame.kind, frame.to, frame.port) == ("udp", MDNS, 5353) for frame in frames.all)


# --- meanwhile, and cut short


def test_a_terminal_shows_how_far_it_is_and_a_line_that_is_gone_afterwards(site: Site) -> None:
    ours, theirs = pty.openpty()
    command, pipe = arguments(site, "--scan", str(PART)), subprocess.PIPE
    with subprocess.Popen(command, env={**os.environ, **ENV}, stdout=pipe, stderr=theirs, text=True) as process:
        os.close(theirs)
        began, shown = time.monotonic(), b"".join(iter(lambda: read(ours), b""))
        took_s = time.monotonic() - began
        page, _ = process.communicate(timeout=10)
    os.close(ours)
    assert "\r" not in page
    progress = re.findall(rb"(\d+) of 14 addresses asked, (\d+) answered", shown)
    assert progress[0] == (b"0", b"0")
    # The last ones end within the tenth of a second in which nothing is drawn.
    assert 3 < int(progress[-1][0]) <= 14
    assert progress[-1][1] == b"3"
    assert len(progress) <= took_s * 10 + 1
    assert b"\x1b" not in shown
    *_, cleared, end = shown.split(b"\r")
    assert (cleared.strip(), end) == (b"", b"")


def read(terminal: int) -> bytes:
    try:
        return os.read(terminal, 4096)
    except OSError:
        return b""  # EIO: the other end is closed (pty(7))


def test_interrupted_it_keeps_what_was_found_and_says_how_far_it_got(street: Site) -> None:
    saved = street.folder / "found.json"
    command = arguments(street, "--scan", WHOLE, "--save", str(saved))
    pipe = subprocess.PIPE
    with subprocess.Popen(command, env={**os.environ, **ENV}, stdout=pipe, stderr=pipe, text=True) as process:
        time.sleep(5)
        # `ip netns exec` and the shells before it have become the command itself.
        process.send_signal(signal.SIGINT)
        page, complaints = process.communicate(timeout=10)
    assert process.returncode == 130
    far = re.search(r"interrupted after (\d+) of 253 addresses asked, 4 answered", complaints)
    assert far
    assert 30 < int(far[1]) < 253
    assert page.startswith("2 printers can be seen from here, and 1 more may be one.\n")
    assert f"interrupted: {far[1]} of 253 addresses asked" in words(page)
    assert {row["model"] for row in json.loads(saved.read_text())["devices"]} == {CORVID.name, HALDEN.name, ""}
