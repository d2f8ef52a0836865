"""`netcheck ready` where devices and spooler are slow, mute, broken or peculiar, and what it must never do to them."""

import json
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from .clients import ipp_attributes, snmp_get
from .devices import HALDEN
from .mib import SUPPLIES
from .office import Office
from .programs import Program
from .site import JACKS, Node
from .visit import command, environment, ready

NEW, OLD = JACKS["new"].address, JACKS["old"].address
SERIAL = "1.3.6.1.2.1.43.5.1.1.17.1"  # prtGeneralSerialNumber, RFC 3805
LIMIT_S = 10  # for all of collecting, unless told otherwise
OVERHEAD_S = 4  # starting, judging, and a machine that has other things to do

READING = {"Get-Printer-Attributes", "Get-Jobs", "Get-Job-Attributes", "CUPS-Get-Printers", "CUPS-Get-Default"}
READING |= {"Validate-Job"}  # creates no job, and has no document: RFC 8011 section 4.2.3


@pytest.fixture(autouse=True)
def nothing_printed(office: Office) -> Iterator[None]:
    yield
    office.assert_no_byte_was_printed()


@contextmanager
def in_time() -> Iterator[None]:
    began = time.monotonic()
    yield
    assert time.monotonic() - began < LIMIT_S + OVERHEAD_S


# --- peculiar, and no reason to stop


def test_an_agent_of_version_1_only_is_read_all_the_same(office: Office) -> None:
    office.new.agent.admit(versions=("v1",))
    assert snmp_get(office.site, "new", SERIAL, version="1") == f'"{HALDEN.serial}"'
    assert ready(office).state == "ready"


def test_the_site_s_own_community_is_used_and_kept_secret(office: Office) -> None:
    for machine in (office.old, office.new):
        machine.agent.admit(community="harrow-7-secret")
    answer = ready(office, community="harrow-7-secret")
    assert answer.state == "ready", answer.page
    assert "harrow-7-secret" not in answer.page + answer.complaints + json.dumps(answer.document)


# --- not seen is not known


def test_another_community_leaves_it_open(office: Office) -> None:
    office.new.agent.admit(community="harrow-7-secret")
    answer = ready(office)
    assert (answer.code, answer.state, answer.against[0]) == (3, "cannot-tell", "services.snmp")
    assert "community" in answer.page


def test_a_table_that_goes_round_in_a_circle_is_left(office: Office) -> None:
    office.new.agent.become(HALDEN, loop=f"{SUPPLIES}.6")
    with in_time():
        answer = ready(office)
    # The printer's IPP object gives the same list complete; that the agent's was cut short is kept beside it.
    assert (answer.code, answer.state) == (0, "ready"), answer.page
    assert any("do not increase" in each["reason"] for each in answer.document["attempts"])
    tables = [each["value"] for each in answer.document["observations"] if each["kind"] == "supplies"]
    assert {table["complete"] for table in tables} == {True, False}


def test_a_printer_that_hangs_leaves_it_open(office: Office) -> None:
    office.new.printer.program.pause()
    with pytest.raises(ConnectionError):
        ipp_attributes(office.site, "new", wait=1)
    with in_time():
        answer = ready(office)
    assert (answer.code, answer.state) == (3, "cannot-tell"), answer.page
    assert answer.attempts("new", "ipp") == {"silent"}


def test_when_all_hang_it_ends_in_time_and_claims_nothing(office: Office) -> None:
    for machine in (office.old, office.new):
        for program in (machine.printer.program, machine.agent.program, machine.raw.program):
            program.pause()
    office.spooler.program.pause()
    with in_time():
        answer = ready(office)
    assert (answer.code, answer.state) == (3, "cannot-tell"), answer.page
    met = {each["id"] for each in answer.findings if each["state"] == "met"}
    listening = {"services.name", "services.old-name", "services.reach", "services.required", "services.closed"}
    # The wire is well, and so is what the Move plans, whatever hangs on it.
    others = {each for each in met if not each.startswith(("link.", "planned."))}
    assert others <= {*listening, "services.old-reach", "scope.named"}, others
    for machine in (office.old, office.new):
        machine.raw.program.resume()


