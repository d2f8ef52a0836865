"""DNS-SD: what announces itself on our own links by multicast DNS (RFC 6762, RFC 6763).

    browsing (zeroconf: sockets, questions, cache) → asking (which of it, and when to stop) → reading → facts

`reading` and `txt` are pure. Importing this package imports no network library: it is imported with every command, and
most of them never listen.
"""

from collections.abc import AsyncGenerator, Iterable

from netcheck.facts import Fact
from netcheck.facts.link import Advertisement
from netcheck.probing import Answer, Deadline, Miss, Target
from netcheck.roles import Role
from netcheck.wire import Wire
from probes.dnssd import asking, reading
from probes.dnssd.instance import Instance


class DnsSd:
    """Browses for what prints. For ``here`` it tells everything that it hears; for a device, what is that device's."""

    name = "dnssd"
    wave = 2
    needs_address = False
    services: tuple[str, ...] = ()
    roles = frozenset({Role.OLD, Role.NEW, Role.DEVICE, Role.HERE})
    provides = frozenset[type[Fact]]({Advertisement})

    def ask(
        self, target: Target, wire: Wire, deadline: Deadline
    ) -> AsyncGenerator[Answer[tuple[Instance, ...]] | Miss, None]:
        """See `asking.ask`."""
        return asking.ask(target, wire, deadline)

    def read(self, payload: tuple[Instance, ...]) -> Iterable[tuple[str, Fact]]:
        """See `reading.read`."""
        return reading.read(payload)


PROBE = DnsSd()
