"""The page of one device: what several sources tell is shown once, and what they tell differently is shown with both
values and who says which. Cases are built by hand; units and levels mean what RFC 3805 says."""

import pytest

from netcheck.case import Case
from netcheck.facts import Fact
from netcheck.facts.channels import Console
from netcheck.facts.condition import AlertRow, Alerts, CoverRow, Covers, HostPrinter, PrinterState
from netcheck.facts.deviceid import parse_device_id
from netcheck.facts.identity import (
    DeviceId,
    Firmware,
    HostUptime,
    MarkerRow,
    Markers,
    Model,
    PrinterNames,
    Serial,
    System,
    Uuid,
)
from netcheck.facts.link import Advertisement, Neighbour, TxtEntry
from netcheck.facts.network import Addresses, AddressRow, InterfaceRow, Interfaces
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.move import DeviceRef, Move
from netcheck.probing import provides
from netcheck.report.device import render_device
from netcheck.roles import Outcome, Role
from netcheck.standard import Standard
from tests.conftest import attempt, make_case

DEVICE = Move(device=DeviceRef("192.0.2.61"))
Told = tuple[str, str, Fact]


def case_of(*told: Told, silent: str = "") -> Case:
    attempts = [attempt(Role.DEVICE, probe, Outcome.ANSWERED) for probe in dict.fromkeys(probe for probe, _, _ in told)]
    attempts += [attempt(Role.DEVICE, silent, Outcome.SILENT, "no answer in 3.0 s")] if silent else []
    return make_case(((Role.DEVICE, *each) for each in told), DEVICE, attempts)


def page_of(*told: Told, silent: str = "") -> str:
    case = case_of(*told, silent=silent)
    text = render_device(case, judge(case, Standard(), Gate.STANDING, provides()), Gate.STANDING)
    assert max(map(len, text.splitlines())) <= 80
    return text


def entry(text: str, label: str) -> list[str]:
    """The words of one entry: its label's line and those that hang under it, each without the blanks around it."""
    lines = text.splitlines()
    start = next(at for at, line in enumerate(lines) if line.startswith(f"  {label}  "))
    found = [lines[start][2 + len(label) :].strip()]
    for line in lines[start + 1 :]:
        if not line.startswith("      "):
            break
        found.append(line.strip())
    return found


def device_id(text: str) -> DeviceId:
    return DeviceId(parse_device_id(text))


ID = "MFG:Halden;MDL:36R;CMD:PDF,TIFF;SN:{serial};"


# --- identity --------------------------------------------------------------------------------------------------------


def test_one_serial_number_told_three_times_is_shown_once() -> None:
    page = page_of(
        ("snmp", "prtGeneralSerialNumber.1", Serial("HX-77-0457")),
        ("snmp", "ppmPrinterIEEE1284DeviceId.1", Serial("HX-77-0457")),
        ("ipp", "printer-device-id", Serial("hx-77-0457 ")),
    )
    assert entry(page, "serial") == ["HX-77-0457 (SNMP, device ID)"]
    assert "disagree" not in page


def test_serial_numbers_that_differ_stand_with_their_tellers() -> None:
    page = page_of(
        ("snmp", "prtGeneralSerialNumber.1", Serial("HX-77-0457")),
        ("ipp", "printer-serial-number", Serial("HX-77-0457")),
        ("ipp", "printer-device-id", Serial("HX-77-0458")),
    )
    assert entry(page, "serial") == ["HX-77-0457 (SNMP, IPP)", "HX-77-0458 (device ID)  <- they disagree"]


def test_two_device_ids_that_differ_are_told_apart() -> None:
    page = page_of(
        ("snmp", "ppmPrinterIEEE1284DeviceId.1", Serial("HX-77-0457")),
        ("ipp", "printer-device-id", Serial("HX-77-0458")),
    )
    assert entry(page, "serial") == [
        "HX-77-0457 (device ID by SNMP)",
        "HX-77-0458 (device ID by IPP)  <- they disagree",
    ]


def test_a_model_with_and_without_its_maker_is_one() -> None:
    page = page_of(
        ("snmp", "hrDeviceDescr.1", Model("36R")),
        ("ipp", "printer-make-and-model", Model("Halden 36R")),
        ("ipp", "printer-device-id", device_id(ID)),
        ("dnssd", "x", Advertisement("Halden 36R", "_ipp._tcp", 631, (), (), (TxtEntry("ty", "HALDEN 36R"),))),
    )
    assert entry(page, "model") == ["Halden 36R (IPP, SNMP, device ID, DNS-SD)"]


