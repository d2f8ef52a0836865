"""Stage: ask. One Get-Printer-Attributes that succeeds: the path and the version that the printer takes.

The path of the device's own URI comes first, then those that printers use; the newest version first, then the one that
all must take. Silence, refusal and denial end it: they would be the same at every path.
"""

import time
from collections.abc import AsyncGenerator
from typing import Final
from urllib.parse import quote

import msgspec

from netcheck.probing import Answer, Deadline, Miss, Target
from netcheck.wire import Wire
from probes.ipp.calling import Response, Retry, call
from probes.ipp.http import Endpoint
from probes.ipp.requests import EVERYBODYS, LATEST, get_printer_attributes
from probes.ipp.values import Message

USUAL_PATHS: Final = ("/ipp/print", "/ipp/printer", "/")
"""The first is IPP Everywhere's (PWG 5100.14, from memory); the others are common practice, no source."""

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
)
"""What is read, and nothing else: asking for all costs eight times as much, and some printers answer group keywords
badly (common practice, no source)."""


class Printer(msgspec.Struct, frozen=True):
    """A printer object's description of itself, and the path at which it gave it."""

    path: str
    message: Message


async def ask(target: Target, wire: Wire, deadline: Deadline) -> AsyncGenerator[Answer[Printer] | Miss, None]:
    """A miss for every path that has no printer, then the answer of the one that has."""
    for path in _paths(target.path):
        endpoint = Endpoint(target.address, target.ports["ipp"], path, target.host)
        uri = f"ipp://{endpoint.authority}{path}"
        began, note = time.monotonic(), ""
        result = await call(endpoint, get_printer_attributes(uri, REQUESTED, LATEST), wire, deadline)
        if not isinstance(result, Response) and result.retry is Retry.ANOTHER_VERSION:
            note = "does not take IPP 2.0, asked by 1.1"
            result = await call(endpoint, get_printer_attributes(uri, REQUESTED, EVERYBODYS), wire, deadline)
        if isinstance(result, Response):
            yield Answer(uri, Printer(result.path, result.message), began, note)
            return
        yield Miss(uri, result.outcome, result.reason, began)
        if result.retry is not Retry.ANOTHER_PATH:
            return


def _paths(named: str) -> tuple[str, ...]:
    own = quote(named if named.startswith("/") else f"/{named}", safe="/%:@!$&'()*+,;=-._~") if named else ""
    return tuple(dict.fromkeys(filter(None, (own, *USUAL_PATHS))))
