"""A saved case as other programs hand it on: byte order marks, UTF-16, and what is no saved case at all.

What Windows PowerShell 5.1 makes of `netcheck ... --json > case.json`: UTF-16LE, a byte order mark, CRLF (its manual,
about_Character_Encoding and about_Redirection, from memory).
Marks: the Unicode Standard, 23.8. JSON's own rule: RFC 8259 s8.1.
"""

import codecs
import gzip
import io
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from netcheck.cli import _guarded
from netcheck.document import MAX_CASE_BYTES, load_document
from netcheck.errors import InputError
from tests.conftest import FIXTURES

READY = FIXTURES / "cases" / "ready.json"
TEXT = READY.read_text("utf-8")
WINDOWS = TEXT.replace("\n", "\r\n")


def zipped(data: bytes) -> bytes:
    with zipfile.ZipFile(whole := io.BytesIO(), "w") as archive:
        archive.writestr("case.json", data)
    return whole.getvalue()


@pytest.mark.parametrize(
    "raw",
    [
        pytest.param(codecs.BOM_UTF16_LE + WINDOWS.encode("utf-16-le"), id="PowerShell 5"),
        pytest.param(codecs.BOM_UTF16_BE + TEXT.encode("utf-16-be"), id="UTF-16BE"),
        pytest.param(codecs.BOM_UTF8 + WINDOWS.encode(), id="UTF-8 with a mark"),
        pytest.param(WINDOWS.encode(), id="CRLF"),
    ],
)
def test_the_seal_holds_whatever_carried_the_text(raw: bytes, tmp_path: Path) -> None:
    file = tmp_path / "case.json"
    file.write_bytes(raw)
    assert load_document(file) == load_document(READY)
    assert _guarded(["judge", str(file)]) == 0


def test_a_change_is_found_in_every_encoding(tmp_path: Path) -> None:
    file = tmp_path / "case.json"
    file.write_bytes(codecs.BOM_UTF16_LE + TEXT.replace("4.7.2", "4.7.3").encode("utf-16-le"))
    with pytest.raises(InputError, match="differs from its seal"):
        load_document(file)


@pytest.mark.parametrize(
    ("raw", "says"),
    [
        (TEXT.encode("utf-16-le"), "UTF-16 text without a byte order mark"),
        (TEXT.encode("utf-16-be"), "UTF-16 text without a byte order mark"),
        (codecs.BOM_UTF32_LE + TEXT.encode("utf-32-le"), "UTF-32 text"),
        (codecs.BOM_UTF32_BE + TEXT.encode("utf-32-be"), "UTF-32 text"),
        (gzip.compress(TEXT.encode()), "a gzip file"),
        (zipped(TEXT.encode()), "a ZIP archive"),
        (b'{"site": "Gr\xf6ndal"}', "no UTF-8 ('utf-8' codec can't decode byte 0xf6 in position 12"),
        (codecs.BOM_UTF8 + b'"\xff"', "decode byte 0xff in position 4"),
        (codecs.BOM_UTF16_LE + b"{", "no UTF-16-LE ('utf-16-le' codec can't decode byte 0x7b in position 2"),
        (codecs.BOM_UTF16_LE + b"\x00\xd8{\x00", "no UTF-16-LE ('utf-16-le' codec can't decode bytes in position 2-3"),
        (codecs.BOM_UTF16_LE, "JSON that cannot be read"),
        (b"", "JSON that cannot be read"),
        (b"[]", "a JSON list"),
        (codecs.BOM_UTF16_LE + b"\x20\x00" * (MAX_CASE_BYTES // 2), f"more than {MAX_CASE_BYTES} bytes"),
        (b'{"schema":"netcheck/found/1"}', "schema: found what `netcheck find` saves ('netcheck/found/1')"),
        (b'{"schema":"netcheck/difference/1"}', "what `netcheck compare` saves"),
        (b'{"schema":"netcheck/swept/1"}\n', "what `netcheck sweep` saves"),
        (b'{"schema":"netcheck/swept/1"}\n' * 2, "schema: found what `netcheck sweep` saves"),
        ('\ufeff{"schema":"netcheck/swept/1"}\r\n'.encode("utf-16-le") * 2, "what `netcheck sweep` saves"),
        (b'{"schema":"netcheck/case/2"}', "made by a later netcheck"),
        (b'{"schema":"inventory/1"}', "schema 'inventory/1'"),
    ],
)
def test_anything_else_is_told_as_what_it_is(
    raw: bytes, says: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "case.json"
    file.write_bytes(raw)
    code = _guarded(["judge", str(file)])
    out, err = capsys.readouterr()
    assert (code, out) == (2, "")
    assert says in err


def test_what_compare_saves_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The real document, and not only its name."""
    saved = tmp_path / "difference.json"
    assert _guarded(["compare", str(READY), str(READY), "--save", str(saved)]) == 0
    assert _guarded(["judge", str(saved)]) == 2
    assert "what `netcheck compare` saves" in capsys.readouterr().err


def test_a_folder_is_no_saved_case(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="found a folder; wanted the file of a saved case"):
        load_document(tmp_path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes in the file system here")
def test_a_pipe_that_nobody_writes_to_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(pipe := tmp_path / "pipe.json")
    done = subprocess.run(
        [sys.executable, "-m", "netcheck", "judge", str(pipe)], capture_output=True, text=True, timeout=20
    )
    assert done.returncode == 2
    assert "found a named pipe; wanted the file of a saved case" in done.stderr


@pytest.mark.skipif(not Path("/dev/stdin").exists(), reason="no /dev/stdin here")
@pytest.mark.parametrize("name", ["/dev/stdin", "/dev/fd/0"])
@pytest.mark.parametrize("line", ["cat {case} | {netcheck}", "{netcheck} < {case}"])
def test_what_the_shell_hands_over_is_read(line: str, name: str) -> None:
    line = line.format(case=READY, netcheck=f"{sys.executable} -m netcheck judge {name}")
    done = subprocess.run(line, shell=True, capture_output=True, text=True, timeout=20)  # noqa: S602
    assert (done.returncode, done.stderr) == (0, "")
