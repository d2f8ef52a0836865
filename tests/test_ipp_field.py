"""Answers as devices in the field give them. The forms were seen in public dumps and problem reports; every name and
value here is invented. What each form means is common practice, no source, where no standard is named."""

import pytest

from netcheck.facts import Fact
from netcheck.facts.condition import Alerts, PrinterState
from netcheck.facts.identity import DeviceId, Firmware, FirmwareModule, Model, PrinterNames, Serial
from netcheck.facts.media import Inputs, MediaReady, MediaSize, MediaSupported, ReadyRow, Span
from netcheck.facts.network import IppService, PrinterUri
from probes.ipp import PROBE
from probes.ipp.asking import Printer
from probes.ipp.codec import MalformedIppError, decode

from .test_ipp_bytes import (
    NO_VALUE,
    OK,
    PRINTER,
    UNKNOWN,
    Value,
    attribute,
    collection,
    enum,
    integer,
    keyword,
    message,
    name,
    octets,
    text,
    token,
    uri,
)
from .test_ipp_reading import only_fact, read_facts

MODEL = attribute("printer-make-and-model", text("Halden 36R"))


def read(*parts: bytes) -> list[Fact]:
    return [fact for _, fact in PROBE.read(Printer("/ipp/print", decode(message(OK, *parts))))]


# --- the message


def test_a_collection_that_ends_too_early_loses_nothing_else() -> None:
    """What is left of it stands in the group: a member's name (RFC 8010 section 3.1.7), and an end of nothing."""
    size = collection(x_dimension=integer(91440), y_dimension=integer(91440))
    left_over = token(0x4A, b"media-type") + token(0x44, b"stationery") + token(0x37, b"")
    facts = read(PRINTER, attribute("media-col-ready", collection(media_size=size)), left_over, MODEL)
    assert Model("Halden 36R") in facts
    sheet = MediaSize(Span(914_400, 914_400), Span(914_400, 914_400))
    assert MediaReady((ReadyRow("", sheet, "", ""),)) in facts


@pytest.mark.parametrize("tag", [0x35, 0x36])  # textWithLanguage, nameWithLanguage: RFC 8010 section 3.9
@pytest.mark.parametrize("language", [b"en", b"de-CH", b"fr-ca"])
def test_a_string_with_language_whose_own_length_is_missing(tag: int, language: bytes) -> None:
    words = "Höhenweg 3".encode()
    broken = token(tag, language, b"printer-location") + len(words).to_bytes(2) + words
    right = token(tag, len(language).to_bytes(2) + language + len(words).to_bytes(2) + words, b"printer-location")
    assert read(PRINTER, broken, MODEL) == read(PRINTER, right, MODEL)
    assert PrinterNames(location="Höhenweg 3") in read(PRINTER, broken, MODEL)


@pytest.mark.parametrize("rest", [b"", b"\0", b"\0\x05plan", b"\xff\xffplan"])
def test_such_a_string_does_not_reach_beyond_the_message(rest: bytes) -> None:
    whole = message(OK, PRINTER)[:-1] + token(0x35, b"en", b"printer-location") + rest
    with pytest.raises(MalformedIppError, match="ended within an attribute"):
        decode(whole)


def test_one_printer_in_two_groups_is_one_printer() -> None:
    """A request is about one printer (RFC 8011 section 4.2.5); of what is said twice the first counts."""
    again = attribute("printer-make-and-model", text("Corvid 24S"))
    unsupported = b"\x05" + attribute("requested-attributes", keyword("marker-names"))
    facts = read(
        PRINTER, unsupported, PRINTER, MODEL, PRINTER, again, attribute("printer-location", text("Harrow Lane"))
    )
    assert [fact for fact in facts if isinstance(fact, Model)] == [Model("Halden 36R")]
    assert PrinterNames(location="Harrow Lane") in facts


def test_kinds_may_be_mixed_in_a_set() -> None:
    """RFC 8011 section 5.1: a set has one kind. A collection among keywords costs itself."""
    said = attribute(
        "media-ready", keyword("na_arch-d_24x36in"), collection(media_type=keyword("x")), name("Plan film")
    )
    fact = only_fact("media-ready", said)
    assert isinstance(fact, MediaReady)
    assert [row.name for row in fact.rows] == ["na_arch-d_24x36in", "Plan film"]


