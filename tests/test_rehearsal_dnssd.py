"""What the simulated site announces, read from the wire octet by octet, and that it is the site that it announces."""

import asyncio
import socket
import subprocess
import sys
import time

import pytest

import netcheck.rehearsal.dnssd
from netcheck.rehearsal.background import running_site
from netcheck.rehearsal.device import Service
from netcheck.rehearsal.scenarios import NEW, OLD, SCENARIOS
from netcheck.rehearsal.site import Site

from .dnssd_responder import GROUP, LOOPBACK, PTR, _member, name

KINDS: dict[Service, str] = {
    "ipp": "_ipp._tcp",
    "raw": "_pdl-datastream._tcp",
    "lpd": "_printer._tcp",
    "http": "_http._tcp",
}


def answers(kind: str) -> bytes:
    """All that comes when a PTR question is asked by hand, three times: a busy machine is slow, and other sites on this
    machine's loopback answer too."""
    return b"".join(_answers(kind) for _ in range(3))


def _answers(kind: str, seconds: float = 0.4) -> bytes:
    """One question (RFC 1035 s4.1), and what came within that time."""
    query = bytes(5) + b"\1" + bytes(6) + name(f"{kind}.local") + PTR.to_bytes(2) + b"\0\1"
    with _member() as client:
        client.settimeout(0.05)
        client.sendto(query, GROUP)
        until, came = time.monotonic() + seconds, []
        while time.monotonic() < until:
            try:
                octets = client.recv(9000)
            except TimeoutError:
                continue
            if octets[2] & 0x80:
                came.append(octets)
    return b"".join(came)


def test_every_service_is_announced_with_its_port() -> None:
    with running_site(SCENARIOS["ready"]) as site:
        for service, kind in KINDS.items():
            octets = answers(kind)
            for ports, device in ((site.ports["old"], OLD), (site.ports["new"], NEW)):
                label = device.make_and_model.encode()
                assert bytes([len(label)]) + label in octets
                # SRV (RFC 2782): priority 0, weight 0, port, and then the host's name or a pointer to it.
                assert bytes(4) + ports[service].to_bytes(2) in octets
                assert device.host_name.encode() in octets
            assert socket.inet_aton(LOOPBACK) in octets


def test_what_is_unplugged_is_not_announced() -> None:
    with running_site(SCENARIOS["new-unreachable"]) as site:
        octets = answers("_ipp._tcp")
        assert bytes(4) + site.ports["old"]["ipp"].to_bytes(2) in octets
        assert bytes(4) + site.ports["new"]["ipp"].to_bytes(2) not in octets
        assert bytes(4) + site.ports["old"]["ipps"].to_bytes(2) not in answers("_ipps._tcp")


def test_the_end_of_the_site_takes_leave() -> None:
    """RFC 6762 s10.1: a record with a TTL of 0."""
    with _member() as client:
        with running_site(SCENARIOS["ready"]):
            pass
        client.settimeout(1)
        farewell = b""
        while OLD.host_name.encode() not in farewell:
            farewell = client.recv(9000)
    assert name("_ipp._tcp.local")[:-1] + b"\0\0\x0c\0\1\0\0\0\0" in farewell


@pytest.mark.parametrize("fault", [OSError(98, "Address already in use"), OSError(19, "No such device")])
def test_a_machine_without_multicast_has_the_site_all_the_same(monkeypatch: pytest.MonkeyPatch, fault: OSError) -> None:
    def refuse(**_: object) -> None:
        raise fault

    monkeypatch.setattr("zeroconf.asyncio.AsyncZeroconf", refuse)

    async def started() -> None:
        async with Site(SCENARIOS["ready"]) as site:
            with socket.create_connection((LOOPBACK, site.ports["new"]["ipp"]), 1):
                pass

    asyncio.run(started())


def test_the_library_is_not_loaded_before_a_site_starts() -> None:
    script = "import sys, netcheck.rehearsal.site; print('zeroconf' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", script], capture_output=True, text=True).stdout == "False\n"
    assert netcheck.rehearsal.dnssd.LOOPBACK == LOOPBACK
