"""Answers that were worked out once and are replayed, for a fleet that has to outrun its client. Pure.

The rehearsal's own agent and printer work every answer out; this only remembers them. Two requests are the same when
they differ in nothing but their id, so an answer is kept with a hole where the id stands. A request that was not met
before, of whatever kind, goes to the agent or the printer, and nothing here understands more of a message than where
its id is. A replayed answer is as old as the template: the clocks in it (sysUpTime, printer-up-time) stand still.
"""

from __future__ import annotations

from collections.abc import Callable

MOST_TEMPLATES = 1024
_IPP_ID = slice(4, 8)  # RFC 8010 s3.1.1: version (2), operation or status (2), request-id (4)
_SEQUENCE, _INTEGER, _OCTET_STRING = 0x30, 0x02, 0x04
_V2C = 1

Template = tuple[bytes, bytes]
"""The octets before the id and those after it."""


class Replay:
    """Answers of one service. `work_out` gives the answer to a request, `id_of` finds the id in either of them."""

    def __init__(self, work_out: Callable[[bytes], bytes | None], id_of: Callable[[bytes], slice | None]) -> None:
        self.worked_out = 0
        self._work_out, self._id_of = work_out, id_of
        self._templates: dict[Template, Template] = {}

    def answer(self, request: bytes) -> bytes | None:
        """What the service says to `request`; None is silence."""
        place = self._id_of(request)
        if place is None:
            return self._fresh(request)
        asked, number = (request[: place.start], request[place.stop :]), request[place]
        known = self._templates.get(asked)
        if known is not None:
            return known[0] + number + known[1]
        answer = self._fresh(request)
        place = self._id_of(answer) if answer else None
        if answer and place and answer[place] == number and len(self._templates) < MOST_TEMPLATES:
            self._templates[asked] = answer[: place.start], answer[place.stop :]
        return answer

    def _fresh(self, request: bytes) -> bytes | None:
        self.worked_out += 1
        return self._work_out(request)


def ipp_id(message: bytes) -> slice | None:
    """Where the request-id stands in an IPP message."""
    return _IPP_ID if len(message) >= _IPP_ID.stop else None


def snmp_id(message: bytes) -> slice | None:
    """Where the contents of the request-id stand in an SNMPv1 or v2c message; None in one that is neither.

    RFC 1157 s4: a SEQUENCE of version, community and PDU, which begins with the request-id.
    """
    try:
        at = _inside(message, 0, _SEQUENCE)
        if message[at] != _INTEGER or message[at + 1] != 1 or message[at + 2] > _V2C:
            return None
        at = _inside(message, at + 3, _OCTET_STRING) + message[at + 4]
        at = _inside(message, at, message[at])
        length = message[at + 1]
        return slice(at + 2, at + 2 + length) if message[at] == _INTEGER and 0 < length <= 4 else None
    except (IndexError, ValueError):
        return None


def _inside(message: bytes, at: int, tag: int) -> int:
    """Where the contents of the element at `at` begin. Raises IndexError, or ValueError for another element."""
    if message[at] != tag:
        raise ValueError(f"tag {message[at]:#x} at {at}")
    length = message[at + 1]
    return at + 2 + (length & 0x7F if length > 0x7F else 0)
