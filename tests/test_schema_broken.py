"""What is broken is refused: every field of everything that is saved, one at a time, by the schema and by the codec.

Oracle: the package jsonschema, an independent validator of JSON Schema 2020-12, with its format checks.
"""

import json
from pathlib import Path
from typing import Any

import msgspec
import pytest

from netcheck.case import Attempt, Observation
from netcheck.cli import _guarded
from netcheck.commands.schema import Saved
from netcheck.document import Seal, load_document
from netcheck.errors import InputError
from netcheck.facts import KINDS
from netcheck.finding.document import Found
from netcheck.move import Move
from netcheck.standard import Standard
from netcheck.verdict import Verdict
from tests.schema_examples import Broken, broken, document, example, faults, observed, optional, resealed

FAR = 253_402_300_800_000
"""Milliseconds at which the year 10000 begins."""


def loads(path: Path, plain: dict[str, Any]) -> bool:
    """Does the codec take it?"""
    path.write_text(json.dumps(plain), "utf-8")
    try:
        load_document(path)
    except InputError:
        return False
    return True


def judged(path: Path, plain: dict[str, Any]) -> int:
    path.write_text(json.dumps(plain), "utf-8")
    return _guarded(["judge", str(path), "--quiet"])


def case_with(part: type[msgspec.Struct], value: Any) -> dict[str, Any]:
    """A whole case around one part of it."""
    if part is Move:
        return document({"move": value})
    if part is Attempt:
        return document({"attempts": [value]})
    if part is Observation:
        return document({"observations": [value]})
    return document(standard=value) if part is Standard else document(verdict=value)


def not_taken(plain: dict[str, Any], path: Path) -> list[str]:
    """Who takes it that should not."""
    takes = {"the schema": not faults(Saved, plain), "the codec": loads(path, plain)}
    return [who for who, does in takes.items() if does]


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_a_fact_with_one_field_broken_is_refused(tmp_path: Path, kind: str) -> None:
    path, whole = tmp_path / "case.json", example(KINDS[kind])
    good = document({"observations": [observed(kind, whole)]})
    assert faults(Saved, good) == faults(KINDS[kind], whole) == []
    assert loads(path, good)
    all_broken = list(broken(KINDS[kind], whole))
    assert len(all_broken) >= 4 * len(whole)
    assert judged(path, document({"observations": [observed(kind, all_broken[0].of(whole))]})) == 2
    for each in all_broken:
        value = each.of(whole)
        assert not_taken(document({"observations": [observed(kind, value)]}), path) == [], str(each)
        assert faults(KINDS[kind], value), str(each)


@pytest.mark.parametrize("part", [Move, Attempt, Observation, Standard])
def test_a_part_with_one_field_broken_is_refused(tmp_path: Path, part: type[msgspec.Struct]) -> None:
    path, whole = tmp_path / "case.json", example(part)
    assert faults(Saved, case_with(part, whole)) == []
    assert loads(path, case_with(part, whole))
    for each in broken(part, whole):
        assert not_taken(case_with(part, each.of(whole)), path) == [], str(each)


def test_a_verdict_with_one_field_broken_is_refused_by_the_schema(tmp_path: Path) -> None:
    """Judging never looks at the verdict that is in the file, so whatever stands there cannot mislead it."""
    path, whole = tmp_path / "case.json", example(Verdict)
    assert faults(Saved, document(verdict=whole)) == []
    right = judged(path, document(verdict=whole))
    for each in broken(Verdict, whole):
        assert faults(Saved, document(verdict=each.of(whole))), str(each)
    for each in (Broken(("state",), "ready"), Broken(("findings",), [])):
        assert judged(path, document(verdict=each.of(whole))) == right


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_a_field_that_came_later_may_be_missing_from_a_fact(tmp_path: Path, kind: str) -> None:
    whole = example(KINDS[kind])
    for each in optional(KINDS[kind], whole):
        plain = document({"observations": [observed(kind, each.of(whole))]})
        assert faults(Saved, plain) == [], str(each)
        assert loads(tmp_path / "case.json", plain), str(each)