def test_another_model_is_another() -> None:
    page = page_of(
        ("snmp", "hrDeviceDescr.1", Model("Corvid 24S")), ("ipp", "printer-make-and-model", Model("Halden 36R"))
    )
    assert entry(page, "model") == ["Halden 36R (IPP)", "Corvid 24S (SNMP)  <- they disagree"]


def system(description: str, name: str = "plans-new", location: str = "Harrow Lane") -> System:
    return System(description, "1.3.6.1.4.1.32473.1", name, location, 5_000)


def test_firmware_told_in_three_places() -> None:
    told: list[Told] = [
        ("ipp", "printer-firmware-string-version", Firmware("4.7.2")),
        ("ipp", "printer-device-id", device_id("MFG:Halden;MDL:36R;FWVER:4.7.2;")),
    ]
    same = page_of(*told, ("snmp", "system", system("Halden 36R; firmware 4.7.2; serial HX")))
    assert entry(same, "firmware") == ["4.7.2 (IPP, device ID, SNMP)"]
    other = page_of(*told, ("snmp", "system", system("Halden 36R, Firmware version: 4.8.0")))
    assert entry(other, "firmware") == ["4.7.2 (IPP, device ID)", "4.8.0 (SNMP)  <- they disagree"]


def test_names_and_places_are_not_repeated() -> None:
    page = page_of(
        ("ipp", "printer-make-and-model", Model("Halden 36R")),
        ("ipp", "printer-name", PrinterNames("plans-new", "Halden 36R", "harrow lane")),
        ("snmp", "system", system("Halden 36R")),
    )
    assert entry(page, "called") == ["plans-new (SNMP, IPP)"]
    assert entry(page, "location") == ["Harrow Lane (SNMP, IPP)"]
    assert page.count("Halden 36R") == 1


def test_uuids_are_compared_with_what_is_announced() -> None:
    uuid, other = "244c41f9-c5c6-517c-b763-fc5fa973b8c1", "57c9ddd9-fea2-5c01-a8d9-c15374eb7916"

    def page(announced: str) -> str:
        txt = (TxtEntry("UUID".lower(), announced),)
        return page_of(
            ("ipp", "printer-uuid", Uuid(uuid)), ("dnssd", "x", Advertisement("x", "_ipp._tcp", 631, (), (), txt))
        )

    assert entry(page(uuid.upper()), "UUID") == [f"{uuid} (IPP, DNS-SD)"]
    assert entry(page(other), "UUID") == [f"{uuid} (IPP)", f"{other} (DNS-SD)  <- they disagree"]


def test_the_devices_own_time_comes_before_its_agents() -> None:
    agent: Told = ("snmp", "system", system("x"))
    assert entry(page_of(agent), "running for") == ["50 s (SNMP agent)"]
    host: Told = ("snmp", "hrSystemUptime.0", HostUptime(54_000_00 + 1))
    assert entry(page_of(agent, host), "running for") == ["15 h (SNMP)"]


# --- addresses -------------------------------------------------------------------------------------------------------


def row(address: str, prefix: int | None, mask: str = "", origin: str = "") -> Addresses:
    return Addresses((AddressRow(address, prefix, mask, 2, origin, ""),), complete=True)


def test_one_address_in_two_tables_is_one() -> None:
    page = page_of(
        ("snmp", "ipAddressTable", row("192.0.2.61", 24, origin="dhcp")),
        ("snmp", "ipAddrTable", row("192.0.2.61", 24, "255.255.255.0")),
    )
    assert entry(page, "own") == ["192.0.2.61/24, by DHCP (SNMP)"]


def test_two_masks_for_one_address_are_flagged() -> None:
    page = page_of(
        ("snmp", "ipAddressTable", row("192.0.2.61", 24)), ("snmp", "ipAddrTable", row("192.0.2.61", 25, "x"))
    )
    assert entry(page, "own") == ["192.0.2.61/24 (SNMP)", "192.0.2.61/25 (SNMP)  <- two masks for one address"]


