"""The workstation's queue, as its spooler describes it over IPP. Stage: ask and read.

The spooler is a scheduler that speaks IPP and has its queues under `/printers/` (CUPS's layout and operations; the
attributes are RFC 8011's, except device-uri). Where the operating system has no such scheduler, the connection is
refused, and that is what the attempt says. Nothing here changes the queue, and no user's name is asked for.
"""

import time
from collections.abc import AsyncGenerator, Iterable, Iterator
from typing import Final, TypeAlias, assert_never
from urllib.parse import quote

import msgspec

from netcheck.facts import Fact
from netcheck.facts.condition import PrinterState
from netcheck.facts.queue import JobRow, Jobs, QueueDefaults, QueueDriver, QueueNames, QueueTarget
from netcheck.probing import Answer, Deadline, Miss, Target
from netcheck.roles import Outcome, Role
from netcheck.secret import without_userinfo
from netcheck.wire import Wire
from probes.ipp.calling import Failure, Retry, call
from probes.ipp.http import Endpoint
from probes.ipp.labels import ENUMERATIONS, JOB_STATES
from probes.ipp.reading import read_state
from probes.ipp.requests import EVERYBODYS, get_jobs, get_printer_attributes, get_printers
from probes.ipp.said import Attributes, number, text, words
from probes.ipp.values import Group, GroupTag, Message

MAX_JOBS: Final = 200
MAX_QUEUES: Final = 1000

DESCRIBED: Final = (
    "printer-name",
    "device-uri",
    "printer-make-and-model",
    "printer-state",
    "printer-state-reasons",
    "printer-state-message",
    "printer-is-accepting-jobs",
    "queued-job-count",
)
DEFAULTS: Final = (
    "media-default",
    "media-col-default",
    "copies-default",
    "document-format-default",
    "finishings-default",
    "job-hold-until-default",
    "job-sheets-default",
    "number-up-default",
    "orientation-requested-default",
    "output-bin-default",
    "print-color-mode-default",
    "print-content-optimize-default",
    "print-quality-default",
    "print-rendering-intent-default",
    "print-scaling-default",
    "printer-resolution-default",
    "sides-default",
    "printer-defaults",  # not an attribute: CUPS's group of all defaults, those that an administrator added included
)
JOB: Final = ("job-id", "job-state", "job-name", "job-k-octets")


class QueueSaid(msgspec.Struct, frozen=True):
    """The queue's attributes. `asked` is the name that it was asked by."""

    asked: str
    message: Message


class JobsSaid(msgspec.Struct, frozen=True):
    """The jobs that are not done; None where the spooler did not list them. `waiting` is its own count of them."""

    waiting: int | None
    message: Message | None


class NamesSaid(msgspec.Struct, frozen=True):
    """The queues that there are."""

    message: Message


Payload: TypeAlias = QueueSaid | JobsSaid | NamesSaid


class Spool:
    """Asks the spooler about the queue; about all of its queues when it has none of that name."""

    name = "spool"
    wave = 2
    needs_address = True
    services: tuple[str, ...] = ()
    roles = frozenset({Role.QUEUE})
    provides = frozenset[type[Fact]]({Jobs, PrinterState, QueueDefaults, QueueDriver, QueueNames, QueueTarget})

    async def ask(self, target: Target, wire: Wire, deadline: Deadline) -> AsyncGenerator[Answer[Payload] | Miss, None]:
        """The queue, then its jobs; or why not, and the names of the queues that there are."""
        endpoint = Endpoint(
            target.address, target.ports["ipp"], f"/printers/{quote(target.queue, safe='')}", target.host
        )
        uri = f"ipp://{endpoint.authority}{endpoint.path}"
        began = time.monotonic()
        queue = await call(endpoint, get_printer_attributes(uri, (*DESCRIBED, *DEFAULTS), EVERYBODYS), wire, deadline)
        if isinstance(queue, Failure):
            yield Miss(uri, queue.outcome, _explained(queue), began)
            if queue.retry is Retry.ANOTHER_PATH:
                yield await _names(endpoint, wire, deadline)
            return
        yield Answer(uri, QueueSaid(target.queue, queue.message), began)
        for result in await _jobs(endpoint, uri, _waiting(queue.message), wire, deadline):
            yield result

    def read(self, payload: Payload) -> Iterable[tuple[str, Fact]]:
        """Facts of one of the three."""
        match payload:
            case QueueSaid():
                return _read_queue(payload)
            case JobsSaid():
                return _read_jobs(payload)
            case NamesSaid():
                return _read_names(payload)
            case _:
                assert_never(payload)


