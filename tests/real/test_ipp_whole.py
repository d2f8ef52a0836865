"""All that a printer of CUPS tells by IPP, read at the workstation; there ipptool decodes the same, and asks the same.

The printer has two rolls, ranges for custom sizes, and for this file a tray of sheets and an output. It cannot be made
to say printer-alert, which the program keeps to itself.
"""

import json
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

import pytest

from . import printers
from .attributes import attributes
from .clients import ipp_attributes
from .devices import HALDEN, Device
from .printers import Printer
from .site import JACKS, Site

NEW: Final = JACKS["new"].address
ROOT: Final = Path(__file__).parents[2]
_COLLECT: Final = """
import asyncio, json, sys, msgspec
from netcheck.collect import Recorder, collect_once
from netcheck.move import Move
from netcheck.probing import Target
from netcheck.roles import Role
from netcheck.standard import Print
from probes import ipp, names
recorder = Recorder()
prints = tuple(Print(*each) for each in json.loads(sys.argv[2]))
where = Target(Role.NEW, sys.argv[1], ports={"ipp": 631}, prints=prints)
asyncio.run(collect_once([where], [names.PROBE, ipp.PROBE], recorder, 8))
print(msgspec.json.encode(recorder.case(Move())).decode())
"""
_VALIDATE: Final = """{{
NAME "Would it be taken?"
OPERATION Validate-Job
GROUP operation-attributes-tag
ATTR charset attributes-charset utf-8
ATTR naturalLanguage attributes-natural-language en
ATTR uri printer-uri $uri
ATTR boolean ipp-attribute-fidelity true
ATTR mimeMediaType document-format application/octet-stream
GROUP job-attributes-tag
ATTR collection media-col {{
MEMBER collection media-size {{
MEMBER integer x-dimension {x}
MEMBER integer y-dimension {y}
}}
MEMBER keyword media-type {type}
}}
}}
"""
SHEET: Final = """MEMBER collection media-size {
MEMBER integer x-dimension 29700
MEMBER integer y-dimension 42000
}
MEMBER keyword media-size-name "iso_a3_297x420mm"
MEMBER keyword media-source "tray-1"
MEMBER keyword media-type "stationery"
"""
TRAY: Final = (
    "type=sheetFeedAutoRemovableTray;dimunit=micrometers;mediafeed=420000;mediaxfeed=297000;maxcapacity=50;level=40;"
    "unit=sheets;status=0;name=Sheet tray"
)
BIN: Final = "type=unRemovableBin;maxcapacity=50;remaining=48;status=0;stackingorder=firstToLast;name=Bin;"


def with_sheets(device: Device) -> str:
    """The usual file of attributes, and what it has not."""
    page = attributes(device)
    page = page.replace('media-source-supported "', 'media-source-supported "tray-1","')
    page = re.sub(r"(media-col-ready \{)", rf"\1\n{SHEET}}},{{", page)
    page = page.replace('media-ready "', 'media-ready "iso_a3_297x420mm","')
    page = page.replace('printer-input-tray "', f'printer-input-tray "{TRAY}","')
    return f'{page}ATTR octetString printer-output-tray "{BIN}"\n'


@dataclass(frozen=True)
class Told:
    """What our probe gathered, and what ipptool decoded."""

    case: dict[str, Any]
    theirs: dict[str, Any]

    def facts(self, kind: str) -> list[dict[str, Any]]:
        return [each["value"] for each in self.case["observations"] if each["kind"] == kind]

    def only(self, kind: str) -> dict[str, Any]:
        (fact,) = self.facts(kind)
        return fact

    def listed(self, name: str) -> list[Any]:
        """ipptool gives one value as itself and several as a list."""
        value = self.theirs[name]
        return value if isinstance(value, list) else [value]


@pytest.fixture
def printer(site: Site, monkeypatch: pytest.MonkeyPatch) -> Iterator[Printer]:
    monkeypatch.setattr(printers, "attributes", with_sheets)
    with Printer(site, "new", HALDEN) as up:
        yield up


def told(site: Site, *prints: tuple[str, int, int, str, str]) -> Told:
    """Prints are (size, x, y in micrometres, type, feed)."""
    command = (sys.executable, "-c", _COLLECT, NEW, json.dumps(prints))
    done = site.run("workstation", *command, env={"PYTHONPATH": str(ROOT)})
    assert (done.returncode, done.stderr) == (0, ""), done.stderr
    return Told(json.loads(done.stdout), ipp_attributes(site, "new"))


def span(length: int | dict[str, int]) -> dict[str, int]:
    """A dimension as ipptool gives it (1/100 mm), as ours (micrometres)."""
    low, high = (length, length) if isinstance(length, int) else (length["lower"], length["upper"])
    return {"low": low * 10, "high": high * 10}


def size(dimensions: dict[str, Any]) -> dict[str, Any]:
    return {"x": span(dimensions["x-dimension"]), "y": span(dimensions["y-dimension"])}


