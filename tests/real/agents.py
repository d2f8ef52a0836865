"""The SNMP side of a printer: net-snmp's `snmpd`, with the printer's rows by pass_persist.

The rows of the network (IF-MIB, IP-MIB) are snmpd's own and speak of the namespace's real interface, so a wrong mask
there is a wrong mask, seen the way a printer would show it. Rows change while it runs; who may ask does not.
"""

import os
import sys
from pathlib import Path
from types import TracebackType
from typing import Final, Literal, Self

from .devices import Device
from .mib import HOST, PRINTER, document, rows
from .programs import Program
from .site import Node, Site

Versions = tuple[Literal["v1", "v2c"], ...]
RESPONDER: Final = Path(__file__).parent / "inside/responder.py"
# system, interfaces, ip, snmp, hrSystemUptime, hrDevice, ifMIB, printmib: nothing else of this machine.
_SERVED: Final = ("1", "2", "4", "11", "25.1.1", "25.3", "31", "43")
# One minus for the whole list, snmpd(8): without it the machine's own processors and disks stand in the device table.
_WITHOUT: Final = "-smux,hr_device,hr_print,hr_disk,hr_network,hr_proc,hr_partition,hrh_filesys,hrh_storage"


class Agent:
    """An agent for `device`, up between `with` and its end."""

    def __init__(
        self,
        site: Site,
        node: Node,
        device: Device,
        *,
        community: str = "public",
        versions: Versions = ("v1", "v2c"),
    ) -> None:
        self.device = device
        self._program: Program | None = None
        self._site: Final = site
        self._node: Final = node
        self._folder: Final = site.folder / f"snmp-{node}"
        self._community = community
        self._versions = versions

    def __enter__(self) -> Self:
        # snmpd writes a snmpd.conf of its own, with what it is to remember, into a folder that it takes for its own.
        (self._folder / "memory").mkdir(mode=0o700, parents=True)
        self.become(self.device)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.end()

    def admit(self, community: str = "public", versions: Versions = ("v1", "v2c")) -> None:
        """Answer only who asks like this from now on."""
        self._community, self._versions = community, versions
        self.become(self.device)

    @property
    def program(self) -> Program:
        assert self._program, "the agent is not up"
        return self._program

    def end(self) -> None:
        if self._program:
            self._program.end()

    def become(self, device: Device, *, loop: str = "", end: str = "") -> None:
        """Say what `device` says from now on; anew where it stands in the configuration (the firmware in sysDescr).

        From the object `loop` on, getnext goes round in a circle; at the object `end`, the walk stops short.
        """
        fresh = self._folder / "rows.new"
        fresh.write_text(document(rows(device), loop, end))
        fresh.replace(self._folder / "rows.json")
        configuration = self._configuration(device)
        if self._read("agent.conf") != configuration:
            (self._folder / "agent.conf").write_text(configuration)
            self.restart()
        self.device = device

    def restart(self) -> None:
        """Start anew: sysUpTime begins again, and what was remembered of the interfaces is forgotten."""
        self.end()
        options = ["-f", "-C", "-c", str(self._folder / "agent.conf"), "-Lo", "-I", _WITHOUT]
        memory = str(self._folder / "memory")
        env = {"MIBS": "", "SNMP_PERSISTENT_DIR": memory, "SNMPCONFPATH": memory}
        self._program = self._site.start(self._node, "snmpd", "snmpd", *options, env=env)
        self.program.until_listening("udp", 161)

    def _configuration(self, device: Device) -> str:
        serve = f"{os.path.realpath(sys.executable)} -I -S {RESPONDER} {self._folder / 'rows.json'}"
        lines = [
            "agentaddress udp:161",
            f"com2sec site default {self._community}",
            *(f"group readers {version} site" for version in self._versions),
            *(f"view printer included .1.3.6.1.2.1.{group}" for group in _SERVED),
            'access readers "" any noauth exact printer none none',
            f"sysDescr {device.name}, firmware {device.firmware}",
            "sysObjectID 1.3.6.1.4.1.32473.36",  # the enterprise number for documentation, RFC 5612
            f"sysName {device.maker.lower()}",
            "sysLocation Plan room",
            "sysContact Harrow Lane land-survey office",
            f"pass_persist .{HOST} {serve}",
            f"pass_persist .{PRINTER} {serve}",
        ]
        return "\n".join(lines) + "\n"

    def _read(self, name: str) -> str:
        path = self._folder / name
        return path.read_text() if path.exists() else ""
