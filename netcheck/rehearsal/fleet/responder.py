"""The simulated fleet, in a process of its own: every address of `members` answers, on the same ports.

    python -m netcheck.rehearsal.fleet.responder '{"ports": {}, "alike": false, "core": null}'

Prints its ports as JSON, then for each line that it reads what it was asked so far; ends with its standard input, so
that it cannot outlive whoever started it. Several such processes share the ports that the first one chose. All devices
share one datagram socket and one listener a service, bound to every address and tied to the loopback interface: a
datagram comes with the address that it was sent to, and its answer leaves from there. A plain epoll loop carries it,
because the fleet must be faster than whoever sweeps it.
"""

from __future__ import annotations

import heapq
import itertools
import json
import os
import resource
import select
import socket
import struct
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict, dataclass
from functools import partial
from typing import Any

from netcheck.rehearsal.fleet.kinds import Manner
from netcheck.rehearsal.fleet.members import Member, member, number_at
from netcheck.rehearsal.fleet.ports import LISTENING, datagram_socket, listener
from netcheck.rehearsal.fleet.talk import Talk, Voice

_IP_PKTINFO = 8  # linux/in.h; struct in_pktinfo: interface, local address, address in the header
_PKTINFO = struct.Struct("=I4s4s")
_SO_MEMINFO, _DROPS = 55, 8  # asm-generic/socket.h; linux/sock_diag.h: SK_MEMINFO_DROPS is the last of nine numbers
_BURST = 64
_CHUNK = 65_536
_FLOOD = bytes(_CHUNK)
_FLOODED = 64 << 20  # octets after which even a flooding device has enough of one connection


@dataclass
class Counted:
    """What the fleet was asked. `dropped` are datagrams that it had no room for: its own fault, not the client's."""

    pdus: int = 0
    connections: int = 0
    ipp_requests: int = 0
    raw_octets: int = 0
    snmp_sets: int = 0
    worked_out: int = 0
    dropped: int = 0


