"""A look at one address from the workstation, by an administrator or by a nobody, and what it put on the wire."""

import json
import sys
import time
from pathlib import Path
from typing import Any, Final, TypeVar

import msgspec

from netcheck.case import Attempt, Case
from netcheck.facts import KINDS, Fact
from netcheck.facts.link import Neighbour

from .site import Site

T = TypeVar("T", bound=Fact)
INSIDE: Final = Path(__file__).parent / "inside"
ROOT: Final = Path(__file__).parents[2]
NOBODY: Final = ("setpriv", "--reuid=65534", "--regid=65534", "--clear-groups", "--bounding-set=-all")
IPV4, ARP, IPV6 = b"\x08\x00", b"\x08\x06", b"\x86\xdd"
"""Ethernet's types (IANA, IEEE 802 numbers)."""


class Look:
    """What the probes saw of one address, and how long they took."""

    def __init__(
        self,
        site: Site,
        address: str,
        probes: str = "address,ports",
        *words: str,
        nobody: bool = False,
        seconds: float = 6,
    ) -> None:
        before = NOBODY if nobody else ()
        ask: tuple[str | Path, ...] = (sys.executable, INSIDE / "look.py", str(seconds), probes, address, *words)
        began = time.monotonic()
        done = site.run("workstation", *before, *ask, env={"PYTHONPATH": str(ROOT), "HOME": str(site.folder)})
        self.took = time.monotonic() - began
        assert done.returncode == 0, done.stderr
        assert done.stderr == ""
        self.case = msgspec.json.decode(done.stdout, type=Case)

    def of(self, kind: type[Any]) -> list[Any]:
        found = [item for item in self.case.observations if item.kind == kind.kind]
        return [msgspec.convert(item.value, KINDS[item.kind]) for item in found]

    def neighbour(self, method: str) -> Neighbour | None:
        return next((each for each in self.of(Neighbour) if each.method == method), None)

    def by(self, method: str) -> Neighbour:
        found = self.neighbour(method)
        assert found is not None, self.case.attempts
        return found

    def only(self, kind: type[T], role: str = "new") -> T:
        """The one fact of a kind."""
        found = [item for item in self.case.observations if (item.kind, item.role) == (kind.kind, role)]
        assert len(found) == 1, self.case.observations
        return msgspec.convert(found[0].value, kind)

    def attempts(self, probe: str = "address") -> list[Attempt]:
        return [each for each in self.case.attempts if each.probe == probe and each.role == "new"]


def remembered(site: Site, address: str) -> dict[str, Any]:
    """What iproute2 says of an address in the workstation's table."""
    rows: list[dict[str, Any]] = json.loads(site.run("workstation", "ip", "-j", "neigh", "show", "to", address).stdout)
    return rows[0] if rows else {}


def frames(site: Site, *look: str, kinds: set[bytes], nobody: bool = False) -> list[bytes]:
    """Everything of these types that leaves the workstation during a look, by the probe alone if none is named."""
    sniffer = site.start("workstation", "frames", sys.executable, INSIDE / "frames.py", "eth0")
    sniffer.until_said("listening")
    address, probes, *words = look if len(look) > 1 else (*look, "address")
    Look(site, address, probes, *words, nobody=nobody)
    sniffer.end()
    sent = [bytes.fromhex(line[4:]) for line in sniffer.output.splitlines() if line.startswith("out ")]
    return [frame for frame in sent if frame[12:14] in kinds]