@pytest.mark.parametrize("part", [Move, Standard])
def test_a_key_that_came_later_may_be_missing(tmp_path: Path, part: type[msgspec.Struct]) -> None:
    whole = example(part)
    for each in optional(part, whole):
        plain = case_with(part, each.of(whole))
        assert faults(Saved, plain) == [], str(each)
        assert loads(tmp_path / "case.json", plain), str(each)


@pytest.mark.parametrize("key", list(document()))
def test_every_key_of_the_document_must_be_there(tmp_path: Path, key: str) -> None:
    plain = {name: value for name, value in document().items() if name != key}
    assert not_taken(plain if key == "seal" else resealed(plain), tmp_path / "case.json") == []


def test_the_seal_must_be_whole(tmp_path: Path) -> None:
    path, good = tmp_path / "case.json", document()
    assert faults(Saved, good) == []
    assert faults(Saved, {**good, "seal": {**good["seal"], "code": None}}) == []
    wrong = [*broken(Seal, good["seal"]), Broken(("code",), gone=True)]
    for key in ("evidence", "whole"):
        wrong += [Broken((key,), each) for each in ("", "0" * 63, "0" * 65, good["seal"][key].upper(), "g" * 64)]
    wrong += [Broken(("code",), each) for each in ("", "BBB-BBB-BFY", "bbb-bbb-bfyf", "BBBBBBBFYF", "AAA-BBB-BFYF")]
    for each in wrong:
        assert not_taken({**good, "seal": each.of(good["seal"])}, path) == [], str(each)


@pytest.mark.parametrize(
    ("change", "codec"),
    [
        ({"schema": "netcheck/case/2"}, True),
        ({"schema": "netcheck/found/1"}, True),
        ({"made_at": -1}, True),
        ({"made_at": FAR}, True),
        ({"made_at": 1_795_600_000_000.5}, True),
        ({"gate": "moon"}, True),
        ({"gate": 3}, True),
        ({"attempts": {}}, True),
        ({"observations": None}, True),
        ({"humidity": 41}, False),
        ({"standard": {"name": "x", "colour": "red"}}, True),
    ],
)
def test_the_documents_own_keys(tmp_path: Path, change: dict[str, Any], *, codec: bool) -> None:
    """``codec``: the codec refuses it as well. It reads over a key that it would drop."""
    plain = resealed({**document(), **change})
    assert faults(Saved, plain)
    assert loads(tmp_path / "case.json", plain) is not codec


ADDRESS_KINDS = {
    "own-interfaces": ("rows", 0, "address"),
    "name-lookup": ("addresses", 0),
    "addresses": ("rows", 0, "address"),
    "gateways": ("addresses", 0),
    "neighbour": ("address",),
    "planned-neighbour": ("asks", 0),
    "reverse-name": ("leads_to", 0),
    "route": ("address",),
    "advertisement": ("places", 0, "addresses", 0),
}
COMPUTED_WITH = {"own-interfaces", "name-lookup", "addresses", "gateways", "route"}
"""Of these the rules work out networks; the codec lets no other text through."""


@pytest.mark.parametrize("kind", ADDRESS_KINDS)
@pytest.mark.parametrize("text", ["", "192.0.2.256", "192.0.2", "192.0.2.061", "192.0.2.61/24", "plans-new", ":::1"])
def test_what_is_no_address_is_refused(tmp_path: Path, kind: str, text: str) -> None:
    """RFC 6943 s3.1.1 (strict IPv4), RFC 4291 s2.2."""
    value = Broken(ADDRESS_KINDS[kind], text).of(example(KINDS[kind]))
    plain = document({"observations": [observed(kind, value)]})
    assert faults(Saved, plain)
    assert loads(tmp_path / "case.json", plain) is (kind not in COMPUTED_WITH)


