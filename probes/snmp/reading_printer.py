"""Read half, the printer itself: Host Resources (RFC 2790) and Printer MIB (RFC 3805) columns to facts. Pure.

All rows are those of one printer: of the first, where several are behind one agent. A table that the standard makes
mandatory and that is empty is said to be empty only by an agent that has a Printer MIB at all; otherwise, and for
optional tables, nothing is said.
"""

from collections.abc import Iterator

from netcheck.facts import Amount, Fact, Measured, Unknown, amount
from netcheck.facts.condition import AlertRow, Alerts, CoverRow, Covers, HostPrinter, SubUnit
from netcheck.facts.deviceid import parse_device_id
from netcheck.facts.identity import DeviceId, HostUptime, MarkerRow, Markers, Model, Serial
from netcheck.facts.media import InputRow, Inputs, OutputRow, Outputs
from netcheck.facts.supplies import Supplies, Supply

from . import labels, mib
from .ber import Oid
from .harvest import Harvest, charset, printers, rows_under
from .mib import Table
from .text import decoded

Facts = Iterator[tuple[str, Fact]]

_AVAILABILITY = {  # PrtSubUnitStatusTC, its low three bits; 7 is not assigned
    0: "available-idle",
    1: "unavailable-on-request",
    2: "available-standby",
    3: "unavailable-broken",
    4: "available-active",
    5: "unknown",
    6: "available-busy",
}
_TEN_THOUSANDTHS_OF_INCHES = 3
_MICROMETERS = 4


def host(harvest: Harvest) -> Facts:
    for device in printers(harvest)[:1]:
        index = (device,)
        if harvest.indexes(mib.HR_PRINTER, below=index) or harvest.label("hrDeviceStatus", index):
            yield (
                f"hrPrinterTable.{device}",
                HostPrinter(
                    device_index=device,
                    device_status=harvest.label("hrDeviceStatus", index),
                    printer_status=harvest.label("hrPrinterStatus", index),
                    errors=error_labels(harvest.octets("hrPrinterDetectedErrorState", index)),
                ),
            )
        if model := harvest.text("hrDeviceDescr", index):
            yield f"hrDeviceDescr.{device}", Model(model)
        own = rows_under(harvest, device)
        if serial := harvest.text("prtGeneralSerialNumber", (own,)):
            yield f"prtGeneralSerialNumber.{own}", Serial(serial)
        yield from _port_monitor(harvest, device)
    if up := harvest.number("hrSystemUptime", (0,)):
        yield "hrSystemUptime.0", HostUptime(up)


def _port_monitor(harvest: Harvest, device: int) -> Facts:
    """The device ID that the Port Monitor MIB gives for this printer; its row tells whose it is, or that it is the only
    one."""
    rows = harvest.indexes(mib.PORT_MONITOR)
    own = [row for row in rows if harvest.number("ppmPrinterHrDeviceIndex", row) == device]
    for row in own or (rows if len(rows) == 1 else []):
        octets = harvest.octets("ppmPrinterIEEE1284DeviceId", row) or b""
        # The length that leads on a cable begins with NUL, behind which text would begin.
        pairs = parse_device_id(decoded(octets[2:] if octets[:1] == b"\0" else octets))
        if pairs:
            source = f"ppmPrinterIEEE1284DeviceId.{row[-1]}"
            yield source, DeviceId(pairs)
            if serial := DeviceId(pairs).get("SN", "SERN", "SERIALNUMBER"):
                yield source, Serial(serial)


