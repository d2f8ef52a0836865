"""Every attribute of a printer, decoded by our codec and by ipptool (CUPS) from the same octets: they must agree.

The printer is `ippeveprinter`, told to be a device with rolls, sheets, custom sizes and every kind of supply. Its
answer is taken down once and given to both, so that clocks and counters cannot make a difference. Then the facts of the
same answer are compared with what the printer was told to say.
"""

import http.server
import plistlib
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC
from pathlib import Path
from typing import Any, Final

import pytest

from netcheck.facts import Fact, Measured, Some, Unknown, Unrestricted, amount
from netcheck.facts.media import Inputs, MediaReady
from netcheck.facts.supplies import Supplies
from probes.ipp import PROBE, asking
from probes.ipp.codec import decode
from probes.ipp.values import (
    Collection,
    DateTime,
    Message,
    Octets,
    OutOfBand,
    Range,
    Resolution,
    Text,
    Value,
)

from . import printers
from .attributes import LEVELS, SHEETS, SUPPLY_TYPES, SYNTAXES, generous
from .devices import HALDEN
from .printers import Printer
from .site import JACKS, Site

NEW: Final = JACKS["new"].address
ROOT: Final = Path(__file__).parents[2]
NOT_IN_ALL: Final = ("media-col-database", *(f"x-{each}" for each in SYNTAXES))
_TAKE_DOWN: Final = """
import asyncio, sys
from probes.ipp.http import Endpoint, post
from probes.ipp.requests import LATEST, get_printer_attributes
where = Endpoint(sys.argv[1], 631, "/ipp/print")
asked = get_printer_attributes(f"ipp://{sys.argv[1]}:631/ipp/print", ("all", *sys.argv[2:]), LATEST)
print(asyncio.run(post(where, asked, 8)).body.hex())
"""


@pytest.fixture
def answer(site: Site, monkeypatch: pytest.MonkeyPatch) -> bytes:
    """The octets of all that the printer says."""
    monkeypatch.setattr(printers, "attributes", generous)
    with Printer(site, "new", HALDEN):
        done = site.run(
            "workstation", sys.executable, "-c", _TAKE_DOWN, NEW, *NOT_IN_ALL, env={"PYTHONPATH": str(ROOT)}
        )
    assert (done.returncode, done.stderr) == (0, ""), done.stderr
    return bytes.fromhex(done.stdout)


