"""Stage: ask. The paths at which a printer object may be, the likeliest first. A printer gets few requests, so each has
to be worth one."""

import asyncio
import time
from collections.abc import AsyncGenerator
from typing import Final
from urllib.parse import quote

from netcheck.facts.link import Advertisement
from netcheck.probing import Deadline, Learnt

USUAL_PATHS: Final = ("/ipp/print", "/ipp/printer")
"""The first is IPP Everywhere's (PWG 5100.14, from memory); the other is common practice, no source."""
PATIENCE_S: Final = 1.0
"""How long to wait for what the device advertises, which another probe of the run may hear."""
_LOOK_AGAIN_S: Final = 0.05
_TYPES: Final = ("_ipp._tcp", "_ipps._tcp")


async def paths(named: str, port: int, learnt: Learnt, deadline: Deadline) -> AsyncGenerator[str, None]:
    """The path of the device's own URI, or else the usual one; then what the device advertises for this port (the key
    ``rp``), which is worth a wait because it is no guess; then what is usual beside it."""
    first, *others = dict.fromkeys(filter(None, (_absolute(named), *USUAL_PATHS)))
    yield first
    patience_s = min(PATIENCE_S, deadline.left() / 2)  # the rest is for asking there
    told = await _advertised(port, learnt, Deadline(time.monotonic() + patience_s))
    for path in dict.fromkeys((*told, *others)):
        if path != first:
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
