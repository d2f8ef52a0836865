"""What a counterpart is to be: one small description, which `printers` says in IPP and `agents` in SNMP.

Both devices are invented. A fault is a function from a description to a description, and says everything that a device
with that fault says, in every place where the standards let it say so: the numbers are those of RFC 3805 and RFC 2790,
the pairing of conditions with them is RFC 3805 section 2.2.13.2 and RFC 8011 section 5.4.12.
"""

from dataclasses import dataclass, field, replace
from typing import Final, Literal

ErrorBit = Literal[
    "lowPaper",
    "noPaper",
    "lowToner",
    "noToner",
    "doorOpen",
    "jammed",
    "offline",
    "serviceRequested",
    "inputTrayMissing",
    "outputTrayMissing",
    "markerSupplyMissing",
    "outputNearFull",
    "outputFull",
    "inputTrayEmpty",
    "overduePreventMaint",
]
"""hrPrinterDetectedErrorState (RFC 2790), in bit order."""

RUNNING, WARNING, DOWN = 2, 3, 5  # hrDeviceStatus, RFC 2790
OTHER, IDLE = 1, 3  # hrPrinterStatus, RFC 2790
COVER_OPEN, COVER_CLOSED = 3, 4  # prtCoverStatus, RFC 3805 PrtCoverStatusTC


@dataclass(frozen=True)
class Roll:
    """A roll of media: `width` in hundredths of a millimetre (the unit of IPP), `left` of `full` in metres."""

    name: str
    source: str
    width: int
    media_type: str
    left: int
    full: int
    status: int = 0


@dataclass(frozen=True)
class Supply:
    """An ink, or with `waste` a receptacle; `level` is what is left of an ink and the room left in a receptacle."""

    name: str
    level: int
    colour: str = ""
    waste: bool = False


@dataclass(frozen=True)
class Alert:
    """A row of prtAlertTable."""

    group: int
    index: int
    code: int
    text: str
    severity: int = 3  # critical


@dataclass(frozen=True)
class Device:
    """One large-format printer."""

    maker: str
    model: str
    serial: str
    firmware: str
    rolls: tuple[Roll, ...]
    supplies: tuple[Supply, ...]
    media_types: tuple[str, ...]
    widest: int
    life_count: int = 0
    device_status: int = RUNNING
    printer_status: int = IDLE
    errors: frozenset[ErrorBit] = field(default_factory=frozenset)
    reasons: tuple[str, ...] = ()
    alerts: tuple[Alert, ...] = ()
    covers: tuple[tuple[str, int], ...] = (("Front cover", COVER_CLOSED), ("Roll cover", COVER_CLOSED))

    @property
    def name(self) -> str:
        return f"{self.maker} {self.model}"


def _inks(levels: dict[str, int], room: int) -> tuple[Supply, ...]:
    inks = (Supply(f"{colour} ink".capitalize(), level, colour) for colour, level in levels.items())
    return (*inks, Supply("Waste ink box", room, waste=True))


HALDEN: Final = Device(
    maker="Halden",
    model="36R",
    serial="HX-77-0457",
    firmware="4.7.2",
    rolls=(
        Roll("Roll 1", "main-roll", 91440, "stationery-coated", left=38, full=45),
        Roll("Roll 2", "alternate-roll", 60960, "stationery", left=41, full=45),
    ),
    supplies=_inks({"black": 88, "cyan": 93, "magenta": 91, "yellow": 94}, room=97),
    media_types=("stationery", "stationery-coated", "photographic"),
    widest=91440,
    life_count=12,
)
CORVID: Final = Device(
    maker="Corvid",
    model="24S",
    serial="CV24-008812",
    firmware="2.14.7",
    rolls=(Roll("Roll", "main-roll", 60960, "stationery", left=9, full=45),),
    supplies=_inks({"black": 41, "cyan": 52, "magenta": 47, "yellow": 38}, room=55),
    media_types=("stationery", "stationery-coated"),
    widest=60960,
    life_count=48211,
)


def out_of_media(device: Device) -> Device:
    """Every roll used up."""
    rolls = tuple(replace(roll, left=0, status=19) for roll in device.rolls)
    empty = (Alert(8, number, 808, f"{roll.name} is empty") for number, roll in enumerate(rolls, 1))
    down = _stopped(device, *empty)
    return replace(down, rolls=rolls, errors=device.errors | {"noPaper"}, reasons=(*device.reasons, "media-empty"))


def waste_full(device: Device) -> Device:
    """The waste receptacle has no room left."""
    number = next(n for n, supply in enumerate(device.supplies, 1) if supply.waste)
    supplies = tuple(replace(supply, level=0) if supply.waste else supply for supply in device.supplies)
    full = Alert(11, number, 1110, f"{device.supplies[number - 1].name} is full")
    down = _stopped(device, full)
    errors: frozenset[ErrorBit] = device.errors | {"serviceRequested"}
    return replace(down, supplies=supplies, errors=errors, reasons=(*device.reasons, "marker-waste-full"))


def cover_open(device: Device) -> Device:
    """The first cover stands open."""
    (name, _), *others = device.covers
    down = _stopped(device, Alert(6, 1, 3, f"{name} is open"))
    covers = ((name, COVER_OPEN), *others)
    return replace(down, covers=covers, errors=device.errors | {"doorOpen"}, reasons=(*device.reasons, "cover-open"))


def _stopped(device: Device, *alerts: Alert) -> Device:
    """A critical alert is pending: RFC 3805 section 2.2.13.2 pairs it with down and other."""
    return replace(device, device_status=DOWN, printer_status=OTHER, alerts=(*device.alerts, *alerts))
