"""Is there enough ink, and room for the waste?"""

from collections.abc import Iterator

from netcheck.facts import Measured, Some
from netcheck.facts.supplies import Supplies, Supply
from netcheck.ruling import Known, New, Ruling, Wanted, met, rule, unmet, unproven
from netcheck.standard import SupplyLimits
from netcheck.verdict import Weight
from netcheck.words import percent, quantity

RECEPTACLE = "receptacleThatIsFilled"


def is_receptacle(row: Supply) -> bool:
    """Is it filled, and not used up? An agent that leaves the class out has still told the type."""
    return row.family == RECEPTACLE or (row.family in {"", "other"} and row.type.startswith("waste"))


def _empty(row: Supply) -> Ruling:
    name = _named(row)
    if is_receptacle(row):
        do = f"Put in an empty one: {name}. Follow the device's own instructions."
        return unmet(f"{name} is full", "no room left", "some room", do, item=name)
    do = f"Put in a full one: {name}. Follow the device's own instructions."
    return unmet(f"{name} is empty", "nothing left", "some left", do, item=name)


def _whole(seen: Known[Supplies]) -> Supplies:
    """The best source's list, or the first that is complete where that one was cut short."""
    return next((fact for fact in seen.facts() if fact.complete), seen.fact)


def _named(row: Supply) -> str:
    return row.description or f"{row.colorant} {row.type}".strip() or f"supply {row.index}"


@rule(
    "supplies that are used up",
    unseen_weight=Weight.CARE,
    unseen=("services.reach", "services.snmp"),
)
def empty(seen: New[Supplies]) -> Iterator[Ruling]:
    """Is no supply empty, and no receptacle full?

    Why: With an empty ink or a full waste receptacle the device stops in the middle of a print.
    Do: Replace the cartridge or the receptacle by the device's own instructions.
    Caution: Wear gloves; keep ink and waste ink off skin and eyes, and dispose of them by local rules.
    Takes: about 10 minutes
    Source: RFC 3805 s6 (prtMarkerSuppliesLevel: 0 is empty, or a full receptacle; prtMarkerSuppliesClass).
    """
    table = _whole(seen)
    for row in table.rows:
        if row.level == Measured(0):
            yield _empty(row)
    if not table.complete:
        yield unproven("The list of supplies was cut short", item="rest of the table")
    elif not any(row.level == Measured(0) for row in table.rows):
        yield met("No supply is empty, no receptacle full", f"{len(table.rows)} supplies")


@rule(
    "levels of the supplies",
    unseen=("services.reach", "services.snmp"),
)
def level(seen: New[Supplies], want: Wanted[SupplyLimits]) -> Iterator[Ruling]:
    """Is every supply above the Standard's minimum, and is there room in every receptacle?

    Why: The test prints and the first days must not run dry; the site has no spare yet.
    Do: Put in a full cartridge, or an empty receptacle, and keep the old one if it is to be used up later.
    Caution: Wear gloves; keep ink and waste ink off skin and eyes, and dispose of them by local rules.
    Takes: about 10 minutes
    Source: RFC 3805 s6; the thresholds are the Standard's (no standard has any).
    """
    for row in _whole(seen).rows:
        if row.level == Measured(0):
            continue  # the rule "empty" says that, and more plainly
        yield _level(row, want)


def _level(row: Supply, want: SupplyLimits) -> Ruling:
    name = _named(row)
    what = "room left" if is_receptacle(row) else "left"
    share = percent(row.level, row.capacity, row.unit)
    if share is None:
        title = f"{name}: some {what}, how much is not told" if row.level == Some() else f"{name}: level not told"
        return unproven(title, quantity(row.level, row.unit), item=name, weight=Weight.CARE)
    title, found = f"{name}: {share} % {what}", f"{share} % ({_raw(row)})"
    if share < want.block_percent:
        return unmet(title, found, f"at least {want.block_percent} %", item=name)
    if share < want.care_percent:
        return unmet(title, found, f"at least {want.care_percent} %", item=name, weight=Weight.CARE)
    return met(title, found, item=name)


def _raw(row: Supply) -> str:
    """The two numbers as the device said them: some count the fill of a receptacle instead of its room, or more than
    there can be, and only the numbers show it (common practice, no source)."""
    told = quantity(row.level, row.unit)
    if not isinstance(row.capacity, Measured):
        return told
    over = isinstance(row.level, Measured) and row.level.value > row.capacity.value
    return f"{told} of {row.capacity.value}" + (", which is more than there can be" if over else "")
