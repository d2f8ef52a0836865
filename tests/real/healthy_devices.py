"""Healthy variations of the devices, the queue and the visit; those of the network are in `healthy`."""

import sys
from typing import Final

from . import healthy
from .agents import Agent
from .causes import Cause, Scene, Shown, nothing, table
from .causes_address import LEAVE, planned
from .causes_path import filtered
from .devices import CORVID, HALDEN
from .healthy import NEW, OLD, sound
from .office import QUEUE
from .site import JACKS, Node
from .test_snmp_v3 import DIAG, UserAgent, environment_of
from .visit import MOVE, STANDARD

FREE: Final = "10.77.0.40"
OLD_NAME, NEW_NAME = "corvid.example", "halden.example"
BY_NAMES: Final = MOVE.replace(f'host = "{OLD.address}"', f'host = "{OLD_NAME}"').replace(
    f'host = "{NEW.address}"', f'host = "{NEW_NAME}"'
)
SEEN: Final = "".join(
    f'\n[[seen]]\nrole = "old"\nwhat = "{what}"\nvalue = "{value}"\nwhere = "plate"\nby = "J. Marsh"\n'
    for what, value in (("serial", CORVID.serial), ("model", CORVID.name))
)
SMALL: Final[tuple[Node, ...]] = ("workstation", "new")


def users(scene: Scene) -> None:
    """Both agents answer a user of SNMPv3 only."""
    office = scene.office
    office.old.agent.end()
    office.new.agent.end()
    scene.later.enter_context(UserAgent(scene.site, "old", CORVID, versions=()))
    scene.later.enter_context(UserAgent(scene.site, "new", HALDEN, versions=()))


def names(scene: Scene) -> None:
    scene.site.name_hosts("workstation", {OLD.address: OLD_NAME, NEW.address: NEW_NAME})


def queue_by_name(scene: Scene) -> None:
    names(scene)
    scene.office.spooler.point(QUEUE, f"ipp://{OLD_NAME}/ipp/print")


def moved(scene: Scene) -> None:
    """All is done: the old device is unplugged, and the new one has its address."""
    scene.site.plug("old", connected=False)
    scene.site.configure("new", f"{OLD.address}/24")
    scene.office.new.agent.restart()
    scene.site.ip("workstation", "neigh flush dev eth0")


def small_packets(scene: Scene) -> None:
    for node in SMALL:
        scene.site.ip(node, "link set eth0 mtu 600")


SNMP_BY_V1: Final = f"snmpget -v1 -c public {NEW.address} 1.3.6.1.2.1.1.1.0"
SNMP_BY_V2: Final = f"snmpget -v2c -c public -t1 -r0 {NEW.address} 1.3.6.1.2.1.1.1.0"
CASES: Final[tuple[Cause, ...]] = (
    sound(
        "agents that speak SNMPv1 only",
        lambda scene: scene.office.new.agent.admit(versions=("v1",)),
        Shown("workstation", SNMP_BY_V1, HALDEN.name),
        Shown("workstation", SNMP_BY_V2, "Timeout"),
    ),
    sound(
        "agents that answer users of SNMPv3 only",
        users,
        Shown("workstation", SNMP_BY_V2, "Timeout"),
        move=f'{MOVE}\n[snmp]\nprofile = "site"\n',
        environment=lambda site: environment_of(site, DIAG.profile()),
    ),
    sound("names from /etc/hosts", names, Shown("workstation", f"getent hosts {NEW_NAME}", NEW.address), move=BY_NAMES),
    sound(
        "a queue that leads to the old device's name",
        queue_by_name,
        Shown("workstation", f"getent hosts {OLD_NAME}", OLD.address),
        move=BY_NAMES,
    ),
    sound(
        "a queue that prints to the raw port",
        lambda scene: scene.office.spooler.point(QUEUE, f"socket://{OLD.address}"),
        Shown("switch", "grep -h DeviceURI {folder}/cups/root/printers.conf", "socket://"),
    ),
    sound(
        "the old device is off already, and its plate was read",
        lambda scene: scene.site.plug("old", connected=False),
        Shown("workstation", f"ping -c1 -W1 {OLD.address}", "0 received"),
        care=("services.old-reach",),
        move=MOVE + SEEN,
        standard=STANDARD.replace("[facts]", '[facts]\nword = ["model", "serial"]'),
    ),
    sound(
        "a closed service that is filtered, and so says nothing",
        filtered("tcp dport 21 counter drop"),
        Shown("new", "nft list ruleset", "counter packets [1-9]"),
        care=("services.closed/ftp",),
    ),
    sound(
        "a second agent on the wire",
        lambda scene: scene.later.enter_context(Agent(scene.site, "stranger", CORVID)),
        Shown("workstation", f"snmpget -v2c -c public {JACKS['stranger'].address} 1.3.6.1.2.1.1.1.0", CORVID.name),
    ),
    sound(
        "a new address, which is free",
        nothing,
        Shown("workstation", f"ping -c1 -W1 {FREE}", "0 received"),
        move=planned(FREE),
    ),
    sound("no word of a final address", nothing, move=healthy.WITHOUT_FINAL),
    sound(
        "small packets, by agreement of both",
        small_packets,
        Shown("workstation", "ip link show eth0", "mtu 600"),
        notes=("path.size",),
    ),
    sound(
        "all is done, and we leave",
        moved,
        Shown("workstation", f"ip neigh show {OLD.address}", NEW.mac),
        options=LEAVE,
        care=("queue.driver-version",),
    ),
    sound(
        "a Standard that asks for nothing of the network",
        nothing,
        standard=STANDARD.replace('subnet = "10.77.0.0/24"\n', "").replace('origin = ["static", "dhcp"]\n', ""),
    ),
)

if __name__ == "__main__":
    sys.exit(table((*healthy.CASES, *CASES), sys.argv[1:], "healthy variations"))
