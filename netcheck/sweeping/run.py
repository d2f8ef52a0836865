"""The run of a sweep: rows to worker processes, outcomes to whoever stores them. Stage: above the workers.

The parent asks nobody anything. It hands out rows, never more to a worker than that may have in flight, so that
stopping means handing out no more: what is in flight is finished, and stored. A worker that dies takes down what it had
in flight, not the sweep: those rows are asked once more by its successor, and are faults if that dies of them too.

Rows are handed out round the sites, so that a site's devices are not asked all at once.
"""

import math
import multiprocessing
import os
import signal
import threading
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from itertools import chain, zip_longest
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess

import msgspec

from netcheck.sweeping.asking import faulty, unpacked
from netcheck.sweeping.outcome import Row, Swept
from netcheck.sweeping.worker import Break, Order, Plan, is_let_go, work

IN_FLIGHT = 256
"""Devices that one worker asks at a time. Datagrams under way and open connections have their own bounds (`Wire`)."""
_WORTH_A_WORKER = 32
"""Rows for which starting another process pays."""
_TICK_S = 0.2
_LIVES = 2
DIED = "the worker process died while it was asked"
Keep = Callable[[Swept], None]


class Told(msgspec.Struct, frozen=True):
    """How far a sweep is: rows done, rows in all, devices a second so far, and seconds left, None while unknown."""

    done: int
    total: int
    rate: int
    left_s: int | None


class Ended(msgspec.Struct, frozen=True):
    """How a sweep ended: rows that were not asked, or not to the end; whether it was stopped, and whether its own time
    was up."""

    left: tuple[Row, ...]
    stopped: bool
    out_of_time: bool


class Limits(msgspec.Struct, frozen=True):
    """Bounds of a run: worker processes, devices in flight in each, new devices a second (0: as many as there is room
    for), and seconds for the whole run."""

    workers: int
    in_flight: int = IN_FLIGHT
    rate: int = 0
    whole_s: float = math.inf


def cores() -> int:
    """Processors that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def round_the_sites(rows: Iterable[Row]) -> list[Row]:
    """One of each site, then the next of each: neighbours in the file are not neighbours in time."""
    by_site: dict[str, list[Row]] = {}
    for row in rows:
        by_site.setdefault(row.site, []).append(row)
    return [row for row in chain.from_iterable(zip_longest(*by_site.values())) if row is not None]


class Sweep:
    """One run over ``orders``. ``keep`` gets every outcome as it comes; ``tell`` hears how far it is, several times a
    second."""

    def __init__(self, orders: Sequence[Order], plan: Plan, limits: Limits, keep: Keep, tell: Callable[[Told], None]):
        self._waiting, self._plan, self._limits = deque(orders), plan, limits
        self._keep, self._tell = keep, tell
        self._total, self._done, self._began = len(orders), 0, time.monotonic()
        self._crew: list[_Hand] = []
        self._lives: dict[str, int] = {}
        self._stopping = self._out_of_time = False
        self._handed = 0
        self._interrupts: list[int] = []

    def run(self) -> Ended:
        """Until all is done, or stopped: the first interrupt lets what is in flight be finished, a second lets go.
        Between two turns only: an interrupt in the middle of storing would lose what came."""
        if not self._waiting:
            return Ended((), stopped=False, out_of_time=False)
        with _heard(self._interrupts):
            self._crew = [_Hand(self._plan) for _ in range(self._hands())]
            try:
                while any(hand.out for hand in self._crew) or (self._waiting and not self._stopping):
                    self._turn()
            finally:
                for hand in self._crew:
                    hand.dismiss()
        return Ended(
            tuple(order.row for order in self._waiting), self._stopping and not self._out_of_time, self._out_of_time
        )

    def _hands(self) -> int:
        return max(1, min(self._limits.workers, math.ceil(self._total / _WORTH_A_WORKER)))

    def _turn(self) -> None:
        while self._interrupts:
            self._interrupts.pop()
            self._stop()
        if not self._stopping:
            self._hand_out()
        for pipe in wait([hand.pipe for hand in self._crew], _TICK_S):
            hand = next(each for each in self._crew if each.pipe is pipe)
            self._receive(hand)
        self._tell(self._told())
        if time.monotonic() - self._began > self._limits.whole_s and not self._out_of_time:
            self._out_of_time = True
            self._stop()
            self._stop()

    def _stop(self) -> None:
        if self._stopping:
            for hand in self._crew:
                hand.send(Break())
        self._stopping = True

    def _hand_out(self) -> None:
        for hand in sorted(self._crew, key=lambda each: len(each.out)):
            batch = []
            while self._waiting and len(hand.out) < self._limits.in_flight and self._may_hand_out():
                order = self._waiting.popleft()
                hand.out[order.row.key] = order
                self._handed += 1
                batch.append(order)
            if batch:
                hand.send(batch)

    def _may_hand_out(self) -> bool:
        passed = time.monotonic() - self._began
        return not self._limits.rate or self._handed < self._limits.rate * (passed + _TICK_S)

    def _receive(self, hand: "_Hand") -> None:
        """Everything that has come; and what is to be done where the worker is gone."""
        batches, gone = [], False
        try:
            while hand.pipe.poll():
                batches.append(hand.pipe.recv_bytes())
        except (EOFError, OSError):
            gone = True
        for data in batches:
            self._take(hand, data)
        if gone:
            self._bury(hand)

    def _take(self, hand: "_Hand", data: bytes) -> None:
        for swept in unpacked(data):
            order = hand.out.pop(swept.row.key)
            if is_let_go(swept):
                self._waiting.append(order)
                continue
            self._finished(msgspec.structs.replace(swept, standard=self._plan.standards[order.standard]))

    def _finished(self, swept: Swept) -> None:
        self._done += 1
        self._keep(swept)

    def _bury(self, hand: "_Hand") -> None:
        self._crew.remove(hand)
        hand.dismiss()
        for key, order in hand.out.items():
            self._lives[key] = self._lives.get(key, 0) + 1
            if self._lives[key] >= _LIVES:
                self._finished(faulty(order.row, DIED))
            else:
                self._waiting.append(order)
        if self._waiting and not self._stopping:
            self._crew.append(_Hand(self._plan))

    def _told(self) -> Told:
        passed = max(time.monotonic() - self._began, 0.001)
        rate = self._done / passed
        left = None if not self._done else round((self._total - self._done) / rate)
        return Told(self._done, self._total, round(rate), left)


@contextmanager
def _heard(interrupts: list[int]) -> Iterator[None]:
    """Note interrupts instead of being thrown out of whatever is done just then. Only a process's main thread hears."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, lambda number, _: interrupts.append(number))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


class _Hand:
    """A worker as the parent sees it: its process, its pipe, and what it has in flight by key."""

    def __init__(self, plan: Plan) -> None:
        context = multiprocessing.get_context("spawn")  # the same on all systems, and nothing of ours is inherited
        self.pipe: Connection[object, object]
        self.pipe, end = context.Pipe()
        self.process: BaseProcess = context.Process(target=work, args=(end, plan), daemon=True)
        self.process.start()
        end.close()
        self.out: dict[str, Order] = {}

    def send(self, order: object) -> bool:
        """False where it is gone; what it had is found missing when its pipe ends."""
        try:
            self.pipe.send(order)
        except OSError:
            return False
        return True

    def dismiss(self) -> None:
        """No more orders; it ends once what it has is done. One that does not is ended."""
        self.send(None)
        self.process.join(5)
        if self.process.is_alive():
            self.process.kill()
            self.process.join()
        self.pipe.close()
