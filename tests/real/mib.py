"""The rows that a printer's SNMP agent serves: the tables of RFC 3805 and the printer's part of RFC 2790.

`rows` is the only way in. Columns are given by number, as the tables of RFC 3805 section 6 number them.
"""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final, get_args

from .devices import Device, ErrorBit

HOST: Final = "1.3.6.1.2.1.25.3"
PRINTER: Final = "1.3.6.1.2.1.43"
SUPPLIES: Final = f"{PRINTER}.11.1.1"
DEVICE: Final = 1  # hrDeviceIndex

PERCENT, METRES, MICROMETRES, IMPRESSIONS = 19, 17, 4, 7
OTHER, UNKNOWN, SOME_LEFT = -1, -2, -3  # RFC 3805 section 2.4


@dataclass(frozen=True)
class Row:
    """One object: its type in the words of pass_persist, its value as it takes it (octets in hexadecimal)."""

    oid: str
    kind: str
    value: str


@dataclass(frozen=True)
class Counter:
    count: int


@dataclass(frozen=True)
class Ticks:
    hundredths: int


@dataclass(frozen=True)
class ObjectId:
    dotted: str


Value = int | str | bytes | Counter | Ticks | ObjectId


def rows(device: Device) -> list[Row]:
    """Everything under HOST and PRINTER that the device says."""
    return [*_host(device), *_general(device), *_media(device), *_marking(device), *_interfaces(), *_panel(device)]


def document(found: list[Row], loop: str = "", end: str = "") -> str:
    """What the responder reads (see inside/responder.py)."""
    return json.dumps({"rows": [[row.oid, row.kind, row.value] for row in found], "loop": loop, "end": end})


def _row(base: str, index: str, columns: Mapping[int, Value]) -> Iterator[Row]:
    for column, value in columns.items():
        yield Row(f"{base}.{column}.{index}", *_encoded(value))


def _encoded(value: Value) -> tuple[str, str]:
    match value:
        case int():
            return "INTEGER", str(value)
        case str():
            return _encoded(value.encode())
        case bytes():
            return "OCTET", value.hex(" ")
        case Counter(count):
            return "Counter", str(count)
        case Ticks(hundredths):
            return "Timeticks", str(hundredths)
        case ObjectId(dotted):
            return "OBJECTID", dotted


def error_octets(errors: frozenset[ErrorBit]) -> bytes:
    """hrPrinterDetectedErrorState: bit 0 is the most significant bit of the first octet (RFC 2790)."""
    bits = sum(0x8000 >> number for number, name in enumerate(get_args(ErrorBit)) if name in errors)
    return bits.to_bytes(2, "big")


def _host(device: Device) -> Iterator[Row]:
    printer_type, no_id = ObjectId("1.3.6.1.2.1.25.3.1.5"), ObjectId("0.0")
    described: dict[int, Value] = {1: DEVICE, 2: printer_type, 3: device.name, 4: no_id}
    yield from _row(f"{HOST}.2.1", f"{DEVICE}", {**described, 5: device.device_status, 6: Counter(0)})
    yield from _row(f"{HOST}.5.1", f"{DEVICE}", {1: device.printer_status, 2: error_octets(device.errors)})


def _general(device: Device) -> Iterator[Row]:
    defaults: dict[int, Value] = {1: Counter(3), 2: 1, 3: 3, 4: "", 5: "", 6: 1, 7: 1, 8: 1, 9: 1, 10: 1}
    panel: dict[int, Value] = {11: 2, 12: 40, 13: 3}
    named: dict[int, Value] = {16: device.name, 17: device.serial, 18: Counter(0), 19: Counter(len(device.alerts))}
    yield from _row(f"{PRINTER}.5.1.1", f"{DEVICE}", defaults | panel | named)
    for number, (name, status) in enumerate(device.covers, 1):
        yield from _row(f"{PRINTER}.6.1.1", f"{DEVICE}.{number}", {2: name, 3: status})
    yield from _row(f"{PRINTER}.7.1.1", f"{DEVICE}.1", {2: "en", 3: "GB", 4: 106})  # 106: UTF-8


