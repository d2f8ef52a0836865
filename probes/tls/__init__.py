"""TLS: the certificate that a device shows, and by which version it shows it. Nothing is asked over the connection.

    asking → handshake ─► the device ─► handshake → asking → reading → facts

`asking` decides where to ask and how often; `reading` is pure.
"""

from collections.abc import AsyncGenerator, Iterable

from netcheck.facts import Fact
from netcheck.facts.link import Certificate
from netcheck.probing import Answer, Deadline, Miss, Target
from netcheck.roles import Role
from netcheck.wire import Wire
from probes.tls import asking, reading


class Tls:
    """Shakes hands with each service of a device that may speak TLS, and reads its certificate."""

    name = "tls"
    wave = 2
    needs_address = True
    services: tuple[str, ...] = ()
    roles = frozenset({Role.OLD, Role.NEW, Role.DEVICE})
    provides = frozenset[type[Fact]]({Certificate})

    def ask(self, target: Target, wire: Wire, deadline: Deadline) -> AsyncGenerator[Answer[asking.Shown] | Miss, None]:
        """See `asking.ask`."""
        return asking.ask(target, wire, deadline)

    def read(self, payload: asking.Shown) -> Iterable[tuple[str, Fact]]:
        """See `reading.read`."""
        return reading.read(payload)


PROBE = Tls()
"""What the entry point names."""
