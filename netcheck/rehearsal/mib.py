"""The rows that a simulated device's SNMP agent holds: values, their types, and how GET and GETNEXT find them.

A plain `int` is Integer32 and plain `bytes` an OCTET STRING; the other ASN.1 types of SMIv2 (RFC 2578 s7.1) have a
small class each. Nothing here knows how any of them is encoded.
"""

from __future__ import annotations

import bisect
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import Enum
from typing import NamedTuple

Oid = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Counter:
    """Counter32."""

    count: int


@dataclass(frozen=True, slots=True)
class Gauge:
    """Gauge32, which is Unsigned32 on the wire."""

    level: int


@dataclass(frozen=True, slots=True)
class Ticks:
    """TimeTicks, hundredths of a second. A running one grows from `start` while the agent runs."""

    start: int
    running: bool = False


@dataclass(frozen=True, slots=True)
class Pointer:
    """OBJECT IDENTIFIER."""

    oid: Oid


@dataclass(frozen=True, slots=True)
class Address:
    """IpAddress, dotted."""

    dotted: str


Value = int | bytes | Counter | Gauge | Ticks | Pointer | Address
Columns = dict[int, Value]  # the values of one row by column number


class Missing(Enum):
    """Why there is no value: the three exceptions of RFC 3416 s3."""

    OBJECT = "noSuchObject"
    INSTANCE = "noSuchInstance"
    END = "endOfMibView"


class Row(NamedTuple):
    """One variable: the object type, the instance of it, and its value."""

    object: Oid
    instance: Oid
    value: Value

    @property
    def oid(self) -> Oid:
        """The variable's whole name."""
        return self.object + self.instance


def oid(dotted: str) -> Oid:
    """The OID of its dotted form."""
    return tuple(int(arc) for arc in dotted.split("."))


def scalars(group: str, values: Columns) -> Iterator[Row]:
    """Scalar objects under `group`, by their last arc; the instance is .0."""
    return row(group, (0,), values)


def row(entry: str, index: Iterable[int], columns: Columns) -> Iterator[Row]:
    """One conceptual row: `entry` is the OID of the table's entry, `columns` its values by column number."""
    base, instance = oid(entry), tuple(index)
    return (Row((*base, column), instance, value) for column, value in columns.items())


def inet(dotted: str) -> Oid:
    """An IPv4 address as InetAddressType, length and octets, as the newer tables index by it (RFC 4001)."""
    return (1, 4, *oid(dotted))


Found = tuple[Oid, Value | Missing]


class Tree:
    """The variables in the order of their names, and the three ways to read them (RFC 3416 s4.2.1 to s4.2.3)."""

    def __init__(self, rows: Iterable[Row]) -> None:
        self.rows = sorted(rows, key=lambda row: row.oid)
        self._names = [row.oid for row in self.rows]
        self._objects = {row.object for row in self.rows}

    def get(self, name: Oid) -> Found:
        """GET: the variable of exactly this name, or whether its object or only this instance of it is missing."""
        at = bisect.bisect_left(self._names, name)
        if at < len(self._names) and self._names[at] == name:
            return name, self.rows[at].value
        known = any(name[:length] in self._objects for length in range(1, len(name) + 1))
        return name, Missing.INSTANCE if known else Missing.OBJECT

    def after(self, name: Oid) -> Found:
        """GETNEXT: the first variable whose name comes after `name`; at the end the name stays as asked."""
        at = bisect.bisect_right(self._names, name)
        return (self._names[at], self.rows[at].value) if at < len(self.rows) else (name, Missing.END)

    def bulk(self, names: list[Oid], once: int, times: int, room: int) -> list[Found]:
        """GETBULK: the first `once` names one step, the rest `times` steps side by side, in about `room` octets.

        Stops early where the octets are used up, or where every column has come to its end, as s4.2.3 allows.
        """
        found = [self.after(name) for name in names[:once]]
        room -= sum(_octets(entry) for entry in found)
        column = names[once:]
        for _ in range(times if column else 0):
            step = [self.after(name) for name in column]
            for entry in step:
                room -= _octets(entry)
                if room < 0:
                    return found
                found.append(entry)
            if all(value is Missing.END for _, value in step):
                return found
            column = [name for name, _ in step]
        return found


def _octets(found: Found) -> int:
    """An upper bound of what one variable takes in a message: each arc and each length in BER, and the value."""
    name, value = found
    size = len(value) if isinstance(value, bytes) else 5 * len(value.oid) if isinstance(value, Pointer) else 5
    return 12 + size + sum(1 + (arc.bit_length() - 1) // 7 if arc else 1 for arc in name)
