"""What would be lost: what the old device takes and the new one does not."""

from netcheck.facts.media import Formats
from netcheck.gates import Gate
from netcheck.ruling import New, Old, Ruling, met, rule, unmet
from netcheck.verdict import Weight
from netcheck.words import join

AUTO_SENSE = "application/octet-stream"


@rule(
    "document formats",
    until=Gate.SWAP,
    weight=Weight.CARE,
    unseen=("services.ipp", "services.reach", "services.old-reach"),
)
def formats(old: Old[Formats], new: New[Formats]) -> Ruling:
    """Does the new device take every document format that the old one took?

    Why: An application that sends its own format, past the driver, prints nothing or pages of characters.
    Do: Find out which format the application sends. If it is one of the lost ones, call the desk before going on.
    Source: RFC 8011 s5.4.22 (document-format-supported).
    """
    lost = [value for value in old.fact.values if value not in new.fact.values and value != AUTO_SENSE]
    if lost:
        title = f"The new device does not take {join(lost)}"
        return unmet(title, join(new.fact.values), f"{join(lost)}, as the old device takes")
    return met("The new device takes every format that the old one took", join(new.fact.values))