def error_labels(octets: bytes | None) -> tuple[str, ...] | None:
    """hrPrinterDetectedErrorState: names of the bits that are set, bit 0 being the most significant of octet 1.

    Any number of octets is legal (RFC 3805 s2.2.13.2.1 counts 0 to 128); None stays None: not readable is not "none".
    """
    if octets is None:
        return None
    bits = (bit for bit in range(len(octets) * 8) if octets[bit // 8] & 0x80 >> bit % 8)
    return tuple(labels.label(labels.HR_PRINTER_ERRORS, bit) for bit in bits)


def sub_unit(status: int | None) -> SubUnit | None:
    """PrtSubUnitStatusTC (RFC 3805 s6); None for what is not legal there: outside 0..126, or availability 7."""
    if status is None or not 0 <= status <= 126 or status % 8 not in _AVAILABILITY:
        return None
    return SubUnit(
        availability=_AVAILABILITY[status % 8],
        non_critical=bool(status & 8),
        critical=bool(status & 16),
        offline=bool(status & 32),
        transitioning=bool(status & 64),
    )


def markers(harvest: Harvest) -> Facts:
    for source, rows in rows_of(harvest, mib.MARKER):
        found = tuple(
            MarkerRow(
                index=row[-1],
                technology=harvest.label("prtMarkerMarkTech", row),
                unit=harvest.label("prtMarkerCounterUnit", row),
                life_count=harvest.number("prtMarkerLifeCount", row),
                power_on_count=harvest.number("prtMarkerPowerOnCount", row),
            )
            for row in rows
        )
        if found:
            yield source, Markers(found, harvest.complete(mib.MARKER))


def supplies(harvest: Harvest) -> Facts:
    for source, rows in rows_of(harvest, mib.SUPPLIES):
        found = tuple(
            Supply(
                index=row[-1],
                family=harvest.label("prtMarkerSuppliesClass", row),
                type=harvest.label("prtMarkerSuppliesType", row),
                description=harvest.text("prtMarkerSuppliesDescription", row, charset(harvest, row[0])),
                unit=harvest.label("prtMarkerSuppliesSupplyUnit", row),
                capacity=harvest.amount("prtMarkerSuppliesMaxCapacity", row),
                level=harvest.amount("prtMarkerSuppliesLevel", row),
                colorant=_colorant(harvest, row),
            )
            for row in rows
        )
        if found:
            yield source, Supplies(found, harvest.complete(mib.SUPPLIES))


def _colorant(harvest: Harvest, row: Oid) -> str:
    """The colour of a supply; a colorant index of 0 says that it has no single one."""
    colorant = harvest.number("prtMarkerSuppliesColorantIndex", row)
    return harvest.text("prtMarkerColorantValue", (row[0], colorant)) if colorant else ""


def inputs(harvest: Harvest) -> Facts:
    for source, rows in rows_of(harvest, mib.INPUT):
        found = tuple(_input(harvest, row, charset(harvest, row[0])) for row in rows)
        if found:
            yield source, Inputs(found, harvest.complete(mib.INPUT))


def _input(harvest: Harvest, row: Oid, language: str) -> InputRow:
    return InputRow(
        index=row[-1],
        type=harvest.label("prtInputType", row),
        name=harvest.text("prtInputName", row),
        description=harvest.text("prtInputDescription", row, language),
        media_name=harvest.text("prtInputMediaName", row),
        media_type=harvest.text("prtInputMediaType", row),
        feed=_dimension(harvest, row, "prtInputMediaDimFeedDir"),
        cross=_dimension(harvest, row, "prtInputMediaDimXFeedDir"),
        unit=harvest.label("prtInputCapacityUnit", row),
        capacity=harvest.amount("prtInputMaxCapacity", row),
        level=harvest.amount("prtInputCurrentLevel", row),
        status=sub_unit(harvest.number("prtInputStatus", row)),
    )


def _dimension(harvest: Harvest, row: Oid, name: str) -> Amount:
    """A length in micrometres: as chosen, or as declared where there is no object for what was chosen."""
    chosen = harvest.number(f"{name}Chosen", row)
    number = harvest.number(f"{name}Declared", row) if chosen is None else chosen
    unit = harvest.number("prtInputDimUnit", row)
    return micrometres(number, unit)


def micrometres(number: int | None, unit: int | None) -> Amount:
    """A length in PrtMediaUnitTC as micrometres; one whose unit is not known says nothing."""
    length = amount(number)
    if not isinstance(length, Measured) or unit == _MICROMETERS:
        return length
    return Measured(round(length.value * 254 / 100)) if unit == _TEN_THOUSANDTHS_OF_INCHES else Unknown()


def outputs(harvest: Harvest) -> Facts:
    for source, rows in rows_of(harvest, mib.OUTPUT):
        found = tuple(
            OutputRow(
                index=row[-1],
                type=harvest.label("prtOutputType", row),
                name=harvest.text("prtOutputName", row),
                unit=harvest.label("prtOutputCapacityUnit", row),
                capacity=harvest.amount("prtOutputMaxCapacity", row),
                remaining=harvest.amount("prtOutputRemainingCapacity", row),
                status=sub_unit(harvest.number("prtOutputStatus", row)),
            )
            for row in rows
        )
        if found:
            yield source, Outputs(found, harvest.complete(mib.OUTPUT))


def covers(harvest: Harvest) -> Facts:
    for source, rows in rows_of(harvest, mib.COVER):
        found = tuple(
            CoverRow(
                index=row[-1],
                description=harvest.text("prtCoverDescription", row, charset(harvest, row[0])),
                status=harvest.label("prtCoverStatus", row),
            )
            for row in rows
        )
        if found or _has_printer_mib(harvest):
            yield source, Covers(found, harvest.complete(mib.COVER))


def alerts(harvest: Harvest) -> Facts:
    for source, rows in rows_of(harvest, mib.ALERT):
        found = tuple(_alert(harvest, row, charset(harvest, row[0])) for row in rows)
        if found or _has_printer_mib(harvest):
            yield source, Alerts(found, harvest.complete(mib.ALERT))


def _alert(harvest: Harvest, row: Oid, language: str) -> AlertRow:
    return AlertRow(
        index=row[-1],
        severity=harvest.label("prtAlertSeverityLevel", row),
        training=harvest.label("prtAlertTrainingLevel", row),
        group=harvest.label("prtAlertGroup", row),
        group_index=_place(harvest.number("prtAlertGroupIndex", row)),
        location=_place(harvest.number("prtAlertLocation", row)),
        code=harvest.label("prtAlertCode", row),
        description=harvest.text("prtAlertDescription", row, language),
        at_centiseconds=harvest.number("prtAlertTime", row),
    )


def _place(number: int | None) -> int | None:
    """-1 is not applicable and -2 unknown (RFC 3805 s6); agents write either for both, and no place is negative."""
    return number if number is not None and number >= 0 else None


def rows_of(harvest: Harvest, table: Table) -> Iterator[tuple[str, list[Oid]]]:
    """The source and the rows of a table for the printer; nothing when the agent shows no printer."""
    for device in printers(harvest)[:1]:
        own = rows_under(harvest, device)
        source = f"{table.row.removesuffix('Entry')}Table.{own}"
        yield source, [row for row in harvest.indexes(table, below=(own,)) if len(row) == 2]


def _has_printer_mib(harvest: Harvest) -> bool:
    """Of the printer that is read; another one's Printer MIB says nothing of it."""
    own = [rows_under(harvest, device) for device in printers(harvest)[:1]]
    return bool(own and harvest.indexes(mib.GENERAL, below=(own[0],)))
