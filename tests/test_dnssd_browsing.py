"""The probe on loopback, against a responder made by hand: what it hears, what it leaves out, when it stops."""

import asyncio
import errno
import os
import time
from collections.abc import Awaitable, Callable

import pytest

import probes.dnssd.asking
import probes.dnssd.browsing
from netcheck.case import Observation
from netcheck.collect import Recorder, collect
from netcheck.probing import Target
from netcheck.roles import Outcome, Role
from netcheck.wire import Wire
from probes.dnssd import PROBE
from probes.names import PROBE as NAMES

from .conftest import published
from .dnssd_responder import LOOPBACK, PTR, SRV, TXT, A, Question, Responder, a, message, ptr, srv, txt

IPP, LPD = "_ipp._tcp.local", "_printer._tcp.local"
PORT = 45631
HOST = "ledger-plotter.local"
NAME = f"Ledger plotter 3.1.{IPP}"
Json = dict[str, str]
ALL = (srv(NAME, HOST, PORT), txt(NAME, b"rp=ipp/print"), a(HOST, LOOPBACK))
PROPER: dict[Question, list[bytes]] = {(IPP, PTR): [message(ptr(IPP, NAME), additional=ALL)]}
HERE, DEVICE = Target(Role.HERE, LOOPBACK), Target(Role.DEVICE, LOOPBACK, ports={"ipp": PORT})


async def asked(target: Target, wire: Wire, limit_s: float = 3.0) -> Recorder:
    recorder = Recorder()
    await collect([target], [PROBE, NAMES], recorder, limit_s, wire)
    return recorder


def listened(
    *targets: Target, limit_s: float = 3.0, between: Callable[[], Awaitable[None]] | None = None
) -> list[Recorder]:
    """One run after the other, on one wire."""

    async def all_of_them() -> list[Recorder]:
        recorders = []
        async with Wire() as wire:
            for target in targets:
                recorders.append(await asked(target, wire, limit_s))
                if between:
                    await between()
        return recorders

    return asyncio.run(all_of_them())


def own(recorder: Recorder) -> dict[str, Observation]:
    """What was heard of this test's device: others may be simulated on this machine at the same time."""
    return {item.source: item for item in recorder.observations if "edger plotter" in item.source}


def missed(recorder: Recorder) -> list[tuple[Outcome, str]]:
    return [
        (item.outcome, item.reason)
        for item in recorder.attempts
        if item.probe == PROBE.name and item.outcome is not Outcome.ANSWERED
    ]


def test_a_device_that_says_everything_at_once() -> None:
    with Responder(PROPER) as responder:
        (recorder,) = listened(DEVICE)
    (item,) = own(recorder).values()
    assert item.source == NAME
    assert item.value["hosts"] == [HOST]
    assert item.value["addresses"] == [LOOPBACK]
    assert item.value["txt"] == [{"key": "rp", "value": "ipp/print", "binary": ""}]
    assert (NAME.lower(), SRV) not in responder.asked, "what is known need not be asked"


def test_what_a_responder_leaves_out_is_asked_for() -> None:
    """RFC 6763 s12 recommends to send it along, and no more than that."""
    answers: dict[Question, list[bytes]] = {
        (IPP, PTR): [message(ptr(IPP, NAME))],
        (NAME, SRV): [message(srv(NAME, HOST, PORT))],
        (NAME, TXT): [message(txt(NAME, b"rp=ipp/print"))],
        (HOST, A): [message(a(HOST, LOOPBACK))],
    }
    with Responder(answers) as responder:
        (recorder,) = listened(HERE)
    assert own(recorder)[NAME].value["port"] == PORT
    assert own(recorder)[NAME].value["addresses"] == [LOOPBACK]
    assert {(NAME.lower(), SRV), (NAME.lower(), TXT)} <= set(responder.asked)


def test_a_name_that_leads_nowhere_is_told_as_missed() -> None:
    with Responder({**PROPER, (LPD, PTR): [message(ptr(LPD, f"Stale ledger plotter.{LPD}"))]}):
        (recorder,) = listened(HERE)
    assert list(own(recorder)) == [NAME]
    assert missed(recorder) == [
        (Outcome.SILENT, f"announced, but nobody says where: Stale ledger plotter.{LPD}"),
    ]


@pytest.mark.parametrize("row", published("MDN-07"))
def test_a_claimed_name_is_seen_without_browsing_to_it(row: Json) -> None:
    assert row["input"] == "SRV for X._printer._tcp with port 0, no PTR"
    claim = f"Ledger plotter 3.1.{LPD}"
    with Responder({(IPP, PTR): [message(ptr(IPP, NAME), additional=(*ALL, srv(claim, HOST, 0)))]}):
        (recorder,) = listened(HERE)
    assert {source: item.value["port"] for source, item in own(recorder).items()} == {NAME: PORT, claim: 0}


def test_two_hosts_under_one_name() -> None:
    """RFC 6762 s9: live answers with different rdata for a unique record are a conflict."""
    other = (srv(NAME, "other-plotter.local", PORT + 1), txt(NAME, b"rp=other"), a("other-plotter.local", LOOPBACK))
    both = [message(ptr(IPP, NAME), additional=each) for each in (ALL, other)]
    with Responder({(IPP, PTR): both}):
        here, device = listened(HERE, Target(Role.DEVICE, LOOPBACK, ports={"ipp": PORT + 1}))
    assert own(here)[NAME].value["hosts"] == [HOST, "other-plotter.local"]
    assert own(device)[NAME].value["hosts"] == ["other-plotter.local", HOST], "the target's own place comes first"
    assert own(device)[NAME].value["port"] == PORT + 1


