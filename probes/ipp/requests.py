"""Stage: ask, the questions. Requests as octets; nothing is ever asked that changes or prints anything.

Every request begins with attributes-charset and attributes-natural-language, in that order, and the target comes next
(RFC 8011 section 4.1.4; RFC 8010 appendix A). No requesting-user-name: who asks is nobody's business.
"""

from collections.abc import Iterable
from functools import lru_cache
from typing import Final

from probes.ipp.codec import encode
from probes.ipp.labels import Operation
from probes.ipp.scalars import UnencodableError, utf8
from probes.ipp.values import Attribute, Boolean, Group, GroupTag, Integer, Message, Tag, Text

Version = tuple[int, int]
LATEST: Final[Version] = (2, 0)
EVERYBODYS: Final[Version] = (1, 1)
"""Every printer must accept it (RFC 8010 section 9.1)."""

_REQUEST_ID: Final = 1  # one request at a time on a connection: there is nothing to tell apart
_SOME_URI: Final = "ipp://printer.example/"
_SOME_VALUE: Final = len(_SOME_URI).to_bytes(2, "big") + _SOME_URI.encode()
_LONGEST: Final = 0x7FFF  # of a value


def get_printer_attributes(uri: str, requested: Iterable[str], version: Version) -> bytes:
    """RFC 8011 section 4.2.5. By name, since some printers answer group keywords badly (common practice, no source)."""
    return _request(Operation.GET_PRINTER_ATTRIBUTES, version, uri, _requested(requested))


def get_jobs(uri: str, requested: Iterable[str], limit: int) -> bytes:
    """RFC 8011 section 4.2.6: the jobs that are not completed, at most `limit` of them."""
    which = Attribute("which-jobs", (Text(Tag.KEYWORD, "not-completed"),))
    return _request(Operation.GET_JOBS, EVERYBODYS, uri, _limit(limit), _requested(requested), which)


def get_printers(requested: Iterable[str], limit: int) -> bytes:
    """CUPS-Get-Printers: every queue of a spooler, at most `limit` of them. It has no target."""
    return _whole(Operation.CUPS_GET_PRINTERS, EVERYBODYS, (_limit(limit), _requested(requested)))


def validate_job(uri: str, document_format: str, media: Attribute, version: Version) -> bytes:
    """RFC 8011 section 4.2.3: would a job with this media be taken? With ipp-attribute-fidelity, which makes the
    printer refuse what it would replace (section 4.2.1.1). No job is created; "" as document_format names none."""
    faithful = Attribute("ipp-attribute-fidelity", (Boolean(value=True),))
    told = Attribute("document-format", (Text(Tag.MIME_MEDIA_TYPE, document_format),))
    about = (faithful, *((told,) if document_format else ()))
    return _request(Operation.VALIDATE_JOB, version, uri, *about, job=(media,))


def _request(
    operation: Operation, version: Version, uri: str, *attributes: Attribute, job: tuple[Attribute, ...] = ()
) -> bytes:
    """A request about one printer. Only its URI tells it from the same one to another printer, so the rest is laid out
    once: a sweep asks thousands the same."""
    before, after = _around(operation, version, attributes, job)
    target = utf8(uri)
    if len(target) > _LONGEST:
        raise UnencodableError(f"a URI of {len(target)} octets")
    return b"".join((before, len(target).to_bytes(2, "big"), target, after))


@lru_cache(64)
def _around(
    operation: Operation, version: Version, attributes: tuple[Attribute, ...], job: tuple[Attribute, ...]
) -> tuple[bytes, bytes]:
    target = Attribute("printer-uri", (Text(Tag.URI, _SOME_URI),))
    before, _, after = _whole(operation, version, (target, *attributes), job).partition(_SOME_VALUE)
    return before, after


def _whole(
    operation: Operation, version: Version, attributes: tuple[Attribute, ...], job: tuple[Attribute, ...] = ()
) -> bytes:
    charset = Attribute("attributes-charset", (Text(Tag.CHARSET, "utf-8"),))
    language = Attribute("attributes-natural-language", (Text(Tag.NATURAL_LANGUAGE, "en"),))
    group = Group(GroupTag.OPERATION, (charset, language, *attributes))
    groups = (group, Group(GroupTag.JOB, job)) if job else (group,)
    return encode(Message(version, operation, _REQUEST_ID, groups))


def _limit(limit: int) -> Attribute:
    return Attribute("limit", (Integer(limit),))


def _requested(names: Iterable[str]) -> Attribute:
    return Attribute("requested-attributes", tuple(Text(Tag.KEYWORD, name) for name in names))
