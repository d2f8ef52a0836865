"""The saved document against RFC 8785's reference package, and against files that were damaged on the way."""

import json
from pathlib import Path
from typing import Any

import msgspec
import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from netcheck.case import Case
from netcheck.cli import _guarded
from netcheck.document import Document, canonical, evidence_of, load_document, sealed
from netcheck.errors import InputError
from netcheck.facts.identity import Firmware, Serial
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.roles import Outcome, Role
from netcheck.spoken import code_of
from netcheck.standard import FirmwareDemand, Standard
from tests.conftest import attempt, make_case

SAFE = 2**53 - 1
keys = st.text(st.characters(max_codepoint=127), max_size=8)
values = st.recursive(
    st.none() | st.booleans() | st.integers(-SAFE, SAFE) | st.text(st.characters(codec="utf-8")),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(keys, inner, max_size=4),
    max_leaves=20,
)


@given(values)
def test_canonical_form_equals_the_reference_package(value: Any) -> None:
    """Oracle: the package rfc8785, the reference implementation of RFC 8785."""
    assert canonical(value) == rfc8785.dumps(value)


@pytest.mark.parametrize("value", [1.5, float("nan"), 2**53, -(2**53), {"\u00e4": 1}, [[{"a": 0.0}]]])
def test_what_the_shortcut_cannot_do_is_refused(value: Any) -> None:
    with pytest.raises(ValueError, match=r"number|key"):
        canonical(value)


def test_a_value_nested_too_deep_is_refused() -> None:
    value: Any = 0
    for _ in range(100):
        value = [value]
    with pytest.raises(ValueError, match="nested"):
        canonical(value)


def saved(path: Path) -> Case:
    case = make_case(
        [
            (Role.NEW, "ipp", "printer-firmware-string-version", Firmware("4.7.2")),
            (Role.NEW, "person", "plate", Serial("A")),
        ],
        attempts=[attempt(Role.NEW, "snmp", Outcome.SILENT, "no answer")],
    )
    standard = Standard("Plan plotters 2026", firmware=FirmwareDemand("4.7.2", "dotted"))
    path.write_bytes(Document(evidence_of(case), Gate.SWAP, standard, judge(case, standard, Gate.SWAP, {})).encode())
    return case


def rewritten(path: Path, change: Any, *, reseal: bool) -> None:
    plain = json.loads(path.read_text("utf-8"))
    change(plain)
    if reseal:
        body = {key: value for key, value in plain.items() if key != "seal"}
        plain["seal"] = msgspec.to_builtins(sealed(body))
    path.write_text(json.dumps(plain), "utf-8")


def test_a_case_comes_back_as_it_was(tmp_path: Path) -> None:
    case = saved(tmp_path / "case.json")
    loaded, document = load_document(tmp_path / "case.json")
    assert loaded == case
    assert document.gate is Gate.SWAP
    assert document.standard is not None
    assert document.standard.firmware == FirmwareDemand("4.7.2", "dotted")


def test_the_seal_is_the_hash_of_rfc_8785(tmp_path: Path) -> None:
    """Oracle: SHA-256 over the reference package's own serialisation of the file's keys."""
    import hashlib

    saved(tmp_path / "case.json")
    plain = json.loads((tmp_path / "case.json").read_text("utf-8"))
    seal = plain.pop("seal")
    evidence = {key: plain[key] for key in ("schema", "made_at", "tool", "move", "attempts", "observations")}
    assert seal["whole"] == hashlib.sha256(rfc8785.dumps(plain)).hexdigest()
    assert seal["evidence"] == hashlib.sha256(rfc8785.dumps(evidence)).hexdigest()


def test_every_key_is_always_there(tmp_path: Path) -> None:
    saved(tmp_path / "case.json")
    plain = json.loads((tmp_path / "case.json").read_text("utf-8"))
    assert list(plain) == [
        "schema", "made_at", "tool", "move", "attempts", "observations", "gate", "standard", "verdict", "seal",
    ]  # fmt: skip
    assert set(plain["observations"][0]) == {"role", "probe", "source", "at_ms", "from", "kind", "value"}
    assert set(plain["attempts"][0]) == {"role", "probe", "target", "outcome", "reason", "at_ms", "took_ms"}
    assert set(plain["verdict"]) == {"state", "findings", "steps"}
    assert set(plain["verdict"]["findings"][0]) == {
        "id", "role", "item", "state", "weight", "gate", "title", "detail", "evidence", "remedy", "causes", "reference",
    }  # fmt: skip
    assert set(plain["seal"]) == {"evidence", "whole", "code"}
    assert plain["seal"]["code"] == code_of(plain["seal"]["whole"])


