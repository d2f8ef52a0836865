"""The `ipp` probe when there is no answer, and as collect runs it: what it met is called by its name."""

import asyncio
import random
import socket
import time
from collections.abc import Callable

import pytest
from aiohttp import web

from netcheck.case import Attempt
from netcheck.collect import Recorder, collect_once
from netcheck.move import Move
from netcheck.probing import Deadline
from netcheck.roles import Outcome
from netcheck.wire import Wire
from probes.ipp import PROBE
from probes.ipp.asking import Printer
from probes.ipp.codec import MalformedIppError, decode
from probes.names import PROBE as NAMES

from .test_ipp_bytes import (
    PRINTER,
    attribute,
    message,
    text,
)
from .test_ipp_http import sends, serving
from .test_ipp_probe import (
    PRINTER_SAYS,
    RECORDED,
    Handler,
    Result,
    answered_with,
    asked,
    gathered,
    ipp,
    models,
    only_miss,
    served,
    target,
)

# --- what ends it


@pytest.mark.parametrize(
    ("response", "outcome", "words"),
    [
        (lambda: web.Response(status=401, headers={"WWW-Authenticate": "Basic"}), Outcome.DENIED, "password"),
        (lambda: web.Response(status=403), Outcome.DENIED, "403"),
        (lambda: web.Response(status=426, headers={"Upgrade": "TLS/1.2"}), Outcome.DENIED, "encrypted"),
        (lambda: web.Response(status=301, headers={"Location": "http://192.0.2.99/"}), Outcome.DENIED, "redirects"),
        (lambda: web.Response(status=503), Outcome.FAILED, "HTTP 503"),
        (lambda: ipp(b"<html><title>Halden 36R</title>"), Outcome.MALFORMED, "not an IPP message"),
        (lambda: ipp(b""), Outcome.MALFORMED, "ended within the header"),
        (lambda: ipp(PRINTER_SAYS[:-1]), Outcome.MALFORMED, f"at octet {len(PRINTER_SAYS) - 1}"),
        (lambda: ipp(message(0x0401)), Outcome.DENIED, "client-error-forbidden"),
        (lambda: ipp(message(0x0402)), Outcome.DENIED, "client-error-not-authenticated"),
        (lambda: ipp(message(0x0403)), Outcome.DENIED, "client-error-not-authorized"),
        (lambda: ipp(message(0x0507)), Outcome.FAILED, "server-error-busy"),
        (lambda: ipp(message(0x0599)), Outcome.FAILED, "0x0599"),
        (lambda: ipp(message(0x0500, attribute("status-message", text("x" * 9999)))), Outcome.FAILED, "xxx..."),
    ],
)
def test_answers_that_are_none(response: Callable[[], web.Response], outcome: Outcome, words: str) -> None:
    miss = only_miss(answered_with(response))
    assert miss.outcome is outcome
    assert words in miss.reason
    assert len(miss.reason) < 250


def test_a_success_that_ignored_something_is_a_success() -> None:
    # RFC 8011 appendix B: 0x0001 is successful-ok-ignored-or-substituted-attributes.
    body = message(0x0001, PRINTER, attribute("printer-make-and-model", text("Halden 36R")))
    assert models(answered_with(lambda: ipp(body))) == ["Halden 36R"]


def test_a_peer_that_accepts_and_never_answers_costs_the_deadline() -> None:
    async def handler(request: web.BaseRequest) -> web.Response:
        await asyncio.sleep(30)
        return web.Response()

    began = time.monotonic()
    miss = only_miss(asked(handler, limit_s=0.4))
    assert (miss.outcome, "accepted the connection" in miss.reason) == (Outcome.SILENT, True)
    assert 0.35 < time.monotonic() - began < 1


def test_refused() -> None:
    with socket.socket() as bound:
        bound.bind(("127.0.0.1", 0))  # bound and not listening
        miss = only_miss(asyncio.run(gathered(target(bound.getsockname()[1]))))
    assert miss.outcome is Outcome.REFUSED
    assert "ECONNREFUSED" in miss.reason


def test_unreachable() -> None:
    # A link-local address without a zone (RFC 4007 section 6): our own system cannot say where that is.
    miss = only_miss(asyncio.run(gathered(target(631, address="fe80::1"))))
    assert miss.outcome is Outcome.UNREACHABLE
    assert miss.reason.endswith("(EINVAL)")


def test_without_time_nothing_is_tried() -> None:
    miss = only_miss(asyncio.run(gathered(target(631), limit_s=0)))
    assert miss.outcome is Outcome.NOT_TRIED


def test_waiting_for_a_connection_costs_the_deadline_and_no_more() -> None:
    async def main() -> list[Result]:
        async with Wire() as wire:
            while not wire.connects.locked():
                await wire.connects.acquire()
            return [result async for result in PROBE.ask(target(631), wire, Deadline(time.monotonic() + 0.2))]

    began = time.monotonic()
    assert only_miss(asyncio.run(main())).outcome is Outcome.NOT_TRIED
    assert time.monotonic() - began < 1


def test_a_close_at_any_octet_is_malformed() -> None:
    head = f"HTTP/1.1 200 OK\r\nContent-Type: application/ipp\r\nContent-Length: {len(RECORDED)}\r\n\r\n".encode()
    whole = head + RECORDED

    async def main(end: int) -> list[Result]:
        async with serving(sends(whole[:end])) as port:
            return await gathered(target(port))

    for end in random.Random("octet").sample(range(len(whole)), 40):
        assert only_miss(asyncio.run(main(end))).outcome is Outcome.MALFORMED
    assert models(asyncio.run(main(len(whole)))) == ["Halden 36R"]


# --- as collect runs it


def collected(handler: Handler, limit_s: float) -> Recorder:
    recorder = Recorder()

    async def main() -> None:
        async with served(handler) as port:
            await collect_once([target(port)], [NAMES, PROBE], recorder, limit_s)

    asyncio.run(main())
    return recorder


def attempts(recorder: Recorder) -> list[Attempt]:
    return [attempt for attempt in recorder.attempts if attempt.probe == "ipp"]


def test_what_was_gathered_before_the_time_was_up_is_kept() -> None:
    async def handler(request: web.BaseRequest) -> web.Response:
        await request.read()
        if request.path != "/ipp/print":
            await asyncio.sleep(30)
        return web.Response(status=404)

    recorder = collected(handler, 0.5)
    assert [attempt.outcome for attempt in attempts(recorder)] == [Outcome.EMPTY, Outcome.SILENT]


def test_a_recorded_printer_becomes_a_case() -> None:
    async def handler(request: web.BaseRequest) -> web.Response:
        await request.read()
        return ipp(RECORDED)

    recorder = collected(handler, 3)
    (attempt,) = attempts(recorder)
    assert (attempt.outcome, attempt.reason) == (Outcome.ANSWERED, "")
    kinds = {item.kind for item in recorder.case(Move()).observations if item.probe == "ipp"}
    # This printer has no printer-supply, printer-alert or printer-output-tray; no print was wanted of it.
    assert kinds == {fact.kind for fact in PROBE.provides} - {"supplies", "alerts", "outputs", "job-check"}


def test_whatever_can_be_decoded_can_be_read() -> None:
    rng = random.Random("read")
    read = 0
    for _ in range(2000):
        octets = bytearray(RECORDED)
        for _ in range(rng.randint(1, 5)):
            octets[rng.randrange(len(octets))] = rng.randrange(256)
        try:
            payload = Printer("/", decode(bytes(octets)))
        except MalformedIppError:
            continue
        read += len(list(PROBE.read(payload)))
    assert read > 1000
