"""`netcheck find` on this machine: the document, the page, the exit codes; and a simulated site, found on loopback."""

import asyncio
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import msgspec
import pytest

import netcheck.finding.document
import probes.dnssd.browsing
from netcheck.case import Attempt
from netcheck.commands import find
from netcheck.finding.document import SCHEMA, Found, Row, found
from netcheck.finding.merging import Device, merged
from netcheck.finding.sighting import Offered, Sighting, Way
from netcheck.probing import Probe, installed
from netcheck.rehearsal.background import running_site
from netcheck.rehearsal.scenarios import NEW, OLD, SCENARIOS
from netcheck.report.found import render_found
from netcheck.roles import Outcome, Role
from probes.dnssd import PROBE

from .conftest import NOW, attempt

HALDEN = Sighting(
    ways=(Way("dnssd", "Halden 36R._ipp._tcp.local"),),
    places=("192.0.2.61",),
    hosts=("plans-new.local",),
    addresses=("192.0.2.61",),
    names=("Halden 36R",),
    models=("Halden 36R",),
    offered=(Offered("ipp", 631, "ipp/print"),),
)
ANSWER = Sighting(
    ways=(Way("ipp", "printer-device-id"),), places=("192.0.2.61",), serials=("HX-77-0457",), answered=True
)


def document(*sightings: Sighting, own: frozenset[str] = frozenset(), attempts: tuple[Attempt, ...] = ()) -> Found:
    return found(NOW, merged(sightings), attempts, own)


def words(page: str) -> str:
    return " ".join(page.split())


# --- the document


def test_every_key_is_always_there_and_described() -> None:
    plain = json.loads(document(Sighting(ways=HALDEN.ways, offered=HALDEN.offered)).encode())
    assert set(plain) == set(Found.__struct_fields__)
    (row,) = plain["devices"]
    assert set(row) == set(Row.__struct_fields__)
    described = set(re.findall(r"\w+", (netcheck.finding.document.__doc__ or "").partition("Every key")[0]))
    assert {*plain, *row, *row["services"][0], *row["seen"][0]} <= described


def test_the_document_is_as_its_schema_says_and_has_no_floats() -> None:
    plain = json.loads(document(HALDEN, ANSWER, attempts=(attempt(Role.HERE, "dnssd", Outcome.ANSWERED),)).encode())
    jsonschema.validate(plain, msgspec.json.schema(Found))
    assert plain["schema"] == SCHEMA == "netcheck/found/1"

    def values(part: Any) -> Iterator[Any]:
        if isinstance(part, dict | list):
            for each in part.values() if isinstance(part, dict) else part:
                yield from values(each)
        yield part

    assert not any(isinstance(value, float) for value in values(plain))


def test_ways_and_answers() -> None:
    (heard,) = document(HALDEN).devices
    assert (heard.ways, heard.one_way, heard.answered) == (("dnssd",), True, False)
    (both,) = document(HALDEN, ANSWER).devices
    assert (both.ways, both.one_way, both.answered) == (("dnssd", "ipp"), False, True)


def test_only_what_prints_is_a_printer() -> None:
    web = msgspec.structs.replace(HALDEN, offered=(Offered("http", 80),))
    claim = msgspec.structs.replace(HALDEN, offered=())
    assert document(web).devices == document(claim).devices == ()


def test_a_queue_that_this_machine_shares_is_marked() -> None:
    assert [row.ours for row in document(HALDEN, own=frozenset({"192.0.2.61"})).devices] == [True]
    assert [row.ours for row in document(HALDEN, own=frozenset({"192.0.2.10", "127.0.0.1"})).devices] == [False]


# --- the page


@pytest.mark.parametrize(
    ("serials", "first"),
    [
        ((), "No printer can be seen from here."),
        (("HX-77-0457",), "1 printer can be seen from here."),
        (("HX-77-0457", "CV24-008812", "HX-77-0458"), "3 printers can be seen from here."),
    ],
)
def test_the_first_line_is_the_answer(serials: tuple[str, ...], first: str) -> None:
    seen = [Sighting(ways=HALDEN.ways, serials=(each,), hosts=(each,), offered=HALDEN.offered) for each in serials]
    assert render_found(document(*seen)).splitlines()[0] == first