@pytest.mark.parametrize("kind", ADDRESS_KINDS)
@pytest.mark.parametrize("text", ["0.0.0.0", "2001:db8::61", "::", "::ffff:192.0.2.61", "fe80::61%eth0", "FE80::1"])
def test_what_is_an_address_is_taken(tmp_path: Path, kind: str, text: str) -> None:
    """RFC 4291 s2.2 and s2.5.5.2, RFC 4007 s11.2."""
    value = Broken(ADDRESS_KINDS[kind], text).of(example(KINDS[kind]))
    plain = document({"observations": [observed(kind, value)]})
    assert faults(Saved, plain) == []
    assert loads(tmp_path / "case.json", plain)


@pytest.mark.parametrize(("address", "length"), [("192.0.2.10", 33), ("192.0.2.10", -1), ("2001:db8::10", 129)])
def test_a_prefix_longer_than_its_address_is_not_read(tmp_path: Path, address: str, length: int) -> None:
    """RFC 4632 s3.1, RFC 4291 s2.3. Of a schema only the longest of all lengths can be said."""
    value = example(KINDS["own-interfaces"])
    value["rows"][0] |= {"address": address, "prefix_length": length}
    plain = document({"observations": [observed("own-interfaces", value)]})
    assert not loads(tmp_path / "case.json", plain)
    assert bool(faults(Saved, plain)) is (not 0 <= length <= 128)


@pytest.mark.parametrize(
    ("kind", "where", "text"),
    [
        ("mac", ("value",), "02-77-00-00-00-22"),
        ("mac", ("value",), "02:77:00:00:00"),
        ("mac", ("value",), ""),
        ("interfaces", ("rows", 0, "mac"), "02:77:00:00:00:2G"),
        ("interfaces", ("rows", 0, "mac"), "02:77:00:00:00:2A"),
        ("neighbour", ("macs", 0), ""),
        ("neighbour", ("method",), "guess"),
        ("certificate", ("fingerprint",), "5E" * 32),
        ("certificate", ("port",), 0),
        ("service", ("port",), 65536),
        ("service", ("state",), "ajar"),
        ("service", ("round_trips_us", 0), -1),
        ("snmp-agent", ("version",), "v4"),
        ("addresses", ("rows", 0, "prefix_length"), 129),
        ("supplies", ("rows", 0, "level", "value"), -3),
    ],
)
def test_a_form_that_the_facts_promise(kind: str, where: tuple[str | int, ...], text: object) -> None:
    value = Broken(where, text).of(example(KINDS[kind]))
    assert faults(KINDS[kind], value)
    assert faults(Saved, document({"observations": [observed(kind, value)]}))


@pytest.mark.parametrize("value", [{"a": 1.5}, {"a": [2**53]}, {"\u00e4": 1}, {"a": {"b": {"\u20ac": []}}}])
def test_what_cannot_be_sealed_is_refused_in_a_kind_that_nobody_knows(tmp_path: Path, value: Any) -> None:
    """RFC 8785 is only followed for whole numbers that are read the same everywhere, and ASCII keys."""
    for kind, whole in (("humidity", value), ("model", {"value": "Halden 36R", "later": value})):
        assert not_taken(document({"observations": [observed(kind, whole)]}), tmp_path / "case.json") == []


def test_what_a_later_version_adds_to_the_evidence_is_taken(tmp_path: Path) -> None:
    later = {"a": [1, None, True, {"b": "\u20ac"}]}
    observation = {**observed("humidity", later), "later": later}
    known = observed("supplies", {**example(KINDS["supplies"]), "later": later})
    move = {**example(Move), "later": later}
    plain = document(
        {"move": move, "attempts": [{**example(Attempt), "later": 1}], "observations": [observation, known]}
    )
    assert faults(Saved, plain) == []
    assert loads(tmp_path / "case.json", plain)


def test_a_found_with_one_field_broken_is_refused() -> None:
    whole = {**example(Found), "schema": "netcheck/found/1"}
    assert faults(Found, whole) == []
    for each in broken(Found, whole):
        assert faults(Found, each.of(whole)), str(each)
    assert faults(Found, {**whole, "schema": "netcheck/found/2"})
    assert faults(Found, {**whole, "humidity": 41})
    for text in ("02-77-00-00-00-22", ""):
        assert faults(Found, Broken(("devices", 0, "macs", 0), text).of(whole))
