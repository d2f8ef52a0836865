"""The simulated fleet: what each device says to clients that are not ours, and what a sweep makes of it.

Expected values come from the table of kinds, which states them in the words of whoever reads such a device; from the
standards named beside them; and from pysnmp, pyasn1 and pyipp, which read what the devices send.
"""

import asyncio
import csv
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from pyasn1.codec.ber import decoder, encoder
from pyasn1.error import PyAsn1Error
from pyipp import IPP
from pyipp.enums import IppOperation
from pysnmp.proto.api import v2c

from netcheck.probing import installed, provides
from netcheck.rehearsal.fleet import Expected, Held, NotHereError, held_fleet
from netcheck.rehearsal.fleet.kinds import KINDS, QUICKEST_S, SLOWEST_S, kind_of
from netcheck.rehearsal.fleet.members import MOST, member
from netcheck.rehearsal.fleet.ports import datagram_socket, listener
from netcheck.standard import load_standard
from netcheck.sweeping.asking import NOT_OF_A_SWEEP, swept_live
from netcheck.sweeping.fleet import load_fleet
from netcheck.sweeping.outcome import Row
from netcheck.wire import Wire

linux = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="a simulated fleet needs Linux")
DEVICES = 400  # all kinds are among the first so many
SERIAL, NAME = (
    "1.3.6.1.2.1.43.5.1.1.17.1",
    "1.3.6.1.2.1.1.5.0",
)  # prtGeneralSerialNumber.1, RFC 3805; sysName.0, RFC 3418
SILENT_S = 0.4
FIRST = {kind.name: next(each for each in range(MOST) if kind_of(each) is kind) for kind in KINDS}


@pytest.fixture(scope="module")
def fleet(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Held]:
    with held_fleet(DEVICES, tmp_path_factory.mktemp("fleet"), processes=2) as held:
        yield held


def rows(fleet: Held) -> list[dict[str, str]]:
    with fleet.fleet_csv.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def ports(fleet: Held, kind: str) -> tuple[str, dict[str, int]]:
    row = rows(fleet)[FIRST[kind]]
    return row["new"], {name: int(port) for name, port in (each.split("=") for each in row["ports"].split())}


# --- what the devices say


def snmp_request(number: int, *oids: str) -> bytes:
    """By pysnmp."""
    pdu, message = v2c.GetRequestPDU(), v2c.Message()
    v2c.apiPDU.set_defaults(pdu)
    v2c.apiPDU.set_request_id(pdu, number)
    v2c.apiPDU.set_varbinds(pdu, [(v2c.ObjectIdentifier(oid), v2c.Null("")) for oid in oids])
    v2c.apiMessage.set_defaults(message)
    v2c.apiMessage.set_community(message, "public")
    v2c.apiMessage.set_pdu(message, pdu)
    return bytes(encoder.encode(message))


def snmp_values(answer: bytes) -> tuple[int, list[bytes]]:
    message, _ = decoder.decode(answer, asn1Spec=v2c.Message())
    pdu = v2c.apiMessage.get_pdu(message)
    return int(v2c.apiPDU.get_request_id(pdu)), [bytes(value) for _, value in v2c.apiPDU.get_varbinds(pdu)]


def asked(address: str, port: int, *oids: str, wait_s: float = SILENT_S, most: int = 1) -> list[bytes]:
    """The datagrams that came back to one question."""
    answers: list[bytes] = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as client:
        client.settimeout(wait_s)
        client.connect((address, port))  # what comes from another address is not heard
        client.send(snmp_request(4242, *oids))
        with suppress(TimeoutError):
            while len(answers) < most:
                answers.append(client.recv(65_535))
    return answers


def printer(address: str, port: int) -> dict[str, Any]:
    async def ask() -> dict[str, Any]:
        async with IPP(address, port=port, base_path="/ipp/print") as client:
            message = {"operation-attributes-tag": {"requested-attributes": ["all"]}}
            answer = await client.execute(IppOperation.GET_PRINTER_ATTRIBUTES, message)
        return dict(answer["printers"][0])

    return asyncio.run(ask())


