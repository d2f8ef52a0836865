"""A case in which every string field of every kind of fact holds something that names somebody. Built by looking at the
structs, so that a field which is added tomorrow is filled as well."""

import itertools
import types
import typing
from collections import defaultdict
from collections.abc import Iterator
from typing import Any

import msgspec

from netcheck.case import SCHEMA, TOOL, Attempt, Case, observation
from netcheck.facts import KINDS, Fact, Measured
from netcheck.move import DeviceRef, Move, Ports, QueueRef, Seen
from netcheck.redaction.treatment import DROPPED, FACTS, Treatment
from netcheck.roles import Outcome, Role
from netcheck.standard import (
    DriverDemand,
    FirmwareDemand,
    ModelDemand,
    Print,
    PrintDemand,
    ServicesRequired,
    Standard,
    SubnetDemand,
    SupplyLimits,
    WordEnough,
    WorksheetStep,
)
from tests.conftest import NOW, OUR_ADDRESS

T = Treatment
FORMS = {
    T.ADDRESS: ("10.77.3.{n}",),
    T.HOST: ("zorbhost{n}.quillshire.county",),
    T.URI: ("ipp://", "zorburi{n}", ".quillshire.county:631/printers/", "Zorbprinter{n}"),
    T.PATH: ("/ipp/", "zorbpath{n}"),
    T.MAC: ("00:1b:a9:5c:7e:{n:02x}",),
    T.SERIAL: ("SQ-{n}-7741K",),
    T.IDENTIFIER: ("6d4ff0ce-6b11-51d8-8020-0a1b2c3d4e{n:02x}",),
    T.HEXADECIMAL: ("9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a{n:02x}",),
    T.DISTINGUISHED_NAME: ("CN=", "zorbcn{n}", ".quillshire.county,O=", "Zorborg{n} inc", ",C=ZZ"),
    T.INTERFACE: ("zorbvpn{n}",),
    T.INSTANCE: ("Halden 36R [", "Zorbname{n} b", "]"),
}
"""What stands in a field of each treatment: the parts with a number name somebody."""
MAY_STAY = {
    "addresses": "rows.mask rows.origin rows.status",
    "advertisement": "type subtypes",
    "alerts": "rows.severity rows.training rows.group rows.code",
    "certificate": "tls key_type",
    "channels": "rows.type rows.state rows.status.availability",
    "console": "lights.color lights.shows",
    "covers": "rows.status",
    "firmware": "version modules.version",
    "gateway-neighbour": "method state",
    "host-printer": "device_status printer_status errors",
    "inputs": "rows.type rows.unit rows.status.availability",
    "interfaces": "rows.type rows.oper_status rows.duplex",
    "interpreters": "rows.family rows.version",
    "ipp-service": "versions operations uris.security uris.authentication",
    "job-check": "status",
    "jobs": "rows.state",
    "markers": "rows.technology rows.unit",
    "media-paths": "rows.type rows.status.availability",
    "model": "value",
    "neighbour": "method state",
    "outputs": "rows.type rows.unit rows.status.availability",
    "planned-neighbour": "method state",
    "printer-clock": "now config_changed",
    "printer-state": "state",
    "queue-driver": "name version",
    "reverse-name": "by",
    "service": "service state error",
    "snmp-agent": "version",
    "supplies": "rows.family rows.type rows.unit",
    "system": "object_id",
}
"""Fields of words of standards, of times, makes and models, versions: they name nobody."""
FREE_TEXT = {
    "advertisement": "txt.key",
    "alerts": "rows.description",
    "capabilities": "sides resolutions finishings",
    "certificate": "fault",
    "console": "lines lights.description",
    "covers": "rows.description",
    "firmware": "modules.name",
    "formats": "values default",
    "gateway-neighbour": "reason",
    "inputs": "rows.name rows.description rows.media_name rows.media_type",
    "interfaces": "rows.description",
    "interpreters": "rows.level rows.description",
    "job-check": "print unsupported format source",
    "media-paths": "rows.description",
    "media-ready": "rows.name rows.type rows.source",
    "media-supported": "names types sources",
    "meter": "unit",
    "neighbour": "reason",
    "outputs": "rows.name",
    "planned-neighbour": "reason",
    "printer-state": "reasons message",
    "queue-defaults": "media options",
    "supplies": "rows.description rows.colorant",
    "system": "description",
}
"""Fields in which a device says anything: a name that stands nowhere but in one of them is not known for one."""


def string_places(kind: Any, place: str = "") -> Iterator[str]:
    """Where in a type a string may stand, as the table of treatments names it."""
    origin = typing.get_origin(kind)
    if origin in {typing.Union, types.UnionType}:
        for each in typing.get_args(kind):
            yield from string_places(each, place)
    elif origin is tuple:
        for each in dict.fromkeys(typing.get_args(kind)):
            yield from string_places(each, place)
    elif isinstance(kind, type) and issubclass(kind, msgspec.Struct):
        for field in msgspec.structs.fields(kind):
            yield from string_places(field.type, f"{place}.{field.name}".lstrip("."))
    elif kind is str:
        yield place


