"""A saved case judged again gives the same bytes, whatever the day, the time zone, the language and the hash seed.

"Now" is the case's own time: nothing but the file decides. Each run is a process of its own, since all of these are
settled when an interpreter starts.
"""

import locale
import os
import subprocess
import sys
from collections.abc import Mapping
from functools import cache
from pathlib import Path

import pytest

from tests.conftest import FIXTURES

CASES = FIXTURES / "cases"
ROOT = FIXTURES.parent
SMALL, LARGE = CASES / "fewer-fields.json", CASES / "joined.json"
DAYS = 400

MOVED_CLOCK = f'''
"""Loaded by every interpreter that finds it: it is {DAYS} days later."""
import datetime
import time

AHEAD = {DAYS} * 86_400
_time, _time_ns, _localtime, _gmtime = time.time, time.time_ns, time.localtime, time.gmtime
time.time = lambda: _time() + AHEAD
time.time_ns = lambda: _time_ns() + AHEAD * 10**9
time.localtime = lambda at=None: _localtime(time.time() if at is None else at)
time.gmtime = lambda at=None: _gmtime(time.time() if at is None else at)


class Later(datetime.datetime):
    @classmethod
    def now(cls, tz=None):
        return cls.fromtimestamp(time.time(), tz)

    @classmethod
    def utcnow(cls):
        return cls.fromtimestamp(time.time(), datetime.UTC).replace(tzinfo=None)

    @classmethod
    def today(cls):
        return cls.now()


class LaterDay(datetime.date):
    @classmethod
    def today(cls):
        return Later.now().date()


datetime.datetime, datetime.date = Later, LaterDay
'''


def run(arguments: tuple[str, ...], around: Mapping[str, str], *path: str) -> tuple[int, bytes, bytes]:
    """Exit code, stdout and stderr of one process. ``around`` is its environment beyond the least that it needs."""
    kept = {name: value for name in ("PATH", "SYSTEMROOT") if (value := os.environ.get(name))}
    environment = {**kept, "PYTHONPATH": os.pathsep.join((*path, str(ROOT))), **around}
    done = subprocess.run([sys.executable, *arguments], capture_output=True, env=environment, cwd=ROOT, timeout=60)
    return done.returncode, done.stdout, done.stderr


def judged(case: Path, around: Mapping[str, str], *options: str, path: str = "") -> tuple[int, bytes]:
    code, out, err = run(("-m", "netcheck", "judge", str(case), *options), around, *filter(None, [path]))
    assert err == b""
    assert out
    return code, out


@cache
def usual(case: Path, *options: str) -> tuple[int, bytes]:
    """As it is in UTC, in English, today."""
    return judged(case, {"TZ": "UTC", "LC_ALL": "C.UTF-8", "PYTHONHASHSEED": "0"}, *options)


def is_there(name: str) -> bool:
    before = locale.setlocale(locale.LC_ALL)
    try:
        locale.setlocale(locale.LC_ALL, name)
    except locale.Error:
        return False
    finally:
        locale.setlocale(locale.LC_ALL, before)
    return True


