"""Facts that say which device this is, and what runs on it."""

from typing import ClassVar

import msgspec

from netcheck.facts.base import Fact


class Model(Fact, frozen=True):
    """Make and model, as one source words it. Sources word it differently: compare all of them, not one."""

    kind: ClassVar[str] = "model"
    value: str


class Serial(Fact, frozen=True):
    """Serial number (RFC 3805 prtGeneralSerialNumber; SN of an IEEE 1284 device ID; the plate)."""

    kind: ClassVar[str] = "serial"
    value: str


class FirmwareModule(msgspec.Struct, frozen=True):
    """One member of the parallel arrays printer-firmware-name and printer-firmware-string-version (PWG 5110.1)."""

    name: str
    version: str


class Firmware(Fact, frozen=True):
    """Firmware versions. ``version`` is the first module's, which is the device's own firmware."""

    kind: ClassVar[str] = "firmware"
    version: str
    modules: tuple[FirmwareModule, ...] = ()


class Uuid(Fact, frozen=True):
    """printer-uuid (PWG 5100.13) without ``urn:uuid:``, lower case: the best key across a change of address."""

    kind: ClassVar[str] = "uuid"
    value: str


class DeviceId(Fact, frozen=True):
    """IEEE 1284 device ID as (key, value) pairs in the device's order; a repeated key counts once, the first."""

    kind: ClassVar[str] = "device-id"
    pairs: tuple[tuple[str, str], ...]

    def get(self, *keys: str) -> str:
        """Value of the first of these keys that is there; "" when none is. Keys are case-sensitive (IEEE 1284)."""
        found = dict(self.pairs)
        return next((found[key] for key in keys if key in found), "")


class System(Fact, frozen=True):
    """The system group (RFC 1213/3418). ``up_centiseconds`` is the agent's, not the device's, and wraps at 497 days."""

    kind: ClassVar[str] = "system"
    description: str
    object_id: str
    name: str
    location: str
    up_centiseconds: int | None


class PrinterNames(Fact, frozen=True):
    """printer-name, printer-info and printer-location (RFC 8011 s5.4.4, s5.4.6, s5.4.5): what somebody typed in."""

    kind: ClassVar[str] = "printer-names"
    name: str = ""
    info: str = ""
    location: str = ""


class HostUptime(Fact, frozen=True):
    """hrSystemUptime (RFC 2790) in hundredths of a second: how long the device is up. Where it is much more than the
    agent's own time, only the agent was restarted."""

    kind: ClassVar[str] = "host-uptime"
    centiseconds: int


class MarkerRow(msgspec.Struct, frozen=True):
    """One print engine (RFC 3805 prtMarkerTable). Counts are in ``unit``, which need not be impressions."""

    index: int
    technology: str
    unit: str
    life_count: int | None
    power_on_count: int | None


class Markers(Fact, frozen=True):
    """The print engines and their meters."""

    kind: ClassVar[str] = "markers"
    rows: tuple[MarkerRow, ...]
    complete: bool


class Meter(Fact, frozen=True):
    """A meter reading that a person took from the panel or a printed page; ``unit`` as they wrote it."""

    kind: ClassVar[str] = "meter"
    count: int
    unit: str
