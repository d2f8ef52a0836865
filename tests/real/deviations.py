"""Agents that deviate, as data.

A deviation names objects as the MIBs do (`prtMarkerSuppliesLevel.1.5`; fixtures/mib/printer_mib.csv has where they
are), and what it expects as places in the facts (`supplies.rows.4.level`). `findings` are all that the deviation may
add to the judgement of the base device: rule and item, and whether it is unmet or unproven.

Where `says` gives no source, the deviation is common practice without one.
"""

from typing import Final

from netcheck.facts import Measured, Some, Unknown

from .deviating import SIMULATED, SNMPD, UNMET, UNPROVEN, Cells, Deviation, of, oid
from .devices import HALDEN, cover_open


def supplies(level: int, capacity: int | None = None, unit: int | None = None) -> Cells:
    """The same for all five."""
    given = {"Level": level, "MaxCapacity": capacity, "SupplyUnit": unit}
    return {
        f"prtMarkerSupplies{name}.1.{number}": value
        for name, value in given.items()
        for number in range(1, 6)
        if value is not None
    }


NAMES: Final = ("Black ink", "Cyan ink", "Magenta ink", "Yellow ink", "Waste ink box")
LEVELS: Final = dict.fromkeys((f"supplies.level/{name}" for name in NAMES), UNPROVEN)
ERRORS: Final = "hrPrinterDetectedErrorState.1"
CRITICAL: Final[Cells] = {
    "prtAlertSeverityLevel.1.4": 3,
    "prtAlertGroup.1.4": 5,
    "prtAlertGroupIndex.1.4": -1,
    "prtAlertCode.1.4": 30,
    "prtAlertDescription.1.4": "Carriage blocked",
    "prtAlertTime.1.4": of("Timeticks", 5),
}

ERROR_STATES: Final = {
    "one-octet": Deviation(
        "RFC 2790 hrPrinterDetectedErrorState: octets that are not there are bits that are not set",
        {ERRORS: b"\x00"},
        facts={"host-printer.errors": ()},
    ),
    "four-octets": Deviation(
        "RFC 3805 s2.2.13.2.1 has 0 to 128 octets; bit 13 is inputTrayEmpty (RFC 2790)",
        {ERRORS: b"\x00\x04\x00\x00"},
        facts={"host-printer.errors": ("inputTrayEmpty",)},
        findings={"condition.errors/inputTrayEmpty": UNMET},
    ),
    "no-octets": Deviation(
        "RFC 3805 s2.2.13.2.1: the empty string is no error",
        {ERRORS: b""},
        facts={"host-printer.errors": ()},
    ),
    "as-integer": Deviation(
        "another type is unreadable, and not no error",
        {ERRORS: 0},
        facts={"host-printer.errors": None},
        findings={"condition.errors": UNPROVEN},
    ),
    "as-gauge": Deviation(
        "another type is unreadable, and not no error",
        {ERRORS: of("Gauge", 64)},
        facts={"host-printer.errors": None},
        findings={"condition.errors": UNPROVEN},
    ),
    "stuck-at-zero": Deviation(
        "RFC 3805 s2.2.13.2: a critical alert goes with a bit and with down; an agent that sets neither contradicts it",
        CRITICAL,
        facts={"host-printer.errors": (), "alerts.rows.0.code": "subunitUnrecoverableFailure"},
        findings={"condition.alerts/subunitUnrecoverableFailure 4": UNMET, "condition.contradiction": UNMET},
    ),
    "bits-reversed": Deviation(
        "RFC 2790: bit 0 is the most significant one. doorOpen(4) from the other end is noToner(3): it is told as said,"
        " and what the cover and its alert say stands beside it",
        {ERRORS: b"\x10\x00"},
        device=cover_open(HALDEN),
        facts={
            "host-printer.errors": ("noToner",),
            "covers.rows.0.status": "coverOpen",
            "alerts.rows.0.code": "coverOpen",
        },
        findings={
            "condition.errors/noToner": UNMET,
            "condition.covers/Front cover": UNMET,
            "condition.alerts/coverOpen 1": UNMET,
            "condition.contradiction": UNMET,
            "condition.state/SNMP": UNMET,
        },
    ),
}

