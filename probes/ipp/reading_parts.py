"""Stage: read, the parts. printer-alert, printer-input-tray and printer-output-tray are rows of the Printer MIB's
alert, input and output tables, written as `key=value;` (PWG 5100.9 and PWG 5100.13; the keys from memory). So they
become the same facts, read by the same tables as what SNMP tells. Pure.

A dimension counts only where its unit is told (`dimunit`). Without it one device means micrometres, the next one 1/100
mm and a third 1/10000 inch, for the same sheet (common practice, no source), and no number says which.
"""

from collections.abc import Iterator, Mapping
from typing import Final

from netcheck.facts import Amount, Fact, Measured, Unknown, amount
from netcheck.facts.condition import AlertRow, Alerts, SubUnit
from netcheck.facts.media import InputRow, Inputs, OutputRow, Outputs
from probes.ipp.pairs import decimal, label, pairs, placeless
from probes.ipp.said import Attributes, Values, in_place, octets
from probes.ipp.values import Octets, OutOfBand, Tag, Text
from probes.snmp import labels
from probes.snmp.reading_printer import micrometres, sub_unit

Pairs = Mapping[str, str]
Facts = Iterator[tuple[str, Fact]]

_UNITS: Final = {unit: number for number, unit in labels.PrtMediaUnitTC.items()}
_NONE: Final = (OutOfBand(Tag.NO_VALUE),)
_MORE: Final = 256
"""Rows that are read of one attribute; a device with more alerts or trays than that lists nonsense."""


def read_parts(said: Attributes) -> Facts:
    """Alerts, inputs and outputs; a value that cannot be read makes its list incomplete, and no worse."""
    rows, complete = _rows(alerts := said.get("printer-alert", ()))
    if rows or alerts == _NONE:
        words = tuple(map(placeless, in_place(said.get("printer-alert-description", ()))))
        found = tuple(_alert(at, row, words[at - 1] if at <= len(words) else "") for at, row in rows)
        yield "printer-alert", Alerts(found, complete)
    rows, complete = _rows(said.get("printer-input-tray", ()))
    if rows:
        yield "printer-input-tray", Inputs(tuple(_input(at, row) for at, row in rows), complete)
    rows, complete = _rows(said.get("printer-output-tray", ()))
    if rows:
        yield "printer-output-tray", Outputs(tuple(_output(at, row) for at, row in rows), complete)


def _rows(values: Values) -> tuple[list[tuple[int, Pairs]], bool]:
    """Each value that says anything, with its position from 1; and whether all of them could be read."""
    strings = octets(values[:_MORE])
    rows: list[tuple[int, Pairs]] = [(at, row) for at, row in enumerate(map(pairs, strings), 1) if row]
    blank = sum(
        isinstance(value, Octets | Text) and not string.strip("\0 ;")
        for value, string in zip(values, strings, strict=False)
    )
    return rows, values == _NONE or len(rows) + blank == len(values)


def _alert(at: int, row: Pairs, description: str) -> AlertRow:
    group_index, location = decimal(row.get("groupindex")), decimal(row.get("location"))
    index = decimal(row.get("index"))
    return AlertRow(
        index=at if index is None else index,
        severity=label(labels.PrtAlertSeverityLevelTC, row.get("severity", "")),
        training=label(labels.PrtAlertTrainingLevelTC, row.get("training", "")),
        group=label(labels.PrtAlertGroupTC, row.get("group", "")),
        group_index=None if group_index is None or group_index < 0 else group_index,
        location=None if location is None or location < 0 else location,
        code=label(labels.PrtAlertCodeTC, row.get("code", "")),
        description=description,
        at_centiseconds=decimal(row.get("time")),
    )


def _input(at: int, row: Pairs) -> InputRow:
    index = decimal(row.get("index"))
    return InputRow(
        index=at if index is None else index,
        type=label(labels.PrtInputTypeTC, row.get("type", "")),
        name=row.get("name", ""),
        description="",
        media_name=row.get("medianame", ""),
        media_type=row.get("mediatype", ""),
        feed=_dimension(row, "mediafeed"),
        cross=_dimension(row, "mediaxfeed"),
        unit=label(labels.PrtCapacityUnitTC, row.get("unit", "")),
        capacity=amount(decimal(row.get("maxcapacity"))),
        level=amount(decimal(row.get("level"))),
        status=_status(row),
    )


def _output(at: int, row: Pairs) -> OutputRow:
    index = decimal(row.get("index"))
    return OutputRow(
        index=at if index is None else index,
        type=label(labels.PrtOutputTypeTC, row.get("type", "")),
        name=row.get("name", ""),
        unit=label(labels.PrtCapacityUnitTC, row.get("unit", "")),
        capacity=amount(decimal(row.get("maxcapacity"))),
        remaining=amount(decimal(row.get("remaining"))),
        status=_status(row),
    )


def _dimension(row: Pairs, key: str) -> Amount:
    """In micrometres. A length of nothing is how devices say that they do not know (common practice, no source)."""
    unit = label(labels.PrtMediaUnitTC, row.get("dimunit", ""))
    length = micrometres(decimal(row.get(key)), _UNITS.get(unit))
    return Unknown() if length == Measured(0) else length


def _status(row: Pairs) -> SubUnit | None:
    return sub_unit(decimal(row.get("status")))
