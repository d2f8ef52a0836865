"""What a printer says of itself over IPP, as a file of attributes for `ippeveprinter -a` (see ippeveprinter(1)).

Attributes that the program adds itself (state, uptime, formats, uuid, ...) do not stand here: they would come twice.
Lengths are hundredths of a millimetre; size names are those of PWG 5101.1.
"""

from collections.abc import Iterator
from typing import Final

from .devices import Device, Roll

SHORTEST: Final = 21000
LONGEST: Final = 4_500_000  # a roll of 45 m
MARGIN: Final = 500
SIZES: Final = {
    "iso_a1_594x841mm": (59400, 84100),
    "na_arch-d_24x36in": (60960, 91440),
    "iso_a0_841x1189mm": (84100, 118900),
    "na_arch-e_36x48in": (91440, 121920),
}
_CONSTANT: Final = """
ATTR boolean color-supported true
ATTR integer copies-default 1
ATTR rangeOfInteger copies-supported 1-99
ATTR keyword sides-supported "one-sided"
ATTR keyword sides-default "one-sided"
ATTR keyword print-color-mode-supported "auto","color","monochrome"
ATTR keyword print-color-mode-default "auto"
ATTR enum print-quality-supported 3,4,5
ATTR enum print-quality-default 4
ATTR resolution printer-resolution-supported 300dpi,600dpi
ATTR resolution printer-resolution-default 600dpi
ATTR resolution pwg-raster-document-resolution-supported 300dpi,600dpi
ATTR keyword pwg-raster-document-type-supported "sgray_8","srgb_8"
ATTR keyword pwg-raster-document-sheet-back "normal"
ATTR keyword urf-supported "V1.4","W8","SRGB24","RS300-600","DM1"
ATTR enum finishings-supported 3
ATTR enum finishings-default 3
ATTR enum orientation-requested-supported 3,4
ATTR keyword output-bin-supported "face-up"
ATTR keyword output-bin-default "face-up"
ATTR integer pages-per-minute 2
"""


def attributes(device: Device) -> str:
    """The whole file."""
    return "\n".join([*_identity(device), _CONSTANT, *_media(device), *_loaded(device), *_supplies(device)]) + "\n"


def _identity(device: Device) -> Iterator[str]:
    yield f'ATTR text printer-make-and-model "{device.name}"'
    identity = f"MFG:{device.maker};MDL:{device.name};CMD:PWGRaster,URF;SN:{device.serial};"
    yield f'ATTR text printer-device-id "{identity}"'
    yield 'ATTR name printer-firmware-name "main"'
    yield f'ATTR text printer-firmware-string-version "{device.firmware}"'


def sizes(width: int) -> dict[str, tuple[int, int]]:
    """What fits on a roll so wide."""
    return {name: (across, along) for name, (across, along) in SIZES.items() if across <= width}


def _media(device: Device) -> Iterator[str]:
    fitting = sizes(device.widest)
    ends = f"210x210mm,{device.widest / 100:g}x{LONGEST // 100}mm".split(",")
    ranges = [
        f"{kind}_{end}_{size}" for kind in ("roll", "custom") for end, size in zip(("min", "max"), ends, strict=True)
    ]
    any_size = _dimensions(f"{SHORTEST}-{device.widest}", f"{SHORTEST}-{LONGEST}")
    exact = [_dimensions(str(x), str(y)) for x, y in fitting.values()]
    yield _keywords("media-supported", *fitting, *ranges)
    yield _keywords("media-default", next(iter(fitting)))
    yield _keywords("media-source-supported", *(roll.source for roll in device.rolls))
    yield _keywords("media-type-supported", *device.media_types)
    for side in ("top", "bottom", "left", "right"):
        yield f"ATTR integer media-{side}-margin-supported {MARGIN}"
    yield _collections("media-size-supported", *exact, any_size)
    yield _collections("media-col-default", _media_col(_size(exact[0]), device.rolls[0]))
    yield _collections(
        "media-col-database", *(_media_col(_size(size), roll) for roll in device.rolls for size in (*exact, any_size))
    )


def _loaded(device: Device) -> Iterator[str]:
    loaded = [roll for roll in device.rolls if roll.left]
    names = dict.fromkeys(name for roll in loaded for name in sizes(roll.width))
    ready = [_media_col(_size(_dimensions(str(roll.width), f"{SHORTEST}-{LONGEST}")), roll) for roll in loaded]
    yield _keywords("media-ready", *names) if names else "ATTR no-value media-ready no-value"
    yield _collections("media-col-ready", *ready) if ready else "ATTR no-value media-col-ready no-value"
    trays = [
        f"type=continuousRoll;mediafeed=-1;mediaxfeed={roll.width * 10};maxcapacity={roll.full};"
        f"level={roll.left};unit=meters;status={roll.status};name={roll.name};"
        for roll in device.rolls
    ]
    yield _values("octetString", "printer-input-tray", *trays)


def _supplies(device: Device) -> Iterator[str]:
    """PWG 5100.13's printer-supply, in the labels of RFC 3805."""
    kinds = [
        "type=wasteInk;class=receptacleThatIsFilled" if supply.waste else "type=inkCartridge;class=supplyThatIsConsumed"
        for supply in device.supplies
    ]
    entries = [
        f"{kind};maxcapacity=100;level={supply.level};unit=percent;index={number};colorantname={supply.colour};"
        for number, (kind, supply) in enumerate(zip(kinds, device.supplies, strict=True), 1)
    ]
    yield _values("octetString", "printer-supply", *entries)
    yield _values("text", "printer-supply-description", *(supply.name for supply in device.supplies))


# --- more of everything: what a device with rolls and sheets, and with every kind of supply, would say

