"""A printer of CUPS behind TLS, asked by the probes at the workstation; there `openssl s_client` is the other one."""

import json
import re
import shutil
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

import pytest

from .clients import ipp_attributes
from .devices import HALDEN
from .printers import PORT, Printer
from .site import JACKS, Site

NEW: Final = JACKS["new"].address
ROOT: Final = Path(__file__).parents[2]
_COLLECT: Final = """
import asyncio, json, sys, msgspec
from netcheck.collect import Recorder, collect_once
from netcheck.move import Move
from netcheck.probing import Target
from netcheck.roles import Role
from probes import ipp, names, tls
ports, recorder = json.loads(sys.argv[2]), Recorder()
where = Target(Role.NEW, sys.argv[1], ports=ports)
asyncio.run(collect_once([where], [names.PROBE, ipp.PROBE, tls.PROBE], recorder, 5))
print(msgspec.json.encode(recorder.case(Move())).decode())
"""

pytestmark = pytest.mark.skipif(not shutil.which("openssl"), reason="missing: openssl (Debian package openssl)")


def collected(site: Site, **ports: int) -> dict[str, Any]:
    """What the probes gather at the workstation from the new printer."""
    command = (sys.executable, "-c", _COLLECT, NEW, json.dumps(ports))
    done = site.run("workstation", *command, env={"PYTHONPATH": str(ROOT)})
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    return dict(json.loads(done.stdout))


def attempts(case: dict[str, Any]) -> list[tuple[str, str, str]]:
    told = ((each["probe"], each["target"], each["outcome"]) for each in case["attempts"] if each["probe"] != "names")
    return sorted(told)


def certificate(case: dict[str, Any]) -> dict[str, Any]:
    (found,) = [each["value"] for each in case["observations"] if each["kind"] == "certificate"]
    return dict(found)


def openssl_says(site: Site) -> dict[str, Any]:
    """The same certificate as openssl reads it, in our words."""
    command = ["openssl", "s_client", "-connect", f"{NEW}:{PORT}", "-showcerts"]
    page = site.run("workstation", *command).stdout
    options = [
        "-subject",
        "-issuer",
        "-dates",
        "-fingerprint",
        "-sha256",
        "-ext",
        "subjectAltName",
        "-nameopt",
        "RFC2253",
    ]
    said = site.run("workstation", "openssl", "x509", "-noout", "-text", *options, text=page).stdout
    lines = dict(line.partition("=")[::2] for line in said.splitlines() if re.match(r"[\w ]+=", line))
    version = re.search(r"^New, (TLSv[\d.]+),", page, re.MULTILINE)
    code, bits = re.search(r"Verify return code: \d+ \((.*)\)", page), re.search(r"Public-Key: \((\d+) bit\)", said)
    algorithm = re.search(r"Public Key Algorithm: (\S+)", said)
    assert version
    assert code
    assert bits
    assert algorithm
    return {
        "port": PORT,
        "tls": version[1],
        "subject": lines["subject"],
        "issuer": lines["issuer"],
        "names": list(dict.fromkeys(re.findall(r"DNS:([^,\s]+)", said))),
        "not_before_ms": _ms(lines["notBefore"]),
        "not_after_ms": _ms(lines["notAfter"]),
        "key_type": algorithm[1],
        "key_bits": int(bits[1]),
        "fingerprint": lines["sha256 Fingerprint"].replace(":", "").lower(),
        "self_signed": lines["subject"] == lines["issuer"],
        "chain_length": page.count("BEGIN CERTIFICATE"),
        "verified": code[1] == "ok",
        "fault": code[1],
        "names_complete": True,
    }


def let_it_make_its_certificate(site: Site) -> None:
    """It does when it first needs one, and for two that come at once perhaps twice."""
    ipp_attributes(site, "new", "ipps")


def _ms(text: str) -> int:
    moment = datetime.strptime(text, "%b %d %H:%M:%S %Y GMT").replace(tzinfo=UTC)
    return int(moment.timestamp()) * 1000


def test_the_certificate_is_what_openssl_sees(site: Site) -> None:
    with Printer(site, "new", HALDEN):
        let_it_make_its_certificate(site)
        assert certificate(collected(site, ipps=PORT)) == openssl_says(site)


def told_by_ipp(case: dict[str, Any]) -> dict[str, Any]:
    """By kind; without the clock, which goes on between two looks."""
    told = {each["kind"]: each["value"] for each in case["observations"] if each["probe"] == "ipp"}
    assert told.pop("printer-clock")
    return told


def test_the_printer_is_read_by_tls_alone(site: Site) -> None:
    with Printer(site, "new", HALDEN):
        plain, secure = collected(site, ipp=PORT), collected(site, ipps=PORT)
        uuid = ipp_attributes(site, "new", "ipps")["printer-uuid"]
    assert attempts(secure) == [
        ("ipp", f"ipps://{NEW}:{PORT}/ipp/print", "answered"),
        ("tls", f"{NEW} tcp/{PORT}", "answered"),
    ]
    told = told_by_ipp(secure)
    assert (told["model"]["value"], told["firmware"]["version"]) == ("Halden 36R", HALDEN.firmware)
    assert f"urn:uuid:{told['uuid']['value']}" == uuid
    assert told == told_by_ipp(plain)


def test_where_both_are_there_plain_is_enough(site: Site) -> None:
    with Printer(site, "new", HALDEN):
        case = collected(site, ipp=PORT, ipps=PORT)
    assert [target for probe, target, _ in attempts(case) if probe == "ipp"] == [f"ipp://{NEW}:{PORT}/ipp/print"]


def test_a_printer_that_was_reset_shows_another_certificate(site: Site) -> None:
    with Printer(site, "new", HALDEN) as printer:
        let_it_make_its_certificate(site)
        before = certificate(collected(site, ipps=PORT))
        for key in (site.folder / "ipp-new/keys").iterdir():
            key.unlink()
        printer.become(HALDEN)
        let_it_make_its_certificate(site)
        after, seen = certificate(collected(site, ipps=PORT)), openssl_says(site)
    assert after["fingerprint"] == seen["fingerprint"] != before["fingerprint"]


def test_a_held_printer_costs_the_deadline_and_is_silent(site: Site) -> None:
    with Printer(site, "new", HALDEN) as printer:
        printer.program.pause()
        case = collected(site, ipps=PORT)
        printer.program.resume()
    assert {(probe, outcome) for probe, _, outcome in attempts(case)} == {("ipp", "silent"), ("tls", "silent")}
    assert all(each["took_ms"] < 6000 for each in case["attempts"])
