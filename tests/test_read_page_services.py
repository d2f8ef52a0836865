"""The services on the page of one device, a row a port with all that is offered there; and what was not read."""

from netcheck.facts import Measured
from netcheck.facts.channels import ChannelRow, Channels, InterpreterRow, Interpreters
from netcheck.facts.condition import Alerts, CoverRow, Covers, PrinterState
from netcheck.facts.identity import (
    Model,
)
from netcheck.facts.link import Advertisement, Certificate, TxtEntry
from netcheck.facts.network import IppService, Service, SnmpAgent
from netcheck.facts.supplies import Supplies
from tests.test_read_page import ID, Told, alert, device_id, entry, page_of
from tests.test_read_page_supplies import supply


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