def test_without_its_spooler_the_queue_is_not_known(office: Office) -> None:
    office.spooler.program.kill()
    answer = ready(office)
    assert (answer.code, answer.state, answer.against[0]) == (3, "cannot-tell", "queue.exists"), answer.page


# --- a no is a no


def test_a_printer_whose_ipp_is_gone(office: Office) -> None:
    office.new.printer.program.kill()
    answer = ready(office)
    assert (answer.code, answer.against[0]) == (1, "services.required/ipp"), answer.page


def test_two_devices_on_one_address(office: Office) -> None:
    office.site.ip("old", f"addr add {NEW}/24 dev eth0")
    office.old.agent.restart()
    answer = ready(office)
    assert (answer.code, set(answer.against[:2])) == (1, {"link.owner", "address.held"}), answer.page
    assert NEW in next(each["detail"] for each in answer.findings if each["id"] == "address.held")


# --- by hand


def test_an_interrupt_keeps_what_was_gathered(office: Office) -> None:
    office.site.filter("new", "udp dport 161 drop")
    argv, saved = command(office)
    asking = subprocess.Popen(argv, env=environment(office), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    time.sleep(1.5)  # all but SNMP has answered by then; SNMP takes longer than that to be given up
    asking.send_signal(signal.SIGINT)
    page, complaints = asking.communicate(timeout=10)
    assert asking.returncode == 130, complaints
    assert page.startswith("CANNOT TELL"), page
    kept = {(each["role"], each["kind"]) for each in json.loads(saved.read_text())["observations"]}
    assert {("new", "model"), ("old", "serial"), ("queue", "queue-target")} <= kept


def test_a_saved_case_is_judged_the_same_with_the_network_gone(office: Office) -> None:
    before = ready(office)
    nodes: tuple[Node, ...] = ("old", "new", "workstation")
    for node in nodes:
        office.site.plug(node, connected=False)
    office.spooler.program.end()
    standard = before.saved.with_name("standard.toml")
    again = (sys.executable, "-m", "netcheck", "judge", before.saved, "--standard", standard)
    done = office.site.run("workstation", *again, env=environment(office))
    page, said = re.subn(r", as seen [0-9: -]{16} UTC", "", done.stdout)
    page, file, whole = page.rpartition("File: ")
    assert (done.returncode, page, said) == (before.code, before.page, 1)
    assert file
    assert "Changed" not in whole


# --- only reading


def test_it_only_reads(office: Office) -> None:
    """Source: the logs of cupsd and ippeveprinter name each operation; net-snmp counts snmpInSetRequests (RFC 3418)."""
    earlier = {name: len(program.output) for name, program in _logs(office)}
    ready(office)
    spooled = set(re.findall(r'"POST [^"]*" \d+ \d+ (\S+) ', (office.spooler.folder / "log/access").read_text()))
    assert spooled - {"CUPS-Add-Modify-Printer", "CUPS-Get-PPDs", "-"} <= READING
    for name, program in _logs(office):
        said = program.output[earlier[name] :]
        asked = set(re.findall(r"^\S+ ([A-Z][a-z]+-[A-Z]\S+) successful-ok", said, re.MULTILINE))
        assert asked, said
        assert asked <= READING
    nodes: tuple[Node, ...] = ("old", "new")
    for node in nodes:
        assert int(snmp_get(office.site, node, "1.3.6.1.2.1.11.1.0")) > 0  # snmpInPkts
        assert snmp_get(office.site, node, "1.3.6.1.2.1.11.17.0") == "0"  # snmpInSetRequests


def _logs(office: Office) -> Iterator[tuple[str, Program]]:
    yield "old", office.old.printer.program
    yield "new", office.new.printer.program