SUPPLY_TYPES: Final = tuple(
    """other unknown toner wasteToner ink inkCartridge inkRibbon wasteInk opc developer fuserOil solidWax ribbonWax
    wasteWax fuser coronaWire fuserOilWick cleanerUnit fuserCleaningPad transferUnit tonerCartridge fuserOiler water
    wasteWater glueWaterAdditive wastePaper bindingSupply bandingSupply stitchingWire shrinkWrap paperWrap staples
    inserts covers""".split()  # noqa: SIM905 - one word a number, in the order of the standard
)
"""PrtMarkerSuppliesTypeTC, in the order of its numbers from 1 (RFC 3805 section 6)."""
LEVELS: Final = (0, 1, 50, 100, -1, -2, -3)
SYNTAXES: Final = {
    "blank": ("text", '""'),
    "date": ("dateTime", '"2026-03-01T10:20:30Z"'),
    "resolutions": ("resolution", "600dpi,300x600dpi,240dpcm"),
    "ranges": ("rangeOfInteger", "0-1,210000-4500000"),
    "integers": ("integer", "-2147483648,-1,0,2147483647"),
    "flags": ("boolean", "true,false,true"),
    "schemes": ("uriScheme", '"http","https"'),
    "types": ("mimeMediaType", '"application/pdf","image/tiff"'),
    "names": ("name", '"Gelände 1:500","plan"'),
    "nothing": ("no-value", "no-value"),
    "unknown": ("unknown", "unknown"),
    "deep": ("collection", "{MEMBER collection x-1 {MEMBER collection x-2 {MEMBER keyword x-words a,b,c}}}"),
}
"""A syntax of RFC 8011 section 5.1 and values of it, by the name of an attribute that has no other meaning."""
SHEETS: Final = (("tray-1", "iso_a3_297x420mm", 29700, 42000), ("by-pass-tray", "na_arch-b_12x18in", 30480, 45720))


def generous(device: Device) -> str:
    """The whole file of a device that has all of it."""
    page = attributes(device)
    for source, name, x, y in SHEETS:
        sheet = "\n".join([_size(_dimensions(str(x), str(y))), f'MEMBER keyword media-source "{source}"'])
        page = page.replace(
            "media-col-ready {", f'media-col-ready {{\n{sheet}\nMEMBER keyword media-type "stationery"\n}},{{'
        )
        page = page.replace('media-source-supported "', f'media-source-supported "{source}","')
        page = page.replace('media-ready "', f'media-ready "{name}","')
    drop = ("printer-supply ", "printer-supply-description ", "printer-input-tray ")
    kept = [
        line
        for line in page.splitlines()
        if not line.startswith(tuple(f"ATTR {kind} {each}" for each in drop for kind in ("octetString", "text")))
    ]
    return "\n".join([*kept, *_every_supply(), *_every_feed(device), *_every_syntax()]) + "\n"


def _every_supply() -> Iterator[str]:
    entries = [
        f"index={at};type={kind};unit=percent;maxcapacity=100;level={LEVELS[at % len(LEVELS)]};"
        f"class={'receptacleThatIsFilled' if kind.startswith('waste') else 'supplyThatIsConsumed'};"
        for at, kind in enumerate(SUPPLY_TYPES, 1)
    ]
    yield _values("octetString", "printer-supply", *entries)
    yield _values("text", "printer-supply-description", *(f"Supply {at}" for at in range(1, len(entries) + 1)))


def _every_feed(device: Device) -> Iterator[str]:
    rolls = [
        f"type=continuousRoll;dimunit=micrometers;mediafeed=-1;mediaxfeed={roll.width * 10};maxcapacity={roll.full};"
        f"level={roll.left};unit=meters;status={roll.status};name={roll.name};"
        for roll in device.rolls
    ]
    sheets = [
        f"type=sheetFeedAutoRemovableTray;dimunit=tenThousandthsOfInches;mediafeed={y * 10000 // 2540};"
        f"mediaxfeed={x * 10000 // 2540};maxcapacity=50;level=-3;unit=sheets;status=0;name={source}"
        for source, _, x, y in SHEETS
    ]
    yield _values("octetString", "printer-input-tray", *rolls, *sheets, "type=sheetFeedManual;level=-2;status=5")
    yield _values(
        "octetString", "printer-output-tray", "type=unRemovableBin;maxcapacity=50;remaining=48;status=0;name=Bin"
    )


def _every_syntax() -> Iterator[str]:
    for name, (syntax, values) in SYNTAXES.items():
        yield f"ATTR {syntax} x-{name} {values}"


# --- the syntax of the file


def _values(syntax: str, name: str, *values: str) -> str:
    return f"ATTR {syntax} {name} " + ",".join(f'"{value}"' for value in values)


def _keywords(name: str, *values: str) -> str:
    return _values("keyword", name, *values)


def _collections(name: str, *values: str) -> str:
    return f"ATTR collection {name} " + ",".join(f"{{\n{value}\n}}" for value in values)


def _size(dimensions: str) -> str:
    return "MEMBER collection media-size {\n" + dimensions + "\n}"


def _dimensions(across: str, along: str) -> str:
    """What media-size holds in a media-col, and what media-size-supported holds itself (PWG 5100.7)."""
    return "\n".join((_dimension("x-dimension", across), _dimension("y-dimension", along)))


def _dimension(name: str, value: str) -> str:
    return f"MEMBER {'rangeOfInteger' if '-' in value else 'integer'} {name} {value}"


def _media_col(size: str, roll: Roll) -> str:
    margins = [f"MEMBER integer media-{side}-margin {MARGIN}" for side in ("top", "bottom", "left", "right")]
    kind = [f'MEMBER keyword media-source "{roll.source}"', f'MEMBER keyword media-type "{roll.media_type}"']
    return "\n".join([size, *margins, *kind])
