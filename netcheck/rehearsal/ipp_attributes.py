"""What a simulated printer says of itself over IPP, from the same `Device` as its SNMP rows.

RFC 8011 s5.4 (description and state) and s5.2 (job template), PWG 5100.7 (media-col), PWG 5100.9 (printer-alert),
PWG 5100.13 (printer-supply, printer-input-tray, firmware, device ID). What is loaded stands in `ipp_media`.
"""

from __future__ import annotations

from netcheck.rehearsal import conditions as state
from netcheck.rehearsal.conditions import Condition, Group
from netcheck.rehearsal.device import Device, Input, Supply
from netcheck.rehearsal.ipp_media import media_attributes
from netcheck.rehearsal.ipp_message import Attribute, Tag, attribute
from netcheck.rehearsal.ipp_service import GET_JOBS, GET_PRINTER_ATTRIBUTES, VALIDATE_JOB


def ipp_attributes(device: Device, authority: str) -> tuple[Attribute, ...]:
    """Every printer attribute that the device has, media-col-database included. Pure.

    `authority` is the host and port that it is reached at; its URIs are built from it.
    """
    found = state.conditions(device)
    return (
        *_identity(device, authority),
        *_protocol(device, authority),
        *_status(device, found),
        *media_attributes(device),
        *_job_template(),
        *_supplies(device, authority),
        *_alerts(found),
    )


def _identity(device: Device, authority: str) -> tuple[Attribute, ...]:
    return (
        attribute(Tag.NAME, "printer-name", device.host_name),
        attribute(Tag.TEXT, "printer-info", device.make_and_model),
        attribute(Tag.TEXT, "printer-location", device.location),
        attribute(Tag.TEXT, "printer-make-and-model", device.make_and_model),
        attribute(Tag.URI, "printer-more-info", f"http://{authority}/"),
        attribute(Tag.URI, "printer-uuid", device.uuid),
        attribute(Tag.TEXT, "printer-device-id", device.device_id),
        attribute(Tag.NAME, "printer-firmware-name", "system"),
        attribute(Tag.TEXT, "printer-firmware-string-version", device.firmware),
        attribute(Tag.OCTETS, "printer-firmware-version", device.firmware.encode()),
        attribute(Tag.TEXT, "printer-firmware-patches", ""),
    )


def _protocol(device: Device, authority: str) -> tuple[Attribute, ...]:
    return (
        attribute(Tag.URI, "printer-uri-supported", f"ipp://{authority}{device.ipp_path}"),
        attribute(Tag.KEYWORD, "uri-authentication-supported", "none"),
        attribute(Tag.KEYWORD, "uri-security-supported", "none"),
        attribute(Tag.KEYWORD, "ipp-versions-supported", "1.1", "2.0"),
        attribute(Tag.ENUM, "operations-supported", VALIDATE_JOB, GET_JOBS, GET_PRINTER_ATTRIBUTES),
        attribute(Tag.CHARSET, "charset-configured", "utf-8"),
        attribute(Tag.CHARSET, "charset-supported", "utf-8"),
        attribute(Tag.LANGUAGE, "natural-language-configured", "en"),
        attribute(Tag.LANGUAGE, "generated-natural-language-supported", "en"),
        attribute(Tag.MIME, "document-format-default", device.formats[0]),
        attribute(Tag.MIME, "document-format-supported", *device.formats),
        attribute(Tag.KEYWORD, "compression-supported", "none"),
        attribute(Tag.KEYWORD, "pdl-override-supported", "not-attempted"),
        attribute(Tag.BOOLEAN, "multiple-document-jobs-supported", False),
        attribute(Tag.KEYWORD, "which-jobs-supported", "completed", "not-completed"),
    )


def _status(device: Device, found: tuple[Condition, ...]) -> tuple[Attribute, ...]:
    return (
        attribute(Tag.ENUM, "printer-state", state.printer_state(found)),
        attribute(Tag.KEYWORD, "printer-state-reasons", *state.state_reasons(found)),
        attribute(Tag.TEXT, "printer-state-message", state.panel_text(found)),
        attribute(Tag.BOOLEAN, "printer-is-accepting-jobs", True),
        attribute(Tag.INTEGER, "queued-job-count", 0),
        attribute(Tag.INTEGER, "printer-up-time", max(device.up_seconds, 1)),
        attribute(Tag.INTEGER, "printer-state-change-time", 1),
        attribute(Tag.INTEGER, "printer-impressions-completed", device.life_count),
        attribute(Tag.BOOLEAN, "color-supported", True),
        attribute(Tag.INTEGER, "pages-per-minute", 1),
        attribute(Tag.INTEGER, "pages-per-minute-color", 1),
    )