def test_the_code_is_the_same_whenever_the_same_is_saved(tmp_path: Path) -> None:
    """Nothing but the content goes into it, and another content has another."""
    one, again, other = (tmp_path / name for name in ("one.json", "again.json", "other.json"))
    saved(one)
    saved(again)
    saved(other)
    rewritten(other, lambda plain: plain["verdict"].update(state="ready"), reseal=True)
    first, second, third = (json.loads(each.read_text("utf-8"))["seal"]["code"] for each in (one, again, other))
    assert first == second != third


def test_a_document_from_before_there_was_a_code_is_read(tmp_path: Path) -> None:
    path = tmp_path / "case.json"
    case = saved(path)
    judged = _guarded(["judge", str(path)])
    rewritten(path, lambda plain: plain["seal"].update(code=None), reseal=False)
    assert load_document(path)[0] == case
    assert _guarded(["judge", str(path)]) == judged != 2


@pytest.mark.parametrize("code", ["BBB-BBB-BFYF", "", 7, False, [], {"code": None}])
def test_a_code_that_does_not_fit_is_refused_like_a_wrong_seal(tmp_path: Path, code: object) -> None:
    path = tmp_path / "case.json"
    saved(path)
    rewritten(path, lambda plain: plain["seal"].update(code=code), reseal=False)
    with pytest.raises(InputError, match="code that differs from its seal"):
        load_document(path)
    assert _guarded(["judge", str(path)]) == 2


def test_a_seal_without_the_key_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "case.json"
    saved(path)
    rewritten(path, lambda plain: plain["seal"].pop("code"), reseal=False)
    with pytest.raises(InputError, match=r"seal\.code"):
        load_document(path)


def test_a_kind_that_is_not_known_survives_the_round_trip(tmp_path: Path) -> None:
    path, again = tmp_path / "case.json", tmp_path / "again.json"
    saved(path)
    new = {"role": "new", "probe": "x", "source": "y", "at_ms": 1, "from": "", "kind": "humidity", "value": {"a": [1]}}
    rewritten(path, lambda plain: plain["observations"].append(new), reseal=True)
    case, document = load_document(path)
    judge(case, Standard(), Gate.SWAP, {})
    again.write_bytes(document.encode())
    assert json.loads(again.read_text("utf-8"))["observations"][-1] == new
    stored, resaved = (json.loads(each.read_text("utf-8"))["seal"]["evidence"] for each in (path, again))
    assert stored == resaved


@pytest.mark.parametrize(
    ("change", "reseal", "says"),
    [
        (lambda plain: plain.update(schema="netcheck/case/2"), True, "made by a later netcheck"),
        (lambda plain: plain.update(schema="other/1"), True, "netcheck/case/1"),
        (lambda plain: plain["observations"][0]["value"].update(version="4.8.0"), False, "evidence that differs"),
        (lambda plain: plain["verdict"].update(state="ready"), False, "judgement that differs"),
        (lambda plain: plain.pop("seal"), False, "seal"),
        (lambda plain: plain.pop("attempts"), False, "attempts"),
        (lambda plain: plain["observations"][0].update(role="stranger"), True, "stranger"),
        (lambda plain: plain["observations"][0]["value"].update(version=7), True, "Expected `str`"),
        (lambda plain: plain.update(made_at=1.5), True, "1.5"),
    ],
)
def test_a_damaged_or_foreign_file_is_refused_with_its_fault(
    tmp_path: Path, change: Any, *, reseal: bool, says: str
) -> None:
    path = tmp_path / "case.json"
    saved(path)
    try:
        rewritten(path, change, reseal=reseal)
    except ValueError:
        rewritten(path, change, reseal=False)
    with pytest.raises(InputError, match=says) as caught:
        load_document(path)
    assert str(path) in str(caught.value)


def test_every_truncation_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "case.json"
    saved(path)
    whole = path.read_bytes()
    for length in range(0, len(whole) - 1, 97):
        path.write_bytes(whole[:length])
        with pytest.raises(InputError):
            load_document(path)


@pytest.mark.parametrize(
    "content", [b"", b"[]", b"null", b"\xff\xfe", b"[" * 100_000, b'{"schema": "netcheck/case/1"}']
)
def test_what_is_no_case_is_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "case.json"
    path.write_bytes(content)
    with pytest.raises(InputError):
        load_document(path)
