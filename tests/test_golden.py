"""Documents that were saved once are read, judged and saved again by every later version, their evidence untouched.

The states are those that the scenarios promise (a visit with nothing in the way is ready; a device that refuses every
service is not; where only SNMP could tell what the Standard demands and SNMP is silent, nobody can tell), and for the
hand-made ones those that follow from the one thing that they hold: see `EXPECTED`. Oracle of the seals: the reference
package rfc8785, and SHA-256.
"""

import hashlib
import json
from pathlib import Path
from typing import Any

import pytest
import rfc8785

from netcheck.cli import _guarded
from netcheck.commands.schema import Saved
from netcheck.document import canonical, load_document
from netcheck.finding.document import Found
from tests.conftest import FIXTURES
from tests.schema_examples import evidence_bytes, faults

FOLDER = FIXTURES / "cases"
EXPECTED = {
    "ready": ("ready", 0),
    "new-unreachable": ("not-ready", 1),
    "snmp-silent": ("cannot-tell", 3),
    "joined": ("ready", 0),  # what SNMP did not tell in one run, it told in the other
    "read": ("ready", 0),  # the new device of the scenario `ready`, by itself
    "no-code": ("not-ready", 1),  # firmware 4.8.0 where the Standard wants exactly 4.7.2
    "few-demands": ("not-ready", 1),  # the same, of one device by itself
    "fewer-fields": ("not-ready", 1),  # printer-state-reasons has an error: media-empty (RFC 8011 s5.4.12)
    "unknown-kind": ("cannot-tell", 3),  # the Standard demands SNMP, and it was silent
}
CASES = sorted(EXPECTED)


def plain_of(name: str) -> dict[str, Any]:
    plain: dict[str, Any] = json.loads((FOLDER / f"{name}.json").read_text("utf-8"))
    return plain


def test_every_file_is_expected_and_described() -> None:
    names = {path.stem for path in FOLDER.glob("*.json")}
    assert names == {*EXPECTED, "found"}
    readme = (FOLDER / "README.md").read_text("utf-8")
    assert not [name for name in names if f"`{name}.json`" not in readme]


@pytest.mark.parametrize("name", CASES)
def test_it_is_as_the_schema_of_today_says(name: str) -> None:
    assert faults(Saved, plain_of(name)) == []


def test_what_was_found_is_as_the_schema_of_today_says() -> None:
    assert faults(Found, plain_of("found")) == []


@pytest.mark.parametrize("name", CASES)
def test_its_seal_fits(name: str) -> None:
    plain = plain_of(name)
    assert plain["seal"]["evidence"] == hashlib.sha256(evidence_bytes(plain)).hexdigest()
    body = {key: value for key, value in plain.items() if key != "seal"}
    assert plain["seal"]["whole"] == hashlib.sha256(rfc8785.dumps(body)).hexdigest()
    assert canonical(body) == rfc8785.dumps(body)


@pytest.mark.parametrize("name", CASES)
def test_it_is_loaded(name: str) -> None:
    case, document = load_document(FOLDER / f"{name}.json")
    plain = plain_of(name)
    assert len(case.observations) == len(plain["observations"]) > 0
    assert document.evidence == {key: plain[key] for key in document.evidence}


@pytest.mark.parametrize("name", CASES)
def test_it_is_judged_as_it_must_be_and_saved_with_the_same_evidence(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    again = tmp_path / "again.json"
    state, code = EXPECTED[name]
    assert _guarded(["judge", str(FOLDER / f"{name}.json"), "--json", "--save", str(again)]) == code
    printed = capsys.readouterr()
    assert printed.err == ""
    before, after = plain_of(name), json.loads(again.read_text("utf-8"))
    assert json.loads(printed.out) == after
    assert after["verdict"]["state"] == state
    assert evidence_bytes(after) == evidence_bytes(before)
    assert after["seal"]["evidence"] == before["seal"]["evidence"]
    assert after["seal"]["code"]
    assert faults(Saved, after) == []


@pytest.mark.parametrize("name", CASES)
def test_saved_again_and_again_it_stays_the_same(name: str, tmp_path: Path) -> None:
    """A verdict of today, judged again today, is the same file to the byte."""
    one, two = tmp_path / "one.json", tmp_path / "two.json"
    _guarded(["judge", str(FOLDER / f"{name}.json"), "--save", str(one)])
    _guarded(["judge", str(one), "--save", str(two)])
    assert one.read_bytes() == two.read_bytes()


def test_what_nobody_knows_is_kept_as_it_came(tmp_path: Path) -> None:
    again = tmp_path / "again.json"
    _guarded(["judge", str(FOLDER / "unknown-kind.json"), "--save", str(again)])
    before, after = plain_of("unknown-kind"), json.loads(again.read_text("utf-8"))
    (humidity,) = (item for item in after["observations"] if item["kind"] == "humidity")
    assert humidity["value"]["note"] == "Pl\u00e4ne \u20ac \U0001f5a8"
    assert [list(item["value"]) for item in after["observations"]] == [
        list(item["value"]) for item in before["observations"]
    ]
    assert after["observations"][-1]["sensor"] == {"batch": 7}
    assert after["observations"][-1]["value"]["floor"] == 2


def test_one_octet_more_or_less_and_it_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "case.json"
    text = (FOLDER / "ready.json").read_text("utf-8")
    assert text.count('"HX-77-0457"') > 1
    path.write_text(text.replace('"HX-77-0457"', '"HX-77-0458"', 1), "utf-8")
    assert _guarded(["judge", str(path)]) == 2


def test_joined_with_another_each_keeps_its_evidence(tmp_path: Path) -> None:
    both = tmp_path / "both.json"
    _guarded(["judge", str(FOLDER / "fewer-fields.json"), "--with", str(FOLDER / "no-code.json"), "--save", str(both)])
    plain, parts = json.loads(both.read_text("utf-8")), [plain_of("fewer-fields"), plain_of("no-code")]
    assert len(plain["observations"]) == sum(len(part["observations"]) for part in parts)
    assert len(plain["attempts"]) == sum(len(part["attempts"]) for part in parts)
    assert faults(Saved, plain) == []
