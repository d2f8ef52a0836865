"""Is the new device in a state to print?

The same trouble shows in up to five places: the Host Resources status, its error bits, the alert table, printer-state
and printer-state-reasons. Each rule reads one of them; what names the trouble best (media, supplies, covers, then
alerts) explains the others, so that the technician reads one sentence and not five.
"""

from collections.abc import Iterable, Iterator

from netcheck.facts.condition import AlertRow, Alerts, Covers, HostPrinter, PrinterState
from netcheck.ruling import New, Ruling, Sighting, met, rule, unmet, unproven
from netcheck.verdict import Weight
from netcheck.words import count, join

_MEDIA = ("media.loaded",)
_SUPPLIES = ("supplies.empty", "supplies.level")
_COVERS = ("condition.covers",)
_NAMED_BETTER = (*_MEDIA, *_SUPPLIES, *_COVERS)
_UNSEEN = ("services.reach", "services.snmp")


def host_condition(fact: HostPrinter) -> str:
    """The printer as a whole by the table of RFC 3805 s2.2.13.2. Where critical and non-critical alerts are pending
    together the critical state wins; warm-up is accepted with running as well as with down, as that section itself
    gives both. A device in warning is still operational (RFC 2790 hrDeviceStatus), asleep too; where an agent has no
    hrDeviceTable, idle and printing speak for themselves, since they go with running or warning (s2.2.13.2.1)."""
    errors = fact.errors or ()
    match fact.device_status, fact.printer_status:
        case (_, "warmup"):
            return "moving on-line"
        case ("down", _) if "offline" in errors:
            return "off-line"
        case ("down", _):
            return "critical alert active" if any(map(CRITICAL_BITS.get, errors)) else "unavailable"
        case ("warning", "idle" | "printing" | "other"):
            return "moving off-line" if "offline" in errors else "non-critical alert active"
        case ("running" | "", "idle"):
            return "idle"
        case ("running" | "", "printing"):
            return "busy/active"
        case ("running", "other"):
            return "standby"
        case ("testing", _):
            return "testing"
        case _:
            return "unknown"


CRITICAL_BITS = {
    "lowPaper": False,
    "noPaper": True,
    "lowToner": False,
    "noToner": True,
    "doorOpen": True,
    "jammed": True,
    "offline": True,
    "serviceRequested": False,
    "inputTrayMissing": True,
    "outputTrayMissing": True,
    "markerSupplyMissing": True,
    "outputNearFull": False,
    "outputFull": True,
    "inputTrayEmpty": False,
    "overduePreventMaint": False,
}
"""hrPrinterDetectedErrorState: does the bit alone stop the printer? Octet 1 by RFC 1514's pairing with hrDeviceStatus
(from memory), octet 2 by the alert that stands for it; inputTrayEmpty speaks of one tray, noPaper of the printer."""
_BIT_CAUSES = {
    "noPaper": _MEDIA,
    "lowPaper": _MEDIA,
    "inputTrayEmpty": _MEDIA,
    "inputTrayMissing": _MEDIA,
    "noToner": _SUPPLIES,
    "lowToner": _SUPPLIES,
    "markerSupplyMissing": _SUPPLIES,
    "doorOpen": _COVERS,
}


@rule(
    "error bits of the new device",
    unseen_weight=Weight.NOTE,
    after=(*_NAMED_BETTER, "condition.alerts"),
    unseen=_UNSEEN,
)
def errors(seen: New[HostPrinter]) -> Iterator[Ruling]:
    """Does the device report no error condition?

    Why: Each bit is a reason for which the device may stop.
    Do: Look at the device's panel: it names what is wrong. Put that right and run this again.
    Source: RFC 2790 (hrPrinterDetectedErrorState); RFC 3805 s2.2.13.2.1.
    """
    bits = seen.fact.errors
    if bits is None:
        yield unproven("The device's error bits cannot be read")
    elif not bits:
        yield met("No error bit is set")
    for bit in [bit for bit in bits or () if bit in CRITICAL_BITS]:
        weight = Weight.BLOCKER if CRITICAL_BITS[bit] else Weight.CARE
        because = (*_BIT_CAUSES.get(bit, ()), "condition.alerts")
        yield unmet(f"The device reports {bit}", bit, "not set", item=bit, weight=weight, because=because)
    if unassigned := [bit for bit in bits or () if bit not in CRITICAL_BITS]:
        title = f"{count(len(unassigned), 'error bit')} set that no standard defines"
        yield unmet(title, join(unassigned[:8]), "not set", item="unassigned", weight=Weight.NOTE, because=())


