"""Networks and devices that are in order, each in another way: whoever calls one of them broken is wrong.

`python -m tests.real.healthy_devices [WORD...]` prints the table of them all. They are built, shown and judged as the
causes are (see `causes`), with nothing to be named as a root.
"""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Final

from .avahi import Avahi, service
from .causes import Cause, Reading, Scene, Shown, nothing
from .causes_address import planned
from .devices import HALDEN
from .site import GATEWAY, JACKS, Node
from .visit import MOVE, STANDARD

NEW, OLD, OURS = JACKS["new"], JACKS["old"], JACKS["workstation"]
SLOW: Final = Path(__file__).parent / "inside/slow.py"
FAR, FAR_GATEWAY = "10.78.0.22", "10.78.0.1"
MACHINES: Final[tuple[Node, ...]] = ("workstation", "old", "new")
WITHOUT_FINAL: Final = planned("x").replace('final = "x"\n', "")
GLOBAL: Final = {node: f"2001:db8:77::{JACKS[node].mac[-2:]}" for node in MACHINES}
LOCAL: Final = {node: f"fe80::77:ff:fe00:{JACKS[node].mac[-2:]}%eth0" for node in MACHINES}
ALONE: Final = f'[move]\nstandard = "standard.toml"\n\n[new]\nhost = "{NEW.address}"\nserial = "{HALDEN.serial}"\n'


def sound(
    name: str,
    build: Callable[[Scene], object],
    *shows: Shown,
    care: tuple[str, ...] = (),
    notes: tuple[str, ...] = (),
    **more: object,
) -> Cause:
    """`care` are the roots that may be watched with reason; without any, the answer is ready."""
    reading = Reading((), ("ready", "ready-with-care") if care else ("ready",), also=care, notes=notes)
    return Cause(name, build, shows, reading, reading, **more)  # type: ignore[arg-type]


def of_site(subnet: str) -> str:
    return STANDARD.replace("10.77.0.0/24", subnet)


def masks(length: int) -> Callable[[Scene], None]:
    def build(scene: Scene) -> None:
        for node in ("gateway", *MACHINES):
            scene.site.configure(node, f"{JACKS[node].address}/{length}")
        for machine in (scene.office.old, scene.office.new):
            machine.agent.restart()

    return build


def with_ip(node: Node, *lines: str) -> Callable[[Scene], None]:
    """Commands of ip(8) at one machine, whose agent then tells what it has."""

    def build(scene: Scene) -> None:
        scene.site.ip(node, *lines)
        if node == "new":
            scene.office.new.agent.restart()

    return build


def behind(length: int) -> Callable[[Scene], None]:
    def build(scene: Scene) -> None:
        scene.site.route_for_others(f"{FAR_GATEWAY}/{length}")
        scene.site.configure("new", f"{FAR}/{length}" if length == 24 else f"10.78.0.2/{length}", gateway=FAR_GATEWAY)
        scene.office.new.agent.restart()

    return build


def both_protocols(scene: Scene) -> None:
    for node, address in GLOBAL.items():
        scene.site.ip(node, f"addr add {address}/64 dev eth0 nodad")
    scene.office.new.agent.restart()


def answers_by_ipv6(scene: Scene) -> None:
    """What answers by IPv4 answers by IPv6 as well."""
    for node, address in GLOBAL.items():
        scene.site.ip(node, f"addr add {address}/64 dev eth0 nodad")
    scene.site.run("new", "sysctl", "-qw", "net.ipv6.bindv6only=1").check_returncode()
    scene.site.start("new", "raw-by-ipv6", "nc", "-6", "-l", "-k", "9100").until_listening("tcp", 9100)
    with (scene.site.folder / "snmp-new/agent.conf").open("a") as configuration:
        configuration.write("agentaddress udp6:161\ncom2sec6 site default public\n")
    scene.office.new.agent.restart()


def slow(scene: Scene) -> None:
    """The device is at the end of a cable that takes 150 ms each way."""
    site = scene.site
    site.ip("new", "link set eth0 down", "link set eth0 name unused")
    there = f"/run/netns/{site.namespace('new')}"
    site.start("switch", "slow", sys.executable, "-I", SLOW, there, "150").until_said("connected")
    site.ip("switch", "link set slow master br0", "link set slow up")
    site.ip("new", f"link set eth0 address {NEW.mac}", "link set eth0 up")
    site.configure("new", f"{NEW.address}/24")
    scene.office.new.agent.restart()


def mended(scene: Scene) -> None:
    """Our mask is too narrow, and the gateway sends on what we send to it."""
    scene.site.route_for_others()
    scene.site.configure("workstation", f"{OURS.address}/28")


def direct(*, self_assigned: bool) -> Callable[[Scene], None]:
    """Nothing but a cable between the device and us."""

    def build(scene: Scene) -> None:
        for node in ("gateway", "old", "stranger"):
            scene.site.plug(node, connected=False)
        ours, theirs = (
            ("169.254.7.9/16", "169.254.7.22/16") if self_assigned else (f"{OURS.address}/24", f"{NEW.address}/24")
        )
        scene.site.configure("workstation", ours, gateway=None)
        scene.site.configure("new", theirs, gateway=None)
        scene.office.new.agent.restart()

    return build


def others(scene: Scene) -> None:
    ipp = service("_ipp._tcp", 631, "ty=Merlin 18", "rp=ipp/print")
    scene.later.enter_context(Avahi(scene.site, "stranger", "merlin", "Merlin 18", ipp))


