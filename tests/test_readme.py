"""What the README shows is real: its outputs are run again and compared."""

import io
import re
import sys
from pathlib import Path

import pytest

from netcheck.cli import _guarded

README = Path(__file__).resolve().parent.parent / "README.md"
SHOWN = re.compile(r"<!-- output of: netcheck (?P<command>[^\n]*) -->\n```text\n(?P<output>.*?)```", re.DOTALL)


@pytest.mark.parametrize("shown", list(SHOWN.finditer(README.read_text("utf-8"))), ids=lambda shown: shown["command"])
def test_output_in_the_readme_is_real(
    shown: re.Match[str], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    command, _, typed = shown["command"].partition(" < ")
    monkeypatch.chdir(README.parent)
    if typed:
        monkeypatch.setattr(sys, "stdin", io.StringIO(Path(typed).read_text("utf-8")))
    _guarded(command.split())
    assert capsys.readouterr().out == shown["output"]


def test_there_is_something_to_compare() -> None:
    assert len(SHOWN.findall(README.read_text("utf-8"))) >= 2
