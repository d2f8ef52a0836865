"""One agent on the wire: a question goes out, is repeated with back-off, and comes back as an answer or as a reason.

Silence, refusal and nonsense stay apart, because they send a technician to different places. `Line` is what the agents
of all versions have in common; `CommunityLine` speaks v1 and v2c. The community lives there and in the datagrams, and
in nothing that anyone prints.
"""

import errno
import ipaddress
from abc import ABC, abstractmethod
from collections.abc import Callable, Sequence
from typing import TypeVar

from netcheck.probing import Deadline, Target
from netcheck.roles import Outcome
from netcheck.wire import Datagram, Wire

from . import ber, discovery, message
from .ber import MalformedError, Oid
from .discovery import Report
from .gathering import Failure
from .message import REQUEST_IDS, Kind, Pdu, Spoken, Version

PATIENCE_S = (1.0, 2.5)
"""How long the first and the second try of a question may take: a device that was asleep answers the second."""
GREETING_S = (1.0, 1.5)
"""The second try of a v2c or v3 greeting, itself in two: some devices need more than a second to wake (common practice,
no source)."""

_ANY_LENGTH = 1 << 64

R = TypeVar("R")


def token_of(data: bytes) -> int | None:
    """What tells answers apart: the request id of v1 and v2c, the message id of v3. None where there is none.

    Found even in a message that is cut short or otherwise wrong behind it, so that nonsense is not taken for silence.
    """
    end = len(data)
    try:
        version, at = message.read_integer(data, _inside(data, 0), end, "version")
        if version == discovery.VERSION:
            at = _inside(data, at)
        else:
            _, at = ber.element(data, at, end, ber.OCTET_STRING, "community")
            at = _inside(data, at)
        return message.read_integer(data, at, end, "id")[0]
    except MalformedError:
        return None


def _inside(data: bytes, at: int) -> int:
    """Where the contents of the element at `at` begin, whatever its length claims."""
    if at + 2 > len(data):
        raise MalformedError("element cut short", at)
    return ber.header(data, at, _ANY_LENGTH)[1]


class Line(ABC):
    """The conversation with the agent of one target."""

    def __init__(self, target: Target, wire: Wire, deadline: Deadline) -> None:
        self.deadline = deadline
        self.remarks: dict[str, None] = {}
        self.sparing = wire.sparing
        self._address, self._port = target.address, target.ports["snmp"]
        self._wire = wire

    @abstractmethod
    async def get(
        self, version: Spoken, oids: Sequence[Oid], patience_s: Sequence[float] = PATIENCE_S
    ) -> Pdu | Failure:
        """These objects, or why there is no answer that can be used."""

    @abstractmethod
    async def follow(self, version: Spoken, oids: Sequence[Oid], repetitions: int) -> Pdu | Failure:
        """What follows these objects: a GETBULK, or with no repetitions a GETNEXT, which v1 has too."""

    async def discover(self, patience_s: Sequence[float] = PATIENCE_S) -> Report | Failure:
        """What the agent says to SNMPv3 discovery."""
        return await self.exchange(discovery.request, discovery.decode, patience_s)

    async def exchange(
        self, octets: Callable[[int], bytes], read: Callable[[bytes], R], patience_s: Sequence[float]
    ) -> R | Failure:
        """What `read` makes of the answer to the octets of a message with a given id, or why there is none.

        The same message goes out on every try: a late answer to the first one is an answer.
        """
        token = _four_octets(self._wire.token())
        question = octets(token)
        for wait_s in patience_s:
            try:
                datagram = await self._once(question, token, wait_s)
            except TimeoutError:
                continue
            except ConnectionRefusedError:
                return _refused(self._port)
            except OSError as error:
                return _unreachable(error)
            self._remark(datagram)
            try:
                return read(datagram.data)
            except MalformedError as error:
                return Failure(Outcome.MALFORMED, str(error))
        return Failure(Outcome.SILENT, f"no answer to {len(patience_s)} tries")

    async def _once(self, octets: bytes, token: int, wait_s: float) -> Datagram:
        left_s = min(wait_s, self.deadline.left())
        if not left_s:
            raise TimeoutError
        return await self._wire.exchange(self._address, self._port, octets, token, token_of, left_s)

    def _remark(self, datagram: Datagram) -> None:
        host, port = datagram.sender
        if not _same(host, self._address):
            self.remarks[f"answered from another address, {host}"] = None
        if port != self._port:
            self.remarks[f"answered from another port, {port}"] = None


class CommunityLine(Line):
    """The same in v1 and v2c."""

    def __init__(self, target: Target, wire: Wire, deadline: Deadline) -> None:
        super().__init__(target, wire, deadline)
        # As the octets that the environment holds, which need not be UTF-8.
        self._community = target.community.reveal().encode("utf-8", "surrogateescape")

    async def get(
        self, version: Spoken, oids: Sequence[Oid], patience_s: Sequence[float] = PATIENCE_S
    ) -> Pdu | Failure:
        """See `Line`."""
        request = message.get(Version(version), self._community, oids)
        return await self.exchange(request.octets, _response, patience_s)

    async def follow(self, version: Spoken, oids: Sequence[Oid], repetitions: int) -> Pdu | Failure:
        """See `Line`."""
        if repetitions:
            request = message.getbulk(self._community, oids, repetitions)
        else:
            request = message.getnext(Version(version), self._community, oids)
        return await self.exchange(request.octets, _response, PATIENCE_S)


def _response(data: bytes) -> Pdu:
    pdu = message.decode(data).pdu
    if pdu.kind is not Kind.RESPONSE:
        raise MalformedError(f"{pdu.kind.name} instead of a response", 0)
    return pdu


def _four_octets(token: int) -> int:
    """A token as a request id whose shortest form has four octets (see message); distinct ones stay distinct, as far
    as tokens that are in use at the same time go."""
    return token if token in REQUEST_IDS else token % REQUEST_IDS.start + REQUEST_IDS.start


def _same(one: str, other: str) -> bool:
    if one == other:
        return True
    return ipaddress.ip_address(one.partition("%")[0]) == ipaddress.ip_address(other.partition("%")[0])


def _refused(port: int) -> Failure:
    """Who said it is not known: a firewall answers in a device's name, and so does a second machine on its address."""
    told = f"ICMP says that nobody listens on udp/{port}: SNMP is off, or a firewall or another machine said it"
    return Failure(Outcome.REFUSED, told)


def _unreachable(error: OSError) -> Failure:
    name = errno.errorcode.get(error.errno or 0, "")
    return Failure(Outcome.UNREACHABLE, f"{name} {error.strerror or error}".strip())
