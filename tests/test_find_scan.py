"""`netcheck find --scan`: what may be named and whom that asks, the pace, what is made of who answers, and the page.

What leaves the machine is looked at in tests/real/test_find_scan.py, in a network of its own.
"""

import asyncio
import errno
import json
import time
from collections.abc import AsyncGenerator, Iterable

import pytest

from netcheck.case import Attempt, observation
from netcheck.cli import _guarded
from netcheck.commands import find, scanning
from netcheck.facts import Fact
from netcheck.facts.condition import HostPrinter
from netcheck.facts.link import OwnInterfaceRow
from netcheck.facts.network import IppService, SnmpAgent
from netcheck.finding.document import Found, found
from netcheck.finding.merging import merged
from netcheck.finding.network import addresses_of, never_asked, parse_network
from netcheck.finding.sighting import Offered, Sighting, Way, answered, scanned
from netcheck.probing import Answer, Deadline, Miss, Target
from netcheck.report.found import render_found
from netcheck.roles import Outcome, Role
from netcheck.secret import Secret
from netcheck.wire import Wire

from .conftest import NOW, attempt

PLACE = "192.0.2.61"


# --- which networks


@pytest.mark.parametrize(
    ("text", "number", "first", "last"),
    [
        # RFC 1122 s3.2.1.3: neither all zeros nor all ones is a host.
        ("192.0.2.0/24", 254, "192.0.2.1", "192.0.2.254"),
        ("10.77.0.0/22", 1022, "10.77.0.1", "10.77.3.254"),
        ("192.0.2.16/30", 2, "192.0.2.17", "192.0.2.18"),
        # RFC 3021 s2.1: on a 31-bit prefix both are hosts.
        ("192.0.2.16/31", 2, "192.0.2.16", "192.0.2.17"),
        ("192.0.2.16/32", 1, "192.0.2.16", "192.0.2.16"),
        ("127.0.0.0/30", 2, "127.0.0.1", "127.0.0.2"),
    ],
)
def test_whom_a_network_asks(text: str, number: int, first: str, last: str) -> None:
    addresses = addresses_of(parse_network(text))
    assert (len(addresses), addresses[0], addresses[-1]) == (number, first, last)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("10.77.0.0/21", "found 10.77.0.0/21, which has 2,048 addresses; wanted at most 1,024, as 10.77.0.0/22"),
        ("10.0.0.0/8", "which has 16,777,216 addresses"),
        ("127.0.0.0/8", "wanted at most 1,024, as 127.0.0.0/22"),
        ("192.0.2.61/24", "wanted 192.0.2.0/24 for the whole network, or 192.0.2.61/32 for this one address"),
        ("192.0.2.0", "wanted 192.0.2.0/32 for this one address, or a network as 192.0.2.0/24"),
        ("2001:db8::/120", "which is IPv6"),
        ("224.0.0.0/24", "where no single device can be"),
        ("240.0.0.0/24", "where no single device can be"),
        ("0.0.0.0/0", "where no single device can be"),
        ("255.255.255.0/24", "where no single device can be"),
        ("192.0.2.0/33", "found '192.0.2.0/33'"),
        ("192.0.2.0/-1", "found '192.0.2.0/-1'"),
        ("192.0.2.0/\u0662\u0664", "as 192.0.2.0/24"),
        ("192.0.2.0/255.255.255.0", "as 192.0.2.0/24"),
        ("printers.example/24", "as 192.0.2.0/24"),
        ("", "found nothing"),
    ],
)
def test_what_cannot_be_scanned_is_refused_with_what_would_be_right(
    text: str, says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert _guarded(["find", "--scan", text]) == 2
    told = capsys.readouterr()
    assert says in told.err
    assert "--scan" in told.err
    assert told.out == ""
    assert "leave" not in told.err  # nothing was begun


def test_neither_we_nor_the_ends_of_our_own_links_are_asked() -> None:
    rows = [OwnInterfaceRow("eth0", "10.77.1.10", 24, ""), OwnInterfaceRow("ppp0", "10.77.2.5", 32, "")]
    rows += [OwnInterfaceRow("eth0", "fe80::1%eth0", 64, "")]
    asked = set(addresses_of(parse_network("10.77.0.0/22")))
    assert asked & never_asked(rows) == {"10.77.1.0", "10.77.1.10", "10.77.1.255", "10.77.2.5"}


# --- the pace, and how it ends


class Agents:
    """Stands for the SNMP probe: a reply for each address that has one, and then what must never be asked for."""

    name = "snmp"
    wave = 2
    needs_address = True
    services: tuple[str, ...] = ("snmp",)
    roles = frozenset({Role.DEVICE})
    provides = frozenset[type[Fact]]({SnmpAgent})

    def __init__(self, replies: dict[str, Outcome]) -> None:
        self.replies = replies
        self.asked: list[tuple[float, str]] = []
        self.went_on = False

    async def ask(self, target: Target, wire: Wire, deadline: Deadline) -> AsyncGenerator[Answer[str] | Miss, None]:
        self.asked.append((time.monotonic(), target.address))
        outcome = self.replies.get(target.address, Outcome.SILENT)
        if outcome is Outcome.ANSWERED:
            yield Answer(target.host, "v2c", time.monotonic())
        else:
            yield Miss(target.host, outcome, f"it was {outcome}", time.monotonic())
        self.went_on = True

    def read(self, payload: str) -> Iterable[tuple[str, Fact]]:
        yield "system", SnmpAgent(payload)


@pytest.fixture
def knocks(monkeypatch: pytest.MonkeyPatch) -> dict[tuple[str, int], int]:
    """What the ports of the network do; nothing is sent. Those that are not in it are silent."""
    does: dict[tuple[str, int], int] = {}

    async def knock(address: str, port: int, wire: Wire) -> int:
        await asyncio.sleep(0.01)
        return does.get((address, port), errno.ETIMEDOUT)

    monkeypatch.setattr(scanning, "_knock", knock)
    return does


def scan(network: str, agents: Agents, own: Iterable[str] = ()) -> tuple[scanning.Scan, list[scanning.Hit]]:
    parsed, met = parse_network(network), list[scanning.Hit]()
    it = scanning.Scan(parsed, Secret("public"), addresses_of(parsed))

    async def run() -> None:
        async with Wire() as wire:
            await it.run(frozenset(own), [agents], wire, met.append)

    asyncio.run(run())
    return it, met


def test_one_after_the_other_in_step_and_not_ourselves(knocks: dict[tuple[str, int], int]) -> None:
    agents = Agents({})
    it, met = scan("192.0.2.0/27", agents, own={"192.0.2.10"})
    assert [address for _, address in agents.asked] == [f"192.0.2.{n}" for n in range(1, 31) if n != 10]
    assert agents.asked[-1][0] - agents.asked[0][0] >= 27 / scanning.PER_S  # of 28 steps: the first may come late
    assert (it.progress, met) == ("29 of 29 addresses asked, 0 answered", [])
    told = it.attempt()
    assert (told.role, told.probe, told.outcome) == (Role.HERE, "scan", Outcome.SILENT)
    assert told.target == "192.0.2.0/27 udp/161, tcp/631, tcp/9100"
    assert not agents.went_on


def test_who_counts_as_there_and_who_can_say_what_it_is(knocks: dict[tuple[str, int], int]) -> None:
    knocks.update(
        {
            ("192.0.2.1", 631): 0,
            ("192.0.2.2", 9100): 0,
            ("192.0.2.3", 631): errno.ECONNREFUSED,  # a reset is the host's own word (RFC 9293 s3.5.2)
            ("192.0.2.4", 631): errno.EHOSTUNREACH,  # our system's or a router's: nobody's there
        }
    )
    agents = Agents({"192.0.2.5": Outcome.ANSWERED, "192.0.2.6": Outcome.DENIED, "192.0.2.7": Outcome.REFUSED})
    it, met = scan("192.0.2.0/28", agents)
    assert [hit.address for hit in it.hits] == [f"192.0.2.{n}" for n in (1, 2, 3, 5, 6, 7)]
    assert [hit.address for hit in met] == [f"192.0.2.{n}" for n in (1, 2, 5)]
    assert [each.target for each in it.denials] == ["192.0.2.6"]
    # Asked a second time: only the one that is alive and has told nothing.
    assert sorted(address for _, address in agents.asked).count("192.0.2.3") == 2
    assert len(agents.asked) == 14 + 1
    assert it.attempt().reason == "14 of 14 addresses asked, 6 answered"


def test_a_network_to_which_we_have_no_way_is_not_called_silent(knocks: dict[tuple[str, int], int]) -> None:
    knocks.update({(f"192.0.2.{n}", port): errno.ENETUNREACH for n in (1, 2) for port in (631, 9100)})
    told = scan("192.0.2.0/30", Agents({}))[0].attempt()
    assert told.outcome is Outcome.UNREACHABLE
    assert "our own system had no way for 4 connections (ENETUNREACH)" in told.reason


def test_a_probe_that_breaks_is_told_once_and_stops_nobody(knocks: dict[tuple[str, int], int]) -> None:
    class Breaks(Agents):
        async def ask(self, target: Target, wire: Wire, deadline: Deadline) -> AsyncGenerator[Answer[str] | Miss, None]:
            if target.address:
                raise ZeroDivisionError
            yield Miss("", Outcome.SILENT, "", 0.0)

    told = scan("192.0.2.0/30", Breaks({}))[0].attempt()
    assert told.outcome is Outcome.FAILED
    assert told.reason.startswith("2 of 2 addresses asked, 0 answered; netcheck's own fault: ZeroDivisionError")
    assert told.reason.endswith("(2 times)")


def test_ports_of_this_machine_are_told_apart() -> None:
    async def knock() -> tuple[int, int]:
        server = await asyncio.start_server(lambda *_: None, "127.0.0.1", 0)
        port = server.sockets[0].getsockname()[1]
        async with Wire() as wire:
            there = await scanning._knock("127.0.0.1", port, wire)
            server.close()
            await server.wait_closed()
            return there, await scanning._knock("127.0.0.1", port, wire)

    assert asyncio.run(knock()) == (0, errno.ECONNREFUSED)


# --- what is made of it


def told(*facts: Fact) -> Sighting:
    seen = answered(PLACE, PLACE, [observation(Role.DEVICE, "any", fact.kind, 0, "", fact) for fact in facts], 631)
    assert seen
    return seen


AGENT = SnmpAgent("v2c")
IPP = IppService("/ipp/print", ("2.0",), ("000b",), ())
PRINTER = HostPrinter(1, "running", "idle", ())


def document(*sightings: Sighting, attempts: tuple[Attempt, ...] = ()) -> Found:
    return found(NOW, merged(sightings), attempts, frozenset())


@pytest.mark.parametrize(
    ("ports", "facts", "services", "maybe"),
    [
        ({631}, [], None, None),  # a web server
        (set(), [AGENT], None, None),  # a router
        ({631}, [AGENT], None, None),
        ({9100}, [], [("raw", 9100, "")], True),
        ({9100}, [AGENT], [("raw", 9100, "")], True),
        ({9100}, [AGENT, PRINTER], [("raw", 9100, "")], False),
        ({9100, 631}, [IPP], [("ipp", 631, "ipp/print"), ("raw", 9100, "")], False),
        ({631}, [IPP], [("ipp", 631, "ipp/print")], False),
        (set(), [AGENT, PRINTER], [], False),
    ],
)
def test_who_is_a_printer(
    ports: set[int], facts: list[Fact], services: list[tuple[str, int, str]] | None, maybe: bool | None
) -> None:
    rows = document(scanned(PLACE, PLACE, ports), *([told(*facts)] if facts else [])).devices
    if services is None:
        assert rows == ()
        return
    (row,) = rows
    assert [(each.service, each.port, each.path) for each in row.services] == services
    assert (row.maybe, row.answered, row.ways[0]) == (maybe, True, "scan")


def test_heard_and_scanned_is_one_row() -> None:
    heard = Sighting(
        ways=(Way("dnssd", "Halden 36R._ipp._tcp.local"),),
        places=(PLACE,),
        addresses=(PLACE,),
        models=("Halden 36R",),
        offered=(Offered("ipp", 631, "ipp/print"), Offered("raw", 9100, "auto")),
    )
    (row,) = document(heard, scanned(PLACE, PLACE, {631, 9100}), told(IPP)).devices
    assert row.ways == ("dnssd", "scan", "any")
    assert row.services == heard.offered
    assert (row.maybe, row.one_way) == (False, False)


@pytest.mark.parametrize(
    ("snmp", "ports"),
    [
        (Outcome.SILENT, {"ipp": 631, "snmp": 161}),  # with all patience now
        (Outcome.ANSWERED, {"ipp": 631, "snmp": 161}),
        (Outcome.REFUSED, {"ipp": 631}),
        (Outcome.DENIED, {"ipp": 631}),
    ],
)
def test_whoever_was_met_is_asked_where_it_answered(snmp: Outcome, ports: dict[str, int]) -> None:
    asked = find._asked(scanning.Hit(PLACE, {"ipp": 631, "raw": 9100}, snmp))
    assert (asked.target.ports, asked.ipp, asked.place) == (ports, 631, PLACE)


# --- the page


RAW_ONLY = scanned("192.0.2.70", "192.0.2.70", {9100})
WITH_IPP = (scanned(PLACE, PLACE, {631}), told(IPP))


@pytest.mark.parametrize(
    ("seen", "first"),
    [
        ((RAW_ONLY,), "No printer can be seen from here, and 1 more may be one."),
        (WITH_IPP, "1 printer can be seen from here."),
        ((RAW_ONLY, *WITH_IPP), "1 printer can be seen from here, and 1 more may be one."),
    ],
)
def test_what_may_be_a_printer_is_not_counted_as_one(seen: tuple[Sighting, ...], first: str) -> None:
    assert render_found(document(*seen)).splitlines()[0] == first


def test_what_the_scan_came_to_is_on_the_page() -> None:
    network = attempt(Role.HERE, "scan", Outcome.SILENT, "254 of 254 addresses asked, 0 answered")
    denied = attempt(Role.DEVICE, "snmp", Outcome.DENIED, "it answers SNMPv3 discovery")
    page = " ".join(render_found(document(attempts=(network, denied))).split())
    assert f"Scanned: {network.target}: 254 of 254 addresses asked, 0 answered." in page
    assert f"Needs profile: {denied.target}: it answers SNMPv3 discovery." in page
    assert "who neither announces itself nor lets us in" in page


def test_without_a_scan_nothing_of_it_is_said(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(find, "installed", lambda: iter(()))
    assert find.run_find(True, None, quiet=False, no_color=True, timeout=1.0) == 3
    told = capsys.readouterr()
    assert told.err == ""
    assert [each["probe"] for each in json.loads(told.out)["attempts"]] == []
