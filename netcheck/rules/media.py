"""Is loaded, and can the device take, what must be printed?"""

from collections.abc import Iterator

from netcheck.facts import Amount, Measured, Some, Unrestricted
from netcheck.facts.media import InputRow, Inputs, MediaReady, MediaSize, MediaSupported, Outputs, ReadyRow, Span
from netcheck.ruling import Known, New, NewClaims, Ruling, Wanted, met, rule, unmet, unproven
from netcheck.standard import Print, PrintDemand
from netcheck.verdict import Holds, Weight
from netcheck.words import join, millimetres

TOLERANCE_UM = 500
"""Two sizes are one within 0.5 mm: units are rounded differently from source to source (common practice, no source)."""
ROLL = "continuousRoll"


def _within(length: int, span: Span) -> bool:
    return span.low - TOLERANCE_UM <= length <= span.high + TOLERANCE_UM


def _fits(wanted: Print, size: MediaSize) -> bool:
    """Is the print of this size, or in this range of sizes, either way round? RFC 3805 measures along the feed, so a
    sheet turns with its tray. A length of 0 is one that is not told."""
    along = size.y if size.y.high else Span(0, max(wanted.x, wanted.y))
    return any(_within(x, size.x) and _within(y, along) for x, y in ((wanted.x, wanted.y), (wanted.y, wanted.x)))


def _roll_holds(wanted: Print, width: Span) -> bool:
    """A roll holds every print whose shorter side is no wider than it; what is left over at the side is trimmed
    (common practice, no source)."""
    return min(wanted.x, wanted.y) <= width.high + TOLERANCE_UM


def _extent(amount: Amount) -> Span | None:
    """A tray's dimension; one that is not limited takes everything."""
    match amount:
        case Measured(value):
            return Span(value, value)
        case Unrestricted():
            return Span(0, 2**31)
        case _:
            return None


def _tray(row: InputRow, wanted: Print) -> tuple[Holds, str]:
    """Can this input row serve the print, and if not, why not? "" where it has nothing to do with it."""
    cross, feed = _extent(row.cross), _extent(row.feed)
    name = row.name or row.description or f"input {row.index}"
    is_roll = row.type == ROLL
    if wanted.feed and (wanted.feed == "roll") != is_roll:
        return Holds.UNMET, ""
    if cross is None or (feed is None and not is_roll):
        return Holds.UNPROVEN, f"{name}: size not told"
    if not (_roll_holds(wanted, cross) if is_roll else _fits(wanted, MediaSize(cross, feed or cross))):
        return Holds.UNMET, ""
    if row.level == Measured(0):
        return Holds.UNMET, f"{name} is empty"
    if row.status and row.status.availability == "unavailable-broken":
        return Holds.UNMET, f"{name} is not available: empty, jammed or missing"  # RFC 8011 s5.4.12: 19 is each of them
    if wanted.type and row.media_type and wanted.type.casefold() != row.media_type.casefold():
        return Holds.UNMET, f"{name} is set to {row.media_type}"
    if wanted.type and not row.media_type:
        return Holds.UNPROVEN, f"{name}: media type not told"
    if not isinstance(row.level, Measured | Some | Unrestricted):
        return Holds.UNPROVEN, f"{name}: level not told"
    return Holds.MET, name


def _ready(row: ReadyRow, wanted: Print) -> tuple[Holds, str]:
    """The same for one member of media-col-ready, which lists only what is there."""
    name = row.source or row.name or "media-ready"
    if row.size is None:
        return Holds.UNPROVEN, f"{name}: size not told"
    is_roll = row.size.y.low != row.size.y.high or not row.size.y.high or "roll" in f"{row.source} {row.name}"
    if wanted.feed and (wanted.feed == "roll") != is_roll:
        return Holds.UNMET, ""
    if not (_roll_holds(wanted, row.size.x) if is_roll else _fits(wanted, row.size)):
        return Holds.UNMET, ""
    if wanted.type and row.type and wanted.type.casefold() != row.type.casefold():
        return Holds.UNMET, f"{name} is set to {row.type}"
    if wanted.type and not row.type:
        return Holds.UNPROVEN, f"{name}: media type not told"
    return Holds.MET, name


@rule("the media that the prints need", unseen=("services.ipp", "services.snmp", "services.reach"))
def loaded(seen: New[Inputs | MediaReady], want: Wanted[PrintDemand]) -> Iterator[Ruling]:
    """Is media loaded, of the right size and type, for every print that the Standard wants?

    Why: The test prints cannot be made, and the site cannot work, without it.
    Do: Load the media, and set its type on the device's panel.
    Caution: A full roll is heavy: lift it as two where local rules say so. Keep fingers away from the cutter's blade.
    Takes: about 5 minutes
    Source: RFC 3805 s6 (prtInputTable); PWG 5100.7 (media-col-ready); sizes by PWG 5101.1.
    """
    for wanted in want.prints:
        yield _loaded(seen, wanted)


