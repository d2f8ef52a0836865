"""The simulated devices tell one story over SNMP and IPP, as pysnmp's client and pyipp hear it, whatever is wrong.

Expected values come from the standards named beside them, or from the work order of the invented site (serials,
addresses, versions).
"""

from __future__ import annotations

import asyncio
import re
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from typing import Any

import pytest
from pyasn1.type import univ
from pyipp import IPP
from pyipp.enums import IppOperation
from pysnmp.hlapi.v1arch import asyncio as snmp

from netcheck.rehearsal.background import running_site
from netcheck.rehearsal.device import Device
from netcheck.rehearsal.scenarios import NEW, OLD, SCENARIOS, Scenario
from netcheck.rehearsal.site import Site

PRT, HR, IP = "1.3.6.1.2.1.43", "1.3.6.1.2.1.25.3", "1.3.6.1.2.1.4"
NOBODY_HOME = {"new-unreachable", "snmp-silent"}  # scenarios whose new device gives no SNMP answer
Walk = dict[str, Any]


@pytest.fixture(scope="module")
def ready() -> Iterator[Site]:
    with running_site(SCENARIOS["ready"]) as site:
        yield site


def walk(port: int) -> Walk:
    """Everything that pysnmp's client gets by GETBULK: dotted name to int, bytes or dotted text."""

    async def collect() -> Walk:
        target = await snmp.UdpTransportTarget.create(("127.0.0.1", port), timeout=2, retries=0)
        rows: Walk = {}
        start = snmp.ObjectType(snmp.ObjectIdentity("1.3.6.1"))
        manager = snmp.CommunityData("public", mpModel=1)  # noqa: S508 - v2c is what is tested
        with closing(snmp.SnmpDispatcher()) as client:
            async for fault, status, _, found in snmp.bulk_walk_cmd(
                client, manager, target, 0, 25, start, lookupMib=False, lexicographicMode=True
            ):
                assert not fault, fault
                assert not status, status
                rows |= {str(name): _plain(value) for name, value in found}
        return rows

    return asyncio.run(collect())


def _plain(value: Any) -> int | bytes | str:
    if isinstance(value, snmp.IpAddress):
        return str(value.prettyPrint())
    if isinstance(value, snmp.OctetString):
        return bytes(value)
    return int(value) if isinstance(value, univ.Integer) else str(value)


def printer(port: int, *wanted: str, path: str = "/ipp/print") -> dict[str, list[Any]]:
    """Printer attributes as pyipp reads them, every value in a list."""

    async def ask() -> dict[str, Any]:
        async with IPP("127.0.0.1", port=port, base_path=path) as client:
            message = {"operation-attributes-tag": {"requested-attributes": list(wanted or ("all",))}}
            answer = await client.execute(IppOperation.GET_PRINTER_ATTRIBUTES, message)
        return dict(answer["printers"][0])

    return {name: value if isinstance(value, list) else [value] for name, value in asyncio.run(ask()).items()}


def rows_of(rows: Walk, entry: str) -> dict[str, dict[int, Any]]:
    """A table of the walk: index to its columns."""
    table: dict[str, dict[int, Any]] = {}
    for name, value in rows.items():
        if name.startswith(entry + "."):
            column, index = name[len(entry) + 1 :].split(".", 1)
            table.setdefault(index, {})[int(column)] = value
    return table


def pairs(value: str) -> dict[str, str]:
    """PWG 5100.13: `key=value;` pairs, each closed by a semicolon."""
    assert value.endswith(";")
    return dict(pair.split("=", 1) for pair in value[:-1].split(";"))


CASES = [(name, role) for name in SCENARIOS for role in ("old", "new") if role == "old" or name not in NOBODY_HOME]
WORN = replace(
    NEW,
    covers=tuple(replace(cover, open=True) for cover in NEW.covers),
    supplies=tuple(replace(supply, percent=4 * index) for index, supply in enumerate(NEW.supplies)),
)
ALERTS = {  # IANA-PRINTER-MIB, PrtAlertCodeTC
    "coverOpen": 3,
    "inputMediaSupplyEmpty": 808,
    "markerInkEmpty": 1102,
    "markerInkAlmostEmpty": 1105,
    "markerWasteInkReceptacleAlmostFull": 1108,
    "markerWasteInkReceptacleFull": 1110,
}
GROUPS = {"cover": f"{PRT}.6.1.1", "input": f"{PRT}.8.2.1", "markerSupplies": f"{PRT}.11.1.1"}  # the group's own table


@pytest.mark.parametrize(("scenario", "role"), CASES)
def test_snmp_and_ipp_agree(scenario: str, role: Any) -> None:
    path = getattr(SCENARIOS[scenario], role).ipp_path
    with running_site(SCENARIOS[scenario]) as site:
        check_agreement(walk(site.ports[role]["snmp"]), printer(site.ports[role]["ipp"], path=path))