NO_MULTICAST: Final = (
    "table bridge site {",
    "chain forwarded {",
    "type filter hook forward priority 0;",
    "udp dport 5353 counter drop",
    "}",
    "}",
)
SPARE: Final = (
    "link add eth1 type veth peer name eth1-end",
    "link set eth1 up",
    "link set eth1-end up",
)
LIVED_IN: Final = f"addr change {NEW.address}/24 dev eth0 valid_lft 3600 preferred_lft 3600"
MASKS: Final = tuple(
    sound(
        f"a site of /{length}",
        masks(length),
        Shown("new", "ip -br addr show eth0", f"{NEW.address}/{length}"),
        standard=of_site(subnet),
    )
    for length, subnet in ((16, "10.77.0.0/16"), (23, "10.77.0.0/23"), (27, "10.77.0.0/27"))
)
CASES: Final = (
    sound("all in order", nothing, Shown("workstation", f"ping -c1 {NEW.address}", "1 received")),
    *MASKS,
    sound(
        "a device behind the gateway, in a subnet of /30",
        behind(30),
        Shown("workstation", "ip route get 10.78.0.2", f"via {GATEWAY}"),
        move=WITHOUT_FINAL.replace(NEW.address, "10.78.0.2"),
        standard=of_site("10.78.0.0/30"),
        notes=("link.here",),
    ),
    sound(
        "a device behind the gateway",
        behind(24),
        Shown("workstation", f"ip route get {FAR}", f"via {GATEWAY}"),
        move=WITHOUT_FINAL.replace(NEW.address, FAR),
        standard=of_site("10.78.0.0/24"),
        notes=("link.here",),
    ),
    sound(
        "an address with a lease",
        with_ip("new", LIVED_IN),
        Shown("new", "ip addr show eth0", "valid_lft 3[56]..sec"),
        care=("address.origin/*",),
    ),
    sound(
        "a workstation with two interfaces",
        with_ip("workstation", *SPARE, "addr add 10.99.0.10/24 dev eth1"),
        Shown("workstation", "ip -br addr", "10.99.0.10/24"),
    ),
    sound(
        "a tunnel beside the network",
        with_ip(
            "workstation",
            "tuntap add tun0 mode tun",
            "link set tun0 up",
            "addr add 10.200.0.2 peer 10.200.0.1/32 dev tun0",
        ),
        Shown("workstation", "ip -br addr", "10.200.0.2 peer 10.200.0.1/32"),
    ),
    sound(
        "IPv6 beside IPv4",
        both_protocols,
        Shown("workstation", f"ping -c1 {GLOBAL['new']}", "1 received"),
    ),
    sound(
        "a device asked by its IPv6 address",
        answers_by_ipv6,
        Shown("workstation", f"ping -c1 {GLOBAL['new']}", "1 received"),
        move=MOVE.replace(f'host = "{NEW.address}"', f'host = "{GLOBAL["new"]}"'),
    ),
    sound(
        "a device asked by its link-local IPv6 address",
        answers_by_ipv6,
        Shown("workstation", f"ping -c1 {LOCAL['new']}", "1 received"),
        move=MOVE.replace(f'host = "{NEW.address}"', f'host = "{LOCAL["new"]}"'),
    ),
    sound(
        "multicast that the network drops by design",
        lambda scene: scene.site.filters("switch", *NO_MULTICAST),
        Shown("switch", "nft list ruleset", "counter packets [1-9]"),
        announced=True,
    ),
    sound(
        "a device that does not announce itself, beside one that does",
        others,
        Shown("switch", "sh -c 'cat {folder}/stranger-avahi-*.log'", "successfully established"),
        notes=("announced.not-heard",),
    ),
    sound("all announce themselves", nothing, announced=True),
    sound(
        "a device that answers no ping",
        lambda scene: scene.site.filter("new", "ip protocol icmp counter drop"),
        Shown("workstation", f"ping -c1 -W1 {NEW.address}", "0 received"),
    ),
    sound(
        "a gateway that answers no ping",
        lambda scene: scene.site.filter("gateway", "ip protocol icmp counter drop"),
        Shown("workstation", f"ping -c1 -W1 {GATEWAY}", "0 received"),
    ),
    sound(
        "a direct cable, with fixed addresses",
        direct(self_assigned=False),
        Shown("workstation", "ip route", "^10.77.0.0/24"),
        move=ALONE,
        options=("--gate", "fill"),
        care=("address.gateway",),
    ),
    sound(
        "a direct cable, where both gave themselves an address",
        direct(self_assigned=True),
        Shown("workstation", "ping -c1 169.254.7.22", "1 received"),
        move=ALONE.replace(NEW.address, "169.254.7.22"),
        standard=STANDARD.replace('subnet = "10.77.0.0/24"\n', "").replace('origin = ["static", "dhcp"]\n', ""),
        options=("--gate", "fill"),
        care=("address.gateway", "address.valid/*"),
    ),
    sound(
        "a slow link",
        slow,
        Shown("workstation", f"ping -c1 {NEW.address}", "time=3[0-9][0-9]"),
    ),
    sound(
        "a narrow mask of ours, which the gateway mends",
        mended,
        Shown("workstation", f"ip route get {NEW.address}", f"via {GATEWAY}"),
        care=("link.route",),
        notes=("link.here/mask",),
    ),
    sound(
        "a device with two interfaces",
        with_ip("new", *SPARE, "addr add 192.168.50.2/24 dev eth1"),
        Shown("new", "ip -br addr", "192.168.50.2/24"),
    ),
    sound(
        "a device with several addresses",
        with_ip("new", "addr add 10.77.0.122/24 dev eth0", "addr add 192.168.50.2/24 dev eth0"),
        Shown("new", "ip -br addr show eth0", "10.77.0.122/24 192.168.50.2/24|192.168.50.2/24 10.77.0.122/24"),
    ),
)
