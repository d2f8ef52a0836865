"""What a simulated printer can print on and has loaded, as IPP says it; and the check of a ticket against it.

PWG 5101.1 (self-describing size names), PWG 5100.7 (media-col and its members). Lengths are 1/100 mm. A roll is as
wide as it is and any length up to its own, so its y-dimension is a range.
"""

from __future__ import annotations

import re

from netcheck.rehearsal.device import Device, Input
from netcheck.rehearsal.ipp_message import Attribute, Range, Request, Tag, attribute

_SHORTEST = 21_000  # the narrowest and the shortest that the device feeds
_MARGIN = 500
_SIZE_KEYS = ("media-col/media-size/x-dimension", "media-col/media-size/y-dimension")  # see ipp_message.Request
_SIZE_NAME = re.compile(r"[a-z0-9-]+_[a-z0-9.-]+_([0-9.]+)x([0-9.]+)(in|mm)")


def media_attributes(device: Device) -> tuple[Attribute, ...]:
    """Every media attribute. What is empty is supported, not ready; with nothing loaded no attribute says ready."""
    loaded = [tray for tray in device.inputs if tray.left]
    always = (*_supported(device), *_columns(device))
    if not loaded:
        return always
    return (
        *always,
        attribute(Tag.KEYWORD, "media-ready", *(tray.size for tray in loaded)),
        attribute(Tag.BEGIN, "media-col-ready", *(_loaded(tray) for tray in loaded)),
    )


def _supported(device: Device) -> tuple[Attribute, ...]:
    widest, longest = _largest(device)
    smallest, largest = (
        f"{_millimetres(_SHORTEST)}x{_millimetres(_SHORTEST)}mm",
        f"{_millimetres(widest)}x{_millimetres(longest)}mm",
    )
    limits = (
        f"{kind}_{end}_{size}" for kind in ("custom", "roll") for end, size in (("min", smallest), ("max", largest))
    )
    margins = (
        attribute(Tag.INTEGER, f"media-{side}-margin-supported", _MARGIN) for side in ("bottom", "left", "right", "top")
    )
    return (
        attribute(Tag.KEYWORD, "media-default", device.prints[0]),
        attribute(Tag.KEYWORD, "media-supported", *device.prints, *limits),
        attribute(Tag.KEYWORD, "media-type-supported", *dict.fromkeys(tray.media_type for tray in device.inputs)),
        attribute(Tag.KEYWORD, "media-source-supported", *(tray.source for tray in device.inputs)),
        *margins,
    )


def _columns(device: Device) -> tuple[Attribute, ...]:
    first = device.inputs[0]
    sizes = [media_size(name) for name in device.prints]
    widest, longest = _largest(device)
    ranges = _size((_SHORTEST, widest), (_SHORTEST, longest))
    kinds = [_column(size, first) for size in (*sizes, ranges)]
    trays = [_loaded(tray) for tray in device.inputs if tray.feed == "sheet"]
    members = (member.name for member in _column(ranges, first))
    return (
        attribute(Tag.KEYWORD, "media-col-supported", *members, "media-size-name"),
        attribute(Tag.BEGIN, "media-col-default", kinds[0]),
        attribute(Tag.BEGIN, "media-col-database", *kinds, *trays),
        attribute(Tag.BEGIN, "media-size-supported", *((*size,) for size in sizes), ranges),
    )


def _loaded(tray: Input) -> tuple[Attribute, ...]:
    width, length = tray.width_um // 10, tray.length_um // 10
    size = _size(width, (_SHORTEST, length) if tray.feed == "roll" else length)
    return (*_column(size, tray), attribute(Tag.KEYWORD, "media-size-name", tray.size))


def _column(size: tuple[Attribute, ...], tray: Input) -> tuple[Attribute, ...]:
    margins = (attribute(Tag.INTEGER, f"media-{side}-margin", _MARGIN) for side in ("bottom", "left", "right", "top"))
    return (
        attribute(Tag.BEGIN, "media-size", size),
        attribute(Tag.KEYWORD, "media-source", tray.source),
        attribute(Tag.KEYWORD, "media-type", tray.media_type),
        *margins,
    )


def media_size(name: str) -> tuple[Attribute, ...]:
    """The value of media-size for a self-describing name. Raises ValueError for any other name."""
    return _size(*_dimensions(name))


def _size(x: int | Range, y: int | Range) -> tuple[Attribute, ...]:
    return tuple(
        attribute(Tag.INTEGER if isinstance(length, int) else Tag.RANGE, f"{axis}-dimension", length)
        for axis, length in (("x", x), ("y", y))
    )


def _dimensions(name: str) -> tuple[int, int]:
    """Width and length of a self-describing name in 1/100 mm; an inch is 2540 of them. Raises ValueError."""
    match = _SIZE_NAME.fullmatch(name)
    if match is None:
        raise ValueError(f"{name!r} is no self-describing media size name")
    unit = 2540 if match[3] == "in" else 100
    return round(float(match[1]) * unit), round(float(match[2]) * unit)


def _largest(device: Device) -> tuple[int, int]:
    return max(tray.width_um for tray in device.inputs) // 10, max(tray.length_um for tray in device.inputs) // 10


def _millimetres(length: int) -> str:
    return f"{length / 100:.2f}".rstrip("0").rstrip(".")


def unsupported(device: Device, request: Request) -> tuple[Attribute, ...]:
    """What a ticket asks of the media that the device cannot give, for the Unsupported group (RFC 8011 s4.1.7)."""
    refused: list[Attribute] = []
    asked = request.job_attributes
    names = [value.decode("utf-8", "replace") for value in asked.get("media", [])]
    refused += [attribute(Tag.KEYWORD, "media", name) for name in names if not _has(device, name)]
    sides = [int.from_bytes(asked[key][0], "big") for key in _SIZE_KEYS if key in asked]
    types = {value.decode("utf-8", "replace") for value in asked.get("media-col/media-type", [])}
    if (sides and not _feeds(device, sides)) or types - {tray.media_type for tray in device.inputs}:
        refused.append(attribute(Tag.UNSUPPORTED_VALUE, "media-col", b""))
    return tuple(refused)


def _has(device: Device, name: str) -> bool:
    if not name.startswith("custom_"):
        return name in (*device.prints, *(tray.size for tray in device.inputs))
    try:
        return _feeds(device, list(_dimensions(name)))
    except ValueError:
        return False


def _feeds(device: Device, sides: list[int]) -> bool:
    """Either side may lie across the roll, so only the shorter one must fit its width."""
    widest, longest = _largest(device)
    return min(sides) >= _SHORTEST and min(sides) <= widest and max(sides) <= longest
