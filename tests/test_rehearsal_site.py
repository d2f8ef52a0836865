"""The simulated site as a whole: what listens and what does not, starting, stopping, and the files that it writes."""

from __future__ import annotations

import ast
import asyncio
import re
import socket
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest

import netcheck.rehearsal
from netcheck.rehearsal.background import running_site
from netcheck.rehearsal.device import SERVICES
from netcheck.rehearsal.scenarios import SCENARIOS
from netcheck.rehearsal.site import Site, standard_toml


@pytest.fixture(scope="module")
def ready() -> Iterator[Site]:
    with running_site(SCENARIOS["ready"]) as site:
        yield site


def datagram(port: int, payload: bytes) -> bytes | None:
    """What comes back within half a second; None for nothing. Raises ConnectionRefusedError for a closed port."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as client:
        client.settimeout(0.5)
        client.connect(("127.0.0.1", port))
        client.send(payload)
        try:
            return client.recv(2048)
        except TimeoutError:
            return None


def page(port: int) -> bytes:
    """The whole HTTP answer to GET /."""
    with socket.create_connection(("127.0.0.1", port), 2) as client:
        client.sendall(b"GET / HTTP/1.0\r\n\r\n")
        return b"".join(iter(lambda: client.recv(4096), b""))


# Both as net-snmp 5.9 sends them: GET sysDescr.0 in v2c, and the discovery of RFC 3414 s4.
GET = bytes.fromhex("302602010104067075626c6963a019020101020100020100300e300c06082b060102010101000500")
DISCOVERY = bytes.fromhex(
    "303e0201033011020 41df99e26020300ffe304010402010304 10300e0400020100020100040004000400"
    "301404000400a00e020453c7b5810201000201003000".replace(" ", "")
)


def test_silence_and_absence() -> None:
    with running_site(SCENARIOS["snmp-silent"]) as site:
        ports = site.ports["new"]
        assert [datagram(ports["snmp"], payload) for payload in (GET, DISCOVERY)] == [None, None]
        assert page(ports["http"]).endswith(b"Halden 36R\n")
        assert datagram(site.ports["old"]["snmp"], GET)
    with running_site(SCENARIOS["new-unreachable"]) as site:
        for service in ("ipp", "ipps", "raw", "lpd", "http"):
            with pytest.raises(ConnectionRefusedError):
                socket.create_connection(("127.0.0.1", site.ports["new"][service]), 1)
        if sys.platform == "linux":  # elsewhere a closed UDP port need not be told to the sender
            with pytest.raises(ConnectionRefusedError):
                datagram(site.ports["new"]["snmp"], GET)
        assert page(site.ports["old"]["http"]).endswith(b"Corvid 24S\n")


def test_raw_and_lpd_ports() -> None:
    with running_site(SCENARIOS["ready"]) as site:
        ports = site.ports["new"]
        with socket.create_connection(("127.0.0.1", ports["raw"]), 2):
            pass
        assert site.touched("new").raw_octets == 0
        with socket.create_connection(("127.0.0.1", ports["raw"]), 2) as client:
            client.sendall(b"x" * 1000)
            client.shutdown(socket.SHUT_WR)
            assert client.recv(1) == b""
        assert site.touched("new").raw_octets == 1000
        with socket.create_connection(("127.0.0.1", ports["lpd"]), 2) as client:
            client.sendall(b"\x03print\n")  # RFC 1179 s5.3: send queue state (short)
            assert client.recv(100).endswith(b"\n")
        lingering = socket.create_connection(("127.0.0.1", ports["raw"]), 2)
    with lingering, suppress(ConnectionResetError):  # the end of the site ends its connections
        assert lingering.recv(1) == b""


def test_always_stopped() -> None:
    async def interrupted() -> Site:
        site = Site(SCENARIOS["ready"])
        with pytest.raises(KeyError):
            async with site:
                raise KeyError("the body broke")
        return site

    site = asyncio.run(interrupted())
    listening = [ports[service] for ports in site.ports.values() for service in ("ipp", "ipps", "raw", "lpd", "http")]
    for port in (*listening, int(site.spooler.rpartition(":")[2])):
        with pytest.raises(ConnectionRefusedError):
            socket.create_connection(("127.0.0.1", port), 1)


START = """
import asyncio, sys, time
began = time.perf_counter()
from netcheck.rehearsal.scenarios import SCENARIOS
from netcheck.rehearsal.site import Site
heavy = {"pysnmp", "pyasn1", "aiohttp", "probes"} & set(sys.modules)
async def main():
    async with Site(SCENARIOS["ready"]):
        return time.perf_counter() - began
