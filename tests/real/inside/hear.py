"""Runs the DNS-SD probe where it stands: `hear.py TARGETS`, and once more for every line that comes in, on one wire.

TARGETS is JSON: [[role, host, {service: port}], ...]. A line goes out for each run: {"facts": [[role, source, value]],
"missed": [[role, outcome, reason]], "took_ms": n}.
"""

import asyncio
import json
import sys
import time

from netcheck.collect import Recorder, collect
from netcheck.probing import Target
from netcheck.roles import Outcome, Role
from netcheck.wire import Wire
from probes.dnssd import PROBE
from probes.names import PROBE as NAMES

LIMIT_S = 5.0


def told(recorder: Recorder, took: float) -> str:
    facts = [[item.role, item.source, item.value] for item in recorder.observations if item.kind == "advertisement"]
    missed = [
        [item.role, item.outcome, item.reason] for item in recorder.attempts if item.outcome is not Outcome.ANSWERED
    ]
    return json.dumps({"facts": facts, "missed": missed, "took_ms": round(took * 1000)})


async def main(named: list[tuple[str, str, dict[str, int]]]) -> None:
    async with Wire() as wire:
        while True:
            recorder, began = Recorder(), time.monotonic()
            targets = [Target(Role(role), host, ports=ports) for role, host, ports in named]
            await collect(targets, [PROBE, NAMES], recorder, LIMIT_S, wire)
            print(told(recorder, time.monotonic() - began), flush=True)
            if not await asyncio.to_thread(sys.stdin.readline):
                return


asyncio.run(main(json.loads(sys.argv[1])))