def test_a_row_has_what_a_person_wants() -> None:
    (line,) = (line for line in render_found(document(HALDEN, ANSWER)).splitlines() if line.startswith("Halden 36R"))
    assert line.split() == ["Halden", "36R", "HX-77-0457", "192.0.2.61", "ipp", "DNS-SD,", "IPP"]


def test_what_was_seen_one_way_only_is_marked_and_explained() -> None:
    page = render_found(document(HALDEN))
    assert "DNS-SD only" in page
    assert "Halden 36R at 192.0.2.61 announces itself, but gave no answer of its own." in words(page)
    assert "only" not in render_found(document(HALDEN, ANSWER))


def test_a_device_that_tells_nothing_of_itself_is_a_row_all_the_same() -> None:
    page = render_found(document(Sighting(ways=HALDEN.ways, offered=HALDEN.offered)))
    assert [line.split() for line in page.splitlines() if line.startswith("(no name)")] == [
        ["(no", "name)", "-", "-", "ipp", "DNS-SD", "only"]
    ]


def test_why_nothing_was_heard_is_told() -> None:
    silent = attempt(Role.HERE, "dnssd", Outcome.SILENT, "no answer in 2.0 s")
    assert "no answer in 2.0 s" in words(render_found(document(attempts=(silent,))))


def test_a_name_that_two_use_is_told() -> None:
    other = msgspec.structs.replace(HALDEN, places=("192.0.2.62",), hosts=("other.local",), addresses=("192.0.2.62",))
    assert words(render_found(document(HALDEN, other))).count("is called 'Halden 36R', and so is another printer") == 2


HOSTILE = "Plans\x1b[2J\u202e" + "a very long name that somebody typed at the panel " * 4


def test_80_columns_whatever_a_device_calls_itself_and_nothing_left_out() -> None:
    long = msgspec.structs.replace(
        HALDEN,
        names=(HOSTILE,),
        models=("Halden 36R with stacker, scanner and the large basket",),
        addresses=("192.0.2.61", "198.51.100.161", "203.0.113.161"),
        serials=("HX-77-0457-0000-1111-2222-3333-4444-5555",),
    )
    page = render_found(document(long))
    assert all(len(line) <= 80 for line in page.splitlines())
    assert page.replace("\n", "").isprintable()
    assert "\x1b" not in page
    head, row = page.splitlines()[2:4]
    assert [row.index(each) for each in ("Halden", "HX-77", "192.0.2.61", "ipp", "DNS-SD")] == [
        head.index(each) for each in ("PRINTER", "SERIAL", "ADDRESS", "SERVICES", "SEEN BY")
    ]
    columns = "".join(page.split())
    for part in ("198.51.100.161", "203.0.113.161", "<U+001B>"):
        assert part in columns


# --- the command


@pytest.fixture
def with_dnssd(monkeypatch: pytest.MonkeyPatch) -> list[Probe[Any]]:
    """The DNS-SD probe whether or not this installation names it, kept on this machine."""
    named: list[Probe[Any]] = [*(probe for probe in installed() if probe.name != PROBE.name), PROBE]
    monkeypatch.setattr(find, "installed", lambda: iter(named))
    monkeypatch.setattr(probes.dnssd.browsing, "usable", lambda: (["127.0.0.1"], None))
    return named


def run_find(**options: Any) -> int:
    return find.run_find(
        **{"as_json": False, "save": None, "quiet": False, "no_color": True, "timeout": 10.0, **options}
    )


