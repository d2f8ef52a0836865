"""Answers of whole devices that a plain reading loses or gets wrong, built anew with invented names and values.

Seen in the field; common practice, no source, unless a check names one.
"""

import pytest

from netcheck.facts import Measured, Unrestricted
from netcheck.facts.condition import Alerts, HostPrinter
from netcheck.facts.identity import DeviceId, Serial
from netcheck.facts.network import Addresses
from netcheck.probing import Answer
from probes.snmp import mib
from probes.snmp.message import Syntax
from probes.snmp.plan import Topic
from tests import snmp_device
from tests.snmp_agent import Agent, Rows, oid
from tests.snmp_asked import asked, by_source, reply_about
from tests.snmp_columns import Cells, facts, the_fact

PRINTER_TYPE = mib.HR_DEVICE_PRINTER
FAX_AND_PRINTER = {"hrDeviceType.1": PRINTER_TYPE, "hrDeviceType.2": PRINTER_TYPE}


def moved(rows: Rows, to: int) -> Rows:
    """The same device, the rows of its Printer MIB under another number: the arc behind table, entry and column."""
    base = oid(snmp_device.PRINTER)
    place = len(base) + 4
    return {
        (*name[:place], to, *name[place + 1 :]) if name[: len(base)] == base else name: value
        for name, value in rows.items()
    }


# --- which rows are the printer's


def test_a_printer_mib_under_another_number_is_the_one_printer_s() -> None:
    """RFC 3805 s2.2: its tables are indexed with hrDeviceIndex. Some agents have 1 there, and 0 here: nothing may be
    lost, and least of all may the empty places be taken for no alert and no open cover."""
    right, wrong = asked(Agent(snmp_device.rows())), asked(Agent(moved(snmp_device.rows(), 0)))
    expected = {
        f"{source.removesuffix('.1')}.0" if source.startswith("prt") else source: fact
        for source, fact in by_source(right).items()
    }
    assert by_source(wrong) == expected
    host = reply_about(wrong, "ppmPrinterTable")
    assert isinstance(host, Answer)
    assert host.note == "the printer has hrDeviceIndex 1, and its Printer MIB 0"


def test_of_two_printers_the_one_with_a_printer_mib_is_read() -> None:
    """A fax and a print queue are called printers too."""
    found = facts(Topic.HOST, FAX_AND_PRINTER | {"hrPrinterStatus.1": 1, "prtGeneralSerialNumber.2": "HX-77-0457"})
    assert found == [Serial("HX-77-0457")]
    alerts = {"prtAlertCode.2.3": 8, "prtGeneralSerialNumber.2": "HX-77-0457"}
    assert the_fact(Topic.ALERTS, FAX_AND_PRINTER | alerts).rows[0].index == 3


def test_another_printer_s_tables_are_not_taken_for_one_s_own() -> None:
    """Two printers, and rows under a third number: whose they are is not known."""
    cells = FAX_AND_PRINTER | {"prtGeneralSerialNumber.7": "HX-77-0457", "prtAlertCode.7.3": 8}
    assert facts(Topic.ALERTS, cells) == []


def test_some_tables_alone_may_stand_under_another_number() -> None:
    general = {"prtGeneralSerialNumber.1": "HX-77-0457"}
    assert the_fact(Topic.ALERTS, general | {"prtAlertCode.0.3": 8}).rows[0].code == "jam"
    assert facts(Topic.ALERTS, general) == [Alerts((), complete=True)]
    others = general | {"prtGeneralSerialNumber.2": "HX-77-0458", "prtAlertCode.2.3": 8}
    assert facts(Topic.ALERTS, others) == [Alerts((), complete=True)], "that is the alert of another Printer MIB"


@pytest.mark.parametrize("topic", [Topic.SUPPLIES, Topic.INPUTS])
def test_a_lone_table_is_somebody_s(topic: Topic) -> None:
    """No hrDeviceTable, no prtGeneralTable: the rows of the table itself say whose they are."""
    cells: Cells = {"prtMarkerSuppliesLevel.1.1": 5, "prtInputCurrentLevel.1.1": 5}
    name = {Topic.SUPPLIES: "prtMarkerSuppliesLevel.1.1", Topic.INPUTS: "prtInputCurrentLevel.1.1"}[topic]
    host = {"hrDeviceType.1": (0, 0)}
    assert the_fact(topic, host | {name: cells[name]}).rows[0].level == Measured(5)


def test_a_device_without_a_device_type_is_a_printer_by_its_status() -> None:
    (host,) = [fact for fact in facts(Topic.HOST, {"hrDeviceStatus.1": 2, "hrPrinterStatus.1": 3}) if fact]
    assert host == HostPrinter(1, "running", "idle", None)


