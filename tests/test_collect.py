"""Collecting: one deadline for all, one broken probe stops nobody, an interruption keeps what was gathered."""

import asyncio
import socket
import sys
import threading
import time
from collections.abc import AsyncGenerator, Iterable
from typing import Any

import pytest

from netcheck.collect import Recorder, collect_once, targets_of
from netcheck.facts import Fact
from netcheck.facts.identity import Serial
from netcheck.facts.network import Service
from netcheck.gates import Gate
from netcheck.move import DeviceRef, Move, Ports, Seen
from netcheck.probing import Answer, Deadline, Malformed, Miss, Target, installed
from netcheck.roles import Outcome, Role
from netcheck.standard import ServicesClosed, Standard
from netcheck.wire import Wire
from probes import names, person, ports

MOVE = Move(device=DeviceRef("127.0.0.1"))


class Stub:
    """A probe that does what a test says. Only the joints are under test here; the real probes have their own tests."""

    wave = 2
    needs_address = True
    services: tuple[str, ...] = ()
    roles = frozenset({Role.DEVICE})
    provides = frozenset[type[Fact]]({Serial})

    def __init__(self, name: str, *, then: str = "end") -> None:
        self.name, self._then = name, then

    async def ask(self, target: Target, wire: Wire, deadline: Deadline) -> AsyncGenerator[Answer[str] | Miss, None]:
        yield Answer("first", self.name, time.monotonic())
        match self._then:
            case "hang":
                await asyncio.Event().wait()
            case "break":
                raise KeyError("a bug")
            case "malformed":
                yield Answer("second", "bad", time.monotonic())
            case "empty":
                yield Answer("second", "", time.monotonic())

    def read(self, payload: str) -> Iterable[tuple[str, Fact]]:
        if payload == "bad":
            raise Malformed("length 9 at octet 4")
        if payload:
            yield "source", Serial(payload)


def collected(*probes: Any, move: Move = MOVE, limit: float = 0.4) -> tuple[Recorder, float]:
    recorder, began = Recorder(), time.monotonic()
    asyncio.run(collect_once(targets_of(move, Standard(), Gate.SWAP), [names.PROBE, *probes], recorder, limit))
    return recorder, time.monotonic() - began


def outcomes(recorder: Recorder, probe: str) -> list[Outcome]:
    return [attempt.outcome for attempt in recorder.attempts if attempt.probe == probe]


def serials(recorder: Recorder) -> set[str]:
    return {item.value["value"] for item in recorder.observations if item.kind == "serial"}


def test_many_silent_probes_cost_one_deadline_and_keep_what_they_had() -> None:
    recorder, took = collected(*(Stub(f"s{number}", then="hang") for number in range(20)))
    assert took < 1.0
    assert serials(recorder) == {f"s{number}" for number in range(20)}
    assert outcomes(recorder, "s7") == [Outcome.ANSWERED, Outcome.SILENT]


def test_a_probe_that_breaks_is_an_attempt_that_failed_and_stops_nobody() -> None:
    recorder, _ = collected(Stub("broken", then="break"), Stub("well"))
    assert serials(recorder) == {"broken", "well"}
    assert outcomes(recorder, "broken") == [Outcome.ANSWERED, Outcome.FAILED]
    assert any("KeyError" in each.reason for each in recorder.attempts if each.probe == "broken")


@pytest.mark.parametrize(("then", "outcome"), [("malformed", Outcome.MALFORMED), ("empty", Outcome.EMPTY)])
def test_malformed_and_empty_are_kept_apart(then: str, outcome: Outcome) -> None:
    recorder, _ = collected(Stub("odd", then=then))
    assert outcomes(recorder, "odd") == [Outcome.ANSWERED, outcome]


def test_cancelling_keeps_what_was_gathered() -> None:
    async def interrupted() -> Recorder:
        recorder = Recorder()
        task = asyncio.create_task(
            collect_once(
                targets_of(MOVE, Standard(), Gate.SWAP), [names.PROBE, Stub("slow", then="hang")], recorder, 30
            )
        )
        while not serials(recorder):
            await asyncio.sleep(0.01)
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task
        return recorder

    assert serials(asyncio.run(interrupted())) == {"slow"}


