"""What changed since the last run: told where ``--save`` names the document of an earlier run of the same move."""

import json
from pathlib import Path
from typing import Any

import msgspec
import pytest

from netcheck.case import Case
from netcheck.commands.telling import last_run, tell
from netcheck.document import Document, evidence_of, load_document
from netcheck.facts.identity import Firmware
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.move import DeviceRef
from netcheck.report.page import unpainted
from netcheck.report.request import render_request
from netcheck.report.since import render_since
from netcheck.roles import Role
from netcheck.standard import FirmwareDemand, ServicesRequired, Standard
from netcheck.verdict import Holds, State, Verdict
from tests.conftest import LS_2041, NOW, make_case
from tests.test_judge import only
from tests.test_rules_link import Seen
from tests.test_rules_services_more import tcp

STANDARD = Standard(
    "site", firmware=FirmwareDemand("4.7.2", "dotted"), services_required=ServicesRequired(("ipp", "raw"))
)
WRONG, RIGHT = (Firmware(each) for each in ("4.8.0", "4.7.2"))
HOUR = 3_600_000


def seen(version: Firmware, raw: str = "refused", *, later: int = 0, job: str = "LS-2041") -> Case:
    facts: tuple[Seen, ...] = ((Role.NEW, "ipp", "firmware", version), tcp("ipp", "open"), tcp("raw", raw))
    case = make_case(facts, msgspec.structs.replace(LS_2041, job=job))
    moved = tuple(msgspec.structs.replace(each, at_ms=each.at_ms + later) for each in case.observations)
    return msgspec.structs.replace(case, made_at=NOW + later, observations=moved)


@pytest.fixture
def told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Any:
    """Judge and print as a command does, saving to one file: the printed page."""

    def run(case: Case, *, save: Path | None = tmp_path / "case.json", **how: Any) -> str:
        options = {"as_json": False, "quiet": False, "no_color": True, **how}
        tell(case, STANDARD, Gate.SWAP, save=save, **options)
        return capsys.readouterr().out

    return run


def since(page: str) -> dict[str, str]:
    """The last part of a page: its label, and its text in one line."""
    _, _, last = page.partition("Since the last run")
    found: dict[str, str] = {}
    for line in last.splitlines()[1:]:
        label, colon, text = line[:13].strip(), line[:13].strip().endswith(":"), line[13:].strip()
        if colon:
            found[label] = text
        elif found:
            found[list(found)[-1]] += f" {text}"
    return found


def test_the_first_run_has_no_last_one(told: Any, tmp_path: Path) -> None:
    assert "Since" not in told(seen(WRONG))
    assert load_document(tmp_path / "case.json")[0].made_at == NOW


def test_settled_new_and_still_open(told: Any) -> None:
    told(seen(WRONG, "open"))
    page = told(seen(RIGHT, later=HOUR))
    assert "Since the last run, 2026-11-25 09:46 UTC" in page  # 1,795,600,000 s after 1970-01-01, by `date -u -d @`
    parts = since(page)
    assert set(parts) == {"Settled:", "New:", "Still open:"}
    assert "4.8.0" in parts["Settled:"]
    assert "raw (port 9100) is refused" in parts["New:"]
    assert "raw" not in parts["Settled:"] + parts["Still open:"]
    assert all(len(line) <= 80 for line in page.splitlines())


def test_what_stays_open_is_said_once(told: Any) -> None:
    told(seen(WRONG))
    parts = since(told(seen(WRONG, later=HOUR)))
    assert "Settled:" not in parts
    assert "New:" not in parts
    assert "firmware" in parts["Still open:"].casefold()
    third = since(told(seen(RIGHT, later=2 * HOUR)))
    assert set(third) == {"Settled:", "Still open:"}


def test_where_nothing_is_open_then_or_now_nothing_is_said() -> None:
    nothing = Verdict(State.READY, (), ())
    assert render_since(nothing, NOW, nothing, Gate.SWAP, unpainted) == ""


