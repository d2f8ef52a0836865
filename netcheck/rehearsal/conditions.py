"""What is wrong with a simulated device, derived once and spoken twice: by its SNMP agent and by its IPP printer.

The `Kind`s below tie the words of both protocols together: alert codes are IANA-PRINTER-MIB's, error bits
RFC 3805's, reasons RFC 8011's. A critical alert takes the device down and stops the IPP printer, a warning does neither
(RFC 3805 s2.2.13.2; RFC 8011 s5.4.12: critical is `-error`, warning is `-warning`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import IntEnum

from netcheck.rehearsal.device import Device, Supply

LOW_PERCENT = 10  # when the simulated firmware itself calls a supply low: common practice, no source


class Group(IntEnum):
    """prtAlertGroup: the table that an alert speaks of (PrtAlertGroupTC)."""

    cover = 6
    input = 8
    markerSupplies = 11  # noqa: N815 - the label of the MIB, which printer-alert spells out


class Severity(IntEnum):
    """prtAlertSeverityLevel (PrtAlertSeverityLevelTC), as far as it is used here."""

    critical = 3
    warningBinaryChangeEvent = 5  # noqa: N815 - a warning that ends when its cause is cured


class ErrorBit(IntEnum):
    """hrPrinterDetectedErrorState; bit 0 is the most significant bit of octet 1 (RFC 2790, RFC 3805 s2.2.13.2)."""

    NO_PAPER = 1
    LOW_TONER = 2
    NO_TONER = 3
    DOOR_OPEN = 4
    SERVICE_REQUESTED = 7
    INPUT_TRAY_EMPTY = 13


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of condition in the words of both protocols; `label` names `code`, `reason` has no suffix."""

    code: int
    label: str
    critical: bool
    group: Group
    bits: tuple[ErrorBit, ...]
    reason: str


_SERVICE = (ErrorBit.SERVICE_REQUESTED,)
_MEDIA_EMPTY = Kind(
    808, "inputMediaSupplyEmpty", True, Group.input, (ErrorBit.NO_PAPER, ErrorBit.INPUT_TRAY_EMPTY), "media-empty"
)
_COVER_OPEN = Kind(3, "coverOpen", True, Group.cover, (ErrorBit.DOOR_OPEN,), "cover-open")
_INK_EMPTY = Kind(1102, "markerInkEmpty", True, Group.markerSupplies, (ErrorBit.NO_TONER,), "marker-supply-empty")
_INK_LOW = Kind(1105, "markerInkAlmostEmpty", False, Group.markerSupplies, (ErrorBit.LOW_TONER,), "marker-supply-low")
_WASTE_FULL = Kind(1110, "markerWasteInkReceptacleFull", True, Group.markerSupplies, _SERVICE, "marker-waste-full")
_WASTE_NEARLY_FULL = Kind(
    1108, "markerWasteInkReceptacleAlmostFull", False, Group.markerSupplies, _SERVICE, "marker-waste-almost-full"
)


@dataclass(frozen=True, slots=True)
class Condition:
    """One thing that is wrong now. `index` is its row in its group's table, from 1; `text` is for people."""

    kind: Kind
    index: int
    text: str

    @property
    def severity(self) -> Severity:
        """How grave it is; every warning here ends when it is cured."""
        return Severity.critical if self.kind.critical else Severity.warningBinaryChangeEvent

    @property
    def reason(self) -> str:
        """The printer-state-reasons keyword with its suffix."""
        return f"{self.kind.reason}-{'error' if self.kind.critical else 'warning'}"


def conditions(device: Device) -> tuple[Condition, ...]:
    """Everything that is wrong with `device` now, in the order of its tables."""
    return tuple(_found(device))


def _found(device: Device) -> Iterator[Condition]:
    for index, cover in enumerate(device.covers, 1):
        if cover.open:
            yield Condition(_COVER_OPEN, index, f"{cover.name} is open")
    for index, tray in enumerate(device.inputs, 1):
        if tray.left == 0:
            yield Condition(_MEDIA_EMPTY, index, f"{tray.name} is empty")
    for index, supply in enumerate(device.supplies, 1):
        if supply.percent <= LOW_PERCENT:
            yield _of_supply(supply, index)


def _of_supply(supply: Supply, index: int) -> Condition:
    match supply.receptacle, supply.percent:
        case True, 0:
            return Condition(_WASTE_FULL, index, f"{supply.name} is full")
        case True, _:
            return Condition(_WASTE_NEARLY_FULL, index, f"{supply.name} is nearly full")
        case False, 0:
            return Condition(_INK_EMPTY, index, f"{supply.name} is empty")
        case _:
            return Condition(_INK_LOW, index, f"{supply.name} is low")


def device_status(found: tuple[Condition, ...]) -> int:
    """hrDeviceStatus: down(5) with a critical alert, warning(3) with another, else running(2) (RFC 3805 s2.2.13.2)."""
    if any(condition.kind.critical for condition in found):
        return 5
    return 3 if found else 2


def printer_status(found: tuple[Condition, ...]) -> int:
    """hrPrinterStatus without a job: other(1) with a critical alert, else idle(3) (RFC 3805 s2.2.13.2)."""
    return 1 if any(condition.kind.critical for condition in found) else 3


def error_octets(found: tuple[Condition, ...]) -> bytes:
    """hrPrinterDetectedErrorState as the two octets of RFC 2790."""
    raised = 0
    for condition in found:
        for bit in condition.kind.bits:
            raised |= 0x8000 >> bit
    return raised.to_bytes(2, "big")


def sub_unit_status(found: tuple[Condition, ...], group: Group, index: int | None = None) -> int:
    """PrtSubUnitStatusTC of row `index` of `group` (None: of all its rows together).

    19 is unavailable because broken(3) + critical(16), 8 is available with a non-critical alert, 0 is available
    and idle (RFC 3805 s2.2.13.2.2; RFC 8011 s5.4.12 pairs 19 with media-empty).
    """
    own = [condition for condition in found if condition.kind.group is group and index in (None, condition.index)]
    status = 8 if any(not condition.kind.critical for condition in own) else 0
    return status + (19 if any(condition.kind.critical for condition in own) else 0)


def printer_state(found: tuple[Condition, ...]) -> int:
    """IPP printer-state: stopped(5) with any -error, else idle(3) (RFC 8011 s5.4.11, s5.4.12)."""
    return 5 if any(condition.kind.critical for condition in found) else 3


def state_reasons(found: tuple[Condition, ...]) -> tuple[str, ...]:
    """IPP printer-state-reasons: each once, or the single keyword `none` (RFC 8011 s5.4.12)."""
    return tuple(dict.fromkeys(condition.reason for condition in found)) or ("none",)


def panel_text(found: tuple[Condition, ...]) -> str:
    """What the device's display shows, and printer-state-message says."""
    return "; ".join(condition.text for condition in found) or "Ready"
