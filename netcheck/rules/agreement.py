"""Do the device's two mouths say the same? What IPP tells is held against what the Printer MIB tells.

Where they differ one of the two is wrong, and nobody can say from afar which. So these rules change nothing of what the
others find; they say that a finding, or a quiet, rests on a device which contradicts itself.
"""

from collections.abc import Iterable, Iterator

from netcheck.facts import Measured
from netcheck.facts.condition import HostPrinter, PrinterState
from netcheck.facts.media import InputRow, Inputs, MediaReady, ReadyRow
from netcheck.rules.condition import host_condition, reason_severity
from netcheck.rules.media import TOLERANCE_UM
from netcheck.ruling import New, Ruling, Sighting, met, rule, unmet, unproven
from netcheck.verdict import Weight
from netcheck.words import join

_TOGETHER_MS = 30_000
"""What was seen further apart may have changed in between, which is no contradiction (common practice, no source)."""
_DOWN = {"critical alert active", "unavailable", "off-line"}
_UP = {"idle", "busy/active"}
_SOMEBODYS_WISH = ("paused", "moving-to-paused", "stopping", "shutdown")
"""Reasons for which a printer stands still that is in order (RFC 8011 s5.4.12)."""
_UNSEEN = ("services.reach", "services.snmp", "services.ipp")


def _together(one: Sighting[PrinterState | MediaReady], other: Sighting[HostPrinter | Inputs]) -> bool:
    return abs(one.observation.at_ms - other.observation.at_ms) <= _TOGETHER_MS


@rule("whether IPP and SNMP agree about the state", weight=Weight.CARE, unseen_weight=Weight.NOTE, unseen=_UNSEEN)
def state(ipp: New[PrinterState], snmp: New[HostPrinter]) -> Ruling:
    """Do printer-state and the Host Resources status tell the same story?

    Why: Where one says idle and the other down, one of them is wrong, and the quiet one must not be taken for health.
    Do: Believe the worse of the two, and look at the device's panel. If the panel is quiet, switch the device off and
    on, and run this again.
    Caution: Never switch a device off while it fills its ink system or writes firmware.
    Source: RFC 8011 s5.4.11 (printer-state); RFC 3805 s2.2.13.2 (hrDeviceStatus and hrPrinterStatus).
    """
    said, host = ipp.every[0], snmp.every[0]
    condition = host_condition(host.fact)
    found = f"IPP {said.fact.state or 'does not tell'}, SNMP {condition}"
    on = (said, host)
    if not _together(said, host):
        return unproven("IPP and SNMP were not asked at the same time", found, weight=Weight.NOTE, on=on)
    if said.fact.state in {"idle", "processing"} and condition in _DOWN:
        return unmet(f"IPP says {said.fact.state}, SNMP says that the device is down", found, "one story", on=on)
    wished = any(reason.startswith(_SOMEBODYS_WISH) for reason in said.fact.reasons)
    if said.fact.state == "stopped" and condition in _UP and not wished:
        return unmet("IPP says stopped, SNMP says that the device runs", found, "one story", on=on)
    if said.fact.state not in {"idle", "processing", "stopped"} or condition == "unknown":
        return unproven("IPP and SNMP cannot be compared", found, weight=Weight.NOTE, on=on)
    return met("IPP and SNMP agree about the state", found, on=on)


@rule(
    "whether the printer's state fits its reasons",
    weight=Weight.CARE,
    unseen_weight=Weight.NOTE,
    unseen=("services.reach", "services.ipp"),
)
def reasons(seen: New[PrinterState]) -> Ruling:
    """Is a printer that names an error stopped?

    Why: An error is what a printer must be stopped for; one that names it and says that it goes on is wrong in one of
    the two, and may take jobs that it does not print.
    Do: Believe the error, and put right what it names, at the device.
    Source: RFC 8011 s5.4.12 (printer-state-reasons: with the suffix -error the printer must be stopped).
    """
    sighting = seen.every[0]
    fact = sighting.fact
    named = [reason for reason in fact.reasons if reason_severity(reason, fact.state)[1] == "error"]
    if named and fact.state in {"idle", "processing"}:
        found = f"{fact.state}, with {join(named)}"
        return unmet(f"The printer names an error and says that it is {fact.state}", found, "stopped", on=(sighting,))
    if not (fact.reasons_told and fact.state):
        return unproven("The printer does not tell both its state and the reasons", weight=Weight.NOTE, on=(sighting,))
    return met("The printer's state fits its reasons", on=(sighting,))


@rule(
    "whether IPP and the inputs agree about the media",
    weight=Weight.CARE,
    unseen_weight=Weight.NOTE,
    unseen=_UNSEEN,
)
def media(ready: New[MediaReady], trays: New[Inputs]) -> Iterator[Ruling]:
    """Has every medium that IPP calls ready an input of its width that is not empty?

    Why: Where one says ready and the other empty, the first print may wait for media that is not there.
    Do: Look at the roll or the tray itself. Take the media out and load it again, so that the device measures it anew.
    Source: PWG 5100.7 (media-col-ready); RFC 3805 s6 (prtInputCurrentLevel: 0 is empty).
    """
    pairs = [(said, told) for said in ready.every for told in trays.every if _together(said, told)]
    compared = [(each, row) for each in pairs for row in each[0].fact.rows if any(_as_wide(row, each[1].fact.rows))]
    denied: set[str] = set()
    for (said, told), row in compared:
        inputs = list(_as_wide(row, told.fact.rows))
        empty = join(each.name or f"input {each.index}" for each in inputs)
        if any(each.level != Measured(0) for each in inputs) or empty in denied:
            continue
        denied.add(empty)
        name, source = row.source or row.name, told.observation.source
        title = f"The device calls {name} ready, and {empty} empty"
        yield unmet(title, f"{empty} empty by {source}", "one story", item=empty, on=(said, told))
    if not compared and any(said.fact.rows for said, _ in pairs):
        yield unproven("What IPP calls ready could not be compared with the trays and rolls", weight=Weight.NOTE)
    elif not denied:
        yield met("What is ready by IPP is not empty by the inputs")


def _as_wide(row: ReadyRow, inputs: Iterable[InputRow]) -> Iterator[InputRow]:
    """The inputs whose media has this width. Nothing else joins the two: sources and inputs are named apart."""
    for each in inputs:
        if row.size and isinstance(each.cross, Measured):
            width = each.cross.value
            if row.size.x.low - TOLERANCE_UM <= width <= row.size.x.high + TOLERANCE_UM:
                yield each
