"""What these tests need of the machine, and the exact reason when it is not there."""

import subprocess
from collections.abc import Callable
from typing import Final

PROGRAMS: Final = {
    "avahi-daemon": "avahi-daemon",
    "bash": "bash",
    "cupsd": "cups-daemon",
    "cupstestppd": "cups-client",
    "dbus-daemon": "dbus-daemon",
    "ip": "iproute2",
    "ippeveprinter": "cups-ipp-utils",
    "ipptool": "cups-ipp-utils",
    "lpadmin": "cups-client",
    "lpstat": "cups-client",
    "nft": "nftables",
    "snmpbulkwalk": "snmp",
    "snmpd": "snmpd",
    "snmpget": "snmp",
    "unshare": "util-linux",
}
"""Each program, and the Debian package that has it. Printing needs the filters of `cups` and `cups-filters` besides."""


def why_not(system: str, uid: int, find: Callable[[str], str | None], can_isolate: Callable[[], str]) -> str:
    """Why the tests cannot run, or nothing. `can_isolate` says what is wrong with making namespaces here."""
    if system != "Linux":
        return f"network namespaces need Linux, this is {system}"
    if uid != 0:
        return f"network namespaces need root, this is user {uid}"
    missing = [f"{program} (Debian package {package})" for program, package in PROGRAMS.items() if not find(program)]
    if missing:
        return f"missing: {', '.join(missing)}"
    return can_isolate()


def isolation_refused() -> str:
    """What the kernel says against a network namespace of our own, or nothing."""
    done = subprocess.run(["unshare", "--net", "--mount", "true"], capture_output=True, text=True, timeout=10)
    return f"network namespaces are refused here: {done.stderr.strip()}" if done.returncode else ""
