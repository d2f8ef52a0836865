"""The `ipp` probe over TLS (RFC 7472; RFC 8010 section 8.1.2): when it asks so, and what it says when that fails."""

import asyncio
import socket
import ssl
import time
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager, suppress

import pytest
from aiohttp import web
from pyipp.parser import parse

from netcheck.probing import Answer, Miss, Target
from netcheck.roles import Outcome, Role
from probes.ipp import asking

from .test_ipp_probe import PRINTER_SAYS, Result, gathered, ipp, models, only_miss, served
from .test_tls_made import made, needs_openssl
from .test_tls_served import server_context

pytestmark = needs_openssl

Handler = Callable[[web.BaseRequest], Awaitable[web.StreamResponse]]


async def printer(request: web.BaseRequest) -> web.StreamResponse:
    await request.read()
    return ipp(PRINTER_SAYS)


def status(number: int) -> Handler:
    async def handler(request: web.BaseRequest) -> web.StreamResponse:
        await request.read()
        return web.Response(status=number)

    return handler


async def silent(request: web.BaseRequest) -> web.StreamResponse:
    await asyncio.sleep(30)
    return web.Response()


@asynccontextmanager
async def secured(handler: Handler, name: str = "valid", context: ssl.SSLContext | None = None) -> AsyncIterator[int]:
    """The same server as `served`, behind TLS; its port."""
    runner = web.ServerRunner(web.Server(handler), shutdown_timeout=0.1)
    await runner.setup()
    await web.TCPSite(runner, "127.0.0.1", 0, ssl_context=context or server_context(made(name))).start()
    try:
        yield runner.addresses[0][1]
    finally:
        await runner.cleanup()


def target(ports: dict[str, int], path: str = "") -> Target:
    return Target(Role.NEW, "127.0.0.1", "127.0.0.1", ports, path)


def asked(plain: Handler | None, tls: Handler | None, limit_s: float = 3, name: str = "valid") -> list[Result]:
    """Ask a printer that has one of the ways or both, on two ports."""

    async def main() -> list[Result]:
        async with served(plain or status(500)) as first, secured(tls or status(500), name) as second:
            ports = {**({"ipp": first} if plain else {}), **({"ipps": second} if tls else {})}
            return await gathered(target(ports), limit_s)

    return asyncio.run(main())


# --- when it asks so


@pytest.mark.parametrize("name", ["valid", "expired", "other", "weak", "leaf"])
def test_any_certificate_will_do_for_reading(name: str) -> None:
    """RFC 8010 section 8.1.2: trust on first use. What is wrong with the certificate is the `tls` probe's to say."""
    (answer,) = asked(None, printer, name=name)
    assert models([answer]) == ["Halden 36R"]
    assert answer.target.startswith("ipps://127.0.0.1:")


def test_the_request_names_the_encrypted_printer() -> None:
    """RFC 8011 section 4.1.5 (from memory): the target is named by the URI that the client uses."""
    seen: list[bytes] = []

    async def handler(request: web.BaseRequest) -> web.StreamResponse:
        seen.append(await request.read())
        return ipp(PRINTER_SAYS)

    (answer,) = asked(None, handler)
    assert parse(seen[0])["operation-attributes"]["printer-uri"] == answer.target


def test_plain_comes_first_and_is_enough() -> None:
    reached: list[str] = []

    async def handler(request: web.BaseRequest) -> web.StreamResponse:
        reached.append("tls")
        return await printer(request)

    (answer,) = asked(printer, handler)
    assert (models([answer]), answer.target[:6], reached) == (["Halden 36R"], "ipp://", [])


@pytest.mark.parametrize(("plain", "outcome"), [(status(403), Outcome.DENIED), (status(503), Outcome.FAILED)])
def test_where_plain_does_not_answer_tls_does(plain: Handler, outcome: Outcome) -> None:
    miss, answer = asked(plain, printer)
    assert isinstance(miss, Miss)
    assert miss.outcome is outcome
    assert models([answer]) == ["Halden 36R"]


def test_a_silent_plain_port_leaves_time_for_tls() -> None:
    began = time.monotonic()
    miss, answer = asked(silent, printer, limit_s=1)
    assert isinstance(miss, Miss)
    assert miss.outcome is Outcome.SILENT
    assert models([answer]) == ["Halden 36R"]
    assert time.monotonic() - began < 1.5


def test_only_a_port_that_is_named_for_it_is_asked_so() -> None:
    (miss,) = asked(status(503), None)
    assert (miss.target[:6], only_miss([miss]).outcome) == ("ipp://", Outcome.FAILED)
    assert asyncio.run(gathered(target({"raw": 9}))) == []


def test_nobody_listens_on_the_one_port_for_both() -> None:
    with socket.socket() as bound:
        bound.bind(("127.0.0.1", 0))  # bound and not listening
        port = bound.getsockname()[1]
        assert only_miss(asyncio.run(gathered(target({"ipp": port, "ipps": port})))).outcome is Outcome.REFUSED


