"""TLS servers on loopback for the tests, and one question to them: Python's own ssl is the peer of the `tls` probe, and
`openssl s_client` the other client."""

import asyncio
import socket
import ssl
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress

from netcheck.facts.link import Certificate
from netcheck.probing import Answer, Deadline, Miss, Target
from netcheck.roles import Outcome, Role
from netcheck.wire import Wire
from probes.tls import PROBE
from probes.tls.asking import Shown

from .test_tls_made import HOST, Made

Handler = Callable[[socket.socket], None]
Result = Answer[Shown] | Miss


@contextmanager
def listening(handler: Handler) -> Iterator[int]:
    """A server on loopback that gives each connection to `handler`, in threads; its port."""
    server = socket.create_server(("127.0.0.1", 0))
    held: list[socket.socket] = []

    def handle(connection: socket.socket) -> None:
        with suppress(OSError):
            handler(connection)

    def accept() -> None:
        with suppress(OSError):
            while True:
                held.append(server.accept()[0])
                threading.Thread(target=handle, args=(held[-1],), daemon=True).start()

    threading.Thread(target=accept, daemon=True).start()
    try:
        yield server.getsockname()[1]
    finally:
        with suppress(OSError):
            server.shutdown(socket.SHUT_RDWR)  # Linux lets nobody else end a blocking accept
        for each in (server, *held):
            each.close()


def server_context(it: Made, ciphers: str = "DEFAULT:@SECLEVEL=0") -> ssl.SSLContext:
    """A server that shows this certificate, however weak."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.set_ciphers(ciphers)
    context.load_cert_chain(it.chain, it.key)
    return context


def tls(context: ssl.SSLContext, then: Handler = lambda _: None) -> Handler:
    def handler(connection: socket.socket) -> None:
        with context.wrap_socket(connection, server_side=True) as secured:
            then(secured)
            secured.recv(1)

    return handler


def target(ports: dict[str, int], host: str = HOST) -> Target:
    return Target(Role.NEW, host, "127.0.0.1", ports)


async def gathered(where: Target, limit_s: float = 5) -> list[Result]:
    async with Wire() as wire:
        return [result async for result in PROBE.ask(where, wire, Deadline(time.monotonic() + limit_s))]


def asked(handler: Handler, limit_s: float = 5) -> Result:
    with listening(handler) as port:
        (result,) = asyncio.run(gathered(target({"ipps": port}), limit_s))
    return result


def shown(result: Result) -> Certificate:
    assert isinstance(result, Answer), result
    ((_, fact),) = PROBE.read(result.payload)
    assert isinstance(fact, Certificate)
    return fact


def missed(result: Result) -> tuple[Outcome, str]:
    assert isinstance(result, Miss), result
    return result.outcome, result.reason


def as_openssl_sees_it(port: int, *options: str) -> str:
    """What `openssl s_client` prints of the same service."""
    command = ["openssl", "s_client", "-connect", f"127.0.0.1:{port}", *options]
    return subprocess.run(command, input="", capture_output=True, text=True, timeout=10).stdout


def says(octets: bytes) -> Handler:
    def handler(connection: socket.socket) -> None:
        connection.recv(4096)
        connection.sendall(octets)
        connection.close()

    return handler


def waits(connection: socket.socket) -> None:
    while connection.recv(4096):
        pass