@pytest.mark.parametrize(
    "head",
    [
        bytes.fromhex("0100 0000 00000001"),  # another version than was asked with
        bytes.fromhex("0201 0001 000003e7"),  # another request-id; something was ignored (RFC 8011 appendix B)
    ],
)
@pytest.mark.parametrize(
    "operation",
    [
        token(0x47, b"us-ascii", b"attributes-charset") + token(0x48, b"en-  ", b"attributes-natural-language"),
        token(0x48, b"en", b"attributes-natural-language") + token(0x47, b"utf-8", b"attributes-charset"),
        token(0x47, b"utf-8", b"attributes-charset"),
        b"",
    ],
)
def test_headers_and_operation_attributes_that_are_not_as_they_should_be(head: bytes, operation: bytes) -> None:
    whole = head + b"\x01" + operation + PRINTER + attribute("printer-location", text("Höhenweg")) + b"\x03"
    facts = [fact for _, fact in PROBE.read(Printer("/", decode(whole)))]
    assert PrinterNames(location="Höhenweg") in facts


# --- by position


def test_positions_hold_where_a_value_is_missing() -> None:
    """RFC 8011 sections 5.4.1 to 5.4.3: the three sets go by position."""
    fact = only_fact(
        "Get-Printer-Attributes",
        attribute("printer-uri-supported", uri("ipps://192.0.2.61/ipp/print"), uri("ipp://192.0.2.61/ipp/print")),
        attribute("uri-security-supported", keyword("tls"), keyword("none")),
        attribute("uri-authentication-supported", UNKNOWN, keyword("none")),
    )
    assert isinstance(fact, IppService)
    assert fact.uris == (
        PrinterUri("ipps://192.0.2.61/ipp/print", "tls", ""),
        PrinterUri("ipp://192.0.2.61/ipp/print", "none", "none"),
    )


@pytest.mark.parametrize(
    ("names", "versions", "firmware"),
    [
        (("main", "net"), ("4.7.2", ""), Firmware("4.7.2", (FirmwareModule("main", "4.7.2"),))),
        (("main", "net", "ipp"), ("4.7.2",), Firmware("4.7.2", (FirmwareModule("main", "4.7.2"),))),
        (("main",), ("4.7.2\0",), Firmware("4.7.2", (FirmwareModule("main", "4.7.2"),))),
        ((), ("4.7.2",), Firmware("4.7.2", (FirmwareModule("", "4.7.2"),))),
        (("main", "net"), ("", "16.6"), None),  # of the main module nothing is known
        (("main",), ("",), None),
    ],
)
def test_firmware(names: tuple[str, ...], versions: tuple[str, ...], firmware: Firmware | None) -> None:
    said = [attribute("printer-firmware-string-version", *map(text, versions))]
    said += [attribute("printer-firmware-name", *map(name, names))] if names else []
    assert read_facts(*said).get("printer-firmware-string-version") == ([firmware] if firmware else None)


@pytest.mark.parametrize("kind", [text, name, lambda said: octets(said.encode())])
def test_a_device_id_of_another_kind(kind: object) -> None:
    assert callable(kind)
    said = "MFG:Halden;CMD:PDF,HPGL2;MDL:36R;CLS:PRINTER;SN:HX-77-0457;" + "".join(
        f"X{at}:{'y' * 20};" for at in range(99)
    )
    facts = read_facts(attribute("printer-device-id", kind(said)))["printer-device-id"]
    assert Serial("HX-77-0457") in facts
    assert isinstance(facts[0], DeviceId)
    assert facts[0].get("CMD") == "PDF,HPGL2"


# --- state


@pytest.mark.parametrize(
    ("reasons", "kept"),
    [
        (("media-empty-error", "media-needed-error", "media-empty-error"), ("media-empty-error", "media-needed-error")),
        (("none", "marker-supply-low-warning"), ("marker-supply-low-warning",)),
        (("com.halden-cutter-worn-warning",), ("com.halden-cutter-worn-warning",)),
        (("", "cover-open "), ("cover-open",)),
    ],
)
def test_reasons(reasons: tuple[str, ...], kept: tuple[str, ...]) -> None:
    said = attribute("printer-state-reasons", *map(keyword, reasons))
    assert only_fact("printer-state", attribute("printer-state", enum(3)), said) == PrinterState("idle", kept, None)


@pytest.mark.parametrize("nothing", [keyword(""), NO_VALUE, UNKNOWN, integer(0)])
def test_a_reason_that_says_nothing_is_not_none(nothing: Value) -> None:
    """``none`` is a keyword of RFC 8011 section 5.4.12: whoever does not say it, has not said it."""
    said = (attribute("printer-state", enum(3)), attribute("printer-state-reasons", nothing))
    assert only_fact("printer-state", *said) == PrinterState("idle", (), None, reasons_told=False)


# --- media


def ready(*media: Value) -> list[Fact]:
    return read_facts(attribute("media-col-ready", *media)).get("media-col-ready", [])


def loaded(x: int, y: int, source: str) -> Value:
    size = collection(x_dimension=integer(x), y_dimension=integer(y))
    return collection(media_size=size, media_top_margin=integer(x % 7), media_source=keyword(source))