@contextmanager
def replayed(octets: bytes) -> Iterator[int]:
    """A server on loopback that gives these octets to everybody, under the request's own id; its port."""

    class Handler(http.server.BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def do_POST(self) -> None:
            request = self.rfile.read(int(self.headers["Content-Length"]))
            body = octets[:4] + request[4:8] + octets[8:]
            self.send_response(200)
            self.send_header("Content-Type", "application/ipp")
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - the name is http.server's
            pass

    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield server.server_address[1]
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


def ipptool_reads(octets: bytes) -> dict[str, Any]:
    """Attributes by name, as ipptool's property list has them."""
    with replayed(octets) as port:
        command = ("ipptool", "-X", "-I", "-T", "5", f"ipp://127.0.0.1:{port}/ipp/print", "get-printer-attributes.test")
        done = subprocess.run(command, capture_output=True, timeout=20, check=False)
    (test,) = plistlib.loads(done.stdout)["Tests"]
    return {name: value for group in test["ResponseAttributes"] for name, value in group.items()}


def as_ipptool(value: Value) -> Any:
    """One of our values in the form of ipptool's property list (ipptool(1), option -X)."""
    match value:
        case Octets(value=raw):
            return raw
        case Range(lower=lower, upper=upper):
            return {"lower": lower, "upper": upper}
        case Resolution(across=across, along=along, unit=unit):
            return {"xres": across, "yres": along, "units": {3: "dpi", 4: "dpcm"}[unit]}
        case DateTime():
            instant = value.instant()
            return instant and instant.astimezone(UTC).replace(tzinfo=None, microsecond=0)
        case Collection(members=members):
            return {member.name: as_list(member.values) for member in members}
        case OutOfBand(tag=tag):
            return {0x12: "<<unknown>>", 0x13: "<<no-value>>"}[tag]
        case Text(value=string):
            return string
        case _:
            return value.value  # type: ignore[union-attr]  # Opaque does not occur, and would fail here


def as_list(values: tuple[Value, ...]) -> Any:
    read = [as_ipptool(value) for value in values]
    return read if len(read) > 1 else read[0]


def said_by(message: Message) -> dict[str, Any]:
    return {each.name: as_list(each.values) for group in message.groups for each in group.attributes}


def compared(octets: bytes) -> dict[str, Any]:
    """What both decoders read; fails where they differ."""
    ours, theirs = said_by(decode(octets)), ipptool_reads(octets)
    assert list(ours) == list(theirs)
    assert {name: (ours[name], theirs[name]) for name in ours if ours[name] != theirs[name]} == {}
    return ours


def test_every_attribute_is_read_as_ipptool_reads_it(answer: bytes) -> None:
    ours = compared(answer)
    assert len(ours) > 100
    assert {"media-col-ready", "printer-supply", *NOT_IN_ALL} <= set(ours)


@pytest.mark.parametrize("name", ["printer.ipp", "queue.ipp"])
def test_recorded_answers_are_read_so_too(name: str) -> None:
    assert len(compared((ROOT / "fixtures/ipp" / name).read_bytes())) > 50


def facts(octets: bytes) -> dict[str, Fact]:
    return dict(PROBE.read(asking.Printer("/ipp/print", decode(octets))))


def test_every_kind_of_supply_is_what_the_printer_was_told(answer: bytes) -> None:
    supplies = facts(answer)["printer-supply"]
    assert isinstance(supplies, Supplies)
    assert supplies.complete
    assert [row.type for row in supplies.rows] == [*SUPPLY_TYPES]
    assert [row.description for row in supplies.rows] == [f"Supply {at}" for at in range(1, 35)]
    assert [row.level for row in supplies.rows] == [amount(LEVELS[at % len(LEVELS)]) for at in range(1, 35)]
    assert {type(row.level) for row in supplies.rows} == {Measured, Some, Unknown, Unrestricted}
    assert {row.type for row in supplies.rows if row.family == "receptacleThatIsFilled"} == {
        "wasteToner",
        "wasteInk",
        "wasteWax",
        "wasteWater",
        "wastePaper",
    }


def test_every_feed_is_what_the_printer_was_told(answer: bytes) -> None:
    """A tray's dimensions in 1/10000 inch, within the rounding of that unit (RFC 3805 section 2.2.13: 2.54 um)."""
    said = facts(answer)
    inputs, ready = said["printer-input-tray"], said["media-col-ready"]
    assert isinstance(inputs, Inputs)
    assert isinstance(ready, MediaReady)
    assert [row.name for row in inputs.rows] == [
        *(roll.name for roll in HALDEN.rolls),
        *(source for source, *_ in SHEETS),
        "",
    ]
    for row, (source, _, x, y) in zip(inputs.rows[len(HALDEN.rolls) : -1], SHEETS, strict=True):
        assert isinstance(row.cross, Measured)
        assert isinstance(row.feed, Measured)
        assert abs(row.cross.value - x * 10) <= 3, source
        assert abs(row.feed.value - y * 10) <= 3, source
    sizes = {row.source: row.size for row in ready.rows}
    for source, _, x, y in SHEETS:
        size = sizes[source]
        assert size
        assert (size.x.low, size.x.high, size.y.low, size.y.high) == (x * 10, x * 10, y * 10, y * 10)
    for roll in HALDEN.rolls:
        size = sizes.get(roll.source)
        assert (size is not None) is bool(roll.left)
        assert size is None or size.x.high == roll.width * 10
