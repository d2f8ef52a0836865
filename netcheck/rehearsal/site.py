"""The simulated site itself: old printer, new printer and spooler, started on free loopback ports and always stopped.

    async with Site(SCENARIOS["ready"]) as site:
        site.ports["new"]["ipp"], site.spooler, site.write(folder)

Importing this module imports no protocol library; entering a site does.
"""

from __future__ import annotations

import socket
from contextlib import AsyncExitStack
from importlib import resources
from pathlib import Path
from types import TracebackType
from typing import Literal, Self

from netcheck.rehearsal.device import Device, Service
from netcheck.rehearsal.dnssd import announce
from netcheck.rehearsal.host import HOST, Host, Touched
from netcheck.rehearsal.ipp_service import serve
from netcheck.rehearsal.scenarios import FINAL_ADDRESS, NEW, OLD, QUEUE, SITE, Scenario
from netcheck.rehearsal.spooler import Queue, Spooler

Role = Literal["old", "new"]

_PLANS = Queue(
    name=QUEUE,
    device_uri=f"socket://{FINAL_ADDRESS}:9100",  # the site's own words; the simulation has no such address
    make_and_model=f"{NEW.make_and_model}, driver 3.2",
    location=SITE,
    media_default="na_arch-d_24x36in",
    media=NEW.prints,
)


def standard_toml() -> str:
    """The shipped Standard: what the owner of this rollout calls a finished site."""
    return _shipped("standard.toml")


class Site:
    """A running site. `ports` and `spooler` (host:port) are there once it has been entered; a site is entered once."""

    def __init__(self, scenario: Scenario) -> None:
        self.scenario = scenario
        self.ports: dict[Role, dict[Service, int]] = {}
        self.spooler = ""
        self._hosts: dict[Role, Host] = {"old": Host(scenario.old), "new": Host(scenario.new)}
        self._running = AsyncExitStack()

    async def __aenter__(self) -> Self:
        """Starts everything. Raises OSError when loopback gives no ports; what was started by then is stopped again."""
        async with AsyncExitStack() as stack:
            for role, host in self._hosts.items():
                await host.start(stack)
                self.ports[role] = host.ports
            devices: dict[Role, Device] = {"old": self.scenario.old, "new": self.scenario.new}
            await announce([(device, self.ports[role]) for role, device in devices.items()], stack)
            self.spooler = await _start_spooler(stack)
            self._running = stack.pop_all()
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Stops everything, whatever happened inside."""
        await self._running.__aexit__(kind, error, trace)

    def touched(self, role: Role) -> Touched:
        """What has been done to a device so far that a reading tool must not do."""
        return self._hosts[role].touched()

    def move_toml(self) -> str:
        """The shipped Move, for this run: the same visit, with both devices and the spooler at their loopback ports."""
        text = _shipped("move.toml")
        text = _replaced(text, f'host = "{OLD.network.address}"', f'host = "{HOST}"')
        text = _replaced(text, f'host = "{NEW.network.address}"', f'host = "{HOST}"')
        text = _replaced(text, 'server = "127.0.0.1:631"', f'server = "{self.spooler}"')
        for role, ports in self.ports.items():
            text += f"\n[{role}.ports]\n" + "".join(f"{service} = {port}\n" for service, port in ports.items())
        return text

    def write(self, folder: Path) -> Path:
        """Writes move.toml and the standard.toml that it names into `folder`; returns the path of the Move."""
        move = folder / "move.toml"
        move.write_text(self.move_toml(), "utf-8")
        (folder / "standard.toml").write_text(standard_toml(), "utf-8")
        return move


def _shipped(name: str) -> str:
    return (resources.files("netcheck.rehearsal") / "data" / name).read_text("utf-8")


def _replaced(text: str, old: str, new: str) -> str:
    if text.count(old) != 1:
        raise AssertionError(f"the shipped Move must say {old!r} exactly once")
    return text.replace(old, new)


async def _start_spooler(stack: AsyncExitStack) -> str:
    listener = socket.create_server((HOST, 0))
    stack.callback(listener.close)
    authority = f"{HOST}:{listener.getsockname()[1]}"
    runner = await serve(Spooler((_PLANS,), authority).answer, "Print scheduler\n", [listener])
    stack.push_async_callback(runner.cleanup)
    return authority
