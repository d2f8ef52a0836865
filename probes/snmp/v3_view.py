"""Is what an agent shows all that it has? With a view (RFC 3415) that is too small, a device looks bare.

Apart from the rest of SNMPv3, since this part of it needs no engine.
"""

from collections.abc import AsyncGenerator, AsyncIterator
from typing import Final

from netcheck.probing import Answer, Miss
from netcheck.roles import Outcome

from .harvest import Harvest
from .plan import Topic

_SMALL_VIEW: Final = "the agent takes the keys, but the user's view is too small: it holds no table of the device"


async def seen_in_view(
    replies: AsyncIterator[Answer[Harvest] | Miss], where: str
) -> AsyncGenerator[Answer[Harvest] | Miss, None]:
    """The topics as they come, from the first one on that holds a row. Where none does, that the view is too small, and
    nothing else: every device has an interface, and an agent that shows a name and no device is no use to anybody."""
    bare: list[Answer[Harvest]] = []
    anything = False
    async for reply in replies:
        if not anything and isinstance(reply, Answer) and _is_bare(reply.payload):
            bare.append(reply)
            continue
        anything = True
        for kept in bare:
            yield kept
        bare.clear()
        yield reply
    if bare:
        yield Miss(f"{where} tables", Outcome.DENIED, _SMALL_VIEW, bare[0].began)


def _is_bare(harvest: Harvest) -> bool:
    return harvest.topic is Topic.SYSTEM or not any(column.rows for column in harvest.columns.values())
