"""The simulated IPP printer and spooler as ipptool sees them, and plain HTTP. RFC 8010, RFC 8011."""

from __future__ import annotations

import re
import shutil
import socket
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from netcheck.rehearsal.background import running_site
from netcheck.rehearsal.ipp_printer import IppPrinter
from netcheck.rehearsal.scenarios import NEW, SCENARIOS
from netcheck.rehearsal.site import Site

needs_ipptool = pytest.mark.skipif(not shutil.which("ipptool"), reason="ipptool is not installed")


@pytest.fixture(scope="module")
def ready() -> Iterator[Site]:
    with running_site(SCENARIOS["ready"]) as site:
        yield site


def run(*command: str) -> subprocess.CompletedProcess[str]:
    environment = {"PATH": "/usr/bin:/bin:/usr/local/bin", "MIBS": "", "HOME": "/nonexistent"}
    return subprocess.run(command, capture_output=True, text=True, timeout=20, env=environment)


def ipptool(uri: str, test: str, *options: str) -> dict[str, str]:
    """ipptool's report: the name of each test in a file, and PASS, FAIL or SKIP."""
    report = run("ipptool", "-tI", "-T", "5", *options, uri, test)
    return dict(re.findall(r"^    (\S.*?) +\[(PASS|FAIL|SKIP)\]$", report.stdout, re.MULTILINE))


@needs_ipptool
def test_ipptool_finds_the_printer_conforming(ready: Site) -> None:
    uri = f"ipp://127.0.0.1:{ready.ports['new']['ipp']}/ipp/print"
    for test in ("get-printer-attributes.test", "get-jobs.test", "validate-job.test"):
        assert set(ipptool(uri, test, "-d", "filetype=application/pdf").values()) == {"PASS"}, test
    listing = run("ipptool", "-tv", uri, "get-printer-attributes.test").stdout
    assert "printer-resolution-default (resolution) = 600dpi" in listing
    suite = ipptool(uri, "get-printer-attributes-suite.test")
    # One test of CUPS 2.4's suite asks for 'all' and expects only media-col-database; no printer can pass it.
    assert {name for name, result in suite.items() if result != "PASS"} <= {
        "Get-Printer-Attributes (requested-attributes='media-col-database')"
    }
    assert len(suite) == 7


@needs_ipptool
def test_ipptool_finds_what_rfc_8011_demands(ready: Site, tmp_path: Path) -> None:
    document = tmp_path / "plan.pdf"
    document.write_bytes(b"%PDF-1.7\n")
    options = ("-f", str(document), "-d", "NOPRINT=1")
    uri = f"ipp://127.0.0.1:{ready.ports['new']['ipp']}/ipp/print"
    results = ipptool(uri, "ipp-1.1.test", *options) | ipptool(uri, "ipp-2.0.test", *options)
    # Not asked: what needs a printed job. The simulated printer takes no jobs and does not say that it does.
    asked = {
        name: result
        for name, result in results.items()
        if re.search(r"4\.1\.|4\.2:|Validate-Job|requested-|my-|5100", name)
    }
    del asked["RFC 8011 section 4.2.6: Get-Jobs Operation (which-jobs, requested-at"]
    assert asked
    assert set(asked.values()) == {"PASS"}, asked
    assert len(asked) >= 14


@needs_ipptool
def test_ipptool_reads_the_queue(ready: Site) -> None:
    uri = f"ipp://{ready.spooler}/printers/Plans"
    for test in ("get-printer-attributes.test", "get-jobs.test", "get-printers.test"):
        assert set(ipptool(uri, test).values()) == {"PASS"}, test
    listing = run("ipptool", "-tv", f"ipp://{ready.spooler}/", "get-printers.test").stdout
    assert "printer-name (nameWithoutLanguage) = Plans" in listing
    assert "device-uri (uri) = socket://192.0.2.21:9100" in listing
    missing = run("ipptool", "-tv", f"ipp://{ready.spooler}/printers/Other", "get-jobs.test").stdout
    assert "client-error-not-found" in missing