LEVELS_OF_NOTHING: Final = {
    "impressions-of-100": Deviation(
        "a percentage under another unit: the numbers and the unit as they were told, and their quotient",
        supplies(88, 100, 7),
        facts={"supplies.rows.0.unit": "impressions", "supplies.rows.0.level": Measured(88)},
    ),
    "other-of-100": Deviation(
        "the same with unit other",
        supplies(88, 100, 1),
        facts={"supplies.rows.0.unit": "other", "supplies.rows.0.capacity": Measured(100)},
    ),
    "percent-of-unknown": Deviation(
        "a level in percent stands alone (RFC 3805 s6, PrtMarkerSuppliesSupplyUnitTC percent)",
        supplies(88, -2, 19),
        facts={"supplies.rows.0.capacity": Unknown(), "supplies.rows.0.level": Measured(88)},
    ),
    "impressions-of-unknown": Deviation(
        "RFC 3805 s2.4: -2 is unknown, and nothing can be made of 88 of it",
        supplies(88, -2, 7),
        facts={"supplies.rows.0.capacity": Unknown(), "supplies.rows.0.level": Measured(88)},
        findings=LEVELS,
    ),
    "other-of-nothing": Deviation(
        "88 of 0 is no share of anything",
        supplies(88, 0, 1),
        facts={"supplies.rows.0.capacity": Measured(0)},
        findings=LEVELS,
    ),
    "more-than-full": Deviation(
        "more than there can be is not less than enough",
        {"prtMarkerSuppliesLevel.1.1": 120},
        facts={"supplies.rows.0.level": Measured(120), "supplies.rows.0.capacity": Measured(100)},
    ),
    "fill-instead-of-room": Deviation(
        "RFC 3805 s6 prtMarkerSuppliesLevel: of a receptacle, the room. One that tells its fill looks full when it is"
        " empty, which no single reading shows",
        {"prtMarkerSuppliesLevel.1.5": 3},
        facts={"supplies.rows.4.family": "receptacleThatIsFilled", "supplies.rows.4.level": Measured(3)},
        findings={"supplies.level/Waste ink box": UNMET},
    ),
    "all-some": Deviation(
        "RFC 3805 s2.4: -3 is some, and never empty",
        supplies(-3),
        facts={"supplies.rows.0.level": Some(), "supplies.rows.4.level": Some()},
        findings=LEVELS,
    ),
    "not-its-own": Deviation(
        "RFC 3805 s2.4: -2 is unknown, as for a cartridge of another maker",
        supplies(-2),
        facts={"supplies.rows.0.level": Unknown()},
        findings=LEVELS,
    ),
}

UTF_8_CUT: Final = "Abdeckung der Rolle größ".encode() + "ß".encode()[:1]
TEXTS: Final = {
    "padded": Deviation(
        "NUL and blanks at the end, and what stands behind a NUL, are no text",
        {"prtGeneralSerialNumber.1": b"HX-77-0457\0\0\xff\x17", "prtMarkerSuppliesDescription.1.1": b"Black ink \0\0 "},
        facts={"serial.value": "HX-77-0457", "supplies.rows.0.description": "Black ink"},
    ),
    "hex-pairs": Deviation(
        "text that looks like octets is text",
        {"prtInputDescription.1.1": "52 6F 6C 6C"},
        facts={"inputs.rows.0.description": "52 6F 6C 6C"},
    ),
    "name-of-the-factory": Deviation(
        "a sysName made of the hardware address is a name like any other",
        {"sysName.0": "device-027700000022"},
        facts={"system.name": "device-027700000022"},
        servers=SIMULATED,
    ),
    "latin-1-as-utf-8": Deviation(
        "RFC 3805 s6: the localization says UTF-8, the octets are Latin-1",
        {"prtCoverDescription.1.1": "Größe".encode("latin-1")},
        facts={"covers.rows.0.description": "Größe"},
    ),
    "shift-jis": Deviation(
        "RFC 3805 s6 prtLocalizationCharacterSet; IANA: 17 is Shift_JIS",
        {"prtLocalizationCharacterSet.1.1": 17, "prtCoverDescription.1.1": "ロール".encode("shift_jis")},
        facts={"covers.rows.0.description": "ロール"},
    ),
    "utf-8-as-roman-8": Deviation(
        "the set of the older firmware is still declared (IANA: 2004 is hp-roman8), the text is UTF-8",
        {"prtLocalizationCharacterSet.1.1": 2004, "prtConsoleDisplayBufferText.1.1": "休眠".encode()},
        facts={"console.lines": ("休眠",)},
    ),
    "cut-in-two": Deviation(
        "a fixed buffer ends inside a character; IANA: 2009 is IBM850",
        {"prtLocalizationCharacterSet.1.1": 2009, "prtCoverDescription.1.1": UTF_8_CUT},
        facts={"covers.rows.0.description": "Abdeckung der Rolle größ"},
    ),
    "no-localization": Deviation(
        "some devices have neither prtGeneralCurrentLocalization nor prtLocalizationTable: UTF-8 then",
        {"prtCoverDescription.1.1": "Größe".encode()},
        without=("prtGeneralCurrentLocalization", "prtConsoleLocalization", "prtLocalizationTable"),
        facts={"covers.rows.0.description": "Größe"},
    ),
    "alert-without-words": Deviation(
        "RFC 3805 s6 prtAlertDescription may be empty: the code speaks",
        {**CRITICAL, "prtAlertDescription.1.4": "", "hrDeviceStatus.1": 5, "hrPrinterStatus.1": 1, ERRORS: b"\x01"},
        facts={"alerts.rows.0.description": "", "alerts.rows.0.code": "subunitUnrecoverableFailure"},
        findings={
            "condition.alerts/subunitUnrecoverableFailure 4": UNMET,
            "condition.errors/serviceRequested": UNMET,
            "condition.state/SNMP": UNMET,
        },
    ),
    "alert-with-words-only": Deviation(
        "code other(1), and only the text says what it is",
        {**CRITICAL, "prtAlertSeverityLevel.1.4": 4, "prtAlertCode.1.4": 1, "hrDeviceStatus.1": 3},
        facts={"alerts.rows.0.description": "Carriage blocked", "alerts.rows.0.code": "other"},
        findings={"condition.alerts/other 4": UNMET},
    ),
}

