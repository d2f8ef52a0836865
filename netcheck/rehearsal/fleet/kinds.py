"""What the devices of a simulated fleet are like: a closed table of kinds, with shares and what each must be.

Which device is of which kind follows from its number alone, so that whoever sweeps the fleet knows what must come out.
What is stated here is what a person who knows the standards would say of such a device at gate ``standing``, by the
shipped Standard.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import Enum, auto
from itertools import accumulate
from typing import Literal

from netcheck.rehearsal.device import SERVICES, Device, Service
from netcheck.rehearsal.scenarios import NEW, out_of_media, waste_full, with_firmware, with_mask

State = Literal["ready", "ready-with-care", "not-ready", "cannot-tell"]
OF_A_THOUSAND = 1000
_STRIDE = 633  # has no divisor with 1000, and of all such it spreads any run of numbers the most evenly over them


class Behind(Enum):
    """What is behind a port of a device."""

    SERVICE = auto()
    NOBODY = auto()  # the port is closed, and the host says so
    SILENCE = auto()  # whatever is sent there is dropped


class Manner(Enum):
    """How a device's services behave once they are reached."""

    PROMPT = auto()
    SLOW = auto()  # every answer takes between SLOWEST_S and QUICKEST_S
    HANGING = auto()  # connections are taken, and nothing is ever said
    BROKEN = auto()  # what is said is cut off in the middle
    FLOODING = auto()  # every datagram comes several times, and a page never ends


QUICKEST_S, SLOWEST_S = 0.3, 0.9
"""Of a slow device's answers."""


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of device. ``findings`` are the ids that must be unmet or unproven, whatever else follows from the fault.

    ``device`` speaks SNMP and ``printing``, where it is another one, IPP. ``behind`` names the ports that are no
    service. ``ordered`` is False where the fleet's list has the serial number of another device.
    """

    name: str
    share: int
    state: State
    meaning: str
    findings: tuple[str, ...] = ()
    device: Device = NEW
    printing: Device | None = None
    behind: Mapping[Service, Behind] = field(default_factory=dict)
    manner: Manner = Manner.PROMPT
    ordered: bool = True

    @property
    def speaks_ipp(self) -> Device:
        """The device that its IPP service describes."""
        return self.printing or self.device


def _cover_open(device: Device) -> Device:
    first, *others = device.covers
    return replace(device, covers=(replace(first, open=True), *others))


def _cyan_at(device: Device, percent: int) -> Device:
    first, *others = device.supplies
    return replace(device, supplies=(replace(first, percent=percent), *others))


_ALL_CLOSED: dict[Service, Behind] = dict.fromkeys(SERVICES, Behind.NOBODY)
_ALL_SILENT: dict[Service, Behind] = dict.fromkeys(SERVICES, Behind.SILENCE)

KINDS: tuple[Kind, ...] = (
    Kind("ready", 580, "ready", "Everything is as the Standard asks."),
    Kind("slow", 50, "ready", "Ready, and every answer takes 300 to 900 ms.", manner=Manner.SLOW),
    Kind("silent", 50, "not-ready", "Drops whatever is sent.", ("services.reach",), behind=_ALL_SILENT),
    Kind(
        "firmware-too-new", 40, "not-ready", "Runs 4.8.0.", ("identity.firmware",), device=with_firmware(NEW, "4.8.0")
    ),
    Kind(
        "firmware-too-old", 40, "not-ready", "Runs 4.6.9.", ("identity.firmware",), device=with_firmware(NEW, "4.6.9")
    ),
    Kind("out-of-media", 40, "not-ready", "The roll is used up.", ("media.loaded",), device=out_of_media(NEW)),
    Kind("waste-full", 20, "not-ready", "No room for waste ink.", ("supplies.empty",), device=waste_full(NEW)),
    Kind("ink-low", 30, "ready-with-care", "22 % of cyan is left.", ("supplies.level",), device=_cyan_at(NEW, 22)),
    Kind("ink-empty", 10, "not-ready", "No cyan is left.", ("supplies.empty",), device=_cyan_at(NEW, 0)),
    Kind("cover-open", 20, "not-ready", "A cover is open.", ("condition.covers",), device=_cover_open(NEW)),
    Kind(
        "wrong-mask",
        20,
        "not-ready",
        "Its mask makes the site's /24 a /25.",
        ("address.mask",),
        device=with_mask(NEW, "255.255.255.128"),
    ),
    Kind(
        "wrong-model",
        10,
        "not-ready",
        "A Halden 24R where a 36R should be.",
        ("identity.model",),
        device=replace(NEW, model="24R"),
    ),
    Kind("exchanged", 10, "not-ready", "Not the device in the list.", ("identity.serial",), ordered=False),
    Kind(
        "snmp-off",
        15,
        "cannot-tell",
        "Nobody listens at its SNMP port.",
        ("services.snmp-required",),
        behind={"snmp": Behind.NOBODY},
    ),
    Kind(
        "snmp-silent",
        15,
        "cannot-tell",
        "Its SNMP port drops everything.",
        ("services.snmp-required",),
        behind={"snmp": Behind.SILENCE},
    ),
    Kind("ipp-off", 10, "not-ready", "Refuses IPP.", ("services.required",), behind={"ipp": Behind.NOBODY}),
    Kind(
        "raw-refused", 10, "not-ready", "Refuses raw printing.", ("services.required",), behind={"raw": Behind.NOBODY}
    ),
    Kind("off", 10, "not-ready", "Its host answers, and refuses everything.", ("services.reach",), behind=_ALL_CLOSED),
    Kind(
        "two-serials",
        5,
        "not-ready",
        "Tells one serial number by SNMP and another one by IPP.",
        ("identity.sources",),
        printing=replace(NEW, serial="HX-99-9999"),
    ),
    Kind("broken", 5, "cannot-tell", "Its answers break off.", ("services.ipp",), manner=Manner.BROKEN),
    Kind("flooding", 5, "cannot-tell", "Says too much, without an end.", ("services.ipp",), manner=Manner.FLOODING),
    Kind("hanging", 5, "cannot-tell", "Takes connections, says nothing.", ("services.ipp",), manner=Manner.HANGING),
)
_BOUNDS = tuple(accumulate(kind.share for kind in KINDS))
if _BOUNDS[-1] != OF_A_THOUSAND:
    raise AssertionError("the shares of all kinds are a whole")


def kind_of(number: int) -> Kind:
    """The kind of a device, by its number from 0."""
    place = number * _STRIDE % OF_A_THOUSAND
    return next(kind for kind, bound in zip(KINDS, _BOUNDS, strict=True) if place < bound)


READY = KINDS[0]
