"""A canary for every place that a secret can come from, a site that tells all of them on, and a search for them.

What a canary may look like is worked out here with the standard library, by the RFCs; nothing of it is the project's.
"""

import asyncio
import base64
import functools
import hashlib
import json
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import AbstractAsyncContextManager, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar
from urllib.parse import quote

import pytest

T = TypeVar("T")
ENGINE_IDS = [b"\x80\x00\x7e\xd9\x05halden", b"\x80\x00\x00\x00\x05engine"]
"""Of the SNMPv3 agents in these tests: keys are localised to them. One that makes an id of its own adds it."""
_WINDOW = 9
"""Characters of a canary that give it away: one that was cut or wrapped is a leak too."""
_ROOT = Path(__file__).parents[1]


def canary(place: str) -> str:
    """Twenty characters that stand nowhere else, the same for a place each time: letters of both cases and digits."""
    made = base64.b64encode(hashlib.sha256(place.encode()).digest()).decode()
    return "Qz" + made.translate({ord("+"): "x", ord("/"): "y"})[:18]


# --- what it may look like -------------------------------------------------------------------------------------------


def spellings(secret: str) -> Iterator[tuple[str, bytes]]:
    """(what it is, octets in lower case without white space) of each form in which a secret may be written."""
    raw = secret.encode()
    folded = "".join(secret.lower().split()).encode()
    for start in range(max(1, len(folded) - _WINDOW + 1)):
        yield "text", folded[start : start + _WINDOW]
    for ascii_alone in (True, False):
        yield "JSON", "".join(json.dumps(secret, ensure_ascii=ascii_alone)[1:-1].lower().split()).encode()
    yield "percent-encoded", quote(raw, safe="").lower().encode()
    yield "all percent-encoded", "".join(f"%{octet:02x}" for octet in raw).encode()
    for name, row in (("", raw), (" backwards", raw[::-1])):
        for separator in ("", ":", "-", ".", ",", "%"):
            yield f"hex{name} {separator}", separator.join(f"{octet:02x}" for octet in row).encode()
            yield f"bare hex{name} {separator}", separator.join(f"{octet:x}" for octet in row).encode()
        for separator in (".", ","):
            yield f"decimal{name} {separator}", separator.join(map(str, row)).encode()
    for before in range(3):  # RFC 4648 s4: three octets are four characters, so there are three alignments
        yield f"base64 {before}", _aligned(raw, before).lower().encode()
    for engine_id in (b"", *ENGINE_IDS):
        yield from _keys(raw, engine_id)


def _aligned(raw: bytes, before: int) -> str:
    """The characters that are the same whatever stands before and behind."""
    one = base64.b64encode(b"\0" * before + raw + b"\0" * 3).decode()
    other = base64.b64encode(b"\xff" * before + raw + b"\xff" * 3).decode()
    same = [left if left == right else " " for left, right in zip(one, other, strict=True)]
    return max("".join(same).split(), key=len)


@functools.cache
def _keys(raw: bytes, engine_id: bytes) -> list[tuple[str, bytes]]:
    """RFC 3414 A.2, RFC 7860 s9.3: the digest of a million octets of the password, localised to an engine."""
    million = (raw * (1_048_576 // len(raw) + 1))[:1_048_576]
    found = []
    for name in ("md5", "sha1", "sha224", "sha256", "sha384", "sha512"):
        key = hashlib.new(name, million).digest()
        if engine_id:
            key = hashlib.new(name, key + engine_id + key).digest()
        found += [(f"{name} key", key.hex().encode()), (f"{name} key in octets", key[:12].lower())]
    return found


def leaks(written: Mapping[str, bytes], secrets: Iterable[str]) -> list[str]:
    """Where each secret is found, in whatever form. White space is left out, since a page wraps its lines."""
    texts = {name: b"".join(octets.lower().split()) for name, octets in written.items()}
    return [
        f"{secret} as {form} in {name}"
        for secret in secrets
        for form, octets in spellings(secret)
        for name, text in texts.items()
        if octets in text
    ]


# --- a run of the command --------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Done:
    """How a run ended, and everything that it has written: the streams, and every file with its name."""

    code: int
    out: str
    err: str
    written: Mapping[str, bytes]

    def free_of(self, *secrets: str) -> None:
        found = leaks(self.written, secrets)
        assert not found, "\n".join(dict.fromkeys(found))


@dataclass
class Desk:
    """A place to work at that nobody else writes to: home, temporary files, working folder."""

    folder: Path
    variables: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for name in ("home", "tmp", "work", "given"):
            (self.folder / name).mkdir(parents=True)

    def give(self, name: str, text: str) -> Path:
        """A file of the user's, which is not searched."""
        path = self.folder / "given" / name
        path.write_text(text, "utf-8")
        return path

    def profiles(self, text: str) -> None:
        self.variables["NETCHECK_PROFILES"] = str(self.give("profiles.toml", text))

    def netcheck(self, *arguments: object, ended_after_s: float = 0.0, program: Iterable[str] = ()) -> Done:
        """Run it as a process of its own, and with `ended_after_s` press Ctrl-C after that time."""
        command = [sys.executable, "-P", *(program or ("-m", "netcheck")), *map(str, arguments)]
        process = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=self.folder / "work", env=self._environment()
        )
        if ended_after_s:
            time.sleep(ended_after_s)
            process.send_signal(2)  # SIGINT
        out, err = process.communicate(timeout=60)
        return Done(process.returncode, out.decode(), err.decode(), {"stdout": out, "stderr": err} | self._left())

    def _environment(self) -> dict[str, str]:
        usual = {name: os.environ[name] for name in ("PATH", "SYSTEMROOT", "LANG") if name in os.environ}
        folders = {"HOME": "home", "USERPROFILE": "home", "APPDATA": "home", "XDG_CONFIG_HOME": "home", "TMPDIR": "tmp"}
        places = {name: str(self.folder / folder) for name, folder in folders.items()}
        return usual | places | {"PYTHONPATH": str(_ROOT), "PYTHONDONTWRITEBYTECODE": "1"} | self.variables

    def _left(self) -> dict[str, bytes]:
        places = [self.folder / name for name in ("home", "tmp", "work")]
        paths = sorted(path for place in places for path in place.rglob("*"))
        names = {"file names": "\n".join(map(str, paths)).encode()}
        return names | {str(path): path.read_bytes() for path in paths if path.is_file()}


Ask = Callable[..., Done]


def asker(capsys: pytest.CaptureFixture[str]) -> Ask:
    """The same in this process, for what is over before anything is saved."""
    from netcheck.cli import _guarded

    def run(*arguments: object) -> Done:
        code = _guarded([str(argument) for argument in arguments])
        out = capsys.readouterr()
        return Done(code, out.out, out.err, {"stdout": out.out.encode(), "stderr": out.err.encode()})

    return run


@contextmanager
def running(served: AbstractAsyncContextManager[T]) -> Iterator[T]:
    """Something that lives in an event loop, for callers that block."""
    loop = asyncio.new_event_loop()
    thread = threading.Thread(target=loop.run_forever, name="told on", daemon=True)
    thread.start()
    try:
        inside = asyncio.run_coroutine_threadsafe(served.__aenter__(), loop).result(10)
        try:
            yield inside
        finally:
            asyncio.run_coroutine_threadsafe(served.__aexit__(None, None, None), loop).result(10)
    finally:
        loop.call_soon_threadsafe(loop.stop)
        thread.join(10)
        loop.close()
