"""Facts about the ways into a device: print channels, page description languages, media paths, and its console."""

from typing import ClassVar

import msgspec

from netcheck.facts.base import Amount, Fact
from netcheck.facts.condition import SubUnit


class ChannelRow(msgspec.Struct, frozen=True):
    """One row of prtChannelTable (RFC 3805 s6). ``port`` and ``queue`` are the entries Port= and Queue= (or Name=) of
    prtChannelInformation; ``state`` is printDataAccepted, noDataAccepted or other."""

    index: int
    type: str
    state: str
    port: int | None
    queue: str
    interface: int | None
    status: SubUnit | None


class Channels(Fact, frozen=True):
    """Print channels."""

    kind: ClassVar[str] = "channels"
    rows: tuple[ChannelRow, ...]
    complete: bool


class InterpreterRow(msgspec.Struct, frozen=True):
    """One row of prtInterpreterTable (RFC 3805 s6); ``family`` by IANA-PRINTER-MIB."""

    index: int
    family: str
    level: str
    version: str
    description: str


class Interpreters(Fact, frozen=True):
    """Page description languages."""

    kind: ClassVar[str] = "interpreters"
    rows: tuple[InterpreterRow, ...]
    complete: bool


class MediaPathRow(msgspec.Struct, frozen=True):
    """One row of prtMediaPathTable (RFC 3805 s6); lengths in micrometres."""

    index: int
    type: str
    description: str
    max_cross: Amount
    max_feed: Amount
    min_cross: Amount
    min_feed: Amount
    status: SubUnit | None


class MediaPaths(Fact, frozen=True):
    """Ways of the medium through the device."""

    kind: ClassVar[str] = "media-paths"
    rows: tuple[MediaPathRow, ...]
    complete: bool


class LightRow(msgspec.Struct, frozen=True):
    """One row of prtConsoleLightTable; ``shows`` is on, off or blinking (RFC 3805 s6 prtConsoleOnTime)."""

    index: int
    description: str
    color: str
    shows: str


class Console(Fact, frozen=True):
    """What the device's own panel shows: display lines from top to bottom, and lights."""

    kind: ClassVar[str] = "console"
    lines: tuple[str, ...]
    lights: tuple[LightRow, ...]
    complete: bool
