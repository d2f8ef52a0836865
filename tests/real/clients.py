"""Independent clients, each a program that the project did not write: what they see is what is true.

`ipptool` (CUPS) for IPP, net-snmp's `snmpget` and `snmpbulkwalk` for SNMP, bash for a TCP connection.
"""

import plistlib
import re
import subprocess

from .site import JACKS, Node, Site


def ipp_attributes(site: Site, node: Node, scheme: str = "ipp", *, wait: int = 3) -> dict[str, object]:
    """The printer's attributes as the workstation gets them, decoded by ipptool; ConnectionError if it gets none."""
    uri = f"{scheme}://{JACKS[node].address}/ipp/print"
    done = site.run("workstation", "ipptool", "-X", "-T", str(wait), uri, "get-printer-attributes.test")
    report = plistlib.loads(done.stdout.encode())
    groups = [group for test in report["Tests"] for group in test["ResponseAttributes"]]
    if not any(groups):  # a printer that says nothing has a status of "successful-ok" here too
        raise ConnectionError(report.get("ErrorMessage", "no answer"))
    return {name: value for group in groups for name, value in group.items()}


def snmp_get(site: Site, node: Node, oid: str, *, version: str = "2c", community: str = "public") -> str:
    """One value as net-snmp prints it (`-Oqv`); TimeoutError when nothing answered."""
    return _snmp(site, "snmpget", version, community, node, oid).strip()


def snmp_walk(site: Site, node: Node, oid: str, *, repetitions: int = 25) -> list[str]:
    """The OIDs under `oid` in the order that the agent gave them, each with its value, which may have lines."""
    walked = _snmp(site, "snmpbulkwalk", "2c", "public", node, oid, f"-Cr{repetitions}")
    return re.split(r"\n(?=\.1\.)", walked.rstrip("\n"))


def _snmp(site: Site, program: str, version: str, community: str, node: Node, oid: str, *options: str) -> str:
    output = "-Oqv" if program == "snmpget" else "-Oqn"
    command = (program, f"-v{version}", "-c", community, "-t1", "-r0", output, *options, JACKS[node].address, oid)
    done = site.run("workstation", *command, env={"MIBS": ""})
    if done.returncode:
        raise (TimeoutError if "Timeout" in done.stderr else RuntimeError)(done.stderr.strip())
    return done.stdout


def connect(site: Site, address: str, port: int, send: str = "") -> str:
    """What bash says to a connection from the workstation: nothing if it was made. `send` as printf takes it."""
    script = f"exec 3<>/dev/tcp/{address}/{port} && printf '{send}' >&3"
    try:
        return site.run("workstation", "bash", "-c", script, timeout=1, env={"LC_ALL": "C"}).stderr
    except subprocess.TimeoutExpired:
        return "no answer"
