"""The printer's side of a simulated device's MIB: RFC 3805 and IANA-PRINTER-MIB, PWG 5107.1 (port monitor).

Tables are indexed by hrDeviceIndex first, then by the group's own index from 1. Index columns are not-accessible and so
have no rows, prtAlertIndex excepted.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.rehearsal import conditions as state
from netcheck.rehearsal.conditions import Condition, Group
from netcheck.rehearsal.device import Device, Input, Supply
from netcheck.rehearsal.mib import Columns, Counter, Gauge, Row, Ticks, row, scalars
from netcheck.rehearsal.mib_host import ETHERNET, PRINTER, host_rows

_PRT = "1.3.6.1.2.1.43"
_PPM = "1.3.6.1.4.1.2699.1.2.1"
_UNKNOWN, _SOME_ROOM = -2, -3
_LANGUAGES = {
    "application/pdf": (54, b"1.7", b"PDF"),
    "image/jpeg": (61, b"", b"JPEG"),
    "image/tiff": (40, b"6", b"TIFF"),
}
_CHANNELS = ((8, b"Queue=print\n"), (38, b"Port=9100\n"), (44, b""))  # chLPDServer, chBidirPortTCP, chIPP


def snmp_rows(device: Device) -> list[Row]:
    """Every row that the device's agent holds, sorted by OID as a walk must see them. Pure."""
    found = state.conditions(device)
    return sorted([*host_rows(device, found), *_printer_rows(device, found)], key=lambda entry: entry.oid)


def _printer_rows(device: Device, found: tuple[Condition, ...]) -> Iterator[Row]:
    yield from _general(device, found)
    for index, cover in enumerate(device.covers, 1):
        yield from _row(6, 1, index, {2: cover.name.encode(), 3: 3 if cover.open else 4})
    yield from _row(7, 1, 1, {2: b"en", 3: b"US", 4: 106})  # UTF-8
    for index, tray in enumerate(device.inputs, 1):
        yield from _row(8, 2, index, _input(tray, state.sub_unit_status(found, Group.input, index)))
    yield from _row(9, 2, 1, {2: 4, 3: 8, 4: 50, 5: _SOME_ROOM, 6: 0, 7: b"Stacker", 12: b"Stacker"})
    yield from _marker(device, found)
    yield from _supplies(device)
    yield from _paths_and_channels(device)
    for index, (family, level, name) in enumerate((_LANGUAGES[f] for f in device.formats if f in _LANGUAGES), 1):
        columns: Columns = {2: family, 3: level, 4: b"", 5: name, 6: device.firmware.encode(), 7: 3, 12: 4}
        yield from _row(15, 1, index, columns | {8: 600, 9: 600, 10: 106, 11: 106})
    yield from _console(found)
    for index, condition in enumerate(found, 1):
        yield from _row(18, 1, index, _alert(index, condition))
    yield from _port_monitor(device)


def _row(group: int, arc: int, index: int, columns: Columns) -> Iterator[Row]:
    return row(f"{_PRT}.{group}.{arc}.1", (PRINTER, index), columns)


def _general(device: Device, found: tuple[Condition, ...]) -> Iterator[Row]:
    critical = sum(condition.kind.critical for condition in found)
    columns: Columns = {
        1: Counter(0),
        2: 1,
        3: 3,  # not resetting
        4: b"",
        5: b"",
        6: 1,
        7: 1,
        8: 1,
        9: 1,
        10: 1,
        11: 1,
        12: 40,
        13: 3,  # console enabled
        14: 4,
        15: 4,
        16: device.host_name.encode(),
        17: device.serial.encode(),
        18: Counter(critical),
        19: Counter(len(found)),
    }
    yield from row(f"{_PRT}.5.1.1", (PRINTER,), columns)


