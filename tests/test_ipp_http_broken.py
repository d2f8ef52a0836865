"""The carrier of IPP against peers that break HTTP, send without end, stop, or are not there.

Framing after RFC 9112.
"""

import asyncio
import random
import socket
import time
from contextlib import suppress

import pytest

from probes.ipp.http import MAX_BODY, Endpoint, MalformedHttpError, NoAnswerError, post

from .test_ipp_http import ANSWER, CHUNKED, REQUEST, Handler, ok, run, sends


def sends_for_ever(head: bytes, part: bytes) -> Handler:
    async def handler(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        writer.write(head)
        while True:
            writer.write(part)
            await writer.drain()

    return handler


async def says_nothing(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    await reader.read()


# --- peers that break the protocol, or want to use us up


@pytest.mark.parametrize(
    ("octets", "what"),
    [
        (b"", "nothing"),
        (b"\x15\x03\x03\x00\x02\x02\x46", "after"),  # a TLS alert: the port speaks TLS only
        (b"SSH-2.0-OpenSSH_9.2\r\n", "after"),
        (b"HTTP/1.1 200 OK\r\nContent-Length: 4294967296\r\n\r\n", "announced 4294967296 octets"),
        (b"HTTP/1.1 200 OK\r\nContent-Length: 18446744073709551616\r\n\r\n", "announced"),
        (b"HTTP/1.1 200 OK\r\nContent-Length: " + b"9" * 5000 + b"\r\n\r\n", "after"),
        (b"HTTP/1.1 200 OK\r\nContent-Length: -1\r\n\r\n", "after"),
        (b"HTTP/1.1 200 OK\r\nContent-Length: 5\r\nContent-Length: 6\r\n\r\nabcde", "after"),
        (b"HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\nffffffffffffffffffffff\r\n", "after"),
        (b"HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n", "after"),
        (ok(ANSWER, "Content-Encoding: gzip"), "compressed"),
        (b"HTTP/1.1 100 Continue\r\n\r\n" * 20, "informational"),
        (b"HTTP/1.1 101 Switching Protocols\r\nUpgrade: TLS/1.2\r\nConnection: Upgrade\r\n\r\n", "after"),
    ],
)
def test_broken_answers(octets: bytes, what: str) -> None:
    with pytest.raises(MalformedHttpError, match=what):
        run(sends(octets))


@pytest.mark.parametrize(
    ("head", "part", "what"),
    [
        (b"HTTP/1.1 200 OK\r\n", b"X-Filler: " + b"x" * 200 + b"\r\n", "after|more than"),
        (b"HTTP/1.1 200 OK\r\nX-Filler: ", b"x" * 1000, "after|more than"),
        (CHUNKED, b"400\r\n" + b"x" * 1024 + b"\r\n", "body of more"),
        (CHUNKED, b"1\r\nx\r\n" * 100, "no content"),
        (b"HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n1;", b"x" * 1000, "after|more than"),
        (b"HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n", b"X-Filler: x\r\n", "after|more than"),
        (b"HTTP/1.1 200 OK\r\n\r\n", b"x" * 4096, "body of more"),
        (b"", b"x" * 4096, "after|more than"),
        (b"", b"\r\n" * 512, "after|more than"),
    ],
)
def test_endless_answers(head: bytes, part: bytes, what: str) -> None:
    began = time.perf_counter()
    with pytest.raises(MalformedHttpError, match=what):
        run(sends_for_ever(head, part), wait_s=20)
    assert time.perf_counter() - began < 10


def test_the_largest_body_that_is_taken() -> None:
    assert len(run(sends(ok(bytes(MAX_BODY))), wait_s=10).body) == MAX_BODY
    with pytest.raises(MalformedHttpError):
        run(sends(b"HTTP/1.0 200 OK\r\n\r\n" + bytes(MAX_BODY + 1)), wait_s=10)


def test_a_close_at_any_octet_is_the_one_error_or_an_answer() -> None:
    octets = ok(ANSWER * 20, "X-Filler: " + "x" * 300)
    head = octets.index(b"\r\n\r\n") + 4
    for end in sorted(random.Random("close").sample(range(len(octets)), 60)):
        with pytest.raises(MalformedHttpError):
            run(sends(octets[:end]))
    # Without a length the end of the connection is the end of the body (RFC 9112 section 6.3), wherever it comes.
    open_ended = b"HTTP/1.1 200 OK\r\n\r\n"
    assert run(sends(open_ended + octets[head : head + 7])).body == octets[head : head + 7]


def test_a_reset_is_told_from_a_close() -> None:
    async def resets(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        sock = writer.get_extra_info("socket")
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, b"\x01\0\0\0\0\0\0\0")
        writer.transport.abort()

    with pytest.raises(MalformedHttpError, match=r"broke the connection .*sending nothing"):
        run(resets)


# --- silence and refusal


@pytest.mark.parametrize("first", [b"", b"HTTP/1.1 200 OK\r\nContent-Le"])
def test_a_peer_that_stops_costs_the_time_given_and_no_more(first: bytes) -> None:
    async def stops(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        writer.write(first)
        await says_nothing(reader, writer)

    began = time.perf_counter()
    with pytest.raises(NoAnswerError, match=f"then sent {len(first)} octets" if first else "then sent nothing"):
        run(stops, wait_s=0.3)
    assert 0.25 < time.perf_counter() - began < 1


def test_a_drip_does_not_win_time() -> None:
    async def drips(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        for octet in ok():
            writer.write(bytes((octet,)))
            await asyncio.sleep(0.05)

    with pytest.raises(NoAnswerError):
        run(drips, wait_s=0.3)


def test_refused() -> None:
    with socket.socket() as bound:
        bound.bind(("127.0.0.1", 0))  # bound and not listening: refused, and nobody else can take it
        endpoint = Endpoint("127.0.0.1", bound.getsockname()[1], "/")
        with pytest.raises(ConnectionRefusedError):
            asyncio.run(post(endpoint, REQUEST, 2))


def test_a_full_backlog_is_silence() -> None:
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        listening.listen(0)
        address = listening.getsockname()
        with socket.create_connection(address), suppress(OSError):
            others = [socket.socket() for _ in range(4)]
            for other in others:
                other.setblocking(False)
                other.connect_ex(address)
            with pytest.raises(NoAnswerError, match="attempt to connect"):
                asyncio.run(post(Endpoint(address[0], address[1], "/"), REQUEST, 0.3))
            for other in others:
                other.close()


def test_a_cancelled_post_leaves_nothing_behind() -> None:
    gone = []

    async def main() -> None:
        async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
            with suppress(ConnectionError):
                await reader.read()
            gone.append(True)
            writer.close()

        async with await asyncio.start_server(serve, "127.0.0.1", 0) as server:
            port = server.sockets[0].getsockname()[1]
            task = asyncio.create_task(post(Endpoint("127.0.0.1", port, "/"), REQUEST, 5))
            await asyncio.sleep(0.1)
            task.cancel()
            with pytest.raises(asyncio.CancelledError):
                await task
            await asyncio.sleep(0.05)
            assert gone
            assert len(asyncio.all_tasks()) == 1

    asyncio.run(main())