class Originals:
    """Makes values that name somebody, and remembers them."""

    def __init__(self) -> None:
        self.made: list[str] = []
        self._numbers: dict[str, Iterator[int]] = defaultdict(lambda: itertools.count(10))

    def a(self, form: str) -> str:
        """One more of this form; ``{n}`` is a number of its own."""
        text = form.format(n=next(self._numbers[form]))
        self.made.append(text)
        return text

    def mac(self) -> str:
        return self.of(T.MAC, "")

    def address(self) -> str:
        return self.of(T.ADDRESS, "")

    def at(self, kind: str, place: str, known: str) -> str:
        """What stands in a field of a fact. That it may stay, or is free text, is not for the table alone to say."""
        treatment = FACTS[kind][place]
        stays = treatment in {T.KEEP, T.MODEL, T.VERSION} and place in MAY_STAY.get(kind, "").split()
        free = treatment in {T.TEXT, T.KEYWORD} and place in FREE_TEXT.get(kind, "").split()
        return self.of(treatment if stays or free or treatment in FORMS else T.NAME, known)

    def of(self, treatment: Treatment, known: str) -> str:
        """What stands in a field of this treatment; ``known`` holds names that the case knows from elsewhere."""
        known_words = {
            T.KEEP: "word",
            T.TEXT: f"seen {known} there",
            T.KEYWORD: f"Bond of {known}",
            T.MODEL: "Halden 36R",
            T.VERSION: "4.7.2.11",
        }
        if treatment in known_words:
            return known_words[treatment]
        forms = FORMS.get(treatment, ("Zorbwhole{n} lane",))
        return "".join(self.a(form) if "{n" in form else form for form in forms)


def filled(kind: Any, name: str, place: str, originals: Originals, known: str) -> Any:
    """A value of a type that stands at a place of a kind of fact, with an original in each of its strings."""
    origin = typing.get_origin(kind)
    if origin in {typing.Union, types.UnionType}:
        args = [each for each in typing.get_args(kind) if each is not type(None)]
        return filled(Measured if Measured in args else args[0], name, place, originals, known)
    if origin is tuple:
        args = [each for each in typing.get_args(kind) if each is not Ellipsis]
        return tuple(filled(each, name, place, originals, known) for each in args)
    if isinstance(kind, type) and issubclass(kind, msgspec.Struct):
        fields = {
            each.name: filled(each.type, name, f"{place}.{each.name}".lstrip("."), originals, known)
            for each in msgspec.structs.fields(kind)
        }
        return kind(**{**fields, **({"prefix_length": 24} if "prefix_length" in fields else {})})
    if kind is str:
        return originals.at(name, place, known)
    return kind(1)


def rich_case() -> tuple[Case, Standard, list[str]]:
    """The case, its Standard, and every original that is in them."""
    originals = Originals()
    move = _move(originals)
    standard = _standard(originals)
    known = " and ".join(
        ["10.77.3.9", "00-1B-A9-5C-7E-09", "001b.a95c.7e09", "001ba95c7e09", *originals.made, "2001:db9:7:8::5"]
    )
    originals.made += ["10.77.3.9", "00-1b-a9-5c-7e-09", "001b.a95c.7e09", "001ba95c7e09", "2001:db9:7:8::5"]
    seen = []
    for role in (Role.OLD, Role.NEW, Role.HERE, Role.QUEUE):
        for name, kind in KINDS.items():
            if name not in DROPPED:
                fact: Fact = filled(kind, name, "", originals, known)
                source = f"{name} of {known}"
                seen.append(observation(role, "snmp", source, NOW, OUR_ADDRESS, fact))
    attempts = [
        Attempt(role, "ipp", f"ipp://10.77.3.9:631/printers/{move.queue and move.queue.name}", outcome, known, NOW, 3)
        for role, outcome in itertools.product((Role.NEW, Role.QUEUE), (Outcome.SILENT, Outcome.DENIED))
    ]
    return Case(SCHEMA, NOW, TOOL, move, tuple(attempts), tuple(seen)), standard, [*originals.made, "quillshire"]


def _move(originals: Originals) -> Move:
    def device(host: str) -> DeviceRef:
        serial, mac = originals.of(T.SERIAL, ""), originals.mac()
        path, final = originals.of(T.PATH, ""), originals.address()
        return DeviceRef(
            host, path, final, serial, mac, originals.a("CLQ-{n}77"), originals.a("JQ-{n}-03"), Ports(ipp=631)
        )

    queue = QueueRef(originals.a("Zorbqueue{n}"), f"{originals.a('zorbspool{n}')}:631")
    return Move(
        job=originals.a("JQX-{n}41"),
        site=originals.a("Zorbsite{n} survey office"),
        address="keep",
        standard=originals.a("zorbfile{n}") + ".toml",
        old=device(originals.address()),
        new=device(originals.a("zorbnew{n}") + ".quillshire.county"),
        queue=queue,
        snmp_profile=originals.a("zorbprofile{n}"),
        when=originals.a("when Zorbwhen{n} is in"),
        seen=(
            Seen(
                Role.NEW, "serial", originals.of(T.SERIAL, ""), originals.a("Zorbdesk {n}"), originals.a("Zorbby {n}")
            ),
            Seen(Role.NEW, "address", originals.address() + "/24", "panel", ""),
            Seen(Role.OLD, "mac", originals.a("00 1b a9 5c 7e {n:02x}"), "plate", ""),
        ),
    )


def _standard(originals: Originals) -> Standard:
    return Standard(
        name=originals.a("Zorbstandard {n}"),
        model=ModelDemand("Halden 36R*"),
        firmware=FirmwareDemand("4.7.2.11", "dotted"),
        services_required=ServicesRequired(("ipp", "raw")),
        subnet=SubnetDemand("10.77.3.0/24"),
        prints=PrintDemand((Print("na_arch-d_24x36in", 609600, 914400, "stationery-coated", "roll"),)),
        supplies=SupplyLimits(30, 10),
        driver=DriverDemand("Halden 36R*"),
        word=WordEnough(("serial",)),
        worksheet=(WorksheetStep(originals.a("Zorbstep {n}"), None, originals.a("Zorbcare {n}"), "photo"),),
    )
