"""Each counterpart is what it claims to be, by the word of programs that the project did not write."""

import re
import sys
from collections.abc import Mapping
from dataclasses import replace
from typing import Literal

import pytest

from .agents import Agent
from .clients import connect, ipp_attributes, snmp_get, snmp_walk
from .devices import CORVID, HALDEN, Device, cover_open, out_of_media, waste_full
from .mib import DEVICE, HOST, PRINTER, SUPPLIES, rows
from .office import QUEUE, Fault, Office
from .printers import Printer
from .programs import until
from .site import JACKS, Site

OLD, NEW = JACKS["old"].address, JACKS["new"].address

# From RFC 3805 section 6 (Printer MIB) and RFC 2790 (hrPrinterTable), written out in full.
SERIAL = f"1.3.6.1.2.1.43.5.1.1.17.{DEVICE}"
LIFE_COUNT = f"1.3.6.1.2.1.43.10.2.1.4.{DEVICE}.1"
ROLL_LEFT = f"1.3.6.1.2.1.43.8.2.1.10.{DEVICE}"
ROLL_TYPE = f"1.3.6.1.2.1.43.8.2.1.2.{DEVICE}"
COVER = f"1.3.6.1.2.1.43.6.1.1.3.{DEVICE}.1"
ALERT_CODES = "1.3.6.1.2.1.43.18.1.1.7"
MODEL = f"1.3.6.1.2.1.25.3.2.1.3.{DEVICE}"
STATUS = f"1.3.6.1.2.1.25.3.5.1.1.{DEVICE}"
ERRORS = f"1.3.6.1.2.1.25.3.5.1.2.{DEVICE}"


# --- IPP, asked by ipptool


def test_the_printers_describe_their_devices(office: Office) -> None:
    new, old = ipp_attributes(office.site, "new"), ipp_attributes(office.site, "old")
    assert new["printer-make-and-model"] == "Halden 36R"
    assert new["printer-device-id"] == "MFG:Halden;MDL:Halden 36R;CMD:PWGRaster,URF;SN:HX-77-0457;"
    assert new["printer-firmware-string-version"] == "4.7.2"
    assert (new["printer-state"], new["printer-state-reasons"]) == (3, "none")  # idle, RFC 8011 section 5.4.11
    assert old["printer-make-and-model"] == "Corvid 24S"
    assert old["printer-uuid"] != new["printer-uuid"]


def test_rolls_stand_ready_with_their_width_and_type(office: Office) -> None:
    ready = ipp_attributes(office.site, "new")["media-col-ready"]
    assert isinstance(ready, list)
    found = [(col["media-size"]["x-dimension"], col["media-source"], col["media-type"]) for col in ready]
    # 36 and 24 inches in hundredths of a millimetre
    assert found == [(91440, "main-roll", "stationery-coated"), (60960, "alternate-roll", "stationery")]


def test_ipps_is_the_same_printer(office: Office) -> None:
    plain, secure = (ipp_attributes(office.site, "new", scheme)["printer-uuid"] for scheme in ("ipp", "ipps"))
    assert plain == secure


@pytest.mark.parametrize(
    ("fault", "reason"),
    [(out_of_media, "media-empty"), (waste_full, "marker-waste-full"), (cover_open, "cover-open")],
)
def test_the_printer_gives_its_reasons_and_takes_them_back(office: Office, fault: Fault, reason: str) -> None:
    office.new.suffer(fault)
    assert ipp_attributes(office.site, "new")["printer-state-reasons"] == f"{reason}-report"
    office.new.become(HALDEN)
    assert ipp_attributes(office.site, "new")["printer-state-reasons"] == "none"


def test_without_media_nothing_is_ready(office: Office) -> None:
    office.new.suffer(out_of_media)
    found = ipp_attributes(office.site, "new")
    assert (found["media-ready"], found["media-col-ready"]) == ("<<no-value>>", "<<no-value>>")


def test_a_held_printer_is_connected_to_and_silent(office: Office) -> None:
    office.new.printer.program.pause()
    assert connect(office.site, NEW, 631) == ""
    with pytest.raises(ConnectionError):
        ipp_attributes(office.site, "new", wait=1)
    office.new.printer.program.resume()
    assert ipp_attributes(office.site, "new")["printer-state"] == 3


def test_a_printer_without_power_refuses(office: Office) -> None:
    office.new.end()
    for port in (631, 9100):
        assert "Connection refused" in connect(office.site, NEW, port)
    with pytest.raises(TimeoutError):
        snmp_get(office.site, "new", SERIAL)


