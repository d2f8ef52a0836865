"""The verdict that a saved file holds: read where it can be, never a reason to refuse the evidence, never looked at
when the case is judged."""

import json
from pathlib import Path
from typing import Any

import msgspec
import pytest

from netcheck.cli import _guarded
from netcheck.document import Document, evidence_of, load_document, sealed
from netcheck.gates import Gate
from netcheck.judge import judge
from tests.test_compare_changes import STANDARD, seen


def written(path: Path, change: Any = None) -> Path:
    case = seen("4.8.0")
    path.write_bytes(Document(evidence_of(case), Gate.SWAP, STANDARD, judge(case, STANDARD, Gate.SWAP, {})).encode())
    if change:
        plain = json.loads(path.read_text("utf-8"))
        change(plain)
        plain["seal"] = msgspec.to_builtins(sealed({key: each for key, each in plain.items() if key != "seal"}))
        path.write_text(json.dumps(plain), "utf-8")
    return path


def test_the_stored_verdict_is_read(tmp_path: Path) -> None:
    path = written(tmp_path / "case.json")
    document = load_document(path)[1]
    assert document.verdict == judge(seen("4.8.0"), STANDARD, Gate.SWAP, {})
    assert document.whole == json.loads(path.read_text("utf-8"))["seal"]["whole"]


def chained(plain: dict[str, Any]) -> None:
    """Findings of which each is explained by the next, so many that nobody could have judged so."""
    one = plain["verdict"]["findings"][0] | {"id": "a.b", "role": "new", "gate": "swap", "state": "met"}
    plain["verdict"]["findings"] = [
        one | {"item": str(n), "causes": [f"a.b@new/{n + 1}"] if n < 4999 else []} for n in range(5000)
    ]
    plain["verdict"]["findings"][0]["state"] = "unmet"


@pytest.mark.parametrize(
    "change",
    [
        lambda plain: plain.update(verdict=None),
        lambda plain: plain.update(gate=None),
        lambda plain: plain["verdict"].update(state="ready-on-tuesdays"),
        lambda plain: plain["verdict"].pop("steps"),
        lambda plain: plain["verdict"]["findings"][0].update(weight="feather"),
        lambda plain: plain["verdict"]["findings"][0].update(causes=["who@new/knows"]),
        lambda plain: plain["verdict"]["findings"].append(plain["verdict"]["findings"][0]),
        lambda plain: plain.update(verdict=[]),
        chained,
    ],
    ids=["none", "no gate", "later state", "key gone", "later weight", "cause gone", "twice", "no object", "endless"],
)
def test_a_verdict_that_cannot_be_read_is_none(tmp_path: Path, change: Any) -> None:
    case, document = load_document(written(tmp_path / "case.json", change))
    assert document.verdict is None
    assert case == seen("4.8.0")


def test_judging_never_looks_at_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The opposite is written into the file and sealed; the answer stays what it was."""

    def lie(plain: dict[str, Any]) -> None:
        plain["verdict"]["state"] = "ready"
        for each in plain["verdict"]["findings"]:
            each["state"] = "met"

    told = []
    for path in (written(tmp_path / "true.json"), written(tmp_path / "false.json", lie)):
        assert _guarded(["judge", str(path), "--json"]) == 1
        told.append(json.loads(capsys.readouterr().out)["verdict"])
    assert told[0] == told[1]
