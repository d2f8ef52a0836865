"""Facts about ink, toner and the receptacles that fill up."""

from typing import ClassVar

import msgspec

from netcheck.facts.base import Amount, Fact


class Supply(msgspec.Struct, frozen=True):
    """One row of prtMarkerSuppliesTable (RFC 3805 s6), one value of printer-supply (PWG 5100.13), or one place of the
    marker attributes of CUPS.

    ``family`` is prtMarkerSuppliesClass. For ``supplyThatIsConsumed`` the level is what is left; for
    ``receptacleThatIsFilled`` it is the room left, so that 0 is bad in both. ``colorant`` is "" when the supply is
    not tied to one colour.
    """

    index: int
    family: str
    type: str
    description: str
    unit: str
    capacity: Amount
    level: Amount
    colorant: str


class Supplies(Fact, frozen=True):
    """All supplies and receptacles that the device lists. The group is optional: absence proves nothing."""

    kind: ClassVar[str] = "supplies"
    rows: tuple[Supply, ...]
    complete: bool
