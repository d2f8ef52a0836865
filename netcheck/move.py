"""The Move: one visit, as the work order has it. Stage: what is asked, before anything is looked at."""

import ipaddress
from collections.abc import Iterator
from pathlib import Path

import msgspec

from netcheck.facts.word import WANTED_WORDS, word_fact
from netcheck.gates import Gate
from netcheck.place import DEFAULT_PORTS, WANTED_PLACE, Place, is_address, is_loopback, parse_place
from netcheck.roles import Role
from netcheck.tables import Document, Table, parse_address, parse_mac

KEEP, MOVED, USB = "keep", "new", "usb"
ADDRESS_POLICIES = (KEEP, MOVED, USB)
WORDS = tuple(WANTED_WORDS)
"""What a person can read from a panel or plate and say here."""
DEFAULT_SERVER = "localhost:631"


class Seen(msgspec.Struct, frozen=True):
    """A person's word: what was read where by whom."""

    role: Role
    what: str
    value: str
    where: str
    by: str


class Ports(msgspec.Struct, frozen=True):
    """Ports that differ from the service's usual one; None is the usual one."""

    ipp: int | None = None
    ipps: int | None = None
    raw: int | None = None
    lpd: int | None = None
    snmp: int | None = None
    http: int | None = None

    def named(self) -> dict[str, int]:
        """Those that were named."""
        return {name: port for name in self.__struct_fields__ if (port := getattr(self, name)) is not None}


class DeviceRef(msgspec.Struct, frozen=True):
    """A device as the work order knows it. ``host`` is "" for one that is not on the network (USB). ``jack`` is the
    label of the network jack that it is to be plugged into."""

    host: str
    path: str = ""
    final: str = ""
    serial: str = ""
    mac: str = ""
    asset: str = ""
    jack: str = ""
    ports: Ports = Ports()

    def __post_init__(self) -> None:
        if self.final:
            ipaddress.ip_address(self.final)

    def port(self, service: str) -> int:
        """The port of one of its services."""
        return self.ports.named().get(service, DEFAULT_PORTS[service])


class QueueRef(msgspec.Struct, frozen=True):
    """The queue by name, and its spooler as host:port."""

    name: str
    server: str = DEFAULT_SERVER


class OrderedSerial(msgspec.Struct, frozen=True):
    """The serial number that the work order gives the new device."""

    value: str


class OrderedMac(msgspec.Struct, frozen=True):
    """The MAC address that the work order gives the new device."""

    value: str


class KnownOldSerial(msgspec.Struct, frozen=True):
    """The serial number that the work order gives the old device."""

    value: str


class Scope(msgspec.Struct, frozen=True):
    """What a Move speaks of, and what it leaves out."""

    old: bool
    queue: bool


class OldPlace(msgspec.Struct, frozen=True):
    """Where the old device is."""

    device: DeviceRef


class NewPlace(msgspec.Struct, frozen=True):
    """Where the new device is."""

    device: DeviceRef


class FinalAddress(msgspec.Struct, frozen=True):
    """The address that the new device will have after the move, whether it is the old one's (``keep``), and the
    hardware address that the work order gives the new device, "" where it gives none."""

    address: str
    policy: str
    mac: str = ""


class Move(msgspec.Struct, frozen=True):
    """Everything that the Move says, fit to be saved: it never holds a secret, only the name of a profile. ``when`` is
    when the site must be prepared, in the user's words."""

    job: str = ""
    site: str = ""
    address: str = ""
    standard: str = ""
    old: DeviceRef | None = None
    new: DeviceRef | None = None
    device: DeviceRef | None = None
    queue: QueueRef | None = None
    snmp_profile: str = ""
    seen: tuple[Seen, ...] = ()
    when: str = ""

    def roles(self) -> frozenset[Role]:
        """The roles that this Move speaks of. What it does not speak of is not asked about."""
        named = {Role.OLD: self.old, Role.NEW: self.new, Role.DEVICE: self.device, Role.QUEUE: self.queue}
        return frozenset({Role.HERE, *(role for role, ref in named.items() if ref is not None)})

    def demands(self) -> Iterator[msgspec.Struct]:
        """What the work order itself demands of the devices."""
        new = self.new or self.device
        if new and new.serial:
            yield OrderedSerial(new.serial)
        if new and new.mac:
            yield OrderedMac(new.mac)
        if self.old and self.old.serial:
            yield KnownOldSerial(self.old.serial)
        if self.new and self.new.final:
            yield FinalAddress(self.new.final, self.address, self.new.mac)
        if self.new:
            yield Scope(self.old is not None, self.queue is not None)
        if self.old:
            yield OldPlace(self.old)
        if self.new:
            yield NewPlace(self.new)
        if self.queue:
            yield self.queue

    def alone(self) -> "Move":
        """The new device by itself: no partner, no queue (gate ``standing``)."""
        seen = tuple(msgspec.structs.replace(word, role=Role.DEVICE) for word in self.seen if word.role is Role.NEW)
        return msgspec.structs.replace(self, old=None, new=None, queue=None, device=self.new or self.device, seen=seen)


