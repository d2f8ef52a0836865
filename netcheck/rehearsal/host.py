"""One simulated device on loopback: its sockets and the services behind them.

Each service is served, mute or unplugged, as its `Device` says. An unplugged one keeps its port number reserved by a
socket that is bound and does not listen: a client is refused there as by a host without the service, and nobody else
can move in meanwhile. Nothing here needs privileges, nor any address but 127.0.0.1.
"""

from __future__ import annotations

import asyncio
import socket
from contextlib import AsyncExitStack
from dataclasses import dataclass
from typing import TYPE_CHECKING

from netcheck.rehearsal.device import SERVICES, Device, Service
from netcheck.rehearsal.ipp_printer import IppPrinter
from netcheck.rehearsal.ipp_service import serve
from netcheck.rehearsal.mib_printer import snmp_rows
from netcheck.rehearsal.raw_port import RawPort, line_printer

if TYPE_CHECKING:
    from netcheck.rehearsal.snmp_agent import SnmpAgent

HOST = "127.0.0.1"
_ENGINE_PREFIX = bytes.fromhex("80007ed903")  # RFC 3411 s5: enterprise 32473 (RFC 5612), and a MAC address follows


@dataclass(frozen=True, slots=True)
class Touched:
    """What a reading tool must leave at nothing: octets sent to the print port, and SNMP SETs."""

    raw_octets: int = 0
    snmp_sets: int = 0


class Host:
    """A device's services. `ports` is complete once `start` has returned."""

    def __init__(self, device: Device) -> None:
        self.ports: dict[Service, int] = {}
        self._device = device
        self._raw = RawPort()
        self._agent: SnmpAgent | None = None

    def touched(self) -> Touched:
        """What has been done to the device so far that a reading tool must not do."""
        return Touched(self._raw.received, self._agent.set_requests if self._agent else 0)

    async def start(self, stack: AsyncExitStack) -> None:
        """Starts the services; `stack` stops them. Raises OSError when loopback gives no port."""
        sockets = {service: self._bind(service, stack) for service in SERVICES}
        self.ports = {service: bound.getsockname()[1] for service, bound in sockets.items()}
        live = {s: sockets[s] for s in SERVICES if s not in self._device.unplugged | self._device.mute}
        printer = IppPrinter(self._device, f"{HOST}:{self.ports['ipp']}")
        web = [bound for service, bound in live.items() if service in ("ipp", "http")]
        if web:
            runner = await serve(printer.answer, f"{self._device.make_and_model}\n", web)
            stack.push_async_callback(runner.cleanup)
        for service, port in (("raw", self._raw), ("lpd", RawPort(line_printer))):
            if service in live:
                port.start(live[service])
                stack.push_async_callback(port.stop)
        if "snmp" in live:
            await self._start_agent(live["snmp"], stack)

    def _bind(self, service: Service, stack: AsyncExitStack) -> socket.socket:
        """A socket on a free port: listening (UDP: open), or holding the number of an unplugged service."""
        unplugged = service in self._device.unplugged
        bound = socket.socket(socket.AF_INET, socket.SOCK_DGRAM if service == "snmp" else socket.SOCK_STREAM)
        stack.callback(bound.close)
        bound.setblocking(False)
        bound.bind((HOST, 0))
        if service != "snmp" and not unplugged:
            bound.listen()
        if service == "snmp" and unplugged:
            bound.connect(bound.getsockname())  # hears only itself, so everybody else meets a closed port
        return bound

    async def _start_agent(self, bound: socket.socket, stack: AsyncExitStack) -> None:
        from netcheck.rehearsal.snmp_agent import SnmpAgent

        engine_id = _ENGINE_PREFIX + bytes.fromhex(self._device.network.mac.replace(":", ""))
        agent = self._agent = SnmpAgent(snmp_rows(self._device), engine_id)
        transport, _ = await asyncio.get_running_loop().create_datagram_endpoint(lambda: agent, sock=bound)
        stack.callback(transport.close)
