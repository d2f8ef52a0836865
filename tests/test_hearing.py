"""`netcheck judge --spoken`: what a technician read out, typed at the desk; with the file, held against it.

What the scenarios are, and so what must be heard of them, is the rehearsal's promise (`netcheck rehearse --list`).
"""

import io
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from netcheck.cli import _guarded

NETCHECK = [sys.executable, "-m", "netcheck"]
Hear = Callable[..., tuple[int, str, str]]


@pytest.fixture
def hear(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Hear:
    """Type a text into ``netcheck judge [FILE] --spoken``: (exit code, stdout, stderr)."""

    def run(typed: str, *arguments: object) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
        code = _guarded(["judge", *map(str, arguments), "--spoken"])
        out = capsys.readouterr()
        assert "Traceback" not in out.out + out.err
        return code, out.out, out.err

    return run


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """The waste receptacle is full: the saved file, and the block to read out, as it is printed."""
    file = tmp_path_factory.mktemp("full") / "LS-2041.json"
    done = subprocess.run([*NETCHECK, "rehearse", "waste-full", "--save", file], capture_output=True, text=True)
    assert done.returncode == 1, done.stderr
    return file, done.stdout[done.stdout.index("To read out:") :]


def fields(block: str) -> list[str]:
    """What somebody at the desk would type: a field a line, the code and the check in characters."""
    lines = (
        " ".join(block.removeprefix("To read out:").split()).replace(" code ", "; code ").replace(" check ", "; check ")
    )
    return [each.partition(":")[0].strip() for each in lines.split(";")]


def test_the_block_as_printed_is_heard_without_the_file(hear: Hear, full: tuple[Path, str]) -> None:
    code, out, err = hear(full[1])
    assert (code, err) == (1, "")
    assert out.startswith("NOT READY  at gate swap, job LS-2041, as read out\n")
    assert "full" in out  # the receptacle
    assert "netcheck explain supplies.empty" in out
    assert "serial ends 0457, firmware 4.7.2, address ends 21" in " ".join(out.split())


def test_lines_that_were_joined_on_the_way_are_taken_apart(hear: Hear, full: tuple[Path, str]) -> None:
    assert hear(" ".join(full[1].split()))[0] == 1


def test_what_contradicts_itself_is_told_before_the_check(hear: Hear, full: tuple[Path, str]) -> None:
    code, _, err = hear(full[1].replace("blockers one", "blockers none"))
    assert code == 2
    assert "no blockers, and 0 missing, findings 704" in err


def test_it_is_heard_as_typed_too(hear: Hear, full: tuple[Path, str]) -> None:
    typed = "\n".join(each.upper() for each in fields(full[1]))
    assert hear(typed)[0] == 1


def test_the_words_are_heard_as_the_characters_are(hear: Hear, full: tuple[Path, str]) -> None:
    _, words = " ".join(full[1].split()).split(" code ")[1].split(" check ")[0].split(": ")
    typed = [f"code {words}" if each.startswith("code") else each for each in fields(full[1])]
    assert hear("\n".join(typed))[0] == 1


def test_with_the_file_it_is_said_to_be_that_file(hear: Hear, full: tuple[Path, str]) -> None:
    code, out, _ = hear(full[1], full[0])
    assert code == 1
    assert f"{full[0].name} is the one that was read out" in " ".join(out.split())


def test_a_file_of_another_run_is_refused_field_by_field(hear: Hear, full: tuple[Path, str], tmp_path: Path) -> None:
    other = tmp_path / "other.json"
    subprocess.run([*NETCHECK, "rehearse", "firmware-too-new", "--save", other], capture_output=True, check=False)
    code, out, err = hear(full[1], other)
    assert (code, out) == (2, "")
    assert "firmware: found 4.8.0; wanted 4.7.2, as it was read out" in err
    assert "findings: found 505; wanted 704" in err
    assert "code: found" in err
    assert "serial" not in err


def test_a_file_that_was_changed_afterwards_is_refused(hear: Hear, full: tuple[Path, str], tmp_path: Path) -> None:
    changed = tmp_path / "changed.json"
    changed.write_bytes(full[0].read_bytes().replace(b"4.7.2", b"4.7.3"))
    code, _, err = hear(full[1], changed)
    assert code == 2
    assert "changed or damaged" in err


def test_a_slip_is_said_with_what_was_typed(hear: Hear, full: tuple[Path, str]) -> None:
    code, out, err = hear(full[1].replace("4.7.2", "4.7.3"))
    assert (code, out) == (2, "")
    assert "does not fit what was typed" in err
    assert "firmware 4.7.3" in err


def test_a_run_that_was_not_saved_has_no_code_and_says_so(hear: Hear, capsys: pytest.CaptureFixture[str]) -> None:
    _guarded(["rehearse", "snmp-silent"])
    page = capsys.readouterr().out
    code, out, _ = hear(page[page.index("To read out:") :])
    assert code == 3
    assert out.startswith("CANNOT TELL")
    assert "nothing was saved there" in out


def test_a_number_of_a_newer_netcheck_is_said_to_be_unknown(hear: Hear) -> None:
    said = ["job LS-2041", "gate swap", "blockers one", "findings 899", "serial none", "firmware none"]
    said += ["address none", "counts 1 0 0 0", "code none"]
    _, _, err = hear("\n".join([*said, "check BBB"]))
    from netcheck.readout import ReadOut

    check = ReadOut(*(each.partition(" ")[2] for each in said)).check
    assert "does not fit" in err or check == "BBB"
    code, out, _ = hear("\n".join([*said, f"check {check}"]))
    assert code == 1
    assert "their netcheck is newer" in out


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("", "gate: found nothing"),
        ("LS-2041", "a field a line"),
        ("job a\njob b", "two of it"),
        ("x" * 5000, "more than 4000 characters"),
        ("job a\ngate moon", "one of survey, fill"),
        ("code BBB", "instead of"),
    ],
)
def test_what_cannot_be_a_read_out_is_told_what_would_be_right(hear: Hear, typed: str, says: str) -> None:
    code, out, err = hear(typed)
    assert (code, out) == (2, "")
    assert says in err


@pytest.mark.parametrize("more", [["--json"], ["--gate", "leave"], ["--save", "x.json"]])
def test_nothing_is_judged_of_what_was_heard(hear: Hear, more: list[str]) -> None:
    code, _, err = hear("", *more)
    assert code == 2
    assert "told, and not judged" in err


@pytest.mark.skipif(os.name != "posix", reason="a pseudo-terminal is a POSIX thing")
def test_at_a_terminal_each_field_is_asked_for_until_it_can_be_right(full: tuple[Path, str]) -> None:
    main, end = os.openpty()
    typed = [each.partition(" ")[2] for each in fields(full[1])]
    typed.insert(1, "moon")  # no gate
    slip = [*typed[:-3], "99 9 9 9", *typed[-2:]]  # other counts, which the check does not fit
    kept = [""] * 7 + [typed[-3], "", ""]  # Enter keeps what was typed before
    os.write(main, ("\n".join([*slip, *kept]) + "\n").encode())
    done = subprocess.run([*NETCHECK, "judge", "--spoken"], stdin=end, capture_output=True, text=True, timeout=30)
    os.close(main)
    os.close(end)
    assert done.returncode == 1, done.stderr
    assert "gate: 'moon'" in done.stderr
    assert "does not fit what was typed" in done.stderr
    assert done.stdout.startswith("NOT READY")