def _media(device: Device) -> Iterator[Row]:
    for number, roll in enumerate(device.rolls, 1):
        width = roll.width * 10  # hundredths of a millimetre in micrometres
        sizes: dict[int, Value] = {2: 6, 3: MICROMETRES, 4: OTHER, 5: width, 6: UNKNOWN, 7: width}
        amount: dict[int, Value] = {8: METRES, 9: roll.full, 10: roll.left, 11: roll.status}
        named: dict[int, Value] = {12: f"roll {width // 1000} mm", 13: roll.name, 18: roll.name, 21: roll.media_type}
        yield from _row(f"{PRINTER}.8.2.1", f"{DEVICE}.{number}", sizes | amount | named)
    yield from _row(f"{PRINTER}.9.2.1", f"{DEVICE}.1", {2: 4, 3: 8, 4: UNKNOWN, 5: SOME_LEFT, 6: 0, 7: "Catch bin"})
    widest = device.widest * 10
    path: dict[int, Value] = {2: 17, 3: MICROMETRES, 4: 90, 5: OTHER, 6: widest, 7: 210_000, 8: 210_000}
    yield from _row(f"{PRINTER}.13.4.1", f"{DEVICE}.1", {**path, 9: 5, 10: "Roll path", 11: 0})


def _marking(device: Device) -> Iterator[Row]:
    counted: dict[int, Value] = {2: 12, 3: IMPRESSIONS, 4: Counter(device.life_count), 5: Counter(1), 6: 4, 7: 0}
    resolution: dict[int, Value] = {8: 3, 9: 600, 10: 600, 11: 1969, 12: 1969, 13: 1969, 14: 1969, 15: 0}
    yield from _row(f"{PRINTER}.10.2.1", f"{DEVICE}.1", counted | resolution)
    for number, supply in enumerate(device.supplies, 1):
        kind: dict[int, Value] = {2: 1, 3: 0, 4: 4, 5: 8} if supply.waste else {2: 1, 3: number, 4: 3, 5: 6}
        amount: dict[int, Value] = {6: supply.name, 7: PERCENT, 8: 100, 9: supply.level}
        yield from _row(SUPPLIES, f"{DEVICE}.{number}", kind | amount)
        if not supply.waste:
            yield from _row(f"{PRINTER}.12.1.1", f"{DEVICE}.{number}", {2: 1, 3: 3, 4: supply.colour, 5: 256})


def _interfaces() -> Iterator[Row]:
    """chPortTCP with its port and chIPP (IANA-PRINTER-MIB); one interpreter, PostScript."""
    for number, (kind, information) in enumerate(((37, "Port=9100\n"), (44, "")), 1):
        columns: dict[int, Value] = {2: kind, 3: "", 4: 0, 5: 1, 6: 3, 7: 2, 8: 0, 9: information}
        yield from _row(f"{PRINTER}.14.1.1", f"{DEVICE}.{number}", columns)
    language: dict[int, Value] = {2: 6, 3: "3", 4: "", 5: "PostScript 3", 6: "", 7: 3, 8: 600, 9: 600}
    yield from _row(f"{PRINTER}.15.1.1", f"{DEVICE}.1", {**language, 10: 106, 11: 106, 12: 3})


def _panel(device: Device) -> Iterator[Row]:
    yield from _row(f"{PRINTER}.16.5.1", f"{DEVICE}.1", {2: device.alerts[0].text if device.alerts else "Ready"})
    for number, alert in enumerate(device.alerts, 1):
        place: dict[int, Value] = {1: number, 2: alert.severity, 3: 3, 4: alert.group, 5: alert.index, 6: UNKNOWN}
        yield from _row(f"{PRINTER}.18.1.1", f"{DEVICE}.{number}", {**place, 7: alert.code, 8: alert.text, 9: Ticks(9)})
