"""The ports probe against listeners of our own: states, round trips, and the segment size (RFC 9293 s3.7.1)."""

import asyncio
import errno
import socket
import sys
import time
from collections.abc import Iterator

import pytest

from netcheck.facts.network import Service
from netcheck.probing import Answer, Deadline, Miss, Target
from netcheck.roles import Role
from netcheck.wire import Wire
from probes.ports import CONNECTS, PROBE, _segment

MOST_OPTIONS = 40
"""A TCP header holds at most so many octets of options (RFC 9293 s3.1: data offset), which a segment must leave room
for (s3.7.1: Eff.snd.MSS)."""


@pytest.fixture
def listener() -> Iterator[socket.socket]:
    with socket.socket() as it:
        it.bind(("127.0.0.1", 0))
        it.listen(8)
        yield it


def tried(seconds: float = 5.0, address: str = "127.0.0.1", **ports: int) -> dict[str, Service]:
    async def ask() -> list[Answer[Service] | Miss]:
        target = Target(Role.NEW, address, address, ports)
        async with Wire() as wire:
            return [reply async for reply in PROBE.ask(target, wire, Deadline(time.monotonic() + seconds))]

    replies = asyncio.run(ask())
    return {reply.payload.service: reply.payload for reply in replies if isinstance(reply, Answer)}


def port_of(it: socket.socket) -> int:
    return int(it.getsockname()[1])


def test_open_refused_and_never_snmp(listener: socket.socket) -> None:
    with socket.socket() as unused:
        unused.bind(("127.0.0.1", 0))
        found = tried(ipp=port_of(listener), raw=port_of(unused), snmp=161)
    assert set(found) == {"ipp", "raw"}
    assert (found["ipp"].state, found["ipp"].error, len(found["ipp"].round_trips_us)) == ("open", "", CONNECTS)
    assert all(0 < trip < 5_000_000 for trip in found["ipp"].round_trips_us)
    refused = found["raw"]
    assert (refused.state, refused.error, refused.round_trips_us) == ("refused", "ECONNREFUSED", ())
    assert refused.segment == 0  # nothing was agreed on


def test_nothing_is_written(listener: socket.socket) -> None:
    """Whatever reaches a raw port is printed."""
    tried(raw=port_of(listener))
    listener.settimeout(2)
    for _ in range(CONNECTS):
        connection, _ = listener.accept()
        with connection:
            assert connection.recv(16) == b""


@pytest.mark.skipif(not hasattr(socket, "TCP_MAXSEG"), reason="this system does not tell")
@pytest.mark.parametrize("announced", [536, 1000, 1220, 1460])
def test_the_segment_size_is_what_the_other_end_takes_less_options(announced: int) -> None:
    with socket.socket() as it:
        it.setsockopt(socket.IPPROTO_TCP, socket.TCP_MAXSEG, announced)
        it.bind(("127.0.0.1", 0))
        it.listen()
        found = tried(ipp=port_of(it))["ipp"]
    assert announced - MOST_OPTIONS <= found.segment <= announced


@pytest.mark.skipif(not hasattr(socket, "TCP_MAXSEG"), reason="this system does not tell")
def test_over_ipv6_too() -> None:
    with socket.socket(socket.AF_INET6) as it:
        it.setsockopt(socket.IPPROTO_TCP, socket.TCP_MAXSEG, 1220)
        try:
            it.bind(("::1", 0))
        except OSError:
            pytest.skip("no IPv6 here")
        it.listen()
        found = tried(address="::1", ipp=port_of(it))["ipp"]
    assert 1220 - MOST_OPTIONS <= found.segment <= 1220


class _Closed:
    """A connection whose system does not say any more."""

    def getsockopt(self, *_: int) -> int:
        raise OSError(errno.EINVAL, "closed")


def test_a_system_that_does_not_tell_is_no_number(monkeypatch: pytest.MonkeyPatch) -> None:
    assert _segment(_Closed()) == 0  # type: ignore[arg-type]
    monkeypatch.delattr(socket, "TCP_MAXSEG", raising=False)
    assert _segment(_Closed()) == 0  # type: ignore[arg-type]


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only here a full backlog is silent for certain")
def test_silence_is_waited_for_and_has_no_segment() -> None:
    """A listener whose queue is full drops the SYN: nothing comes back, as of a firewall."""
    with socket.socket() as it:
        it.bind(("127.0.0.1", 0))
        it.listen(0)
        waiting = [socket.socket() for _ in range(4)]
        try:
            for each in waiting:
                each.setblocking(False)
                each.connect_ex(("127.0.0.1", port_of(it)))
            found = tried(seconds=0.6, ipp=port_of(it))["ipp"]
        finally:
            for each in waiting:
                each.close()
    assert (found.state, found.segment, found.round_trips_us) == ("silent", 0, ())
    assert 400 <= found.waited_ms <= 2_000


def test_its_source_names_port_and_service() -> None:
    service = Service("ipp", 8631, "open", "", 1, (900,), 1460)
    assert list(PROBE.read(service)) == [("tcp/8631 ipp", service)]
    assert Service("ipp", 631, "open", "", 1, (900,)).segment == 0  # documents from before it was read
