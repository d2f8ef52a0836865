"""A simulated device's IPP printer: Get-Printer-Attributes, Validate-Job and Get-Jobs (RFC 8011 s4.2).

It takes no print data: every other operation is answered operation-not-supported, and operations-supported says so.
"""

from __future__ import annotations

import time
from dataclasses import replace

from netcheck.rehearsal import ipp_service as ipp
from netcheck.rehearsal.device import Device
from netcheck.rehearsal.ipp_attributes import ipp_attributes
from netcheck.rehearsal.ipp_media import unsupported
from netcheck.rehearsal.ipp_message import Request, Response, Tag


class IppPrinter:
    """One printer. `authority` is the host and port of its IPP service."""

    def __init__(self, device: Device, authority: str) -> None:
        self._device = device
        self._authority = authority
        self._started = time.monotonic()
        self._operations: dict[int, ipp.Operation] = {
            ipp.GET_PRINTER_ATTRIBUTES: self._attributes,
            ipp.VALIDATE_JOB: self._validate,
            ipp.GET_JOBS: ipp.no_jobs,
        }

    def answer(self, path: str, body: bytes) -> bytes | None:
        """The response to a request posted to `path`; None where there is no printer. See `ipp_service.Answer`."""
        return ipp.respond(body, self._operations) if path == self._device.ipp_path else None

    def _attributes(self, request: Request) -> Response:
        age = int(time.monotonic() - self._started)
        device = replace(self._device, up_seconds=self._device.up_seconds + age)
        attributes = ipp_attributes(device, self._authority)
        chosen = ipp.select(attributes, request.texts("requested-attributes"))
        return Response(ipp.OK, ((Tag.PRINTER, chosen),))

    def _validate(self, request: Request) -> Response:
        form = request.text("document-format")
        if form is not None and form.partition(";")[0].strip().lower() not in self._device.formats:
            return Response(ipp.FORMAT_NOT_SUPPORTED)
        refused = unsupported(self._device, request)
        if not refused:
            return Response(ipp.OK)
        strict = request.operation_attributes.get("ipp-attribute-fidelity") == [b"\x01"]
        return Response(ipp.VALUES_NOT_SUPPORTED if strict else ipp.OK_IGNORED, ((Tag.UNSUPPORTED, refused),))
