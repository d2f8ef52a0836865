"""Validate-Job: what is asked, of whom, and what is made of the answer. RFC 8011 s4.2.3; the octets by RFC 8010."""

import asyncio
import time
from collections.abc import Callable

import pytest
from aiohttp import web

from netcheck.collect import targets_of
from netcheck.facts.capability import JobCheck
from netcheck.gates import Gate
from netcheck.move import DeviceRef, Move
from netcheck.probing import Answer, Deadline, Miss, Target
from netcheck.rehearsal.ipp_printer import IppPrinter
from netcheck.rehearsal.scenarios import NEW
from netcheck.roles import Outcome, Role
from netcheck.standard import Print, PrintDemand, Standard
from netcheck.wire import Wire
from probes.ipp import PROBE, Reply
from probes.ipp.validating import Checked

from .test_ipp_bytes import (
    JOB,
    OK,
    PRINTER,
    Value,
    attribute,
    boolean,
    collection,
    enum,
    integer,
    keyword,
    message,
    mime,
    name,
    uri,
)
from .test_ipp_probe import ipp, served

UNSUPPORTED = b"\x05"
VALIDATE_JOB = 0x0004  # RFC 8011 s5.4.15
PLAN = Print("na_arch-d_24x36in", 609_600, 914_400, "stationery-coated", "roll")
SHEET = Print("", 297_000, 420_000, "", "sheet")
SIZE = collection(x_dimension=integer(60_960), y_dimension=integer(91_440))  # 24 x 36 in; an inch is 2540 (1/100 mm)
OPERATIONS = attribute("operations-supported", enum(VALIDATE_JOB), enum(0x000B))
TYPES = attribute("media-type-supported", keyword("stationery"), keyword("stationery-coated"))
SOURCES = attribute("media-source-supported", keyword("main-roll"), keyword("tray-1"), keyword("auto"))
FORMATS = attribute("document-format-supported", mime("image/pwg-raster"), mime("application/pdf"))


class Device:
    """A printer that describes itself by these attributes, and answers Validate-Job with these octets, in turn."""

    def __init__(self, *said: bytes, answers: tuple[bytes, ...] = (message(OK),), version: bytes = b"\x02\x00") -> None:
        self.described = message(OK, PRINTER, *said, version=version)
        self.answers = answers
        self.asked: list[bytes] = []
        self.operations: list[int] = []

    async def handle(self, request: web.BaseRequest) -> web.StreamResponse:
        body = await request.read()
        self.operations.append(int.from_bytes(body[2:4]))
        if self.operations[-1] != VALIDATE_JOB:
            return ipp(self.described)
        self.asked.append(body)
        return self.respond(self.answers[(len(self.asked) - 1) % len(self.answers)])

    def respond(self, octets: bytes) -> web.StreamResponse:
        return ipp(octets)


def results(device: Device, *prints: Print, limit_s: float = 3.0) -> list[Reply]:
    async def main() -> list[Reply]:
        async with served(device.handle) as port, Wire() as wire:
            where = Target(Role.NEW, "127.0.0.1", "127.0.0.1", {"ipp": port}, prints=prints)
            return [reply async for reply in PROBE.ask(where, wire, Deadline(time.monotonic() + limit_s))]

    return asyncio.run(main())


def checks(device: Device, *prints: Print) -> list[tuple[str, JobCheck]]:
    told: list[tuple[str, JobCheck]] = []
    for reply in results(device, *prints):
        if isinstance(reply, Answer) and isinstance(reply.payload, Checked):
            told += [(source, fact) for source, fact in PROBE.read(reply.payload) if isinstance(fact, JobCheck)]
    return told


def media_of(*said: bytes, wanted: Print = PLAN) -> bytes:
    """The job attributes of the request, as octets."""
    device = Device(OPERATIONS, *said)
    results(device, wanted)
    (body,) = device.asked
    return body.partition(JOB + b"\x34")[2]


def job(**members: Value) -> bytes:
    """The same, written by the tests' own writer."""
    return (JOB + attribute("media-col", collection(**members)) + b"\x03").removeprefix(JOB + b"\x34")


# --- what is asked


