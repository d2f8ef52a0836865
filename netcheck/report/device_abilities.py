"""What it takes and does: formats, languages, media, resolutions. A part of the page of one device."""

from collections.abc import Iterator, Sequence

from netcheck.case import Case
from netcheck.facts import Measured
from netcheck.facts.capability import Capabilities
from netcheck.facts.channels import Interpreters, MediaPaths
from netcheck.facts.identity import DeviceId
from netcheck.facts.media import Formats, MediaSupported
from netcheck.report.device_amounts import metres, roll_words, size_name, whole_mm
from netcheck.report.device_said import Claim, Line, by_value, by_whom, seen
from netcheck.words import count, join

_SHOWN = 12
_COLOR = {True: "colour", False: "black only", None: ""}


def abilities(case: Case) -> Iterator[Line]:
    """Lines for what the device said of it."""
    if languages := _languages(case):
        yield Line("languages", languages)
    for formats in seen(case, Formats)[:1]:
        yield Line("formats", _some(formats.fact.values))
    for supported in seen(case, MediaSupported)[:1]:
        if supported.fact.types:
            yield Line("media types", _some(supported.fact.types))
        if supported.fact.sizes:
            yield Line("sizes", _sizes(supported.fact))
    for paths in seen(case, MediaPaths)[:1]:
        widths = [row.max_cross.value for row in paths.fact.rows if isinstance(row.max_cross, Measured)]
        if widths and not any(each.fact.sizes for each in seen(case, MediaSupported)):
            yield Line("widest", roll_words(max(widths)).removesuffix(" roll"))
    for can in seen(case, Capabilities)[:1]:
        yield from _can(can.fact)


def _some(values: Sequence[str]) -> str:
    """The first few, and how many more."""
    more = len(values) - _SHOWN
    return join([*values[:_SHOWN], f"and {more} more" if more > 0 else ""])


def _languages(case: Case) -> str:
    """The interpreters of the Printer MIB and the command sets of the device ID, each once."""
    claims = [
        Claim(each.who, row.family.removeprefix("lang"))
        for each in seen(case, Interpreters)
        for row in each.fact.rows
        if row.family not in {"other", "unknown"}
    ]
    claims += [
        Claim(each.who, name.strip())
        for each in seen(case, DeviceId)
        for name in each.fact.get("CMD", "COMMAND SET").split(",")
    ]
    groups = by_value(claims)
    tellers = {tuple(who) for _, who in groups}
    if len(tellers) == 1:
        return f"{_some([value for value, _ in groups])} ({by_whom(groups[0][1])})"
    every = [name for _, who in groups for name in who]
    return _some([f"{value} ({by_whom(who, every)})" for value, who in groups])


def _sizes(fact: MediaSupported) -> str:
    """Sizes by their names, how many more there are, and the largest."""
    single = [size for size in fact.sizes if size.x.low == size.x.high and size.y.low == size.y.high]
    names = sorted(filter(None, {size_name(size.x.low, size.y.low) for size in single}))
    more = len(single) - len(names)
    others = count(more, "other size" if names else "size") if more > 0 else ""
    widest = max(size.x.high for size in fact.sizes)
    longest = max(size.y.high for size in fact.sizes)
    most = f"at most {whole_mm(widest)} mm wide" + (f" and {metres(longest)} long" if longest else "")
    return join([join([*names, others]), most], "; ")


def _can(fact: Capabilities) -> Iterator[Line]:
    sides = fact.sides if fact.sides != ("one-sided",) else ()
    text = join([_COLOR[fact.color], *fact.resolutions[:_SHOWN], *sides])
    if text:
        yield Line("prints", text)
    finishings = [each for each in fact.finishings if each != "none"]
    if finishings:
        yield Line("finishes", _some(finishings))
    margins = {side: getattr(fact.margins, side) for side in fact.margins.__struct_fields__}
    told = [f"{side} {join((f'{um / 1000:g}' for um in each), ' or ')} mm" for side, each in margins.items() if each]
    if len({each for each in margins.values() if each}) == 1 and len(told) == len(margins):
        told = [f"{told[0].partition(' ')[2]} on every side"]
    if told:
        yield Line("margins", join(told))
