"""The `tls` probe where there is no TLS, or a broken one: what it met is called by its name, and costs no more than it
may."""

import asyncio
import re
import socket
import time

import pytest

from netcheck.probing import Deadline, Target
from netcheck.roles import Outcome, Role
from netcheck.wire import Wire
from probes.tls import PROBE
from probes.tls.contexts import Contexts
from probes.tls.handshake import MAX_OCTETS

from .test_tls_made import HOST, Made, made, needs_openssl
from .test_tls_served import Result, asked, gathered, missed, says, server_context, target, tls, waits

pytestmark = needs_openssl


@pytest.mark.parametrize(
    ("octets", "reason"),
    [
        (b"HTTP/1.1 400 Bad Request\r\nContent-Length: 0\r\n\r\n", "not TLS: answers in plain HTTP"),
        (b"HTTP", "not TLS: answers in another protocol"),
        (b"@PJL INFO ID\r\n", "not TLS: answers in another protocol"),
        (b"\0", "not TLS: answers in another protocol"),
        (b"", "closed the connection without a word"),
        # Records of TLS by RFC 8446 section 5.1, and in them nothing that is.
        (b"\x16\x03\x03\x00\x04\xff\xff\xff\xff", "broke off or broke TLS"),
        (b"\x16\x03\x03\xff\xff" + b"x" * 70_000, "broke off or broke TLS"),
        (b"\x16\x03\x03\x00\x7a\x02\x00\x00\x76", "broke off or broke TLS: unexpected eof"),
    ],
)
def test_what_is_no_tls_says_what_it_is(octets: bytes, reason: str) -> None:
    outcome, said = missed(asked(says(octets)))
    assert outcome is Outcome.MALFORMED
    assert said.startswith(reason)


def test_a_reset_is_malformed() -> None:
    def resets(connection: socket.socket) -> None:
        connection.recv(1)
        # SO_LINGER with no time to linger: the connection ends with a reset.
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, b"\1\0\0\0\0\0\0\0")
        connection.close()

    outcome, said = missed(asked(resets))
    assert (outcome, "ECONNRESET" in said) == (Outcome.MALFORMED, True)


def test_a_peer_that_accepts_and_never_shakes_hands_costs_the_deadline() -> None:
    began = time.monotonic()
    assert missed(asked(waits, 0.5)) == (Outcome.SILENT, "accepted the connection, then sent nothing")
    assert 0.45 < time.monotonic() - began < 1.2


def test_a_peer_that_drips_costs_the_deadline() -> None:
    def drips(connection: socket.socket) -> None:
        for octet in b"\x16\x03\x03\x00\x7a" + bytes(1000):
            connection.sendall(bytes((octet,)))
            time.sleep(0.05)

    began = time.monotonic()
    outcome, said = missed(asked(drips, 0.5))
    assert (outcome, re.fullmatch(r"accepted the connection, then sent \d+ octets", said) is None) == (
        Outcome.SILENT,
        False,
    )
    assert time.monotonic() - began < 1.2


def test_a_peer_that_never_stops_is_cut_off() -> None:
    """RFC 5246 section 7.4.1.1: a client that is shaking hands ignores HelloRequest, as often as it comes."""

    def floods(connection: socket.socket) -> None:
        connection.recv(4096)
        for _ in range(MAX_OCTETS):
            connection.sendall(b"\x16\x03\x03\x40\x00" + bytes(0x4000))

    outcome, said = missed(asked(floods))
    assert (outcome, said) == (Outcome.MALFORMED, f"sent more than {MAX_OCTETS} octets and was not done")


def test_a_peer_that_shakes_hands_only_once_says_why_it_was_asked_again() -> None:
    served: list[None] = []
    secured = tls(server_context(made("valid")))

    def once(connection: socket.socket) -> None:
        served.append(None)
        (secured if len(served) == 1 else says(b""))(connection)

    outcome, said = missed(asked(once))
    expected = "closed the connection without a word; a moment before, self-signed certificate"
    assert (outcome, said, len(served)) == (Outcome.MALFORMED, expected, 2)


def test_a_certificate_that_is_too_large_for_anybody_is_malformed() -> None:
    """OpenSSL takes 100 KiB of certificates (SSL_CTX_set_max_cert_list(3)): this chain has 62 KiB twice."""
    it = made("large")
    twice = it.chain.with_name("large-twice.chain")
    twice.write_text(it.certificate.read_text() * 2)
    outcome, said = missed(asked(tls(server_context(Made(it.certificate, it.key, twice)))))
    assert (outcome, said) == (Outcome.MALFORMED, "broke off or broke TLS: excessive message size")


def test_refused_and_unreachable() -> None:
    with socket.socket() as bound:
        bound.bind(("127.0.0.1", 0))  # bound and not listening
        (result,) = asyncio.run(gathered(target({"ipps": bound.getsockname()[1]})))
    assert missed(result) == (Outcome.REFUSED, "nothing listens there (ECONNREFUSED)")
    # A link-local address without a zone (RFC 4007 section 6): our own system cannot say where that is.
    (result,) = asyncio.run(gathered(Target(Role.NEW, HOST, "fe80::1", {"ipps": 631})))
    outcome, said = missed(result)
    assert (outcome, said.endswith("(EINVAL)")) == (Outcome.UNREACHABLE, True)


def test_without_time_nothing_is_tried() -> None:
    async def main() -> list[Result]:
        async with Wire() as wire:
            await wire.shared(Contexts, Contexts.made)  # as it is for all targets of a run but the first
            return [result async for result in PROBE.ask(target({"ipps": 9}), wire, Deadline(time.monotonic()))]

    for results in (asyncio.run(gathered(target({"ipps": 9}), limit_s=0)), asyncio.run(main())):
        (result,) = results
        assert missed(result) == (Outcome.NOT_TRIED, "no time was left")
