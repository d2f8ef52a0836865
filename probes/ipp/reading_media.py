"""Stage: read, media. What can be taken and what is loaded; lengths from 1/100 mm to micrometres. Pure.

A collection says more than a name: source, type and a range of lengths. A device may give either or both, so
media-col-ready and media-ready become a fact each.
"""

from collections.abc import Iterable, Iterator

from netcheck.facts import Fact
from netcheck.facts.media import (
    MediaReady,
    MediaSize,
    MediaSupported,
    ReadyRow,
    Span,
    parse_size_name,
    sizes_from_names,
)
from probes.ipp.said import Attributes, text, texts
from probes.ipp.values import Collection, Integer, OutOfBand, Range, Tag, Value

_UM = 10  # in 1/100 mm
_NOTHING = (OutOfBand(Tag.NO_VALUE),)  # says that nothing is loaded; `unknown` and `unsupported` say nothing
_BLANK = ReadyRow("", None, "", "")
_ENDS = ("custom_min_", "custom_max_", "roll_min_", "roll_max_")  # PWG 5101.1, from memory


def read_media(said: Attributes) -> Iterator[tuple[str, Fact]]:
    """MediaSupported, and MediaReady once for each way in which the device tells it."""
    names, types, sources = (_names(said.get(f"media{what}-supported", ())) for what in ("", "-type", "-source"))
    listed = filter(None, map(_size, _collections(said.get("media-size-supported", ()))))
    sizes = tuple(dict.fromkeys((*sizes_from_names(names), *listed)))
    if names or sizes or types or sources:
        yield "media-supported", MediaSupported(names, sizes, types, sources)
    loaded = said.get("media-col-ready", ())
    # One row for what differs only in margins, and none for what says nothing at all.
    media = tuple(row for row in dict.fromkeys(map(_ready, _collections(loaded))) if row != _BLANK)
    if media or loaded == _NOTHING:
        yield "media-col-ready", MediaReady(media)
    loaded = said.get("media-ready", ())
    if (ready := _names(loaded)) or loaded == _NOTHING:
        yield "media-ready", MediaReady(tuple(map(_named, ready)))


def _ready(media: Collection) -> ReadyRow:
    """A media-col (PWG 5100.7). Where it has no size of its own, its name may say one."""
    name = text(media.member("media-size-name")) or text(media.member("media-key"))
    sizes = _collections(media.member("media-size"))
    size = next(filter(None, map(_size, sizes)), None) or _size_named(name)
    return ReadyRow(name, size, text(media.member("media-type")), text(media.member("media-source")))


def _names(values: Iterable[Value]) -> tuple[str, ...]:
    """Keywords and names; an empty one is none."""
    return tuple(name for value in texts(values) if (name := value.strip()))


def _named(name: str) -> ReadyRow:
    return ReadyRow(name, _size_named(name), "", "")


def _size_named(name: str) -> MediaSize | None:
    """A sheet's size; of a roll the length in its name is what is left of it, and it holds all up to that."""
    parsed = None if name.startswith(_ENDS) else parse_size_name(name)
    return parsed.size() if parsed and parsed.x else None


def _collections(values: Iterable[Value]) -> tuple[Collection, ...]:
    return tuple(value for value in values if isinstance(value, Collection))


def _size(size: Collection) -> MediaSize | None:
    """A length of 0 is a roll's that is not told; nothing is 0 wide."""
    x, y = _span(size.member("x-dimension")), _span(size.member("y-dimension"))
    return MediaSize(x, y) if x and y and x.high else None


def _span(values: Iterable[Value]) -> Span | None:
    """A length or a range of lengths; a negative one, or a range with its ends the wrong way round, is none."""
    for value in values:
        match value:
            case Integer(value=length) if length >= 0:
                return Span(length * _UM, length * _UM)
            case Range(lower=low, upper=high) if 0 <= low <= high:
                return Span(low * _UM, high * _UM)
            case _:
                return None
    return None
