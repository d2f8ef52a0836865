"""Causes that come of addresses: taken, planned for somebody else, or still held by the old device."""

from typing import Final

from .causes import Cause, Reading, Scene, Shown, nothing
from .causes_link import reached, simply, two
from .site import JACKS
from .visit import MOVE

NEW, OLD, STRANGER = JACKS["new"], JACKS["old"], JACKS["stranger"]
LEAVE: Final = ("--gate", "leave")


def planned(address: str) -> str:
    """The Move, with another address for the new device to have at last."""
    return MOVE.replace('address = "keep"', 'address = "new"').replace(
        f'final = "{OLD.address}"', f'final = "{address}"'
    )


def both_on_the_old_address(scene: Scene) -> None:
    """The new device was given its final address too early, beside the one that it has."""
    scene.site.ip("new", f"addr add {OLD.address}/24 dev eth0")
    scene.office.new.agent.restart()
    reached(scene, "old", OLD.address)


def moved_too_early(scene: Scene) -> None:
    """The new device has its final address only, and the old one is still on."""
    scene.site.configure("new", f"{OLD.address}/24")
    scene.office.new.agent.restart()
    reached(scene, "old", OLD.address)


def old_still_on(scene: Scene) -> None:
    scene.site.configure("new", f"{OLD.address}/24")
    scene.office.new.agent.restart()
    reached(scene, "new", OLD.address)


def old_still_reached(scene: Scene) -> None:
    scene.site.configure("new", f"{OLD.address}/24")
    reached(scene, "old", OLD.address)


CAUSES: Final = (
    Cause(
        "a third machine on the planned address",
        nothing,
        (Shown("workstation", f"ping -c1 -W1 {STRANGER.address}", "1 received"),),
        *simply("planned.holder", words=(STRANGER.address, STRANGER.mac)),
        move=planned(STRANGER.address),
    ),
    Cause(
        "a third machine on the planned address, which answers no ping",
        lambda scene: scene.site.filter("stranger", "counter drop"),
        (Shown("workstation", f"ping -c1 -W1 {STRANGER.address}", "0 received"), two("stranger", STRANGER.address)),
        *simply("planned.holder", words=(STRANGER.address, STRANGER.mac)),
        move=planned(STRANGER.address),
    ),
    Cause(
        "the new device has the old one's address as well",
        both_on_the_old_address,
        (two("new", OLD.address), two("old", OLD.address)),
        Reading(("planned.holder/moved",), also=("planned.caches",), below=("address.held", "link.old-owner")),
        Reading(("address.held",), also=("planned.*",)),
    ),
    Cause(
        "the new device moved to the old one's address too early",
        moved_too_early,
        (two("new", OLD.address), two("old", OLD.address)),
        Reading(
            ("planned.holder/moved",),
            also=("planned.caches",),
            below=("link.neighbour", "link.old-owner"),
            words=(f"already has {OLD.address}", "Take that address off"),
            unsaid=("whom the address belongs",),
        ),
        Reading(("link.neighbour",)),
    ),
    Cause(
        "the old device is still on when we leave, and the new one answers",
        old_still_on,
        (two("new", OLD.address), two("old", OLD.address)),
        Reading(("planned.gone|link.owner",), also=("queue.driver-version",)),
        Reading((), ("ready", "ready-with-care"), also=("queue.driver-version",), words=("administrator",)),
        options=LEAVE,
    ),
    Cause(
        "the old device is still on when we leave, and answers in the new one's place",
        old_still_reached,
        (two("new", OLD.address), two("old", OLD.address)),
        Reading(
            ("planned.gone|link.owner|identity.is-old",),
            also=("link.owner", "queue.driver-version"),
            below=("identity.*", "media.*"),
        ),
        Reading(("identity.is-old",), also=("queue.driver-version",), below=("identity.*", "media.*")),
        options=LEAVE,
    ),
)
