"""What the devices of a simulated fleet say: worked out by the rehearsal's own agent and printer, and replayed. Pure.

Devices of one kind share the answers; each puts its own face on them. Importing this module imports pysnmp, as the
agent does: only the processes that answer do so.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from netcheck.rehearsal.fleet.kinds import Behind, Kind, Manner
from netcheck.rehearsal.fleet.members import ADDRESS, Member
from netcheck.rehearsal.fleet.replay import Replay, ipp_id, snmp_id
from netcheck.rehearsal.fleet.web import Conversation
from netcheck.rehearsal.ipp_printer import IppPrinter
from netcheck.rehearsal.mib_printer import snmp_rows
from netcheck.rehearsal.raw_port import line_printer
from netcheck.rehearsal.snmp_agent import SnmpAgent

_ENGINE_ID = bytes.fromhex("80007ed903027700000022")  # RFC 3411 s5: enterprise 32473 (RFC 5612), and a MAC address
COPIES = 4  # of every datagram of a flooding device
_CUT = 9  # octets that are missing at the end of what a broken one says
_ENDLESS = b"HTTP/1.1 200 OK\r\nContent-Type: application/ipp\r\nConnection: close\r\n\r\n"

Talk = Callable[[bytes], tuple[bytes, bool]]
"""What a connection says to octets that came in, and whether it stays open."""


class Voice:
    """All devices of one kind. ``ipp_requests`` and ``raw_octets`` count what they were sent."""

    def __init__(self, kind: Kind, ipp_port: int) -> None:
        self.ipp_requests = self.raw_octets = 0
        self._kind = kind
        self._is_mute = kind.manner is Manner.HANGING or kind.behind.get("snmp") is Behind.SILENCE
        self._agent = SnmpAgent(snmp_rows(kind.device), _ENGINE_ID)
        self._snmp = Replay(self._agent.answer, snmp_id)
        printer = IppPrinter(kind.speaks_ipp, f"{ADDRESS}:{ipp_port}")
        self._path = kind.speaks_ipp.ipp_path
        self._ipp = Replay(partial(printer.answer, self._path), ipp_id)

    @property
    def snmp_sets(self) -> int:
        """What a reading tool must leave at nothing."""
        return self._agent.set_requests

    @property
    def worked_out(self) -> int:
        """How many answers were not replayed."""
        return self._snmp.worked_out + self._ipp.worked_out

    def datagrams(self, speaker: Member, request: bytes) -> list[bytes]:
        """What a device answers to a datagram; nothing is silence."""
        if self._is_mute:
            return []
        answer = self._snmp.answer(speaker.off(request))
        if answer is None:
            return []
        answer = speaker.on(answer)
        match self._kind.manner:
            case Manner.BROKEN:
                return [answer[:-_CUT]]
            case Manner.FLOODING:
                return [answer] * COPIES
            case _:
                return [answer]

    def talk(self, speaker: Member, service: str) -> Talk:
        """A new connection to one of a device's services."""
        if self._kind.manner is Manner.HANGING:
            return lambda _: (b"", True)
        if service == "raw":
            return self._swallow
        if service == "lpd":
            return lambda octets: (line_printer(octets) or b"", False)
        page = f"{self._kind.device.make_and_model}\n".encode()
        conversation = Conversation(partial(self._printed, speaker), page).take
        if self._kind.manner is Manner.FLOODING:
            return lambda octets: (_ENDLESS, True) if conversation(octets)[0] else (b"", True)
        return conversation

    def _printed(self, speaker: Member, path: str, body: bytes) -> bytes | None:
        self.ipp_requests += 1
        said = self._ipp.answer(speaker.off(body)) if path == self._path else None
        if said is None:
            return None
        said = speaker.on(said)
        return said[: len(said) // 2] if self._kind.manner is Manner.BROKEN else said

    def _swallow(self, octets: bytes) -> tuple[bytes, bool]:
        self.raw_octets += len(octets)
        return b"", True