def test_a_target_without_an_address_is_not_tried_but_its_word_counts() -> None:
    said = Seen(Role.NEW, "serial", "HX-77-0457", "plate", "technician")
    move = Move(address="usb", new=DeviceRef(""), seen=(said,))
    recorder, _ = collected(ports.PROBE, person.PROBE, move=move)
    assert outcomes(recorder, "ports") == [Outcome.NOT_TRIED]
    assert serials(recorder) == {"HX-77-0457"}


def test_a_word_that_cannot_be_what_it_says_is_malformed() -> None:
    """The Move's loader refuses it; a Move that was made otherwise may still hold it."""
    said = Seen(Role.NEW, "meter", "many", "panel", "technician")
    recorder, _ = collected(person.PROBE, move=Move(address="usb", new=DeviceRef(""), seen=(said,)))
    assert outcomes(recorder, "person") == [Outcome.MALFORMED]


def listener() -> socket.socket:
    return socket.create_server(("127.0.0.1", 0), backlog=16)


def test_open_and_refused_ports_are_told_apart_and_nothing_is_written() -> None:
    received: list[bytes] = []
    with listener() as open_one, socket.socket() as unbound:
        unbound.bind(("127.0.0.1", 0))  # bound and not listening: the system answers with a reset

        def accept_each_connect() -> None:
            open_one.settimeout(5)
            for _ in range(ports.CONNECTS):
                connection, _ = open_one.accept()
                with connection:
                    connection.settimeout(5)
                    received.append(connection.recv(100))

        thread = threading.Thread(target=accept_each_connect, daemon=True)
        thread.start()
        named = Ports(raw=open_one.getsockname()[1], ipp=unbound.getsockname()[1])
        recorder, _ = collected(ports.PROBE, move=Move(device=DeviceRef("127.0.0.1", ports=named)), limit=3)
        thread.join(10)
    states = {item.value["service"]: item.value for item in recorder.observations if item.kind == Service.kind}
    assert states["raw"]["state"] == "open"
    assert len(states["raw"]["round_trips_us"]) == ports.CONNECTS
    assert (states["ipp"]["state"], states["ipp"]["error"]) == ("refused", "ECONNREFUSED")
    assert received == [b""] * ports.CONNECTS


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="a full backlog drops SYNs on Linux")
def test_a_port_that_does_not_answer_is_silent_and_costs_one_deadline() -> None:
    with socket.socket() as full:
        full.bind(("127.0.0.1", 0))
        full.listen(0)
        waiting = [socket.socket() for _ in range(4)]
        for each in waiting:
            each.setblocking(False)
            each.connect_ex(full.getsockname())
        named = Ports(raw=full.getsockname()[1])
        recorder, took = collected(ports.PROBE, move=Move(device=DeviceRef("127.0.0.1", ports=named)), limit=0.5)
        for each in waiting:
            each.close()
    (service,) = [item.value for item in recorder.observations if item.kind == Service.kind]
    assert service["state"] == "silent"
    assert 450 <= service["waited_ms"] <= 900
    assert took < 1.2


def test_a_resolver_that_hangs_does_not_hold_the_run(monkeypatch: pytest.MonkeyPatch) -> None:
    def hanging(*_: Any, **__: Any) -> list[Any]:
        time.sleep(5)
        return []

    monkeypatch.setattr(socket, "getaddrinfo", hanging)
    recorder, took = collected(ports.PROBE, move=Move(device=DeviceRef("plotter.example")))
    assert took < 1.5
    assert outcomes(recorder, "names") == [Outcome.SILENT]
    assert outcomes(recorder, "ports") == [Outcome.NOT_TRIED]


def test_a_name_that_does_not_exist_is_a_fact(monkeypatch: pytest.MonkeyPatch) -> None:
    def no_such_name(*_: Any, **__: Any) -> None:
        raise socket.gaierror(socket.EAI_NONAME, "Name or service not known")

    monkeypatch.setattr(socket, "getaddrinfo", no_such_name)
    recorder, _ = collected(move=Move(device=DeviceRef("plotter.example")))
    (lookup,) = recorder.observations
    assert lookup.value == {"name": "plotter.example", "addresses": []}


