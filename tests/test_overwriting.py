"""No output option takes the place of what the same command reads.

What must hold is plain: exit code 2, nothing printed, nobody asked, and every octet of the file as it was.
Which file is the same as which is the file system's word (POSIX.1 `link`, `symlink`).
"""

import json
import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from netcheck.cli import _guarded
from netcheck.commands.telling import check_savable, write_whole
from netcheck.errors import InputError
from tests.conftest import FIXTURES

CASES = FIXTURES / "cases"
MOVE = '[move]\njob = "LS-2041"\nstandard = "st.toml"\n[new]\nhost = "127.0.0.1"\n[new.ports]\nipp = 9\n'


@pytest.fixture(autouse=True)
def nobody_is_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    """Asking would be too late: the complaint comes before."""

    def ask(*_: object, **__: object) -> None:
        raise AssertionError("somebody was asked")

    monkeypatch.setattr("netcheck.commands.asking.collect_once", ask)


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("NETCHECK_PROFILES", str(tmp_path / "profiles.toml"))
    shutil.copy(CASES / "ready.json", "a.json")
    shutil.copy(CASES / "snmp-silent.json", "b.json")
    Path("st.toml").write_text('name = "Plan plotters 2026"\n', "utf-8")
    Path("m.toml").write_text(MOVE, "utf-8")
    Path("profiles.toml").write_text('[snmp.site]\ncommunity = { env = "NOWHERE" }\n', "utf-8")
    return tmp_path


@pytest.mark.parametrize(
    "command",
    [
        "judge a.json --redact --save a.json",
        "judge a.json --save a.json",
        "judge a.json --with b.json --save b.json",
        "judge a.json --standard st.toml --save st.toml",
        "judge a.json --save ./nowhere/../a.json",
        "compare a.json b.json --save a.json",
        "compare a.json b.json --save b.json",
        "compare a.json b.json --standard st.toml --save st.toml",
        "ready m.toml --save m.toml",
        "ready m.toml --save st.toml",
        "ready m.toml --save profiles.toml",
        "ready --new 127.0.0.1 --standard st.toml --save st.toml",
        "ready --new 127.0.0.1 --with a.json --save a.json",
        "read 127.0.0.1 --with a.json --save a.json",
    ],
)
def test_what_is_read_is_not_written(folder: Path, command: str, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "nowhere").mkdir()
    before = {file.name: file.read_bytes() for file in folder.iterdir() if file.is_file()}
    code = _guarded(command.split())
    out, err = capsys.readouterr()
    assert (code, out) == (2, "")
    assert "--save: found a file that this very command reads or writes; wanted another file" in err
    assert {file.name: file.read_bytes() for file in folder.iterdir() if file.is_file()} == before


@pytest.mark.skipif(os.name != "posix", reason="links need rights elsewhere")
@pytest.mark.parametrize("link", [Path.symlink_to, Path.hardlink_to])
def test_another_name_of_the_same_file_is_the_same_file(link: Callable[[Path, Path], None], folder: Path) -> None:
    link(folder / "other.json", folder / "a.json")
    assert _guarded(["judge", "a.json", "--redact", "--save", "other.json"]) == 2


def test_another_file_is_written(folder: Path) -> None:
    assert _guarded(["judge", "a.json", "--redact", "--save", "b.json"]) == 0
    assert json.loads((folder / "b.json").read_text("utf-8"))["schema"] == "netcheck/case/1"


def test_an_earlier_run_is_replaced_as_ever(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is the memory of `ready`: what changed since is told from it."""

    async def ask(*_: object, **__: object) -> None:
        return None

    monkeypatch.setattr("netcheck.commands.asking.collect_once", ask)
    assert _guarded(["ready", "m.toml", "--save", "visit.json"]) == 3
    first = (folder / "visit.json").read_bytes()
    assert _guarded(["ready", "m.toml", "--save", "visit.json"]) == 3
    assert (folder / "visit.json").read_bytes() != first


def test_the_complaint_names_the_option(folder: Path) -> None:
    fleet = folder / "a.json"
    with pytest.raises(InputError, match="--csv: found a file that this very command reads or writes"):
        check_savable(fleet, "--csv", reads=(None, fleet))
    with pytest.raises(InputError, match=r"--html: found .*nowhere"):
        check_savable(folder / "nowhere" / "x.html", "--html")
    with pytest.raises(InputError, match="--metrics: found "):
        write_whole(folder / "nowhere" / "x", b"", "--metrics")


def test_two_outputs_to_one_file_that_is_not_there_yet(folder: Path) -> None:
    with pytest.raises(InputError, match="--csv"):
        check_savable(folder / "new", "--csv", reads=(folder / "nowhere" / ".." / "new",))
    check_savable(folder / "new", "--csv", reads=(folder / "newer",))


def test_what_is_no_file_is_not_lost() -> None:
    check_savable(Path(os.devnull), reads=(Path(os.devnull),))


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ("--fleet 3 --save f.json", "--fleet: found --save beside it; wanted --fleet N, with --hold"),
        ("ready --fleet 3", "--fleet: found SCENARIO beside it"),
        ("--fleet 3 --json", "--fleet: found --json beside it"),
        ("--fleet 3 --list", "--fleet: found --list beside it"),
        ("--fleet 3 --all", "--fleet: found --all beside it"),
        ("--fleet 3 --hold --save f.json", "--fleet: found --save beside it"),
        ("--all --json --save f.json", "--all: found --json and --save beside it; wanted --all by itself"),
        ("ready --list", "--list: found SCENARIO beside it; wanted --list by itself"),
        ("--hold --save f.json", "--hold: found --save beside it"),
        ("--save m.toml/f.json", "--save: found"),
    ],
)
def test_what_a_rehearsal_would_leave_out_is_refused(
    arguments: str, says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    code = _guarded(["rehearse", *arguments.split()])
    out, err = capsys.readouterr()
    assert (code, out) == (2, "")
    assert says in err
    assert not Path("f.json").exists()
