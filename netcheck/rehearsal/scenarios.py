"""The closed list of rehearsals: what is wrong at the simulated site, and what the verdict must then be.

A scenario is the site as it should be with one fault, a function of the device that returns the faulty one. No protocol
library comes with this module.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from netcheck.rehearsal.device import SERVICES, Cover, Device, Input, Network, Supply, SupplyType

SITE = "Harrow Lane land-survey office"
QUEUE = "Plans"
FINAL_ADDRESS = "192.0.2.21"  # the old printer's, which the new one takes over

_SHEETS = ("na_arch-d_24x36in", "na_arch-c_18x24in", "iso_a1_594x841mm", "iso_a2_420x594mm", "iso_a3_297x420mm")
_FORMATS = ("application/octet-stream", "application/pdf", "image/tiff", "image/jpeg")


def _inks(cyan: int, magenta: int, yellow: int, black: int, waste_room: int) -> tuple[Supply, ...]:
    levels = {"cyan": cyan, "magenta": magenta, "yellow": yellow, "black": black}
    inks = (Supply(f"{name.title()} ink", SupplyType.INK_CARTRIDGE, left, name) for name, left in levels.items())
    return (*inks, Supply("Maintenance cartridge", SupplyType.WASTE_INK, waste_room))


OLD = Device(
    maker="Corvid",
    model="24S",
    serial="CV24-008812",
    firmware="2.9.1",
    host_name="plans-old",
    location=SITE,
    network=Network(
        mac="02:77:00:00:00:21", address=FINAL_ADDRESS, mask="255.255.255.0", gateway="192.0.2.1", mbit=100
    ),
    inputs=(
        Input(
            name="Roll",
            feed="roll",
            source="main-roll",
            size="roll_current_24x1800in",
            width_um=609_600,
            length_um=45_720_000,
            media_type="stationery-coated",
            left=22,
            capacity=45,
        ),
    ),
    supplies=_inks(64, 58, 71, 42, waste_room=55),
    covers=(Cover("Front cover"), Cover("Roll cover")),
    prints=_SHEETS,
    formats=_FORMATS,
    life_count=48_213,
    up_seconds=3_456_000,
)

NEW = Device(
    maker="Halden",
    model="36R",
    serial="HX-77-0457",
    firmware="4.7.2",
    host_name="plans-new",
    location=SITE,
    network=Network(mac="02:77:00:00:00:22", address="192.0.2.61", mask="255.255.255.0", gateway="192.0.2.1"),
    inputs=(
        Input(
            name="Roll 1",
            feed="roll",
            source="main-roll",
            size="roll_current_36x1800in",
            width_um=914_400,
            length_um=45_720_000,
            media_type="stationery-coated",
            left=41,
            capacity=45,
        ),
        Input(
            name="Sheet tray",
            feed="sheet",
            source="tray-1",
            size="iso_a3_297x420mm",
            width_um=297_000,
            length_um=420_000,
            media_type="stationery",
            left=40,
            capacity=50,
        ),
    ),
    supplies=_inks(88, 91, 86, 90, waste_room=97),
    covers=(Cover("Front cover"), Cover("Roll cover"), Cover("Ink door")),
    prints=(*_SHEETS, "iso_a0_841x1189mm", "na_arch-e_36x48in"),
    formats=_FORMATS,
    life_count=14,
    up_seconds=5_400,
)


def with_firmware(device: Device, version: str) -> Device:
    """The device with another firmware."""
    return replace(device, firmware=version)


def with_mask(device: Device, mask: str) -> Device:
    """The device with another network mask."""
    return replace(device, network=replace(device.network, mask=mask))


def at_address(device: Device, address: str) -> Device:
    """The device with another address of its own."""
    return replace(device, network=replace(device.network, address=address))


def out_of_media(device: Device) -> Device:
    """The device with its roll used up; a sheet tray keeps what it has."""
    return replace(device, inputs=tuple(replace(t, left=0) if t.feed == "roll" else t for t in device.inputs))


def waste_full(device: Device) -> Device:
    """The device with no room left in its waste receptacle."""
    return replace(device, supplies=tuple(replace(s, percent=0) if s.receptacle else s for s in device.supplies))


def unreachable(device: Device) -> Device:
    """The device with nothing listening at any of its ports."""
    return replace(device, unplugged=frozenset(SERVICES))


def snmp_silent(device: Device) -> Device:
    """The device with an SNMP port that swallows every request, of any version."""
    return replace(device, mute=frozenset({"snmp"}))


def at_a_path_of_its_own(device: Device) -> Device:
    """The device with its IPP printer where nobody would look, and a name of its own under which it says where."""
    return replace(device, ipp_path="/ipp/plan-room", announced_as=f"{device.make_and_model}, plan room")


State = Literal["ready", "not-ready", "cannot-tell"]
_EXIT_CODES: dict[State, int] = {"ready": 0, "not-ready": 1, "cannot-tell": 3}


@dataclass(frozen=True, slots=True)
class Scenario:
    """A rehearsal: the site's two devices, and the state that the verdict must have; `meaning` is for people."""

    name: str
    state: State
    meaning: str
    new: Device = NEW
    old: Device = OLD

    @property
    def exit_code(self) -> int:
        """The exit code that goes with `state`."""
        return _EXIT_CODES[self.state]


_ALL = (
    Scenario("ready", "ready", "Everything is as the standard asks: the old printer may be unplugged."),
    Scenario(
        "firmware-too-new",
        "not-ready",
        "The new printer runs firmware 4.8.0 where the standard asks for 4.7.2.",
        new=with_firmware(NEW, "4.8.0"),
    ),
    Scenario(
        "wrong-mask",
        "not-ready",
        "The new printer's mask makes its subnet half as wide as the site's /24.",
        new=with_mask(NEW, "255.255.255.128"),
    ),
    Scenario(
        "old-holds-address",
        "not-ready",
        "The new printer was given its final address while the old one still answers with it.",
        new=at_address(NEW, FINAL_ADDRESS),
    ),
    Scenario(
        "out-of-media",
        "not-ready",
        "The new printer's roll is used up, so neither plan can be printed.",
        new=out_of_media(NEW),
    ),
    Scenario(
        "waste-full",
        "not-ready",
        "The new printer's maintenance cartridge is full, so it has stopped.",
        new=waste_full(NEW),
    ),
    Scenario(
        "new-unreachable",
        "not-ready",
        "Nothing listens at the new printer's address.",
        new=unreachable(NEW),
    ),
    Scenario(
        "snmp-silent",
        "cannot-tell",
        "The new printer answers nothing over SNMP, and some answers come no other way.",
        new=snmp_silent(NEW),
    ),
    Scenario(
        "odd-path",
        "ready",
        "The new printer's IPP path is none of the usual ones; its announcement on this link tells it.",
        new=at_a_path_of_its_own(NEW),
    ),
)

SCENARIOS: dict[str, Scenario] = {scenario.name: scenario for scenario in _ALL}
