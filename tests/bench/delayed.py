"""One live device whose answers take 20 ms: how long a collection takes, in round trips.

    python tests/bench/delayed.py

The device is one of the simulated fleet, behind a proxy in a process of its own that holds every answer back (requests
and connects pass at once). In process: collect, with all probes but those that listen to multicast for a fixed time.
Whole process: ``netcheck read`` against the same shell that the fleet is measured against, in the same run. Ends with 1
where a goal is missed: three round trips and 20 ms in process, half of the shell as a whole process.
"""

import asyncio
import multiprocessing
import statistics
import subprocess
import sys
import tempfile
import time
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import cast

import fleet_shell

from netcheck.collect import Recorder, collect_once, targets_of
from netcheck.gates import Gate
from netcheck.move import DeviceRef, Move, Ports
from netcheck.probing import installed
from netcheck.rehearsal.fleet import held_fleet
from netcheck.rehearsal.fleet.members import member
from netcheck.standard import Standard
from netcheck.sweeping.asking import NOT_OF_A_SWEEP

DELAY_S = 0.020
ROUND_TRIPS, SLACK_S = 3, 0.020
RUNS = 7
SHELL_SHARE = 0.5
_SHIFT = 1
"""The proxy's port beside the device's own."""


class Datagrams(asyncio.DatagramProtocol):
    """Passes questions on, each from a socket of its own, and holds the answers back."""

    def __init__(self, device: tuple[str, int]) -> None:
        self._device = device
        self._tasks: set[asyncio.Task[None]] = set()

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        self._transport = cast("asyncio.DatagramTransport", transport)

    def datagram_received(self, data: bytes, addr: tuple[str, int]) -> None:
        task = asyncio.get_running_loop().create_task(self._pass_on(data, addr))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def _pass_on(self, data: bytes, addr: tuple[str, int]) -> None:
        loop = asyncio.get_running_loop()
        answer: asyncio.Future[bytes] = loop.create_future()

        class Answer(asyncio.DatagramProtocol):
            def datagram_received(self, data: bytes, addr: tuple[str, int]) -> None:
                if not answer.done():
                    answer.set_result(data)

        transport, _ = await loop.create_datagram_endpoint(Answer, remote_addr=self._device)
        transport.sendto(data)
        with suppress(TimeoutError):
            came = await asyncio.wait_for(answer, 2)
            await asyncio.sleep(DELAY_S)
            self._transport.sendto(came, addr)
        transport.close()


async def _stream(host: str, port: int) -> None:
    async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        ours, theirs = await asyncio.open_connection(host, port)

        async def down() -> None:
            while data := await ours.read(65536):
                await asyncio.sleep(DELAY_S)
                writer.write(data)
            writer.close()

        async def up() -> None:
            while data := await reader.read(65536):
                theirs.write(data)
            theirs.close()

        with suppress(ConnectionError):
            await asyncio.gather(down(), up())

    await asyncio.start_server(serve, host, port + _SHIFT)


def proxy(host: str, ports: dict[str, int], ready: "multiprocessing.synchronize.Event") -> None:
    """The proxy's process."""

    async def main() -> None:
        loop = asyncio.get_running_loop()
        for name, port in ports.items():
            if name == "snmp":
                await loop.create_datagram_endpoint(partial(Datagrams, (host, port)), local_addr=(host, port + _SHIFT))
            else:
                await _stream(host, port)
        ready.set()
        await asyncio.sleep(600)

    asyncio.run(main())


async def collected(host: str, ports: dict[str, int]) -> tuple[float, int]:
    """Seconds for one collection, and how many facts it gave."""
    move = Move(device=DeviceRef(host, ports=Ports(**ports)))
    probes = [probe for probe in installed() if probe.name not in NOT_OF_A_SWEEP]
    recorder, began = Recorder(), time.perf_counter()
    await collect_once(targets_of(move, Standard(), Gate.STANDING), probes, recorder, 5)
    return time.perf_counter() - began, len(recorder.observations)


def whole(host: str, ports: dict[str, int]) -> float:
    """Seconds for ``netcheck read`` as a process."""
    options = [option for name, port in ports.items() for option in ("--port", f"{name}={port}")]
    began = time.perf_counter()
    subprocess.run(
        [sys.executable, "-m", "netcheck", "read", host, *options, "--json"], stdout=subprocess.PIPE, check=True
    )
    return time.perf_counter() - began


def main() -> int:
    """Measure, print, and say whether the goals were met."""
    host = member(0).address
    with tempfile.TemporaryDirectory() as folder, held_fleet(1, Path(folder), alike=True, cores=[1]) as fleet:
        own = {str(service): port for service, port in fleet.answering.ports.items()}
        ready = multiprocessing.Event()
        process = multiprocessing.Process(target=proxy, args=(host, own, ready), daemon=True)
        process.start()
        try:
            assert ready.wait(5)
            ports = {name: port + _SHIFT for name, port in own.items()}
            runs = [asyncio.run(collected(host, ports)) for _ in range(RUNS)]
            seconds = statistics.median(took for took, _ in runs)
            process_s = statistics.median(whole(host, ports) for _ in range(RUNS))
            shell_s = statistics.median(fleet_shell.sweep([host], ports).wall_s for _ in range(RUNS))
        finally:
            process.kill()
    goal = ROUND_TRIPS * DELAY_S + SLACK_S
    print(f"collect: {seconds * 1000:.0f} ms for {runs[0][1]} facts, goal {goal * 1000:.0f} ms")
    print(f"netcheck read: {process_s * 1000:.0f} ms, the shell {shell_s * 1000:.0f} ms: {process_s / shell_s:.2f} x")
    return 0 if seconds <= goal and process_s <= SHELL_SHARE * shell_s else 1


if __name__ == "__main__":
    sys.exit(main())