@pytest.mark.parametrize("row", published("MDN-02"))
def test_a_goodbye_is_honoured(row: Json) -> None:
    assert row["expected"] == "goodbye: keep 1 s, then drop"
    with Responder(PROPER) as responder:

        async def leave() -> None:
            responder.leave(message(ptr(IPP, NAME, ttl=0), additional=_ended()))
            await asyncio.sleep(2.0)  # a second and a busy machine's leisure

        before, after = listened(DEVICE, DEVICE, between=leave)
    assert list(own(before)) == [NAME]
    assert list(own(after)) == []
    assert missed(after)[0][0] is Outcome.SILENT


def _ended() -> list[bytes]:
    """The same records with a TTL of 0."""
    return [each.replace((120).to_bytes(4), b"\0\0\0\0").replace((4500).to_bytes(4), b"\0\0\0\0") for each in ALL]


def test_who_has_gone_without_a_word_is_not_seen_by_a_later_run(monkeypatch: pytest.MonkeyPatch) -> None:
    """A record lives on in caches for up to 75 minutes (RFC 6762 s10); that it was heard is no proof of presence."""
    monkeypatch.setattr(probes.dnssd.browsing, "FRESH_S", 0.0)
    responder = Responder(PROPER)

    async def vanish() -> None:
        await asyncio.to_thread(responder.__exit__, None, None, None)

    with responder:
        before, after = listened(DEVICE, DEVICE, between=vanish)
    assert list(own(before)) == [NAME]
    assert list(own(after)) == []


def test_nonsense_on_the_wire_changes_nothing() -> None:
    circle = b"\0\0\x84\0\0\0\0\1\0\0\0\0" + b"\xc0\x0c" + b"\0\x0c\0\1\0\0\0x\0\2\xc0\x0c"
    nonsense = [b"", b"\0", b"\xff" * 400, circle, PROPER[IPP, PTR][0][:40], os.urandom(300)]
    odd = f"{'x' * 63}.{IPP}"
    with Responder(
        {(IPP, PTR): [*nonsense, message(ptr(IPP, odd), ptr(IPP, "elsewhere._ftp._tcp.local")), *PROPER[IPP, PTR]]}
    ):
        (recorder,) = listened(DEVICE)
    assert list(own(recorder)) == [NAME]
    assert missed(recorder) == []


def test_a_device_by_its_host_name() -> None:
    with Responder(PROPER):
        (recorder,) = listened(Target(Role.NEW, LOOPBACK, LOOPBACK, ports={"ipp": PORT}))
    assert list(own(recorder)) == [NAME]


# --- when it stops


def test_a_device_that_has_answered_is_waited_for_no_longer() -> None:
    with Responder(PROPER):
        began = time.monotonic()
        (recorder,) = listened(DEVICE)
    assert own(recorder)
    # RFC 6762 s5.2: the question leaves after 20 to 120 ms. Then it has to be quiet.
    assert time.monotonic() - began < probes.dnssd.asking.LOOPBACK_WINDOW_S


def test_silence_is_said_when_the_window_is_over() -> None:
    (recorder,) = listened(Target(Role.DEVICE, LOOPBACK, ports={"ipp": PORT + 7}))
    ((outcome, reason),) = missed(recorder)
    assert outcome is Outcome.SILENT
    assert reason.startswith(f"no answer in {probes.dnssd.asking.LOOPBACK_WINDOW_S} s")


def test_a_shorter_deadline_is_kept_and_the_silence_is_still_said() -> None:
    began = time.monotonic()
    (recorder,) = listened(Target(Role.DEVICE, LOOPBACK, ports={"ipp": PORT + 7}), limit_s=0.3)
    assert time.monotonic() - began < 0.3 + 0.2
    assert [outcome for outcome, _ in missed(recorder)] == [Outcome.SILENT]
    assert "not finished" not in missed(recorder)[0][1]


def test_a_device_that_is_not_on_the_network_is_not_listened_for() -> None:
    (recorder,) = listened(Target(Role.NEW, ""))
    assert recorder.attempts == []


# --- where it cannot


def test_where_multicast_cannot_leave_it_says_so_and_hears_this_machine(monkeypatch: pytest.MonkeyPatch) -> None:
    fault = OSError(errno.ENETUNREACH, os.strerror(errno.ENETUNREACH))
    monkeypatch.setattr(probes.dnssd.browsing, "usable", lambda: ([LOOPBACK], fault))
    with Responder(PROPER):
        here, device = listened(Target(Role.HERE, ""), Target(Role.NEW, "192.0.2.61"))
    expected = [(Outcome.UNREACHABLE, f"multicast cannot be sent: {os.strerror(errno.ENETUNREACH)} (ENETUNREACH)")]
    assert missed(here) == missed(device) == expected
    assert NAME in own(here)


def test_a_port_that_another_program_keeps_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    def taken(**_: object) -> None:
        raise OSError(errno.EADDRINUSE, os.strerror(errno.EADDRINUSE))

    monkeypatch.setattr(probes.dnssd.browsing, "AsyncZeroconf", taken)
    (recorder,) = listened(HERE)
    ((outcome, reason),) = missed(recorder)
    assert outcome is Outcome.FAILED
    assert reason.startswith("cannot listen: another program keeps port 5353 to itself")
