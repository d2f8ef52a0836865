"""Amounts, sizes and times in words, always with their unit. Below the parts of the page."""

import re
from decimal import Decimal

from netcheck.facts import Amount, Measured, Some, Unknown, Unrestricted
from netcheck.facts.media import parse_size_name
from netcheck.rules.media import TOLERANCE_UM

UNITS = {
    "tenThousandthsOfInches": (10_000, "in"),
    "micrometers": (1_000_000, "m"),
    "characters": (1, "characters"),
    "lines": (1, "lines"),
    "impressions": (1, "impressions"),
    "sheets": (1, "sheets"),
    "dotRow": (1, "dot rows"),
    "hours": (1, "hours"),
    "thousandthsOfOunces": (1_000, "oz"),
    "tenthsOfGrams": (10, "g"),
    "hundrethsOfFluidOunces": (100, "fl oz"),
    "tenthsOfMilliliters": (10, "ml"),
    "feet": (1, "feet"),
    "meters": (1, "m"),
    "items": (1, "items"),
    "percent": (1, "%"),
}
"""How many of a unit of RFC 3805 s6 (PrtMarkerSuppliesSupplyUnitTC, PrtCapacityUnitTC, PrtMarkerCounterUnitTC) make
one of a person's."""
_ONE = {"impressions": "impression", "sheets": "sheet", "hours": "hour", "feet": "foot", "items": "item"}
UNNAMED = frozenset({"", "other", "unknown"})
"""Units that name none."""
_UM_AN_INCH = 25_400
_NAMED_SIZES = {
    **{
        f"iso_a{n}_{size}mm": f"A{n}" for n, size in enumerate(("841x1189", "594x841", "420x594", "297x420", "210x297"))
    },
    **{f"iso_b{n}_{size}mm": f"B{n}" for n, size in enumerate(("1000x1414", "707x1000", "500x707", "353x500"))},
    "iso_a5_148x210mm": "A5",
    "na_letter_8.5x11in": "Letter",
    "na_legal_8.5x14in": "Legal",
    "na_ledger_11x17in": "Ledger",
    "na_c_17x22in": "ANSI C",
    "asme_d_22x34in": "ANSI D",
    "asme_e_34x44in": "ANSI E",
    "na_arch-a_9x12in": "Arch A",
    "na_arch-b_12x18in": "Arch B",
    "na_arch-c_18x24in": "Arch C",
    "na_arch-d_24x36in": "Arch D",
    "na_arch-e_36x48in": "Arch E",
    "na_arch-e1_30x42in": "Arch E1",
}
"""Sizes that people call by name (PWG 5101.1, from memory; the B sizes by ISO 216)."""
_STANDARD = tuple(
    (parsed.x, parsed.y, called)
    for name, called in _NAMED_SIZES.items()
    if (parsed := parse_size_name(name)) is not None
)
_BY_INCH = {called for name, called in _NAMED_SIZES.items() if name.endswith("in")}


def number(value: int, per: int = 1) -> str:
    """``1.3``, ``48,213``: exact, without idle zeros."""
    text = f"{Decimal(value) / per:,f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def counted(value: int, unit: str) -> str:
    """A count in a unit of the Printer MIB, as a person writes both."""
    per, word = UNITS.get(unit, (1, "(unit not told)" if unit in UNNAMED else unit))
    one = value == per
    return f"{number(value, per)} {_ONE.get(word, word) if one else word}"


def of_capacity(value: int, capacity: int, unit: str) -> str:
    """``41 of 45 m``."""
    per, _ = UNITS.get(unit, (1, ""))
    return f"{number(value, per)} of {counted(capacity, unit)}"


def left(level: Amount, capacity: Amount, unit: str, what: str = "left") -> str:
    """How much there is, in words. ``what`` is "left", or "room left" where less room is worse."""
    match level:
        case Measured(0):
            return "empty" if what == "left" else f"no {what}"
        case Measured(value) if isinstance(capacity, Measured) and 0 < capacity.value < value:
            told = of_capacity(value, capacity.value, unit)
            return f"{counted(capacity.value, unit)} {what} (told as {told}: more than it holds)"
        case Measured(value) if isinstance(capacity, Measured) and capacity.value > 0:
            return f"{of_capacity(value, capacity.value, unit)} {what}"
        case Measured(value):
            return f"{counted(value, unit)} {what}, {_capacity(capacity)}"
        case Some():
            return f"some {what}, how much is not told"
        case Unknown():
            return f"how much is {what} is not known" if what == "left" else f"how much {what} is not known"
        case Unrestricted():
            return "no limit"


def _capacity(capacity: Amount) -> str:
    return "no limit to what it holds" if isinstance(capacity, Unrestricted) else "what it holds is not known"


def inches(micrometres: int) -> str:
    """``36``, ``33.1``; no unit."""
    return f"{micrometres / _UM_AN_INCH:.1f}".removesuffix(".0")


def whole_mm(micrometres: int) -> str:
    """``914``; no unit."""
    return f"{micrometres / 1000:.0f}"


def roll_words(width: int) -> str:
    """A roll's width in micrometres."""
    return f"{whole_mm(width)} mm wide ({inches(width)} in) roll"


def sheet_words(x: int, y: int) -> str:
    """A sheet's sides in micrometres, in both measures, with its name where it has one, whichever way round it lies."""
    short, long = sorted((x, y))
    metric = f"{whole_mm(short)} x {whole_mm(long)} mm"
    imperial = f"{inches(short)} x {inches(long)} in"
    name = size_name(x, y)
    return f"{name} {imperial} ({metric})" if name in _BY_INCH else f"{name} {metric} ({imperial})".lstrip()


def size_name(x: int, y: int) -> str:
    """What people call a sheet of these sides; "" where they have no name for it."""
    short, long = sorted((x, y))
    near = (
        called
        for width, length, called in _STANDARD
        if abs(short - width) <= TOLERANCE_UM and abs(long - length) <= TOLERANCE_UM
    )
    return next(near, "")


def metres(micrometres: int) -> str:
    """A roll's length: ``45.7 m``."""
    return f"{micrometres / 1_000_000:.1f}".removesuffix(".0") + " m"


def duration(seconds: int) -> str:
    """``3 d 4 h``, ``12 min``: the two largest units."""
    parts = [(seconds // 86_400, "d"), (seconds // 3_600 % 24, "h"), (seconds // 60 % 60, "min"), (seconds % 60, "s")]
    first = next((at for at, (count, _) in enumerate(parts) if count), len(parts) - 1)
    return " ".join(f"{count} {unit}" for count, unit in parts[first : first + 2] if count) or "0 s"


def spelt(label: str) -> str:
    """A standard's label in words: ``inkCartridge`` becomes ``ink cartridge``."""
    return re.sub(r"(?<=[a-z])(?=[A-Z])", " ", label).lower()
