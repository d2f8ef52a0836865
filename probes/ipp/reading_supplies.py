"""Stage: read, supplies. printer-supply is a set of octetStrings of `key=value;`, with the labels and numbers of the
Printer MIB in them, and printer-supply-description a set of texts beside it, by position (PWG 5100.13). Pure."""

import re
from collections.abc import Iterator, Mapping

from netcheck.facts import Fact, amount
from netcheck.facts.supplies import Supplies, Supply
from probes.ipp.said import Attributes, octets, texts

_DECIMAL = re.compile("-?[0-9]{1,10}")


def read_supplies(said: Attributes) -> Iterator[tuple[str, Fact]]:
    """All that can be read; one value that cannot makes the list incomplete, and no worse."""
    values = said.get("printer-supply", ())
    supplies = octets(values)
    descriptions = texts(said.get("printer-supply-description", ()))
    if not supplies:
        return
    rows = []
    for position, supply in enumerate(supplies):
        description = descriptions[position] if position < len(descriptions) else ""
        if pairs := _pairs(supply):
            rows.append(_row(position + 1, pairs, description))
    yield "printer-supply", Supplies(tuple(rows), complete=len(rows) == len(values))


def _pairs(supply: str) -> dict[str, str]:
    """The last semicolon may be missing, as it was in the first edition; the first of two equal keys counts."""
    pairs: dict[str, str] = {}
    for part in supply.split(";"):
        key, equals, value = part.partition("=")
        if equals:
            pairs.setdefault(key.strip().lower(), value.strip())
    return pairs


def _row(position: int, pairs: Mapping[str, str], description: str) -> Supply:
    index = _number(pairs.get("index"))
    return Supply(
        position if index is None else index,
        pairs.get("class", ""),
        pairs.get("type", ""),
        description,
        pairs.get("unit", ""),
        amount(_number(pairs.get("maxcapacity"))),
        amount(_number(pairs.get("level"))),
        pairs.get("colorantname", ""),
    )


def _number(text: str | None) -> int | None:
    """A decimal of 32 bits, as everything in the Printer MIB is; anything else says nothing."""
    number = int(text) if text and _DECIMAL.fullmatch(text) else None
    return number if number is not None and -(2**31) <= number < 2**31 else None