def test_snmp_and_ipp_agree_on_a_worn_device() -> None:
    with running_site(Scenario("worn", "not-ready", "", new=WORN)) as site:
        rows, attributes = walk(site.ports["new"]["snmp"]), printer(site.ports["new"]["ipp"])
    check_agreement(rows, attributes)
    assert {row[7] for row in rows_of(rows, f"{PRT}.18.1.1").values()} == {3, 1102, 1105}
    # RFC 3805 s2.2.13.2: lowToner is bit 2, noToner 3, doorOpen 4, counted from the most significant.
    assert rows[f"{HR}.5.1.2.1"] == b"\x38\x00"


def check_agreement(rows: Walk, attributes: dict[str, list[Any]]) -> None:
    alerts = rows_of(rows, f"{PRT}.18.1.1")
    critical = any(row[2] == 3 for row in alerts.values())
    # RFC 3805 s2.2.13.2, its table: critical is down(5), other(1); non-critical warning(3), idle(3); else running(2).
    assert (rows[f"{HR}.2.1.5.1"], rows[f"{HR}.5.1.1.1"]) == ((5, 1) if critical else (3, 3) if alerts else (2, 3))
    # RFC 8011 s5.4.11 and s5.4.12: an -error means stopped(5); `none` stands alone.
    reasons = attributes["printer-state-reasons"]
    assert attributes["printer-state"] == [5 if critical else 3]
    assert any(reason.endswith("-error") for reason in reasons) is critical
    assert (reasons == ["none"]) is not bool(alerts)
    assert bool(alerts) is (rows[f"{HR}.5.1.2.1"] != b"\0\0")
    spoken = [pairs(alert) for alert in attributes.get("printer-alert", [])]
    assert [ALERTS[alert["code"]] for alert in spoken] == [row[7] for row in alerts.values()]
    for alert in spoken:  # every alert names a row that exists
        assert f"1.{alert['groupindex']}" in rows_of(rows, GROUPS[alert["group"]])
    check_supplies(rows, attributes)
    check_inputs(rows, attributes)
    assert rows[f"{PRT}.10.2.1.4.1.1"] == attributes["printer-impressions-completed"][0]
    assert f"SN:{rows[f'{PRT}.5.1.1.17.1'].decode()};" in attributes["printer-device-id"][0]
    assert rows[f"{HR}.2.1.3.1"].decode() == attributes["printer-make-and-model"][0]
    assert attributes["printer-firmware-string-version"][0] in rows["1.3.6.1.2.1.1.1.0"].decode()


def check_supplies(rows: Walk, attributes: dict[str, list[Any]]) -> None:
    table = rows_of(rows, f"{PRT}.11.1.1")
    for row, value in zip(table.values(), attributes["printer-supply"], strict=True):
        said = pairs(value)
        # PrtMarkerSuppliesClassTC and PrtMarkerSuppliesSupplyUnitTC, RFC 3805 s6
        assert row[4] == {"supplyThatIsConsumed": 3, "receptacleThatIsFilled": 4}[said["class"]]
        assert (row[7], said["unit"]) == (19, "percent")
        assert (row[8], row[9]) == (int(said["maxcapacity"]), int(said["level"]))
    assert [row[6].decode() for row in table.values()] == attributes["printer-supply-description"]


def check_inputs(rows: Walk, attributes: dict[str, list[Any]]) -> None:
    table = rows_of(rows, f"{PRT}.8.2.1")
    loaded = [row for row in table.values() if row[10] > 0]
    ready = attributes.get("media-col-ready", [])
    assert [row[12].decode() for row in loaded] == attributes.get("media-ready", [])
    for row, column in zip(loaded, ready, strict=True):
        assert row[5] == 10 * column["media-size"]["x-dimension"]  # micrometers(4) against 1/100 mm
        assert row[21].decode() == column["media-type"]
    for row in table.values():  # RFC 8011 s5.4.12 pairs media-empty with prtInputStatus 19
        assert (row[11] == 19) is (row[10] == 0)


def test_the_list_is_closed_and_its_exit_codes_are_the_promised_ones() -> None:
    expected = {"ready": 0, "odd-path": 0, "snmp-silent": 3} | dict.fromkeys(
        ("firmware-too-new", "wrong-mask", "old-holds-address", "out-of-media", "waste-full", "new-unreachable"), 1
    )
    assert {name: scenario.exit_code for name, scenario in SCENARIOS.items()} == expected
    assert all(scenario.meaning and "\t" not in scenario.meaning for scenario in SCENARIOS.values())


