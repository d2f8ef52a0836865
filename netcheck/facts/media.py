"""Facts about media and formats, and the self-describing size names of PWG 5101.1.

Lengths are whole micrometres everywhere: 1/100 mm (IPP) is 10 um, 1/10000 inch (RFC 3805) is 2.54 um, rounded.
"""

import re
from decimal import Decimal
from typing import ClassVar

import msgspec

from netcheck.facts.base import Amount, Fact
from netcheck.facts.condition import SubUnit


class InputRow(msgspec.Struct, frozen=True):
    """One row of prtInputTable (RFC 3805 s6). ``feed`` and ``cross`` are prtInputMediaDim*Chosen in micrometres,
    relative to how the sheet is fed; the declared ones where no chosen ones exist. ``status`` is None when the
    number was absent or not legal. ``unit`` is that of ``capacity`` and ``level``."""

    index: int
    type: str
    name: str
    description: str
    media_name: str
    media_type: str
    feed: Amount
    cross: Amount
    unit: str
    capacity: Amount
    level: Amount
    status: SubUnit | None


class Inputs(Fact, frozen=True):
    """Trays, rolls and manual feeds."""

    kind: ClassVar[str] = "inputs"
    rows: tuple[InputRow, ...]
    complete: bool


class OutputRow(msgspec.Struct, frozen=True):
    """One row of prtOutputTable (RFC 3805 s6). ``remaining`` is the room left: 0 is full."""

    index: int
    type: str
    name: str
    unit: str
    capacity: Amount
    remaining: Amount
    status: SubUnit | None


class Outputs(Fact, frozen=True):
    """Bins, stackers and take-up rolls."""

    kind: ClassVar[str] = "outputs"
    rows: tuple[OutputRow, ...]
    complete: bool


class Span(msgspec.Struct, frozen=True):
    """A length or a range of lengths in micrometres, both ends included."""

    low: int
    high: int


class MediaSize(msgspec.Struct, frozen=True):
    """A size or a range of sizes: ``x`` across, ``y`` along (PWG 5101.1: width first)."""

    x: Span
    y: Span


class ReadyRow(msgspec.Struct, frozen=True):
    """One member of media-col-ready, or one name of media-ready. ``size`` is None when only a name that says nothing
    about its size was given. A roll has a range as ``y``, or 0 where its length is not told."""

    name: str
    size: MediaSize | None
    type: str
    source: str


class MediaReady(Fact, frozen=True):
    """What is loaded, by IPP (PWG 5100.7 media-col-ready; RFC 8011 media-ready)."""

    kind: ClassVar[str] = "media-ready"
    rows: tuple[ReadyRow, ...]


class MediaSupported(Fact, frozen=True):
    """What the device can take at all: names as given, sizes read from them and from media-size-supported, types and
    sources. Nothing in a tuple means that the device did not say."""

    kind: ClassVar[str] = "media-supported"
    names: tuple[str, ...]
    sizes: tuple[MediaSize, ...]
    types: tuple[str, ...]
    sources: tuple[str, ...]


class Formats(Fact, frozen=True):
    """document-format-supported (RFC 8011 s5.4.22), lower case, without parameters."""

    kind: ClassVar[str] = "formats"
    values: tuple[str, ...]
    default: str


_SIZE_NAME = re.compile(
    r"(?P<family>[a-z]+)_(?P<label>[a-z0-9][a-z0-9.-]*)_"
    r"(?P<x>0|[1-9][0-9]{0,5}|(?:0|[1-9][0-9]{0,5})\.[0-9]{1,4})x(?P<y>0|[1-9][0-9]{0,5}|(?:0|[1-9][0-9]{0,5})\.[0-9]{1,4})"
    r"(?P<unit>in|mm)"
)
_MICROMETRES = {"in": 25400, "mm": 1000}


class SizeName(msgspec.Struct, frozen=True):
    """A PWG 5101.1 size name taken apart: ``x`` and ``y`` in micrometres, 0 where a roll's length is open."""

    family: str
    label: str
    x: int
    y: int

    def size(self) -> MediaSize:
        """What it stands for: a roll holds all up to its length, and of a disc the two numbers are its inner and its
        outer diameter (PWG 5101.1, from memory)."""
        if self.family == "disc":
            return MediaSize(Span(self.y, self.y), Span(self.y, self.y))
        return MediaSize(Span(self.x, self.x), Span(0 if self.family == "roll" else self.y, self.y))


def parse_size_name(name: str) -> SizeName | None:
    """Read ``class_name_WxHunit`` (PWG 5101.1). None for anything else: legacy names such as ``letter`` say no size."""
    match = _SIZE_NAME.fullmatch(name)
    if match is None:
        return None
    scale = _MICROMETRES[match["unit"]]
    return SizeName(
        match["family"], match["label"], round(Decimal(match["x"]) * scale), round(Decimal(match["y"]) * scale)
    )


def sizes_from_names(names: tuple[str, ...]) -> tuple[MediaSize, ...]:
    """Sizes that a list of names stands for. ``custom_min_``/``custom_max_`` and ``roll_min_``/``roll_max_`` are the
    two ends of one range; an end without its partner says nothing. ``roll_current_`` tells what is loaded, not what
    is supported, and is left out."""
    sizes: list[MediaSize] = []
    ends: dict[tuple[str, str], SizeName] = {}
    for parsed in filter(None, map(parse_size_name, names)):
        end, dash, _ = parsed.label.partition("-")
        if parsed.family in {"custom", "roll"} and end in {"min", "max"} and not dash:
            ends[parsed.family, end] = parsed
        elif not (parsed.family == "roll" and end == "current"):
            sizes.append(parsed.size())
    for family in ("custom", "roll"):
        low, high = ends.get((family, "min")), ends.get((family, "max"))
        if low and high:
            sizes.append(MediaSize(Span(low.x, high.x), Span(low.y, high.y)))
    return tuple(sizes)