print(asyncio.run(main()), sorted(heavy), "probes" in sys.modules)
"""


def test_starts_within_half_a_second_from_nothing() -> None:
    runs = [subprocess.run([sys.executable, "-c", START], capture_output=True, text=True).stdout for _ in range(3)]
    assert all(outcome.split(" ", 1)[1] == "[] False\n" for outcome in runs), runs
    assert min(float(outcome.split(" ", 1)[0]) for outcome in runs) < 0.5


def test_the_rehearsal_leans_on_nothing_else_of_ours() -> None:
    for file in Path(netcheck.rehearsal.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(file.read_text("utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            ours = [name for name in names if name.split(".")[0] in ("netcheck", "probes")]
            assert all(name.startswith("netcheck.rehearsal") for name in ours), (file.name, ours)


def test_the_move_of_a_run(ready: Site, tmp_path: Path) -> None:
    move = tomllib.loads(ready.write(tmp_path).read_text("utf-8"))
    assert (tmp_path / move["move"]["standard"]).read_text("utf-8") == standard_toml()
    assert move["move"] | {"standard": ""} == {
        "job": "LS-2041",
        "site": "Harrow Lane land-survey office",
        "address": "keep",
        "standard": "",
        "when": "2026-12-03 10:00",
    }
    assert move["queue"] == {"name": "Plans", "server": ready.spooler}
    assert move["old"] == {
        "host": "127.0.0.1",
        "serial": "CV24-008812",
        "mac": "02:77:00:00:00:21",
        "ports": ready.ports["old"],
    }
    assert move["new"] == {
        "host": "127.0.0.1",
        "final": "192.0.2.21",
        "serial": "HX-77-0457",
        "mac": "02:77:00:00:00:22",
        "asset": "CLS-0457",
        "jack": "B-12",
        "ports": ready.ports["new"],
    }


def test_the_standard() -> None:
    text = standard_toml()
    standard = tomllib.loads(text)
    assert standard["device"] == {"model": "Halden 36R*"}
    assert standard["firmware"] == {"version": "4.7.2", "order": "dotted"}
    assert standard["services"] == {"required": ["ipp", "raw"], "closed": ["ftp"]}
    assert standard["address"] == {"subnet": "192.0.2.0/24", "origin": ["static", "dhcp"]}
    assert standard["snmp"] == {"required": True}
    assert standard["supplies"] == {"care_percent": 30, "block_percent": 10}
    assert standard["queue"] == {"driver": "Halden 36R*"}
    assert standard["facts"] == {"max_age_minutes": 30, "word": ["model", "firmware", "serial"]}
    thresholds = re.findall(r"^(?:care_percent|block_percent|max_age_minutes).*$", text, re.MULTILINE)
    assert len(thresholds) == 3
    assert all("common practice, no source" in line for line in thresholds)
    assert [wanted["size"] for wanted in standard["print"]] == ["na_arch-d_24x36in", "iso_a0_841x1189mm"]
    assert all(wanted["feed"] == "roll" and wanted["type"] == "stationery-coated" for wanted in standard["print"])
    steps = standard["worksheet"]
    assert 6 <= len(steps) <= 8
    assert all(set(step) == {"step", "gate", "caution", "evidence"} for step in steps)
    assert [step["gate"] for step in steps] == sorted(
        (step["gate"] for step in steps), key=["fill", "swap", "leave"].index
    )
    assert {step["evidence"] for step in steps} == {"measured", "photo", "word"}


def test_every_service_has_a_port(ready: Site) -> None:
    assert all(
        set(ports) == set(SERVICES) == {"ipp", "ipps", "raw", "lpd", "http", "snmp"} for ports in ready.ports.values()
    )
