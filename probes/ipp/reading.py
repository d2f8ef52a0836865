"""Stage: read. A printer's description of itself → facts about identity, state and the service; media, supplies,
parts and capabilities have files of their own. Pure. What is missing, or of the wrong kind, yields no fact."""

from collections.abc import Iterable, Iterator
from itertools import zip_longest

from netcheck.facts import Fact
from netcheck.facts.condition import PrinterState
from netcheck.facts.deviceid import parse_device_id
from netcheck.facts.identity import DeviceId, Firmware, FirmwareModule, Model, Serial, Uuid
from netcheck.facts.media import Formats
from netcheck.facts.network import IppService, PrinterUri
from netcheck.secret import without_userinfo
from probes.ipp.asking import Printer
from probes.ipp.labels import PRINTER_STATES
from probes.ipp.reading_capability import read_capability
from probes.ipp.reading_media import read_media
from probes.ipp.reading_parts import read_parts
from probes.ipp.reading_supplies import read_supplies
from probes.ipp.said import Attributes, flag, in_place, number, octets, of_printer, text, texts
from probes.ipp.values import Enumerated, Integer

Facts = Iterator[tuple[str, Fact]]

_SERIAL_KEYS = ("SERIALNUMBER", "SERN", "SN")  # IEEE 1284 and what devices use; the last two from memory


def read(payload: Printer) -> Iterable[tuple[str, Fact]]:
    """Every fact in the printer group; a response without one says nothing."""
    said = of_printer(payload.message)
    if said is not None:
        yield "Get-Printer-Attributes", _service(payload.path, said)
        yield from _identity(said)
        yield from read_state(said)
        yield from _formats(said)
        yield from read_media(said)
        yield from read_supplies(said)
        yield from read_parts(said)
        yield from read_capability(said)


def _service(path: str, said: Attributes) -> IppService:
    uris = in_place(said.get("printer-uri-supported", ()))
    security = in_place(said.get("uri-security-supported", ()))
    authentication = in_place(said.get("uri-authentication-supported", ()))
    # The three go by position (RFC 8011 sections 5.4.1 to 5.4.3); what is left over has no URI to belong to.
    rows = tuple(zip_longest(uris, security, authentication, fillvalue=""))[: len(uris)]
    operations = said.get("operations-supported", ())
    return IppService(
        path,
        texts(said.get("ipp-versions-supported", ())),
        tuple(f"{value.value:04x}" for value in operations if isinstance(value, Enumerated | Integer)),
        tuple(PrinterUri(without_userinfo(uri), secured, authenticated) for uri, secured, authenticated in rows if uri),
    )


def _identity(said: Attributes) -> Facts:
    if model := text(said.get("printer-make-and-model", ())):
        yield "printer-make-and-model", Model(model)
    if pairs := parse_device_id(next(iter(octets(said.get("printer-device-id", ()))), "")):
        device_id = DeviceId(pairs)
        yield "printer-device-id", device_id
        if serial := device_id.get(*_SERIAL_KEYS):
            yield "printer-device-id", Serial(serial)
    if uuid := text(said.get("printer-uuid", ())):
        yield "printer-uuid", Uuid(uuid.lower().removeprefix("urn:uuid:"))
    names = in_place(said.get("printer-firmware-name", ()))
    versions = tuple(each.strip(" \0") for each in in_place(said.get("printer-firmware-string-version", ())))
    if versions and versions[0]:
        told = tuple(FirmwareModule(*each) for each in zip_longest(names[: len(versions)], versions, fillvalue=""))
        yield "printer-firmware-string-version", Firmware(versions[0], tuple(each for each in told if each.version))


def read_state(said: Attributes) -> Facts:
    """State, reasons with the suffix that they came with, and whether jobs are accepted; of a device or a queue."""
    state = number(said.get("printer-state", ()))
    accepting = flag(said.get("printer-is-accepting-jobs", ()))
    # Twice the same is once, and an empty keyword is none (common practice, no source).
    reasons = tuple(dict.fromkeys(filter(None, map(str.strip, texts(said.get("printer-state-reasons", ()))))))
    if state is None and accepting is None and not reasons:
        return
    label = "" if state is None else PRINTER_STATES.get(state, str(state))
    given = tuple(reason for reason in reasons if reason != "none")
    message = text(said.get("printer-state-message", ()))
    yield "printer-state", PrinterState(label, given, accepting, message, reasons_told=bool(reasons))


def _formats(said: Attributes) -> Facts:
    values = dict.fromkeys(bare(value) for value in texts(said.get("document-format-supported", ())))
    if values:
        default = bare(text(said.get("document-format-default", ())))
        yield "document-format-supported", Formats(tuple(values), default)


def bare(media_type: str) -> str:
    """A MIME type as it is compared: lower case, without parameters."""
    return media_type.partition(";")[0].strip().lower()
