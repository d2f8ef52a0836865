"""Stage: ask and read. Would the printer take what must be printed? One Validate-Job for each print that is wanted.

Validate-Job carries what Print-Job would, without a document: the printer checks the ticket and creates no job (RFC
8011 section 4.2.3). So it is the nearest to a test print that costs no paper, and still only a word about the ticket.

The ticket is as plain as a ticket for that print can be, because a device may refuse whatever it is told too much
about: the size, the type in the device's own spelling, and the feed's source only where there is just one that it can
mean. ipp-attribute-fidelity is true, so that a printer refuses what it would else replace without a word.
"""

import re
import time
from collections.abc import AsyncGenerator, Iterable, Iterator
from typing import Final, TypeAlias
from urllib.parse import urlsplit

import msgspec

from netcheck.facts import Fact
from netcheck.facts.capability import JobCheck
from netcheck.probing import Answer, Deadline, Miss, Target
from netcheck.standard import Print
from netcheck.wire import Wire
from probes.ipp.asking import Printer
from probes.ipp.calling import Failure, Response, converse
from probes.ipp.http import Endpoint, Kept
from probes.ipp.labels import LAST_SUCCESS, Operation, status_words
from probes.ipp.reading import bare
from probes.ipp.requests import EVERYBODYS, LATEST, validate_job
from probes.ipp.said import Attributes, of_printer, text, texts
from probes.ipp.values import Attribute, Collection, Enumerated, GroupTag, Integer, Message, Tag, Text
from probes.tls.contexts import Contexts

_PDF: Final = "application/pdf"
_UM: Final = 10  # in 1/100 mm
_KEYWORD: Final = re.compile(r"[a-z][a-z0-9._-]*")
_NO_SHEETS: Final = {"auto", "disc"}
_ROLL: Final = "roll"
"""In the name of every media-source that is one: main-roll, alternate-roll, roll-1 (PWG 5100.7, from memory)."""


class Ticket(msgspec.Struct, frozen=True):
    """What is asked about one print: the `number`th of those that are wanted, from 1."""

    number: int
    wanted: str
    media: Collection
    format: str
    source: str


class Checked(msgspec.Struct, frozen=True):
    """A ticket and what the printer said of it."""

    ticket: Ticket
    message: Message


Reply: TypeAlias = Answer[Checked] | Miss


async def validate(
    target: Target, answer: Answer[Printer], wire: Wire, deadline: Deadline, kept: Kept | None = None
) -> AsyncGenerator[Reply, None]:
    """Ask about every print of the target, at the place where it answered; nothing where it does not list the
    operation. One after another: a printer's own server often serves one at a time (common practice, no source)."""
    asked = tuple(tickets(answer.payload.message, target.prints))
    if not asked:
        return
    answered = urlsplit(answer.target)
    tls = (await wire.shared(Contexts, Contexts.made)).reading if answered.scheme == "ipps" else None
    endpoint = Endpoint(target.address, answered.port or 0, answer.payload.path, target.host, tls, kept)
    uri = f"{answered.scheme}://{endpoint.authority}{endpoint.path}"
    # A printer which answers in 1.1 may refuse 2.0; nobody may refuse 1.1 (RFC 8010 section 9.1).
    version = LATEST if answer.payload.message.version >= LATEST else EVERYBODYS
    for ticket in asked:
        began = time.monotonic()
        request = validate_job(uri, ticket.format, Attribute("media-col", (ticket.media,)), version)
        result = await converse(endpoint, request, wire, deadline)
        if isinstance(result, Response):
            yield Answer(uri, Checked(ticket, result.message), began)
        else:
            yield _missed(uri, ticket, result, began)


def _missed(uri: str, ticket: Ticket, failure: Failure, began: float) -> Miss:
    return Miss(uri, failure.outcome, f"asked about {ticket.wanted}: {failure.reason}", began)


def tickets(message: Message, prints: Iterable[Print]) -> Iterator[Ticket]:
    """A ticket for each print, worded as this printer words things. Pure."""
    said = of_printer(message) or {}
    operations = said.get("operations-supported", ())
    if not any(isinstance(each, Enumerated | Integer) and each.value == Operation.VALIDATE_JOB for each in operations):
        return
    formats = {bare(each): each for each in texts(said.get("document-format-supported", ()))}
    document_format = formats.get(_PDF) or text(said.get("document-format-default", ()))
    for number, wanted in enumerate(prints, 1):
        source = _source(wanted.feed, said)
        yield Ticket(number, str(wanted), _media(wanted, said, source), document_format, source.value if source else "")


def _media(wanted: Print, said: Attributes, source: Text | None) -> Collection:
    sides = (("x-dimension", wanted.x), ("y-dimension", wanted.y))
    size = Collection(tuple(Attribute(name, (Integer(round(length / _UM)),)) for name, length in sides))
    members = [Attribute("media-size", (size,))]
    if wanted.type:
        members.append(Attribute("media-type", (_spelt(wanted.type, said),)))
    if source:
        members.append(Attribute("media-source", (source,)))
    return Collection(tuple(members))


def _spelt(media_type: str, said: Attributes) -> Text:
    """The type as the device writes it, where it lists it; else as its letters demand: only some make a keyword."""
    for listed in said.get("media-type-supported", ()):
        if isinstance(listed, Text) and listed.value.casefold() == media_type.casefold():
            return listed
    return Text(Tag.KEYWORD if _KEYWORD.fullmatch(media_type) else Tag.NAME, media_type)


def _source(feed: str, said: Attributes) -> Text | None:
    """The only listed source that feeds so. Of several, which one it will be is the printer's own choice."""
    listed = [each for each in said.get("media-source-supported", ()) if isinstance(each, Text)]
    rolls = [each for each in listed if _ROLL in each.value.casefold()]
    sheets = [each for each in listed if each not in rolls and each.value not in _NO_SHEETS]
    matching = {"roll": rolls, "sheet": sheets}.get(feed, [])
    return matching[0] if len(matching) == 1 else None


def read(payload: Checked) -> Iterator[tuple[str, Fact]]:
    """One JobCheck. What is unsupported counts with the members of a collection that the printer names in it; where it
    sends the whole collection back, that is all that is known."""
    ticket, code = payload.ticket, payload.message.code
    names = dict.fromkeys(
        name for group in payload.message.groups_of(GroupTag.UNSUPPORTED) for name in _names(group.attributes)
    )
    accepted = code <= LAST_SUCCESS
    check = JobCheck(ticket.wanted, accepted, status_words(code), tuple(names), ticket.format, ticket.source)
    yield f"Validate-Job {ticket.number}", check


def _names(attributes: Iterable[Attribute]) -> Iterator[str]:
    for attribute in attributes:
        yield attribute.name
        for value in attribute.values:
            if isinstance(value, Collection):
                yield from (f"{attribute.name}/{member.name}" for member in value.members)
