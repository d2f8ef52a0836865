"""The simulated SNMP agent as net-snmp sees it, and plain datagrams. RFC 1157, RFC 3416, RFC 3414."""

from __future__ import annotations

import asyncio
import re
import shutil
import socket
import statistics
import subprocess
import time
from collections.abc import Iterator
from contextlib import closing

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pysnmp.hlapi.v1arch import asyncio as snmp

from netcheck.rehearsal.background import running_site
from netcheck.rehearsal.mib_printer import snmp_rows
from netcheck.rehearsal.scenarios import NEW, SCENARIOS
from netcheck.rehearsal.site import Site
from netcheck.rehearsal.snmp_agent import SnmpAgent

needs_net_snmp = pytest.mark.skipif(not shutil.which("snmpbulkwalk"), reason="net-snmp's tools are not installed")


@pytest.fixture(scope="module")
def ready() -> Iterator[Site]:
    with running_site(SCENARIOS["ready"]) as site:
        yield site


def run(*command: str) -> subprocess.CompletedProcess[str]:
    environment = {"PATH": "/usr/bin:/bin:/usr/local/bin", "MIBS": "", "HOME": "/nonexistent"}
    return subprocess.run(command, capture_output=True, text=True, timeout=20, env=environment)


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


# Both as net-snmp 5.9 sends them: GET sysDescr.0 in v2c, and the discovery of RFC 3414 s4.
GET = bytes.fromhex("302602010104067075626c6963a019020101020100020100300e300c06082b060102010101000500")
DISCOVERY = bytes.fromhex(
    "303e0201033011020 41df99e26020300ffe304010402010304 10300e0400020100020100040004000400"
    "301404000400a00e020453c7b5810201000201003000".replace(" ", "")
)


@needs_net_snmp
def test_net_snmp_reads_the_same_rows_by_every_operation(ready: Site) -> None:
    agent = f"127.0.0.1:{ready.ports['new']['snmp']}"
    walks = [
        run(tool, *version, "-c", "public", "-On", agent, ".1.3.6.1.2.1.43").stdout
        for tool, version in (("snmpbulkwalk", ("-v2c", "-Cr40")), ("snmpwalk", ("-v2c",)), ("snmpwalk", ("-v1",)))
    ]
    assert walks[0] == walks[1] == walks[2]
    names = [
        [int(arc) for arc in name.split(".")] for name in re.findall(r"^\.(1\.3[.0-9]+) = ", walks[0], re.MULTILINE)
    ]
    assert names == sorted(names)  # RFC 3416 s4.2.2: in lexicographic order
    # RFC 3805: the arcs of the groups, and all of them are there but alerts (18), of which a healthy device has none
    assert {name[7] for name in names} == {5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17}


NET_SNMP = [  # command line, and what net-snmp says of the answer
    ("snmpget -v2c -c public {} .1.3.6.1.2.1.43.5.1.1.17.1", '= STRING: "HX-77-0457"'),
    ("snmpget -v2c -c public {} .1.3.6.1.2.1.1.5", "No Such Instance"),  # RFC 3416 s4.2.1: a scalar without its .0
    ("snmpget -v2c -c public {} .1.3.6.1.2.1.43.5.1.1.17.9", "No Such Instance"),
    ("snmpget -v2c -c public {} .1.3.6.1.2.1.99.1.0", "No Such Object"),
    ("snmpgetnext -v2c -c public {} .1.3.6.1.6", "No more variables left in this MIB View"),
    ("snmpget -v1 -Cf -c public {} .1.3.6.1.2.1.1.1.0 .1.3.6.1.2.1.99.1.0", "Failed object: .1.3.6.1.2.1.99.1.0"),
    ("snmpgetnext -v1 -c public {} .1.3.6.1.6", "(noSuchName)"),
    ("snmpget -v2c -c wrong -r0 -t0.4 {} .1.3.6.1.2.1.1.1.0", "Timeout"),
    ("snmpget -v3 -u nobody -l noAuthNoPriv -r0 -t1 {} .1.3.6.1.2.1.1.1.0", "Unknown user name"),  # after discovery
    ("snmpset -v2c -c public {} .1.3.6.1.2.1.1.5.0 s x", "notWritable"),
    ("snmpset -v1 -c public {} .1.3.6.1.2.1.1.5.0 s x", "(noSuchName)"),  # RFC 3584: what notWritable is in v1
    ("snmpget -v2c -c public {} " + " .1.3.6.1.2.1.43.5.1.1.17.1" * 60, "(tooBig)"),
]


@needs_net_snmp
@pytest.mark.parametrize(("command", "says"), NET_SNMP, ids=lambda value: value[:36])
def test_net_snmp_understands_every_kind_of_answer(ready: Site, command: str, says: str) -> None:
    outcome = run(*command.format(f"-On 127.0.0.1:{ready.ports['new']['snmp']}").split())
    assert says in outcome.stdout + outcome.stderr


def test_discovery_gets_its_report(ready: Site) -> None:
    report = datagram(ready.ports["new"]["snmp"], DISCOVERY)
    assert report is not None
    assert bytes.fromhex("060a2b060106030f01010400") in report  # usmStatsUnknownEngineIDs.0, RFC 3414 s5
    # RFC 3411 s5: first bit set, an enterprise number, format 3 is a MAC address
    assert bytes.fromhex("80007ed903" + "027700000022") in report


def test_a_set_is_refused_and_counted() -> None:
    async def write(port: int) -> int:
        target = await snmp.UdpTransportTarget.create(("127.0.0.1", port), timeout=2, retries=0)
        change = snmp.ObjectType(snmp.ObjectIdentity("1.3.6.1.2.1.43.5.1.1.3.1"), snmp.Integer32(4))
        manager = snmp.CommunityData("public", mpModel=1)  # noqa: S508 - v2c is what is tested
        with closing(snmp.SnmpDispatcher()) as client:
            _, status, _, _ = await snmp.set_cmd(client, manager, target, change, lookupMib=False)
        return int(status)

    with running_site(SCENARIOS["ready"]) as site:
        assert site.touched("new").snmp_sets == 0
        assert asyncio.run(write(site.ports["new"]["snmp"])) == 17  # notWritable, RFC 3416 s3
        assert site.touched("new").snmp_sets == 1


@given(
    st.binary(max_size=300) | st.builds(lambda cut, junk: GET[:cut] + junk, st.integers(0, 40), st.binary(max_size=40))
)
def test_no_datagram_breaks_the_agent(octets: bytes) -> None:
    answer = AGENT.answer(octets)
    assert answer is None or len(answer) <= 1472  # IPv4 and UDP on an Ethernet frame of 1500 octets


AGENT = SnmpAgent(snmp_rows(NEW), bytes.fromhex("80007ed903027700000022"))


def test_answers_fast_enough_to_play_with(ready: Site) -> None:
    port, took = ready.ports["new"]["snmp"], []
    for _ in range(20):
        began = time.perf_counter()
        assert datagram(port, GET)
        took.append(time.perf_counter() - began)
    assert (
        statistics.median(took) < 0.02
    )  # a device on the network answers in 20 ms or more: common practice, no source
