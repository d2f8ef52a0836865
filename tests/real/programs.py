"""One program that a test started: its output so far, what it listens on, and how it is held, let go and ended."""

import os
import signal
import subprocess
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Final, Literal

Protocol = Literal["tcp", "udp"]
_TCP_LISTEN: Final = "0A"  # Linux, Documentation/networking/proc_net_tcp: the state column
_UDP_OPEN: Final = "07"


def until(condition: Callable[[], bool], seconds: float, what: str) -> None:
    """Wait for `condition`; TimeoutError naming `what` after `seconds`."""
    end = time.monotonic() + seconds
    while not condition():
        if time.monotonic() > end:
            raise TimeoutError(f"{what}: not within {seconds} s")
        time.sleep(0.01)


class Program:
    """A started program. `namespace` is the file of the network namespace that it must be in."""

    def __init__(self, name: str, argv: Sequence[str], log: Path, namespace: Path, env: Mapping[str, str]) -> None:
        self.name: Final = name
        self._log: Final = log
        self._namespace: Final = namespace.stat().st_ino
        with log.open("wb") as output:
            # A session of its own: an interrupt at the terminal reaches the test only, which ends the rest in order.
            self._process: Final = subprocess.Popen(
                argv,
                stdin=subprocess.DEVNULL,
                stdout=output,
                stderr=subprocess.STDOUT,
                env={**os.environ, **env},
                start_new_session=True,
            )

    def __repr__(self) -> str:
        return f"{self.name} (pid {self.pid})"

    @property
    def pid(self) -> int:
        return self._process.pid

    @property
    def running(self) -> bool:
        return self._process.poll() is None

    @property
    def output(self) -> str:
        return self._log.read_text(errors="replace")

    # --- waiting

    def until_listening(self, protocol: Protocol, port: int, seconds: float = 5) -> None:
        """Wait without connecting: what counts connections is not disturbed."""
        self._wait(lambda: self._listens(protocol, port), seconds, f"listening on {protocol} port {port}")

    def until_said(self, text: str, seconds: float = 5) -> None:
        self._wait(lambda: text in self.output, seconds, f"saying {text!r}")

    def _wait(self, condition: Callable[[], bool], seconds: float, what: str) -> None:
        def met() -> bool:
            if not self.running:
                raise RuntimeError(f"{self.name} ended instead of {what}:\n{self.output[-2000:]}")
            return condition()

        try:
            until(met, seconds, f"{self.name} {what}")
        except TimeoutError as error:
            error.add_note(self.output[-2000:])
            raise

    def _listens(self, protocol: Protocol, port: int) -> bool:
        return (port, _TCP_LISTEN if protocol == "tcp" else _UDP_OPEN) in self.sockets(protocol)

    def sockets(self, protocol: Protocol) -> list[tuple[int, str]]:
        """Port and state of every socket in its namespace; none while it is not yet there, or no longer."""
        process = Path("/proc", str(self.pid))
        try:
            # Until `ip netns exec` has changed over, it still shows the sockets of the namespace it came from.
            if (process / "ns/net").stat().st_ino != self._namespace:
                return []
            tables = [(process / "net" / (protocol + version)).read_text() for version in ("", "6")]
        except FileNotFoundError:
            return []
        rows = (line.split() for table in tables for line in table.splitlines()[1:])
        return [(int(row[1].rpartition(":")[2], 16), row[3]) for row in rows]

    # --- holding and ending

    def pause(self) -> None:
        """Stop it where it stands: its sockets stay open, and answer nothing."""
        self._process.send_signal(signal.SIGSTOP)

    def resume(self) -> None:
        self._process.send_signal(signal.SIGCONT)

    def kill(self) -> None:
        """End it as a power cut would: no goodbye."""
        self._process.kill()
        self._process.wait(3)

    def ask_to_end(self) -> None:
        if self.running:
            self._process.terminate()
            self._process.send_signal(signal.SIGCONT)

    def end(self) -> None:
        self.ask_to_end()
        try:
            self._process.wait(3)
        except subprocess.TimeoutExpired:
            self.kill()


def end_all(programs: Iterable[Program]) -> None:
    """Ask all, last started first, and then wait for each: the whole takes as long as the slowest."""
    order = list(programs)[::-1]
    for program in order:
        program.ask_to_end()
    for program in order:
        program.end()


def kill_strays(pids: Iterable[int]) -> None:
    """End what our own programs left behind in a namespace of ours."""
    for pid in pids:
        with suppress(ProcessLookupError):
            os.kill(pid, signal.SIGKILL)
