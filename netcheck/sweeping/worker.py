"""A worker process of a sweep: asks the rows that it is given, many at a time, and sends back what became of each.

Every time-out rests on an event loop that is in time. So it reads its orders in one thread and writes its results in
another, and begins with no device while the loop is late: as many devices are in flight as wait for answers, not as
many as wait for the processor, and one that is silent holds up nobody. Signals are its parent's business: Ctrl-C
reaches the whole group, and what is in flight must be finished all the same. When the parent is gone (the pipe ends),
so is the worker.
"""

import asyncio
import gc
import os
import queue
import signal
import threading
from functools import partial
from multiprocessing.connection import Connection

import msgspec

from netcheck.probing import installed, provides
from netcheck.standard import Standard
from netcheck.sweeping.asking import NOT_OF_A_SWEEP, faulty, packed, swept_live
from netcheck.sweeping.outcome import Row, Swept
from netcheck.wire import Wire

_PACE_S = 0.0025
_BATCH = 64
"""Outcomes that go together: each time that a thread wakes up, it is the event loop that waits."""
_TICK_S, _LATE_S = 0.02, 0.05
"""How often the loop is looked at, and how late it may be: small against the second after which SNMP asks again."""
_LET_GO = "let go of before it was done"


class Plan(msgspec.Struct, frozen=True):
    """What holds for all rows: the Standards, by number, and the seconds that one device may take."""

    standards: tuple[Standard, ...]
    limit_s: float


class Order(msgspec.Struct, frozen=True):
    """One row, by the Standard of this number."""

    row: Row
    standard: int


class Break(msgspec.Struct, frozen=True):
    """Let go of everything that is in flight."""


def is_let_go(swept: Swept) -> bool:
    """Was it let go of? Then nothing became of it, and it is still to be asked."""
    return swept.state is None and swept.fault == _LET_GO


def work(pipe: "Connection[object, object]", plan: Plan) -> None:
    """The process: orders in, packed outcomes out, until None comes in or the pipe ends."""
    for name in ("SIGINT", "SIGTERM"):
        signal.signal(getattr(signal, name), signal.SIG_IGN)
    asyncio.run(_Worker(pipe, plan).run())


class _Worker:
    def __init__(self, pipe: "Connection[object, object]", plan: Plan) -> None:
        self._pipe, self._plan = pipe, plan
        self._orders: asyncio.Queue[Order | None] = asyncio.Queue()
        self._results: queue.SimpleQueue[Swept | None] = queue.SimpleQueue()
        self._probes = [probe for probe in installed() if probe.name not in NOT_OF_A_SWEEP]
        self._provides = provides()
        self._in_time = asyncio.Event()
        self._breaking = False
        self._tasks: set[asyncio.Task[None]] = set()

    async def run(self) -> None:
        """Until there are no more orders and all that were given are done."""
        loop = asyncio.get_running_loop()
        threading.Thread(target=self._listen, args=(loop,), daemon=True).start()
        speaking = threading.Thread(target=self._speak)
        speaking.start()
        _spare_the_collector()
        ticking = loop.create_task(self._tick(loop))
        async with Wire(sparing=True) as wire:
            while (order := await self._orders.get()) is not None:
                if not self._breaking:
                    await asyncio.sleep(_PACE_S)
                    await self._in_time.wait()
                task = loop.create_task(self._one(order, wire))
                self._tasks.add(task)
                task.add_done_callback(self._tasks.discard)
                task.add_done_callback(partial(self._let_go, order))
                if self._breaking:
                    task.cancel()
            await asyncio.gather(*self._tasks, return_exceptions=True)
        ticking.cancel()
        self._results.put(None)
        speaking.join()

    async def _tick(self, loop: asyncio.AbstractEventLoop) -> None:
        while True:
            began = loop.time()
            await asyncio.sleep(_TICK_S)
            late = loop.time() - began - _TICK_S > _LATE_S
            self._in_time.clear() if late else self._in_time.set()

    async def _one(self, order: Order, wire: Wire) -> None:
        standard = self._plan.standards[order.standard]
        try:
            swept = await swept_live(order.row, standard, self._probes, self._provides, wire, self._plan.limit_s)
        except Exception as error:  # noqa: BLE001 - our bug, kept as this row's fault: it must not stop the others
            swept = faulty(order.row, f"netcheck's own fault: {type(error).__name__}: {error}")
        self._results.put(swept)

    def _let_go(self, order: Order, task: "asyncio.Task[None]") -> None:
        """Also of one that had not begun: its parent waits for what becomes of each."""
        if task.cancelled():
            self._results.put(faulty(order.row, _LET_GO))

    def _listen(self, loop: asyncio.AbstractEventLoop) -> None:
        order: object = self
        while order is not None:
            try:
                order = self._pipe.recv()
            except (EOFError, OSError):
                os._exit(1)  # the parent is gone, and with it whoever would store what we find
            if isinstance(order, Break):
                loop.call_soon_threadsafe(self._break)
                continue
            for each in order if isinstance(order, list) else (None,):
                loop.call_soon_threadsafe(self._orders.put_nowait, each)

    def _break(self) -> None:
        """What is in flight is let go of, and what still waits for its turn is not begun with."""
        self._breaking = True
        for task in self._tasks:
            task.cancel()

    def _speak(self) -> None:
        going = True
        while going:
            batch = [self._results.get()]
            while len(batch) < _BATCH and not self._results.empty():
                batch.append(self._results.get())
            going = None not in batch
            try:
                self._pipe.send_bytes(packed([each for each in batch if each]))
            except OSError:
                os._exit(1)
        self._pipe.close()


def _spare_the_collector() -> None:
    """A device leaves hardly any garbage that is circular, and looking for it among everything that is in flight takes
    longer the more that is."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(10_000)
