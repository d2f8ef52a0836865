"""One connection for all that is asked of one printer (RFC 9112 section 9.3), against aiohttp and plain sockets."""

import asyncio
from collections.abc import Awaitable, Callable

from aiohttp import web

from netcheck.wire import Wire
from probes.ipp.channel import Kept
from probes.ipp.http import Endpoint, Reply, post

Connection = Callable[[asyncio.StreamReader, asyncio.StreamWriter], Awaitable[None]]
FIELDS = b"HTTP/1.1 200 OK\r\nContent-Type: application/ipp\r\nContent-Length: 2\r\n"


async def posted(port: int, times: int, wire: Wire) -> tuple[list[Reply], Kept]:
    """The answers to so many requests; whoever gets the connection closes it."""
    kept = Kept(wire)
    endpoint = Endpoint("127.0.0.1", port, "/ipp/print", kept=kept)
    await wire.connects.acquire()
    return [await post(endpoint, b"%d" % number, 2.0) for number in range(times)], kept


def against(serve: Connection, times: int) -> tuple[list[bytes], bool]:
    """The bodies of the answers, and whether the connection is still open after the last."""

    async def main() -> tuple[list[bytes], bool]:
        async with await asyncio.start_server(serve, "127.0.0.1", 0) as server, Wire() as wire:
            replies, kept = await posted(server.sockets[0].getsockname()[1], times, wire)
            is_open = kept.is_open
            kept.close()
            return [reply.body for reply in replies], is_open

    return asyncio.run(main())


async def request(reader: asyncio.StreamReader) -> bytes:
    head = await reader.readuntil(b"\r\n\r\n")
    assert b"connection: keep-alive" in head.lower()
    return await reader.readexactly(1)


def test_an_independent_server_is_asked_over_one_connection() -> None:
    peers: list[object] = []

    async def main() -> list[bytes]:
        async def printer(asked: web.Request) -> web.Response:
            assert asked.transport
            peers.append(asked.transport.get_extra_info("peername"))
            return web.Response(body=await asked.read(), content_type="application/ipp")

        app = web.Application()
        app.router.add_post("/ipp/print", printer)
        runner = web.AppRunner(app)
        await runner.setup()
        site = web.TCPSite(runner, "127.0.0.1", 0)
        await site.start()
        async with Wire() as wire:
            replies, kept = await posted(runner.addresses[0][1], 3, wire)
            kept.close()
        await runner.cleanup()
        return [reply.body for reply in replies]

    assert asyncio.run(main()) == [b"0", b"1", b"2"]
    assert len(peers) == 3
    assert len(set(peers)) == 1


def test_a_printer_that_closes_is_connected_to_again() -> None:
    met = []

    async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        met.append(writer)
        asked = await request(reader)
        writer.write(FIELDS + b"Connection: close\r\n\r\n" + asked * 2)
        writer.close()

    assert against(serve, 3) == ([b"00", b"11", b"22"], False)
    assert len(met) == 3


def test_one_that_says_it_stays_and_goes_is_asked_once_more() -> None:
    met = []

    async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        met.append(writer)
        asked = await request(reader)
        writer.write(FIELDS + b"\r\n" + asked * 2)
        await writer.drain()
        writer.close()

    bodies, _ = against(serve, 3)
    assert bodies == [b"00", b"11", b"22"]
    assert len(met) == 3


def test_what_comes_unasked_ends_it() -> None:
    met = []

    async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        met.append(writer)
        asked = await request(reader)
        writer.write(FIELDS + b"\r\n" + asked * 2 + FIELDS + b"\r\nxx")
        await writer.drain()
        await reader.read()
        writer.close()

    assert against(serve, 2) == ([b"00", b"11"], False)
    assert len(met) == 2


def test_its_place_among_the_connections_is_given_back() -> None:
    async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        while asked := await reader.readuntil(b"\r\n\r\n"):
            await reader.readexactly(1)
            writer.write(FIELDS + b"\r\n" + asked[:2])

    async def main() -> None:
        async with await asyncio.start_server(serve, "127.0.0.1", 0) as server, Wire() as wire:
            free = wire.connects._value
            _, kept = await posted(server.sockets[0].getsockname()[1], 2, wire)
            assert kept.is_open
            assert wire.connects._value == free - 1
            kept.close()
            kept.close()
            assert wire.connects._value == free

    asyncio.run(main())