def _loaded(seen: Known[Inputs | MediaReady], wanted: Print) -> Ruling:
    told: list[tuple[Holds, str]] = []
    complete, contradicted = True, False
    listed = {each.observation.probe for each in seen.every if isinstance(each.fact, MediaReady)}
    for sighting in seen.every:
        fact = sighting.fact
        if isinstance(fact, Inputs):
            # Who lists what is ready has said the sizes there: an input without one adds nothing.
            rows = [row for row in fact.rows if _extent(row.cross) or sighting.observation.probe not in listed]
            trays = [_tray(row, wanted) for row in rows]
            told += trays
            complete = complete and fact.complete
            contradicted = contradicted or _used_up(trays)
        else:
            told += [_ready(row, wanted) for row in fact.rows]
    item = str(wanted)
    empty = [why for state, why in told if state is Holds.UNMET and why]
    able = [why for state, why in told if state is Holds.MET]
    if able and not contradicted:
        return met(f"Loaded: {wanted}", able[0], item=item)
    if empty:
        return unmet(f"Not loaded: {wanted}", join(dict.fromkeys(empty)), "loaded, of that type", item=item)
    open_ = [why for state, why in told if state is Holds.UNPROVEN]
    if open_ or not complete:
        return unproven(f"Not clear whether media is loaded for {wanted}", join(dict.fromkeys(open_)), item=item)
    return unmet(f"Not loaded: {wanted}", _listed(seen), "loaded, of that size", item=item)


def _used_up(trays: list[tuple[Holds, str]]) -> bool:
    """One source says that the fitting roll is empty, and knows no other that would do: another source's claim that it
    is ready does not outweigh that."""
    return any(why.endswith("is empty") for _, why in trays) and not any(state is Holds.MET for state, _ in trays)


def _listed(seen: Known[Inputs | MediaReady]) -> str:
    names: list[str] = []
    for fact in seen.facts():
        if isinstance(fact, Inputs):
            names += [
                f"{row.name or row.index} {millimetres(row.cross.value)} wide"
                for row in fact.rows
                if isinstance(row.cross, Measured)
            ]
        else:
            names += [row.name for row in fact.rows if row.name]
    return join(dict.fromkeys(names)) or "nothing"


@rule("room for what is printed", weight=Weight.CARE)
def output(told: NewClaims[Outputs]) -> Iterator[Ruling]:
    """Is there room in every bin, stacker and take-up roll?

    Why: With a full output the device stops, or drops its prints on the floor.
    Do: Take out what lies in the output.
    Takes: about 1 minute
    Source: RFC 3805 s6 (prtOutputRemainingCapacity: 0 is full, partial(-3) is room for one at least).
    """
    sighting = told.every[0]
    for row in sighting.fact.rows:
        if row.remaining == Measured(0) and row.capacity != Measured(0):
            name = row.name or f"Output {row.index}"
            yield unmet(f"{name} is full", "no room left", "some room", item=name, on=(sighting,))


@rule("the sizes and media types that the new device can take", unseen=("services.ipp", "services.reach"))
def supported(seen: New[MediaSupported], want: Wanted[PrintDemand]) -> Iterator[Ruling]:
    """Can the device take every size and media type that the Standard wants printed?

    Why: A size that the device does not know is printed on another, or refused.
    Do: Install the media type or the size on the device (by its own instructions), or call the desk: it may be the
    wrong model or a missing option.
    Source: RFC 8011 s5.2.11 (media-supported); PWG 5101.1; PWG 5100.7 (media-type-supported).
    """
    fact = seen.fact
    for wanted in want.prints:
        item = str(wanted)
        if not fact.sizes:
            yield unproven("The device does not tell its sizes", item=item)
        elif not any(_fits(wanted, size) for size in fact.sizes):
            size = f"{millimetres(wanted.x)} x {millimetres(wanted.y)}"
            yield unmet(f"The device cannot take {wanted}", "no size that holds it", size, item=item)
        elif wanted.type and fact.types and wanted.type not in fact.types:
            yield unmet(f"The device does not know media type {wanted.type}", join(fact.types), wanted.type, item=item)
        elif wanted.type and not fact.types:
            yield unproven(f"The device does not tell whether it knows {wanted.type}", item=item)
        else:
            yield met(f"The device can take {wanted}", item=item)
