"""``read`` on the simulated devices, over the wire: the page has what the device is made of, in 80 columns, and says
what could not be read. The device's description is the expectation; nothing of it comes from the page."""

import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest

from netcheck.cli import _guarded
from netcheck.rehearsal.background import running_site
from netcheck.rehearsal.device import Device
from netcheck.rehearsal.scenarios import NEW, SCENARIOS, Scenario

MM_AN_INCH = 25.4


def read(ports: Mapping[Any, int], capsys: pytest.CaptureFixture[str], *more: str) -> tuple[int, str]:
    named = [word for name, port in ports.items() for word in ("--port", f"{name}={port}")]
    code = _guarded(["read", "127.0.0.1", *named, "--timeout", "2", *more])
    return code, capsys.readouterr().out


@pytest.mark.parametrize("scenario", SCENARIOS.values(), ids=lambda each: each.name)
def test_every_scenario_has_a_page_of_80_columns(scenario: Scenario, capsys: pytest.CaptureFixture[str]) -> None:
    with running_site(scenario) as site:
        code, page = read(site.ports["new"], capsys)
    assert max(map(len, page.splitlines())) <= 80
    assert "\n\n\n" not in page
    assert page.splitlines()[0].split("  ")[0] in {"READY", "READY WITH CARE", "NOT READY", "CANNOT TELL"}
    assert code == (3 if scenario.name == "new-unreachable" else 0)
    if scenario.name == "new-unreachable":
        assert "no printer has spoken to us there" in page
        return
    shown = " ".join(page.split())
    by_ipp = "IPP 1.1, 2.0 at" in shown
    assert (
        by_ipp or scenario.name == "odd-path"
    )  # which an announcement tells, and on loopback whose it is is not known
    assert by_ipp or "no printer at this path (HTTP 404)" in shown
    assert_identity(shown, scenario.new, by_ipp=by_ipp)
    assert_supplies(page, scenario.new)
    assert_media(shown, scenario.new)
    if scenario.name == "snmp-silent":
        assert "not told its own addresses, alerts, life count" in shown
    else:
        assert f"life count {scenario.new.life_count:,} impressions" in shown
        assert f"{scenario.new.network.address}/{scenario.new.network.subnet.prefixlen}" in shown
        assert scenario.new.network.mac in shown


def assert_identity(shown: str, device: Device, *, by_ipp: bool) -> None:
    for label, value in (
        ("model", device.make_and_model),
        ("serial", device.serial),
        ("firmware", device.firmware),
        ("called", device.host_name),
        ("location", device.location),
        ("UUID", device.uuid.removeprefix("urn:uuid:")),
    ):
        assert f" {label} {value} (" in shown or (label == "UUID" and not by_ipp)
    assert "disagree" not in shown


def assert_supplies(page: str, device: Device) -> None:
    rows = page.partition("\nSupplies\n")[2].partition("\n\n")[0].splitlines()
    assert len(rows) == len(device.supplies)
    for row, supply in zip(rows, device.supplies, strict=True):
        assert row.startswith(f"  {supply.name} ")
        assert f" {supply.percent} %" in row
        assert row.count("#") == supply.percent // 5  # of twenty
        assert ("room" in row) == supply.receptacle


def assert_media(shown: str, device: Device) -> None:
    for tray in device.inputs:
        inches = f"{tray.width_um / 1000 / MM_AN_INCH:.1f}".removesuffix(".0")
        size = f"{tray.width_um / 1000:.0f} mm wide ({inches} in) roll" if tray.feed == "roll" else "A3 297 x 420 mm"
        assert f" {tray.name} {size}" in shown
        unit = "m" if tray.feed == "roll" else "sheets"
        assert (f"{tray.left} of {tray.capacity} {unit} left" if tray.left else "empty") in shown
        assert shown.count(f" {tray.name} {size}") == 1


@pytest.fixture(scope="module")
def ports() -> Iterator[dict[str, int]]:
    with running_site(SCENARIOS["ready"]) as site:
        yield {str(name): port for name, port in site.ports["new"].items()}


@pytest.mark.parametrize(
    ("kept", "told", "not_told"),
    [
        ("ipp", "IPP 1.1, 2.0 at /ipp/print", "life count"),
        ("snmp", "SNMPv2c", "--port ipp=N"),
        ("raw", "raw", "anything"),
    ],
)
def test_a_device_that_is_partly_read(
    kept: str, told: str, not_told: str, ports: dict[str, int], capsys: pytest.CaptureFixture[str]
) -> None:
    _, page = read({kept: ports[kept]}, capsys)
    shown, last = " ".join(page.split()), page.partition("\nNot read\n")[2]
    assert told in shown
    # On loopback an announcement is heard now and then; then something has been told.
    assert not_told in last or (kept == "raw" and "(DNS-SD)" in shown and "serial number" in last)
    for name, probe in (("ipp", "IPP"), ("snmp", "SNMP")):
        if kept != name:
            assert f"  {probe} " in last
            assert f"--port {name}=N" in " ".join(last.split())


def test_raw_adds_the_objects_and_keeps_the_page(
    ports: dict[str, int], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    saved = tmp_path / "case.json"
    _, page = read(ports, capsys, "--raw", "--save", str(saved))
    above, head, below = page.partition("\nObjects, as they came")
    assert head
    assert max(map(len, page.splitlines())) <= 80
    assert "  serial      HX-77-0457" in above
    assert "prtGeneralSerialNumber.1  1.3.6.1.2.1.43.5.1.1.17.1  OCTET STRING" in below
    rows = [row for item in json.loads(saved.read_text("utf-8"))["observations"] if item["kind"] == "objects"
            for row in item["value"]["rows"]]  # fmt: skip
    told = {row["name"]: row for row in rows}
    for number, supply in enumerate(NEW.supplies, 1):
        # RFC 3805 s6: the column 9 of prtMarkerSuppliesTable, by hrDeviceIndex and number; an Integer32.
        level = told[f"prtMarkerSuppliesLevel.1.{number}"]
        assert (level["oid"], level["syntax"], level["value"]) == (
            f"1.3.6.1.2.1.43.11.1.1.9.1.{number}", "INTEGER", str(supply.percent),
        )  # fmt: skip
    assert [row["value"] for row in rows if row["name"] == "ipp-versions-supported"] == ["1.1", "2.0"]
    assert told["ifPhysAddress.2"]["value"] == NEW.network.mac.replace(":", "")


def test_the_community_is_nowhere(ports: dict[str, int], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    saved = tmp_path / "case.json"
    _, page = read(ports, capsys, "--raw", "--save", str(saved))
    assert "SNMPv2c" in page  # so the community was right, which is public
    assert "public" not in page + saved.read_text("utf-8")


def test_without_raw_there_are_no_objects(ports: dict[str, int], capsys: pytest.CaptureFixture[str]) -> None:
    _, document = read(ports, capsys, "--json")
    assert not [item for item in json.loads(document)["observations"] if item["kind"] == "objects"]


def test_the_objects_are_no_evidence(ports: dict[str, int], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A case with objects is judged as the same case without them."""
    saved = tmp_path / "case.json"
    read(ports, capsys, "--raw", "--save", str(saved))
    document = json.loads(saved.read_text("utf-8"))
    assert _guarded(["judge", str(saved), "--json"]) == 0
    again = json.loads(capsys.readouterr().out)
    assert again["verdict"] == document["verdict"]
    sources = {source for finding in document["verdict"]["findings"] for source in map(str, finding["evidence"])}
    assert not [each for each in sources if "attributes" in each]