def test_an_announced_printer_is_found_by_dns_sd(site: Site) -> None:
    """Source: python-zeroconf, an independent implementation of RFC 6762 and RFC 6763."""
    look = (
        "import sys, threading, zeroconf as z\n"
        "seen = threading.Event()\n"
        "def saw(**found):\n"
        "    print(found['name'], flush=True); seen.set()\n"
        "network = z.Zeroconf([sys.argv[1]])\n"
        "browser = z.ServiceBrowser(network, '_ipp._tcp.local.', handlers=[saw])\n"
        "seen.wait(10)\n"
    )
    with Printer(site, "new", HALDEN, announced=True):
        found = site.run("workstation", sys.executable, "-c", look, JACKS["workstation"].address)
    assert found.stdout == "Halden 36R._ipp._tcp.local.\n"


# --- SNMP, asked by net-snmp


def test_the_agents_describe_their_devices(office: Office) -> None:
    expected: Mapping[Literal["old", "new"], Device] = {"new": HALDEN, "old": CORVID}
    for node, device in expected.items():
        assert snmp_get(office.site, node, SERIAL) == f'"{device.serial}"'
        assert snmp_get(office.site, node, MODEL) == f'"{device.name}"'
        assert snmp_get(office.site, node, LIFE_COUNT) == str(device.life_count)
    assert snmp_get(office.site, "new", "1.3.6.1.2.1.1.1.0") == '"Halden 36R, firmware 4.7.2"'
    assert snmp_get(office.site, "new", STATUS) == "3"  # idle
    assert snmp_get(office.site, "new", ERRORS) == '"00 00 "'
    assert snmp_get(office.site, "new", f"{ROLL_TYPE}.1") == "6"  # continuousRoll
    assert snmp_get(office.site, "new", f"{ROLL_LEFT}.1") == "38"


@pytest.mark.parametrize("repetitions", [1, 10, 50])
def test_a_walk_gives_every_row_once_and_in_order(office: Office, repetitions: int) -> None:
    walked = [line.split()[0] for line in snmp_walk(office.site, "new", PRINTER, repetitions=repetitions)]
    assert walked == sorted(walked, key=lambda name: [int(part) for part in name.strip(".").split(".")])
    assert set(walked) == {f".{row.oid}" for row in rows(HALDEN) if row.oid.startswith(f"{PRINTER}.")}


def test_of_this_machine_only_the_printer_is_a_device(office: Office) -> None:
    """Without care net-snmp lists the machine's own processors, disks and packages."""
    walked = {line.split()[0] for line in snmp_walk(office.site, "new", "1.3.6.1.2.1.25")}
    assert walked == {".1.3.6.1.2.1.25.1.1.0", *(f".{row.oid}" for row in rows(HALDEN) if row.oid.startswith(HOST))}


def test_the_network_rows_are_those_of_the_interface(office: Office) -> None:
    """ipAdEntNetMask and ifPhysAddress (RFC 1213), against what iproute2 set."""
    assert snmp_get(office.site, "new", f"1.3.6.1.2.1.4.20.1.3.{NEW}") == "255.255.255.0"
    index = snmp_get(office.site, "new", f"1.3.6.1.2.1.4.20.1.2.{NEW}")
    assert snmp_get(office.site, "new", f"1.3.6.1.2.1.2.2.1.6.{index}") == '"02 77 00 00 00 22 "'
    assert snmp_get(office.site, "new", "1.3.6.1.2.1.4.21.1.7.0.0.0.0") == JACKS["gateway"].address


def test_a_wrong_mask_shows_in_the_rows(office: Office) -> None:
    office.site.configure("new", f"{NEW}/25")
    office.new.agent.restart()  # net-snmp keeps its interface table for a while
    assert snmp_get(office.site, "new", f"1.3.6.1.2.1.4.20.1.3.{NEW}") == "255.255.255.128"


def test_conditions_change_while_the_agent_runs(office: Office) -> None:
    before = office.new.agent.program.pid
    office.new.agent.become(waste_full(out_of_media(HALDEN)))
    # RFC 2790: noPaper is bit 1, serviceRequested bit 7, from the most significant.
    assert snmp_get(office.site, "new", ERRORS) == '"41 00 "'
    assert snmp_get(office.site, "new", STATUS) == "1"  # other
    assert [snmp_get(office.site, "new", f"{ROLL_LEFT}.{roll}") for roll in (1, 2)] == ["0", "0"]
    assert snmp_get(office.site, "new", f"{SUPPLIES}.9.{DEVICE}.5") == "0"  # no room in the receptacle
    codes = [line.split()[1] for line in snmp_walk(office.site, "new", ALERT_CODES)]
    assert codes == [
        "808",
        "808",
        "1110",
    ]  # inputMediaSupplyEmpty twice, markerWasteInkReceptacleFull (IANA-PRINTER-MIB)
    office.new.agent.become(cover_open(HALDEN))
    assert (snmp_get(office.site, "new", COVER), snmp_get(office.site, "new", ERRORS)) == ("3", '"08 00 "')
    assert office.new.agent.program.pid == before


