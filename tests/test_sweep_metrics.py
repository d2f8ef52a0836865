"""A sweep as metrics, read by the parsers of prometheus_client: OpenMetrics, and the older text format that a node's
textfile collector reads; and by the collector itself where it is installed.

Sources: OpenMetrics 1.0 (names, units, grouping, end); the collector's own rules (no timestamps) as it applies them.
"""

import re
import shutil
import socket
import subprocess
import time
import urllib.error
import urllib.request
from collections import Counter
from itertools import groupby
from pathlib import Path

import msgspec
import pytest
from prometheus_client import parser as text_format
from prometheus_client.core import Metric
from prometheus_client.openmetrics import parser as openmetrics

from netcheck.report import sweep_metrics
from netcheck.report.sweep_metrics import LONGEST, MOST_SUPPLIES, render_metrics
from netcheck.sweeping.outcome import Supply
from netcheck.verdict import Standing, State
from tests.conftest import NOW
from tests.sweep_rows import CANARIES, canary_fleet, canary_night, fleet, found, night, swept

COLLECTOR = shutil.which("prometheus-node-exporter") or shutil.which("node_exporter")


def families(text: str) -> dict[str, Metric]:
    """By OpenMetrics; the older format must say the same."""
    ours = {each.name: each for each in openmetrics.text_string_to_metric_families(text)}  # type: ignore[no-untyped-call]
    older = {each.name: each for each in text_format.text_string_to_metric_families(text)}
    assert {name: samples(each) for name, each in ours.items()} == {name: samples(each) for name, each in older.items()}
    return ours


def samples(family: Metric) -> list[tuple[str, tuple[tuple[str, str], ...], float]]:
    return [(each.name, tuple(sorted(each.labels.items())), float(each.value)) for each in family.samples]


def value(family: Metric, **labels: str) -> float:
    (found_,) = [each.value for each in family.samples if labels.items() <= each.labels.items()]
    return float(found_)


# --- what it says


def test_the_run_itself() -> None:
    text = render_metrics(night(3), fleet(200))
    read = families(text)
    assert value(read["netcheck_sweep_start_time_seconds"]) == NOW / 1000
    assert value(read["netcheck_sweep_end_time_seconds"]) == (NOW + 851_020) / 1000
    assert value(read["netcheck_sweep_duration_seconds"]) == 851.02
    assert value(read["netcheck_sweep_left"]) == 3
    counts = Counter(each.state or "no-verdict" for each in fleet(200))
    states = read["netcheck_sweep_devices"]
    assert {each.labels["state"]: each.value for each in states.samples} == {
        **dict.fromkeys(("ready", "ready-with-care", "not-ready", "cannot-tell", "no-verdict"), 0),
        **counts,
        "not-asked": 3,
    }


def test_a_run_that_did_not_end_has_no_end() -> None:
    read = families(render_metrics(msgspec.structs.replace(night(), finished_ms=0), fleet(20)))
    assert "netcheck_sweep_end_time_seconds" not in read
    assert "netcheck_sweep_duration_seconds" not in read
    assert value(read["netcheck_sweep_start_time_seconds"]) == NOW / 1000


def test_a_device() -> None:
    row = swept(61, State.NOT_READY, site="Mill Street", host="192.0.2.61", queue="Plans", findings=(found(),))
    read = families(render_metrics(night(), [row]))
    where = {"site": "Mill Street", "host": "192.0.2.61", "queue": "Plans"}
    assert value(read["netcheck_device_state"], **where, state="not-ready") == 1
    assert value(read["netcheck_device_firmware"], **where, model="Halden 36R", version="4.7.2") == 1
    assert value(read["netcheck_device_supply_percent"], **where, supply="Black ink") == 74
    assert len(read["netcheck_device_supply_percent"].samples) == 1  # the other supply does not say
    assert value(read["netcheck_findings"], finding="firmware.version", standing="in-the-way") == 1
    assert value(read["netcheck_site_devices"], site="Mill Street", state="not-ready") == 1


def test_findings_that_another_explains_are_not_counted() -> None:
    rows = [swept(each, State.NOT_READY, findings=(found(), found(root=False, item="x"))) for each in range(5)]
    assert value(families(render_metrics(night(), rows))["netcheck_findings"]) == 5


def test_two_supplies_of_one_name_are_told_apart() -> None:
    inks = (Supply("Black", 5), Supply("Black", 9), Supply("Black #2", 11))
    (family,) = [
        each
        for name, each in families(render_metrics(night(), [swept(1, supplies=inks)])).items()
        if name == "netcheck_device_supply_percent"
    ]
    assert {each.labels["supply"]: each.value for each in family.samples} == {"Black": 5, "Black #2": 9}


# --- the form


