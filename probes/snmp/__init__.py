"""SNMP: what a device says about itself through Host Resources, Printer MIB, interface and address tables.

asking ─ greeting ─ line ─ (wire)        ask: who is there, then everything, in few questions
   └──── gathering                       which question next; pure
reading ─ reading_printer, reading_channels, reading_network ─ harvest ─ text    read: columns to facts; pure
plan, mib, labels                        what is asked and what it is called; data
message, discovery ─ ber                 octets; pure
v3 ─ v3_engine ─ (pysnmp); v3_view       greeting, line, message and a doubt more, for users of SNMPv3
"""

from collections.abc import AsyncGenerator, Iterator

from netcheck.facts import Fact
from netcheck.facts.channels import Channels, Console, Interpreters, MediaPaths
from netcheck.facts.condition import Alerts, Covers, HostPrinter
from netcheck.facts.identity import DeviceId, HostUptime, Markers, Model, Serial, System
from netcheck.facts.media import Inputs, Outputs
from netcheck.facts.network import Addresses, Gateways, Interfaces, SnmpAgent
from netcheck.facts.raw import RawRow
from netcheck.facts.supplies import Supplies
from netcheck.probing import Deadline, Target
from netcheck.roles import Role
from netcheck.wire import Wire

from . import asking, objects, reading
from .harvest import Harvest

__all__ = ["PROBE"]


class Snmp:
    """Asks the SNMP agent of a device: v2c first, then v1, or v3 where the target has a user."""

    name = "snmp"
    wave = 2
    needs_address = True
    services: tuple[str, ...] = ("snmp",)
    roles = frozenset({Role.OLD, Role.NEW, Role.DEVICE})
    provides = frozenset[type[Fact]](
        {
            *(SnmpAgent, System, Model, Serial, HostPrinter, Markers, Supplies, Inputs, Outputs, Covers, Alerts),
            *(Interfaces, Addresses, Gateways, Channels, Interpreters, MediaPaths, Console),
            *(DeviceId, HostUptime),
        }
    )

    def ask(self, target: Target, wire: Wire, deadline: Deadline) -> AsyncGenerator[asking.Reply, None]:
        """One reply for each topic, as they come; a single `Miss` where there is no agent for us."""
        return asking.ask(target, wire, deadline)

    def read(self, payload: Harvest) -> Iterator[tuple[str, Fact]]:
        """Facts of one topic."""
        return reading.read(payload)

    def objects(self, payload: Harvest) -> Iterator[tuple[str, RawRow]]:
        """See `objects.objects`."""
        return objects.objects(payload)


PROBE = Snmp()