def test_what_differs_in_margins_only_is_loaded_once() -> None:
    whole = {"media_type": keyword("stationery"), "media_source": keyword("main")}
    size = collection(x_dimension=integer(59400), y_dimension=integer(84100))
    media = [collection(media_size=size, media_top_margin=integer(margin), **whole) for margin in (500, 0, 500)]
    (fact,) = ready(*media)
    a1 = MediaSize(Span(594_000, 594_000), Span(841_000, 841_000))
    assert fact == MediaReady((ReadyRow("", a1, "stationery", "main"),))


def test_a_size_of_nothing_is_none_and_a_roll_of_untold_length_is_a_roll() -> None:
    (fact,) = ready(loaded(0, 0, "tray-1"), loaded(91440, 0, "roll-1"))
    roll = MediaSize(Span(914_400, 914_400), Span(0, 0))
    assert fact == MediaReady((ReadyRow("", None, "", "tray-1"), ReadyRow("", roll, "", "roll-1")))


def test_a_name_helps_where_the_size_is_nothing() -> None:
    size = collection(x_dimension=integer(0), y_dimension=integer(0))
    (fact,) = ready(collection(media_size=size, media_size_name=keyword("roll_current_914.4x0mm")))
    assert isinstance(fact, MediaReady)
    assert fact.rows[0].size == MediaSize(Span(914_400, 914_400), Span(0, 0))


@pytest.mark.parametrize("blank", [collection(), collection(media_top_margin=integer(0)), keyword("")])
def test_what_says_nothing_is_nothing_loaded_nor_nothing_said(blank: Value) -> None:
    assert ready(blank) == []
    assert len(ready(blank, loaded(91440, 0, "roll-1"))) == 1
    assert "media-ready" not in read_facts(attribute("media-ready", keyword(""), keyword(" ")))


def test_the_names_of_a_device_with_rolls() -> None:
    """roll_min_ and roll_max_ are one range, a roll by another name holds all up to its length, and of a disc the
    outer diameter counts (PWG 5101.1, from memory); zeros after the point are no mistake worth losing a size for."""
    names = ("roll_min_210x279.40mm", "roll_max_914x92000mm", "roll_roll-2_914x46000mm", "disc_12cm_18x120mm")
    fact = only_fact("media-supported", attribute("media-supported", *map(keyword, (*names, "", "Plan film"))))
    assert isinstance(fact, MediaSupported)
    assert fact.names == (*names, "Plan film")
    assert set(fact.sizes) == {
        MediaSize(Span(914_000, 914_000), Span(0, 46_000_000)),
        MediaSize(Span(120_000, 120_000), Span(120_000, 120_000)),
        MediaSize(Span(210_000, 914_000), Span(279_400, 92_000_000)),
    }


# --- rows of the Printer MIB as text


def test_the_attributes_own_name_before_the_first_key() -> None:
    said = (
        attribute("printer-alert", octets(b"printer-alert[0] = code=jam;severity=critical;group=mediaPath")),
        attribute("printer-alert-description", text("printer-alert-description[0] = 'Paper in the cutter'")),
        attribute("printer-input-tray", octets(b"printer-input-tray[1] =type=continuousRoll;name=Roll 2;")),
    )
    facts = read_facts(*said)
    (alerts,), (inputs,) = facts["printer-alert"], facts["printer-input-tray"]
    assert isinstance(alerts, Alerts)
    assert isinstance(inputs, Inputs)
    assert [(row.code, row.severity, row.description) for row in alerts.rows] == [
        ("jam", "critical", "Paper in the cutter")
    ]
    assert [(row.type, row.name) for row in inputs.rows] == [("continuousRoll", "Roll 2")]


@pytest.mark.parametrize(
    "said",
    [
        b"code=inputMediaSupplyEmpty;severity=critical;group=input",
        b"CODE=InputMediaSupplyEmpty;Severity=Critical;GROUP=Input;",
        b"code=input-media-supply-empty;severity=critical;group=input;",
        b"code=808;severity=3;group=8;vendor=9;;=;nonsense;",
    ],
)
def test_labels_in_any_spelling_are_the_mibs(said: bytes) -> None:
    """The labels and numbers are those of RFC 3805 section 6 and IANA-PRINTER-MIB."""
    fact = only_fact("printer-alert", attribute("printer-alert", octets(said)))
    assert isinstance(fact, Alerts)
    assert [(row.code, row.severity, row.group) for row in fact.rows] == [
        ("inputMediaSupplyEmpty", "critical", "input")
    ]


def test_what_is_no_label_stays_as_it_is() -> None:
    fact = only_fact("printer-alert", attribute("printer-alert", octets(b"code=cutterWorn;severity=criticalother")))
    assert isinstance(fact, Alerts)
    assert (fact.rows[0].code, fact.rows[0].severity) == ("cutterWorn", "criticalother")
