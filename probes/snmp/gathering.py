"""Turning the answers to many small questions into whole columns. The pure part of asking: no I/O, no clock.

A column is asked for until something shows that there is no more of it: an object beyond it, or the end of the view.
Answers may be cut (the agent's datagram is full), refused (noSuchName, genErr, tooBig) or nonsense (identifiers that do
not increase, which would make a walk endless), and each of these has one consequence here:

    cut                      what is not finished is asked again from where it stopped
    too big, silent, broken  the same with GETNEXT, then with half of the columns, until one column stands accused
    one column accused       that column is closed with its reason, the others go on; the first time, it is asked alone
                             before, since some agents point at the wrong one: then halves must show which it is
    not increasing           that column is closed with its reason; the rows before it are kept

So everything ends: each step finishes a column, adds rows to one (of which there is a limit) or makes a question
smaller, and the number of questions is limited as a whole.
"""

from collections import deque
from collections.abc import Iterable
from typing import NamedTuple

from netcheck.roles import Outcome

from . import message
from .ber import Oid
from .message import Pdu, VarBind
from .plan import Wanted

MAX_ROWS = 256
MAX_QUESTIONS = 160  # a v1 agent is asked row by row; in v2c eight questions do for most devices
ANSWER_SIZE = 64  # values that are asked for at once when it is not known how many the agent can send

_BULK_TRIES = 2  # how many GETBULKs have to fail, and none to work, before no more are sent
NO_SUCH_NAME = 2
TOO_BIG = 1
DENYING = {6, 16}  # noAccess, authorizationError


class Failure(NamedTuple):
    """Why something was not answered; `reason` is for a person."""

    outcome: Outcome
    reason: str


class Column:
    """A wanted column, as far as it is known; `rows` are its objects by what follows the column in their identifier.

    `whole` is True once the agent has shown that there is no more of it, `failure` says why there will be no more than
    there is. `after` is the first object behind it, None where the view ended or nothing was seen.
    """

    __slots__ = ("after", "failure", "last", "open", "rows", "wanted", "whole")

    def __init__(self, wanted: Wanted) -> None:
        self.wanted = wanted
        self.rows: dict[Oid, VarBind] = {}
        self.last = wanted.start
        self.after: Oid | None = None
        self.open = True
        self.whole = False
        self.failure: Failure | None = None

    def end(self, after: Oid | None = None) -> None:
        """There is no more of it."""
        self.open, self.whole, self.after = False, True, after

    def fail(self, outcome: Outcome, reason: str) -> None:
        """There may be more of it, which will not be known."""
        self.open, self.failure = False, Failure(outcome, f"{self.wanted.name}: {reason}")

    def take(self, bind: VarBind) -> None:
        """The object that follows the last one, by the agent's word."""
        oid, size = self.wanted.oid, len(self.wanted.oid)
        if bind.syntax in message.EXCEPTIONS:
            self.end()
        elif bind.oid <= self.last:
            self.fail(Outcome.MALFORMED, f"the agent's identifiers do not increase after {len(self.rows)} rows")
        elif bind.oid[:size] != oid:
            self.end(bind.oid)
        elif len(self.rows) == MAX_ROWS:
            self.fail(Outcome.FAILED, f"more than {MAX_ROWS} rows")
        else:
            self.rows[bind.oid[size:]] = bind
            self.last = bind.oid
            if len(bind.oid) == size:
                self.end()


class Batch(NamedTuple):
    """One question: `repetitions` successors of each column; with 0 it is a GETNEXT."""

    columns: tuple[Column, ...]
    repetitions: int

    def oids(self) -> tuple[Oid, ...]:
        return tuple(column.last for column in self.columns)


