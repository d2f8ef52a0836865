"""The first contact: is there an agent, which version does it speak to us, and if it says nothing, what does that mean?

v2c is asked first and alone, since nearly everything answers it. When that stays silent it is asked again together
with v1 and with the SNMPv3 discovery, which needs no community: an agent that answers only the last one is alive and
ignores what we call ourselves.
"""

import asyncio
import time
from collections.abc import Mapping
from typing import NamedTuple

from netcheck.roles import Outcome

from . import mib
from .gathering import DENYING, Failure
from .harvest import Harvested
from .line import GREETING_S, PATIENCE_S, Line
from .message import EXCEPTIONS, Spoken, Version, error_label

_FIRST, _SECOND = ((wait_s,) for wait_s in PATIENCE_S)
_PREFERENCE_S = 0.2
"""How long a v1 answer waits for the v2c answer of an agent that speaks both."""
_FINAL = frozenset({Outcome.REFUSED, Outcome.UNREACHABLE})
_TELLING = (Outcome.REFUSED, Outcome.UNREACHABLE, Outcome.DENIED, Outcome.MALFORMED, Outcome.SILENT, Outcome.FAILED)


class Greeting(NamedTuple):
    """The version that the agent answers, and its system group."""

    version: Spoken
    system: Mapping[str, Harvested]


async def greet(line: Line) -> Greeting | Failure:
    """The agent's first answer, or the most telling of the reasons why there is none."""
    began = time.monotonic()
    first = await hello(line, Version.V2C, _FIRST)
    if isinstance(first, Greeting) or first.outcome in _FINAL or first.outcome is Outcome.DENIED:
        return first
    if not line.deadline.left():
        waited_s = time.monotonic() - began
        return first._replace(reason=f"{first.reason} in v2c in {waited_s:.1f} s; no time was left for v1 and SNMPv3")
    tasks = [
        asyncio.create_task(attempt)
        for attempt in (hello(line, Version.V2C, GREETING_S), hello(line, Version.V1, _SECOND), _discovery(line))
    ]
    failures = [first]
    try:
        greeting = await _first_greeting(tasks, failures)
    finally:
        for task in tasks:
            task.cancel()
    return greeting or _most_telling(failures, time.monotonic() - began)


async def _first_greeting(tasks: list[asyncio.Task[Greeting | Failure]], failures: list[Failure]) -> Greeting | None:
    """The first answer; v2c's, the first task's, where it follows closely. Adds to `failures` why others failed."""
    running = set(tasks)
    while running and not any(failure.outcome in _FINAL for failure in failures):
        done, running = await asyncio.wait(running, return_when=asyncio.FIRST_COMPLETED)
        results = [task.result() for task in done]
        if tasks[0] in running and any(isinstance(result, Greeting) for result in results):
            done, _ = await asyncio.wait(tasks[:1], timeout=_PREFERENCE_S)
            results += [task.result() for task in done]
        greetings = [result for result in results if isinstance(result, Greeting)]
        if greetings:
            return max(greetings, key=lambda greeting: greeting.version)
        failures += [result for result in results if isinstance(result, Failure)]
    return None


def _most_telling(failures: list[Failure], waited_s: float) -> Failure:
    failure = min(failures, key=lambda failure: _TELLING.index(failure.outcome))
    if failure.outcome is Outcome.SILENT:
        return Failure(Outcome.SILENT, f"no answer in {waited_s:.1f} s, neither to v2c, v1 nor to SNMPv3 discovery")
    return failure


async def _discovery(line: Line) -> Failure:
    """Never a greeting: an answer to discovery says that whoever answers is not talking to us."""
    report = await line.discover(_SECOND)
    if isinstance(report, Failure):
        return report
    return Failure(
        Outcome.DENIED,
        "an SNMP agent is there, since it answers SNMPv3 discovery, but it ignores our community in v1 and v2c",
    )


async def hello(line: Line, version: Spoken, patience_s: tuple[float, ...]) -> Greeting | Failure:
    """Read the system group, without the objects that the agent holds against us: v1 refuses all for one."""
    wanted = list(mib.SYSTEM.columns)
    while wanted:
        oids = [(*mib.SYSTEM.column(name), 0) for name in wanted]
        pdu = await line.get(version, oids, patience_s)
        if isinstance(pdu, Failure):
            return pdu
        if not pdu.error_status:
            found = {bind.oid: bind for bind in pdu.varbinds if bind.syntax not in EXCEPTIONS}
            rows = [(name, found[oid]) for name, oid in zip(wanted, oids, strict=True) if oid in found]
            return Greeting(version, {name: Harvested({(0,): bind}, complete=True) for name, bind in rows})
        if pdu.error_status in DENYING:
            return Failure(Outcome.DENIED, f"the agent answers {error_label(pdu.error_status)}")
        del wanted[pdu.error_index - 1 if 1 <= pdu.error_index <= len(wanted) else -1]
    return Greeting(version, {})
