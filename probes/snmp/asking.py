"""The ask half: an agent's answers, topic by topic, as they come in. The only part of this probe that does I/O.

A greeting first (one GET, which also says whether anybody is there), then GETBULKs, a few at a time because printers
dislike bursts. A topic is handed over as soon as its columns are read, so that whatever stops us keeps what was there.
Most devices are read with nine to twelve questions in three round trips. Nothing is ever set.
"""

import asyncio
import time
from collections.abc import AsyncGenerator, Iterator
from contextlib import aclosing

from netcheck.probing import Answer, Deadline, Miss, Target
from netcheck.roles import Outcome
from netcheck.wire import Wire

from . import plan
from .gathering import Batch, Column, Failure, Gathering
from .greeting import Greeting, greet
from .harvest import Harvest, Harvested, printers, rows_under
from .line import CommunityLine, Line
from .message import LABELS, V3, Pdu, Spoken, Version
from .plan import Topic
from .v3_view import seen_in_view

AT_ONCE = 6
"""GETBULKs on the way to one device: the fewest with which a usual one is read in three round trips. More would be a
burst, which printers dislike (common practice, no source)."""
_GIVE_UP_AFTER = 2 * AT_ONCE  # questions without an answer between them: GETBULKs, then the GETNEXTs in their place
_REASONS = 3  # an attempt's note is for a person

Reply = Answer[Harvest] | Miss


async def ask(target: Target, wire: Wire, deadline: Deadline) -> AsyncGenerator[Reply, None]:
    """Everything that the agent of a target says, or why it says nothing."""
    where = f"{target.host} udp/{target.ports['snmp']}"
    began = time.monotonic()
    line, greeting = await _met(target, wire, deadline)
    if isinstance(greeting, Failure):
        yield Miss(f"{where} SNMP {Topic.SYSTEM}", *greeting, began)
        return
    where = f"{where} SNMP{LABELS[greeting.version]}"
    async with aclosing(_topics(line, greeting, where, began)) as topics:
        async for reply in seen_in_view(topics, where) if greeting.version == V3 else topics:
            yield reply


async def _topics(line: Line, greeting: Greeting, where: str, began: float) -> AsyncGenerator[Reply, None]:
    system = Harvest(Topic.SYSTEM, greeting.version, greeting.system)
    yield Answer(f"{where} {Topic.SYSTEM}", system, began, "; ".join(line.remarks))
    async with aclosing(_Tables(line, greeting.version, where, sparing=line.sparing).ask()) as tables:
        async for reply in tables:
            yield reply


async def _met(target: Target, wire: Wire, deadline: Deadline) -> tuple[Line, Greeting | Failure]:
    if target.user is None:
        line = CommunityLine(target, wire, deadline)
        return line, await greet(line)
    from . import v3  # not before somebody needs it: it takes pysnmp along

    user_line = v3.UserLine(target.user, target, wire, deadline)
    return user_line, await v3.greet(user_line)


class _Tables:
    """Reads all tables of one agent."""

    def __init__(self, line: Line, version: Spoken, where: str, *, sparing: bool) -> None:
        self._line, self._version, self._where = line, version, where
        self._waiting = {
            topic: [Column(plan.WANTED[name]) for table in tables for name in table.columns]
            for topic, tables in plan.TABLES.items()
            if not (sparing and topic in plan.SPARED)
        }
        self._columns = {column.wanted.name: column for columns in self._waiting.values() for column in columns}
        self._host: dict[str, Harvested] = {}
        self._gathering = Gathering(self._batch(*each) for each in plan.BATCHES)
        self._unanswered = 0
        self._began = time.monotonic()

    async def ask(self) -> AsyncGenerator[Reply, None]:
        running: dict[asyncio.Task[Pdu | Failure], Batch] = {}
        done: asyncio.Queue[asyncio.Task[Pdu | Failure]] = asyncio.Queue()
        try:
            while self._line.deadline.left() and self._unanswered < _GIVE_UP_AFTER:
                while len(running) < AT_ONCE and (batch := self._gathering.next()):
                    task = asyncio.create_task(self._follow(batch))
                    task.add_done_callback(done.put_nowait)
                    running[task] = batch
                if not running:
                    break
                task = await done.get()
                self._settle(running.pop(task), task.result())
                for reply in self._replies():
                    yield reply
        finally:
            for task in running:
                task.cancel()
        for column in self._columns.values():
            if column.open:
                column.fail(Outcome.SILENT, "not finished when the time was up or the agent had fallen silent")
        for reply in self._replies():
            yield reply

    async def _follow(self, batch: Batch) -> Pdu | Failure:
        return await self._line.follow(self._version, batch.oids(), batch.repetitions)

    def _settle(self, batch: Batch, answer: Pdu | Failure) -> None:
        if isinstance(answer, Failure):
            self._unanswered += 1
            self._gathering.failed(batch, answer)
        else:
            self._unanswered = 0
            self._gathering.answered(batch, answer)

    def _replies(self) -> Iterator[Reply]:
        """The topics that have become complete, those about the printer not before the host is known."""
        for topic, columns in list(self._waiting.items()):
            if topic in plan.ON_THE_PRINTER and not self._host:
                continue
            if not any(column.open for column in columns):
                del self._waiting[topic]
                yield self._reply(topic, columns)

    def _batch(self, repetitions: int, names: tuple[str, ...]) -> Batch:
        columns = tuple(self._columns[name] for name in names if name in self._columns)
        return Batch(columns, 0 if self._version is Version.V1 else repetitions)

    def _reply(self, topic: Topic, columns: list[Column]) -> Reply:
        found = {column.wanted.name: _harvested(column) for column in columns}
        if topic is Topic.HOST:
            self._host = found
        failures = [column.failure for column in columns if column.failure]
        if failures and not any(column.rows for column in columns):
            return Miss(f"{self._where} {topic}", failures[0].outcome, _together(failures), self._began)
        harvest = Harvest(topic, self._version, self._host | found if topic in plan.ON_THE_PRINTER else found)
        notes = [*self._line.remarks, *_peculiar(harvest), *([_together(failures)] if failures else [])]
        return Answer(f"{self._where} {topic}", harvest, self._began, "; ".join(notes))


def _harvested(column: Column) -> Harvested:
    return Harvested(column.rows, column.whole, column.after)


def _together(failures: list[Failure]) -> str:
    reasons = list(dict.fromkeys(failure.reason for failure in failures))
    more = len(reasons) - _REASONS
    return "; ".join(reasons[:_REASONS]) + (f"; and {more} more columns" if more > 0 else "")


def _peculiar(harvest: Harvest) -> list[str]:
    """Remarks where the agent speaks for several printers, or for one under two numbers."""
    if harvest.topic is not Topic.HOST:
        return []
    found = printers(harvest)
    told = [f"{len(found)} printers here (hrDeviceIndex {found}); the first one is read"] if len(found) > 1 else []
    under = [rows_under(harvest, device) for device in found[:1]]
    if under != found[:1]:
        told.append(f"the printer has hrDeviceIndex {found[0]}, and its Printer MIB {under[0]}")
    return told
