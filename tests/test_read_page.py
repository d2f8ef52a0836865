"""The page of one device: what several sources tell is shown once, and what they tell differently is shown with both
values and who says which. Cases are built by hand; units and levels mean what RFC 3805 says."""

import pytest

from netcheck.case import Case
from netcheck.commands.telling import provides
from netcheck.facts import Amount, Fact, Measured, Some, Unknown, Unrestricted
from netcheck.facts.channels import ChannelRow, Channels, Console, InterpreterRow, Interpreters
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
from netcheck.facts.link import Advertisement, Certificate, Neighbour, TxtEntry
from netcheck.facts.network import Addresses, AddressRow, InterfaceRow, Interfaces, IppService, Service, SnmpAgent
from netcheck.facts.supplies import Supplies, Supply
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.move import DeviceRef, Move
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


# --- supplies --------------------------------------------------------------------------------------------------------


def supply(level: Amount, capacity: Amount, unit: str = "percent", name: str = "Cyan ink", **more: str) -> Supply:
    family = more.get("family", "supplyThatIsConsumed")
    return Supply(1, family, "inkCartridge", name, unit, capacity, level, more.get("colorant", "cyan"))


def told_supply(*rows: Supply) -> list[str]:
    sources = (("snmp", "prtMarkerSuppliesTable.1"), ("ipp", "printer-supply"))
    page = page_of(*((*source, Supplies((each,), True)) for source, each in zip(sources, rows, strict=False)))
    assert page.count(f"\n  {rows[0].description}  ") == 1
    return entry(page, rows[0].description)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        # RFC 3805 s6: -1 other, -2 unknown, -3 some; the units are those of PrtMarkerSuppliesSupplyUnitTC.
        (supply(Measured(88), Measured(100)), "[#################...]  88 %"),
        (
            supply(Measured(530), Measured(1300), "tenthsOfMilliliters"),
            "[########............]  40 %  53 of 130 ml left",
        ),
        (supply(Measured(7), Measured(28), "feet"), "[#####...............]  25 %  7 of 28 feet left"),
        (supply(Measured(0), Measured(100)), "[....................]   0 %  empty"),
        (supply(Measured(1), Measured(1000), "items"), "[....................]   0 %  1 of 1,000 items left"),
        (
            supply(Measured(120), Measured(100)),
            "[####################] 100 %  100 % left (told as 120 of 100 %: more than it holds)",
        ),
        (supply(Some(), Measured(100)), "some left, how much is not told"),
        (supply(Unknown(), Measured(100)), "not known"),
        (supply(Unrestricted(), Unrestricted()), "no limit"),
        (supply(Measured(40), Unknown(), "tenthsOfGrams"), "4 g left, what it holds is not known"),
        (supply(Measured(30), Unknown()), "[######..............]  30 %"),
        (supply(Measured(55), Measured(100), "other"), "[###########.........]  55 %"),
        (supply(Measured(6), Measured(12), "unknown"), "[##########..........]  50 %  6 of 12 (unit not told) left"),
    ],
)
def test_a_level_in_words(row: Supply, words: str) -> None:
    assert " ".join(told_supply(row)) == words


@pytest.mark.parametrize(
    ("level", "words"),
    [
        (Measured(97), "[###################.]  97 %  room left"),
        (Measured(0), "[....................]   0 %  no room left"),
        (Some(), "some room left, how much is not told"),
    ],
)
def test_a_receptacle_tells_its_room(level: Amount, words: str) -> None:
    """RFC 3805 s6 prtMarkerSuppliesLevel: of a receptacle it is the room that is left."""
    row = supply(level, Measured(100), name="Waste", family="receptacleThatIsFilled", colorant="")
    assert told_supply(row) == [words]


def test_a_supply_that_both_tell_has_one_bar() -> None:
    """Rounding apart: 41 of 45 is 91 %, and the other source rounds it up (common practice, no source)."""
    one, other = supply(Measured(41), Measured(45), "tenthsOfMilliliters"), supply(Measured(92), Measured(100))
    assert told_supply(one, other) == ["[##################..]  91 %  4.1 of 4.5 ml left"]


