"""IPP: what a printer says about itself over the Internet Printing Protocol (RFC 8010, RFC 8011).

    requests → calling → http → channel ─► the printer ─► channel → http → codec → calling → reading → facts

`asking` decides what to ask and when to stop, `validating` asks a printer that answered whether it would take what must
be printed; `codec`, `scalars`, `values` and the `reading` files are pure.
"""

from collections.abc import AsyncGenerator, Iterable
from contextlib import aclosing, closing
from typing import TypeAlias

from netcheck.facts import Fact
from netcheck.facts.capability import Capabilities, JobCheck
from netcheck.facts.condition import Alerts, PrinterClock, PrinterState
from netcheck.facts.identity import DeviceId, Firmware, Model, PrinterNames, Serial, Uuid
from netcheck.facts.media import Formats, Inputs, MediaReady, MediaSupported, Outputs
from netcheck.facts.network import IppService
from netcheck.facts.raw import RawRow
from netcheck.facts.supplies import Supplies
from netcheck.probing import Answer, Deadline, Target
from netcheck.roles import Role
from netcheck.wire import Wire
from probes.ipp import asking, objects, reading, validating
from probes.ipp.channel import Kept

Payload: TypeAlias = asking.Printer | validating.Checked
Reply: TypeAlias = asking.Reply | validating.Reply


class Ipp:
    """Asks a device's IPP printer object for its attributes, by name, and whether it would take each print that is
    wanted. Only reads, and prints nothing."""

    name = "ipp"
    wave = 2
    needs_address = True
    services: tuple[str, ...] = ("ipp", "ipps")
    roles = frozenset({Role.OLD, Role.NEW, Role.DEVICE})
    provides = frozenset[type[Fact]](
        {
            Alerts,
            Capabilities,
            DeviceId,
            Firmware,
            Formats,
            Inputs,
            IppService,
            JobCheck,
            MediaReady,
            MediaSupported,
            Model,
            Outputs,
            PrinterClock,
            PrinterNames,
            PrinterState,
            Serial,
            Supplies,
            Uuid,
        }
    )

    async def ask(self, target: Target, wire: Wire, deadline: Deadline) -> AsyncGenerator[Reply, None]:
        """See `asking.ask`; then `validating.validate`, where a printer answered and prints are wanted, over the same
        connection where the printer leaves it open."""
        answer: Answer[asking.Printer] | None = None
        with closing(Kept(wire)) as connection:
            kept = connection if target.prints else None
            async with aclosing(asking.ask(target, wire, deadline, kept)) as replies:
                async for reply in replies:
                    yield reply
                    answer = reply if isinstance(reply, Answer) else answer
            if answer is None:
                return
            async with aclosing(validating.validate(target, answer, wire, deadline, kept)) as checks:
                async for check in checks:
                    yield check

    def read(self, payload: Payload) -> Iterable[tuple[str, Fact]]:
        """See `reading.read` and `validating.read`."""
        return reading.read(payload) if isinstance(payload, asking.Printer) else validating.read(payload)

    def objects(self, payload: Payload) -> Iterable[tuple[str, RawRow]]:
        """See `objects.objects`."""
        return objects.objects(payload.message)


PROBE = Ipp()
