"""Read one agent with the SNMP probe alone, as the user of a profile, and print what was found and what was tried.

read_v3.py ADDRESS PROFILE           the whole device, as JSON
read_v3.py ADDRESS PROFILE FILE      its sysDescr, and once FILE is there again, in the same conversation
"""

import asyncio
import json
import sys
import time
from pathlib import Path
from typing import Any

from netcheck.collect import Recorder, collect_once, targets_of
from netcheck.credentials import User, credentials
from netcheck.gates import Gate
from netcheck.move import DeviceRef, Move
from netcheck.probing import Deadline, Target
from netcheck.roles import Role
from netcheck.standard import Standard
from netcheck.wire import Wire
from probes.names import PROBE as NAMES
from probes.snmp import PROBE
from probes.snmp.message import V3
from probes.snmp.v3 import UserLine

SYS_DESCR = (1, 3, 6, 1, 2, 1, 1, 1, 0)


def whole(address: str, profile: str) -> dict[str, Any]:
    move = Move(device=DeviceRef(address), snmp_profile=profile)
    recorder = Recorder()
    began = time.perf_counter()
    asyncio.run(collect_once(targets_of(move, Standard(), Gate.STANDING), [NAMES, PROBE], recorder, 10))
    tried = [[str(item.outcome), item.target, item.reason] for item in recorder.attempts if item.probe == "snmp"]
    return {
        "took_ms": round((time.perf_counter() - began) * 1000),
        "facts": {item.kind: item.value for item in recorder.observations if item.probe == "snmp"},
        "attempts": tried,
    }


async def twice(address: str, profile: str, again: Path) -> None:
    user = credentials(profile)
    assert isinstance(user, User)
    target = Target(Role.DEVICE, address, address, {"snmp": 161})
    async with Wire() as wire:
        line = UserLine(user, target, wire, Deadline(time.monotonic() + 20))
        print("first", await line.get(V3, [SYS_DESCR]), flush=True)
        while not await asyncio.to_thread(again.exists):
            await asyncio.sleep(0.02)
        print("second", await line.get(V3, [SYS_DESCR]), flush=True)


if len(sys.argv) == 3:
    print(json.dumps(whole(*sys.argv[1:])))
else:
    asyncio.run(twice(sys.argv[1], sys.argv[2], Path(sys.argv[3])))