def asked_host(move: Move, role: Role, gate: Gate) -> str | None:
    """Where a device is asked at a gate. At ``leave`` the new device is asked at its final address; where that was the
    old one's, nobody asks for the old one (None): whoever answers there is not it. On loopback nothing ever moves."""
    ref = {Role.OLD: move.old, Role.NEW: move.new, Role.DEVICE: move.device}[role]
    if ref is None:
        return None
    moved = gate is Gate.LEAVE and move.new and move.new.final and not is_loopback(move.new.host)
    if not (moved and move.new):
        return ref.host
    if role is Role.NEW:
        return move.new.final
    return None if ref.host == move.new.final else ref.host


def device_ref(place: Place, ports: Ports = Ports(), **known: str) -> DeviceRef:  # noqa: B008 - frozen
    """A device from what the user typed; a port that is named by itself wins over the URI's."""
    from_uri = {name: port for name, port in place.ports.items() if name != "https"}
    return DeviceRef(place.host, place.path, ports=Ports(**{**from_uri, **ports.named()}), **known)


def load_move(path: Path) -> Move:
    """Read a Move. Raises InputError with every complaint."""
    document = Document(path)
    root = document.root
    head = root.table("move")
    move = Move(
        job=head.text("job"),
        site=head.text("site"),
        address=head.choice("address", ADDRESS_POLICIES),
        standard=head.text("standard", "the name of a Standard file"),
        old=_device(root, "old"),
        new=_device(root, "new"),
        queue=_queue(root.table("queue")),
        snmp_profile=root.table("snmp").text("profile", "the name of a profile"),
        seen=tuple(filter(None, map(_seen, root.tables("seen")))),
        when=head.text("when", "by when the site must be prepared, as 2026-12-03 10:00"),
    )
    if move.new is None:
        root.complain("new", "nothing", "a table [new] with the new device's host")
    elif not move.new.host and move.address != "usb":
        root.complain("[new] host", "nothing", WANTED_PLACE)
    document.finish()
    return _kept(move)


def _kept(move: Move) -> Move:
    """Where the new device is to keep the old one's address, that is its final one, if nothing else is said."""
    keeps = move.address == KEEP and move.new and move.old and not move.new.final
    if not (keeps and move.new and move.old and is_address(move.old.host)) or is_loopback(move.old.host):
        return move
    return msgspec.structs.replace(move, new=msgspec.structs.replace(move.new, final=move.old.host))


def _device(root: Table, key: str) -> DeviceRef | None:
    table = root.table(key)
    ports = table.table("ports")
    if not table:
        return None
    place = _place(table)
    named = {name: port for name in Ports.__struct_fields__ if (port := ports.integer(name, 1, 65535)) is not None}
    return device_ref(
        place,
        Ports(**named),
        final=table.parsed("final", parse_address, "the address after the move, as 192.0.2.21") or "",
        serial=table.text("serial"),
        mac=table.parsed("mac", parse_mac, "a MAC address, as 02:77:00:00:00:22") or "",
        asset=table.text("asset"),
        jack=table.text("jack", "the network jack, as its label says"),
    )


def _place(table: Table) -> Place:
    text = table.text("host", WANTED_PLACE)
    if not text:
        return Place("", {})
    try:
        return parse_place(text)
    except ValueError as error:
        table.complain("host", str(error), WANTED_PLACE)
        return Place("", {})


def parse_server(text: str) -> str:
    """A spooler as host or host:port, always returned with its port. Raises ValueError."""
    host, colon, port = text.rpartition(":") if text.count(":") == 1 or "]:" in text else (text, "", "")
    number = int(port) if colon else DEFAULT_PORTS["ipp"]
    if not 1 <= number <= 65535:
        raise ValueError(text)
    return f"{parse_place(host).host}:{number}"


def _queue(table: Table) -> QueueRef | None:
    server = table.parsed("server", parse_server, "the spooler as host:port, as localhost:631")
    name = table.text("name", "the queue's name")
    if not table:
        return None
    if not name:
        table.complain("name", "nothing", "the queue's name")
    return QueueRef(name, server or DEFAULT_SERVER)


def _seen(table: Table) -> Seen | None:
    role = table.choice("role", (Role.OLD, Role.NEW))
    what = table.choice("what", WORDS)
    value, where = table.text("value"), table.text("where", "where it was read: panel or plate")
    by = table.text("by", "who read it")
    if what and value:
        table.parsed("value", lambda text: word_fact(what, text), WANTED_WORDS[what])
    for key, found in (("role", role), ("what", what), ("value", value), ("where", where)):
        if not found:
            table.complain(key, "nothing", "a value: a person's word needs role, what, value and where")
    return Seen(Role(role), what, value, where, by) if role and what and value and where else None