def test_both_are_judged_by_todays_standard_and_gate() -> None:
    """What was seen then is compared, and not how it was judged."""
    lax = Standard("lax")
    before, now = judge(seen(WRONG), lax, Gate.SWAP, {}), judge(seen(WRONG, later=HOUR), lax, Gate.SWAP, {})
    assert "4.8.0" not in render_since(before, NOW, now, Gate.SWAP, unpainted)


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"not JSON",
        b"[]",
        b"{}",
        b"\xff\xfe\x00",
        b'{"schema": "netcheck/case/99"}',
        b"[" * 100_000,
        b'{"seal": 1}',
    ],
    ids=range(8),
)
def test_a_foreign_or_damaged_file_is_no_last_run_and_is_replaced_whole(
    told: Any, tmp_path: Path, content: bytes
) -> None:
    file = tmp_path / "case.json"
    file.write_bytes(content)
    assert "Since" not in told(seen(WRONG))
    assert load_document(file)[0].made_at == NOW
    assert [each.name for each in tmp_path.iterdir()] == ["case.json"]  # no temporary file is left


def test_a_document_that_was_changed_after_it_was_saved_is_not_believed(told: Any, tmp_path: Path) -> None:
    file = tmp_path / "case.json"
    told(seen(WRONG))
    file.write_bytes(file.read_bytes().replace(b"4.8.0", b"4.7.2"))
    assert "Since" not in told(seen(WRONG, later=HOUR))


def test_the_saved_file_is_that_of_now_alone(told: Any, tmp_path: Path) -> None:
    told(seen(WRONG))
    told(seen(RIGHT, later=HOUR))
    expected = Document(evidence_of(seen(RIGHT, later=HOUR)), Gate.SWAP, STANDARD).evidence
    case, document = load_document(tmp_path / "case.json")
    assert case.made_at == NOW + HOUR
    assert document.evidence == json.loads(json.dumps(expected))


def test_json_and_quiet_stay_as_they_are(told: Any) -> None:
    told(seen(WRONG))
    assert json.loads(told(seen(RIGHT, later=HOUR), as_json=True))["made_at"] == NOW + HOUR
    quiet = told(seen(WRONG, later=2 * HOUR), quiet=True)
    assert quiet.count("\n") == 1
    assert quiet.startswith("NOT READY")


@pytest.mark.parametrize(
    "other",
    [
        seen(WRONG, job="LS-9999"),
        msgspec.structs.replace(seen(WRONG), move=LS_2041.alone()),
        msgspec.structs.replace(seen(WRONG), move=msgspec.structs.replace(LS_2041, new=DeviceRef("192.0.2.62"))),
        seen(WRONG, later=2 * HOUR),  # made later than this one
    ],
    ids=["another job", "a device by itself", "another device", "later"],
)
def test_another_jobs_document_is_no_last_run(told: Any, other: Case) -> None:
    told(other)
    assert "Since" not in told(seen(RIGHT, later=HOUR))


def test_a_saved_case_that_is_judged_again_has_no_last_run(told: Any) -> None:
    told(seen(WRONG))
    case = seen(RIGHT, later=HOUR)
    assert "Since" not in told(case, evidence=evidence_of(case))


def test_what_is_no_file_is_no_last_run(tmp_path: Path) -> None:
    for path in (None, tmp_path / "none.json", tmp_path, Path("/dev/null")):
        assert last_run(path, seen(WRONG)) is None


def test_a_name_that_a_device_chose_is_harmless(told: Any) -> None:
    told(seen(WRONG))
    page = told(seen(Firmware("4.9\x1b[2J\u202e"), later=HOUR))
    assert "\x1b" not in page
    assert "\u202e" not in page


def test_what_is_only_explained_otherwise_is_not_settled(told: Any) -> None:
    before, now = seen(RIGHT), seen(RIGHT, "silent", later=HOUR)
    gone = tuple(
        msgspec.structs.replace(each, value={**each.value, "state": "silent", "round_trips_us": []})
        if each.kind == "service"
        else each
        for each in now.observations
    )
    now = msgspec.structs.replace(now, observations=gone)
    verdict = judge(now, STANDARD, Gate.SWAP, {})
    raw = next(each for each in verdict.findings if each.id == "services.required" and each.item == "raw")
    assert (raw.state, raw.causes) == (Holds.UNMET, (only(verdict, "services.reach").key,))
    told(before)
    assert "raw" not in since(told(now)).get("Settled:", "")


def test_a_request_is_nothing_but_the_request(told: Any) -> None:
    def request(*arguments: Any) -> str:
        return render_request(STANDARD, *arguments)

    told(seen(WRONG))
    assert "Since" not in told(seen(RIGHT, later=HOUR), page=request, compares=False)
