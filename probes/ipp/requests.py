"""Stage: ask, the questions. Requests as octets; nothing is ever asked that changes or prints anything.

Every request begins with attributes-charset and attributes-natural-language, in that order, and the target comes next
(RFC 8011 section 4.1.4; RFC 8010 appendix A). No requesting-user-name: who asks is nobody's business.
"""

from collections.abc import Iterable
from typing import Final

from probes.ipp.codec import encode
from probes.ipp.labels import Operation
from probes.ipp.values import Attribute, Boolean, Group, GroupTag, Integer, Message, Tag, Text

Version = tuple[int, int]
LATEST: Final[Version] = (2, 0)
EVERYBODYS: Final[Version] = (1, 1)
"""Every printer must accept it (RFC 8010 section 9.1)."""

_REQUEST_ID: Final = 1  # one request a connection: there is nothing to tell apart


def get_printer_attributes(uri: str, requested: Iterable[str], version: Version) -> bytes:
    """RFC 8011 section 4.2.5. By name, since some printers answer group keywords badly (common practice, no source)."""
    return _request(Operation.GET_PRINTER_ATTRIBUTES, version, _target(uri), _requested(requested))


def get_jobs(uri: str, requested: Iterable[str], limit: int) -> bytes:
    """RFC 8011 section 4.2.6: the jobs that are not completed, at most `limit` of them."""
    which = Attribute("which-jobs", (Text(Tag.KEYWORD, "not-completed"),))
    parts = (_target(uri), _limit(limit), _requested(requested), which)
    return _request(Operation.GET_JOBS, EVERYBODYS, *parts)


def get_printers(requested: Iterable[str], limit: int) -> bytes:
    """CUPS-Get-Printers: every queue of a spooler, at most `limit` of them. It has no target."""
    return _request(Operation.CUPS_GET_PRINTERS, EVERYBODYS, _limit(limit), _requested(requested))


def validate_job(uri: str, document_format: str, media: Attribute, version: Version) -> bytes:
    """RFC 8011 section 4.2.3: would a job with this media be taken? With ipp-attribute-fidelity, which makes the
    printer refuse what it would replace (section 4.2.1.1). No job is created; "" as document_format names none."""
    faithful = Attribute("ipp-attribute-fidelity", (Boolean(value=True),))
    told = Attribute("document-format", (Text(Tag.MIME_MEDIA_TYPE, document_format),))
    about = (_target(uri), faithful, *((told,) if document_format else ()))
    return _request(Operation.VALIDATE_JOB, version, *about, job=(media,))


def _request(operation: Operation, version: Version, *attributes: Attribute, job: tuple[Attribute, ...] = ()) -> bytes:
    charset = Attribute("attributes-charset", (Text(Tag.CHARSET, "utf-8"),))
    language = Attribute("attributes-natural-language", (Text(Tag.NATURAL_LANGUAGE, "en"),))
    group = Group(GroupTag.OPERATION, (charset, language, *attributes))
    groups = (group, Group(GroupTag.JOB, job)) if job else (group,)
    return encode(Message(version, operation, _REQUEST_ID, groups))


def _target(uri: str) -> Attribute:
    return Attribute("printer-uri", (Text(Tag.URI, uri),))


def _limit(limit: int) -> Attribute:
    return Attribute("limit", (Integer(limit),))


def _requested(names: Iterable[str]) -> Attribute:
    return Attribute("requested-attributes", tuple(Text(Tag.KEYWORD, name) for name in names))