class Gathering:
    """The questions that are still to be asked, and what the answers to the others did to their columns."""

    def __init__(self, batches: Iterable[Batch]) -> None:
        self._waiting = deque(batches)
        self._asked = 0
        self._lengths: dict[str, int] = {}  # of tables of which a column is whole
        self._bulk_failures: int | None = 0  # None once one has worked
        self._suspect: Column | None = None  # the first that was accused, asked alone
        self._points_right: bool | None = None  # what came of that

    def next(self) -> Batch | None:
        """The next question, None when there is none (for now: an answer under way may bring another)."""
        while self._waiting:
            batch = self._waiting.popleft()
            if self._asked < MAX_QUESTIONS:
                self._asked += 1
                return batch._replace(repetitions=self._repetitions(batch))
            for column in batch.columns:
                column.fail(Outcome.FAILED, f"not finished after {MAX_QUESTIONS} questions")
        return None

    def _repetitions(self, batch: Batch) -> int:
        """No more than the missing rows, where a table's length is known, and one to show that it ends there."""
        if self._bulk_failures is not None and self._bulk_failures >= _BULK_TRIES:
            return 0
        most = max(self._missing(column, batch.repetitions) for column in batch.columns)
        return min(batch.repetitions, most + 1)

    def _missing(self, column: Column, unknown: int) -> int:
        length = self._lengths.get(column.wanted.table)
        return unknown if length is None else max(0, length - len(column.rows))

    def answered(self, batch: Batch, pdu: Pdu) -> None:
        """The agent's response to a question, of any status."""
        if pdu.error_status:
            self._refused(batch, pdu)
            return
        if batch.repetitions:
            self._bulk_failures = None
        elif batch.columns == (self._suspect,) and self._points_right is None:
            self._points_right = False
        moved = False
        for position, column in enumerate(batch.columns):
            for bind in pdu.varbinds[position :: len(batch.columns)]:
                if not column.open:
                    break
                column.take(bind)
                moved = True
            if column.whole:
                self._lengths[column.wanted.table] = len(column.rows)
        left = self._unfinished(batch)
        if left and not moved:
            self.failed(batch, Failure(Outcome.MALFORMED, "an answer that holds nothing of what was asked"))
        elif left:  # more than there is room for does no harm: the agent sends what it can
            self._ask(left, max(1, ANSWER_SIZE // len(left)) if batch.repetitions else 0)

    def failed(self, batch: Batch, failure: Failure) -> None:
        """No usable answer: ask for less, and in the end give the column up."""
        columns = self._unfinished(batch)
        if batch.repetitions:
            if self._bulk_failures is not None:
                self._bulk_failures += 1
            self._ask(columns, 0)
        elif len(columns) > 1:
            half = len(columns) // 2
            self._ask(columns[half:], 0)
            self._ask(columns[:half], 0)
        else:
            for column in columns:
                column.fail(*failure)

    def _refused(self, batch: Batch, pdu: Pdu) -> None:
        label = message.error_label(pdu.error_status)
        outcome = Outcome.DENIED if pdu.error_status in DENYING else Outcome.FAILED
        accused = _accused(batch, pdu.error_index)
        vague = pdu.error_status == TOO_BIG or (batch.repetitions and pdu.error_status != NO_SUCH_NAME)
        alone = len(batch.columns) == 1
        if accused is None or vague or (self._points_right is False and not alone):
            self.failed(batch, Failure(outcome, f"the agent answers {label}"))
            return
        if not alone and self._points_right is None:
            self._suspect = accused
            self._ask(tuple(column for column in self._unfinished(batch) if column is not accused), 0)
            self._ask((accused,), 0)
            return
        if accused is self._suspect and self._points_right is None:
            self._points_right = True
        if pdu.error_status == NO_SUCH_NAME:
            accused.end()
        else:
            accused.fail(outcome, f"the agent answers {label}")
        self._ask(self._unfinished(batch), batch.repetitions)

    def _unfinished(self, batch: Batch) -> tuple[Column, ...]:
        for column in batch.columns:
            if column.rows and not column.wanted.continued:
                column.open = False
        return tuple(column for column in batch.columns if column.open)

    def _ask(self, columns: tuple[Column, ...], repetitions: int) -> None:
        if columns:  # before everything else, since what is begun should be finished first
            self._waiting.appendleft(Batch(columns, repetitions))


def _accused(batch: Batch, index: int) -> Column | None:
    """The column that an error index points to, counted from 1; the only one there is needs no index."""
    if len(batch.columns) == 1:
        return batch.columns[0]
    return batch.columns[index - 1] if 1 <= index <= len(batch.columns) else None
