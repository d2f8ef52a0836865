"""Stage: read, supplies. printer-supply is a set of octetStrings of `key=value;`, with the labels and numbers of the
Printer MIB in them, and printer-supply-description a set of texts beside it, by position (PWG 5100.13). Pure.

Many devices have CUPS's marker attributes instead (CUPS's own extension of IPP, from memory): marker-names,
marker-types, marker-levels in percent and marker-high-levels, by position too. They are read only where
printer-supply says nothing.
"""

from collections.abc import Iterator, Mapping
from typing import Final

from netcheck.facts import Amount, Fact, Measured, Some, Unknown, amount
from netcheck.facts.supplies import Supplies, Supply
from probes.ipp.pairs import decimal, label, pairs, placeless
from probes.ipp.said import Attributes, Values, in_place, octets
from probes.ipp.values import Integer
from probes.snmp import labels

_RECEPTACLE: Final = "receptacleThatIsFilled"
_CONSUMED: Final = "supplyThatIsConsumed"
_NO_COLOURS: Final = {"none", "unknown"}


def read_supplies(said: Attributes) -> Iterator[tuple[str, Fact]]:
    """All that can be read; one value that cannot makes the list incomplete, and no worse."""
    values = said.get("printer-supply", ())
    descriptions = in_place(said.get("printer-supply-description", ()))
    rows = tuple(
        _row(at, said_of_it, _at(descriptions, at))
        for at, said_of_it in enumerate(map(pairs, octets(values)))
        if said_of_it
    )
    if not rows and (markers := _markers(said)):
        yield "marker-levels", markers
    elif any(octets(values)):
        yield "printer-supply", Supplies(rows, complete=len(rows) == len(values))


def _row(at: int, said: Mapping[str, str], description: str) -> Supply:
    index = decimal(said.get("index"))
    kind = label(labels.PrtMarkerSuppliesTypeTC, said.get("type", ""))
    colorant = said.get("colorantname", "")
    return Supply(
        at + 1 if index is None else index,
        label(labels.PrtMarkerSuppliesClassTC, said.get("class", "")) or _class_of(kind),
        kind,
        placeless(description),
        label(labels.PrtMarkerSuppliesSupplyUnitTC, said.get("unit", "")),
        amount(decimal(said.get("maxcapacity"))),
        amount(decimal(said.get("level"))),
        "" if colorant.lower() in _NO_COLOURS else colorant,
    )


def _class_of(kind: str) -> str:
    """Where only the type is told: wasteToner, wasteInk, wasteWater, wasteWax and wastePaper are what a receptacle
    takes up (RFC 3805 section 6, PrtMarkerSuppliesTypeTC); of the others some could be either."""
    return _RECEPTACLE if kind.startswith("waste") else ""


def _markers(said: Attributes) -> Supplies | None:
    levels = said.get("marker-levels", ())
    told = tuple(level.value if isinstance(level, Integer) else None for level in levels)
    names, kinds = in_place(said.get("marker-names", ())), in_place(said.get("marker-types", ()))
    colours, highs = in_place(said.get("marker-colors", ())), said.get("marker-high-levels", ())
    rows = tuple(
        _marker(
            at, level, label(labels.PrtMarkerSuppliesTypeTC, _at(kinds, at)), _at(names, at), _at(colours, at), highs
        )
        for at, level in enumerate(told)
        if level is not None
    )
    return Supplies(rows, complete=len(rows) == len(levels)) if rows else None


def _marker(at: int, level: int, kind: str, name: str, colour: str, highs: Values) -> Supply:
    waste = _class_of(kind) == _RECEPTACLE
    left = _room(level, highs[at : at + 1]) if waste else _left(level)
    colorant = "" if waste or colour.lower() in _NO_COLOURS else colour
    return Supply(at + 1, _RECEPTACLE if waste else _CONSUMED, kind, name, "percent", Measured(100), left, colorant)


def _left(level: int) -> Amount:
    """-3 is some; -1 is a level that is not available, not the MIB's "no limit" (CUPS, from memory)."""
    return Measured(level) if level >= 0 else Some() if level == -3 else Unknown()


def _room(level: int, high: Values) -> Amount:
    """Of a receptacle the level is how full it is, and marker-high-levels where it gets critical. Not every device
    counts so (common practice, no source); one whose threshold lies below 100 certainly does."""
    match high:
        case (Integer(value=threshold),) if 0 < threshold < 100 and 0 <= level <= 100:
            return Measured(100 - level)
        case _:
            return Unknown()


def _at(strings: tuple[str, ...], at: int) -> str:
    return strings[at].strip() if at < len(strings) else ""