def field(tag: int, name: str, value: bytes) -> bytes:
    """One attribute as RFC 8010 s3.1.4 lays it out."""
    return bytes([tag]) + len(name).to_bytes(2, "big") + name.encode() + len(value).to_bytes(2, "big") + value


HEAD = field(0x47, "attributes-charset", b"utf-8") + field(0x48, "attributes-natural-language", b"en")
HEAD += field(0x45, "printer-uri", b"ipp://127.0.0.1/ipp/print")
COLUMN = [field(0x34, "media-col", b""), field(0x4A, "", b"media-size"), field(0x34, "", b"")]
for axis in ("x", "y"):
    COLUMN += [field(0x4A, "", f"{axis}-dimension".encode()), field(0x21, "", (100_000).to_bytes(4, "big"))]
COLUMN += [field(0x37, "", b""), field(0x37, "", b"")]
STRICT = field(0x22, "ipp-attribute-fidelity", b"\x01")
REQUESTS = [  # version, operation, attributes, the status of RFC 8011 s4.1 and appendix B
    ("0200", "000b", HEAD, 0x0000),
    ("0101", "000b", HEAD, 0x0000),
    ("0100", "000b", HEAD, 0x0503),
    ("0202", "000b", HEAD, 0x0503),
    ("0200", "0002", HEAD, 0x0501),
    ("0200", "000b", HEAD.replace(b"utf-8", b"utf-9"), 0x040D),
    ("0200", "000b", HEAD[:-1], 0x0400),
    ("0200", "0004", HEAD + field(0x49, "document-format", b"application/postscript"), 0x040A),
    ("0200", "0004", HEAD + b"\x02" + field(0x44, "media", b"iso_a0_841x1189mm"), 0x0000),
    ("0200", "0004", HEAD + b"\x02" + field(0x44, "media", b"iso_2a0_1189x1682mm"), 0x0001),
    ("0200", "0004", HEAD + STRICT + b"\x02" + field(0x44, "media", b"iso_2a0_1189x1682mm"), 0x040B),
    ("0200", "0004", HEAD + STRICT + b"\x02" + b"".join(COLUMN), 0x040B),  # a metre across, on a roll of 0.914
    ("0200", "0004", HEAD + b"\x02" + field(0x34, "media-col", b"") * 9, 0x0400),
]


@pytest.mark.parametrize(("version", "operation", "attributes", "status"), REQUESTS)
def test_statuses(version: str, operation: str, attributes: bytes, status: int) -> None:
    request = bytes.fromhex(version + operation + "00000007") + b"\x01" + attributes + b"\x03"
    answer = IppPrinter(NEW, "127.0.0.1:631").answer("/ipp/print", request)
    assert answer is not None
    assert int.from_bytes(answer[2:4], "big") == status
    assert answer[4:8] == b"\0\0\0\7"
    assert answer[:2] in (b"\1\1", b"\2\0")


def test_http_around_ipp(ready: Site) -> None:
    def exchange(port: int, head: str, body: bytes = b"") -> bytes:
        with socket.create_connection(("127.0.0.1", port), 2) as client:
            length = f"Content-Length: {len(body)}\r\nConnection: close\r\n\r\n"
            client.sendall(f"{head} HTTP/1.1\r\nHost: x\r\n{length}".encode() + body)
            return b"".join(iter(lambda: client.recv(4096), b""))

    ports = ready.ports["new"]
    post = "POST {} HTTP/1.1\r\nContent-Type: application/ipp\r\nX:"
    assert b"200 OK" in exchange(ports["http"], "GET /")
    assert b"404 Not Found" in exchange(ports["ipp"], post.format("/ipp/faxout"), b"\2\0\0\x0b\0\0\0\1\3")
    assert b"400 Bad Request" in exchange(ports["ipp"], post.format("/ipp/print"), b"\2\0")
    assert b"415 " in exchange(ports["ipp"], "POST /ipp/print", b"x")
    assert b"413 " in exchange(ports["ipp"], post.format("/ipp/print"), bytes(70_000))
