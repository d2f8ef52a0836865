"""What every simulated IPP endpoint does before and around an operation, and the HTTP that carries it.

`respond` is sans-I/O: request octets in, response octets out, with the checks of RFC 8011 s4.1 in their order (version,
request-id, charset and natural language first, operation, target). `serve` puts it behind HTTP with aiohttp, which is
imported only there.
"""

from __future__ import annotations

import asyncio
import socket
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from netcheck.rehearsal.ipp_message import (
    Attribute,
    MalformedRequestError,
    Request,
    Response,
    encode_response,
    read_request,
)

if TYPE_CHECKING:
    from aiohttp import web

OK, OK_IGNORED = 0x0000, 0x0001
BAD_REQUEST, NOT_FOUND, FORMAT_NOT_SUPPORTED = 0x0400, 0x0406, 0x040A
VALUES_NOT_SUPPORTED, CHARSET_NOT_SUPPORTED = 0x040B, 0x040D
OPERATION_NOT_SUPPORTED, VERSION_NOT_SUPPORTED = 0x0501, 0x0503
VALIDATE_JOB, GET_JOBS, GET_PRINTER_ATTRIBUTES, CUPS_GET_PRINTERS = 0x0004, 0x000A, 0x000B, 0x4002

VERSIONS = ((1, 1), (2, 0))
MAX_REQUEST = 64 * 1024  # octets; a ticket without a document is a few hundred

Operation = Callable[[Request], Response]
_UNTARGETED = (CUPS_GET_PRINTERS,)  # operations on the system, without a printer-uri
_JOB_TEMPLATE = frozenset(  # RFC 8011 s5.2, PWG 5100.7, 5100.13: what "job-template" stands for, without its suffixes
    {"copies", "finishings", "media", "media-bottom-margin", "media-col", "media-left-margin", "media-right-margin"}
    | {"media-size", "media-source", "media-top-margin", "media-type", "orientation-requested", "output-bin"}
    | {"print-color-mode", "print-quality", "printer-resolution", "sides"}
)
_BY_NAME_ONLY = frozenset({"media-col-database"})  # PWG 5100.7: too long to come unasked


def respond(octets: bytes, operations: Mapping[int, Operation]) -> bytes:
    """The response to one request. Raises ValueError when `octets` are too few to be answered in IPP."""
    try:
        request = read_request(octets)
        response = _refusal(request, operations) or operations[request.operation](request)
    except MalformedRequestError as fault:
        request, response = fault.request, Response(BAD_REQUEST, message=str(fault))
    return encode_response(response, _spoken(request.version), request.request_id)


def _spoken(version: tuple[int, int]) -> tuple[int, int]:
    """The version to answer in: the request's, or the nearest that is supported (RFC 8011 s4.1.8)."""
    if version in VERSIONS:
        return version
    return VERSIONS[-1] if version > VERSIONS[-1] else VERSIONS[0]


def _refusal(request: Request, operations: Mapping[int, Operation]) -> Response | None:
    if request.version not in VERSIONS:
        return Response(VERSION_NOT_SUPPORTED, message="versions 1.1 and 2.0 are supported")
    if request.request_id < 1:
        return Response(BAD_REQUEST, message="request-id must be at least 1")
    if list(request.operation_attributes)[:2] != ["attributes-charset", "attributes-natural-language"]:
        return Response(BAD_REQUEST, message="attributes-charset and attributes-natural-language must come first")
    if (request.text("attributes-charset") or "").lower() != "utf-8":
        return Response(CHARSET_NOT_SUPPORTED, message="utf-8 is supported")
    if request.operation not in operations:
        return Response(OPERATION_NOT_SUPPORTED)
    if request.operation not in _UNTARGETED and request.text("printer-uri") is None:
        return Response(BAD_REQUEST, message="printer-uri is missing")
    return None


def select(attributes: Iterable[Attribute], wanted: Sequence[str]) -> tuple[Attribute, ...]:
    """The attributes that `requested-attributes` asks for; nothing asked means all (RFC 8011 s4.2.5.1).

    Names that the printer does not have are passed over, which the same section allows.
    """
    names = frozenset(wanted or ("all",))

    def chosen(name: str) -> bool:
        if name in names or name in _BY_NAME_ONLY:
            return name in names
        group = "job-template" if _is_job_template(name) else "printer-description"
        return "all" in names or group in names

    return tuple(each for each in attributes if chosen(each.name))


def _is_job_template(name: str) -> bool:
    stem, _, suffix = name.rpartition("-")
    return suffix in ("default", "supported", "ready", "database") and stem in _JOB_TEMPLATE


def no_jobs(_request: Request) -> Response:
    """Get-Jobs of a queue without jobs: success and no job group (RFC 8011 s4.2.6.2)."""
    return Response(OK)


Answer = Callable[[str, bytes], bytes | None]


async def serve(answer: Answer, page: str, listeners: Iterable[socket.socket]) -> web.AppRunner:
    """Serves IPP and one page of text on listening sockets until the returned runner's `cleanup`.

    `answer(path, body)` gives the IPP response, or None where nothing lives at `path`, which becomes HTTP 404.
    """
    from aiohttp import web

    async def ipp(request: web.Request) -> web.Response:
        if request.content_type != "application/ipp":
            raise web.HTTPUnsupportedMediaType
        body = await request.read()
        try:
            octets = answer(request.path, body)
        except ValueError as fault:
            raise web.HTTPBadRequest(text=str(fault)) from fault
        if octets is None:
            raise web.HTTPNotFound
        return web.Response(body=octets, content_type="application/ipp")

    async def front(_request: web.Request) -> web.Response:
        return web.Response(text=page)

    application = web.Application(client_max_size=MAX_REQUEST)
    application.router.add_post("/{path:.*}", ipp)
    application.router.add_get("/", front)
    runner = web.AppRunner(application, access_log=None, shutdown_timeout=0.2)
    await runner.setup()
    await asyncio.gather(*(web.SockSite(runner, listener).start() for listener in listeners))
    return runner