needs_turkish = pytest.mark.skipif(not is_there("tr_TR.UTF-8"), reason="no locale tr_TR.UTF-8 here")
AROUND = [
    pytest.param({"TZ": "Pacific/Auckland"}, id="Auckland"),
    pytest.param({"TZ": "America/St_Johns"}, id="St John's"),
    pytest.param({"TZ": "NZST-12NZDT,M9.5.0,M4.1.0/3"}, id="Auckland by rule"),
    pytest.param({"TZ": "NST3:30NDT,M3.2.0,M11.1.0"}, id="St John's by rule"),
    pytest.param({"LC_ALL": "tr_TR.UTF-8"}, id="Turkish", marks=needs_turkish),
    pytest.param({"LC_ALL": "C.UTF-8", "PYTHONUTF8": "1"}, id="C.UTF-8"),
    pytest.param({"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}, id="C"),
    pytest.param({"LC_ALL": "POSIX", "PYTHONIOENCODING": "utf-8"}, id="POSIX"),
    pytest.param({"PYTHONIOENCODING": "ascii"}, id="ASCII"),
    pytest.param({"PYTHONHASHSEED": "0"}, id="seed 0"),
    pytest.param({"PYTHONHASHSEED": "1"}, id="seed 1"),
    pytest.param({"PYTHONHASHSEED": "random"}, id="seed at random"),
    pytest.param({"PYTHONOPTIMIZE": "1"}, id="optimised"),
]
"""A rule of POSIX.1 8.3 beside each name of a zone: it needs no table of zones on this machine."""


@pytest.mark.parametrize("around", AROUND)
def test_the_document_is_the_same_to_the_byte(around: dict[str, str]) -> None:
    assert judged(SMALL, around, "--json") == usual(SMALL, "--json")


@pytest.mark.parametrize("around", AROUND)
def test_the_page_is_the_same(around: dict[str, str]) -> None:
    assert judged(SMALL, around) == usual(SMALL)


@pytest.mark.parametrize(
    "around",
    [
        {"TZ": "Pacific/Auckland", "LC_ALL": "C.UTF-8", "PYTHONHASHSEED": "random"},
        {"TZ": "NST3:30NDT,M3.2.0,M11.1.0", "LC_ALL": "C", "PYTHONHASHSEED": "1"},
    ],
    ids=["far east", "far west"],
)
def test_a_whole_visit_is_the_same(around: dict[str, str]) -> None:
    assert judged(LARGE, around, "--json") == usual(LARGE, "--json")
    assert judged(LARGE, around) == usual(LARGE)


@pytest.mark.parametrize("encoding", ["cp1252", "utf-16"])
def test_the_document_is_in_utf_8_whatever_stdout_is_in(encoding: str) -> None:
    """RFC 8259 s8.1. A file to which Windows redirects is in the code page of the machine (common practice)."""
    foreign = CASES / "unknown-kind.json"
    assert not foreign.read_text("utf-8").isascii()
    assert judged(foreign, {"PYTHONIOENCODING": encoding}, "--json") == usual(foreign, "--json")


@pytest.fixture
def later(tmp_path: Path) -> str:
    """A folder that moves the clock of every interpreter that has it on its path."""
    (tmp_path / "sitecustomize.py").write_text(MOVED_CLOCK, "utf-8")
    return str(tmp_path)


def test_the_clock_is_moved(later: str) -> None:
    """Else the next test could not fail."""
    says = "import time, datetime as d; print(int(time.time()), int(d.datetime.now(d.UTC).timestamp()), d.date.today())"
    code, out, err = run(("-c", says), {"TZ": "UTC"}, later)
    _, now, _ = run(("-c", says), {"TZ": "UTC"})
    assert (code, err) == (0, b"")
    ahead = [int(one) - int(other) for one, other in zip(out.split()[:2], now.split()[:2], strict=True)]
    assert all(DAYS * 86_400 - 60 <= each <= DAYS * 86_400 + 60 for each in ahead)
    assert out.split()[2] != now.split()[2]


@pytest.mark.parametrize("options", [("--json",), ()], ids=["document", "page"])
@pytest.mark.parametrize("case", [SMALL, LARGE], ids=lambda path: path.stem)
def test_it_is_the_same_more_than_a_year_later(later: str, case: Path, options: tuple[str, ...]) -> None:
    assert judged(case, {"TZ": "UTC"}, *options, path=later) == usual(case, *options)


def test_how_old_a_fact_is_does_not_change_with_the_day(later: str, tmp_path: Path) -> None:
    """The Standard takes facts for a minute. The case is older than that today, and was not when it was made."""
    strict = tmp_path / "strict.toml"
    strict.write_text('name = "fresh"\n[facts]\nmax_age_minutes = 1\n', "utf-8")
    options = ("--json", "--standard", str(strict))
    assert b"too long ago" not in usual(SMALL, *options)[1]
    assert judged(SMALL, {}, *options, path=later) == usual(SMALL, *options)
