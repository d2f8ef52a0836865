"""The baseline: what a shell gets from the same devices with the usual tools, 32 of them at a time."""

import os
import resource
import shlex
import shutil
import signal
import subprocess
import time
from collections.abc import Sequence
from dataclasses import dataclass

AT_ONCE = 32
TOOLS = ("sh", "xargs", "snmpget", "snmpbulkwalk", "ipptool", "nc")
_PRINTER_MIB = "1.3.6.1.2.1.43"
_OBJECTS = (  # twenty: the system group, the device, its serial number, and its inks one by one
    *(f"1.3.6.1.2.1.1.{number}.0" for number in (1, 2, 3, 5, 6)),
    *("1.3.6.1.2.1.25.3.2.1.3.1", "1.3.6.1.2.1.25.3.2.1.5.1", "1.3.6.1.2.1.25.3.5.1.1.1", "1.3.6.1.2.1.25.3.5.1.2.1"),
    f"{_PRINTER_MIB}.5.1.1.17.1",
    *(f"{_PRINTER_MIB}.11.1.1.{column}.1.{row}" for column in (6, 9) for row in range(1, 6)),
)
_PATIENCE_S = 120.0


@dataclass(frozen=True, slots=True)
class Speed:
    """Of a sweep: how many devices, and the seconds that it took by the clock and in the processor."""

    devices: int
    wall_s: float
    cpu_s: float

    @property
    def rate(self) -> float:
        """Devices a second."""
        return self.devices / self.wall_s

    @property
    def cpu_ms(self) -> float:
        """Processor time of a device."""
        return self.cpu_s / self.devices * 1000

    def __add__(self, other: "Speed") -> "Speed":
        return Speed(self.devices + other.devices, self.wall_s + other.wall_s, self.cpu_s + other.cpu_s)


def missing() -> list[str]:
    """The tools that are not installed."""
    return [tool for tool in TOOLS if shutil.which(tool) is None]


def sweep(addresses: Sequence[str], ports: dict[str, int]) -> Speed:
    """Ask the devices, on whatever cores this process may use. Raises RuntimeError if any answer was not had."""
    before, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    ended = _run(["xargs", f"-P{AT_ONCE}", "-n1", "sh", "-c", _script(ports)], "\n".join(addresses))
    wall_s, after = time.perf_counter() - began, resource.getrusage(resource.RUSAGE_CHILDREN)
    if ended:
        raise RuntimeError(f"the baseline did not get every answer: xargs ended with {ended}")
    used = (after.ru_utime + after.ru_stime) - (before.ru_utime + before.ru_stime)
    return Speed(len(addresses), wall_s, used)


def _run(command: list[str], told: str) -> int:
    """Its exit code. Whatever interrupts this ends the command and all that it has started."""
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True, start_new_session=True
    ) as process:
        try:
            process.communicate(told, _PATIENCE_S)
        except BaseException:
            os.killpg(process.pid, signal.SIGKILL)
            raise
        return process.returncode


def _script(ports: dict[str, int]) -> str:
    """For one device, whose address is $0."""
    agent = f'-v2c -c public -On "$0:{ports["snmp"]}"'
    lines = (
        f"snmpget {agent} {shlex.join(_OBJECTS)}",
        f"snmpbulkwalk {agent} {_PRINTER_MIB}",
        f'ipptool -tv "ipp://$0:{ports["ipp"]}/ipp/print" get-printer-attributes.test',
        *(f'nc -z -w 2 "$0" {ports[name]}' for name in ("ipp", "raw", "lpd", "http")),
    )
    return " && ".join(lines)
