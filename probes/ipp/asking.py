"""Stage: ask. One Get-Printer-Attributes that succeeds: in plain or by TLS, at the path and in the version that the
printer takes.

A printer gets two requests at the most, because its server often serves one client at a time (common practice, no
source). The first goes to the path of the device's own URI, or to the usual one, in the newest version. The second goes
where the first answer points: to another path, to the version that all must take, or to TLS; and it is in that version
whatever it is for, because nobody may refuse it. Silence, refusal and denial end it: they would be the same at every
path.
"""

import time
from collections.abc import AsyncGenerator
from contextlib import aclosing
from dataclasses import replace
from typing import Final, TypeAlias

import msgspec

from netcheck.probing import Answer, Deadline, Learnt, Miss, Target
from netcheck.roles import Outcome
from netcheck.wire import Wire
from probes.ipp.calling import Failure, Response, Retry, call
from probes.ipp.http import Endpoint, Kept
from probes.ipp.paths import paths
from probes.ipp.requests import EVERYBODYS, LATEST, Version, get_printer_attributes
from probes.ipp.values import Message
from probes.tls.contexts import Contexts

REQUESTED: Final = (
    "printer-uri-supported",
    "uri-security-supported",
    "uri-authentication-supported",
    "ipp-versions-supported",
    "operations-supported",
    "printer-make-and-model",
    "printer-device-id",
    "printer-uuid",
    "printer-firmware-name",
    "printer-firmware-string-version",
    "printer-state",
    "printer-state-reasons",
    "printer-state-message",
    "printer-is-accepting-jobs",
    "document-format-supported",
    "document-format-default",
    "media-supported",
    "media-size-supported",
    "media-type-supported",
    "media-source-supported",
    "media-ready",
    "media-col-ready",
    "printer-supply",
    "printer-supply-description",
    "marker-names",
    "marker-types",
    "marker-levels",
    "marker-high-levels",
    "marker-colors",
    "printer-alert",
    "printer-alert-description",
    "printer-input-tray",
    "printer-output-tray",
    "printer-name",
    "printer-info",
    "printer-location",
    "printer-up-time",
    "printer-current-time",
    "printer-state-change-time",
    "printer-config-change-time",
    "printer-config-change-date-time",
    "color-supported",
    "sides-supported",
    "printer-resolution-supported",
    "finishings-supported",
    "media-bottom-margin-supported",
    "media-left-margin-supported",
    "media-right-margin-supported",
    "media-top-margin-supported",
)
"""What is read, and nothing else: asking for all costs eight times as much, and some printers answer group keywords
badly (common practice, no source)."""


class Printer(msgspec.Struct, frozen=True):
    """A printer object's description of itself, and the path at which it gave it."""

    path: str
    message: Message


Reply: TypeAlias = Answer[Printer] | Miss
_NOBODY: Final = {Outcome.REFUSED, Outcome.UNREACHABLE}
_MOST: Final = 2


class _Allowance:
    """How many requests this printer may still get. What nobody heard costs nothing, and a demand for TLS (HTTP 426)
    comes before any request was looked at."""

    def __init__(self) -> None:
        self.left = _MOST

    def version(self) -> Version:
        return LATEST if self.left > 1 else EVERYBODYS

    def charge(self, result: Response | Failure) -> None:
        if isinstance(result, Response) or not (
            result.retry is Retry.ENCRYPTED or result.outcome in {*_NOBODY, Outcome.NOT_TRIED}
        ):
            self.left -= 1


async def ask(target: Target, wire: Wire, deadline: Deadline, kept: Kept | None = None) -> AsyncGenerator[Reply, None]:
    """A miss for every path that has no printer, then the answer of the one that has.

    In plain first; by TLS where that gave no answer and a port for it is named, and where the printer wants it (HTTP
    426, or a redirect to it). Any certificate will do for reading what anybody may read (RFC 8010 section 8.1.2: trust
    on first use). ``kept``: the printer will be asked more at once.
    """
    plain, secure = target.ports.get("ipp"), target.ports.get("ipps")
    demand: Miss | None = None
    allowance = _Allowance()
    if plain is not None:
        endpoint = Endpoint(target.address, plain, target.path, target.host, kept=kept)
        share = deadline if secure is None else Deadline(time.monotonic() + deadline.left() / 2)
        async with aclosing(_ask(endpoint, target.learnt, wire, share, allowance)) as replies:
            async for reply, retry in replies:
                if isinstance(reply, Miss) and retry is Retry.ENCRYPTED:
                    demand, secure = reply, secure or plain
                    continue  # it is told together with what comes of it
                yield reply
                if isinstance(reply, Answer) or (plain == secure and reply.outcome in _NOBODY):
                    return
    if secure is None:
        return
    contexts = await wire.shared(Contexts, Contexts.made)
    endpoint = Endpoint(target.address, secure, target.path, target.host, contexts.reading, kept)
    async with aclosing(_ask(endpoint, target.learnt, wire, deadline, allowance)) as replies:
        async for reply, retry in replies:
            yield _upon(demand, reply) if demand and retry is not Retry.ANOTHER_PATH else reply


def _upon(demand: Miss, reply: Reply) -> Reply:
    """What TLS gave, upon a demand for it."""
    if isinstance(reply, Miss):
        return Miss(demand.target, demand.outcome, f"{demand.reason}; by TLS: {reply.reason}", demand.began)
    return replace(reply, note=", ".join(filter(None, (f"in plain it {demand.reason}", reply.note))))


async def _ask(
    endpoint: Endpoint, learnt: Learnt, wire: Wire, deadline: Deadline, allowance: _Allowance
) -> AsyncGenerator[tuple[Reply, Retry], None]:
    """The same in one of the two ways; each reply with what could be asked instead."""
    scheme = "ipps" if endpoint.tls else "ipp"
    async with aclosing(paths(endpoint.path, endpoint.port, learnt, deadline)) as candidates:
        while allowance.left and (path := await anext(candidates, None)):
            there = msgspec.structs.replace(endpoint, path=path)
            uri = f"{scheme}://{there.authority}{path}"
            began, note = time.monotonic(), ""
            result = await _call(there, uri, allowance.version(), wire, deadline, allowance)
            if isinstance(result, Failure) and result.retry is Retry.ANOTHER_VERSION and allowance.left:
                note = "does not take IPP 2.0, asked by 1.1"
                result = await _call(there, uri, EVERYBODYS, wire, deadline, allowance)
            if isinstance(result, Response):
                yield Answer(uri, Printer(result.path, result.message), began, note), Retry.NOTHING
                return
            yield Miss(uri, result.outcome, result.reason, began), result.retry
            if result.retry is not Retry.ANOTHER_PATH:
                return


async def _call(
    there: Endpoint, uri: str, version: Version, wire: Wire, deadline: Deadline, allowance: _Allowance
) -> Response | Failure:
    result = await call(there, get_printer_attributes(uri, REQUESTED, version), wire, deadline)
    allowance.charge(result)
    return result
