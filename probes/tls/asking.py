"""Stage: ask. Where TLS may be spoken, and which handshakes it takes to see the certificate.

The first handshake is by this system's own trust. Most devices sign their certificates themselves and are not trusted:
that is worth knowing, and the certificate is then read by a second handshake that trusts everybody.
"""

import asyncio
import time
from collections.abc import AsyncGenerator
from typing import Final, assert_never

import msgspec

from netcheck.facts.network import IppService
from netcheck.probing import Answer, Deadline, Miss, Target
from netcheck.roles import Outcome
from netcheck.wire import Wire
from probes.tls.contexts import Contexts, server_name
from probes.tls.handshake import Failed, Result, Shaken, Untrusted, shake


class Shown(msgspec.Struct, frozen=True):
    """A certificate as it was shown on a port; ``fault`` is why our system does not trust it, "" where it does."""

    port: int
    shaken: Shaken
    fault: str


_TOO_LATE: Final = Failed(Outcome.NOT_TRIED, "no time was left")
_NONE_HERE: Final = "says by IPP that it has no TLS (uri-security-supported)"
_IPP_WITHIN_S: Final = 3.0
"""How long a sparing run waits for what the device says of itself by IPP."""


async def ask(target: Target, wire: Wire, deadline: Deadline) -> AsyncGenerator[Answer[Shown] | Miss, None]:
    """An answer or a miss for each port, as they come."""
    tasks = [asyncio.create_task(_ask(port, target, wire, deadline)) for port in _ports(target)]
    try:
        for next_done in asyncio.as_completed(tasks):
            yield await next_done
    finally:
        for task in tasks:
            task.cancel()


def _ports(target: Target) -> list[int]:
    """IPP over TLS is at the port that was named for it, else at IPP's own, where devices speak both (RFC 3510 and RFC
    7472 give both schemes port 631). Nobody else is spoken to: a raw port would print our octets."""
    printing = target.ports.get("ipps", target.ports.get("ipp"))
    return list(dict.fromkeys(port for port in (printing, target.ports.get("https")) if port is not None))


async def _ask(port: int, target: Target, wire: Wire, deadline: Deadline) -> Answer[Shown] | Miss:
    began, where = time.monotonic(), f"{target.host} tcp/{port}"
    if wire.sparing and port == target.ports.get("ipp") and await _says_none(target, deadline):
        return Miss(where, Outcome.NOT_TRIED, _NONE_HERE, began)
    try:
        async with asyncio.timeout(deadline.left()):
            contexts = await wire.shared(Contexts, Contexts.made)
        await wire.place(deadline.left())
    except TimeoutError:
        return Miss(where, _TOO_LATE.outcome, _TOO_LATE.reason, began)
    try:
        shown = await _shown(port, target, contexts, deadline) if deadline.left() else _TOO_LATE
    finally:
        wire.connects.release()
    if isinstance(shown, Failed):
        return Miss(where, shown.outcome, shown.reason, began)
    return Answer(where, shown, began)


async def _says_none(target: Target, deadline: Deadline) -> bool:
    """Does the device say that none of its ways to print is by TLS (RFC 8011 section 5.4.3)?"""
    told = await target.learnt.wait_for(IppService, min(_IPP_WITHIN_S, deadline.left() / 2))
    uris = [uri for each in told for uri in each.uris]
    return bool(uris) and all(uri.security == "none" for uri in uris)


async def _shown(port: int, target: Target, contexts: Contexts, deadline: Deadline) -> Shown | Failed:
    name = server_name(target.host or target.address)
    first = await shake(target.address, port, name, contexts.verifying, deadline)
    match first:
        case Shaken():
            return Shown(port, first, "")
        case Untrusted(why):
            fault = why
        case Failed(reason=reason, otherwise=True):
            fault = f"not verified: by TLS 1.2 and later it {reason}"
        case Failed():
            return first
        case _:
            assert_never(first)
    return _at_last(port, first, await shake(target.address, port, name, contexts.reading, deadline), fault)


def _at_last(port: int, first: Untrusted | Failed, second: Result, fault: str) -> Shown | Failed:
    match second:
        case Shaken():
            return Shown(port, second, fault)
        case Failed() if isinstance(first, Failed):
            return first
        case Failed():
            return msgspec.structs.replace(second, reason=f"{second.reason}; a moment before, {fault}")
        case Untrusted(why):  # whoever trusts everybody does not say so
            return Failed(Outcome.FAILED, why)
        case _:
            assert_never(second)
