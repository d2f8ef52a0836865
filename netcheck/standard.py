"""The Standard: what whoever owns the rollout calls a finished site. Stage: what is asked, beside the Move.

Each key of the file becomes one small demand with a type of its own. A rule names the demand that it judges by in its
signature, and a rule whose demand is not in the Standard is not asked.
"""

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Literal, TypeVar, get_args

import msgspec

from netcheck.facts.media import parse_size_name
from netcheck.gates import Gate
from netcheck.move import WORDS
from netcheck.place import DEFAULT_PORTS
from netcheck.tables import Document, Table, parse_subnet

TCP_SERVICES = (*(name for name in DEFAULT_PORTS if name != "snmp"), "ftp", "telnet", "smb")
ORIGINS = ("static", "dhcp")
EVIDENCE = ("measured", "photo", "word")
V = TypeVar("V")
D = TypeVar("D")


class ModelDemand(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The model as a glob, matched without regard to case."""

    pattern: str


class FirmwareDemand(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The exact version. ``order`` says how versions compare: component by component (dotted) or as one number."""

    version: str
    order: Literal["dotted", "decimal"]


class ServicesRequired(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """TCP services that must be open."""

    names: tuple[str, ...]


class ServicesClosed(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """TCP services that must not be open."""

    names: tuple[str, ...]


class SubnetDemand(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The site's subnet."""

    network: str

    def __post_init__(self) -> None:
        parse_subnet(self.network)


class OriginDemand(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """How the address may have come: static, dhcp."""

    origins: tuple[str, ...]


class SnmpDemand(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The device must answer SNMP."""


class Print(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One print that must come out: a size in micrometres (width, length), a media type, and how it is fed."""

    size: str
    x: int
    y: int
    type: str
    feed: str

    def __str__(self) -> str:
        size = self.size or f"{self.x / 1000:g} x {self.y / 1000:g} mm"
        return " ".join(filter(None, [size, self.type, f"from {self.feed}" if self.feed else ""]))


class PrintDemand(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """All prints that must come out."""

    prints: tuple[Print, ...]


class SupplyLimits(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Percent left (or room left in a receptacle) below which a supply is watched, and below which it blocks."""

    care_percent: int
    block_percent: int


class DriverDemand(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The queue's driver as a glob."""

    pattern: str


Operator = Literal["==", ">=", "<="]


class DriverVersionDemand(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The driver's version: an operator (== >= <=) and a dotted version."""

    operator: Operator
    version: str


class FactAge(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """How old an observation may be when it is judged."""

    max_minutes: int


class WordEnough(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The things for which a person's word is enough."""

    kinds: tuple[str, ...]


class WorksheetStep(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One of the owner's own steps."""

    step: str
    gate: Gate | None
    caution: str
    evidence: str


class Standard(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A Standard with nothing but a name is legal: then only the rules that need none are asked."""

    name: str = ""
    model: ModelDemand | None = None
    firmware: FirmwareDemand | None = None
    services_required: ServicesRequired | None = None
    services_closed: ServicesClosed | None = None
    subnet: SubnetDemand | None = None
    origin: OriginDemand | None = None
    snmp: SnmpDemand | None = None
    prints: PrintDemand | None = None
    supplies: SupplyLimits | None = None
    driver: DriverDemand | None = None
    driver_version: DriverVersionDemand | None = None
    fact_age: FactAge | None = None
    word: WordEnough | None = None
    worksheet: tuple[WorksheetStep, ...] = ()

    def services(self) -> tuple[str, ...]:
        """The TCP services that it speaks of."""
        spoken = (self.services_required, self.services_closed)
        return tuple(name for demand in spoken if demand for name in demand.names)

    def demands(self) -> Iterator[msgspec.Struct]:
        """The demands that are made."""
        for name in self.__struct_fields__:
            if isinstance(value := getattr(self, name), msgspec.Struct):
                yield value


def load_standard(path: Path) -> Standard:
    """Read a Standard. Raises InputError with every complaint."""
    document = Document(path)
    root = document.root
    services, address, facts = root.table("services"), root.table("address"), root.table("facts")
    queue = root.table("queue")
    standard = Standard(
        name=root.text("name"),
        model=_wrap(ModelDemand, root.table("device").text("model")),
        firmware=_firmware(root.table("firmware")),
        services_required=_wrap(ServicesRequired, services.words("required", TCP_SERVICES)),
        services_closed=_wrap(ServicesClosed, services.words("closed", TCP_SERVICES)),
        subnet=_wrap(SubnetDemand, address.parsed("subnet", parse_subnet, "a subnet, as 192.0.2.0/24")),
        origin=_wrap(OriginDemand, address.words("origin", ORIGINS)),
        snmp=SnmpDemand() if root.table("snmp").flag("required") else None,
        prints=_wrap(PrintDemand, tuple(filter(None, map(_print, root.tables("print"))))),
        supplies=_supplies(root.table("supplies")),
        driver=_wrap(DriverDemand, queue.text("driver")),
        driver_version=queue.parsed("driver_version", _version_spec, "a version with its operator, as >=3.1"),
        fact_age=_wrap(FactAge, facts.integer("max_age_minutes", 1, 525_600)),
        word=_wrap(WordEnough, facts.words("word", WORDS)),
        worksheet=tuple(map(_step, root.tables("worksheet"))),
    )
    if not standard.name:
        root.complain("name", "nothing", "the Standard's name")
    document.finish()
    return standard


def _wrap(kind: Callable[[V], D], value: V | None) -> D | None:
    return kind(value) if value else None


def _firmware(table: Table) -> FirmwareDemand | None:
    version = table.text("version", "the required version, as 4.7.2")
    order = table.choice("order", ("dotted", "decimal"), "dotted")
    return FirmwareDemand(version, "decimal" if order == "decimal" else "dotted") if version else None


def _print(table: Table) -> Print | None:
    name, x, y = table.text("size"), table.micrometres("width_mm"), table.micrometres("length_mm")
    media, feed = table.text("type"), table.choice("feed", ("roll", "sheet"))
    if name:
        parsed = parse_size_name(name)
        if parsed is None or not parsed.y:
            table.complain("size", repr(name), "a PWG 5101.1 size name with both sides, as na_arch-d_24x36in")
            return None
        x, y = parsed.x, parsed.y
    if not (x and y):
        table.complain("size", "no size", "size, or width_mm and length_mm")
        return None
    return Print(name, x, y, media, feed)


def _supplies(table: Table) -> SupplyLimits | None:
    care, block = table.integer("care_percent", 0, 100), table.integer("block_percent", 0, 100)
    if care is None and block is None:
        return None
    care, block = care or 0, block or 0
    if care < block and table:
        table.complain("care_percent", str(care), f"at least block_percent, which is {block}")
    return SupplyLimits(care, block)


def _version_spec(text: str) -> DriverVersionDemand:
    match = re.fullmatch(r"(==|>=|<=)?\s*([0-9]+(?:\.[0-9]+)*)", text)
    if match is None:
        raise ValueError(text)
    return DriverVersionDemand(next((each for each in get_args(Operator) if each == match[1]), "=="), match[2])


def _step(table: Table) -> WorksheetStep:
    step = table.text("step", "what is to be done")
    if not step:
        table.complain("step", "nothing", "what is to be done")
    gate = table.choice("gate", [gate.value for gate in Gate if gate is not Gate.STANDING])
    return WorksheetStep(step, Gate(gate) if gate else None, table.text("caution"), table.choice("evidence", EVIDENCE))