def _input(tray: Input, status: int) -> Columns:
    roll = tray.feed == "roll"
    # A roll has no length of its own in the feed direction: -1, "this sub-unit places no restriction".
    feed = -1 if roll else tray.length_um
    return {
        2: 6 if roll else 3,  # continuousRoll, sheetFeedAutoRemovableTray
        3: 4,  # micrometers
        4: feed,
        5: tray.width_um,
        6: feed,
        7: tray.width_um,
        8: 17 if roll else 8,  # meters, sheets
        9: tray.capacity,
        10: tray.left,
        11: status,
        12: tray.size.encode(),
        13: tray.name.encode(),
        18: tray.name.encode(),
        19: 5,  # no lock present
        20: 95,
        21: tray.media_type.encode(),
        22: b"white",
        23: -1,
        24: -1,  # waits for ever
        25: 0,  # no automatic switch
    }


def _marker(device: Device, found: tuple[Condition, ...]) -> Iterator[Row]:
    inks = sum(not supply.receptacle for supply in device.supplies)
    columns: Columns = {
        2: 12,  # inkjetAqueous
        3: 7,  # impressions
        4: Counter(device.life_count),
        5: Counter(0),
        6: inks,
        7: 0,
        8: 3,  # ten-thousandths of inches; the next two are dots an inch
        9: 600,
        10: 600,
        11: 1970,
        12: 1970,
        13: 1970,
        14: 1970,
        15: state.sub_unit_status(found, Group.markerSupplies),
    }
    yield from _row(10, 2, 1, columns)


def _supplies(device: Device) -> Iterator[Row]:
    inks = [supply for supply in device.supplies if not supply.receptacle]
    for index, supply in enumerate(device.supplies, 1):
        yield from _row(11, 1, index, _supply(supply, inks.index(supply) + 1 if supply in inks else 0))
    for index, ink in enumerate(inks, 1):
        yield from _row(12, 1, index, {2: 1, 3: 3, 4: ink.colour.encode(), 5: 256})  # a process colour


def _supply(supply: Supply, colorant: int) -> Columns:
    return {
        2: 1,
        3: colorant,
        4: 4 if supply.receptacle else 3,  # receptacleThatIsFilled, supplyThatIsConsumed
        5: int(supply.type),
        6: supply.name.encode(),
        7: 19,  # percent
        8: 100,
        9: supply.percent,
    }


def _paths_and_channels(device: Device) -> Iterator[Row]:
    widest = max(tray.width_um for tray in device.inputs)
    longest = max(tray.length_um for tray in device.inputs)
    size: Columns = {3: 4, 5: longest, 6: widest, 7: 210_000, 8: 210_000}  # micrometers
    path: Columns = {2: 17, 4: 60, 9: 5, 10: b"Roll path", 11: 0}  # 60 meters an hour, simplex
    yield from _row(13, 4, 1, size | path)
    for index, (kind, information) in enumerate(_CHANNELS, 1):
        columns: Columns = {2: kind, 3: b"", 4: 0, 5: 1, 6: 3, 7: ETHERNET, 8: 0, 9: information}
        yield from _row(14, 1, index, columns)


def _console(found: tuple[Condition, ...]) -> Iterator[Row]:
    well = not any(condition.kind.critical for condition in found)
    yield from row(f"{_PRT}.16.5.1", (PRINTER, 1), {2: state.panel_text(found).encode()[:255]})
    light: Columns = {2: 1000, 3: 0, 4: 5 if well else 4, 5: b"Status"}  # steady; green, else red
    yield from row(f"{_PRT}.17.6.1", (PRINTER, 1), light)


def _alert(index: int, condition: Condition) -> Columns:
    return {
        1: index,
        2: int(condition.severity),
        3: 3,  # an untrained person can cure it
        4: int(condition.kind.group),
        5: condition.index,
        6: _UNKNOWN,
        7: condition.kind.code,
        8: condition.text.encode(),
        9: Ticks(100),
    }


def _port_monitor(device: Device) -> Iterator[Row]:
    yield from scalars(f"{_PPM}.1", {1: b"en", 2: Gauge(1), 3: Gauge(0)})
    name, identity = device.host_name.encode(), device.device_id.encode()
    yield from row(f"{_PPM}.2.1.1", (1,), {2: name, 3: identity, 4: Gauge(0), 5: 0, 6: PRINTER})