TABLES: Final = {
    "another-index": Deviation(
        "RFC 2790: hrDeviceIndex is any number",
        under=3,
        moved=True,
        facts={"host-printer.device_index": 3, "serial.value": HALDEN.serial, "inputs.rows.1.name": "Roll 2"},
    ),
    "printer-mib-under-zero": Deviation(
        "the tables of RFC 3805 are indexed with the printer's hrDeviceIndex; seen in the field: with 0",
        CRITICAL,
        under=0,
        facts={"host-printer.device_index": 1, "serial.value": HALDEN.serial, "alerts.rows.0.index": 4},
        findings={"condition.alerts/subunitUnrecoverableFailure 4": UNMET, "condition.contradiction": UNMET},
        attempts=("hrDeviceIndex 1, and its Printer MIB 0",),
    ),
    "gaps": Deviation(
        "RFC 3805 s2.2.1: indexes may have gaps",
        {
            **{f"prtInput{name}.1.31": value for name, value in (("Type", 5), ("CurrentLevel", -2), ("Name", "Auto"))},
            "hrDeviceType.9": of("OBJECTID", "1.3.6.1.2.1.25.3.1.6"),  # hrDeviceDiskStorage
            "hrDeviceDescr.9": "Disk",
            "hrDeviceStatus.9": 5,
        },
        facts={"inputs.rows.2.index": 31, "inputs.rows.2.level": Unknown(), "host-printer.device_index": 1},
    ),
    "two-printers": Deviation(
        "RFC 2790: a fax is a printer too; the one with a Printer MIB is the one that is meant",
        {
            "hrDeviceType.1": of("OBJECTID", "1.3.6.1.2.1.25.3.1.5"),
            "hrDeviceDescr.1": "Fax",
            "hrDeviceStatus.1": 5,
            "hrDeviceType.3": of("OBJECTID", "1.3.6.1.2.1.25.3.1.5"),
            "hrDeviceDescr.3": HALDEN.name,
            "hrDeviceStatus.3": 2,
            "hrPrinterStatus.3": 3,
            "hrPrinterDetectedErrorState.3": b"\0\0",
        },
        under=3,
        facts={"model.value": HALDEN.name, "host-printer.device_index": 3, "serial.value": HALDEN.serial},
        attempts=("2 printers here",),
    ),
    "no-device-table": Deviation(
        "hrPrinterTable stands alone: its index is the printer's",
        without=("hrDeviceTable",),
        facts={"host-printer.device_index": 1, "host-printer.device_status": "", "serial.value": HALDEN.serial},
    ),
    "life-count-as-integer": Deviation(
        "RFC 3805 s6 prtMarkerLifeCount is a Counter32",
        {"prtMarkerLifeCount.1.1": 8812},
        facts={"markers.rows.0.life_count": 8812},
    ),
    "life-count-over-2-to-31": Deviation(
        "RFC 2578 s7.1.6: a Counter32 runs to 2^32 - 1",
        {"prtMarkerLifeCount.1.1": of("Counter", 4_000_000_000)},
        facts={"markers.rows.0.life_count": 4_000_000_000},
    ),
    "asleep": Deviation(
        "RFC 3805 s2.2.13.2: standby is running and other; the alert table is empty then",
        {"hrPrinterStatus.1": 1},
        facts={"host-printer.printer_status": "other", "alerts.rows": ()},
    ),
}

ANSWERS: Final = {
    "goes-round": Deviation(
        "RFC 3416 s4.2.2: what follows is greater. A walk that goes back is left, and what was there before it stays",
        loop=oid("prtMarkerSuppliesType"),
        facts={"supplies.complete": False, "inputs.complete": True, "supplies.rows.0.level": Measured(88)},
        findings={"supplies.empty/rest of the table": UNPROVEN},
        attempts=("identifiers do not increase",),
        servers=SNMPD,
    ),
    "gen-err": Deviation(
        "RFC 3416 s4.2.3: genErr names the one object that cannot be read; the others are read without it",
        {"prtOutputName.1.1": of("genErr")},
        facts={"outputs.complete": False, "serial.value": HALDEN.serial, "supplies.complete": True},
        attempts=("prtOutputName",),
        servers=SIMULATED,
    ),
    "too-big": Deviation(
        "RFC 3416 s4.2.3: a GETBULK is never too big, since it may be cut; some agents say so all the same",
        {"prtOutputName.1.1": of("tooBig")},
        facts={"outputs.complete": False, "serial.value": HALDEN.serial, "supplies.complete": True},
        attempts=("prtOutputName",),
        servers=SIMULATED,
    ),
}

DEVIATIONS: Final = {**ERROR_STATES, **LEVELS_OF_NOTHING, **TEXTS, **TABLES, **ANSWERS}
BASE: Final = Deviation("the base device, which deviates in nothing", facts={"serial.value": HALDEN.serial})
