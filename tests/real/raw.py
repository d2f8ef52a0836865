"""The raw port of a printer, 9100: it takes whatever comes, and remembers it."""

import os
import sys
from pathlib import Path
from types import TracebackType
from typing import Final, Self

from .programs import Program, until
from .site import Node, Site

PORT: Final = 9100
_OPEN: Final = ("01", "03", "08")  # established, being established, closed by the client: /proc/net/tcp
SINK: Final = Path(__file__).parent / "inside/sink.py"


class RawPort:
    """A listening port, up between `with` and its end; what it was sent can still be read afterwards."""

    def __init__(self, site: Site, node: Node, port: int = PORT) -> None:
        self.program: Program
        self._site: Final = site
        self._node: Final = node
        self._port: Final = port
        self._folder: Final = site.folder / f"raw-{node}-{port}"

    def __enter__(self) -> Self:
        self._folder.mkdir()
        python = os.path.realpath(sys.executable)
        command = (python, "-I", "-S", SINK, str(self._port), self._folder)
        self.program = self._site.start(self._node, f"raw-{self._port}", *command)
        self.program.until_listening("tcp", self._port)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.program.end()

    @property
    def received(self) -> bytes:
        """Every byte that it was ever sent, once all who sent any are done."""
        until(self._settled, 5, "the end of every connection")
        return (self._folder / "received").read_bytes()

    @property
    def connections(self) -> list[str]:
        """Who connected, in order, once all are done."""
        until(self._settled, 5, "the end of every connection")
        return self._recorded("connections")

    def _settled(self) -> bool:
        """No connection is open, or closed by its client and still being read."""
        open_ones = [state for port, state in self.program.sockets("tcp") if port == self._port and state in _OPEN]
        return not open_ones and len(self._recorded("connections")) == len(self._recorded("ended"))

    def _recorded(self, name: str) -> list[str]:
        return (self._folder / name).read_text().split()
