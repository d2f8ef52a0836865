"""Causes between us and a device that is there: its mask, its gateway, firewalls, what gets lost on the way."""

import json
import os
import sys
from collections.abc import Callable
from typing import Final

from .agents import RESPONDER
from .causes import Cause, Reading, Scene, Shown
from .causes_link import simply
from .site import JACKS

NEW, OURS = JACKS["new"], JACKS["workstation"]
NARROW: Final = "10.77.0.22/28"
ITS_GATEWAY: Final = "10.77.0.17"
"""Where a gateway must be for a device with that mask."""
STILL_READY: Final = ("ready", "ready-with-care")
UNSURE: Final = ("ready", "ready-with-care", "cannot-tell")
ASLEEP: Final = (
    "table inet site {",
    "set met { type ipv4_addr; flags dynamic; }",
    "set waking { type ipv4_addr; flags dynamic,timeout; }",
    "chain incoming {",
    "type filter hook input priority 0;",
    "ip saddr != @met add @met { ip saddr } add @waking { ip saddr timeout 1200ms }",
    "ip saddr @waking counter drop",
    "}",
    "}",
)
"""The first packet wakes it; until it is awake, 1.2 s later, it hears nothing."""


def narrow_without_gateway(scene: Scene) -> None:
    scene.site.configure("new", NARROW, gateway=ITS_GATEWAY)
    scene.office.new.agent.restart()


def narrow_with_gateway(scene: Scene) -> None:
    scene.site.route_for_others(f"{ITS_GATEWAY}/24")
    narrow_without_gateway(scene)


def routed_by(gateway: str | None) -> Callable[[Scene], None]:
    """The device with another gateway, or none; its agent tells it from then on."""

    def build(scene: Scene) -> None:
        scene.site.configure("new", f"{NEW.address}/24", gateway=gateway)
        scene.office.new.agent.restart()

    return build


def counted(rule: str) -> Shown:
    """A rule of nft at the device has counted what it was made for."""
    return Shown("new", "nft list ruleset", rf"{rule}.*counter packets [1-9]|counter packets [1-9].*{rule}")


def filtered(*rules: str) -> Callable[[Scene], None]:
    def build(scene: Scene) -> None:
        scene.site.filter("new", *rules)

    return build


def half_duplex(scene: Scene) -> None:
    """The device's agent tells the state of its link (RFC 3635): half duplex, with late collisions."""
    site, agent = scene.site, scene.office.new.agent
    index = site.run("new", "cat", "/sys/class/net/eth0/ifindex").stdout.strip()
    table, folder = "1.3.6.1.2.1.10.7.2.1", site.folder / "snmp-new"
    rows = [[f"{table}.1.{index}", "integer", index], [f"{table}.8.{index}", "counter", "4711"]]
    rows.append([f"{table}.19.{index}", "integer", "2"])  # halfDuplex
    (folder / "ether.json").write_text(json.dumps({"rows": rows, "loop": "", "end": ""}))
    serve = f"{os.path.realpath(sys.executable)} -I -S {RESPONDER} {folder / 'ether.json'}"
    with (folder / "agent.conf").open("a") as configuration:
        configuration.write(f"view printer included .1.3.6.1.2.1.10\npass_persist .{table} {serve}\n")
    agent.restart()


LOST: Final = ("path.woke", "path.size", "path.errors*")
CAUSES: Final = (
    Cause(
        "the device's mask is too narrow, and its gateway is not there",
        narrow_without_gateway,
        (Shown("new", f"ip route get {OURS.address}", f"via {ITS_GATEWAY}"),),
        Reading(("path.one-way",), words=(f"looks for {ITS_GATEWAY}", "mask", "gateway")),
        Reading(("path.one-way",), words=("its mask or its gateway",)),
    ),
    Cause(
        "the device's mask is too narrow, and its gateway mends it",
        narrow_with_gateway,
        (Shown("new", f"ip route get {OURS.address}", f"via {ITS_GATEWAY}"),),
        *simply(f"address.mask/{NEW.address}", below=("link.route", "address.gateway*")),
    ),
    Cause(
        "a firewall at the device drops everything",
        filtered("counter drop"),
        (counted("drop"), Shown("workstation", f"ip neigh show {NEW.address}", NEW.mac)),
        *simply("path.one-way", words=("firewall",)),
    ),
    Cause(
        "a firewall at the device forbids everything, and says so",
        filtered("counter reject with icmp type admin-prohibited"),
        (counted("reject"),),
        *simply(
            "path.one-way", words=("firewall.* forbids what we send",), unsaid=("on this computer or between us,",)
        ),
    ),
    Cause(
        "the device sleeps, and misses what wakes it",
        lambda scene: scene.site.filters("new", *ASLEEP),
        (counted("drop"),),
        *simply(states=STILL_READY, notes=("path.woke",), words=("asleep|only when it was asked again",)),
    ),
    Cause(
        "a link that is half duplex",
        half_duplex,
        (Shown("workstation", f"snmpwalk -v2c -c public -On {NEW.address} 1.3.6.1.2.1.10.7.2.1.19", "INTEGER: 2"),),
        *simply("path.duplex/*", states=("ready-with-care",), notes=("path.errors/*",), words=("half duplex",)),
    ),
    Cause(
        "a fifth of all packets is lost",
        filtered("numgen random mod 100 < 20 counter drop"),
        (counted("numgen"),),
        # Whoever is unlucky with one service sees less than all; nobody may call it closed.
        *simply(states=UNSURE, notes=LOST, also=("services.snmp*", "services.ipp*", "services.required/*")),
    ),
    Cause(
        "large packets to the device vanish",
        filtered("meta length > 700 counter drop"),
        (Shown("new", "nft list ruleset", "meta length > 700"),),
        # What asks by IPP is that large. Not to be answered is no proof; "cannot tell" is the truth.
        *simply(states=UNSURE, notes=LOST, also=("services.ipp*",)),
    ),
    Cause(
        "large answers of the device vanish",
        lambda scene: scene.site.filter("workstation", f"ip saddr {NEW.address} meta length > 700 counter drop"),
        (Shown("workstation", "nft list ruleset", "meta length > 700 counter packets [1-9]"),),
        *simply(states=UNSURE, notes=LOST, also=("services.snmp*", "services.ipp*")),
    ),
    Cause(
        "the device has no gateway, and we are beside it",
        routed_by(None),
        (Shown("new", "ip route", "^10.77.0.0/24 dev eth0"),),
        *simply("address.gateway", states=("ready-with-care",)),
    ),
    Cause(
        "the device's gateway is wrong, nobody is there",
        routed_by("10.77.0.77"),
        (
            Shown("new", "ip route", "default via 10.77.0.77"),
            Shown("workstation", "ping -c1 -W1 10.77.0.77", "0 received"),
        ),
        *simply("address.gateway-answers", states=("ready-with-care",), words=("10.77.0.77",)),
    ),
)
