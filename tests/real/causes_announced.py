"""Causes that a device's announcements tell of: it is here, with another address, or under another's name."""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Final

from .causes import Cause, Scene, Shown, nothing
from .causes_link import simply
from .devices import HALDEN
from .site import JACKS, Node, Site

NEW, STRANGER = JACKS["new"], JACKS["stranger"]
RUDE: Final = Path(__file__).parent / "inside/rude.py"
LOCAL: Final = "fe80::77:ff:fe00:22"
"""Made of the hardware address, RFC 4291 appendix A."""


def boots_with(address: str) -> Callable[[Site], None]:
    """The device is switched on with that address, or with none of IPv4."""

    def prepare(site: Site) -> None:
        if address:
            site.configure("new", address, gateway=None)
        else:
            site.ip("new", "addr flush dev eth0 scope global")

    return prepare


def claimed(scene: Scene) -> None:
    """Two devices announce one name, and neither looks whether it is taken."""
    claims: dict[Node, str] = {"new": "print", "stranger": "other"}
    for node, host in claims.items():
        command = (sys.executable, RUDE, HALDEN.name, host, JACKS[node].address, "631")
        scene.site.start(node, "rude", *command).until_said("claimed")


def told(address: str) -> Shown:
    return Shown("new", "sh -c 'cat {folder}/new-avahi-*.log'", f"Registering new address record for {address}")


def claims(node: Node) -> Shown:
    """python-zeroconf's own word that it has announced it."""
    return Shown(node, "sh -c 'grep -H claimed {folder}/" + node + "-rude-*.log'", "claimed")


CAUSES: Final = (
    Cause(
        "the device is in another subnet, and announces itself",
        nothing,
        (told("192.168.1.50"), Shown("new", "ip -br -4 addr show eth0", "192.168.1.50/24")),
        *simply("announced.other-address/*", below=("link.neighbour",), words=(r"192\.168\.1\.50",)),
        prepare=boots_with("192.168.1.50/24"),
        announced=True,
    ),
    Cause(
        "the device has a self-assigned address only, and announces itself",
        nothing,
        (told("169.254.7.7"), Shown("new", "ip -br -4 addr show eth0", "169.254.7.7/16")),
        *simply(
            "announced.other-address/*",
            below=("link.neighbour",),
            words=(r"169\.254\.7\.7", "DHCP|got no address|self-assigned"),
        ),
        prepare=boots_with("169.254.7.7/16"),
        announced=True,
    ),
    Cause(
        "the device has no IPv4, and announces itself",
        nothing,
        (told(LOCAL), Shown("new", "ip -br addr show eth0", LOCAL)),
        *simply("announced.other-address/*", below=("link.neighbour",), words=("IPv6|fe80::77",)),
        prepare=boots_with(""),
        announced=True,
    ),
    Cause(
        "two devices under one name",
        claimed,
        (claims("new"), claims("stranger")),
        *simply(
            "announced.name-taken/*",
            states=("ready-with-care",),
            words=(HALDEN.name, "other"),
            below=("announced.leads-elsewhere/*",),
        ),
    ),
    Cause(
        "multicast does not get to us",
        lambda scene: scene.site.filter("workstation", "udp dport 5353 counter drop"),
        (Shown("workstation", "nft list ruleset", "counter packets [1-9]"),),
        *simply(states=("ready",)),
        announced=True,
    ),
)
