"""IPP: what a printer says about itself over the Internet Printing Protocol (RFC 8010, RFC 8011).

    requests → calling → http ─► the printer ─► http → codec → calling → reading → facts

`asking` decides what to ask and when to stop; `codec`, `scalars`, `values` and the `reading` files are pure.
"""

from collections.abc import AsyncGenerator, Iterable

from netcheck.facts import Fact
from netcheck.facts.condition import PrinterState
from netcheck.facts.identity import DeviceId, Firmware, Model, Serial, Uuid
from netcheck.facts.media import Formats, MediaReady, MediaSupported
from netcheck.facts.network import IppService
from netcheck.facts.supplies import Supplies
from netcheck.probing import Answer, Deadline, Miss, Target
from netcheck.roles import Role
from netcheck.wire import Wire
from probes.ipp import asking, reading


class Ipp:
    """Asks a device's IPP printer object for its attributes, by name. Only reads."""

    name = "ipp"
    wave = 2
    needs_address = True
    roles = frozenset({Role.OLD, Role.NEW, Role.DEVICE})
    provides = frozenset[type[Fact]](
        {
            DeviceId,
            Firmware,
            Formats,
            IppService,
            MediaReady,
            MediaSupported,
            Model,
            PrinterState,
            Serial,
            Supplies,
            Uuid,
        }
    )

    def ask(
        self, target: Target, wire: Wire, deadline: Deadline
    ) -> AsyncGenerator[Answer[asking.Printer] | Miss, None]:
        """See `asking.ask`."""
        return asking.ask(target, wire, deadline)

    def read(self, payload: asking.Printer) -> Iterable[tuple[str, Fact]]:
        """See `reading.read`."""
        return reading.read(payload)


PROBE = Ipp()