def test_every_installed_probe_has_both_halves_and_a_name_of_its_own() -> None:
    probes = list(installed())
    assert len({probe.name for probe in probes}) == len(probes)
    assert {"names", "person", "ports", "ipp", "snmp", "spool"} <= {probe.name for probe in probes}
    for probe in probes:
        assert probe.provides
        assert probe.roles


def token_of(data: bytes) -> int | None:
    return int(data) if data.isdigit() else None


def exchange(port: int, token: int, wait: float = 0.5) -> bytes:
    async def once() -> bytes:
        async with Wire() as wire:
            return (await wire.exchange("127.0.0.1", port, str(token).encode(), token, token_of, wait)).data

    return asyncio.run(once())


def test_a_datagram_comes_back_by_its_token_and_strays_are_ignored() -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as server:
        server.bind(("127.0.0.1", 0))

        def answer() -> None:
            data, sender = server.recvfrom(100)
            for stray in (b"", b"x", b"99", data):
                server.sendto(stray, sender)

        threading.Thread(target=answer, daemon=True).start()
        assert exchange(server.getsockname()[1], 41) == b"41"


def test_udp_refusal_and_silence_are_told_apart() -> None:
    """RFC 1122 s4.1.3.3: an ICMP port unreachable is passed to the application; a deaf socket answers nothing."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as deaf:
        deaf.bind(("127.0.0.1", 0))
        port = deaf.getsockname()[1]
        with pytest.raises(TimeoutError):
            exchange(port, 7, 0.2)
    began = time.monotonic()
    with pytest.raises(ConnectionRefusedError):
        exchange(port, 7, 5)
    assert time.monotonic() - began < 1


def test_one_refusal_does_not_touch_another_exchange() -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as server, socket.socket(type=socket.SOCK_DGRAM) as gone:
        server.bind(("127.0.0.1", 0))
        gone.bind(("127.0.0.1", 0))
        alive, dead = server.getsockname()[1], gone.getsockname()[1]
        gone.close()

        async def both() -> list[Any]:
            async with Wire() as wire:
                waiting = asyncio.gather(
                    *(
                        wire.exchange("127.0.0.1", port, str(token).encode(), token, token_of, 2)
                        for token, port in enumerate([dead, alive, dead, alive, dead], 1)
                    ),
                    return_exceptions=True,
                )
                loop = asyncio.get_running_loop()
                for _ in range(2):
                    data, sender = await loop.run_in_executor(None, server.recvfrom, 100)
                    server.sendto(data, sender)
                return await waiting

        answers = asyncio.run(both())
    assert [isinstance(each, ConnectionRefusedError) for each in answers] == [True, False, True, False, True]


def asked_hosts(move: Move, gate: Gate) -> dict[Role, str]:
    return {target.role: target.host for target in targets_of(move, Standard(), gate) if target.role is not Role.HERE}


def test_at_leave_the_new_device_is_asked_at_its_final_address_and_nobody_takes_it_for_the_old_one() -> None:
    keep = Move(address="keep", old=DeviceRef("192.0.2.21"), new=DeviceRef("192.0.2.61", final="192.0.2.21"))
    assert asked_hosts(keep, Gate.SWAP) == {Role.OLD: "192.0.2.21", Role.NEW: "192.0.2.61"}
    assert asked_hosts(keep, Gate.LEAVE) == {Role.NEW: "192.0.2.21"}
    new = Move(address="new", old=DeviceRef("192.0.2.21"), new=DeviceRef("192.0.2.61", final="192.0.2.62"))
    assert asked_hosts(new, Gate.LEAVE) == {Role.OLD: "192.0.2.21", Role.NEW: "192.0.2.62"}


def test_on_loopback_only_named_ports_are_asked() -> None:
    loopback, here = targets_of(Move(new=DeviceRef("127.0.0.1", ports=Ports(ipp=8631))), Standard(), Gate.LEAVE)
    assert loopback.ports == {"ipp": 8631}
    assert here.host == "127.0.0.1", "nothing leaves this machine"
    standard = Standard("x", services_closed=ServicesClosed(("ftp",)))
    device, here = targets_of(Move(new=DeviceRef("192.0.2.61", ports=Ports(ipp=8631))), standard, Gate.SWAP)
    assert here.host == ""
    assert device.ports == {"ipp": 8631, "raw": 9100, "lpd": 515, "snmp": 161, "http": 80, "https": 443, "ftp": 21}