PROBE = Spool()


# --- asking


async def _jobs(
    endpoint: Endpoint, uri: str, waiting: int | None, wire: Wire, deadline: Deadline
) -> list[Answer[Payload] | Miss]:
    """The list of jobs; where the spooler gives none, the miss and its count of them, if it gave that."""
    began, target = time.monotonic(), f"jobs of {uri}"
    jobs = await call(endpoint, get_jobs(uri, JOB, MAX_JOBS), wire, deadline)
    if not isinstance(jobs, Failure):
        return [Answer(target, JobsSaid(waiting, jobs.message), began)]
    miss = Miss(target, jobs.outcome, jobs.reason, began)
    return [miss] if waiting is None else [Answer(f"queued-job-count of {uri}", JobsSaid(waiting, None), began), miss]


async def _names(endpoint: Endpoint, wire: Wire, deadline: Deadline) -> Answer[Payload] | Miss:
    everywhere = msgspec.structs.replace(endpoint, path="/")
    began, target = time.monotonic(), f"queues of ipp://{endpoint.authority}/"
    names = await call(everywhere, get_printers(("printer-name",), MAX_QUEUES), wire, deadline)
    if isinstance(names, Failure):
        return Miss(target, names.outcome, names.reason, began)
    return Answer(target, NamesSaid(names.message), began)


def _explained(failure: Failure) -> str:
    if failure.outcome is Outcome.REFUSED:
        return f"{failure.reason}: no spooler that speaks IPP runs there"
    if failure.retry is Retry.ANOTHER_PATH:
        return f"the spooler has no queue of this name ({failure.reason})"
    return failure.reason


# --- reading


def _described(message: Message) -> Attributes:
    groups = message.groups_of(GroupTag.PRINTER)
    return groups[0].by_name() if groups else {}


def _waiting(message: Message) -> int | None:
    return number(_described(message).get("queued-job-count", ()))


def _read_queue(payload: QueueSaid) -> Iterator[tuple[str, Fact]]:
    said = _described(payload.message)
    if not said:
        return
    name = text(said.get("printer-name", ())) or payload.asked
    yield "device-uri", QueueTarget(name, without_userinfo(text(said.get("device-uri", ()))))
    if model := text(said.get("printer-make-and-model", ())):
        yield "printer-make-and-model", QueueDriver(model)
    yield from read_state(said)
    media, options = text(said.get("media-default", ())), tuple(_options(said))
    if media or options:
        yield "media-default", QueueDefaults(media, options)


def _options(said: Attributes) -> Iterator[tuple[str, str]]:
    """Every default but media's name, which has a field of its own; those without a value are left out."""
    for name, values in sorted(said.items()):
        if name.endswith("-default") and name != "media-default" and (value := words(values, ENUMERATIONS.get(name))):
            yield name, value


def _read_jobs(payload: JobsSaid) -> Iterator[tuple[str, Fact]]:
    if payload.message is None:
        yield "queued-job-count", Jobs(payload.waiting, (), complete=False)
        return
    groups = payload.message.groups_of(GroupTag.JOB)
    rows = tuple(filter(None, map(_job, groups)))
    yield "Get-Jobs", Jobs(payload.waiting, rows, complete=len(rows) == len(groups) < MAX_JOBS)


def _job(group: Group) -> JobRow | None:
    said = group.by_name()
    job, state = number(said.get("job-id", ())), number(said.get("job-state", ()))
    if job is None:
        return None
    label = "" if state is None else JOB_STATES.get(state, str(state))
    return JobRow(job, label, text(said.get("job-name", ())), number(said.get("job-k-octets", ())))


def _read_names(payload: NamesSaid) -> Iterator[tuple[str, Fact]]:
    groups = payload.message.groups_of(GroupTag.PRINTER)
    names = [text(group.by_name().get("printer-name", ())) for group in groups]
    named = tuple(dict.fromkeys(filter(None, names)))
    yield "CUPS-Get-Printers", QueueNames(named, complete=all(names) and len(groups) < MAX_QUEUES)
