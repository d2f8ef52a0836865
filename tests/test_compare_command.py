"""`netcheck compare`: by which Standard and at which gate, a device by itself, what is odd, and what is wrong."""

import io
import json
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from typing import Any

import jsonschema
import msgspec
import pytest

from netcheck.case import Case
from netcheck.commands.compare import run_compare
from netcheck.comparing.document import Difference
from netcheck.document import Document, evidence_of, load_document
from netcheck.errors import InputError
from netcheck.facts.identity import Firmware, Serial
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.move import DeviceRef, Move
from netcheck.rehearsal.site import standard_toml
from netcheck.roles import Outcome, Role
from netcheck.standard import FirmwareDemand, Standard
from tests.conftest import LS_2041, NOW, attempt, make_case


def compare(before: Path, after: Path, **how: Any) -> tuple[int, str, str]:
    """Run the command: (exit code, stdout, stderr)."""
    options = {"standard": None, "gate": None, "as_json": False, "save": None, "quiet": False, "no_color": True}
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8") for _ in range(2))
    with redirect_stdout(out), redirect_stderr(err):
        code = run_compare(before, after, **{**options, **how})
    for stream in (out, err):
        stream.seek(0)
    return code, out.read(), err.read()


def document(before: Path, after: Path, **how: Any) -> dict[str, Any]:
    """The document, once its schema was held against it."""
    plain: dict[str, Any] = json.loads(compare(before, after, as_json=True, **how)[1])
    jsonschema.Draft202012Validator(msgspec.json.schema(Difference)).validate(plain)
    return plain


# --- by which Standard, at which gate


def written(path: Path, case: Case, standard: Standard | None = None, gate: Gate | None = None) -> Path:
    verdict = judge(case, standard, gate, {}) if standard and gate else None
    path.write_bytes(Document(evidence_of(case), gate, standard, verdict).encode())
    return path


def seen(version: str, move: Move = LS_2041, later: int = 0) -> Case:
    case = make_case([(Role.NEW, "ipp", "printer-firmware-string-version", Firmware(version))], move)
    return msgspec.structs.replace(case, made_at=NOW + later)


LAX, DEMANDS = Standard("lax"), Standard("demanding", firmware=FirmwareDemand("4.7.2", "dotted"))


def why(plain: dict[str, Any], identity: str) -> list[str]:
    (found,) = (each["why"] for each in plain["findings"] if each["id"] == identity)
    return list(found)


def test_by_the_later_ones_own_standard_and_gate(tmp_path: Path) -> None:
    one = written(tmp_path / "a.json", seen("4.8.0"), LAX, Gate.FILL)
    other = written(tmp_path / "b.json", seen("4.8.0"), DEMANDS, Gate.SWAP)
    plain = document(one, other)
    assert (plain["gate"], plain["standard"]) == ("swap", "demanding")
    assert (plain["before"]["gate"], plain["before"]["standard"]) == ("fill", "lax")
    assert why(plain, "identity.firmware") == ["standard", "gate"]  # not asked, then for later, then in the way
    assert plain["was"] == "cannot-tell"
    assert plain["now"] == plain["alike"] == "not-ready"


def test_by_what_is_given(tmp_path: Path) -> None:
    file = tmp_path / "standard.toml"
    file.write_text(standard_toml(), "utf-8")
    one, other = (written(tmp_path / name, seen("4.8.0"), LAX, Gate.SWAP) for name in ("a.json", "b.json"))
    plain = document(one, other, standard=file, gate="leave")
    assert (plain["gate"], plain["standard"]) == ("leave", "Plan plotters 2026")
    assert (plain["after"]["gate"], plain["after"]["standard"]) == ("swap", "lax")
    assert "standard" in why(plain, "identity.firmware")
    assert compare(one, other, standard=file)[0] == 1
    page = compare(one, other, standard=file, gate="leave")[1]
    assert 'by      gate leave, "Plan plotters 2026"' in page


def test_files_that_were_never_judged(tmp_path: Path) -> None:
    one, other = (written(tmp_path / f"{version}.json", seen(version)) for version in ("4.7.2", "4.8.0"))
    plain = document(one, other)
    assert (plain["before"]["gate"], plain["before"]["state"], plain["before"]["standard"]) == (None, None, None)
    assert plain["gate"] == "swap"
    assert "not judged" in compare(one, other)[1]


def test_a_device_by_itself_beside_a_move(tmp_path: Path) -> None:
    alone = make_case(
        [(Role.DEVICE, "ipp", "printer-firmware-string-version", Firmware("4.7.2"))],
        Move(device=DeviceRef("192.0.2.61")),
    )
    read = written(tmp_path / "read.json", alone, LAX, Gate.STANDING)
    ready = written(tmp_path / "ready.json", seen("4.8.0"), DEMANDS, Gate.SWAP)
    there = document(read, ready)
    assert [(each["role"], each["kind"]) for each in there["facts"]] == [("new", "firmware")]
    assert there["alike"] is None  # one device cannot be asked about the swap
    assert there["now"] == "not-ready"
    back = document(ready, read)
    assert (back["gate"], back["now"]) == ("standing", back["alike"])
    assert compare(ready, read)[0] == 3  # nothing but its firmware was seen of it