def test_new_firmware_shows_in_the_system_description(office: Office) -> None:
    office.new.agent.become(replace(HALDEN, firmware="4.8.0"))
    assert snmp_get(office.site, "new", "1.3.6.1.2.1.1.1.0") == '"Halden 36R, firmware 4.8.0"'


def test_another_community_is_met_with_silence(site: Site) -> None:
    with Agent(site, "new", HALDEN, community="harrow"):
        assert snmp_get(site, "new", SERIAL, community="harrow") == '"HX-77-0457"'
        with pytest.raises(TimeoutError):
            snmp_get(site, "new", SERIAL)


def test_an_agent_of_version_1_only(site: Site) -> None:
    with Agent(site, "new", HALDEN, versions=("v1",)):
        assert snmp_get(site, "new", SERIAL, version="1") == '"HX-77-0457"'
        with pytest.raises(TimeoutError):
            snmp_get(site, "new", SERIAL)


def test_a_table_that_goes_round_in_a_circle(office: Office) -> None:
    office.new.agent.become(HALDEN, loop=f"{SUPPLIES}.6")
    with pytest.raises(RuntimeError, match="OID not increasing"):
        snmp_walk(office.site, "new", PRINTER)


def test_a_table_that_stops_short(office: Office) -> None:
    office.new.agent.become(HALDEN, end=SUPPLIES)
    walked = snmp_walk(office.site, "new", PRINTER)
    assert walked[-1].startswith(".1.3.6.1.2.1.43.10.2.1.15.")
    assert snmp_get(office.site, "new", f"{SUPPLIES}.9.{DEVICE}.1") == "88"  # still there for who asks by name


# --- the raw port


def test_the_raw_port_remembers_every_byte(office: Office) -> None:
    assert connect(office.site, NEW, 9100) == ""
    assert office.new.raw.connections == [JACKS["workstation"].address]
    office.assert_no_byte_was_printed()
    assert connect(office.site, NEW, 9100, send=r"\033E\000") == ""
    assert office.new.raw.received == b"\x1bE\x00"
    with pytest.raises(AssertionError):
        office.assert_no_byte_was_printed()


# --- the spooler, asked by CUPS's own commands


def test_the_queue_is_there_and_points_at_the_old_printer(office: Office) -> None:
    assert office.spooler.do("lpstat", "-v", QUEUE) == f"device for {QUEUE}: ipp://{OLD}/ipp/print\n"
    assert f"printer {QUEUE} is idle.  enabled" in office.spooler.do("lpstat", "-p", QUEUE)
    office.spooler.point(QUEUE, f"socket://{NEW}:9100")
    assert office.spooler.do("lpstat", "-v", QUEUE) == f"device for {QUEUE}: socket://{NEW}:9100\n"


def test_a_disabled_queue_keeps_its_jobs(office: Office) -> None:
    office.spooler.disable(QUEUE, "Held for the swap")
    waiting = [office.spooler.submit(QUEUE, "Sheet 1"), office.spooler.submit(QUEUE, "Sheet 2", hold=True)]
    listed = office.spooler.do("lpstat", "-o", QUEUE)
    assert [line.split()[0] for line in listed.splitlines()] == waiting
    assert "Held for the swap" in office.spooler.do("lpstat", "-p", QUEUE)
    assert "job-hold-until-specified" in office.spooler.do("lpstat", "-l", "-o", QUEUE)


def test_a_rejecting_queue_takes_no_job_until_it_accepts(office: Office) -> None:
    office.spooler.reject(QUEUE)
    with pytest.raises(AssertionError, match="is not accepting jobs"):
        office.spooler.submit(QUEUE, "Sheet 1")
    office.spooler.accept(QUEUE)
    assert office.spooler.submit(QUEUE, "Sheet 1", hold=True)


def test_the_driver_is_a_lawful_one_and_names_the_device(office: Office) -> None:
    """Source: cupstestppd, the conformance checker for the PPD specification 4.3."""
    model = office.spooler.folder / f"root/ppd/{QUEUE}.ppd"
    checked = office.site.run("workstation", "cupstestppd", "-q", model)
    assert checked.returncode == 0, checked.stdout
    queue = office.site.run("workstation", "ipptool", "-tv", f"ipp://127.0.0.1/printers/{QUEUE}", "get-printers.test")
    assert re.search(r"printer-make-and-model \(.*\) = Halden 36R, version 3\.2", queue.stdout), queue.stdout


def test_a_job_through_the_spooler_reaches_the_printer(office: Office) -> None:
    office.spooler.add("Everywhere", f"ipp://{NEW}/ipp/print", "everywhere")
    job = office.spooler.submit("Everywhere", "sheet-1")
    until(lambda: job in office.spooler.do("lpstat", "-W", "completed", "-o"), 15, "the end of the job")
    assert [path.name for path in (office.site.folder / "ipp-new/spool").glob("1-sheet-1.*")]