_GROUP_CAUSES = {"input": _MEDIA, "markerSupplies": _SUPPLIES, "cover": _COVERS}
_PASSING = ("Added", "Deleted", "Removed", "Change", "ChangeEntry", "Closed", "Reset", "Increase", "Decrease")
_STARTING = ("TurnedOn", "PowerSaver", "powerUp", "printerReadyToPrint")
"""Ends of codes that tell of an event, not of a lasting condition, when they stand in a warning row (RFC 3805
s2.2.13.4). One that asks for other media (inputMediaChangeRequest) lasts until somebody has changed it."""


_NAMELESS = {"other", "unknown", ""}
"""Codes that tell nothing. In a unary row they are mostly a line of the panel, as that it sleeps (common practice, no
source); the text is shown."""


@rule("alerts on the new device", unseen_weight=Weight.NOTE, after=_NAMED_BETTER, unseen=_UNSEEN)
def alerts(seen: New[Alerts]) -> Iterator[Ruling]:
    """Is no alert active that stops the device?

    Why: A critical alert is still true and stops the device; a warning may be about to.
    Do: Put right what the alert names, at the device; its panel guides through it.
    Caution: Keep fingers, hair and clothes away from blades, carriage and rollers; switch off where the device's
    instructions say so.
    Source: RFC 3805 s2.2.13.4 and s6 (prtAlertTable); codes by IANA-PRINTER-MIB.
    """
    rows = _every_alert(seen.facts())
    for row in rows:
        yield _alert(row)
    if not any(fact.complete for fact in seen.facts()):
        yield unproven("The list of alerts was cut short", item="rest of the table")
    elif not rows:
        yield met("No alert is active")


def _every_alert(tables: Iterable[Alerts]) -> list[AlertRow]:
    """The rows of the best source, and what another one (printer-alert beside prtAlertTable) has beyond them."""
    told: list[AlertRow] = []
    for table in tables:
        told += [row for row in table.rows if not any(_same_alert(row, other) for other in told)]
    return told


def _same_alert(one: AlertRow, other: AlertRow) -> bool:
    """Indexes of rows are each source's own; where one does not tell which tray it means, the code must do."""
    places = {one.group_index, other.group_index}
    return one.code == other.code and (len(places) == 1 or None in places)


def _alert(row: AlertRow) -> Ruling:
    because = _GROUP_CAUSES.get(row.group, ())
    title, item = row.description or f"{row.code} ({row.group})", f"{row.code} {row.index}"
    if row.severity == "critical":
        return unmet(f"Alert: {title}", f"critical {row.code}", "no critical alert", item=item, because=because)
    # A unary warning stays in the table after its event, so it proves no present fault.
    passing = row.severity in {"warning", ""} and (row.code.endswith((*_PASSING, *_STARTING)) or row.code in _NAMELESS)
    weight = Weight.NOTE if passing or row.severity == "other" else Weight.CARE
    found = f"{row.severity} {row.code}"
    return unmet(f"Alert: {title}", found, "no alert", item=item, weight=weight, because=because)


@rule("covers of the new device", unseen_weight=Weight.NOTE, unseen=_UNSEEN)
def covers(seen: New[Covers]) -> Iterator[Ruling]:
    """Is every cover and interlock closed?

    Why: An open cover stops the device.
    Do: Close it.
    Caution: Keep fingers away from blades, carriage and rollers while a cover is open.
    Takes: about 1 minute
    Source: RFC 3805 s6 (prtCoverStatus).
    """
    opened = [row for row in seen.fact.rows if row.status in {"coverOpen", "interlockOpen"}]
    for row in opened:
        name = row.description or f"Cover {row.index}"
        yield unmet(f"{name} is open", row.status, "closed", f"Close: {name}.", item=name)
    if not seen.fact.complete:
        yield unproven("The list of covers was cut short", item="rest of the table")
    elif not opened:
        yield met("All covers are closed", f"{len(seen.fact.rows)} covers")


@rule(
    "the state of the new device",
    after=(*_NAMED_BETTER, "condition.alerts", "condition.errors", "condition.reasons"),
    unseen=(*_UNSEEN, "services.ipp"),
)
def state(seen: New[PrinterState | HostPrinter]) -> Iterator[Ruling]:
    """Is the printer idle, busy or asleep, not stopped, and does it accept jobs?

    Why: A printer that is down takes a job and prints nothing; one that does not accept jobs rejects them, even when it
    is idle.
    Do: Look at the device's panel: it names what is wrong. Put that right, or release the device there if somebody
    paused it; then run this again.
    Source: RFC 8011 s5.4.11 (printer-state), s5.4.23 (printer-is-accepting-jobs); RFC 3805 s2.2.13.2 (hrDeviceStatus,
    hrPrinterStatus and the error bits).
    """
    for sighting in seen.every:
        fact = sighting.fact
        if isinstance(fact, HostPrinter):
            yield _host_state(fact, (sighting,))
        else:
            yield _ipp_state(fact, (sighting,))
            yield _accepting(fact, (sighting,))


