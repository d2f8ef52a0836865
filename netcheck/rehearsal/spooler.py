"""The simulated print scheduler, with the queue that the site's application prints to.

It speaks IPP at /printers/<queue> and at /, and lists its queues with CUPS-Get-Printers (operation 0x4002). As
schedulers do, it goes by the printer-uri of the request and not by the path of the POST.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from urllib.parse import unquote, urlsplit

from netcheck.rehearsal import ipp_service as ipp
from netcheck.rehearsal.ipp_media import media_size
from netcheck.rehearsal.ipp_message import Attribute, Request, Response, Tag, attribute


@dataclass(frozen=True, slots=True)
class Queue:
    """A queue. `state` is printer-state (3 idle, 4 processing, 5 stopped); `jobs` counts the waiting ones."""

    name: str
    device_uri: str
    make_and_model: str
    location: str
    media_default: str
    media: tuple[str, ...]
    state: int = 3
    accepting: bool = True
    jobs: int = 0


class Spooler:
    """A scheduler with its queues. `authority` is the host and port that it is reached at."""

    def __init__(self, queues: tuple[Queue, ...], authority: str) -> None:
        self._queues = {queue.name: queue for queue in queues}
        self._authority = authority
        self._started = time.monotonic()
        self._operations: dict[int, ipp.Operation] = {
            ipp.GET_PRINTER_ATTRIBUTES: self._attributes,
            ipp.CUPS_GET_PRINTERS: self._list,
            ipp.GET_JOBS: self._jobs,
        }

    def answer(self, path: str, body: bytes) -> bytes | None:
        """The response to a request posted to `path`; None outside / and /printers/. See `ipp_service.Answer`."""
        if path != "/" and not path.startswith("/printers/"):
            return None
        return ipp.respond(body, self._operations)

    def _attributes(self, request: Request) -> Response:
        queue = self._queue(request)
        if queue is None:
            return Response(ipp.NOT_FOUND, message="The printer or class does not exist.")
        return Response(ipp.OK, ((Tag.PRINTER, self._chosen(queue, request)),))

    def _list(self, request: Request) -> Response:
        return Response(ipp.OK, tuple((Tag.PRINTER, self._chosen(queue, request)) for queue in self._queues.values()))

    def _jobs(self, request: Request) -> Response:
        return ipp.no_jobs(request) if self._queue(request) else Response(ipp.NOT_FOUND)

    def _queue(self, request: Request) -> Queue | None:
        folder, _, name = urlsplit(request.text("printer-uri") or "").path.rpartition("/")
        return self._queues.get(unquote(name)) if folder == "/printers" else None

    def _chosen(self, queue: Queue, request: Request) -> tuple[Attribute, ...]:
        up_seconds = int(time.monotonic() - self._started) + 1
        attributes = queue_attributes(queue, self._authority, up_seconds)
        return ipp.select(attributes, request.texts("requested-attributes"))


def queue_attributes(queue: Queue, authority: str, up_seconds: int) -> tuple[Attribute, ...]:
    """Every attribute of a queue (RFC 8011 s5.4; device-uri and printer-is-shared are the scheduler's own). Pure."""
    uri = f"ipp://{authority}/printers/{queue.name}"
    default_size = attribute(Tag.BEGIN, "media-size", media_size(queue.media_default))
    return (
        attribute(Tag.NAME, "printer-name", queue.name),
        attribute(Tag.TEXT, "printer-info", queue.name),
        attribute(Tag.TEXT, "printer-location", queue.location),
        attribute(Tag.TEXT, "printer-make-and-model", queue.make_and_model),
        attribute(Tag.URI, "printer-uri-supported", uri),
        attribute(Tag.URI, "printer-more-info", f"http://{authority}/printers/{queue.name}"),
        attribute(Tag.URI, "device-uri", queue.device_uri),
        attribute(Tag.BOOLEAN, "printer-is-shared", False),
        attribute(Tag.KEYWORD, "uri-authentication-supported", "requesting-user-name"),
        attribute(Tag.KEYWORD, "uri-security-supported", "none"),
        attribute(Tag.KEYWORD, "ipp-versions-supported", "1.1", "2.0"),
        attribute(Tag.ENUM, "operations-supported", ipp.GET_JOBS, ipp.GET_PRINTER_ATTRIBUTES, ipp.CUPS_GET_PRINTERS),
        attribute(Tag.CHARSET, "charset-configured", "utf-8"),
        attribute(Tag.CHARSET, "charset-supported", "utf-8"),
        attribute(Tag.LANGUAGE, "natural-language-configured", "en"),
        attribute(Tag.LANGUAGE, "generated-natural-language-supported", "en"),
        attribute(Tag.MIME, "document-format-default", "application/octet-stream"),
        attribute(Tag.MIME, "document-format-supported", "application/octet-stream", "application/pdf"),
        attribute(Tag.KEYWORD, "compression-supported", "none"),
        attribute(Tag.KEYWORD, "pdl-override-supported", "not-attempted"),
        attribute(Tag.ENUM, "printer-state", queue.state),
        attribute(Tag.KEYWORD, "printer-state-reasons", "paused" if queue.state == 5 else "none"),
        attribute(Tag.TEXT, "printer-state-message", ""),
        attribute(Tag.BOOLEAN, "printer-is-accepting-jobs", queue.accepting),
        attribute(Tag.INTEGER, "queued-job-count", queue.jobs),
        attribute(Tag.INTEGER, "printer-up-time", up_seconds),
        attribute(Tag.KEYWORD, "media-default", queue.media_default),
        attribute(Tag.KEYWORD, "media-supported", *queue.media),
        attribute(Tag.BEGIN, "media-col-default", (default_size,)),
        attribute(Tag.KEYWORD, "sides-default", "one-sided"),
        attribute(Tag.KEYWORD, "sides-supported", "one-sided"),
    )
