"""The third half: the objects of one topic as the agent sent them, under the standard's names. Pure."""

from collections.abc import Iterator
from typing import Final

from netcheck.facts.raw import RawRow, cut, octets_row

from . import mib
from .ber import Oid
from .harvest import Harvest
from .message import Syntax, VarBind
from .mib import Table
from .plan import TABLES, Topic

_TYPES: Final = {
    Syntax.INTEGER32: "INTEGER",
    Syntax.OCTET_STRING: "OCTET STRING",
    Syntax.NULL: "NULL",
    Syntax.OBJECT_IDENTIFIER: "OBJECT IDENTIFIER",
    Syntax.IP_ADDRESS: "IpAddress",
    Syntax.COUNTER32: "Counter32",
    Syntax.GAUGE32: "Gauge32",
    Syntax.TIME_TICKS: "TimeTicks",
    Syntax.OPAQUE: "Opaque",
    Syntax.COUNTER64: "Counter64",
    Syntax.NO_SUCH_OBJECT: "noSuchObject",
    Syntax.NO_SUCH_INSTANCE: "noSuchInstance",
    Syntax.END_OF_MIB_VIEW: "endOfMibView",
}
"""The names of RFC 2578 s7.1 and RFC 3416 s3."""
_TABLES: Final = (mib.SYSTEM, *(table for tables in TABLES.values() for table in tables))
_COLUMNS: Final = {table.column(name): name for table in _TABLES for name in table.columns}
_LENGTHS: Final = sorted({len(oid) for oid in _COLUMNS}, reverse=True)
_BINARY: Final = {"hrPrinterDetectedErrorState", "ifPhysAddress"}
"""Octets that are bits or an address, also where they happen to be printable (RFC 2790, RFC 2863)."""


def objects(harvest: Harvest) -> Iterator[tuple[str, RawRow]]:
    """Each table's objects in the order of their OIDs. Of a topic about the printer the host's columns, which come with
    it, are left out: they are the host topic's own."""
    tables = TABLES.get(harvest.topic, (mib.SYSTEM,) if harvest.topic is Topic.SYSTEM else ())
    for group in dict.fromkeys(map(_group, tables)):
        names = [name for table in tables if _group(table) == group for name in table.columns]
        binds = (bind for name in names for bind in harvest.column(name).rows.values())
        for bind in sorted(binds, key=lambda bind: bind.oid):
            yield group, _row(bind)


def _group(table: Table) -> str:
    """Tables are called after their rows (RFC 2578 s7.1.12); a group of scalars has no row."""
    return f"{table.row.removesuffix('Entry')}Table" if table.row.endswith("Entry") else table.row


def named(oid: Oid) -> str:
    """The standard's name with the instance; the OID itself where we know none."""
    for length in _LENGTHS:
        if len(oid) > length and (name := _COLUMNS.get(oid[:length])):
            return ".".join((name, *map(str, oid[length:])))
    return ".".join(map(str, oid))


def _row(bind: VarBind) -> RawRow:
    name, oid, syntax = named(bind.oid), ".".join(map(str, bind.oid)), _TYPES[bind.syntax]
    if isinstance(bind.value, bytes):
        if bind.syntax is Syntax.IP_ADDRESS and len(bind.value) == 4:
            return RawRow(name, oid, syntax, ".".join(map(str, bind.value)))
        binary = bind.syntax is not Syntax.OCTET_STRING or name.partition(".")[0] in _BINARY
        return octets_row(name, oid, syntax, bind.value, binary=binary)
    value = ".".join(map(str, bind.value)) if isinstance(bind.value, tuple) else str(bind.value)
    return RawRow(name, oid, syntax, "" if bind.value is None else cut(value))