def test_ready_is_the_work_order(ready: Site) -> None:
    old, new = walk(ready.ports["old"]["snmp"]), walk(ready.ports["new"]["snmp"])
    assert (old[f"{PRT}.5.1.1.17.1"], new[f"{PRT}.5.1.1.17.1"]) == (b"CV24-008812", b"HX-77-0457")
    macs = [rows["1.3.6.1.2.1.2.2.1.6.2"].hex(":") for rows in (old, new)]
    assert macs == ["02:77:00:00:00:21", "02:77:00:00:00:22"]
    for rows, address in ((old, "192.0.2.21"), (new, "192.0.2.61")):
        assert rows[f"{IP}.20.1.1.{address}"] == address
        assert rows[f"{IP}.20.1.3.{address}"] == "255.255.255.0"
        # RFC 4293: the RowPointer ends in network and prefix length; origin manual(2)
        assert rows[f"{IP}.34.1.5.1.4.{address}"].endswith(".1.4.192.0.2.0.24")
        assert rows[f"{IP}.34.1.6.1.4.{address}"] == 2
        assert rows[f"{IP}.21.1.7.0.0.0.0"] == "192.0.2.1"
    said = printer(ready.ports["new"]["ipp"])
    assert said["printer-firmware-string-version"] == ["4.7.2"]
    assert said["printer-make-and-model"] == ["Halden 36R"]
    assert said["printer-state-reasons"] == ["none"]
    widths = [column["media-size"]["x-dimension"] for column in said["media-col-ready"]]
    assert 36 * 2540 in widths  # a 36 inch roll, in 1/100 mm
    assert all(int(pairs(supply)["level"]) > 30 for supply in said["printer-supply"])


FAULTS: dict[str, Walk] = {
    # what RFC 3805 (s6 and s2.2.13.2) and IANA-PRINTER-MIB call it, on the wire
    "out-of-media": {
        f"{PRT}.8.2.1.10.1.1": 0,  # prtInputCurrentLevel: empty
        f"{PRT}.8.2.1.11.1.1": 19,  # unavailable, broken(3) + critical alert(16)
        f"{PRT}.18.1.1.2.1.1": 3,  # critical
        f"{PRT}.18.1.1.4.1.1": 8,  # input
        f"{PRT}.18.1.1.5.1.1": 1,
        f"{PRT}.18.1.1.7.1.1": 808,  # inputMediaSupplyEmpty
        f"{HR}.5.1.2.1": b"\x40\x04",  # noPaper is bit 1, inputTrayEmpty bit 13
        f"{HR}.2.1.5.1": 5,
        f"{HR}.5.1.1.1": 1,
    },
    "waste-full": {
        f"{PRT}.11.1.1.4.1.5": 4,  # receptacleThatIsFilled
        f"{PRT}.11.1.1.5.1.5": 8,  # wasteInk
        f"{PRT}.11.1.1.9.1.5": 0,  # no room left: full
        f"{PRT}.18.1.1.2.1.1": 3,
        f"{PRT}.18.1.1.4.1.1": 11,  # markerSupplies
        f"{PRT}.18.1.1.7.1.1": 1110,  # markerWasteInkReceptacleFull
        f"{HR}.2.1.5.1": 5,
        f"{HR}.5.1.1.1": 1,
    },
    "wrong-mask": {
        f"{IP}.20.1.3.192.0.2.61": "255.255.255.128",
        f"{IP}.34.1.5.1.4.192.0.2.61": "1.3.6.1.2.1.4.32.1.5.2.1.4.192.0.2.0.25",
    },
    "old-holds-address": {f"{IP}.20.1.1.192.0.2.21": "192.0.2.21", f"{IP}.20.1.3.192.0.2.21": "255.255.255.0"},
}
REASONS = {"out-of-media": ["media-empty-error"], "waste-full": ["marker-waste-full-error"]}  # RFC 8011 s5.4.12


@pytest.mark.parametrize("scenario", FAULTS)
def test_faults(scenario: str) -> None:
    with running_site(SCENARIOS[scenario]) as site:
        rows, said = walk(site.ports["new"]["snmp"]), printer(site.ports["new"]["ipp"])
        old = walk(site.ports["old"]["snmp"])
    assert {name: rows.get(name) for name in FAULTS[scenario]} == FAULTS[scenario]
    assert said["printer-state-reasons"] == REASONS.get(scenario, ["none"])
    rolls = [column for column in said["media-col-ready"] if column["media-source"] == "main-roll"]
    assert bool(rolls) is (scenario != "out-of-media")
    assert f"{IP}.20.1.1.192.0.2.21" in old  # the old printer keeps its address in all of them


def test_firmware_too_new() -> None:
    with running_site(SCENARIOS["firmware-too-new"]) as site:
        assert printer(site.ports["new"]["ipp"])["printer-firmware-string-version"] == ["4.8.0"]


SIZE = re.compile(  # PWG 5101.1's grammar of names, as public conformance tests write it
    r"((na|asme|roc|oe|roll|custom)_[a-z0-9][-a-z0-9]*_(NxN)in|(iso|jis|jpn|prc|om|roll|custom)_[a-z0-9][-a-z0-9]*_(NxN)mm)".replace(
        "N", r"(?:[1-9][0-9]*(?:\.[0-9]*[1-9])?|0\.[0-9]*[1-9])"
    )
)


@pytest.mark.parametrize("device", [OLD, NEW], ids=["old", "new"])
def test_sizes_are_self_describing(device: Device) -> None:
    with running_site(Scenario("sizes", "ready", "", new=device)) as site:
        said = printer(site.ports["new"]["ipp"])
    names = [*said["media-supported"], *said["media-default"], *said["media-ready"]]
    assert [name for name in names if not SIZE.fullmatch(name)] == []
