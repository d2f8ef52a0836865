"""Stage: read, what the printer can do and what it is called, and its clock. Pure. What a device did not say, or said
in another kind than the standard's, stays unsaid; the rest of it counts."""

from collections.abc import Iterator
from typing import Final

from netcheck.facts import Fact
from netcheck.facts.capability import Capabilities, Margins
from netcheck.facts.condition import PrinterClock
from netcheck.facts.identity import PrinterNames
from probes.ipp.said import Attributes, Values, flag, number, text, texts, words
from probes.ipp.values import DateTime, Enumerated, Integer, Range, Resolution, Text

_UM: Final = 10  # in 1/100 mm
_FINISHINGS: Final = {
    3: "none",
    4: "staple",
    5: "punch",
    6: "cover",
    7: "bind",
    8: "saddle-stitch",
    9: "edge-stitch",
    10: "fold",
    11: "trim",
    12: "bale",
    13: "booklet-maker",
    14: "jog-offset",
    15: "coat",
    16: "laminate",
    60: "trim-after-pages",
    61: "trim-after-documents",
    62: "trim-after-copies",
    63: "trim-after-job",
}
"""finishings (RFC 8011 section 5.2.6; from 10 on IANA's registry of PWG 5100.1, from memory); others stay numbers."""


def read_capability(said: Attributes) -> Iterator[tuple[str, Fact]]:
    """Capabilities, PrinterNames and PrinterClock, each only where the device said something of it."""
    can = Capabilities(
        flag(said.get("color-supported", ())),
        texts(said.get("sides-supported", ())),
        tuple(words((value,)) for value in said.get("printer-resolution-supported", ()) if _resolution(value)),
        _finishings(said.get("finishings-supported", ())),
        Margins(*(_margin(said.get(f"media-{side}-margin-supported", ())) for side in Margins.__struct_fields__)),
    )
    if can != Capabilities():
        yield "Get-Printer-Attributes", can
    names = PrinterNames(*(text(said.get(f"printer-{what}", ())) for what in PrinterNames.__struct_fields__))
    if names != PrinterNames():
        yield "printer-name", names
    clock = PrinterClock(
        number(said.get("printer-up-time", ())),
        number(said.get("printer-state-change-time", ())),
        number(said.get("printer-config-change-time", ())),
        _date(said.get("printer-current-time", ())),
        _date(said.get("printer-config-change-date-time", ())),
    )
    if clock != PrinterClock():
        yield "printer-up-time", clock


def _resolution(value: object) -> bool:
    return isinstance(value, Resolution) and value.across > 0 and value.along > 0


def _finishings(values: Values) -> tuple[str, ...]:
    told = (value for value in values if isinstance(value, Enumerated | Integer | Text))
    return tuple(
        value.value if isinstance(value, Text) else _FINISHINGS.get(value.value, str(value.value)) for value in told
    )


def _margin(values: Values) -> tuple[int, ...]:
    """Micrometres. Some devices give a range instead of a set, and both its ends are margins (common practice, no
    source)."""
    told: list[int] = []
    for value in values:
        match value:
            case Integer(value=margin) if margin >= 0:
                told.append(margin * _UM)
            case Range(lower=low, upper=high) if 0 <= low <= high:
                told += (low * _UM, high * _UM)
            case _:
                pass
    return tuple(dict.fromkeys(told))


def _date(values: Values) -> str:
    """The first dateTime, with its own offset from UTC; "" for one that is no date."""
    return words(value for value in values[:1] if isinstance(value, DateTime))
