"""The `ipp` probe against a small independent HTTP server on loopback: which paths and versions it tries, when it
stops, and what it calls what it met."""

import asyncio
import time
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager

import pytest
from aiohttp import web
from pyipp.parser import parse

from netcheck.facts.identity import Model
from netcheck.probing import Answer, Deadline, Miss, Target
from netcheck.roles import Outcome, Role
from netcheck.wire import Wire
from probes.ipp import PROBE, Reply
from probes.ipp.asking import REQUESTED, Printer

from .test_ipp_bytes import (
    FIXTURES,
    NOT_FOUND,
    OK,
    OPERATION,
    PRINTER,
    VERSION_NOT_SUPPORTED,
    attribute,
    message,
    text,
    token,
)

PRINTER_SAYS = message(OK, PRINTER, attribute("printer-make-and-model", text("Halden 36R")))
RECORDED = (FIXTURES / "ipp/printer.ipp").read_bytes()
Handler = Callable[[web.BaseRequest], Awaitable[web.StreamResponse]]
Result = Reply


def ipp(octets: bytes) -> web.Response:
    return web.Response(body=octets, content_type="application/ipp")


@asynccontextmanager
async def served(handler: Handler) -> AsyncIterator[int]:
    """A server on loopback that gives every request to `handler`; its port."""
    runner = web.ServerRunner(web.Server(handler), shutdown_timeout=0.1)
    await runner.setup()
    await web.TCPSite(runner, "127.0.0.1", 0).start()
    try:
        yield runner.addresses[0][1]
    finally:
        await runner.cleanup()


def target(port: int, path: str = "", address: str = "127.0.0.1") -> Target:
    return Target(Role.NEW, "127.0.0.1", address, {"ipp": port}, path)


async def gathered(where: Target, limit_s: float = 3.0) -> list[Result]:
    async with Wire() as wire:
        return [result async for result in PROBE.ask(where, wire, Deadline(time.monotonic() + limit_s))]


def asked(handler: Handler, path: str = "", limit_s: float = 3.0) -> list[Result]:
    async def main() -> list[Result]:
        async with served(handler) as port:
            return await gathered(target(port, path), limit_s)

    return asyncio.run(main())


def answered_with(response: Callable[[], web.Response]) -> list[Result]:
    async def handler(request: web.BaseRequest) -> web.Response:
        await request.read()
        return response()

    return asked(handler)


def missed(results: list[Result]) -> list[tuple[Outcome, str]]:
    return [(result.outcome, result.reason) for result in results if isinstance(result, Miss)]


def only_miss(results: list[Result]) -> Miss:
    (miss,) = results
    assert isinstance(miss, Miss)
    return miss


def models(results: list[Result]) -> list[str]:
    facts = [fact for result in results if isinstance(result, Answer) for _, fact in PROBE.read(result.payload)]
    return [fact.value for fact in facts if isinstance(fact, Model)]


# --- what is asked


def test_the_request() -> None:
    seen: list[tuple[str, str, bytes]] = []

    async def handler(request: web.BaseRequest) -> web.Response:
        seen.append((request.method, request.path, await request.read()))
        return ipp(PRINTER_SAYS)

    (answer,) = asked(handler)
    assert isinstance(answer, Answer)
    assert answer.target.startswith("ipp://127.0.0.1:")
    ((method, path, body),) = seen
    assert (method, path) == ("POST", "/ipp/print")
    # RFC 8011 section 4.1.4: charset and language first, in this order, and then the target.
    preamble = token(0x47, b"utf-8", b"attributes-charset") + token(0x48, b"en", b"attributes-natural-language")
    assert body.startswith(bytes.fromhex("0200 000b 00000001") + OPERATION + preamble + b"\x45\x00\x0bprinter-uri")
    said = parse(body)["operation-attributes"]
    assert said["printer-uri"] == answer.target
    assert said["requested-attributes"] == list(REQUESTED)
    assert not {"all", "printer-description", "job-template", "media-col-database"} & set(REQUESTED)


