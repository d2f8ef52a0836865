"""What a probe is. Stage: the door between the world and the Case; collect drives it, probes stand behind it.

A probe is two halves. ``ask`` is the only code that touches the world: an async generator that yields an `Answer` for
everything that came back and a `Miss` for everything that did not, *as they come*, so that cancelling it keeps what
was gathered. ``read`` is pure: an answer's payload becomes facts. A probe never judges and never raises to report what
a peer did: a peer that breaks the protocol is `Malformed` (raised by ``read``) or a `Miss`; any other exception is our
own bug, which collect records as an attempt that failed, leaving the other probes alone.

The caller owns the deadline. ``ask`` is cancelled when it has passed, and should end a little before by itself, so that
it can still say what did not answer.
"""

import asyncio
import time
from collections.abc import AsyncGenerator, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from importlib.metadata import entry_points
from typing import Any, Generic, Protocol, TypeVar, runtime_checkable

from netcheck.credentials import User
from netcheck.facts import Fact
from netcheck.facts.raw import RawRow
from netcheck.move import Seen
from netcheck.roles import Outcome, Role
from netcheck.secret import Secret
from netcheck.standard import Print
from netcheck.wire import Wire

PROBE_GROUP = "netcheck.probes"
F = TypeVar("F", bound=Fact)
NAMES_FIRST = 1
"""The wave of probes that turn a name into an address; all others ask an address, in wave 2."""


class Malformed(Exception):  # noqa: N818 - it says what the peer's answer is, not what we did
    """The peer's answer breaks its protocol; the text says how, and at which octet where that is known."""


class Learnt:
    """The facts that were learnt about one target so far in this run, by whichever probe. A probe that is stuck may
    wait for another one's fact, as IPP for the path that DNS-SD advertises; it must not depend on it."""

    def __init__(self) -> None:
        self._facts: list[Fact] = []
        self._waiting: list[asyncio.Future[None]] = []

    async def add(self, fact: Fact) -> None:
        """Tell it, and wake those who wait."""
        self._facts.append(fact)
        waiting, self._waiting = self._waiting, []
        for each in waiting:
            if not each.done():
                each.set_result(None)

    def of(self, kind: type[F]) -> list[F]:
        """What there is of a kind, in the order of learning."""
        return [fact for fact in self._facts if isinstance(fact, kind)]

    async def wait_for(self, kind: type[F], wait_s: float) -> list[F]:
        """The same, after at most ``wait_s`` seconds for the first one."""
        with suppress(TimeoutError):
            async with asyncio.timeout(wait_s):
                while not self.of(kind):
                    more: asyncio.Future[None] = asyncio.get_running_loop().create_future()
                    self._waiting.append(more)
                    await more
        return self.of(kind)


@dataclass(frozen=True, slots=True)
class Target:
    """Whom to ask. ``address`` is a literal IPv4 or IPv6 address, "" while (or because) a name has none.

    ``ports`` has a port for each service that may be asked (ipp ipps raw lpd snmp http https, and what the Standard
    names beyond them), ``path`` the resource path of a printing URI ("" for none). For the queue, ``queue`` is its name
    and ``ports["ipp"]`` its spooler's. SNMP asks as ``user`` where there is one, and by
    ``community`` otherwise. The role ``here`` is ourselves: it has no host, but for
    loopback where all that is asked is there, so that nothing leaves this machine. ``planned`` is the address that the
    new device is to have after the move, where that is another one than it is asked at.
    """

    role: Role
    host: str
    address: str = ""
    ports: dict[str, int] = field(default_factory=dict)
    path: str = ""
    queue: str = ""
    community: Secret = Secret("public")  # noqa: RUF009 - immutable
    user: User | None = None
    seen: tuple[Seen, ...] = ()
    prints: tuple[Print, ...] = ()
    planned: str = ""
    learnt: Learnt = field(default_factory=Learnt, compare=False)


@dataclass(frozen=True, slots=True)
class Deadline:
    """A moment on the monotonic clock."""

    at: float

    def left(self) -> float:
        """Seconds until then; 0.0 once it has passed."""
        return max(0.0, self.at - time.monotonic())


P = TypeVar("P")


@dataclass(frozen=True, slots=True)
class Answer(Generic[P]):
    """Something came back. ``target`` says what was asked in words fit for a report (never a secret), ``began`` is when
    (monotonic seconds), ``note`` what is remarkable about how it came."""

    target: str
    payload: P
    began: float
    note: str = ""


@dataclass(frozen=True, slots=True)
class Miss:
    """Nothing usable came back; ``reason`` is for a person: what was seen, with errno's name where there is one."""

    target: str
    outcome: Outcome
    reason: str
    began: float


class Probe(Protocol[P]):
    """One way of asking. ``provides`` lets a missing fact find the attempts that say why it is missing; a probe that
    ``needs_address`` is not asked about a target that has none, nor one that asks ``services`` (any of them) about a
    target without a port for any."""

    name: str
    wave: int
    needs_address: bool
    services: tuple[str, ...]
    roles: frozenset[Role]
    provides: frozenset[type[Fact]]

    def ask(self, target: Target, wire: Wire, deadline: Deadline) -> AsyncGenerator[Answer[P] | Miss, None]:
        """Ask, and yield what comes back. Called only for a target whose role is in ``roles``."""
        ...

    def read(self, payload: P) -> Iterable[tuple[str, Fact]]:
        """Facts in one payload, each with the object that it was read from (``prtGeneralSerialNumber.1``).

        Raises `Malformed`. An answer without a single fact is recorded as ``empty``.
        """
        ...


Q = TypeVar("Q", contravariant=True)


@runtime_checkable
class Shows(Protocol[Q]):
    """A probe with a third half, which is pure as well: it shows what an answer was made of."""

    def objects(self, payload: Q) -> Iterable[tuple[str, RawRow]]:
        """Every object in one payload with the table or group that it belongs to, as it came and without any secret;
        also of a payload that ``read`` calls malformed."""
        ...


class Broken:
    """Stands for a probe that cannot be loaded: it is an attempt that failed, and the others go on."""

    wave = 2
    needs_address = False
    services: tuple[str, ...] = ()
    roles = frozenset(Role)
    provides: frozenset[type[Fact]] = frozenset()

    def __init__(self, name: str, fault: str) -> None:
        self.name, self._fault = name, fault

    async def ask(self, target: Target, wire: Wire, deadline: Deadline) -> AsyncGenerator[Answer[None] | Miss, None]:  # noqa: ARG002
        """Says why it cannot ask."""
        yield Miss(self.name, Outcome.FAILED, f"this probe cannot be loaded: {self._fault}", time.monotonic())

    def read(self, payload: None) -> Iterable[tuple[str, Fact]]:  # noqa: ARG002
        """Nothing."""
        return ()


def installed() -> Iterator[Probe[Any]]:
    """All probes of this installation, ours and third parties', through the same door: their entry points."""
    for entry in sorted(entry_points(group=PROBE_GROUP), key=lambda entry: entry.name):
        try:
            yield entry.load()
        except Exception as error:  # noqa: BLE001 - somebody else's module: whatever it raises, ours must go on
            yield Broken(entry.name, f"{type(error).__name__}: {error}")


def provides() -> dict[str, frozenset[str]]:
    """Which kinds of fact each installed probe can tell: so a missing fact finds the attempts that say why."""
    return {probe.name: frozenset(fact.kind for fact in probe.provides) for probe in installed()}
