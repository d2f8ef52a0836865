"""The tool itself, run as a technician runs it: a command at the workstation, a Move and a Standard in files."""

import json
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from .devices import CORVID, HALDEN
from .office import QUEUE, Office
from .site import JACKS

ROOT: Final = Path(__file__).parents[2]
MOVE: Final = f"""
[move]
job = "LS-2041"
site = "Harrow Lane land-survey office"
address = "keep"
standard = "standard.toml"

[old]
host = "{JACKS["old"].address}"
serial = "{CORVID.serial}"

[new]
host = "{JACKS["new"].address}"
final = "{JACKS["old"].address}"
serial = "{HALDEN.serial}"
mac = "{JACKS["new"].mac}"

[queue]
name = "{QUEUE}"
server = "127.0.0.1:631"
"""
STANDARD: Final = """
name = "Plan plotters 2026"

[device]
model = "Halden 36R*"

[firmware]
version = "4.7.2"
order = "dotted"

[services]
required = ["ipp", "raw"]
closed = ["ftp"]

[address]
subnet = "10.77.0.0/24"
origin = ["static", "dhcp"]

[snmp]
required = true

[[print]]
size = "na_arch-d_24x36in"
type = "stationery-coated"
feed = "roll"

[supplies]
care_percent = 30
block_percent = 10

[queue]
driver = "Halden 36R*"
driver_version = ">=3.1"

[facts]
max_age_minutes = 30
"""


@dataclass(frozen=True)
class Answer:
    """What the command came to: its exit code, what it printed, and the document that it saved."""

    code: int
    page: str
    complaints: str
    saved: Path

    @property
    def document(self) -> dict[str, Any]:
        return dict(json.loads(self.saved.read_text()))

    @property
    def state(self) -> str:
        return str(self.document["verdict"]["state"])

    @property
    def findings(self) -> list[dict[str, Any]]:
        """As the page has them: the heaviest first."""
        return list(self.document["verdict"]["findings"])

    @property
    def against(self) -> list[str]:
        """What is not met at the gate `swap`, heaviest first, as id or id/item."""
        counted = [each for each in self.findings if each["state"] != "met" and each["gate"] != "leave"]
        return [f"{each['id']}/{each['item']}".rstrip("/") for each in counted]

    def attempts(self, role: str, probe: str) -> set[str]:
        """How a probe's tries at one of the devices ended."""
        return {each["outcome"] for each in self.document["attempts"] if (each["role"], each["probe"]) == (role, probe)}


def command(office: Office, *options: str, move: str = MOVE, standard: str = STANDARD) -> tuple[list[str], Path]:
    """`netcheck ready`, to be run at the workstation, and the file that it will save."""
    folder = office.site.folder / "visit"
    folder.mkdir(exist_ok=True)
    (folder / "move.toml").write_text(move)
    (folder / "standard.toml").write_text(standard)
    saved = folder / "case.json"
    saved.unlink(missing_ok=True)
    ask = [sys.executable, "-m", "netcheck", "ready", str(folder / "move.toml"), "--save", str(saved), *options]
    return office.site.command("workstation", *ask), saved


def environment(office: Office, community: str = "") -> dict[str, str]:
    """The technician's."""
    own = {"PYTHONPATH": str(ROOT), "NO_COLOR": "1", "HOME": str(office.site.folder / "visit")}
    return {**os.environ, **own, **({"NETCHECK_SNMP_COMMUNITY": community} if community else {})}


def ready(office: Office, *options: str, move: str = MOVE, standard: str = STANDARD, community: str = "") -> Answer:
    """Ask, and wait for the answer."""
    argv, saved = command(office, *options, move=move, standard=standard)
    done = subprocess.run(argv, env=environment(office, community), capture_output=True, text=True, timeout=60)
    assert saved.exists(), done.stdout + done.stderr
    return Answer(done.returncode, done.stdout, done.stderr, saved)
