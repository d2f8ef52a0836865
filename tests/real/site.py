"""A small office in network namespaces: a switch, a gateway, a workstation, two printers' jacks and a stranger's.

Everything that a test starts in it is started here, so that everything is also ended here: programs by their process
id, namespaces by the names that we gave them, the folder last. What is still alive after that is ended too, and then
reported as a failure.

Addresses are 10.77.0.0/24 (RFC 1918); hardware addresses are locally administered (RFC 9542 section 2.1).
"""

import itertools
import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterable, Mapping
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Final, Literal, Self

from .programs import Program, end_all, kill_strays, until

Node = Literal["gateway", "workstation", "old", "new", "stranger"]
Place = Node | Literal["switch"]


@dataclass(frozen=True)
class Jack:
    """Where one machine is on the site's network."""

    address: str
    mac: str


JACKS: Final[dict[Node, Jack]] = {
    "gateway": Jack("10.77.0.1", "02:77:00:00:00:01"),
    "workstation": Jack("10.77.0.10", "02:77:00:00:00:10"),
    "old": Jack("10.77.0.21", "02:77:00:00:00:21"),
    "new": Jack("10.77.0.22", "02:77:00:00:00:22"),
    "stranger": Jack("10.77.0.30", "02:77:00:00:00:30"),
}
PLACES: Final[tuple[Place, ...]] = ("switch", *JACKS)
PREFIX: Final = 24
GATEWAY: Final = JACKS["gateway"].address

# Look-ups must fail at once: CUPS asks for the names of its peers, and a name server out of reach holds a TLS handshake
# up for seconds.
_RESOLVER: Final = "nameserver 127.0.0.1\noptions timeout:1 attempts:1\n"
# `ip netns exec` gives each command a mount table of its own, so these mounts end with the command.
_PRIVATE_ETC: Final = 'mount --bind "$1" /etc/hosts && mount --bind "$2" /etc/resolv.conf && shift 2 && exec "$@"'
# Without duplicate address detection an IPv6 link-local address can be used at once.
_NO_DETECTION: Final = "for k in all default eth0; do echo 0 >/proc/sys/net/ipv6/conf/$k/accept_dad; done"

_INPUT: Final = "type filter hook input priority 0"

_sites = itertools.count(1)