@pytest.mark.usefixtures("printer")
def test_sizes_rolls_and_sheets_are_what_ipptool_sees(site: Site) -> None:
    seen = told(site)
    supported = seen.only("media-supported")
    assert [*supported["names"]] == seen.listed("media-supported")
    assert all(size(each) in supported["sizes"] for each in seen.listed("media-size-supported"))
    assert supported["sources"] == seen.listed("media-source-supported") == ["tray-1", "main-roll", "alternate-roll"]
    columns, names = seen.facts("media-ready")
    assert [(row["source"], row["type"], row["size"]) for row in columns["rows"]] == [
        (each["media-source"], each["media-type"], size(each["media-size"])) for each in seen.listed("media-col-ready")
    ]
    assert [row["name"] for row in names["rows"]] == seen.listed("media-ready")
    assert len(columns["rows"]) == 3  # two rolls and the tray


@pytest.mark.usefixtures("printer")
def test_the_parts_are_what_ipptool_sees(site: Site) -> None:
    """Only the tray tells the unit of its dimensions, so of the rolls none is known."""
    seen = told(site)
    trays = [
        dict(pair.split(b"=") for pair in each.strip(b";").split(b";")) for each in seen.listed("printer-input-tray")
    ]
    rows = seen.only("inputs")["rows"]
    assert [(row["type"], row["name"], str(row["level"]["value"]), row["unit"]) for row in rows] == [
        tuple(tray[key].decode() for key in (b"type", b"name", b"level", b"unit")) for tray in trays
    ]
    assert [row["cross"].get("value") for row in rows] == [297_000, None, None]
    (output,) = seen.only("outputs")["rows"]
    assert (output["name"], output["remaining"]["value"]) == ("Bin", 48)
    assert seen.theirs["printer-output-tray"] == BIN.encode()


@pytest.mark.usefixtures("printer")
def test_capabilities_names_and_clock_are_what_ipptool_sees(site: Site) -> None:
    seen = told(site)
    can, clock = seen.only("capabilities"), seen.only("printer-clock")
    assert can["color"] is seen.theirs["color-supported"]
    assert can["sides"] == seen.listed("sides-supported")
    assert can["resolutions"] == [
        f"{each['xres']}x{each['yres']}{each['units']}" for each in seen.listed("printer-resolution-supported")
    ]
    assert can["margins"] == {
        side: [margin * 10 for margin in seen.listed(f"media-{side}-margin-supported")] for side in can["margins"]
    }
    assert can["finishings"] == ["none"]  # RFC 8011 section 5.2.6: 3
    assert seen.theirs["finishings-supported"] == 3
    named = seen.only("printer-names")
    assert (named["name"], named["info"]) == (seen.theirs["printer-name"], seen.theirs["printer-info"])
    assert clock["up_s"] <= seen.theirs["printer-up-time"] <= clock["up_s"] + 5
    changed = seen.theirs["printer-config-change-date-time"].replace(tzinfo=UTC)  # a plist's dates have no zone
    assert datetime.fromisoformat(clock["config_changed"]) == changed


PLAN: Final = ("na_arch-d_24x36in", 609_600, 914_400, "stationery-coated", "")
POSTER: Final = ("", 2_000_000, 3_000_000, "stationery-coated", "roll")  # wider and longer than any size it lists


def ipptool_asks(site: Site, x: int, y: int, media_type: str) -> str:
    """The status of the same question, asked by ipptool."""
    page = site.folder / "validate.test"
    page.write_text(_VALIDATE.format(x=x // 10, y=y // 10, type=media_type))
    done = site.run("workstation", "ipptool", "-tv", f"ipp://{NEW}/ipp/print", page)
    (status,) = re.findall(r"status-code = ([a-z-]+)", done.stdout)
    return str(status)


def test_what_it_would_take_and_what_not(site: Site, printer: Printer) -> None:
    seen = told(site, PLAN, POSTER)
    plan, poster = seen.facts("job-check")
    assert [plan["status"], poster["status"]] == [ipptool_asks(site, *each[1:4]) for each in (PLAN, POSTER)]
    assert (plan["accepted"], plan["unsupported"]) == (True, [])
    assert not poster["accepted"]
    assert poster["unsupported"][0] == "media-col"
    # No job came of it: RFC 8011 section 4.2.3
    for question in ("get-jobs.test", "get-completed-jobs.test"):
        jobs = site.run("workstation", "ipptool", "-tv", f"ipp://{NEW}/ipp/print", question).stdout
        assert "successful-ok" in jobs
        assert "job-id" not in re.sub(r"requested-attributes.*", "", jobs)
    assert not list((site.folder / "ipp-new/spool").iterdir())
    assert printer.program.output.count("Validate-Job") >= 4
    outcomes = [each["outcome"] for each in seen.case["attempts"] if each["probe"] == "ipp"]
    assert outcomes == ["answered"] * 3  # one request that reads, and one a print