def versions(*accepted: bytes) -> tuple[Handler, list[bytes]]:
    """A printer that takes some versions only: RFC 8010 section 9.1 says how it refuses the others."""
    tried: list[bytes] = []

    async def handler(request: web.BaseRequest) -> web.Response:
        version = (await request.read())[:2]
        tried.append(version)
        refusal = message(VERSION_NOT_SUPPORTED, attribute("status-message", text("no")), version=b"\x01\x01")
        return ipp(PRINTER_SAYS if version in accepted else refusal)

    return handler, tried


def test_a_printer_without_ipp_2_is_asked_by_ipp_1_1() -> None:
    # Published check IPP-25; RFC 8010 section 9.1
    handler, tried = versions(b"\x01\x01")
    results = asked(handler)
    assert models(results) == ["Halden 36R"]
    assert tried == [b"\x02\x00", b"\x01\x01"]
    assert isinstance(results[0], Answer)
    assert "1.1" in results[0].note


def test_a_printer_that_takes_no_version() -> None:
    handler, tried = versions()
    assert missed(asked(handler)) == [(Outcome.FAILED, "server-error-version-not-supported: no")]
    assert len(tried) == 2


@pytest.fixture
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is advertised here, so there is nothing to wait for."""
    monkeypatch.setattr("probes.ipp.paths.PATIENCE_S", 0.05)


def paths(*existing: str, elsewhere: Callable[[], web.Response]) -> tuple[Handler, list[str]]:
    tried: list[str] = []

    async def handler(request: web.BaseRequest) -> web.Response:
        await request.read()
        tried.append(request.raw_path)
        return ipp(PRINTER_SAYS) if request.raw_path in existing else elsewhere()

    return handler, tried


@pytest.mark.parametrize(
    "elsewhere",
    [
        lambda: web.Response(status=404),
        lambda: web.Response(status=405),
        lambda: web.Response(status=404, body=b"<html>", content_type="text/html"),
        lambda: ipp(message(NOT_FOUND)),
    ],
)
@pytest.mark.usefixtures("impatient")
def test_where_there_is_no_printer_the_next_path_is_tried(elsewhere: Callable[[], web.Response]) -> None:
    handler, tried = paths("/ipp/printer", elsewhere=elsewhere)
    results = asked(handler)
    assert tried == ["/ipp/print", "/ipp/printer"]
    assert [outcome for outcome, _ in missed(results)] == [Outcome.EMPTY]
    assert models(results) == ["Halden 36R"]


@pytest.mark.usefixtures("impatient")
def test_a_page_at_the_path_is_no_printer_and_the_next_path_is_tried() -> None:
    """Small web servers answer every POST with a page (common practice, no source)."""
    page = lambda: web.Response(body=b"<html>", content_type="text/html")  # noqa: E731 - one of many such
    handler, _ = paths("/ipp/printer", elsewhere=page)
    results = asked(handler)
    assert missed(results) == [(Outcome.MALFORMED, "answered text/html instead of application/ipp")]
    assert models(results) == ["Halden 36R"]


@pytest.mark.parametrize(("own", "sent"), [("/printers/Plans", "/printers/Plans"), ("pl ä?n", "/pl%20%C3%A4%3Fn")])
@pytest.mark.usefixtures("impatient")
def test_the_devices_own_path_comes_first(own: str, sent: str) -> None:
    handler, tried = paths("/ipp/print", elsewhere=lambda: web.Response(status=404))
    assert models(asked(handler, own)) == ["Halden 36R"]
    assert tried == [sent, "/ipp/print"]


@pytest.mark.usefixtures("impatient")
def test_no_path_has_a_printer() -> None:
    handler, tried = paths(elsewhere=lambda: web.Response(status=404))
    results = asked(handler)
    assert [outcome for outcome, _ in missed(results)] == [Outcome.EMPTY] * 2
    assert len(tried) == 2
    assert all("404" in reason for _, reason in missed(results))


def test_the_path_after_a_redirect_is_the_one_reported() -> None:
    handler, tried = paths("/ipp/real", elsewhere=lambda: web.Response(status=307, headers={"Location": "/ipp/real"}))
    (answer,) = asked(handler)
    assert isinstance(answer, Answer)
    assert isinstance(answer.payload, Printer)
    assert answer.payload.path == "/ipp/real"
    assert tried == ["/ipp/print", "/ipp/real"]