class Site:
    """The office, up between `with` and its end.

    `folder` is readable by all (0755), since print filters run as another user; pytest's temporary folders are not.
    """

    def __init__(self) -> None:
        self.name: Final = f"netcheck-{os.getpid()}-{next(_sites)}"
        self.folder = Path()
        self._programs: list[Program] = []
        self._cleaning = ExitStack()

    # --- up and down

    def __enter__(self) -> Self:
        with ExitStack() as stack:
            self.folder = Path(tempfile.mkdtemp(prefix=f"{self.name}-"))
            stack.callback(shutil.rmtree, self.folder)
            self.folder.chmod(0o755)
            stack.callback(self._delete_namespaces)
            stack.callback(self._end_programs)
            self._build()
            self._cleaning = stack.pop_all()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._cleaning.__exit__(kind, error, trace)

    def _build(self) -> None:
        (self.folder / "resolv.conf").write_text(_RESOLVER)
        for place in PLACES:
            self.name_hosts(place, {})
        _checked(["ip", "-batch", "-"], [f"netns add {self.namespace(place)}" for place in PLACES])
        # No spanning tree (it holds ports back), no multicast snooping (without a querier it may drop mDNS).
        bridge = ["link add br0 type bridge stp_state 0 forward_delay 0 mcast_snooping 0", "link set br0 up"]
        cables = [
            f"link add {node} master br0 type veth peer name eth0 address {jack.mac} netns {self.namespace(node)}"
            for node, jack in JACKS.items()
        ]
        self.ip("switch", *bridge, *cables, *(f"link set {node} up" for node in JACKS))
        for node, jack in JACKS.items():
            lines = ["link set lo up", "link set eth0 up", *_addressing(node, f"{jack.address}/{PREFIX}", GATEWAY)]
            inside = ["ip", "netns", "exec", self.namespace(node)]
            _checked([*inside, "sh", "-c", f"{_NO_DETECTION}; exec ip -batch -"], lines)

    def _end_programs(self) -> None:
        end_all(self._programs)
        # A child of an ended program may need a moment to see that it is alone.
        try:
            until(lambda: not self.processes(), 2, "empty namespaces")
        except TimeoutError:
            left = {pid: _command_line(pid) for pid in self.processes()}
            kill_strays(left)
            until(lambda: not self.processes(), 2, "the end of what was killed")
            raise AssertionError(f"programs outlived the site: {left}") from None

    def _delete_namespaces(self) -> None:
        _checked(["ip", "-batch", "-"], [f"netns del {name}" for name in self._namespaces()])

    # --- names

    def namespace(self, place: Place) -> str:
        return f"{self.name}-{place}"

    def _namespaces(self) -> list[str]:
        return [name for name in namespaces() if name.startswith(f"{self.name}-")]

    def hosts(self, place: Place) -> Path:
        return self.folder / f"hosts-{place}"

    def name_hosts(self, place: Place, names: Mapping[str, str]) -> None:
        """Make `names` (address: name) known there, and nothing else but localhost."""
        lines = ["127.0.0.1 localhost", "::1 localhost", *(f"{address} {name}" for address, name in names.items())]
        self.hosts(place).write_text("\n".join(lines) + "\n")

    # --- running things

    def command(self, place: Place, *argv: str | Path) -> list[str]:
        """`argv`, to be run in that namespace, with the site's own /etc/hosts and /etc/resolv.conf."""
        private = ["sh", "-c", _PRIVATE_ETC, "private-etc", str(self.hosts(place)), str(self.folder / "resolv.conf")]
        return ["ip", "netns", "exec", self.namespace(place), *private, *map(str, argv)]

    def run(
        self,
        place: Place,
        *argv: str | Path,
        env: Mapping[str, str] | None = None,
        text: str = "",
        timeout: float = 20,
    ) -> subprocess.CompletedProcess[str]:
        """Run to its end with `text` as input; the exit code is the caller's to look at. TimeoutExpired."""
        return subprocess.run(
            self.command(place, *argv),
            env={**os.environ, **(env or {})},
            input=text,
            capture_output=True,
            text=True,
            timeout=timeout,
        )

    def start(self, place: Place, name: str, *argv: str | Path, env: Mapping[str, str] | None = None) -> Program:
        """Start and leave running, at the latest until the site's end; `name` names its log."""
        log = self.folder / f"{place}-{name}-{len(self._programs)}.log"
        namespace = Path("/run/netns", self.namespace(place))
        program = Program(f"{name} on {place}", self.command(place, *argv), log, namespace, env or {})
        self._programs.append(program)
        return program

    def processes(self) -> list[int]:
        """Every process in the site's namespaces: what we started, and its children."""
        return [int(pid) for name in self._namespaces() for pid in _checked(["ip", "netns", "pids", name]).split()]

    # --- faults of the network

    def ip(self, place: Place, *lines: str) -> None:
        """Run `ip` commands there; RuntimeError on the first that fails."""
        _checked(["ip", "-n", self.namespace(place), "-batch", "-"], lines)

    def filter(self, node: Node, *rules: str) -> None:
        """Make these nftables rules the whole filter for what reaches that machine; none lifts it. RuntimeError."""
        self.filters(node, "table inet site {", "chain incoming {", f"{_INPUT};", *rules, "}", "}")

    def filters(self, place: Place, *lines: str) -> None:
        """Make these lines of nft(8) all the filters of that place; none lifts them. RuntimeError."""
        _checked(["ip", "netns", "exec", self.namespace(place), "nft", "-f", "-"], ["flush ruleset", *lines])

    def configure(self, node: Node, interface: str, gateway: str | None = GATEWAY) -> None:
        """Give a machine another address, mask (`10.77.0.22/25`) or gateway; its neighbours are told nothing."""
        self.ip(node, "addr flush dev eth0 scope global", *_addressing(node, interface, gateway))

    def route_for_others(self, *addresses: str) -> None:
        """Have the gateway route between its addresses, these (`10.78.0.1/24`) among them."""
        self.ip("gateway", *(f"addr add {address} dev eth0" for address in addresses))
        # It tells nobody of a shorter way (RFC 1122 s3.3.1.2), which would mend what a test has broken.
        keys = ("ip_forward=1", "conf.all.send_redirects=0", "conf.eth0.send_redirects=0")
        self.run("gateway", "sysctl", "-qw", *(f"net.ipv4.{key}" for key in keys)).check_returncode()

    def plug(self, node: Node, *, connected: bool) -> None:
        """Pull a machine's cable at the switch, or put it back."""
        self.ip("switch", f"link set {node} {'up' if connected else 'down'}")


def namespaces() -> list[str]:
    """Every named network namespace of this machine."""
    folder = Path("/run/netns")
    return sorted(entry.name for entry in folder.iterdir()) if folder.is_dir() else []


def _addressing(node: Node, interface: str, gateway: str | None) -> list[str]:
    route = [f"route add default via {gateway}"] if gateway and node != "gateway" else []
    return [f"addr add {interface} brd + dev eth0", *route]


def _checked(argv: list[str], lines: Iterable[str] = ()) -> str:
    """Run with `lines` as input. Its output, or RuntimeError with its complaint; a batch stops at its first failure."""
    text = "".join(f"{line}\n" for line in lines)
    done = subprocess.run(argv, input=text, capture_output=True, text=True, timeout=20)
    if done.returncode:
        raise RuntimeError(f"{' '.join(argv)}: {done.stderr.strip()}")
    return done.stdout


def _command_line(pid: int) -> str:
    try:
        return Path("/proc", str(pid), "cmdline").read_text().replace("\0", " ").strip()
    except FileNotFoundError:
        return "(gone)"
