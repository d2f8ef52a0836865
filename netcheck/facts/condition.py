"""Facts that say what state a device is in."""

from typing import ClassVar

import msgspec

from netcheck.facts.base import Fact


class SubUnit(msgspec.Struct, frozen=True):
    """PrtSubUnitStatusTC (RFC 3805 s6), decoded. ``availability`` is one of available-idle, unavailable-on-request,
    available-standby, unavailable-broken, available-active, unknown, available-busy."""

    availability: str
    non_critical: bool
    critical: bool
    offline: bool
    transitioning: bool


class HostPrinter(Fact, frozen=True):
    """hrDeviceStatus, hrPrinterStatus and hrPrinterDetectedErrorState (RFC 2790) of one hrDeviceIndex.

    ``errors`` holds the labels of the set bits in bit order; ``None`` when the object was absent or not octets, which
    is not the same as "no errors". The table that combines the three (RFC 3805 s2.2.13.2) lives in the rules.
    """

    kind: ClassVar[str] = "host-printer"
    device_index: int
    device_status: str
    printer_status: str
    errors: tuple[str, ...] | None


class AlertRow(msgspec.Struct, frozen=True):
    """One row of prtAlertTable (RFC 3805 s6). ``code`` by IANA-PRINTER-MIB; ``at_centiseconds`` is sysUpTime then."""

    index: int
    severity: str
    training: str
    group: str
    group_index: int | None
    location: int | None
    code: str
    description: str
    at_centiseconds: int | None


class Alerts(Fact, frozen=True):
    """The alerts active now. Rows come and go, and gaps in the index are normal (RFC 3805 s2.2.13.4)."""

    kind: ClassVar[str] = "alerts"
    rows: tuple[AlertRow, ...]
    complete: bool


class CoverRow(msgspec.Struct, frozen=True):
    """One row of prtCoverTable: coverOpen, coverClosed, interlockOpen, interlockClosed, other, unknown."""

    index: int
    description: str
    status: str


class Covers(Fact, frozen=True):
    """Covers and interlocks."""

    kind: ClassVar[str] = "covers"
    rows: tuple[CoverRow, ...]
    complete: bool


class PrinterState(Fact, frozen=True):
    """printer-state, printer-state-reasons and printer-is-accepting-jobs (RFC 8011 s5.4.11, s5.4.12, s5.4.23) of a
    device or of a queue. ``state`` is idle, processing, stopped or a number; reasons are kept with their suffix;
    ``none`` is an empty tuple, and so is an attribute that was not given, which ``reasons_told`` tells apart."""

    kind: ClassVar[str] = "printer-state"
    state: str
    reasons: tuple[str, ...]
    accepting: bool | None
    message: str = ""
    reasons_told: bool = True


class PrinterClock(Fact, frozen=True):
    """How long the printer is up, and when its state and its configuration changed last.

    ``up_s``, ``state_changed_s`` and ``config_changed_s`` are seconds on one clock, which starts when the printer does
    (printer-up-time, RFC 8011 s5.4.29; printer-state-change-time, printer-config-change-time, from memory: RFC 3995,
    PWG 5100.13). ``now`` and ``config_changed`` are by its calendar, as ISO 8601, and "" where it has none."""

    kind: ClassVar[str] = "printer-clock"
    up_s: int | None = None
    state_changed_s: int | None = None
    config_changed_s: int | None = None
    now: str = ""
    config_changed: str = ""
