"""What is asked of a device, and together with what. Data for the ask half.

A topic is what one answer of the probe is about; a batch is the columns that one GETBULK asks. They differ, because an
answer is limited by octets and not by meaning: agents fill a datagram of about 1,400 octets and cut the rest, so that
a batch has about as many columns times repetitions as fit. The repetitions are one more than the rows that most
devices have, since it takes the row after the last to know that a table is complete.
"""

from enum import StrEnum
from typing import NamedTuple

from . import mib
from .ber import Oid
from .mib import Table


class Topic(StrEnum):
    """What an answer is about, in the words that its attempt is recorded with."""

    SYSTEM = "system group"
    HOST = "hrDeviceTable, hrPrinterTable, prtGeneralTable, ppmPrinterTable"
    MARKERS = "prtMarkerTable"
    SUPPLIES = "prtMarkerSuppliesTable"
    INPUTS = "prtInputTable"
    ALERTS = "prtAlertTable"
    OUTPUTS = "prtOutputTable"
    COVERS = "prtCoverTable"
    CHANNELS = "prtChannelTable"
    INTERPRETERS = "prtInterpreterTable"
    MEDIA_PATHS = "prtMediaPathTable"
    CONSOLE = "prtConsoleDisplayBufferTable, prtConsoleLightTable"
    INTERFACES = "ifTable"
    ADDRESSES = "ipAddressTable, ipAddrTable"
    GATEWAYS = "routing tables"


TABLES: dict[Topic, tuple[Table, ...]] = {
    Topic.HOST: (mib.HR_DEVICE, mib.HR_PRINTER, mib.HR_SYSTEM, mib.GENERAL, mib.LOCALIZATION, mib.PORT_MONITOR),
    Topic.MARKERS: (mib.MARKER,),
    Topic.SUPPLIES: (mib.SUPPLIES, mib.COLORANT),
    Topic.INPUTS: (mib.INPUT,),
    Topic.ALERTS: (mib.ALERT,),
    Topic.OUTPUTS: (mib.OUTPUT,),
    Topic.COVERS: (mib.COVER,),
    Topic.CHANNELS: (mib.CHANNEL,),
    Topic.INTERPRETERS: (mib.INTERPRETER,),
    Topic.MEDIA_PATHS: (mib.MEDIA_PATH,),
    Topic.CONSOLE: (mib.CONSOLE_LINE, mib.CONSOLE_LIGHT),
    Topic.INTERFACES: (mib.INTERFACE, mib.INTERFACE_MORE, mib.INTERFACE_ERRORS, mib.ETHERNET),
    Topic.ADDRESSES: (mib.ADDRESS, mib.OLD_ADDRESS),
    Topic.GATEWAYS: (mib.DEFAULT_ROUTER, mib.INET_ROUTE, mib.CIDR_ROUTE, mib.OLD_ROUTE),
}

ON_THE_PRINTER = frozenset(TABLES) - {Topic.HOST, Topic.INTERFACES, Topic.ADDRESSES, Topic.GATEWAYS}
"""Topics whose rows belong to one hrDeviceIndex: they are read together with what HOST says."""


SPARED = frozenset({Topic.MEDIA_PATHS, Topic.CONSOLE})
"""What no verdict rests on, and only whoever looks at one device would miss: not asked in a sparing run."""


class Wanted(NamedTuple):
    """A column that is read: the objects below `oid`, or `oid` itself where it is one; asking begins with `start`.

    Those that are not `continued` are content with the rows of their first answer.
    """

    name: str
    table: str
    oid: Oid
    start: Oid
    continued: bool = True


def _columns(*tables: Table) -> tuple[str, ...]:
    return tuple(name for table in tables for name in table.columns)


BATCHES: tuple[tuple[int, tuple[str, ...]], ...] = (
    (2, _columns(mib.HR_PRINTER, mib.GENERAL, mib.LOCALIZATION, mib.MARKER, mib.OUTPUT, mib.MEDIA_PATH)),
    (4, _columns(mib.HR_DEVICE, mib.COVER, mib.INTERFACE, mib.INTERFACE_MORE, mib.CONSOLE_LIGHT)),
    (
        12,
        (
            "prtMarkerSuppliesDescription",
            "prtMarkerSuppliesClass",
            "prtMarkerSuppliesColorantIndex",
            "prtMarkerColorantValue",
        ),
    ),
    (
        5,
        _columns(
            mib.INTERFACE_ERRORS,
            mib.ETHERNET,
            mib.ADDRESS,
            mib.OLD_ADDRESS,
            mib.DEFAULT_ROUTER,
            mib.INET_ROUTE,
            mib.CIDR_ROUTE,
            mib.OLD_ROUTE,
        ),
    ),
    (4, _columns(mib.INPUT, mib.HR_SYSTEM)),
    (
        12,
        (
            "prtMarkerSuppliesLevel",
            "prtMarkerSuppliesMaxCapacity",
            "prtMarkerSuppliesSupplyUnit",
            "prtMarkerSuppliesType",
        ),
    ),
    (5, _columns(mib.ALERT, mib.PORT_MONITOR)),
    (6, _columns(mib.CHANNEL, mib.INTERPRETER, mib.CONSOLE_LINE)),
)
"""Repetitions and columns of each request; first what other answers are read with, and what is most often cut short and
asked on: then that is not another round trip."""

_ONLY: dict[str, Oid] = {
    "inetCidrRouteIfIndex": (1, 4, 0, 0, 0, 0, 0),  # ipv4, four octets: 0.0.0.0, prefix length 0
    "ipCidrRouteNextHop": (0, 0, 0, 0, 0, 0, 0, 0),  # 0.0.0.0, mask 0.0.0.0
    "ipRouteNextHop": (0, 0, 0, 0),  # 0.0.0.0
}
"""Where only default routes are wanted, how the index of their rows begins: a whole routing table may be large. It ends
with 0, so that the first of them is also what follows the same identifier without its end."""

_NOT_CONTINUED = {"prtLocalizationCharacterSet"}
"""Some devices list thirty languages, nearly always in one character set."""


def _wanted(table: Table, name: str) -> Wanted:
    oid = (*table.column(name), *_ONLY.get(name, ()))
    return Wanted(name, table.row, oid, oid[:-1] if name in _ONLY else oid, name not in _NOT_CONTINUED)


WANTED: dict[str, Wanted] = {
    name: _wanted(table, name) for tables in TABLES.values() for table in tables for name in table.columns
}
"""Every column that is read, by name."""