def test_the_whole_request() -> None:
    device = Device(OPERATIONS, TYPES, SOURCES, FORMATS)
    first, *_ = results(device, PLAN)
    assert isinstance(first, Answer)
    assert device.operations == [0x000B, VALIDATE_JOB]
    expected = message(
        VALIDATE_JOB,
        attribute("printer-uri", uri(first.target)),
        attribute("ipp-attribute-fidelity", boolean(True)),
        attribute("document-format", mime("application/pdf")),
        JOB,
        attribute(
            "media-col",
            collection(media_size=SIZE, media_type=keyword("stationery-coated"), media_source=keyword("main-roll")),
        ),
    )
    assert device.asked == [expected.replace(b"\x00\x05en-us", b"\x00\x02en")]


@pytest.mark.parametrize(
    "sources", [(), ("auto",), ("main-roll", "alternate-roll"), ("tray-1", "manual"), ("by-pass-tray",)]
)
def test_a_source_that_is_not_the_only_one_is_not_named(sources: tuple[str, ...]) -> None:
    said = [attribute("media-source-supported", *map(keyword, sources))] if sources else []
    assert media_of(*said) == job(media_size=SIZE, media_type=keyword("stationery-coated"))


def test_a_sheet_names_the_tray() -> None:
    size = collection(x_dimension=integer(29_700), y_dimension=integer(42_000))  # A3, ISO 216
    assert media_of(SOURCES, wanted=SHEET) == job(media_size=size, media_source=keyword("tray-1"))


def test_a_type_is_spelt_as_the_device_spells_it() -> None:
    spelt = attribute("media-type-supported", name("Stationery-Coated"))
    assert media_of(spelt) == job(media_size=SIZE, media_type=name("Stationery-Coated"))
    unlisted = Print(PLAN.size, PLAN.x, PLAN.y, "Plan Paper 90", "")  # no keyword: RFC 8011 section 5.1.4
    assert media_of(TYPES, wanted=unlisted) == job(media_size=SIZE, media_type=name("Plan Paper 90"))


@pytest.mark.parametrize(
    ("said", "asked"),
    [
        ((FORMATS,), b"application/pdf"),
        (
            (attribute("document-format-supported", mime("Application/PDF;version=1.7")),),
            b"Application/PDF;version=1.7",
        ),
        ((attribute("document-format-default", mime("image/urf")),), b"image/urf"),
        ((), b""),
    ],
)
def test_the_format(said: tuple[bytes, ...], asked: bytes) -> None:
    device = Device(OPERATIONS, *said)
    ((_, fact),) = checks(device, PLAN)
    assert (b"document-format" in device.asked[0]) is bool(asked)
    assert asked in device.asked[0]
    assert fact.format.encode() == asked


def test_a_printer_of_version_1_1_is_asked_in_it() -> None:
    device = Device(OPERATIONS, version=b"\x01\x01")
    results(device, PLAN)
    assert device.asked[0][:2] == b"\x01\x01"


@pytest.mark.parametrize(
    "operations",
    [(), (attribute("operations-supported", enum(0x000B)),), (attribute("operations-supported", keyword("4")),)],
)
def test_who_does_not_list_it_is_not_asked(operations: tuple[bytes, ...]) -> None:
    device = Device(*operations, FORMATS)
    assert len(results(device, PLAN)) == 1
    assert device.operations == [0x000B]


def test_no_print_no_question() -> None:
    device = Device(OPERATIONS)
    results(device)
    assert device.operations == [0x000B]


@pytest.mark.parametrize(("role", "asked"), [(Role.NEW, 1), (Role.OLD, 0), (Role.DEVICE, 1)])
def test_only_the_new_device_or_one_by_itself_is_asked(role: Role, asked: int) -> None:
    standard = Standard("x", prints=PrintDemand((PLAN,)))
    ref = DeviceRef("192.0.2.61")
    move = Move(device=ref) if role is Role.DEVICE else Move(old=ref, new=ref)
    (target,) = [each for each in targets_of(move, standard, Gate.SWAP) if each.role is role]
    assert len(target.prints) == asked


# --- what is made of the answer


