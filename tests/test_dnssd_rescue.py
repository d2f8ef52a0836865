"""A printer that is not at the usual path says by DNS-SD where it is (the key ``rp``), and IPP asks there."""

import asyncio
import time
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

import pytest
from aiohttp import web

from netcheck.collect import Recorder, collect
from netcheck.facts.link import Advertisement, TxtEntry
from netcheck.probing import Answer, Deadline, Learnt, Miss, Target
from netcheck.roles import Outcome, Role
from netcheck.wire import Wire
from probes.dnssd import PROBE as DNS_SD
from probes.ipp import PROBE, Reply
from probes.ipp.asking import Printer
from probes.ipp.paths import PATIENCE_S, USUAL_PATHS
from probes.names import PROBE as NAMES

from .dnssd_responder import LOOPBACK, PTR, Responder, a, message, ptr, srv, txt
from .test_ipp_probe import PRINTER_SAYS, ipp, served

ODD = "/printers/Plans wide"
REQUEST_PATH = "/printers/Plans%20wide"
Result = Reply


@asynccontextmanager
async def odd_printer() -> AsyncIterator[tuple[int, list[str]]]:
    """A printer at one unusual path; its port, and the paths that were asked."""
    paths: list[str] = []

    async def handler(request: web.BaseRequest) -> web.Response:
        await request.read()
        paths.append(request.rel_url.raw_path)
        return ipp(PRINTER_SAYS) if request.rel_url.raw_path == REQUEST_PATH else web.Response(status=404)

    async with served(handler) as port:
        yield port, paths


def advertised(port: int, kind: str = "_ipp._tcp", rp: str = ODD.removeprefix("/")) -> Advertisement:
    return Advertisement("Plans", kind, port, ("plans-new.local",), (LOOPBACK,), (TxtEntry("rp", rp),))


async def told_later(learnt: Learnt, after_s: float, *facts: Advertisement) -> None:
    await asyncio.sleep(after_s)
    for fact in facts:
        await learnt.add(fact)


def asked(
    *kinds: tuple[str, int, str], after_s: float = 0.2, limit_s: float = 5.0
) -> tuple[list[Result], list[str], float]:
    """Results, paths, seconds; what is told: (type, offset from the printer's port, rp)."""

    async def main() -> tuple[list[Result], list[str], float]:
        async with odd_printer() as (port, paths), Wire() as wire, asyncio.TaskGroup() as group:
            target = Target(Role.NEW, LOOPBACK, LOOPBACK, {"ipp": port})
            facts = [advertised(port + offset, kind, rp) for kind, offset, rp in kinds]
            group.create_task(told_later(target.learnt, after_s, *facts))
            began = time.monotonic()
            results = [each async for each in PROBE.ask(target, wire, Deadline(began + limit_s))]
            return results, paths, time.monotonic() - began

    return asyncio.run(main())


def test_the_advertised_path_is_asked_before_another_guess() -> None:
    results, paths, took = asked(("_http._tcp", 0, ""), ("_ipp._tcp", 0, ODD[1:]))
    assert paths == [USUAL_PATHS[0], REQUEST_PATH]
    assert isinstance(results[-1], Answer)
    assert isinstance(results[-1].payload, Printer)
    assert results[-1].payload.path == REQUEST_PATH
    assert took < PATIENCE_S


def test_what_is_told_late_is_waited_for_and_not_for_ever() -> None:
    results, paths, took = asked(("_ipp._tcp", 0, ODD[1:]), after_s=PATIENCE_S + 0.4)
    assert paths == list(USUAL_PATHS)
    assert [each.outcome for each in results if isinstance(each, Miss)] == [Outcome.EMPTY] * 2
    assert PATIENCE_S <= took < PATIENCE_S + 0.3


@pytest.mark.parametrize(
    "other",
    [
        ("_ipp._tcp", 1, ODD[1:]),  # of a service at another port
        ("_printer._tcp", 0, ODD[1:]),  # a queue name of LPD (RFC 1179), and no path
        ("_ipp._tcp", 0, ""),  # without a path
    ],
)
def test_what_is_not_this_service_is_no_help(other: tuple[str, int, str]) -> None:
    assert asked(other)[1] == list(USUAL_PATHS)


def test_a_usual_path_that_is_advertised_is_not_asked_again() -> None:
    assert asked(("_ipp._tcp", 0, "ipp/print"))[1] == list(USUAL_PATHS)


def test_the_deadline_ends_the_waiting() -> None:
    _, paths, took = asked(after_s=0.0, limit_s=0.4)
    assert paths == list(USUAL_PATHS)
    assert took < 0.6


def test_both_probes_together() -> None:
    """The whole way: multicast on loopback, the advertised path, the printer's answer."""

    async def main() -> Recorder:
        recorder, name, host = Recorder(), "Odd plans._ipp._tcp.local", "odd-plans.local"
        async with odd_printer() as (port, _), Wire() as wire:
            told = (srv(name, host, port), txt(name, b"rp=" + ODD[1:].encode()), a(host, LOOPBACK))
            with Responder({("_ipp._tcp.local", PTR): [message(ptr("_ipp._tcp.local", name), additional=told)]}):
                target = Target(Role.NEW, LOOPBACK, ports={"ipp": port})
                await collect([target], [NAMES, DNS_SD, PROBE], recorder, 5.0, wire)
        return recorder

    recorder = asyncio.run(main())
    assert [item.value for item in recorder.observations if item.kind == "model"] == [{"value": "Halden 36R"}]
