"""Read half, the ways into the printer and its panel (RFC 3805): channels, languages, media paths, console. Pure."""

from collections.abc import Iterator

from netcheck.facts import Fact
from netcheck.facts.channels import (
    ChannelRow,
    Channels,
    Console,
    InterpreterRow,
    Interpreters,
    LightRow,
    MediaPathRow,
    MediaPaths,
)

from . import mib
from .ber import Oid
from .harvest import Harvest, charset
from .reading_printer import micrometres, rows_of, sub_unit

Facts = Iterator[tuple[str, Fact]]


def channels(harvest: Harvest) -> Facts:
    for source, rows in rows_of(harvest, mib.CHANNEL):
        found = tuple(_channel(harvest, row) for row in rows)
        if found:
            # Agents of before RFC 3805 have no prtChannelInformation, and the table is no less whole for that.
            yield source, Channels(found, harvest.column("prtChannelType").complete)


def _channel(harvest: Harvest, row: Oid) -> ChannelRow:
    said = channel_information(harvest.text("prtChannelInformation", row))
    port = said.get("Port", "")
    return ChannelRow(
        index=row[-1],
        type=harvest.label("prtChannelType", row),
        state=harvest.label("prtChannelState", row),
        port=int(port) if port.isascii() and port.isdigit() and int(port[:6]) <= 65535 and len(port) <= 5 else None,
        queue=said.get("Queue", said.get("Name", "")),
        interface=harvest.number("prtChannelIfIndex", row) or None,
        status=sub_unit(harvest.number("prtChannelStatus", row)),
    )


def channel_information(text: str) -> dict[str, str]:
    """prtChannelInformation (RFC 3805 s6): entries ``Keyword=value``, each ended by a line feed; keywords are
    case-sensitive, those that nobody knows are ignored by whoever looks, and of a repeated one the first counts."""
    entries = (line.partition("=") for line in text.split("\n") if "=" in line)
    said: dict[str, str] = {}
    for keyword, _, value in entries:
        said.setdefault(keyword.strip(), value.strip())
    return said


def interpreters(harvest: Harvest) -> Facts:
    for source, rows in rows_of(harvest, mib.INTERPRETER):
        found = tuple(
            InterpreterRow(
                index=row[-1],
                family=harvest.label("prtInterpreterLangFamily", row),
                level=harvest.text("prtInterpreterLangLevel", row),
                version=harvest.text("prtInterpreterVersion", row),
                description=harvest.text("prtInterpreterDescription", row, charset(harvest, row[0])),
            )
            for row in rows
        )
        if found:
            yield source, Interpreters(found, harvest.complete(mib.INTERPRETER))


def media_paths(harvest: Harvest) -> Facts:
    for source, rows in rows_of(harvest, mib.MEDIA_PATH):
        found = tuple(_media_path(harvest, row) for row in rows)
        if found:
            yield source, MediaPaths(found, harvest.complete(mib.MEDIA_PATH))


def _media_path(harvest: Harvest, row: Oid) -> MediaPathRow:
    unit = harvest.number("prtMediaPathMediaSizeUnit", row)
    return MediaPathRow(
        index=row[-1],
        type=harvest.label("prtMediaPathType", row),
        description=harvest.text("prtMediaPathDescription", row, charset(harvest, row[0])),
        max_cross=micrometres(harvest.number("prtMediaPathMaxMediaXFeedDir", row), unit),
        max_feed=micrometres(harvest.number("prtMediaPathMaxMediaFeedDir", row), unit),
        min_cross=micrometres(harvest.number("prtMediaPathMinMediaXFeedDir", row), unit),
        min_feed=micrometres(harvest.number("prtMediaPathMinMediaFeedDir", row), unit),
        status=sub_unit(harvest.number("prtMediaPathStatus", row)),
    )


def console(harvest: Harvest) -> Facts:
    for source, rows in rows_of(harvest, mib.CONSOLE_LINE):
        language = charset(harvest, rows[0][0], "prtConsoleLocalization") if rows else "utf-8"
        lines = tuple(harvest.text("prtConsoleDisplayBufferText", row, language) for row in rows)
        lights = tuple(_light(harvest, row) for _, found in rows_of(harvest, mib.CONSOLE_LIGHT) for row in found)
        if lines or lights:
            yield source, Console(lines, lights, harvest.complete(mib.CONSOLE_LINE, mib.CONSOLE_LIGHT))


def _light(harvest: Harvest, row: Oid) -> LightRow:
    return LightRow(
        index=row[-1],
        description=harvest.text("prtConsoleDescription", row, charset(harvest, row[0], "prtConsoleLocalization")),
        color=harvest.label("prtConsoleColor", row),
        shows=light_shows(harvest.number("prtConsoleOnTime", row), harvest.number("prtConsoleOffTime", row)),
    )


def light_shows(on_ms: int | None, off_ms: int | None) -> str:
    """prtConsoleOnTime and prtConsoleOffTime (RFC 3805 s6): both run, it blinks; only on, it is on; else it is off. ""
    where neither was told."""
    if on_ms is None and off_ms is None:
        return ""
    if on_ms and off_ms:
        return "blinking"
    return "on" if on_ms else "off"