def _host_state(fact: HostPrinter, on: tuple[Sighting[PrinterState | HostPrinter], ...]) -> Ruling:
    found = f"{fact.device_status}/{fact.printer_status}"
    condition = host_condition(fact)
    match condition:
        case "idle" | "busy/active" | "non-critical alert active":
            return met(f"The device is {condition.split('/')[0]}", found, item="SNMP", on=on)
        case "standby":
            return met("The device is asleep or idle", found, item="SNMP", on=on)
        case "moving on-line":
            do = "Wait until its panel says ready; then run this again."
            return unproven("The device is warming up", found, "idle", do, item="SNMP", on=on)
        case "unknown" | "testing":
            return unproven(f"The device's state is {condition}", found, "idle", item="SNMP", on=on)
        case _:
            return unmet(f"The device is down: {condition}", found, "running", item="SNMP", on=on)


def _ipp_state(fact: PrinterState, on: tuple[Sighting[PrinterState | HostPrinter], ...]) -> Ruling:
    found = join([fact.state, fact.message and f"({fact.message})"], " ")
    if fact.state in {"idle", "processing"}:
        return met(f"The printer is {fact.state}", found, item="IPP", on=on)
    if fact.state == "stopped":
        return unmet("The printer is stopped", found, "idle or processing", item="IPP", on=on)
    return unproven("The printer does not tell its state", found, "idle or processing", item="IPP", on=on)


def _accepting(fact: PrinterState, on: tuple[Sighting[PrinterState | HostPrinter], ...]) -> Ruling:
    match fact.accepting:
        case True:
            return met("The printer accepts jobs", item="accepting", on=on)
        case False:
            title = "The printer does not accept jobs"
            return unmet(title, "not accepting", "accepting", item="accepting", because=(), on=on)
        case None:
            return unproven("The printer does not tell whether it accepts jobs", item="accepting", on=on)


def reason_severity(reason: str, state: str) -> tuple[str, str]:
    """A printer-state-reason as (keyword, error | warning | report) by RFC 8011 s5.4.12: without a suffix, an error
    when the printer is stopped and a warning otherwise. Some registered keywords end in ``storage-error`` themselves
    (PWG 5107.3, from memory); that is not a suffix. A printer that is stopping is never in error by that."""
    keyword, _, suffix = reason.rpartition("-")
    if "stopping" in {reason, keyword}:
        return "stopping", "warning"
    if suffix in {"error", "warning", "report"} and not reason.endswith("storage-error"):
        return keyword, suffix
    return reason, "error" if state == "stopped" else "warning"


_REASON_CAUSES = {"media": _MEDIA, "input": _MEDIA, "marker": _SUPPLIES, "toner": _SUPPLIES, "cover": _COVERS}
_REASON_CAUSES |= {"door": _COVERS, "interlock": _COVERS}


@rule(
    "reasons that the new device gives for its state",
    unseen_weight=Weight.NOTE,
    after=(*_NAMED_BETTER, "condition.alerts"),
    unseen=("services.ipp", "services.reach"),
)
def reasons(seen: New[PrinterState]) -> Iterator[Ruling]:
    """Does the printer give no reason against printing?

    Why: An error must be put right before anything prints; a warning may spoil the print.
    Do: Put right what the reason names, at the device; its panel guides through it.
    Source: RFC 8011 s5.4.12 (printer-state-reasons: error, warning, report).
    """
    state = seen.fact.state
    for reason in seen.fact.reasons:
        keyword, severity = reason_severity(reason, state)
        weight = {"error": Weight.BLOCKER, "warning": Weight.CARE}.get(severity, Weight.NOTE)
        because = (*_REASON_CAUSES.get(keyword.partition("-")[0], ()), "condition.alerts")
        title = f"The printer reports {keyword} ({severity})"
        yield unmet(title, reason, "none", item=reason, weight=weight, because=because)
    if not seen.fact.reasons_told:
        yield unproven("The printer does not tell the reasons for its state")
    elif not seen.fact.reasons:
        yield met("The printer gives no reason against printing")
