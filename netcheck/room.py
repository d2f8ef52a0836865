"""Room for answers: a question is asked only while the receive buffer can take what it brings. Stage: below the wire.

An answer that the system had no room for looks like silence, and would be taken for a device that is off.
"""

import asyncio
import itertools
from collections import deque
from typing import Final

YOUNG_S: Final = 0.05
"""How long a question keeps room for its answer: devices that are slower than that answer one by one, not in a burst,
and those that are silent must not hold up the others."""


class Room:
    """Who may ask now. A question takes room for its answer until that has come, or for `YOUNG_S`; whoever finds none
    waits in line."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._young: dict[int, float] = {}  # by token, oldest first: since when
        self._line: deque[tuple[int, asyncio.Future[None]]] = deque()
        self._loop = asyncio.get_running_loop()
        self._ageing: asyncio.TimerHandle | None = None

    async def take(self, token: int) -> None:
        """Take room for the answer to one question, which `leave` gives back."""
        if not self._line and self._is_there():
            self._young[token] = self._loop.time()
            return
        turn: asyncio.Future[None] = self._loop.create_future()
        self._line.append((token, turn))
        self._await_age()
        try:
            await turn
        except BaseException:
            self.leave(token)
            raise

    def leave(self, token: int) -> None:
        """The answer has come, or is not waited for any more."""
        self._young.pop(token, None)
        if self._line:
            self._let_in()

    def close(self) -> None:
        """Let go of the timer."""
        if self._ageing:
            self._ageing.cancel()

    def _is_there(self) -> bool:
        if len(self._young) < self._most:
            return True
        grown = self._loop.time() - YOUNG_S
        for token, _ in list(itertools.takewhile(lambda each: each[1] <= grown, self._young.items())):
            del self._young[token]
        return len(self._young) < self._most

    def _let_in(self) -> None:
        while self._line and self._is_there():
            token, turn = self._line.popleft()
            if not turn.done():
                self._young[token] = self._loop.time()
                turn.set_result(None)
        if self._line:
            self._await_age()

    def _await_age(self) -> None:
        if self._ageing is None and self._young:
            oldest = next(iter(self._young.values()))
            self._ageing = self._loop.call_at(oldest + YOUNG_S, self._aged)

    def _aged(self) -> None:
        self._ageing = None
        self._let_in()