@linux
@pytest.mark.parametrize("number", [FIRST["ready"], 3, 8])
def test_each_device_has_its_own_face_in_both_protocols(fleet: Held, number: int) -> None:
    row = rows(fleet)[number]
    named = dict(each.split("=") for each in row["ports"].split())
    (answer,) = asked(row["new"], int(named["snmp"]), SERIAL)
    assert snmp_values(answer) == (4242, [row["serial"].encode()])
    said = printer(row["new"], int(named["ipp"]))
    assert f"SN:{row['serial']};" in said["printer-device-id"]
    assert row["new"] in said["printer-uri-supported"]


@linux
def test_uuids_differ(fleet: Held) -> None:
    found = {printer(row["new"], ports(fleet, "ready")[1]["ipp"])["printer-uuid"] for row in rows(fleet)[:2]}
    assert len(found) == 2


@linux
def test_two_serials(fleet: Held) -> None:
    address, named = ports(fleet, "two-serials")
    (answer,) = asked(address, named["snmp"], SERIAL)
    _, (by_snmp,) = snmp_values(answer)
    assert f"SN:{by_snmp.decode()};" not in printer(address, named["ipp"])["printer-device-id"]


@linux
def test_what_is_broken_is_no_message_for_others_either(fleet: Held) -> None:
    address, named = ports(fleet, "broken")
    (answer,) = asked(address, named["snmp"], SERIAL, NAME)
    with pytest.raises(PyAsn1Error):
        snmp_values(answer)


@linux
def test_a_flood_is_several_times_the_same(fleet: Held) -> None:
    address, named = ports(fleet, "flooding")
    answers = asked(address, named["snmp"], SERIAL, most=3)
    assert len(answers) == 3
    assert len(set(answers)) == 1
    with socket.create_connection((address, named["ipp"]), 2) as client:
        client.sendall(b"GET / HTTP/1.1\r\nHost: x\r\n\r\n")
        received = 0
        while received < 1 << 20:
            received += len(client.recv(65_536))


@linux
def test_a_slow_device_takes_its_time_and_answers(fleet: Held) -> None:
    address, named = ports(fleet, "slow")
    began = time.monotonic()
    assert len(asked(address, named["snmp"], SERIAL, wait_s=2)) == 1
    assert QUICKEST_S <= time.monotonic() - began < SLOWEST_S + 0.3
    began = time.monotonic()
    assert printer(address, named["ipp"])["printer-device-id"]
    assert time.monotonic() - began >= QUICKEST_S


@linux
@pytest.mark.parametrize("service", ["ipp", "raw", "lpd", "http"])
def test_silence_is_neither_an_answer_nor_a_refusal(fleet: Held, service: str) -> None:
    address, named = ports(fleet, "silent")
    with pytest.raises(TimeoutError):
        socket.create_connection((address, named[service]), SILENT_S)
    assert asked(address, named["snmp"], SERIAL) == []


@linux
def test_a_refusal_is_one(fleet: Held) -> None:
    address, named = ports(fleet, "off")
    for service in ("ipp", "raw", "lpd", "http"):
        with pytest.raises(ConnectionRefusedError):
            socket.create_connection((address, named[service]), 2)
    with pytest.raises(ConnectionRefusedError):  # RFC 1122 s4.1.3.3: an ICMP port unreachable is passed on
        asked(address, named["snmp"], SERIAL, wait_s=2)


@linux
def test_a_hanging_device_takes_connections_and_says_nothing(fleet: Held) -> None:
    address, named = ports(fleet, "hanging")
    with socket.create_connection((address, named["ipp"]), 2) as client:
        client.settimeout(SILENT_S)
        client.sendall(b"GET / HTTP/1.1\r\nHost: x\r\n\r\n")
        with pytest.raises(TimeoutError):
            client.recv(1)