def test_another_box_is_said_first(tmp_path: Path) -> None:
    def of(serial: str) -> Case:
        return make_case([(Role.NEW, "ipp", "printer-device-id", Serial(serial))])

    one = written(tmp_path / "a.json", of("HX-77-0457"), LAX, Gate.SWAP)
    other = written(tmp_path / "b.json", of("HX-77-0999"), LAX, Gate.SWAP)
    assert document(one, other)["swapped"] == [
        {"role": "new", "what": "serial", "before": ["HX-77-0457"], "after": ["HX-77-0999"]}
    ]
    page = compare(one, other)[1]
    assert page.index("another device") < page.index("Seen otherwise")


@pytest.mark.parametrize(
    ("case", "says"),
    [
        (seen("4.7.3"), "No finding changed; 1 fact did."),
        (msgspec.structs.replace(seen("4.7.2"), attempts=(attempt(Role.OLD, "ipp", Outcome.SILENT),)), "1 answer did."),
        (seen("4.7.2", msgspec.structs.replace(LS_2041, when="2026-12-03")), "No finding changed; the Move did."),
    ],
)
def test_what_changed_where_no_finding_did(tmp_path: Path, case: Case, says: str) -> None:
    nothing = Standard("asks nothing")
    one = written(tmp_path / "a.json", seen("4.7.2"), nothing, Gate.FILL)
    page = compare(one, written(tmp_path / "b.json", case, nothing, Gate.FILL))[1]
    assert page.splitlines()[0].endswith(says)


# --- what is odd, and what is wrong


def test_other_jobs_and_devices_are_compared_and_said(tmp_path: Path) -> None:
    other = msgspec.structs.replace(LS_2041, job="LS-9999", new=DeviceRef("192.0.2.99"))
    one = written(tmp_path / "a.json", seen("4.8.0", later=1), DEMANDS, Gate.SWAP)
    two = written(tmp_path / "b.json", seen("4.8.0", other), DEMANDS, Gate.SWAP)
    code, _, errors = compare(one, two)
    assert code == 1
    assert "job LS-2041, and job LS-9999" in errors
    assert "192.0.2.99" in errors
    assert "was made after" in errors


def test_what_a_device_calls_itself_is_harmless(tmp_path: Path) -> None:
    one = written(tmp_path / "a.json", seen("4.7.2"), DEMANDS, Gate.SWAP)
    other = written(tmp_path / "b.json", seen("4.9\x1b[2J\u202e"), DEMANDS, Gate.SWAP)
    page = compare(one, other)[1]
    assert "\x1b" not in page
    assert "\u202e" not in page


def test_a_flood_of_facts_is_cut_on_the_page_and_whole_in_the_document(tmp_path: Path) -> None:
    def many(version: str) -> Case:
        return make_case([(Role.NEW, "ipp", f"source {n}", Firmware(f"{version}.{n}")) for n in range(200)])

    one, other = (written(tmp_path / f"{each}.json", many(each), LAX, Gate.SWAP) for each in ("1", "2"))
    page = compare(one, other)[1]
    assert "and 160 more" in page
    assert len(document(one, other)["facts"]) == 200


@pytest.mark.parametrize(
    ("before", "after", "how", "says"),
    [
        ("none.json", "a.json", {}, "none.json"),
        ("a.json", "none.json", {}, "none.json"),
        ("a.json", "broken.json", {}, "broken.json"),
        ("a.json", "read.json", {"gate": "swap"}, "--gate"),
        ("a.json", "stranger.json", {}, "192.0.2.99"),
        ("stranger.json", "a.json", {}, "192.0.2.61"),
        ("a.json", "a.json", {"standard": Path("none.toml")}, "none.toml"),
        ("a.json", "a.json", {"save": Path("/no/where/x.json")}, "--save"),
    ],
)
def test_wrong_input_is_told(tmp_path: Path, before: str, after: str, how: Any, says: str) -> None:
    written(tmp_path / "a.json", seen("4.8.0"), DEMANDS, Gate.SWAP)
    for name, host in (("read.json", "192.0.2.61"), ("stranger.json", "192.0.2.99")):
        written(tmp_path / name, make_case([], Move(device=DeviceRef(host))), LAX, Gate.STANDING)
    (tmp_path / "broken.json").write_text("{", "utf-8")
    with pytest.raises(InputError, match=says.replace(".", r"\.")):
        compare(tmp_path / before, tmp_path / after, **how)


def test_the_loaded_document_is_what_was_written(tmp_path: Path) -> None:
    path = written(tmp_path / "a.json", seen("4.8.0"), DEMANDS, Gate.SWAP)
    assert load_document(path)[1].encode() == path.read_bytes()