def test_it_is_openmetrics() -> None:
    """Grouped, TYPE first, UNIT where the name ends in one, an end, no empty line, no timestamp."""
    text = render_metrics(night(3), fleet(500))
    lines = text.split("\n")
    assert lines[-2:] == ["# EOF", ""]
    assert text.count("# EOF") == 1
    assert "" not in lines[:-1]
    name = re.compile(r"[a-zA-Z_:][a-zA-Z0-9_:]*")
    of = [match[0] for line in lines[:-2] if (match := name.match(re.sub(r"^# (TYPE|UNIT|HELP) ", "", line)))]
    assert len(of) == len(lines) - 2
    runs = [key for key, _ in groupby(of)]
    assert len(runs) == len(set(runs))
    for family in runs:
        kinds = [line.split()[1] for line in lines if re.match(rf"# [A-Z]+ {family} ", line)]
        assert kinds == (["TYPE", "UNIT", "HELP"] if family.endswith(("_seconds", "_percent")) else ["TYPE", "HELP"])
    assert not [line for line in lines if re.search(r"[}] \S+ \S+$", line)]
    assert not re.search(r"_(total|created|bucket|count|sum|info)[ {]", text)
    read = families(text)
    assert {each.type for each in read.values()} == {"gauge"}
    assert {each.unit for each in read.values()} == {"", "seconds", "percent"}


def test_foreign_text_comes_back_as_one_label() -> None:
    rows = canary_fleet()
    text = render_metrics(canary_night(rows), rows)
    models = {each.labels["model"] for each in families(text)["netcheck_device_firmware"].samples}
    assert CANARIES[0] in models
    assert len(models) == len(CANARIES)
    assert not any(char in text for char in "\u202e\u2066\u200b\x00\x1b\x9b\r\t")
    tricky = 'a\\nb"c\\"} 1\n# EOF'
    (sample,) = families(render_metrics(night(), [swept(1, model=tricky)]))["netcheck_device_firmware"].samples
    assert sample.labels["model"] == tricky.replace("\n", "<U+000A>")


# --- how many there can be


def test_values_that_devices_choose_are_bounded_and_stay_two() -> None:
    rows = [swept(1, model="m" * 500 + "1"), swept(2, model="m" * 500 + "2")]
    models = {
        each.labels["model"] for each in families(render_metrics(night(), rows))["netcheck_device_firmware"].samples
    }
    assert len(models) == 2
    assert {len(each) for each in models} == {LONGEST}


def test_supplies_of_a_device_are_bounded() -> None:
    many = tuple(Supply(f"s{number}", number % 100) for number in range(5000))
    read = families(render_metrics(night(), [swept(1, supplies=many)]))
    assert len(read["netcheck_device_supply_percent"].samples) == MOST_SUPPLIES


def test_devices_beyond_the_most_are_only_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sweep_metrics, "MOST_DEVICES", 10)
    monkeypatch.setattr(sweep_metrics, "MOST_SITES", 3)
    rows = list(fleet(100))
    read = families(render_metrics(night(), rows))
    assert len(read["netcheck_device_state"].samples) == 10
    assert value(read["netcheck_sweep_devices_without_series"]) == 90
    assert sum(each.value for each in read["netcheck_sweep_devices"].samples) == 100
    assert len({each.labels["site"] for each in read["netcheck_site_devices"].samples}) == 3
    shown = {each.labels["state"] for each in read["netcheck_device_state"].samples}
    assert {"not-ready", "cannot-tell"} <= shown  # those that somebody should look at are not the ones left out


def test_notes_count_as_notes() -> None:
    row = swept(1, findings=(found("scope.asked", Standing.NOTE, "not asked"),))
    assert value(families(render_metrics(night(), [row]))["netcheck_findings"], standing="note") == 1


# --- the collector itself


@pytest.mark.skipif(COLLECTOR is None, reason="there is no node exporter here (Debian: prometheus-node-exporter)")
def test_a_nodes_textfile_collector_takes_it_whole(tmp_path: Path) -> None:
    rows = [*fleet(300), *canary_fleet()]
    (tmp_path / "netcheck.prom").write_text(render_metrics(canary_night(rows[-len(CANARIES) :]), rows), "utf-8")
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    options = ("--collector.disable-defaults", "--collector.textfile", f"--collector.textfile.directory={tmp_path}")
    process = subprocess.Popen(
        [str(COLLECTOR), *options, f"--web.listen-address=127.0.0.1:{port}"], stderr=subprocess.DEVNULL
    )
    try:
        exposed = fetched(f"http://127.0.0.1:{port}/metrics")
    finally:
        process.terminate()
        process.wait(10)
    assert "node_textfile_scrape_error 0" in exposed
    assert exposed.count("\nnetcheck_device_state{") == len(rows)


def fetched(url: str) -> str:
    end = time.monotonic() + 10
    while True:
        try:
            with urllib.request.urlopen(url, timeout=5) as answer:  # noqa: S310 - loopback
                text: str = answer.read().decode()
                return text
        except urllib.error.URLError:
            if time.monotonic() > end:
                raise
            time.sleep(0.05)
