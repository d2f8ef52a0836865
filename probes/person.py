"""A person's word: what was read from a panel or a plate and written into the Move, as facts like any others."""

import time
from collections.abc import AsyncGenerator, Iterable

from netcheck.facts import Fact
from netcheck.facts.identity import Firmware, Meter, Model, Serial
from netcheck.facts.network import Addresses, HardwareAddress
from netcheck.facts.word import word_fact
from netcheck.move import Seen
from netcheck.probing import Answer, Deadline, Malformed, Miss, Target
from netcheck.roles import Role
from netcheck.wire import Wire


class Person:
    """Asks nobody: the words are in the Move already."""

    name = "person"
    wave = 2
    needs_address = False
    services: tuple[str, ...] = ()
    roles = frozenset({Role.OLD, Role.NEW, Role.DEVICE})
    provides = frozenset[type[Fact]]({Model, Serial, Firmware, Addresses, HardwareAddress, Meter})

    async def ask(self, target: Target, wire: Wire, deadline: Deadline) -> AsyncGenerator[Answer[Seen] | Miss, None]:
        """One answer for each word about this target."""
        for word in target.seen:
            yield Answer(f"{word.what} ({word.where})", word, time.monotonic(), word.by and f"read by {word.by}")

    def read(self, payload: Seen) -> Iterable[tuple[str, Fact]]:
        """The word as the fact that it stands for. Raises Malformed for a value that cannot be one."""
        try:
            yield payload.where, word_fact(payload.what, payload.value)
        except ValueError as error:
            raise Malformed(f"{payload.what} cannot be {payload.value!r}") from error


PROBE = Person()
