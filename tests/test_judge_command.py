"""`netcheck judge` on saved files: what changed since, and why; whose file it is; the case in which nobody is named.

The files are the golden ones (`fixtures/cases`); what must change is known from what is changed here.
"""

import json
from pathlib import Path
from typing import Any

import msgspec
import pytest

from netcheck.cli import _guarded
from netcheck.document import Document, load_document
from netcheck.spoken import code_of
from netcheck.standard import FirmwareDemand
from tests.conftest import FIXTURES
from tests.test_hearing import fields

READY, SILENT = (FIXTURES / "cases" / f"{name}.json" for name in ("ready", "snmp-silent"))


def judged(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, str, str]:
    code = _guarded(["judge", *map(str, arguments)])
    out = capsys.readouterr()
    return code, out.out, out.err


def changed(page: str) -> str:
    """What changed since it was judged, in one line."""
    return " ".join(page.partition("Changed since it was judged")[2].split())


def test_a_file_that_is_judged_as_it_was_has_changed_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    code, page, _ = judged(capsys, READY)
    assert code == 0
    assert "File:        whole as netcheck" in page
    assert changed(page) == ""


def test_another_gate_is_the_reason(capsys: pytest.CaptureFixture[str]) -> None:
    code, page, _ = judged(capsys, READY, "--gate", "leave")
    assert code == 1
    assert "does not have 192.0.2.21 yet: was for later, is in the way (gate)" in changed(page)


def test_another_standard_is_the_reason(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    _, document = load_document(READY)
    assert document.standard
    assert document.standard.firmware == FirmwareDemand("4.7.2", "dotted")
    stricter = tmp_path / "stricter.toml"
    stricter.write_text('name = "later"\n[firmware]\nversion = "4.9.0"\n', "utf-8")
    code, page, _ = judged(capsys, READY, "--standard", stricter)
    assert code == 1
    assert "(standard)" in changed(page)
    assert "4.7.2" in changed(page)


def test_more_evidence_is_the_reason_and_then_no_file_is_whole(capsys: pytest.CaptureFixture[str]) -> None:
    code, page, _ = judged(capsys, SILENT, "--with", READY)
    assert code == 0
    assert "SNMP on the new device: was missing, is fine (evidence)" in changed(page).replace("Not seen: ", "")
    assert "File:" not in page
    assert "code       none" in page


def test_newer_rules_are_the_reason(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """A file that says of itself what no rule of today says: an older netcheck had judged it so."""
    _, document = load_document(READY)
    assert document.verdict
    older = [
        msgspec.structs.replace(each, state="unmet", title="The firmware is odd")
        if each.id == "identity.firmware"
        else each
        for each in document.verdict.findings
    ]
    file = tmp_path / "older.json"
    verdict = msgspec.structs.replace(document.verdict, findings=tuple(older))
    file.write_bytes(Document(document.evidence, document.gate, document.standard, verdict).encode())
    code, page, _ = judged(capsys, file)
    assert code == 0
    assert "was in the way, is fine (rules)" in changed(page)


def test_the_code_on_the_page_is_the_files(capsys: pytest.CaptureFixture[str]) -> None:
    whole = json.loads(SILENT.read_text("utf-8"))["seal"]["whole"]
    _, page, _ = judged(capsys, SILENT)
    said = fields(page[page.index("To read out:") :].partition("File:")[0])
    assert f"code {code_of(whole)}" in said


# --- nobody named


def test_the_redacted_case_is_judged_as_the_original_and_names_nobody(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    out = tmp_path / "outside.json"
    code, page, err = judged(capsys, SILENT, "--redact", "--save", out)
    assert code == 3
    assert "look it through" in err
    plain: dict[str, Any] = json.loads(out.read_text("utf-8"))
    assert plain["tool"].endswith(", redacted")
    for name in ("LS-2041", "Harrow Lane", "HX-77-0457", "CV24-008812", "192.0.2."):
        assert name in SILENT.read_text("utf-8")
        assert name not in page + out.read_text("utf-8")
    assert "Halden 36R" in page
    again, second, _ = judged(capsys, out)
    assert again == 3
    assert changed(second) == ""


def test_two_redactions_have_other_names(capsys: pytest.CaptureFixture[str]) -> None:
    one, other = (json.loads(judged(capsys, READY, "--redact", "--json")[1]) for _ in range(2))
    assert one["verdict"]["state"] == other["verdict"]["state"] == "ready"
    assert one["move"]["new"]["serial"] != other["move"]["new"]["serial"]
    assert one["seal"]["code"] != other["seal"]["code"]


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ((), "a saved case, or --spoken"),
        ((READY, "--redact"), "--save FILE, or --json"),
        ((READY, "--redact", "--spoken"), "CASE.json at most"),
    ],
)
def test_what_cannot_be_asked_is_told_what_would_be_right(
    capsys: pytest.CaptureFixture[str], arguments: tuple[object, ...], says: str
) -> None:
    code, page, err = judged(capsys, *arguments)
    assert (code, page) == (2, "")
    assert says in err
