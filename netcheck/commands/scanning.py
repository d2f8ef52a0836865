"""The scan of a network that the user names: the only place where somebody is asked whom nobody has named one by one.
Stage: before `find` asks who is who; beside collect, which runs the probe that it needs.

What is dangerous here is not to miss a printer but to be a nuisance. So every address gets what cannot be less:

    one connection to each of two ports, closed again at once with nothing sent, since what reaches port 9100 is printed
    one SNMP question, whatever the SNMP probe greets with, not repeated
    and where a host is alive and neither has told anything, that greeting once more with all its patience: it ends in
    the SNMPv3 discovery, to which an agent answers that ignores our community

The pace bounds what the network has to carry. An address where nobody is costs its link an ARP broadcast a second for
three seconds (Linux and Windows, common practice, no source), so that the pace means 150 of them a second at the most,
each of 60 octets; and the kernel forgets unanswered neighbours fast enough to stay below the 512 at which Linux starts
to push out others (net.ipv4.neigh.default.gc_thresh2).
"""

import asyncio
import errno
import socket
import time
from collections import Counter
from collections.abc import AsyncGenerator, Callable, Collection, Iterable, Sequence
from contextlib import aclosing
from dataclasses import dataclass, field
from typing import Any, Final, Generic, TypeVar

from netcheck.case import Attempt
from netcheck.collect import Recorder, collect
from netcheck.facts import Fact
from netcheck.facts.network import NameLookup, SnmpAgent
from netcheck.finding.network import Network
from netcheck.finding.sighting import SCAN
from netcheck.place import DEFAULT_PORTS
from netcheck.probing import Answer, Deadline, Miss, Probe, Target
from netcheck.roles import Outcome, Role
from netcheck.secret import Secret
from netcheck.wire import Wire, socket_address

P = TypeVar("P")
PER_S: Final = 50
"""New addresses a second: a /24 in five seconds, in about 150 frames a second of the smallest kind."""
AT_ONCE: Final = 64
"""Addresses under way: what the pace needs when nobody answers, and with three sockets each (but on Linux, one is for
SNMP) still below the 256 open files that macOS gives a program (common practice, no source)."""
CONNECT_S: Final = 1.25
"""For one connection: the first SYN, and the one that the system sends after a second (RFC 6298 s2.1), with time for
its answer."""
GREETING_S: Final = 1.0
"""For the SNMP question: as long as the probe waits before it would repeat it."""
PATIENT_S: Final = 1.7
"""For the second greeting: the same again, and then the discovery, which a live host answers at once."""
LISTENING_S: Final = 2.5
KNOCKS: Final = {service: DEFAULT_PORTS[service] for service in ("ipp", "raw")}
SNMP: Final = DEFAULT_PORTS["snmp"]

_AGENT: Final = frozenset({Outcome.ANSWERED, Outcome.EMPTY, Outcome.DENIED, Outcome.MALFORMED})
_NOT_SENT: Final = frozenset({errno.ENETUNREACH, errno.ENETDOWN, errno.EACCES, errno.EPERM})
"""Our own system's word: it had no way to send it."""


@dataclass(frozen=True, slots=True)
class Hit:
    """A host that is alive. ``ports`` are those of `KNOCKS` that are open, ``snmp`` is how the greeting ended."""

    address: str
    ports: dict[str, int]
    snmp: Outcome

    @property
    def tells(self) -> bool:
        """Is there anything that can be asked what it is? An agent that does not let us in has said all."""
        return bool(self.ports) or self.snmp in _AGENT - {Outcome.DENIED}


