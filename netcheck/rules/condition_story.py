"""Do the device's own statements about its state fit together? (More of the theme ``condition`` is in `condition`.)"""

from netcheck.facts.condition import AlertRow, Alerts, HostPrinter
from netcheck.rules.condition import CRITICAL_BITS
from netcheck.ruling import New, Ruling, met, rule, unmet
from netcheck.verdict import Weight
from netcheck.words import join

_BITS_OF = {
    "coverOpen": {"doorOpen"},
    "doorOpen": {"doorOpen"},
    "interlockOpen": {"doorOpen"},
    "jam": {"jammed"},
    "inputMediaSupplyEmpty": {"noPaper", "inputTrayEmpty"},
    "inputMediaTrayMissing": {"inputTrayMissing", "noPaper"},
    "markerInkEmpty": {"noToner"},
    "markerTonerEmpty": {"noToner"},
    "markerTonerCartridgeMissing": {"markerSupplyMissing", "noToner"},
    "outputMediaTrayMissing": {"outputTrayMissing"},
    "outputMediaTrayFull": {"outputFull"},
}
"""The bits that say the same as a critical alert. Those of the second octet are younger, and some agents lack it: where
only one of them would fit, its absence is no contradiction (RFC 2790; RFC 1514 had one octet, from memory)."""
_YOUNGER = {"outputTrayMissing", "outputFull", "markerSupplyMissing", "inputTrayMissing", "inputTrayEmpty"}


@rule(
    "whether the device's own statements fit together",
    weight=Weight.CARE,
    unseen_weight=Weight.NOTE,
    unseen=("services.reach", "services.snmp"),
)
def contradiction(bits: New[HostPrinter], table: New[Alerts]) -> Ruling:
    """Do the status, the error bits and the alerts tell the same story?

    Why: Some agents keep the status at "running" whatever happens, or set their bits in the wrong order; their quiet
    must not be taken for health, nor their bits for the fault that they name.
    Do: Believe the alert, and look at the device's panel.
    Source: RFC 3805 s2.2.13.2.1 (the status follows the worst condition); RFC 2790 (hrPrinterDetectedErrorState, bit 0
    is the most significant).
    """
    alerts = [row for row in table.fact.rows if row.severity == "critical"]
    critical = [row.code for row in alerts]
    status, errors = bits.fact.device_status, bits.fact.errors
    stopping = [bit for bit in errors or () if CRITICAL_BITS.get(bit)]
    # On its way off-line a device is in warning, and the bit is set already (RFC 3805 s2.2.13.2).
    stopped = {"running": stopping, "warning": [bit for bit in stopping if bit != "offline"]}.get(status)
    if stopped is not None and (critical or stopped):
        found = f"{status}, with {join([*critical, *stopped])}"
        return unmet("The device says that it runs, and reports what must stop it", found, "one story")
    if critical and errors == ():
        found = f"no error bit, with {join(critical)}"
        return unmet("The device sets no error bit, and reports what must stop it", found, "one story")
    if errors and (untold := [row.code for row in alerts if _is_untold(row, errors)]):
        found = f"{join(errors)}, with {join(untold)}"
        return unmet("The device's error bits and its alerts name different troubles", found, "one story")
    return met("Status, error bits and alerts fit together")


def _is_untold(alert: AlertRow, errors: tuple[str, ...]) -> bool:
    fitting = _BITS_OF.get(alert.code, set())
    return bool(fitting) and not fitting & set(errors) and not fitting <= _YOUNGER
