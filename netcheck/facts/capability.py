"""Facts about what a device can do with a page, and whether it would take a given print."""

from typing import ClassVar

import msgspec

from netcheck.facts.base import Fact


class Margins(msgspec.Struct, frozen=True):
    """media-bottom-margin-supported and its three sisters (PWG 5100.7), in micrometres: the unprintable edges that the
    device can be asked for, 0 where it prints to the edge. Nothing in a tuple means that it did not say."""

    bottom: tuple[int, ...] = ()
    left: tuple[int, ...] = ()
    right: tuple[int, ...] = ()
    top: tuple[int, ...] = ()


class Capabilities(Fact, frozen=True):
    """What the device can do beside taking media and formats (RFC 8011 s5.2, s5.4), in the standards' keywords.

    ``resolutions`` are as ``600x600dpi``: across the feed, then along it. None, or nothing in a tuple, means that the
    device did not say."""

    kind: ClassVar[str] = "capabilities"
    color: bool | None = None
    sides: tuple[str, ...] = ()
    resolutions: tuple[str, ...] = ()
    finishings: tuple[str, ...] = ()
    margins: Margins = Margins()


class JobCheck(Fact, frozen=True):
    """What the device answered when it was asked whether it would take a print (Validate-Job, RFC 8011 s4.2.3).

    ``print`` is the Standard's print in words. ``accepted`` is a status of success, ``status`` its keyword;
    ``unsupported`` names what the device said that it ignores, replaces or refuses. ``format`` and ``source`` are what
    was asked with, "" where neither was named. It is a word about the ticket: nothing was printed, no paper looked at.
    """

    kind: ClassVar[str] = "job-check"
    print: str
    accepted: bool
    status: str
    unsupported: tuple[str, ...] = ()
    format: str = ""
    source: str = ""
