"""The simulated fleet, in a process of its own: every address of `fleet_faces` answers, on the same ports.

    python tests/bench/fleet_responder.py CORE

Prints its ports as JSON, then for each line that it reads what it was asked so far; ends with its standard input, so
that it cannot outlive whoever started it. All devices share one datagram socket and one listener a service, bound to
every loopback address: a datagram comes with the address that it was sent to (`IP_PKTINFO`), and its answer leaves from
there. What is said is worked out by the rehearsal and replayed (`fleet_replay`). A plain epoll loop carries it, because
the fleet must be faster than whoever is measured.
"""

import json
import os
import select
import socket
import struct
import sys
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict, dataclass
from functools import partial

from fleet_faces import ADDRESS, Face, at
from fleet_http import Conversation
from fleet_replay import Replay, ipp_id, snmp_id

from netcheck.rehearsal.ipp_printer import IppPrinter
from netcheck.rehearsal.mib_printer import snmp_rows
from netcheck.rehearsal.raw_port import line_printer
from netcheck.rehearsal.scenarios import NEW
from netcheck.rehearsal.snmp_agent import SnmpAgent

_ENGINE_ID = bytes.fromhex("80007ed903027700000022")  # RFC 3411 s5: enterprise 32473 (RFC 5612), and a MAC address
_ANY = "0.0.0.0"  # who asks at another address than a device's is not answered, and those are on loopback
_IP_PKTINFO = 8  # linux/in.h; struct in_pktinfo: interface, local address, address in the header
_PKTINFO = struct.Struct("=I4s4s")
_SO_MEMINFO, _DROPS = 55, 8  # asm-generic/socket.h; linux/sock_diag.h: SK_MEMINFO_DROPS is the last of nine numbers
_BUFFER = 4 << 20
_BACKLOG = 4096
_BURST = 64
_CHUNK = 65_536

Talk = Callable[[bytes], tuple[bytes, bool]]
"""What a connection says to octets that came in, and whether it stays open."""


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

    def __init__(self) -> None:
        self._counted = Counted()
        self._poll = select.epoll()
        self._ready: dict[int, Callable[[], None]] = {}
        self._faces: dict[str, Face | None] = {}
        listeners = {name: self._listener() for name in ("ipp", "raw", "lpd", "http")}
        self._datagrams = self._datagram_socket()
        self.ports = {name: listener.getsockname()[1] for name, listener in listeners.items()}
        self.ports["snmp"] = self._datagrams.getsockname()[1]
        self._agent = SnmpAgent(snmp_rows(NEW), _ENGINE_ID)
        self._snmp = Replay(self._agent.answer, snmp_id)
        printer = IppPrinter(NEW, f"{ADDRESS}:{self.ports['ipp']}")
        self._ipp = Replay(partial(printer.answer, NEW.ipp_path), ipp_id)
        talks = {"ipp": self._web, "http": self._web, "raw": self._print_port, "lpd": self._line_printer}
        for name, listener in listeners.items():
            self._watch(listener, partial(self._accept, listener, talks[name]))
        self._watch(self._datagrams, self._answer_datagrams)

    def counted(self) -> Counted:
        """What has happened so far."""
        self._counted.snmp_sets = self._agent.set_requests
        self._counted.worked_out = self._snmp.worked_out + self._ipp.worked_out
        memory = self._datagrams.getsockopt(socket.SOL_SOCKET, _SO_MEMINFO, 4 * (_DROPS + 1))
        self._counted.dropped = struct.unpack(f"={_DROPS + 1}I", memory)[_DROPS]
        return self._counted

    def run(self) -> None:
        """Answer until standard input ends."""
        going = True

        def told() -> None:
            nonlocal going
            going = bool(os.read(0, _CHUNK))
            print(json.dumps(asdict(self.counted())), flush=True)

        self._ready[0] = told
        self._poll.register(0, select.EPOLLIN | select.EPOLLHUP)
        while going:
            for descriptor, _ in self._poll.poll():
                if ready := self._ready.get(descriptor):
                    ready()

    def _watch(self, sock: socket.socket, ready: Callable[[], None]) -> None:
        self._ready[sock.fileno()] = ready
        self._poll.register(sock, select.EPOLLIN)

    def _face(self, address: str) -> Face | None:
        if address not in self._faces:
            self._faces[address] = at(address)
        return self._faces[address]

    # --- datagrams

    def _datagram_socket(self) -> socket.socket:
        sock = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, _BUFFER)
        sock.setsockopt(socket.IPPROTO_IP, _IP_PKTINFO, 1)
        sock.setblocking(False)
        sock.bind((_ANY, 0))
        return sock

    def _answer_datagrams(self) -> None:
        sock = self._datagrams
        for _ in range(_BURST):
            try:
                request, ancillary, _, sender = sock.recvmsg(_CHUNK, 64)
            except BlockingIOError:
                return
            asked = _PKTINFO.unpack(ancillary[0][2])[2]
            face = self._face(socket.inet_ntoa(asked))
            if face is None:
                continue
            self._counted.pdus += 1
            answer = self._snmp.answer(face.off(request))
            if answer is not None:
                source = _PKTINFO.pack(0, asked, asked)
                with suppress(BlockingIOError):  # lost on a full network
                    sock.sendmsg([face.on(answer)], [(socket.IPPROTO_IP, _IP_PKTINFO, source)], 0, sender)

    # --- connections

    def _listener(self) -> socket.socket:
        listener = socket.create_server((_ANY, 0), backlog=_BACKLOG)
        listener.setblocking(False)
        return listener

    def _accept(self, listener: socket.socket, talk_of: Callable[[Face], Talk]) -> None:
        for _ in range(_BURST):
            try:
                connection, _ = listener.accept()
            except BlockingIOError:
                return
            face = self._face(connection.getsockname()[0])
            if face is None:
                connection.close()
                continue
            self._counted.connections += 1
            self._watch(connection, partial(self._converse, connection, talk_of(face)))

    def _converse(self, connection: socket.socket, talk: Talk) -> None:
        try:
            octets = connection.recv(_CHUNK, socket.MSG_DONTWAIT)
            reply, stays = talk(octets) if octets else (b"", False)
            if reply:
                connection.sendall(reply)
        except BlockingIOError:
            return  # the event was for a connection that had this descriptor before
        except OSError:
            stays = False  # a peer may hang up as it likes
        if stays:
            return
        del self._ready[connection.fileno()]
        connection.close()

    def _web(self, face: Face) -> Talk:
        def answer(path: str, body: bytes) -> bytes | None:
            self._counted.ipp_requests += 1
            said = self._ipp.answer(face.off(body)) if path == NEW.ipp_path else None
            return None if said is None else face.on(said)

        return Conversation(answer, f"{NEW.make_and_model}\n".encode()).take

    def _print_port(self, _face: Face) -> Talk:
        def swallow(octets: bytes) -> tuple[bytes, bool]:
            self._counted.raw_octets += len(octets)
            return b"", True

        return swallow

    def _line_printer(self, _face: Face) -> Talk:
        return lambda octets: (line_printer(octets) or b"", False)


def main() -> None:
    os.sched_setaffinity(0, {int(sys.argv[1])})
    fleet = Fleet()
    print(json.dumps(fleet.ports), flush=True)
    fleet.run()


if __name__ == "__main__":
    main()