@pytest.mark.usefixtures("with_dnssd")
def test_a_simulated_site_is_found(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    with running_site(SCENARIOS["ready"]) as site:
        assert run_find(as_json=True, save=tmp_path / "found.json") == 0
        assert site.touched("old") == site.touched("new") == type(site.touched("old"))()
    plain = json.loads(capsys.readouterr().out)
    rows = {row["model"]: row for row in plain["devices"]}
    for device, ports in ((OLD, site.ports["old"]), (NEW, site.ports["new"])):
        row = rows[device.make_and_model]
        assert (row["serial"], f"urn:uuid:{row['uuid']}") == (device.serial, device.uuid)
        assert row["ways"] == ["dnssd", "ipp"]
        offered = {(each["service"], each["port"]) for each in row["services"]}
        assert {(service, ports[service]) for service in ("ipp", "raw", "lpd", "http")} <= offered
    assert json.loads((tmp_path / "found.json").read_text()) == plain


def test_a_device_that_is_off_is_not_found(with_dnssd: list[Probe[Any]]) -> None:
    with running_site(SCENARIOS["new-unreachable"]) as site:
        looking = find.Looking()
        asyncio.run(find.look(looking, with_dnssd, 10.0))
    ports = {each.port for device in looking.devices() for each in device.offered}
    assert site.ports["old"]["ipp"] in ports
    assert not ports & set(site.ports["new"].values())


def test_nothing_seen_is_3(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setattr(find, "installed", lambda: iter(()))
    assert run_find() == 3
    assert capsys.readouterr().out.startswith("No printer can be seen from here.\n")
    assert run_find(quiet=True) == 3
    assert capsys.readouterr().out == "No printer can be seen from here.\n"


def test_interrupted_shows_what_had_been_seen(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    async def interrupted(looking: find.Looking, *_: object) -> None:
        looking.here.attempts.append(attempt(Role.HERE, "dnssd", Outcome.SILENT, "interrupted before it had finished"))
        raise KeyboardInterrupt

    monkeypatch.setattr(find, "look", interrupted)
    assert run_find() == 130
    assert "interrupted before it had finished" in capsys.readouterr().out


def test_whoever_is_asked_is_asked_where_it_said_that_it_is() -> None:
    (device,) = merged([HALDEN])
    assert [(target.host, target.ports, target.path) for target in find._at("192.0.2.61", device)] == [
        ("192.0.2.61", {"ipp": 631, "snmp": 161}, "ipp/print")
    ]
    moved = msgspec.structs.replace(device, offered=(Offered("ipp", 8631, "ipp/plans"), Offered("ipps", 8632)))
    assert [(target.ports, target.path) for target in find._at("192.0.2.61", moved)] == [
        ({"ipp": 8631, "ipps": 8632, "snmp": 161}, "ipp/plans")
    ]
    # On loopback the usual ports are this machine's own.
    assert [target.ports for target in find._at("127.0.0.1", moved)] == [{"ipp": 8631, "ipps": 8632}]
    raw = msgspec.structs.replace(device, offered=(Offered("raw", 9100),))
    assert [target.ports for target in find._at("192.0.2.61", raw)] == [{"ipp": 631, "snmp": 161}]
    assert list(find._at("127.0.0.1", raw)) == []


@pytest.mark.parametrize("address", ["224.0.0.251", "255.255.255.255", "0.0.0.0", "ff02::fb"])
def test_an_address_that_no_device_can_have_is_not_asked(address: str) -> None:
    """RFC 1122 s3.2.1.3, RFC 4291 s2.5.2 and s2.7: what is announced is not thereby an address of one host."""
    (device,) = merged([msgspec.structs.replace(HALDEN, addresses=(address,))])
    assert find._targets([device]) == []


def test_somebody_who_makes_devices_up_is_not_asked_without_end() -> None:
    made_up: list[Device] = list(
        merged(
            Sighting(
                ways=HALDEN.ways,
                hosts=(f"p{number}.local",),
                addresses=(f"10.0.{number // 250}.{number % 250}",),
                offered=tuple(Offered("ipp", port) for port in range(600, 620)),
            )
            for number in range(600)
        )
    )
    assert len(made_up) == 600
    targets = find._targets(made_up)
    assert len(targets) == find.MOST
    assert len(list(find._at("10.0.0.1", made_up[0]))) == find.MOST_PORTS