@pytest.mark.parametrize(
    "octets",
    [
        b"MFG:Halden;MDL:36R;SN:HX-77;",
        b"MFG:Halden;MDL:36R;SN:HX-77;\r\n\0\0",
        b"\0\x1eMFG:Halden;MDL:36R;SN:HX-77;",
        b"\x01\x1eMFG:Halden;MDL:36R;SN:HX-77;",
        b"MFG:Halden\r\n;MDL: 36R ;SN:HX-77\r\n",
    ],
)
def test_a_device_id_is_read_with_whatever_stands_around_it(octets: bytes) -> None:
    """IEEE 1284: two octets of length lead on a cable, not in PWG 5107.1; blanks around keys and values are none."""
    cells: Cells = {"hrDeviceType.1": PRINTER_TYPE, "ppmPrinterIEEE1284DeviceId.1": octets}
    pairs = (("MFG", "Halden"), ("MDL", "36R"), ("SN", "HX-77"))
    assert facts(Topic.HOST, cells) == [DeviceId(pairs), Serial("HX-77")]


def test_a_device_id_without_a_maker_is_one() -> None:
    cells: Cells = {"hrDeviceType.1": PRINTER_TYPE, "ppmPrinterIEEE1284DeviceId.1": b"MDL:36R;CMD:PDF;"}
    assert facts(Topic.HOST, cells) == [DeviceId((("MDL", "36R"), ("CMD", "PDF")))]


# --- alerts, levels, languages


def test_places_of_alerts_are_never_negative() -> None:
    """RFC 3805 s6: -1 is "not applicable" in prtAlertGroupIndex, -2 "unknown" in prtAlertLocation; each is written in
    the other's place too."""
    cells = {"prtAlertCode.1.61": 808, "prtAlertGroupIndex.1.61": -2, "prtAlertLocation.1.61": -1}
    (row,) = the_fact(Topic.ALERTS, cells).rows
    assert (row.group_index, row.location) == (None, None)
    (row,) = the_fact(Topic.ALERTS, cells | {"prtAlertLocation.1.61": 35078, "prtAlertGroupIndex.1.61": 0}).rows
    assert (row.group_index, row.location) == (0, 35078)


def test_an_alert_at_the_beginning_of_time_in_a_type_of_its_own() -> None:
    cells = {"prtAlertCode.1.55": 23, "prtAlertTime.1.55": 0}
    (row,) = the_fact(Topic.ALERTS, cells).rows
    assert (row.code, row.at_centiseconds) == ("subunitPowerSaver", 0)


def test_a_roll_that_is_out_without_a_level() -> None:
    """RFC 3805 s2.4: a level of -1 sets no restriction. That nothing is there, only the status says: 17 is
    unavailable and on request, with a critical alert (PrtSubUnitStatusTC); 36.03 in are 915.2 mm."""
    cells = {
        "prtInputType.1.2": 6,
        "prtInputDimUnit.1.2": 3,
        "prtInputMediaDimXFeedDirChosen.1.2": 360_316,
        "prtInputCurrentLevel.1.2": -1,
        "prtInputStatus.1.2": 17,
    }
    (row,) = the_fact(Topic.INPUTS, cells).rows
    assert (row.level, row.cross) == (Unrestricted(), Measured(915_203))
    assert (row.status.availability, row.status.critical) == ("unavailable-on-request", True)


def test_the_set_of_a_language_that_was_not_read_is_that_of_the_others() -> None:
    """Of thirty languages, the first few are read; the current one may be another (RFC 3805 prtLocalizationTable)."""
    languages = {f"prtLocalizationCharacterSet.1.{number}": 2009 for number in (1, 2, 3)}
    text = {"prtInputDescription.1.1": "Rolle größer".encode("cp850")}
    cells = {"prtGeneralCurrentLocalization.1": 12} | languages | text
    assert the_fact(Topic.INPUTS, cells).rows[0].description == "Rolle größer"
    several = cells | {"prtLocalizationCharacterSet.1.3": 4}
    assert the_fact(Topic.INPUTS, several).rows[0].description == "Rolle größer".encode("cp850").decode("latin-1")


# --- the network


def test_a_speed_that_says_to_look_elsewhere_is_none() -> None:
    """RFC 2863 ifSpeed: at 4,294,967,295 ifHighSpeed holds it; an agent without one tells no speed."""
    cells: Cells = {"ifType.2": 6, "ifSpeed.2": (Syntax.GAUGE32, 2**32 - 1)}
    assert the_fact(Topic.INTERFACES, cells).rows[0].speed_bits is None
    assert the_fact(Topic.INTERFACES, cells | {"ifHighSpeed.2": 10_000}).rows[0].speed_bits == 10_000_000_000


def test_an_interface_without_an_address_has_none() -> None:
    """RFC 1122 s3.2.1.3: 0.0.0.0 is this host, and no address to reach it by."""
    mask = (Syntax.IP_ADDRESS, bytes((255, 255, 255, 0)))
    none = (Syntax.IP_ADDRESS, bytes(4))
    cells: Cells = {"ipAdEntNetMask.192.0.2.61": mask, "ipAdEntNetMask.0.0.0.0": none}
    cells |= {"ipAddressIfIndex.1.4.0.0.0.0": 3, "ipAddressIfIndex.1.4.192.0.2.61": 2}
    newer, older = facts(Topic.ADDRESSES, cells)
    assert [row.address for row in newer.rows] == [row.address for row in older.rows] == ["192.0.2.61"]
    only: Addresses = the_fact(Topic.ADDRESSES, {"ipAdEntNetMask.0.0.0.0": none})
    assert only == Addresses((), complete=True)