class Fleet:
    """Sockets, and what answers behind them."""

    def __init__(self, ports: dict[str, int], *, alike: bool) -> None:
        self._counted = Counted()
        self._poll = select.epoll()
        self._ready: dict[int, Callable[[], None]] = {}
        self._members: dict[bytes, Member | None] = {}
        self._voices: dict[str, Voice] = {}
        self._later: list[tuple[float, int, Callable[[], None]]] = []
        self._numbers = itertools.count()
        self._alike = alike
        listeners = {service: listener(ports.get(service, 0)) for service in LISTENING}
        self._datagrams = datagram_socket(ports.get("snmp", 0))
        self._datagrams.setsockopt(socket.IPPROTO_IP, _IP_PKTINFO, 1)
        self.ports = {service: each.getsockname()[1] for service, each in listeners.items()}
        self.ports["snmp"] = self._datagrams.getsockname()[1]
        for service, each in listeners.items():
            self._watch(each, partial(self._accept, each, service))
        self._watch(self._datagrams, self._answer_datagrams)

    def counted(self) -> Counted:
        """What has happened so far."""
        voices, counted = self._voices.values(), self._counted
        counted.ipp_requests = sum(voice.ipp_requests for voice in voices)
        counted.raw_octets = sum(voice.raw_octets for voice in voices)
        counted.snmp_sets = sum(voice.snmp_sets for voice in voices)
        counted.worked_out = sum(voice.worked_out for voice in voices)
        memory = self._datagrams.getsockopt(socket.SOL_SOCKET, _SO_MEMINFO, 4 * (_DROPS + 1))
        counted.dropped = struct.unpack(f"={_DROPS + 1}I", memory)[_DROPS]
        return counted

    def run(self) -> None:
        """Answer until standard input ends."""
        going = True

        def told() -> None:
            nonlocal going
            going = bool(os.read(0, _CHUNK))
            print(json.dumps(asdict(self.counted())), flush=True)  # noqa: T201 - a pipe to whoever started this

        self._ready[0] = told
        self._poll.register(0, select.EPOLLIN | select.EPOLLHUP)
        while going:
            wait_s = max(0.0, self._later[0][0] - time.monotonic()) if self._later else None
            for descriptor, _ in self._poll.poll(wait_s):
                if ready := self._ready.get(descriptor):
                    ready()
            while self._later and self._later[0][0] <= time.monotonic():
                heapq.heappop(self._later)[2]()

    def _watch(self, sock: socket.socket, ready: Callable[[], None]) -> None:
        self._ready[sock.fileno()] = ready
        self._poll.register(sock, select.EPOLLIN)

    def _member(self, address: bytes) -> Member | None:
        if address not in self._members:
            number = number_at(address)
            self._members[address] = None if number is None else member(number, alike=self._alike)
        return self._members[address]

    def _voice(self, speaker: Member) -> Voice:
        kind = speaker.kind
        if kind.name not in self._voices:
            self._voices[kind.name] = Voice(kind, self.ports["ipp"])
        return self._voices[kind.name]

    def _soon(self, speaker: Member, say: Callable[[], None]) -> None:
        """Now, or after a slow device's while."""
        if speaker.kind.manner is Manner.SLOW:
            heapq.heappush(self._later, (time.monotonic() + speaker.delay_s, next(self._numbers), say))
        else:
            say()

    # --- datagrams

    def _answer_datagrams(self) -> None:
        for _ in range(_BURST):
            try:
                request, ancillary, _, sender = self._datagrams.recvmsg(_CHUNK, 64)
            except BlockingIOError:
                return
            asked = _PKTINFO.unpack(ancillary[0][2])[2]
            if (speaker := self._member(asked)) is None:
                continue
            self._counted.pdus += 1
            for answer in self._voice(speaker).datagrams(speaker, request):
                self._soon(speaker, partial(self._send, answer, asked, sender))

    def _send(self, answer: bytes, asked: bytes, sender: tuple[str, int]) -> None:
        source = _PKTINFO.pack(0, asked, asked)
        with suppress(BlockingIOError):  # lost on a full network
            self._datagrams.sendmsg([answer], [(socket.IPPROTO_IP, _IP_PKTINFO, source)], 0, sender)

    # --- connections

    def _accept(self, listening: socket.socket, service: str) -> None:
        for _ in range(_BURST):
            try:
                connection, _ = listening.accept()
            except BlockingIOError:
                return
            speaker = self._member(socket.inet_aton(connection.getsockname()[0]))
            if speaker is None:
                connection.close()
                continue
            self._counted.connections += 1
            connection.setblocking(False)
            talk = self._voice(speaker).talk(speaker, service)
            self._watch(connection, partial(self._converse, connection, speaker, talk))

    def _converse(self, connection: socket.socket, speaker: Member, talk: Talk) -> None:
        try:
            octets = connection.recv(_CHUNK)
            reply, stays = talk(octets) if octets else (b"", False)
        except BlockingIOError:
            return  # the event was for a connection that had this descriptor before
        except OSError:
            reply, stays = b"", False  # a peer may hang up as it likes
        if reply:
            self._soon(speaker, partial(self._say, connection, speaker, reply, stays=stays))
        elif not stays:
            self._end(connection)

    def _say(self, connection: socket.socket, speaker: Member, reply: bytes, *, stays: bool) -> None:
        if connection.fileno() < 0:
            return  # the peer did not wait
        try:
            connection.settimeout(1.0)  # an answer fits into the system's buffers, and mostly at once
            connection.sendall(reply)
            connection.setblocking(False)
        except OSError:
            stays = False
        if not stays:
            self._end(connection)
        elif speaker.kind.manner is Manner.FLOODING:
            self._ready[connection.fileno()] = partial(self._flood, connection, [_FLOODED])
            self._poll.modify(connection, select.EPOLLOUT)

    def _flood(self, connection: socket.socket, left: list[int]) -> None:
        try:
            left[0] -= connection.send(_FLOOD)
        except BlockingIOError:
            return
        except OSError:
            left[0] = 0
        if left[0] <= 0:
            self._end(connection)

    def _end(self, connection: socket.socket) -> None:
        if connection.fileno() >= 0:
            self._ready.pop(connection.fileno(), None)
            connection.close()


def main() -> None:
    most = resource.getrlimit(resource.RLIMIT_NOFILE)[1]
    resource.setrlimit(resource.RLIMIT_NOFILE, (most, most))  # connections of everybody who is asked at once
    told: dict[str, Any] = json.loads(sys.argv[1])
    if told["core"] is not None:
        os.sched_setaffinity(0, {told["core"]})
    fleet = Fleet(told["ports"], alike=told["alike"])
    print(json.dumps(fleet.ports), flush=True)  # noqa: T201 - a pipe to whoever started this
    fleet.run()


if __name__ == "__main__":
    main()
