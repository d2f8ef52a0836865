"""The carrier of IPP against servers on loopback: an independent HTTP server, and sockets that break the protocol.

Status codes, framing and redirects after RFC 9110 and RFC 9112.
"""

import asyncio
import re
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager, closing, suppress

import pytest
from aiohttp import web

from probes.ipp.http import Endpoint, Kind, Reply, post

ANSWER = b"\x02\x00\x00\x00\x00\x00\x00\x01\x03"
CHUNKED = b"HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n"
REQUEST = b"\x02\x00\x00\x0b\x00\x00\x00\x01\x03"
Handler = Callable[[asyncio.StreamReader, asyncio.StreamWriter], Awaitable[None]]


def ok(body: bytes = ANSWER, *fields: str, content_type: str = "application/ipp") -> bytes:
    head = ["HTTP/1.1 200 OK", f"Content-Type: {content_type}", f"Content-Length: {len(body)}", *fields]
    return "\r\n".join(head).encode() + b"\r\n\r\n" + body


@asynccontextmanager
async def serving(handler: Handler, address: str = "127.0.0.1") -> AsyncIterator[int]:
    """A server that gives each connection to `handler` once its request is in; its port. Leaves nothing behind."""
    handling: set[asyncio.Task[None]] = set()

    async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        task = asyncio.current_task()
        assert task
        handling.add(task)
        with suppress(ConnectionError), closing(writer):
            head = await reader.readuntil(b"\r\n\r\n")
            length = re.search(rb"(?i)content-length: (\d+)", head)
            assert length
            await reader.readexactly(int(length[1]))
            await handler(reader, writer)

    async with await asyncio.start_server(serve, address, 0) as server:
        try:
            yield server.sockets[0].getsockname()[1]
        finally:
            if handling:
                _, late = await asyncio.wait(handling, timeout=1)
                for task in late:
                    task.cancel()


def run(handler: Handler, *, wait_s: float = 2.0, address: str = "127.0.0.1", path: str = "/ipp/print") -> Reply:
    """Post to such a server."""

    async def main() -> Reply:
        async with serving(handler, address) as port:
            return await post(Endpoint(address, port, path, host="printer.example"), REQUEST, wait_s)

    return asyncio.run(main())


