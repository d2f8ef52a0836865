"""Headless Chromium as a context manager, driven by its own protocol (Chrome DevTools Protocol) over a web socket."""

import asyncio
import itertools
import os
import re
import shutil
import signal
import subprocess
import time
from collections.abc import Coroutine
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Any, Final, Self, TypeVar

import aiohttp

NAMES: Final = ("chromium-headless-shell", "chromium", "chromium-browser")
T = TypeVar("T")


def program() -> str | None:
    """Where it is, None where there is none."""
    return next((found for name in NAMES if (found := shutil.which(name))), None)


class Browser:
    """One browser with one page. `events` are all that came, each as the protocol has it."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._loop = asyncio.new_event_loop()
        self._numbers = itertools.count(1)
        self.events: list[dict[str, Any]] = []

    def __enter__(self) -> Self:
        log = self._folder / "browser.log"
        options = ("--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking")
        with log.open("wb") as output:
            self._process = subprocess.Popen(
                [
                    program() or "chromium",
                    *options,
                    "--remote-debugging-port=0",
                    f"--user-data-dir={self._folder / 'profile'}",
                    "about:blank",
                ],
                stdin=subprocess.DEVNULL,
                stdout=output,
                stderr=subprocess.STDOUT,
                start_new_session=True,
            )
        try:
            self._run(self._connect(self._port(log)))
        except BaseException:
            self._end()
            raise
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.call(f"{domain}.enable")
        return self

    def __exit__(self, kind: type[BaseException] | None, value: BaseException | None, at: TracebackType | None) -> None:
        self._run(self._session.close())
        self._end()

    def _end(self) -> None:
        """With all its processes: what was started may be a script that starts the browser and passes no signal on,
        so that the signals go to the group, which is its alone."""
        for number in (signal.SIGTERM, signal.SIGKILL):
            with suppress(ProcessLookupError):
                os.killpg(self._process.pid, number)
            with suppress(subprocess.TimeoutExpired):
                self._process.wait(10)
        self._loop.close()

    def _port(self, log: Path) -> int:
        end = time.monotonic() + 30
        while time.monotonic() < end:
            if match := re.search(r"listening on ws://127\.0\.0\.1:([0-9]+)/", log.read_text(errors="replace")):
                return int(match[1])
            time.sleep(0.05)
        raise TimeoutError(log.read_text(errors="replace"))

    async def _connect(self, port: int) -> None:
        self._session = aiohttp.ClientSession()
        async with self._session.get(f"http://127.0.0.1:{port}/json/list") as answer:
            pages = [each for each in await answer.json() if each["type"] == "page"]
        self._socket = await self._session.ws_connect(pages[0]["webSocketDebuggerUrl"], max_msg_size=0)

    def _run(self, what: Coroutine[Any, Any, T]) -> T:
        return self._loop.run_until_complete(asyncio.wait_for(what, 60))

    async def _call(self, method: str, values: dict[str, Any]) -> dict[str, Any]:
        number = next(self._numbers)
        await self._socket.send_json({"id": number, "method": method, "params": values})
        while True:
            message: dict[str, Any] = await self._socket.receive_json()
            if message.get("id") == number:
                assert "error" not in message, message
                result: dict[str, Any] = message["result"]
                return result
            self.events.append(message)

    def call(self, method: str, **values: Any) -> dict[str, Any]:
        """One command of the protocol and its result."""
        return self._run(self._call(method, values))

    def run(self, expression: str) -> Any:
        """What an expression of the page's own world comes to; a promise is waited for."""
        result = self.call("Runtime.evaluate", expression=expression, awaitPromise=True, returnByValue=True)
        assert "exceptionDetails" not in result, result
        return result["result"].get("value")

    def until(self, expression: str, seconds: float = 20) -> None:
        """Wait until it is true."""
        end = time.monotonic() + seconds
        while not self.run(expression):
            assert time.monotonic() < end, expression
            time.sleep(0.02)

    def open(self, url: str) -> None:
        """Go there; back when it is loaded."""
        self.call("Page.navigate", url=url)
        self.until(f"document.readyState === 'complete' && location.href.startsWith({url.partition('#')[0]!r})")

    def key(self, name: str, code: int, text: str = "") -> None:
        """Press and release one key."""
        for kind in ("keyDown", "keyUp"):
            values = {"text": text} if text and kind == "keyDown" else {}
            self.call("Input.dispatchKeyEvent", type=kind, key=name, code=name, windowsVirtualKeyCode=code, **values)

    def said(self, method: str) -> list[dict[str, Any]]:
        """The events of one kind so far."""
        self.run("1")
        return [each["params"] for each in self.events if each.get("method") == method]
