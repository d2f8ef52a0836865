"""The SNMP side of a printer: net-snmp's `snmpd`, with the printer's rows by pass_persist; and snmpsim.

In a namespace, the rows of the network (IF-MIB, IP-MIB) are snmpd's own and speak of the namespace's real interface, so
a wrong mask there is a wrong mask, seen the way a printer would show it. Rows change while it runs; who may ask does
not. On loopback, both serve nothing but the rows that they are given: one device after the other, or all at once.
"""

import importlib.util
import os
import socket
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from types import TracebackType
from typing import Final, Literal, Self

from .devices import Device
from .mib import HOST, PRINTER, Row, document, rows
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
        self.serve(rows(device), loop, end)
        configuration = self._configuration(device)
        if self._read("agent.conf") != configuration:
            (self._folder / "agent.conf").write_text(configuration)
            self.restart()
        self.device = device

    def serve(self, found: Sequence[Row], loop: str = "", end: str = "") -> None:
        """Say these rows of the printer from now on, whatever the device is; `loop` and `end` as above."""
        _replace(self._folder, found, loop, end)

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


def _replace(folder: Path, found: Sequence[Row], loop: str, end: str) -> None:
    """What the responder reads next; at no moment is there half of it."""
    fresh = folder / "rows.new"
    fresh.write_text(document(list(found), loop, end))
    fresh.replace(folder / "rows.json")


# --- on loopback: no namespace, no other machine, and none of this machine's own rows

LOOPBACK: Final = "127.0.0.1"
PORT_MONITOR: Final = "1.3.6.1.4.1.2699.1.2"  # PWG 5107.1
_HERE: Final = Path("/proc/self/ns/net")
_SYSTEM: Final = (
    Row("1.3.6.1.2.1.1.1.0", "OCTET", b"Halden 36R, firmware 4.7.2".hex(" ")),
    Row("1.3.6.1.2.1.1.2.0", "OBJECTID", "1.3.6.1.4.1.32473.36"),
    Row("1.3.6.1.2.1.1.3.0", "Timeticks", "720000"),
    Row("1.3.6.1.2.1.1.5.0", "OCTET", b"halden".hex(" ")),
    Row("1.3.6.1.2.1.1.6.0", "OCTET", b"Plan room".hex(" ")),
)


def _free_port() -> int:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as found:
        found.bind((LOOPBACK, 0))
        return int(found.getsockname()[1])


class Loopback:
    """snmpd on a port of loopback, up between `with` and its end: `serve` says which rows, from then on."""

    def __init__(self, folder: Path, *, versions: Versions = ("v1", "v2c")) -> None:
        self.port: Final = _free_port()
        self._folder: Final = folder
        self._versions: Final = versions
        self._program: Program | None = None

    def __enter__(self) -> Self:
        (self._folder / "memory").mkdir(mode=0o700, parents=True)
        self.serve([])
        memory = str(self._folder / "memory")
        (self._folder / "agent.conf").write_text(self._configuration())
        options = ["snmpd", "-f", "-C", "-c", str(self._folder / "agent.conf"), "-Lo", "-I", _WITHOUT]
        env = {"MIBS": "", "SNMP_PERSISTENT_DIR": memory, "SNMPCONFPATH": memory}
        self._program = Program("snmpd", options, self._folder / "snmpd.log", _HERE, env)
        self._program.until_listening("udp", self.port)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._program:
            self._program.end()

    @property
    def program(self) -> Program:
        assert self._program, "the agent is not up"
        return self._program

    def serve(self, found: Sequence[Row], loop: str = "", end: str = "") -> None:
        """From now on these; `loop` and `end` as in `Agent.become`."""
        _replace(self._folder, found, loop, end)

    def _configuration(self) -> str:
        serve = f"{os.path.realpath(sys.executable)} -I -S {RESPONDER} {self._folder / 'rows.json'}"
        lines = [
            f"agentaddress udp:{LOOPBACK}:{self.port}",
            "com2sec site default public",
            *(f"group readers {version} site" for version in self._versions),
            *(f"view printer included .{tree}" for tree in ("1.3.6.1.2.1.1", HOST, PRINTER, PORT_MONITOR)),
            'access readers "" any noauth exact printer none none',
            *(f"pass_persist .{tree} {serve}" for tree in (HOST, PRINTER, PORT_MONITOR)),
        ]
        return "\n".join(lines) + "\n"


_TAGS: Final = {"INTEGER": "2", "OCTET": "4x", "OBJECTID": "6", "Counter": "65", "Gauge": "66", "Timeticks": "67"}
"""A type in the words of pass_persist, and as snmpsim's records have it."""


class Simulator:
    """snmpsim on a port of loopback: a device for each community. A row whose kind is `tooBig` or `genErr` is one that
    cannot be read; no answer has more than `varbinds` rows."""

    def __init__(self, folder: Path, devices: Mapping[str, Sequence[Row]], *, varbinds: int = 64) -> None:
        self.port: Final = _free_port()
        self._folder: Final = folder
        self._devices: Final = devices
        self._varbinds: Final = varbinds
        self._program: Program | None = None

    def __enter__(self) -> Self:
        data = self._folder / "data"
        data.mkdir(parents=True)
        for community, found in self._devices.items():
            (data / f"{community}.snmprec").write_text(_record([*_SYSTEM, *found]))
        program = Path(sys.executable).with_name("snmpsim-command-responder")
        options = [
            *(f"--data-dir={data}", f"--cache-dir={self._folder / 'cache'}", f"--max-var-binds={self._varbinds}"),
            *(f"--agent-udpv4-endpoint={LOOPBACK}:{self.port}", f"--variation-modules-dir={_variations()}"),
            *("--process-user=root", "--process-group=root"),
        ]
        self._program = Program("snmpsim", [str(program), *options], self._folder / "snmpsim.log", _HERE, {})
        self._program.until_listening("udp", self.port, 20)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._program:
            self._program.end()


def _variations() -> Path:
    found = importlib.util.find_spec("snmpsim")
    assert found is not None, "snmpsim is not installed"
    return Path(found.origin or "").with_name("variation")


def _record(found: Sequence[Row]) -> str:
    """Rows as a record of snmpsim, in the order of their identifiers; of two with one identifier the later counts."""
    by_oid = {tuple(map(int, row.oid.split("."))): row for row in found}
    return "".join(f"{row.oid}|{_value(row)}\n" for _, row in sorted(by_oid.items()))


def _value(row: Row) -> str:
    if row.kind in {"tooBig", "genErr"}:
        return f"2:error|op=any,status={'genError' if row.kind == 'genErr' else row.kind},value=0"
    return f"{_TAGS[row.kind]}|{row.value.replace(' ', '') if row.kind == 'OCTET' else row.value}"
