"""Two causes at once: both are said, each with what it explains."""

from dataclasses import replace
from typing import Final

from . import causes_address, causes_announced, causes_link, causes_path, causes_service
from .causes import Reading, Scene, both
from .causes_link import simply

_ALL: Final = {
    cause.name: cause
    for module in (causes_address, causes_announced, causes_link, causes_path, causes_service)
    for cause in module.CAUSES
}


def narrow_mended(scene: Scene) -> None:
    """Through the gateway, which routes here, the device is reached in spite of our mask."""
    scene.site.route_for_others()
    NARROW_HERE.build(scene)


NARROW_HERE: Final = _ALL["our mask is too narrow"]
NARROW_MENDED: Final = replace(NARROW_HERE, build=narrow_mended)
RAW_OFF: Final = _ALL["the raw service is off"]
CABLE: Final = _ALL["the device's cable is out"]
HELD: Final = _ALL["a third machine on the planned address"]
RAW_DROPPED: Final = _ALL["a firewall drops only the raw port"]
ONE_NAME: Final = _ALL["two devices under one name"]
NO_GATEWAY: Final = _ALL["the device's gateway is wrong, nobody is there"]
HALF: Final = _ALL["a link that is half duplex"]
SHARED: Final = _ALL["two machines on the address, the device answers us"]
UNHEARD: Final = _ALL["SNMP is blocked, and the Standard wants it"]

CAUSES: Final = (
    both(
        "our mask is too narrow, the gateway mends it, and the raw service is off",
        NARROW_MENDED,
        RAW_OFF,
        # What our mask costs us is a note once the device is reached.
        *simply("services.required/raw", also=("link.here/mask",), notes=("link.here/mask",), below=("link.route",)),
    ),
    both(
        "the device's cable is out, and a third machine has the planned address",
        CABLE,
        HELD,
        *simply("link.neighbour", "planned.holder"),
        move=HELD.move,
    ),
    both(
        "a firewall drops the raw port, and two devices have one name",
        RAW_DROPPED,
        ONE_NAME,
        *simply("services.required/raw", "announced.name-taken/*", below=("announced.leads-elsewhere/*",)),
    ),
    both(
        "the device's gateway is wrong, and its link is half duplex",
        NO_GATEWAY,
        HALF,
        *simply("address.gateway-answers", "path.duplex/*", states=("ready-with-care",), notes=("path.errors/*",)),
    ),
    both(
        "two machines on the address, and SNMP is blocked",
        SHARED,
        UNHEARD,
        Reading(("link.owner", "services.snmp|services.snmp-required")),
        Reading(("services.snmp|services.snmp-required",), ("cannot-tell",)),
    ),
    both(
        "the raw service is off, and a third machine has the planned address",
        RAW_OFF,
        HELD,
        *simply("services.required/raw", "planned.holder"),
        move=HELD.move,
    ),
)
