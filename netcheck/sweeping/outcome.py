"""What a sweep asks and what it comes to, a row each. Stage: between fleet file, run, store and outputs.

A `Row` is one line of the fleet file; a `Swept` is what became of it in one run. Both are plain and frozen: they cross
from worker processes to the one that stores, and every output is made of them alone.
"""

import msgspec

from netcheck.gates import Gate
from netcheck.move import DeviceRef, Move, QueueRef
from netcheck.roles import Role
from netcheck.standard import Standard
from netcheck.verdict import Holds, Standing, State, Weight


class Row(msgspec.Struct, frozen=True):
    """One device of the fleet. ``key`` names it in the store, the same every night: site, host and queue, joined by
    slashes. ``line`` is where it stands in the file (from 1), 0 for a saved case. ``standard`` is the path of its
    Standard, resolved against the file's folder; "" for the run's own."""

    key: str
    site: str
    new: DeviceRef
    gate: Gate = Gate.STANDING
    old: DeviceRef | None = None
    queue: QueueRef | None = None
    standard: str = ""
    snmp_profile: str = ""
    notes: str = ""
    line: int = 0

    def move(self) -> Move:
        """What is to be asked. At ``standing`` it is the device by itself."""
        move = Move(site=self.site, old=self.old, new=self.new, queue=self.queue, snmp_profile=self.snmp_profile)
        return move.alone() if self.gate is Gate.STANDING else move


class Found(msgspec.Struct, frozen=True):
    """One requirement that is not met, as the outputs need it. ``key`` is the finding's, unique in its verdict."""

    key: str
    id: str
    role: Role
    item: str
    state: Holds
    weight: Weight
    standing: Standing
    title: str
    root: bool
    """Whether nothing else explains it."""
    detail: str = ""
    remedy: str = ""
    sources: tuple[str, ...] = ()
    """What it rests on, once each: role, probe and object, as ``new snmp ipAddressTable``."""


class Supply(msgspec.Struct, frozen=True):
    """One supply: its own description, and percent left, None where the device does not say."""

    name: str
    percent: int | None


class Swept(msgspec.Struct, frozen=True):
    """What became of one row in one run.

    ``at_ms`` is when it was asked (ms since 1970), ``took_ms`` how long that took. ``state`` is None where there is no
    verdict, and ``fault`` then says why. What the device says of itself is "" where it does not. ``findings`` are those
    that are not met, heaviest first; ``fine`` is how many are. ``evidence`` is the case's evidence as JSON (RFC 8785
    order), b"" without a case: with Standard, gate and verdict it makes the saved document again.
    """

    row: Row
    at_ms: int
    took_ms: int
    state: State | None
    fault: str = ""
    model: str = ""
    serial: str = ""
    firmware: str = ""
    mac: str = ""
    address: str = ""
    supplies: tuple[Supply, ...] = ()
    findings: tuple[Found, ...] = ()
    fine: int = 0
    evidence: bytes = b""
    standard: Standard = Standard()
