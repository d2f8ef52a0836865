"""The read half: columns to facts. Pure; the last stage of this probe. What is said here is what the device said."""

from collections.abc import Callable, Iterator

from netcheck.facts import Fact
from netcheck.facts.identity import System
from netcheck.facts.network import SnmpAgent

from . import reading_channels, reading_network, reading_printer
from .harvest import Harvest
from .message import LABELS
from .plan import Topic

Facts = Iterator[tuple[str, Fact]]

_SCALAR = (0,)


def read(harvest: Harvest) -> Facts:
    """Facts of one topic, each with the object or table that it was read from."""
    return _READERS[harvest.topic](harvest)


def _system(harvest: Harvest) -> Facts:
    yield "system", SnmpAgent(LABELS[harvest.version])
    if not harvest.columns:
        return
    yield (
        "system",
        System(
            description=harvest.text("sysDescr", _SCALAR),
            object_id=".".join(map(str, harvest.oid("sysObjectID", _SCALAR) or ())),
            name=harvest.text("sysName", _SCALAR),
            location=harvest.text("sysLocation", _SCALAR),
            up_centiseconds=harvest.number("sysUpTime", _SCALAR),
        ),
    )


_READERS: dict[Topic, Callable[[Harvest], Facts]] = {
    Topic.SYSTEM: _system,
    Topic.HOST: reading_printer.host,
    Topic.MARKERS: reading_printer.markers,
    Topic.SUPPLIES: reading_printer.supplies,
    Topic.INPUTS: reading_printer.inputs,
    Topic.ALERTS: reading_printer.alerts,
    Topic.OUTPUTS: reading_printer.outputs,
    Topic.COVERS: reading_printer.covers,
    Topic.CHANNELS: reading_channels.channels,
    Topic.INTERPRETERS: reading_channels.interpreters,
    Topic.MEDIA_PATHS: reading_channels.media_paths,
    Topic.CONSOLE: reading_channels.console,
    Topic.INTERFACES: reading_network.interfaces,
    Topic.ADDRESSES: reading_network.addresses,
    Topic.GATEWAYS: reading_network.gateways,
}
