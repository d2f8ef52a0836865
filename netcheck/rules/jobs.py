"""Would the new device take the prints that must come out? Asked of the device itself, without printing."""

from collections.abc import Iterator

from netcheck.facts.capability import JobCheck
from netcheck.ruling import New, Ruling, Sighting, Wanted, met, rule, unmet, unproven
from netcheck.standard import PrintDemand
from netcheck.verdict import Weight
from netcheck.words import join

_SUBSTITUTED = "successful-ok-ignored-or-substituted-attributes"
_REFUSALS = {
    "client-error-document-format-not-supported": "The device would refuse {}: it does not take {}",
    "client-error-attributes-or-values-not-supported": "The device would not take {} as it is wanted",
    "client-error-conflicting-attributes": "The device does not take that size, type and feed together: {}",
}
"""Statuses that say no to the ticket (RFC 8011 appendix B). Any other failure says that it was not looked at."""


@rule(
    "whether the device would take the prints",
    weight=Weight.CARE,
    unseen_weight=Weight.NOTE,
    after=("media.supported",),
    unseen=("services.ipp", "services.reach"),
)
def accepted(seen: New[JobCheck], want: Wanted[PrintDemand]) -> Iterator[Ruling]:
    """Does the device say that it would take every print that the Standard wants, on that size and type?

    Why: A printer that does not take a job as it is wanted refuses it, or prints it on other media.
    Do: Install the media type or the size on the device (by its own instructions), or correct what the Standard calls
    it; then run this again.
    Unseen: Nothing need be done: the test prints settle it. Not every device offers this question.
    Source: RFC 8011 s4.2.3 (Validate-Job) and appendix B (the status codes); PWG 5100.7 (media-col).
    """
    answers = {sighting.fact.print: sighting for sighting in seen.every}
    for wanted in want.prints:
        item = str(wanted)
        if item in answers:
            yield _answered(answers[item], item)
        else:
            title = f"The device was not asked about {wanted}"
            yield unproven(title, item=item, weight=Weight.NOTE, on=seen.every)


def _answered(sighting: Sighting[JobCheck], item: str) -> Ruling:
    fact = sighting.fact
    because = (f"media.supported/{item}",)
    found = join([fact.status, join(fact.unsupported)], ": ")
    if refusal := _REFUSALS.get(fact.status):
        title = refusal.format(item, fact.format or "the format")
        return unmet(title, found, "successful-ok", item=item, because=because, on=(sighting,))
    if not fact.accepted:
        title = f"The device did not say whether it would take {item}"
        return unproven(title, found, "successful-ok", item=item, weight=Weight.NOTE, because=(), on=(sighting,))
    if fact.status == _SUBSTITUTED and any(name.partition("/")[0] in _MEDIA for name in fact.unsupported):
        title = f"The device would print it on other media: {item}"
        return unmet(title, found, "successful-ok", item=item, because=because, on=(sighting,))
    title = f"The device says that it would take {item}; that is no proof that it prints it"
    return met(title, found, item=item, on=(sighting,))


_MEDIA = {"media", "media-col", "media-size", "media-type", "media-source"}
"""Names under which a device says that it is the media which it would replace."""
