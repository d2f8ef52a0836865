"""`netcheck read` of one device on real servers: the page against what the device is, the objects against what net-snmp
and ipptool get from the same device."""

import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from . import visit
from .clients import ipp_attributes
from .devices import HALDEN
from .office import Office
from .site import JACKS

NEW = JACKS["new"].address
TYPES = {
    "INTEGER": "INTEGER",
    "STRING": "OCTET STRING",
    "Hex-STRING": "OCTET STRING",
    "OID": "OBJECT IDENTIFIER",
    "IpAddress": "IpAddress",
    "Counter32": "Counter32",
    "Gauge32": "Gauge32",
    "Timeticks": "TimeTicks",
}
"""net-snmp's name of a type, and that of RFC 2578 s7.1."""
WALK = ("snmpbulkwalk", "-v2c", "-c", "public", "-One", NEW)


def read(office: Office, *options: str) -> tuple[str, dict[str, Any]]:
    """The page, and the document that was saved with it."""
    folder = office.site.folder / "visit"
    folder.mkdir(exist_ok=True)
    saved: Path = folder / "read.json"
    command = [sys.executable, "-m", "netcheck", "read", NEW, "--save", str(saved), *options]
    done = subprocess.run(
        office.site.command("workstation", *command),
        env=visit.environment(office),
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert max(map(len, done.stdout.splitlines())) <= 80
    return done.stdout, json.loads(saved.read_text("utf-8"))


def objects(document: dict[str, Any], probe: str) -> list[dict[str, Any]]:
    seen = [each for each in document["observations"] if (each["kind"], each["probe"]) == ("objects", probe)]
    return [row for each in seen for row in each["value"]["rows"]]


def walked(office: Office, below: str) -> dict[str, tuple[str, str]]:
    """Type and value by OID, as net-snmp prints them."""
    done = office.site.run("workstation", *WALK, below, env={"MIBS": ""})
    lines = (re.fullmatch(r"\.([\d.]+) = (?:([\w-]+): )?(.*)", line) for line in done.stdout.splitlines())
    return {line[1]: (line[2] or "STRING", line[3].strip('"')) for line in lines if line}


def test_the_page_has_the_device(office: Office) -> None:
    page, _ = read(office)
    shown = " ".join(page.split())
    for label, value in (("model", HALDEN.name), ("serial", HALDEN.serial), ("firmware", HALDEN.firmware)):
        assert f" {label} {value} (" in shown
    assert f" {JACKS['new'].mac} (ARP" in shown
    assert f"own {NEW}/24" in shown
    assert "disagree" not in shown
    assert "914 mm wide (36 in) roll" in shown


def test_the_objects_are_those_that_net_snmp_gets(office: Office) -> None:
    _, document = read(office, "--raw")
    rows = {row["oid"]: row for row in objects(document, "snmp")}
    for table, least in (("1.3.6.1.2.1.43.11.1.1", 20), ("1.3.6.1.2.1.43.8.2.1", 20), ("1.3.6.1.2.1.2.2.1", 8)):
        theirs = walked(office, table)
        ours = {oid: row for oid, row in rows.items() if oid.startswith(f"{table}.")}
        assert len(ours) >= least
        assert ours.keys() <= theirs.keys()
        for oid, row in ours.items():
            if oid.startswith(("1.3.6.1.2.1.2.2.1.14.", "1.3.6.1.2.1.2.2.1.20.")):
                continue  # counters go on counting
            kind, value = theirs[oid]
            if row["hex"]:
                assert (oid, row["value"]) == (oid, value.replace(" ", "").lower())
            else:
                assert (oid, row["syntax"], row["value"]) == (oid, TYPES[kind], value)


def test_the_attributes_are_those_that_ipptool_gets(office: Office) -> None:
    _, document = read(office, "--raw")
    rows = [row for row in objects(document, "ipp") if not row["depth"]]
    theirs = ipp_attributes(office.site, "new")
    for name in ("printer-make-and-model", "printer-uuid", "printer-device-id", "printer-state-message"):
        assert [row["value"] for row in rows if row["name"] == name] == [theirs[name]]
    for name in ("document-format-supported", "media-supported", "ipp-versions-supported"):
        ours = [row["value"] for row in rows if row["name"] == name]
        assert len(ours) > 1
        assert ours == theirs[name]


def test_without_an_agent_the_page_says_what_is_not_known(office: Office) -> None:
    office.new.agent.end()
    page, _ = read(office, "--timeout", "4")
    last = " ".join(page.partition("\nNot read\n")[2].split())
    assert "nobody listens on udp/161" in last
    assert "life count" in last
    assert page.splitlines()[0].startswith("READY WITH CARE")


@pytest.mark.parametrize("community", ["plotter-secret-7"])
def test_the_community_is_in_nothing_that_is_kept(office: Office, community: str) -> None:
    office.new.agent.admit(community)
    command = office.site.command("workstation", sys.executable, "-m", "netcheck", "read", NEW, "--raw", "--json")
    done = subprocess.run(command, env=visit.environment(office, community), capture_output=True, text=True, timeout=60)
    assert len(objects(json.loads(done.stdout), "snmp")) > 100
    assert community not in done.stdout + done.stderr