def _job_template() -> tuple[Attribute, ...]:
    return (
        attribute(Tag.INTEGER, "copies-default", 1),
        attribute(Tag.RANGE, "copies-supported", (1, 99)),
        attribute(Tag.ENUM, "finishings-default", 3),  # none
        attribute(Tag.ENUM, "finishings-supported", 3),
        attribute(Tag.ENUM, "orientation-requested-default", 3),
        attribute(Tag.ENUM, "orientation-requested-supported", 3, 4),
        attribute(Tag.KEYWORD, "output-bin-default", "face-up"),
        attribute(Tag.KEYWORD, "output-bin-supported", "face-up"),
        attribute(Tag.KEYWORD, "print-color-mode-default", "auto"),
        attribute(Tag.KEYWORD, "print-color-mode-supported", "auto", "color", "monochrome"),
        attribute(Tag.ENUM, "print-quality-default", 4),
        attribute(Tag.ENUM, "print-quality-supported", 3, 4, 5),
        attribute(Tag.RESOLUTION, "printer-resolution-default", (600, 600)),
        attribute(Tag.RESOLUTION, "printer-resolution-supported", (300, 300), (600, 600)),
        attribute(Tag.KEYWORD, "sides-default", "one-sided"),
        attribute(Tag.KEYWORD, "sides-supported", "one-sided"),
    )


def _supplies(device: Device, authority: str) -> tuple[Attribute, ...]:
    inks = [supply for supply in device.supplies if not supply.receptacle]
    pairs = (
        _supply(supply, index, inks.index(supply) + 1 if supply in inks else 0)
        for index, supply in enumerate(device.supplies, 1)
    )
    found = state.conditions(device)
    trays = (
        _tray(tray, state.sub_unit_status(found, Group.input, index)) for index, tray in enumerate(device.inputs, 1)
    )
    return (
        attribute(Tag.OCTETS, "printer-supply", *pairs),
        attribute(Tag.TEXT, "printer-supply-description", *(supply.name for supply in device.supplies)),
        attribute(Tag.URI, "printer-supply-info-uri", f"http://{authority}/"),
        attribute(Tag.OCTETS, "printer-input-tray", *trays),
    )


def _supply(supply: Supply, index: int, colorant: int) -> bytes:
    """One printer-supply value, in the labels of the Printer MIB; the level means what it means there (5100.13)."""
    kind, purpose = (
        ("wasteInk", "receptacleThatIsFilled") if supply.receptacle else ("inkCartridge", "supplyThatIsConsumed")
    )
    colour = f"colorantrole=process;colorantname={supply.colour};coloranttonality=256;" if colorant else ""
    level = (
        f"type={kind};maxcapacity=100;level={supply.percent};index={index};markerindex=1;class={purpose};unit=percent;"
    )
    return f"{level}colorantindex={colorant};{colour}".encode()


def _tray(tray: Input, status: int) -> bytes:
    """One printer-input-tray value: the columns of prtInputTable by name; a roll has no length of its own (-1)."""
    roll = tray.feed == "roll"
    kind, unit = ("continuousRoll", "meters") if roll else ("sheetFeedAutoRemovableTray", "sheets")
    size = f"dimunit=micrometers;mediafeed={-1 if roll else tray.length_um};mediaxfeed={tray.width_um};"
    amount = f"unit={unit};maxcapacity={tray.capacity};level={tray.left};status={status};"
    return f"type={kind};{size}{amount}name={tray.name};".encode()


def _alerts(found: tuple[Condition, ...]) -> tuple[Attribute, ...]:
    """printer-alert and its descriptions; left out when there is none, since a set cannot be empty."""
    if not found:
        return ()
    values = (
        f"code={condition.kind.label};index={index};severity={condition.severity.name};"
        f"training=untrained;group={condition.kind.group.name};groupindex={condition.index};".encode()
        for index, condition in enumerate(found, 1)
    )
    return (
        attribute(Tag.OCTETS, "printer-alert", *values),
        attribute(Tag.TEXT, "printer-alert-description", *(condition.text for condition in found)),
    )
