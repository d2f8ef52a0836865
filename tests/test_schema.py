"""``netcheck schema``: the schemas themselves, and that every file that a command saves is as its schema says.

Oracle: the package jsonschema, an independent validator of JSON Schema 2020-12, with its format checks.
"""

import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import msgspec
import pytest

import probes.dnssd.browsing
from netcheck.cli import _guarded
from netcheck.commands.schema import DOCUMENTS, Saved
from netcheck.commands.schema_forms import FORMS
from netcheck.facts import KINDS
from netcheck.finding.document import Found
from netcheck.rehearsal.background import running_site
from netcheck.rehearsal.scenarios import SCENARIOS
from netcheck.rehearsal.site import Site
from tests.schema_examples import faults


def printed(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    assert _guarded(["schema", *arguments]) == 0
    schema: dict[str, Any] = json.loads(capsys.readouterr().out)
    return schema


# --- the schemas


@pytest.mark.parametrize("name", [*DOCUMENTS, *sorted(KINDS)])
def test_a_schema_is_one_and_says_which(capsys: pytest.CaptureFixture[str], name: str) -> None:
    """JSON Schema 2020-12 (by its own metaschema); RFC 8141 s2 for the name."""
    schema = printed(capsys, name)
    jsonschema.Draft202012Validator.check_schema(schema)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert re.fullmatch(r"urn:netcheck:[a-z]+:[a-z0-9-]+", schema["$id"])
    assert schema["title"]
    assert schema["description"]
    assert name in schema["$id"]


def test_no_two_schemas_have_one_name(capsys: pytest.CaptureFixture[str]) -> None:
    names = [printed(capsys, name)["$id"] for name in (*DOCUMENTS, *KINDS)]
    assert len(set(names)) == len(names)
    assert not set(DOCUMENTS) & set(KINDS)


def test_the_case_is_what_is_meant_when_nothing_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    assert printed(capsys) == printed(capsys, "case")
    assert printed(capsys)["$id"] == "urn:netcheck:case:1"
    assert printed(capsys, "found")["$id"] == "urn:netcheck:found:1"


def test_a_name_that_is_none_is_told_what_there_is(capsys: pytest.CaptureFixture[str]) -> None:
    assert _guarded(["schema", "colour"]) == 2
    said = capsys.readouterr().err
    assert all(f"{name}" in said for name in (*DOCUMENTS, *KINDS))


@pytest.mark.parametrize("what", FORMS, ids=lambda what: what.__name__)
def test_every_form_is_of_a_field_that_there_is(what: type[msgspec.Struct]) -> None:
    fields = {field.encode_name for field in msgspec.structs.fields(what)}
    assert set(FORMS[what]) <= fields


def test_every_kind_is_told_apart(capsys: pytest.CaptureFixture[str]) -> None:
    cases = printed(capsys)["$defs"]["Observation"]["allOf"]
    assert {each["if"]["properties"]["kind"]["const"] for each in cases} == set(KINDS)


# --- what the commands save


@pytest.fixture(scope="module")
def site() -> Iterator[Site]:
    with running_site(SCENARIOS["ready"]) as running:
        yield running


@pytest.fixture
def on_loopback(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is asked of the network that this machine is in."""
    monkeypatch.setattr(probes.dnssd.browsing, "usable", lambda: (["127.0.0.1"], None))


def checked(path: Path, what: type[msgspec.Struct] = Saved) -> dict[str, Any]:
    """A saved file that is as its schema says."""
    plain: dict[str, Any] = json.loads(path.read_text("utf-8"))
    assert faults(what, plain) == []
    return plain


def ports_of(site: Site) -> list[str]:
    return [word for service, port in site.ports["new"].items() for word in ("--port", f"{service}={port}")]


@pytest.mark.parametrize("scenario", SCENARIOS)
def test_what_a_rehearsal_saves(tmp_path: Path, capsys: pytest.CaptureFixture[str], scenario: str) -> None:
    saved = tmp_path / "case.json"
    assert _guarded(["rehearse", scenario, "--json", "--save", str(saved)]) == SCENARIOS[scenario].exit_code
    plain = checked(saved)
    assert json.loads(capsys.readouterr().out) == plain
    assert len({item["kind"] for item in plain["observations"]}) >= 20


@pytest.mark.usefixtures("on_loopback")
@pytest.mark.parametrize("gate", ["survey", "fill", "swap", "leave", "standing"])
def test_what_ready_saves(tmp_path: Path, site: Site, gate: str) -> None:
    saved = tmp_path / "case.json"
    assert _guarded(["ready", str(site.write(tmp_path)), "--gate", gate, "--save", str(saved)]) in {0, 1, 3}
    plain = checked(saved)
    assert plain["gate"] == gate
    assert (plain["move"]["device"] is not None) is (gate == "standing")


@pytest.mark.usefixtures("on_loopback")
def test_what_ready_saves_with_what_was_read_before(tmp_path: Path, site: Site) -> None:
    read, both = tmp_path / "read.json", tmp_path / "both.json"
    assert _guarded(["read", "127.0.0.1", *ports_of(site), "--save", str(read)]) == 0
    _guarded(["ready", str(site.write(tmp_path)), "--with", str(read), "--save", str(both)])
    assert len(checked(both)["observations"]) > len(checked(read)["observations"])


@pytest.mark.usefixtures("on_loopback")
def test_what_read_saves_with_the_objects_behind_it(tmp_path: Path, site: Site) -> None:
    saved = tmp_path / "case.json"
    assert _guarded(["read", "127.0.0.1", *ports_of(site), "--raw", "--save", str(saved)]) == 0
    plain = checked(saved)
    assert [item for item in plain["observations"] if item["kind"] == "objects"]
    assert plain["gate"] == "standing"


@pytest.mark.usefixtures("on_loopback")
def test_what_judge_saves(tmp_path: Path, site: Site) -> None:
    read, again, strict = tmp_path / "read.json", tmp_path / "again.json", tmp_path / "strict.toml"
    strict.write_text('name = "strict"\n[firmware]\nversion = "5.0"\n', "utf-8")
    _guarded(["read", "127.0.0.1", *ports_of(site), "--save", str(read)])
    assert _guarded(["judge", str(read), "--standard", str(strict), "--save", str(again)]) == 1
    assert checked(again)["standard"]["firmware"] == {"version": "5.0", "order": "dotted"}


@pytest.mark.usefixtures("on_loopback")
def test_what_find_saves(tmp_path: Path, site: Site) -> None:
    saved = tmp_path / "found.json"
    assert _guarded(["find", "--save", str(saved)]) == 0
    plain = checked(saved, Found)
    assert {"Corvid 24S", "Halden 36R"} <= {row["model"] for row in plain["devices"]}
    assert faults(Saved, plain)


@pytest.mark.skipif(os.name != "posix", reason="sends a signal to a process of its own")
def test_what_an_interrupted_run_saves(tmp_path: Path) -> None:
    saved = tmp_path / "case.json"
    with socket.create_server(("127.0.0.1", 0)) as deaf:
        port = deaf.getsockname()[1]
        command = ["ready", "--new", "127.0.0.1", "--port", f"ipp={port}", "--timeout", "30", "--save", str(saved)]
        process = subprocess.Popen(
            [sys.executable, "-m", "netcheck", *command], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        deaf.accept()  # the first probe has begun
        time.sleep(0.5)
        process.send_signal(signal.SIGINT)
        assert process.wait(10) == 130
    plain = checked(saved)
    assert [each for each in plain["attempts"] if "interrupted" in each["reason"]]


def test_what_is_saved_before_it_is_judged(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The evidence is on the disk before anything interprets it, without a verdict."""
    saved = tmp_path / "case.json"

    def broken(*_: object) -> None:
        raise ZeroDivisionError("a bug")

    monkeypatch.setattr("netcheck.commands.telling.judge", broken)
    assert _guarded(["rehearse", "--save", str(saved)]) == 4
    assert checked(saved)["verdict"] is None
