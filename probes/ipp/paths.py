"""Stage: ask. The paths at which a printer object may be, one after another, the costly one last."""

import asyncio
import time
from collections.abc import AsyncGenerator
from typing import Final
from urllib.parse import quote

from netcheck.facts.link import Advertisement
from netcheck.probing import Deadline, Learnt

USUAL_PATHS: Final = ("/ipp/print", "/ipp/printer", "/")
"""The first is IPP Everywhere's (PWG 5100.14, from memory); the others are common practice, no source."""
PATIENCE_S: Final = 1.0
"""How long to wait for what the device advertises, which another probe of the run may hear."""
_LOOK_AGAIN_S: Final = 0.05
_TYPES: Final = ("_ipp._tcp", "_ipps._tcp")


async def paths(named: str, port: int, learnt: Learnt, deadline: Deadline) -> AsyncGenerator[str, None]:
    """The path of the device's own URI, those that printers use, and what it advertises for this port (the key ``rp``).
    That one is waited for only when nobody took a path before it, since waiting is all that can still help then."""
    given = tuple(dict.fromkeys(filter(None, (_absolute(named), *USUAL_PATHS))))
    for path in given:
        yield path
    for path in await _advertised(port, learnt, Deadline(min(deadline.at, time.monotonic() + PATIENCE_S))):
        if path not in given:
            yield path


async def _advertised(port: int, learnt: Learnt, until: Deadline) -> tuple[str, ...]:
    while until.left():
        heard = await learnt.wait_for(Advertisement, until.left())
        own = (each.get("rp") for each in heard if each.type in _TYPES and each.port == port)
        if told := tuple(dict.fromkeys(_absolute(path) for path in own if path)):
            return told
        await asyncio.sleep(_LOOK_AGAIN_S)
    return ()


def _absolute(path: str) -> str:
    return quote(path if path.startswith("/") else f"/{path}", safe="/%:@!$&'()*+,;=-._~") if path else ""
