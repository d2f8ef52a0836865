"""Causes at the bottom: cables, power, where we stand, who is at the address."""

from typing import Final

from .causes import Cause, Reading, Scene, Shown
from .site import JACKS, Node

NEW, OLD, OURS, STRANGER = JACKS["new"], JACKS["old"], JACKS["workstation"], JACKS["stranger"]
NAMELESS: Final = Shown("workstation", f"ping -c1 -W1 {NEW.address}", "Unreachable|100% packet loss")
BY_ARP: Final = Shown("workstation", f"ip neigh show {NEW.address}", "FAILED|INCOMPLETE")
AWAY: Final = ("cannot-tell", "not-ready")
"""From another network silence proves nothing; what is lacking all the same may be."""


def device_off(scene: Scene) -> None:
    scene.office.new.end()
    scene.site.ip("new", "link set eth0 down")


def other_network(scene: Scene) -> None:
    scene.site.configure("workstation", "198.51.100.7/24", gateway="198.51.100.1")


def isolated(scene: Scene) -> None:
    """A bridge's isolated ports reach the others only (bridge(8)), as on a guest Wi-Fi."""
    kept: tuple[Node, ...] = ("workstation", "old", "new", "stranger")
    scene.site.ip("switch", *(f"link set {node} type bridge_slave isolated on" for node in kept))


def guarded(scene: Scene) -> None:
    """A locked port lets only those in whom the switch was told of (bridge(8), IEEE 802.1X)."""
    scene.site.plug("new", connected=False)  # what the switch had learnt there is forgotten
    scene.site.ip("switch", "link set new type bridge_slave learning off locked on", "link set new up")


def share(scene: Scene) -> None:
    scene.site.ip("stranger", f"addr add {NEW.address}/24 dev eth0")


def reached(scene: Scene, node: Node, address: str) -> None:
    """Have the workstation know `node` as the owner of an address that others have too."""
    others: tuple[Node, ...] = tuple(each for each in ("old", "new", "stranger") if each != node)
    for other in others:
        scene.site.plug(other, connected=False)
    scene.site.run("workstation", "ping", "-c1", "-W1", address).check_returncode()
    for other in others:
        scene.site.plug(other, connected=True)


def share_reaching_new(scene: Scene) -> None:
    share(scene)
    reached(scene, "new", NEW.address)


def share_reaching_stranger(scene: Scene) -> None:
    share(scene)
    reached(scene, "stranger", NEW.address)


def swapped_silently(scene: Scene) -> None:
    """The workstation goes on sending to the old device's hardware address."""
    scene.site.ip("workstation", f"neigh replace {NEW.address} lladdr {OLD.mac} dev eth0 nud permanent")


def two(node: Node, address: str) -> Shown:
    return Shown(node, "ip -br addr show dev eth0", address.replace(".", r"\."))


def simply(*roots: str, **more: tuple[str, ...]) -> tuple[Reading, Reading]:
    """The same for both readers."""
    reading = Reading(roots, **more)
    return reading, reading


WHERE_WE_STAND: Final = (
    Cause(
        "our own cable is out",
        lambda scene: scene.site.plug("workstation", connected=False),
        (Shown("workstation", "ip -br link show eth0", "NO-CARRIER"),),
        *simply("link.up"),
    ),
    Cause(
        "our address is self-assigned",
        lambda scene: scene.site.configure("workstation", "169.254.7.9/16", gateway=None),
        (Shown("workstation", "ip -br addr show eth0", "169.254.7.9"),),
        *simply("link.self-assigned", below=("link.here", "link.way")),
    ),
    Cause(
        "we are on another network",
        other_network,
        (Shown("workstation", f"ip route get {NEW.address}", "via 198.51.100.1"),),
        *simply("link.here", states=AWAY, also=("link.router",)),
    ),
    Cause(
        "our mask is too narrow",
        lambda scene: scene.site.configure("workstation", f"{OURS.address}/28"),
        (Shown("workstation", f"ip route get {NEW.address}", "via 10.77.0.1"),),
        *simply("link.here/mask"),
    ),
)
DEVICE_AWAY: Final = (
    Cause(
        "the device's cable is out",
        lambda scene: scene.site.plug("new", connected=False),
        (NAMELESS, Shown("new", "ip -br link show eth0", "NO-CARRIER")),
        *simply("link.neighbour", words=("switched on", "cable", "or else .*(jack|guarded|patched)")),
    ),
    Cause(
        "the device is off",
        device_off,
        (NAMELESS, Shown("new", "ip -br link show eth0", "DOWN")),
        *simply("link.neighbour", words=("switched on",)),
    ),
    Cause(
        "the old device is off, and nobody has read its plate",
        lambda scene: scene.site.plug("old", connected=False),
        (Shown("workstation", f"ping -c1 -W1 {OLD.address}", "Unreachable|100% packet loss"),),
        *simply("services.old-reach", states=("cannot-tell", "ready-with-care"), words=("plate",)),
    ),
    Cause(
        "clients are kept apart",
        isolated,
        (BY_ARP, Shown("workstation", f"ping -c1 -W1 {JACKS['gateway'].address}", "1 received")),
        *simply("link.neighbour", words=("kept apart",), also=("services.old-reach",), unsaid=("has the address",)),
    ),
    Cause(
        "the jack lets no strange hardware address in",
        guarded,
        (BY_ARP, Shown("switch", "bridge -d link show dev new", "locked on")),
        *simply("link.neighbour", words=("guarded",), unsaid=("has the address",)),
    ),
)
WHO_IS_THERE: Final = (
    Cause(
        "two machines on the address, the device answers us",
        share_reaching_new,
        (two("new", NEW.address), two("stranger", NEW.address)),
        Reading(("link.owner",), words=(NEW.mac, STRANGER.mac)),
        Reading((), ("ready", "ready-with-care"), words=("administrator",)),
    ),
    Cause(
        "two machines on the address, the other one answers us",
        share_reaching_stranger,
        (two("new", NEW.address), two("stranger", NEW.address)),
        Reading(("link.owner",), words=(NEW.mac, STRANGER.mac)),
        Reading(("link.intended",), below=("services.reach",), words=(STRANGER.mac, "not to the new device")),
    ),
    Cause(
        "a stale entry after a swap without a word",
        swapped_silently,
        (Shown("workstation", f"ip neigh show {NEW.address}", f"{OLD.mac} PERMANENT"),),
        Reading(("link.remembered",), words=(OLD.mac, NEW.mac, "ip neigh del")),
        Reading(("link.intended",), below=("services.reach",), words=(OLD.mac, "the old device's")),
    ),
)
CAUSES: Final = (*WHERE_WE_STAND, *DEVICE_AWAY, *WHO_IS_THERE)
