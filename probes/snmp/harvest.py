"""What the ask half hands to the read half: whole columns of one topic, and how to look into them. No I/O.

Looking is where the standard's types meet the agent's. A value of another type than the object has is no value: an
error state that comes as a number is not "no errors".
"""

from collections.abc import Iterable, Mapping

import msgspec

from netcheck.facts import Amount, amount

from . import mib
from .ber import Oid
from .labels import label
from .message import Spoken, Syntax, VarBind
from .mib import Table
from .plan import ON_THE_PRINTER, TABLES, Topic
from .text import CHARSETS, UTF_8, decoded

_LARGEST = 2**53 - 1
"""More than any object that is read here can lawfully have (RFC 2578 s7.1), and than JSON keeps exact."""
_NUMBERS = {Syntax.INTEGER32, Syntax.COUNTER32, Syntax.GAUGE32, Syntax.TIME_TICKS, Syntax.COUNTER64}
_UNSIGNED = {Syntax.COUNTER32, Syntax.GAUGE32, Syntax.TIME_TICKS}


class Harvested(msgspec.Struct, frozen=True):
    """One column: its objects by what follows the column in their identifier. `complete`: there is no more of it."""

    rows: Mapping[Oid, VarBind]
    complete: bool
    after: Oid | None = None


_NOTHING = Harvested({}, complete=False)


class Harvest(msgspec.Struct, frozen=True):
    """The columns of one topic, by name; those of the host come with every topic that is about its printer."""

    topic: Topic
    version: Spoken
    columns: Mapping[str, Harvested]

    def column(self, name: str) -> Harvested:
        return self.columns.get(name, _NOTHING)

    def complete(self, *tables: Table) -> bool:
        """Whether every column of these tables was read to its end."""
        return all(self.column(name).complete for table in tables for name in table.columns)

    def indexes(self, *tables: Table, below: Oid = ()) -> list[Oid]:
        """The indexes of all rows that begin with `below`, in order: a column may lack a row that another has."""
        found: set[Oid] = set()
        for table in tables:
            for name in table.columns:
                found.update(self.column(name).rows)
        return sorted(index for index in found if index[: len(below)] == below) if below else sorted(found)

    def number(self, name: str, index: Oid) -> int | None:
        """An integer. A Counter32, Gauge32 or TimeTicks with its sign bit set lacks its leading zero octet, which is
        how some agents send what is over 2^31 (RFC 2578 s7.1.6: these are never negative)."""
        bind = self.column(name).rows.get(index)
        if bind is None or bind.syntax not in _NUMBERS or not isinstance(bind.value, int):
            return None
        number = bind.value + 2**32 if bind.value < 0 and bind.syntax in _UNSIGNED else bind.value
        return number if abs(number) <= _LARGEST else None

    def amount(self, name: str, index: Oid) -> Amount:
        return amount(self.number(name, index))

    def label(self, name: str, index: Oid) -> str:
        """The standard's name of an enumerated value, its number where it has none, "" where there is no value."""
        number = self.number(name, index)
        return "" if number is None else label(mib.ENUMERATIONS[name], number)

    def octets(self, name: str, index: Oid) -> bytes | None:
        bind = self.column(name).rows.get(index)
        known = bind is not None and bind.syntax in (Syntax.OCTET_STRING, Syntax.IP_ADDRESS)
        return bind.value if known and bind is not None and isinstance(bind.value, bytes) else None

    def oid(self, name: str, index: Oid) -> Oid | None:
        bind = self.column(name).rows.get(index)
        return bind.value if bind is not None and isinstance(bind.value, tuple) else None

    def text(self, name: str, index: Oid, charset: str = UTF_8) -> str:
        return decoded(self.octets(name, index) or b"", charset)


def printers(harvest: Harvest) -> list[int]:
    """hrDeviceIndex of every printer behind the agent (RFC 2790: hrDeviceType is hrDevicePrinter), those that have a
    Printer MIB first: what is a fax, or only sends jobs on, is called a printer too.

    Where the device table is missing or names none, whatever has a printer's status or rows of a Printer MIB counts.
    """
    types = harvest.column("hrDeviceType").rows
    by_type = {index[0] for index, bind in types.items() if bind.value == mib.HR_DEVICE_PRINTER and len(index) == 1}
    found = by_type or _first_arcs(harvest.indexes(mib.HR_PRINTER)) or _told_under(harvest)
    general = _first_arcs(harvest.indexes(mib.GENERAL))
    return sorted(found, key=lambda device: (device not in general, device))


def rows_under(harvest: Harvest, device: int) -> int:
    """What the rows of a printer's Printer MIB begin with: its hrDeviceIndex (RFC 3805 s2.2.13). Some agents write
    another number there, always 0 for one, in all tables or in some; where there is one printer, and one such number
    that is no other Printer MIB's, they belong together."""
    general = _first_arcs(harvest.indexes(mib.GENERAL))
    told = _arcs_of_topic(harvest) or general
    strange = told - general if device in general else told
    return strange.pop() if device not in told and len(strange) == 1 == len(printers(harvest)) else device


def _told_under(harvest: Harvest) -> set[int]:
    """What the rows of the Printer MIB begin with; those of the topic, where there is no general table."""
    return _first_arcs(harvest.indexes(mib.GENERAL)) or _arcs_of_topic(harvest)


def _arcs_of_topic(harvest: Harvest) -> set[int]:
    tables = TABLES.get(harvest.topic, ()) if harvest.topic in ON_THE_PRINTER else ()
    return {index[0] for table in tables for index in harvest.indexes(table) if len(index) == 2}


def _first_arcs(indexes: Iterable[Oid]) -> set[int]:
    return {index[0] for index in indexes if len(index) == 1}


def charset(harvest: Harvest, under: int, localization: str = "prtGeneralCurrentLocalization") -> str:
    """Python's name for the character set of the localization that is in use (RFC 3805 prtLocalizationTable): the
    printer's, or its console's (prtConsoleLocalization). Where that one is not among the rows that were read, the set
    that all of these are in."""
    current = harvest.number(localization, (under,))
    number = harvest.number("prtLocalizationCharacterSet", (under, current)) if current is not None else None
    if number is None:
        listed = {harvest.number("prtLocalizationCharacterSet", row) for row in _localizations(harvest, under)}
        number = listed.pop() if len(listed) == 1 else None
    return CHARSETS.get(number, UTF_8) if number is not None else UTF_8


def _localizations(harvest: Harvest, under: int) -> list[Oid]:
    return harvest.indexes(mib.LOCALIZATION, below=(under,))
