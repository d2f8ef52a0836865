"""What a fact is. Stage: between the probes, which make facts, and the rules, which weigh them.

A fact is one thing that a device, a spooler or a person said, in the words of the standard that defines it. It draws
no conclusion: whether "waste receptacle, level 0" is good or bad is a rule's business, so that an old case can be
judged by a better rule. Two conventions hold everywhere:

* An enumeration is its standard's label (``"idle"``). A number that the standard does not name stays a number, as
  decimal text (``"40123"``): registries grow, and an unknown value is data.
* ``None`` or ``""`` means that the source said nothing about it; it never means zero, false or fine.
"""

from typing import ClassVar

import msgspec


class Fact(msgspec.Struct, frozen=True):
    """Base of all facts. ``kind`` is the name under which the fact is saved; it never changes its meaning."""

    kind: ClassVar[str]


class Measured(msgspec.Struct, frozen=True, tag_field="is", tag="measured"):
    """A number of units."""

    value: int


class Some(msgspec.Struct, frozen=True, tag_field="is", tag="some"):
    """At least one unit is left, or there is room for one; how much is not known (RFC 3805 s2.4: partial, -3)."""


class Unknown(msgspec.Struct, frozen=True, tag_field="is", tag="unknown"):
    """The device does not know (RFC 3805 s2.4: unknown, -2), or gave no such object."""


class Unrestricted(msgspec.Struct, frozen=True, tag_field="is", tag="unrestricted"):
    """The sub-unit sets no limit on this quantity (RFC 3805 s2.4: other, -1)."""


Amount = Measured | Some | Unknown | Unrestricted
"""A level, capacity or dimension. A union and not a number, because a percentage of -3 must not be computable."""


def amount(number: int | None) -> Amount:
    """Read a Printer MIB quantity (RFC 3805 s2.4). Other negative numbers are not legal and count as unknown."""
    if number is None:
        return Unknown()
    if number >= 0:
        return Measured(number)
    if number == -1:
        return Unrestricted()
    if number == -3:
        return Some()
    return Unknown()