def sends(*parts: bytes) -> Handler:
    async def handler(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        for part in parts:
            writer.write(part)
            await writer.drain()

    return handler


# --- an independent server


@pytest.mark.parametrize("address", ["127.0.0.1", "::1"])
@pytest.mark.parametrize("chunked", [False, True])
def test_an_independent_server(address: str, chunked: bool) -> None:
    seen: list[tuple[str, str, str, bytes]] = []

    async def printer(request: web.Request) -> web.StreamResponse:
        fields = request.headers
        seen.append((fields["Content-Type"], fields["Host"], fields["Accept-Encoding"], await request.read()))
        response = web.Response(body=ANSWER * 1000, content_type="application/ipp")
        if chunked:
            response.enable_chunked_encoding()
        return response

    async def main() -> tuple[Reply, int]:
        app = web.Application()
        app.router.add_post("/ipp/print", printer)
        runner = web.AppRunner(app)
        await runner.setup()
        site = web.TCPSite(runner, address, 0)
        await site.start()
        port = runner.addresses[0][1]
        try:
            return await post(Endpoint(address, port, "/ipp/print"), REQUEST, 5), port
        finally:
            await runner.cleanup()

    reply, port = asyncio.run(main())
    assert reply == Reply(Kind.IPP, 200, "application/ipp", "", ANSWER * 1000, "/ipp/print")
    shown = f"[{address}]" if ":" in address else address
    assert seen == [("application/ipp", f"{shown}:{port}", "identity", REQUEST)]


# --- what a status means


@pytest.mark.parametrize(
    ("line", "kind"),
    [
        ("401 Unauthorized", Kind.UNAUTHORIZED),
        ("403 Forbidden", Kind.FORBIDDEN),
        ("404 Not Found", Kind.NOT_FOUND),
        ("426 Upgrade Required", Kind.UPGRADE_REQUIRED),
        ("400 Bad Request", Kind.OTHER),
        ("303 See Other", Kind.OTHER),
        ("503 Service Unavailable", Kind.OTHER),
    ],
)
def test_status(line: str, kind: Kind) -> None:
    reply = run(sends(f"HTTP/1.1 {line}\r\nUpgrade: TLS/1.2\r\nContent-Length: 0\r\n\r\n".encode()))
    assert (reply.kind, reply.status) == (kind, int(line[:3]))


@pytest.mark.parametrize(
    ("content_type", "kind"),
    [
        ("application/ipp", Kind.IPP),
        ("Application/IPP; charset=utf-8", Kind.IPP),
        ("", Kind.IPP),
        ("text/html", Kind.NOT_IPP),
    ],
)
def test_content_type(content_type: str, kind: Kind) -> None:
    assert run(sends(ok(content_type=content_type))).kind is kind


@pytest.mark.parametrize(
    "octets",
    [
        b"HTTP/1.1 100 Continue\r\n\r\n" + ok(),
        b"HTTP/1.1 102 Processing\r\n\r\nHTTP/1.1 100 Continue\r\n\r\n" + ok(),
        b"HTTP/1.0 200 OK\r\nContent-Type: application/ipp\r\n\r\n" + ANSWER,
        b"HTTP/1.1 200\r\nContent-Type: application/ipp\r\nConnection: close\r\n\r\n" + ANSWER,
        ok(ANSWER, "Content-Encoding: identity"),
        ok(ANSWER) + b"trailing rubbish",
        b"HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n"
        + b"".join(b"1\r\n%c\r\n" % c for c in ANSWER)
        + b"0\r\n\r\n",
    ],
)
def test_legal_ways_to_send_the_same(octets: bytes) -> None:
    reply = run(sends(octets))
    assert (reply.kind, reply.body) == (Kind.IPP, ANSWER)
    assert run(sends(*(bytes((octet,)) for octet in octets))).body == ANSWER


# --- redirects


def redirecting(location: str, *rest: bytes) -> tuple[Handler, list[str]]:
    """Answers the first request with a redirect and the later ones with `rest`, over and over."""
    asked: list[str] = []

    async def handler(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        port = writer.get_extra_info("sockname")[1]
        asked.append("asked")
        answer = f"HTTP/1.1 307 Temporary Redirect\r\nLocation: {location}\r\nContent-Length: 0\r\n\r\n"
        writer.write(rest[0] if rest and len(asked) > 1 else answer.replace("PORT", str(port)).encode("latin-1"))
        await writer.drain()

    return handler, asked


@pytest.mark.parametrize(
    "location",
    [
        "/ipp/printer",
        "http://127.0.0.1:PORT/ipp/printer",
        "http://PRINTER.example.:PORT/ipp/printer",
        "ipp://127.0.0.1:PORT/ipp/printer",
        "http://127.0.0.1:PORT/ipp/printer#fragment",
    ],
)
def test_a_redirect_on_the_same_host_is_followed(location: str) -> None:
    handler, asked = redirecting(location, ok())
    reply = run(handler)
    assert (reply.kind, reply.path, len(asked)) == (Kind.IPP, "/ipp/printer", 2)


@pytest.mark.parametrize(
    "location",
    [
        "http://192.0.2.99:PORT/ipp/print",  # another host
        "http://127.0.0.1:9100/",  # its own raw port, which prints what it gets
        "http://127.0.0.1/",
        "https://127.0.0.1:PORT/ipp/print",
        "//192.0.2.99/ipp/print",
        "http://user@192.0.2.99:PORT/",
        "http://127.0.0.1:99999/",
        "http://[::1/",
        "file:///etc/hosts",
        "ipp/printer",
        "/with a blank",
        "/with\xe4umlaut",
        "/" + "x" * 2000,
        "",
    ],
)
def test_no_other_redirect_is_followed(location: str) -> None:
    handler, asked = redirecting(location)
    reply = run(handler)
    assert (reply.kind, len(asked)) == (Kind.REDIRECTED, 1)


def test_a_redirect_loop_ends() -> None:
    handler, asked = redirecting("/ipp/print")
    assert run(handler).kind is Kind.REDIRECTED
    assert len(asked) == 3