# --- a plain printer that wants it


def test_a_printer_that_wants_tls_is_asked_by_tls() -> None:
    """HTTP 426: RFC 9110 section 15.5.22; RFC 2817 section 4.2 (from memory) has it for a server that demands TLS."""
    (answer,) = asked(status(426), printer)
    assert isinstance(answer, Answer)
    assert models([answer]) == ["Halden 36R"]
    assert answer.note == "in plain it wants an encrypted connection (HTTP 426)"


@asynccontextmanager
async def both_on_one_port() -> AsyncIterator[int]:
    """A printer as many are: what begins like TLS is TLS, and everything else is told to come back by TLS."""
    inner, context = web.Server(printer), server_context(made("valid"))
    plain = web.Server(status(426))
    listener = socket.create_server(("127.0.0.1", 0))
    listener.setblocking(False)
    loop = asyncio.get_running_loop()

    async def accept() -> None:
        while True:
            connection, _ = await loop.sock_accept(listener)
            first = b""
            while not first:
                with suppress(BlockingIOError):
                    first = connection.recv(1, socket.MSG_PEEK)
                await asyncio.sleep(0.01)
            if first == b"\x16":  # RFC 8446 section 5.1: a handshake record
                await loop.connect_accepted_socket(inner, connection, ssl=context)
            else:
                await loop.connect_accepted_socket(plain, connection)

    task = asyncio.create_task(accept())
    try:
        yield listener.getsockname()[1]
    finally:
        task.cancel()
        listener.close()
        await inner.shutdown(0.1)
        await plain.shutdown(0.1)


def test_it_may_be_the_same_port() -> None:
    async def main() -> list[Result]:
        async with both_on_one_port() as port:
            return await gathered(target({"ipp": port}))

    (answer,) = asyncio.run(main())
    assert models([answer]) == ["Halden 36R"]
    assert answer.target.startswith("ipps://")


def test_a_printer_that_wants_tls_and_has_none_is_one_denial() -> None:
    miss = only_miss(asked(status(426), None))
    assert miss.outcome is Outcome.DENIED
    assert miss.reason.startswith("wants an encrypted connection (HTTP 426); by TLS: speaks no TLS that we do")
    assert miss.target.startswith("ipp://")


def test_by_tls_too_the_next_path_is_tried() -> None:
    async def handler(request: web.BaseRequest) -> web.StreamResponse:
        return await (printer if request.path == "/ipp/printer" else status(404))(request)

    miss, answer = asked(status(426), handler)
    assert isinstance(miss, Miss)
    assert (miss.outcome, miss.target[:7]) == (Outcome.EMPTY, "ipps://")
    assert isinstance(answer, Answer)
    assert isinstance(answer.payload, asking.Printer)
    assert (answer.payload.path, models([answer])) == ("/ipp/printer", ["Halden 36R"])


# --- what is no TLS


def tls_to(handler: Callable[[asyncio.StreamReader, asyncio.StreamWriter], Awaitable[None]], limit_s: float) -> Miss:
    async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        with suppress(ConnectionError, asyncio.CancelledError):
            await handler(reader, writer)
        writer.close()

    async def main() -> list[Result]:
        async with await asyncio.start_server(serve, "127.0.0.1", 0) as server:
            return await gathered(target({"ipps": server.sockets[0].getsockname()[1]}), limit_s)

    return only_miss(asyncio.run(main()))


async def says_http(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    await reader.read(100)
    writer.write(b"HTTP/1.1 400 Bad Request\r\n\r\n")
    await writer.drain()


async def closes(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    await reader.read(10_000)


async def waits(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    while await reader.read(4096):
        pass


@pytest.mark.parametrize("handler", [says_http, closes])
def test_what_speaks_no_tls_is_malformed(
    handler: Callable[[asyncio.StreamReader, asyncio.StreamWriter], Awaitable[None]], capfd: pytest.CaptureFixture[str]
) -> None:
    miss = tls_to(handler, 2)
    assert miss.outcome is Outcome.MALFORMED
    assert miss.reason.startswith("speaks no TLS that we do (")
    assert capfd.readouterr().err == ""


def test_who_never_shakes_hands_costs_the_deadline(capfd: pytest.CaptureFixture[str]) -> None:
    began = time.monotonic()
    miss = tls_to(waits, 0.4)
    expected = "accepted the connection, then did not finish the TLS handshake"
    assert (miss.outcome, miss.reason) == (Outcome.SILENT, expected)
    assert 0.35 < time.monotonic() - began < 1.2
    assert capfd.readouterr().err == ""


def test_an_old_device_is_read_too() -> None:
    context = server_context(made("valid"), "AES128-SHA:@SECLEVEL=0")
    context.maximum_version = ssl.TLSVersion.TLSv1_2

    async def main() -> list[Result]:
        async with secured(printer, context=context) as port:
            return await gathered(target({"ipps": port}))

    assert models(asyncio.run(main())) == ["Halden 36R"]