def test_a_level_that_is_told_differently_has_both_bars() -> None:
    assert told_supply(supply(Measured(88), Measured(100)), supply(Measured(20), Measured(100))) == [
        "[#################...]  88 %  (SNMP)",
        "[####................]  20 %  (IPP)  <- they disagree",
    ]


def test_who_knows_the_level_is_shown_and_who_does_not_is_no_contradiction() -> None:
    assert told_supply(supply(Unknown(), Unknown()), supply(Measured(20), Measured(100))) == [
        "[####................]  20 %"
    ]
    assert told_supply(supply(Some(), Unknown()), supply(Measured(20), Measured(100))) == [
        "[####................]  20 %"
    ]


def test_some_left_and_empty_contradict_each_other() -> None:
    assert len(told_supply(supply(Some(), Unknown()), supply(Measured(0), Measured(100)))) == 2


def test_supplies_are_joined_by_colour_where_names_and_numbers_differ() -> None:
    other = supply(Measured(88), Measured(100), name="C")
    page = page_of(
        ("snmp", "prtMarkerSuppliesTable.1", Supplies((supply(Measured(88), Measured(100)),), True)),
        (
            "ipp",
            "printer-supply",
            Supplies((Supply(4, other.family, "ink", "C", "percent", Measured(100), Measured(88), "Cyan"),), True),
        ),
    )
    assert page.count("[####") == 2  # ink and inkCartridge are two types: nothing says that they are one
    page = page_of(
        ("snmp", "prtMarkerSuppliesTable.1", Supplies((supply(Measured(88), Measured(100)),), True)),
        (
            "ipp",
            "printer-supply",
            Supplies((Supply(4, "", "", "C", "percent", Measured(100), Measured(88), "Cyan"),), True),
        ),
    )
    assert page.count("[####") == 1


# --- services --------------------------------------------------------------------------------------------------------


def service(name: str, port: int, state: str = "open") -> Told:
    return "ports", f"tcp/{port} {name}", Service(name, port, state, "", 3, ())


def channel(kind: str, port: int | None = None, queue: str = "", state: str = "printDataAccepted") -> ChannelRow:
    return ChannelRow(1, kind, state, port, queue, None, None)


def certificate(port: int, until: int = 1_798_761_600_000) -> Certificate:
    return Certificate(
        port, "TLSv1.3", "CN=x", "CN=x", (), 0, until, "id-ecPublicKey", 256, "00", True, 1, False, "self"
    )


def test_a_service_has_all_that_is_offered_there() -> None:
    rows = (channel("chLPDServer", queue="print"), channel("chBidirPortTCP", 9100), channel("chUSB"))
    page = page_of(
        service("ipp", 631),
        service("raw", 9100),
        service("lpd", 515),
        service("https", 443),
        service("http", 80, "refused"),
        ("ipp", "Get-Printer-Attributes", IppService("/ipp/print", ("1.1", "2.0"), (), ())),
        ("snmp", "system", SnmpAgent("v2c")),
        ("snmp", "prtChannelTable.1", Channels(rows, True)),
        ("tls", "tcp/443 certificate", certificate(443)),
        ("dnssd", "x", Advertisement("x", "_printer._tcp", 515, (), (), (TxtEntry("rp", "print"),))),
    )
    assert entry(page, "ipp") == ["631  open      IPP 1.1, 2.0 at /ipp/print"]
    assert entry(page, "raw") == ["9100  open"]
    assert entry(page, "lpd") == ["515  open      queue print, announced"]
    assert entry(page, "snmp") == ["161  answers   SNMPv2c"]
    assert " ".join(entry(page, "https")) == "443  open      TLSv1.3, certificate until 2027-01-01, signed by itself"
    assert entry(page, "http") == ["80  refused"]
    assert entry(page, "more") == ["by its own table: USB"]


