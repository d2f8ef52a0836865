"""Channels, languages, media paths and the console, against RFC 3805 s5 and s6."""

from typing import Any

import pytest

from netcheck.facts import Measured, Unrestricted
from netcheck.facts.channels import Channels, Console, Interpreters, MediaPaths
from netcheck.facts.identity import DeviceId, HostUptime, System
from netcheck.facts.network import Interfaces
from probes.snmp.reading_channels import channel_information, light_shows
from tests import snmp_device
from tests.conftest import published
from tests.snmp_agent import Agent
from tests.snmp_asked import asked, facts

PRINTER = "1.3.6.1.2.1.43"


def told(kind: type[Any], extra: dict[Any, Any] | None = None) -> Any:
    (fact,) = [fact for fact in facts(asked(Agent(snmp_device.rows() | (extra or {})))) if isinstance(fact, kind)]
    return fact


CHANNELS = {
    # what a row's prose says, as (prtChannelType, port, queue)
    "CHN-01": ("chPortTCP", 9100, ""),
    "CHN-02": ("chLPDServer", None, "auto"),
    "CHN-05": ("chBidirPortTCP", 9100, ""),
}
INPUTS = {"CHN-01": (37, "Port=9100\n"), "CHN-02": (8, "Queue=auto\n"), "CHN-05": (38, "Port=9100\nFoo=bar\n")}


@pytest.mark.parametrize("row", [row for row in published("CHN-") if row.values[0]["id"] in CHANNELS])
def test_channels(row: dict[str, str]) -> None:
    number, information = INPUTS[row["id"]]
    assert information.strip() in row["input"].replace("\\n", "\n")
    extra = snmp_device.table(f"{PRINTER}.14.1.1", (1, 9), {2: number, 6: 3, 7: 2, 8: 0, 9: information})
    channel = next(each for each in told(Channels, extra).rows if each.index == 9)
    assert (channel.type, channel.port, channel.queue) == CHANNELS[row["id"]]


@pytest.mark.parametrize("row", published("CHN-04"))
def test_a_channel_that_takes_no_data(row: dict[str, str]) -> None:
    (blocked,) = [channel for channel in told(Channels).rows if channel.type == "chLPDServer"]
    assert blocked.state in row["expected"]


def test_keywords_are_case_sensitive_and_the_first_counts() -> None:
    """RFC 3805 s6, prtChannelInformation."""
    assert channel_information("port=1\nPort=9100\nPort=9101\nno entry\n") == {"port": "1", "Port": "9100"}


@pytest.mark.parametrize("port", ["", "x", "-1", "70000", "9" * 5000, "\u0664"])
def test_a_port_that_is_none_is_not_one(port: str) -> None:
    extra = snmp_device.table(f"{PRINTER}.14.1.1", (1, 9), {2: 37, 6: 3, 9: f"Port={port}\n"})
    channel = next(each for each in told(Channels, extra).rows if each.index == 9)
    assert channel.port is None


def test_languages_by_the_registrys_names_and_unknown_ones_as_numbers() -> None:
    """IANA-PRINTER-MIB: langPDF(54), langPS(6); 69 is langJMF."""
    assert [row.family for row in told(Interpreters).rows] == ["langPDF", "langJMF", "langPS"]
    extra = snmp_device.table(f"{PRINTER}.15.1.1", (1, 9), {2: 40123, 3: "", 5: "x", 6: ""})
    assert told(Interpreters, extra).rows[-1].family == "40123"


def test_a_media_path_in_micrometres() -> None:
    """RFC 3805 s2.4: -1 on a feed dimension sets no limit; unit 4 is micrometres, unit 3 is 2.54 um."""
    (path,) = told(MediaPaths).rows
    assert (path.type, path.max_feed, path.max_cross) == ("simplex", Unrestricted(), Measured(914_400))
    extra = snmp_device.table(f"{PRINTER}.13.4.1", (1, 1), {3: 3, 6: 360_000})
    assert told(MediaPaths, extra).rows[0].max_cross == Measured(914_400)  # 36 in


@pytest.mark.parametrize(
    ("on_ms", "off_ms", "shows"),
    [(500, 500, "blinking"), (1, 0, "on"), (0, 1, "off"), (0, 0, "off"), (None, None, ""), (5, None, "on")],
)
def test_lights(on_ms: int | None, off_ms: int | None, shows: str) -> None:
    """RFC 3805 s6: both times non-zero is blinking, only on-time is on, else off."""
    assert light_shows(on_ms, off_ms) == shows


def test_the_console_from_top_to_bottom() -> None:
    console = told(Console)
    assert console.lines == ("Roll door open", "Close it to go on")
    assert [(light.color, light.shows) for light in console.lights] == [("yellow", "blinking"), ("green", "off")]


def test_the_devices_own_uptime_is_not_the_agents() -> None:
    """IPM-11 (RFC 2790 hrSystemUptime): sysUpTime small with hrSystemUptime large is an agent that was restarted."""
    assert told(HostUptime).centiseconds == 86_400_000
    assert told(System).up_centiseconds == 720_000


def test_duplex_and_errors_of_an_interface() -> None:
    """RFC 3635 dot3StatsDuplexStatus: halfDuplex(2); RFC 2863 ifInErrors, ifOutErrors."""
    (wired,) = told(Interfaces).rows
    assert (wired.duplex, wired.in_errors, wired.out_errors, wired.late_collisions) == ("halfDuplex", 3, 1, 5)


def test_the_device_id_of_the_port_monitor_mib() -> None:
    """PWG 5107.1: ppmPrinterIEEE1284DeviceId, without the two length octets of the cable."""
    assert told(DeviceId).get("MDL") == "36R"


def test_a_device_id_of_another_printer_is_not_this_ones() -> None:
    extra = snmp_device.table("1.3.6.1.4.1.2699.1.2.1.2.1.1", (1,), {3: "MFG:Corvid;MDL:24S;", 6: 7})
    other = snmp_device.table("1.3.6.1.4.1.2699.1.2.1.2.1.1", (2,), {3: "MFG:Halden;MDL:36R;", 6: 1})
    assert told(DeviceId, extra | other).get("MDL") == "36R"