def test_who_answers_on_the_wire_is_told() -> None:
    page = page_of(
        ("snmp", "ifTable", Interfaces((InterfaceRow(2, "eth0", "", "02:77:00:00:00:22", "up", 10**9),), True)),
        ("address", "arp", Neighbour("192.0.2.61", ("02:77:00:00:00:99",), "arp", True)),
    )
    assert entry(page, "interface") == ["eth0, up, 02:77:00:00:00:22, 1,000 Mbit/s"]
    assert entry(page, "on the wire") == ["02:77:00:00:00:99 (ARP)"]


# --- state -----------------------------------------------------------------------------------------------------------


def test_a_state_that_both_tell_alike_is_shown_once() -> None:
    page = page_of(
        ("ipp", "printer-state", PrinterState("idle", (), True)),
        ("snmp", "hrPrinterTable.1", HostPrinter(1, "running", "idle", ())),
    )
    assert entry(page, "state") == ["idle (IPP, SNMP); accepts jobs"]


def test_states_that_contradict_each_other_are_flagged() -> None:
    """RFC 3805 s2.2.13.2: down with an error of the device is no idle printer."""
    page = page_of(
        ("ipp", "printer-state", PrinterState("idle", (), True)),
        ("snmp", "hrPrinterTable.1", HostPrinter(1, "down", "other", ("jammed",))),
    )
    assert " ".join(entry(page, "state")).startswith("idle (IPP); stopped by a critical alert (SNMP)  <- they disagree")
    assert entry(page, "because") == ["jammed (SNMP)"]


def alert(code: str, description: str, index: int = 1) -> AlertRow:
    return AlertRow(index, "critical", "untrained", "input", 1, None, code, description, None)


def test_one_alert_told_twice_is_one() -> None:
    page = page_of(
        ("snmp", "prtAlertTable.1", Alerts((alert("inputMediaSupplyEmpty", "Roll 1 is empty", 4),), True)),
        ("ipp", "printer-alert", Alerts((alert("inputMediaSupplyEmpty", "Roll 1 is empty"),), True)),
    )
    assert entry(page, "alert") == ["critical: Roll 1 is empty (inputMediaSupplyEmpty)"]


def test_what_is_to_be_done_about_several_alerts_stands_once() -> None:
    rows = tuple(alert("other", f"Trouble {at}", at) for at in range(1, 4))
    page = page_of(("snmp", "prtAlertTable.1", Alerts(rows, True)))
    assert [page.count(f"Alert: Trouble {at}") for at in (1, 2, 3)] == [1, 1, 1]
    assert page.count("netcheck explain condition.alerts") == 1


def test_an_alert_that_the_other_source_does_not_have_says_so() -> None:
    page = page_of(
        ("snmp", "prtAlertTable.1", Alerts((), True)),
        ("ipp", "printer-alert", Alerts((alert("jam", ""),), True)),
    )
    assert entry(page, "alert") == ["critical: jam, told by IPP only"]


def test_open_covers_come_by_name_and_closed_ones_by_number() -> None:
    rows = [CoverRow(1, "Front cover", "coverOpen"), CoverRow(2, "Ink door", "coverClosed")]
    assert entry(page_of(("snmp", "prtCoverTable.1", Covers(tuple(rows), True))), "covers") == [
        "Front cover open, 1 closed"
    ]


def test_the_panel_is_not_repeated_by_the_message() -> None:
    console: Told = ("snmp", "prtConsoleDisplayBufferTable.1", Console(("Ready",), (), True))
    same = page_of(console, ("ipp", "printer-state", PrinterState("idle", (), True, "Ready")))
    assert entry(same, "panel") == ["Ready (SNMP, IPP)"]
    other = page_of(console, ("ipp", "printer-state", PrinterState("idle", (), True, "Warming up")))
    assert entry(other, "panel") == ["Ready (SNMP)", "Warming up (IPP)"]


@pytest.mark.parametrize(
    ("unit", "count", "words"),
    [
        ("impressions", 48_213, "48,213 impressions"),
        ("impressions", 1, "1 impression"),
        ("feet", 1, "1 foot"),
        ("meters", 310, "310 m"),
        ("hours", 12, "12 hours"),
    ],
)
def test_a_meter_has_its_unit(unit: str, count: int, words: str) -> None:
    page = page_of(("snmp", "prtMarkerTable.1", Markers((MarkerRow(1, "", unit, count, None),), True)))
    assert entry(page, "life count") == [words]
