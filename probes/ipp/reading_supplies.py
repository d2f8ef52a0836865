"""Stage: read, supplies. printer-supply is a set of octetStrings of `key=value;`, with the labels and numbers of the
Printer MIB in them, and printer-supply-description a set of texts beside it, by position (PWG 5100.13). Pure."""

from collections.abc import Iterator, Mapping

from netcheck.facts import Fact, amount
from netcheck.facts.supplies import Supplies, Supply
from probes.ipp.pairs import decimal, pairs
from probes.ipp.said import Attributes, octets, texts


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
        if said_of_it := pairs(supply):
            rows.append(_row(position + 1, said_of_it, description))
    yield "printer-supply", Supplies(tuple(rows), complete=len(rows) == len(values))


def _row(position: int, said: Mapping[str, str], description: str) -> Supply:
    index = decimal(said.get("index"))
    return Supply(
        position if index is None else index,
        said.get("class", ""),
        said.get("type", ""),
        description,
        said.get("unit", ""),
        amount(decimal(said.get("maxcapacity"))),
        amount(decimal(said.get("level"))),
        said.get("colorantname", ""),
    )
