"""Facts about the workstation's print queue."""

from typing import ClassVar

import msgspec

from netcheck.facts.base import Fact


class QueueTarget(Fact, frozen=True):
    """Where the queue sends its jobs: the spooler's device URI, without any password."""

    kind: ClassVar[str] = "queue-target"
    name: str
    uri: str


class QueueDriver(Fact, frozen=True):
    """The driver as the spooler names it; ``version`` is "" when it gives none."""

    kind: ClassVar[str] = "queue-driver"
    name: str
    version: str = ""


class QueueDefaults(Fact, frozen=True):
    """What a job gets that asks for nothing: (attribute, value) pairs, values as text."""

    kind: ClassVar[str] = "queue-defaults"
    media: str
    options: tuple[tuple[str, str], ...] = ()


class JobRow(msgspec.Struct, frozen=True):
    """A job that is not done. ``state`` by RFC 8011 (pending, pending-held, processing, processing-stopped)."""

    job: int
    state: str
    name: str
    kilo_octets: int | None


class Jobs(Fact, frozen=True):
    """Jobs in the queue that are not done. ``waiting`` is the spooler's own count (queued-job-count)."""

    kind: ClassVar[str] = "jobs"
    waiting: int | None
    rows: tuple[JobRow, ...]
    complete: bool


class QueueNames(Fact, frozen=True):
    """The queues that the spooler has."""

    kind: ClassVar[str] = "queue-names"
    names: tuple[str, ...]
    complete: bool