@dataclass
class Scan:
    """A scan and how far it got. It belongs to the caller, so that an interrupted one loses nothing."""

    network: Network
    community: Secret
    addresses: Sequence[str]
    asked: int = 0
    hits: list[Hit] = field(default_factory=list)
    denials: list[Attempt] = field(default_factory=list)
    _failed: Counter[str] = field(default_factory=Counter)
    _unsent: Counter[str] = field(default_factory=Counter)
    _began: float = field(default_factory=time.monotonic)
    _took_s: float | None = None

    @property
    def about_s(self) -> float:
        """Seconds until all is over where few are alive: we listen first, and the last one needs its time."""
        return LISTENING_S + self.network.num_addresses / PER_S + CONNECT_S

    @property
    def progress(self) -> str:
        """How far it is."""
        return f"{self.asked} of {len(self.addresses)} addresses asked, {len(self.hits)} answered"

    async def run(
        self, never: Collection[str], probes: Iterable[Probe[Any]], wire: Wire, met: Callable[[Hit], object]
    ) -> None:
        """Ask all but those, in order and in step. ``met`` is called for each host that can say what it is."""
        self.addresses = [address for address in self.addresses if address not in never]
        self._began = time.monotonic()
        greeting = [First(probe) for probe in probes if SnmpAgent in probe.provides]
        free = asyncio.Semaphore(AT_ONCE)
        try:
            async with asyncio.TaskGroup() as group:
                for address in self.addresses:
                    await free.acquire()
                    asking = group.create_task(self._ask(address, greeting, wire, met))
                    asking.add_done_callback(lambda _: free.release())
                    # Always the whole step: one that was held up is not made good by a burst.
                    await asyncio.sleep(1 / PER_S)
        finally:
            self._took_s = time.monotonic() - self._began

    def attempt(self) -> Attempt:
        """The whole scan as one attempt with counts: a line for each address would tell nobody more."""
        where = f"{self.network} udp/{SNMP}, {', '.join(f'tcp/{port}' for port in KNOCKS.values())}"
        whole = self._took_s is not None and self.asked == len(self.addresses)
        parts = [self.progress if whole else f"interrupted: {self.progress}"]
        parts += [f"our own system had no way for {times} connections ({name})" for name, times in self._unsent.items()]
        parts += [f"{reason} ({times} times)" for reason, times in self._failed.most_common(1)]
        past_s = time.monotonic() - self._began
        took_s = past_s if self._took_s is None else self._took_s
        began_ms = round((time.time() - past_s) * 1000)
        return Attempt(Role.HERE, SCAN, where, self._outcome(), "; ".join(parts), began_ms, round(took_s * 1000))

    def _outcome(self) -> Outcome:
        if self.hits:
            return Outcome.ANSWERED
        if self._failed:
            return Outcome.FAILED
        return Outcome.UNREACHABLE if self._unsent else Outcome.SILENT

    async def _ask(
        self, address: str, greeting: Sequence[Probe[Any]], wire: Wire, met: Callable[[Hit], object]
    ) -> None:
        greeted, knocked = await asyncio.gather(
            self._greet(address, greeting, GREETING_S, wire),
            asyncio.gather(*(_knock(address, port, wire) for port in KNOCKS.values())),
        )
        ports = {service: KNOCKS[service] for service, error in zip(KNOCKS, knocked, strict=True) if not error}
        self._unsent.update(errno.errorcode[error] for error in knocked if error in _NOT_SENT)
        alive = bool(ports) or errno.ECONNREFUSED in knocked or _ended(greeted) in _AGENT | {Outcome.REFUSED}
        if alive and not ports and _ended(greeted) is Outcome.SILENT:
            greeted = await self._greet(address, greeting, PATIENT_S, wire)
        self.asked += 1
        if alive:
            self.denials += [each for each in greeted if each.outcome is Outcome.DENIED]
            self.hits.append(hit := Hit(address, ports, _ended(greeted)))
            if hit.tells:
                met(hit)

    async def _greet(self, address: str, greeting: Sequence[Probe[Any]], limit_s: float, wire: Wire) -> list[Attempt]:
        """The first contact with an agent."""
        recorder = Recorder()
        target = Target(Role.DEVICE, address, ports={"snmp": SNMP}, community=self.community)
        await target.learnt.add(NameLookup(address, (address,)))
        await collect([target], greeting, recorder, limit_s, wire)
        self._failed.update(each.reason for each in recorder.attempts if each.outcome is Outcome.FAILED)
        return recorder.attempts


def _ended(greeted: Sequence[Attempt]) -> Outcome:
    return next((each.outcome for each in greeted), Outcome.SILENT)


class First(Generic[P]):
    """A probe cut short after its first reply, which says whether anybody is there: nothing else is asked."""

    def __init__(self, probe: Probe[P]) -> None:
        self._probe = probe
        self.name, self.wave, self.roles, self.provides = probe.name, probe.wave, probe.roles, probe.provides
        self.needs_address, self.services = probe.needs_address, probe.services

    async def ask(self, target: Target, wire: Wire, deadline: Deadline) -> AsyncGenerator[Answer[P] | Miss, None]:
        """See `Probe`."""
        async with aclosing(self._probe.ask(target, wire, deadline)) as replies:
            async for reply in replies:
                yield reply
                return

    def read(self, payload: P) -> Iterable[tuple[str, Fact]]:
        """See `Probe`."""
        return self._probe.read(payload)


async def _knock(address: str, port: int, wire: Wire) -> int:
    """Connect and close: 0 where it is open, else the number of the error, ETIMEDOUT for silence."""
    family, where = socket_address(address, port, socket.SOCK_STREAM)
    async with wire.connects:
        with socket.socket(family, socket.SOCK_STREAM) as door:
            door.setblocking(False)
            try:
                async with asyncio.timeout(CONNECT_S):
                    await asyncio.get_running_loop().sock_connect(door, where)
            except TimeoutError:
                return errno.ETIMEDOUT
            except ConnectionResetError:
                return errno.ECONNREFUSED  # it is the host's own word as much as a refusal is
            except OSError as error:
                return error.errno or errno.EIO
    return 0