def test_what_tables_and_announcements_tell_otherwise_is_shown() -> None:
    page = page_of(
        service("raw", 9100),
        ("snmp", "prtChannelTable.1", Channels((channel("chAppSocket", 9101, state="noDataAccepted"),), True)),
        ("dnssd", "x", Advertisement("x", "_pdl-datastream._tcp", 9102, (), (), ())),
    )
    raw, announced = [line for line in page.splitlines() if line.startswith("  raw ")]
    assert " ".join(entry(page, "raw")) == "9100  open      port 9101 by its own table, channel says noDataAccepted"
    assert announced.split("  ")[-2:] == ["9102", "not asked announced"]
    assert raw != announced


def test_two_services_at_one_port_are_one_row() -> None:
    page = page_of(service("ipp", 631), ("dnssd", "x", Advertisement("x", "_ipps._tcp", 631, (), (), ())))
    assert entry(page, "ipp") == ["631  open      announced as ipps"]
    assert "  ipps" not in page


def test_languages_are_named_once() -> None:
    rows = tuple(InterpreterRow(at, family, "", "", "") for at, family in enumerate(("langPDF", "langTIFF"), 1))
    table: Told = ("snmp", "prtInterpreterTable.1", Interpreters(rows, True))
    assert entry(page_of(table, ("ipp", "printer-device-id", device_id(ID))), "languages") == [
        "PDF, TIFF (SNMP, device ID)"
    ]
    more = device_id("CMD:PDF,HPGL;")
    assert entry(page_of(table, ("ipp", "printer-device-id", more)), "languages") == [
        "PDF (SNMP, device ID), TIFF (SNMP), HPGL (device ID)"
    ]


# --- what was not read -----------------------------------------------------------------------------------------------


def test_only_ipp() -> None:
    page = page_of(("ipp", "printer-state", PrinterState("idle", (), True)), silent="snmp")
    assert entry(page, "SNMP") == ["192.0.2.61: no answer in 3.0 s"]
    assert "serial number" in " ".join(entry(page, "not told"))
    assert " state" not in " ".join(entry(page, "not told"))


def test_only_ports() -> None:
    page = page_of(service("raw", 9100), silent="ipp")
    assert entry(page, "asked at") == ["192.0.2.61"]
    assert entry(page, "IPP") == ["192.0.2.61: no answer in 3.0 s"]
    assert entry(page, "not told") == ["anything: no printer has spoken to us there"]


def test_nothing_at_all() -> None:
    page = page_of()
    assert page.splitlines()[0].split("  ")[0] in {"NOT READY", "CANNOT TELL"}
    assert "\n\n\n" not in page


HOSTILE = "x\x1b[31m\u202e" + "w" * 900


def test_whatever_a_device_calls_itself_fits_the_page() -> None:
    hostile = supply(Measured(5), Measured(10), "\x1b" * 300, HOSTILE)
    page = page_of(
        ("snmp", "hrDeviceDescr.1", Model(HOSTILE)),
        ("snmp", "prtMarkerSuppliesTable.1", Supplies((hostile,), True)),
        ("ipp", "printer-supply", Supplies((hostile,) * 20_000, True)),
        ("tls", "tcp/443 certificate", certificate(443, 2**53 - 1)),
        ("snmp", "prtAlertTable.1", Alerts(tuple(alert("jam", HOSTILE, at) for at in range(300)), True)),
        ("snmp", "prtCoverTable.1", Covers((CoverRow(1, HOSTILE, HOSTILE),), True)),
        ("ports", "tcp/1", Service(HOSTILE, 1, HOSTILE, "", 1, ())),
    )
    assert "\x1b" not in page
    assert "\u202e" not in page
    assert "IPP tells 19936 more, which are not shown" in page
    assert len(page.splitlines()) < 4_000  # 64 supplies, 12 alerts, each as long as one may be