@linux
def test_nothing_is_taken_that_does_not_come_over_loopback() -> None:
    so_bindtodevice = 25  # asm-generic/socket.h
    for opened in (listener(0), datagram_socket(0)):
        with opened:
            assert opened.getsockopt(socket.SOL_SOCKET, so_bindtodevice, 16).rstrip(b"\0") == b"lo"


@linux
def test_it_ends_with_its_block(tmp_path: Path) -> None:
    with held_fleet(1, tmp_path) as held:
        port = held.answering.ports["ipp"]
        address = member(0).address
        socket.create_connection((address, port), 2).close()
    with pytest.raises(ConnectionRefusedError):
        socket.create_connection((address, port), 2)


@linux
def test_it_ends_with_whoever_started_it(tmp_path: Path) -> None:
    """Killed without a chance to say so (kill -9), its holder takes the devices along."""
    program = (
        "import os, signal, sys; from pathlib import Path; from netcheck.rehearsal.fleet import held_fleet\n"
        f"with held_fleet(1, Path({str(tmp_path)!r})) as held:\n"
        " print(held.answering.ports['ipp'], flush=True); os.kill(os.getpid(), signal.SIGKILL)"
    )
    ended = subprocess.run([sys.executable, "-c", program], stdout=subprocess.PIPE, timeout=20)
    port, deadline = int(ended.stdout), time.monotonic() + 5
    refused = False
    while not refused and time.monotonic() < deadline:
        try:
            socket.create_connection((member(0).address, port), 1).close()
            time.sleep(0.05)
        except ConnectionRefusedError:
            refused = True
    assert refused


@pytest.mark.parametrize("devices", [0, MOST + 1])
def test_a_number_of_devices_that_no_fleet_has(devices: int, tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="not 1 to 10000"), held_fleet(devices, tmp_path):
        pass


def test_elsewhere_it_says_why_not(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "platform", "darwin")
    with pytest.raises(NotHereError, match="needs Linux"), held_fleet(1, tmp_path):
        pass
    assert not list(tmp_path.iterdir())


# --- what a sweep makes of it


@linux
def test_the_list_is_one_that_a_sweep_reads(fleet: Held) -> None:
    read = load_fleet(fleet.fleet_csv)
    assert not read.complaints
    assert [row.key for row in read.rows] == list(fleet.expected)
    assert {Path(row.standard) for row in read.rows} == {fleet.standard}


@linux
def test_every_kind_comes_out_as_stated(fleet: Held) -> None:
    """One device of each kind, over one wire, as a sweep asks them; and nothing was done to any of them."""
    some = [list(fleet.expected)[number] for number in FIRST.values()]
    wanted = [row for row in load_fleet(fleet.fleet_csv).rows if row.key in some]
    fleet.answering.asked()
    faults = asyncio.run(_swept(wanted, fleet))
    assert not any(faults), "\n".join(filter(None, faults))
    touched = fleet.answering.asked()
    assert touched["pdus"] > 0
    assert (touched["raw_octets"], touched["snmp_sets"], touched["dropped"]) == (0, 0, 0)


async def _swept(wanted: list[Row], fleet: Held) -> list[str]:
    standard, told = load_standard(fleet.standard), provides()
    probes = [probe for probe in installed() if probe.name not in NOT_OF_A_SWEEP]
    async with Wire(sparing=True) as wire:
        swept = await asyncio.gather(*(swept_live(row, standard, probes, told, wire, 8.0) for row in wanted))
    return [fleet.expected[each.row.key].fault(each.state, (found.id for found in each.findings)) for each in swept]


def test_another_outcome_is_told() -> None:
    stated = Expected("out-of-media", "not-ready", ("media.loaded",))
    assert stated.fault("not-ready", ["media.loaded", "condition.alerts"]) == ""
    assert "for media.loaded, and it came out as not-ready, for condition.alerts" in stated.fault(
        "not-ready", ["condition.alerts"]
    )
    assert "came out as ready" in stated.fault("ready", [])
    assert "came out as nothing" in stated.fault(None, [])