@pytest.mark.parametrize(
    ("answer", "accepted", "status", "unsupported"),
    [  # RFC 8011 appendix B
        (message(0x0000), True, "successful-ok", ()),
        (
            message(0x0001, UNSUPPORTED, attribute("media-col", collection(media_type=keyword("x")))),
            True,
            "successful-ok-ignored-or-substituted-attributes",
            ("media-col", "media-col/media-type"),
        ),
        (
            message(0x040B, UNSUPPORTED, attribute("media-col", (0x10, b""))),
            False,
            "client-error-attributes-or-values-not-supported",
            ("media-col",),
        ),
        (message(0x040A), False, "client-error-document-format-not-supported", ()),
        (message(0x0506), False, "server-error-not-accepting-jobs", ()),
        (message(0x04FE), False, "status 0x04fe", ()),
    ],
)
def test_answers(answer: bytes, accepted: bool, status: str, unsupported: tuple[str, ...]) -> None:
    device = Device(OPERATIONS, FORMATS, SOURCES, answers=(answer,))
    expected = JobCheck(str(PLAN), accepted, status, unsupported, "application/pdf", "main-roll")
    assert checks(device, PLAN) == [("Validate-Job 1", expected)]


def test_each_print_has_its_own_answer() -> None:
    device = Device(OPERATIONS, answers=(message(0x040B), message(OK)))
    told = checks(device, PLAN, SHEET)
    assert [(source, fact.print, fact.accepted) for source, fact in told] == [
        ("Validate-Job 1", str(PLAN), False),
        ("Validate-Job 2", str(SHEET), True),
    ]


@pytest.mark.parametrize(
    ("respond", "outcome"),
    [
        (lambda: web.Response(status=401), Outcome.DENIED),
        (lambda: web.Response(status=500), Outcome.FAILED),
        (lambda: web.Response(body=b"<html>", content_type="text/html"), Outcome.MALFORMED),
        (lambda: ipp(b"\x02\x00\x00"), Outcome.MALFORMED),
    ],
)
def test_no_answer_to_it_is_a_miss_and_the_description_stays(
    respond: Callable[[], web.StreamResponse], outcome: Outcome, monkeypatch: pytest.MonkeyPatch
) -> None:
    device = Device(OPERATIONS)
    monkeypatch.setattr(device, "respond", lambda _: respond())
    described, missed = results(device, PLAN)
    assert isinstance(described, Answer)
    assert isinstance(missed, Miss)
    assert missed.outcome is outcome
    assert str(PLAN) in missed.reason


def test_silence_costs_the_deadline_and_the_next_is_not_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    device = Device(OPERATIONS)
    handle = device.handle

    async def slow(request: web.BaseRequest) -> web.StreamResponse:
        answer = await handle(request)
        await asyncio.sleep(0 if device.operations[-1] != VALIDATE_JOB else 5)
        return answer

    monkeypatch.setattr(device, "handle", slow)
    began = time.monotonic()
    told = results(device, PLAN, SHEET, limit_s=0.6)
    assert time.monotonic() - began < 1.5
    assert [each.outcome for each in told if isinstance(each, Miss)] == [Outcome.SILENT, Outcome.NOT_TRIED]


# --- the rehearsal's printer, whose codec is another one


class Rehearsed(Device):
    """The simulated printer behind the same server."""

    def __init__(self) -> None:
        super().__init__()
        self.printer = IppPrinter(NEW, "127.0.0.1:631")

    async def handle(self, request: web.BaseRequest) -> web.StreamResponse:
        octets = self.printer.answer("/ipp/print", await request.read())
        assert octets is not None
        return ipp(octets)


def test_the_rehearsed_printer_is_honest() -> None:
    """It has a 36 inch roll of stationery-coated, and stationery in a tray."""
    wanted = (
        PLAN,
        Print("", 1_200_000, 1_500_000, "stationery-coated", "roll"),  # wider than the roll
        Print("", 609_600, 914_400, "photographic", "roll"),
        SHEET,
    )
    told = checks(Rehearsed(), *wanted)
    assert [fact.status for _, fact in told] == [
        "successful-ok",
        "client-error-attributes-or-values-not-supported",
        "client-error-attributes-or-values-not-supported",
        "successful-ok",
    ]
    assert told[1][1].unsupported == ("media-col",)
