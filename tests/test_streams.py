"""Standard streams that are closed or full: the answer's exit code, and what was to be saved, do not hang on them.

A full disk is Linux's /dev/full (full(4): every write fails with ENOSPC); a closed stream is the shell's `>&-`
(POSIX.1, 2.7.6). Exit codes are those that `netcheck --help` and the README promise.
"""

import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest

from netcheck.commands.telling import is_terminal
from tests.conftest import FIXTURES

pytestmark = pytest.mark.skipif(os.name != "posix", reason="the shell's redirections")

NETCHECK = f"{sys.executable} -m netcheck"
READY, SILENT = (str(FIXTURES / "cases" / f"{name}.json") for name in ("ready", "snmp-silent"))
NO_SPACE = f"netcheck: stdout: found {os.strerror(errno.ENOSPC)}; wanted room for the result\n"
needs_full = pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")


def shell(command: str) -> tuple[int, str, str]:
    done = subprocess.run(command, shell=True, capture_output=True, text=True, timeout=60)  # noqa: S602
    return done.returncode, done.stdout, done.stderr


@pytest.mark.parametrize(("case", "code"), [(READY, 0), (SILENT, 3)])
@pytest.mark.parametrize("closed", [">&-", "2>&-", "<&-", "<&- >&- 2>&-"])
@pytest.mark.parametrize("output", ["", "--json", "--quiet"])
def test_a_closed_stream_does_not_change_the_answer(
    case: str, code: int, closed: str, output: str, tmp_path: Path
) -> None:
    saved = tmp_path / "saved.json"
    returned, _, err = shell(f"{NETCHECK} judge {case} {output} --save {saved} {closed}")
    assert (returned, err) == (code, "")
    assert shell(f"{NETCHECK} judge {saved} --quiet")[0] == code


@pytest.mark.parametrize("command", ["explain", "schema", "--help", "--version", f"compare {READY} {READY}"])
def test_a_closed_stdout_is_no_fault_of_any_command(command: str) -> None:
    assert shell(f"{NETCHECK} {command} >&-") == (0, "", "")


@needs_full
@pytest.mark.parametrize(
    "command",
    [
        f"judge {READY}",
        f"judge {READY} --json",
        f"compare {READY} {SILENT}",
        "explain",
        "explain identity.firmware",
        "schema",
        "rehearse --list",
    ],
)
def test_no_room_on_stdout_is_said(command: str) -> None:
    assert shell(f"{NETCHECK} {command} > /dev/full") == (2, "", NO_SPACE)


@needs_full
@pytest.mark.parametrize("command", ["--help", "judge --help", "--version"])
def test_no_room_for_help_is_no_fault_of_ours(command: str) -> None:
    assert shell(f"{NETCHECK} {command} > /dev/full") == (2, "", NO_SPACE.replace("stdout", "a full disk"))


@needs_full
def test_what_was_to_be_saved_is_saved_though_stdout_is_full(tmp_path: Path) -> None:
    saved = tmp_path / "saved.json"
    assert shell(f"{NETCHECK} judge {SILENT} --save {saved} > /dev/full")[0] == 2
    assert shell(f"{NETCHECK} judge {saved} --quiet")[0] == 3


@needs_full
@pytest.mark.parametrize("wrong", [f"judge {READY}", "judge none.json", "nonsense"])
def test_where_nothing_can_be_said_the_exit_code_says_it(wrong: str) -> None:
    assert shell(f"{NETCHECK} {wrong} > /dev/full 2>&1") == (2, "", "")


def test_a_stream_that_is_closed_is_no_terminal() -> None:
    reader, writer = os.openpty()
    with os.fdopen(writer, "w", encoding="utf-8") as terminal, Path(os.devnull).open(encoding="utf-8") as nobody:
        assert is_terminal(terminal)
        assert not is_terminal(nobody)
    os.close(reader)
    assert not is_terminal(None)
