"""What the new device says that it would take (RFC 8011 s4.2.3), and whether its two mouths, IPP and SNMP, agree."""

from collections.abc import Iterable

import msgspec
import pytest

from netcheck.case import SCHEMA, TOOL, Case, observation
from netcheck.facts import Amount, Fact, Measured, Unknown
from netcheck.facts.capability import JobCheck
from netcheck.facts.condition import AlertRow, Alerts, HostPrinter, PrinterState
from netcheck.facts.media import InputRow, Inputs, MediaReady, MediaSize, MediaSupported, ReadyRow, Span
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.roles import Role
from netcheck.standard import Print, PrintDemand, Standard
from netcheck.verdict import Finding, Holds, State, Weight
from tests.conftest import LS_2041, NOW, OUR_ADDRESS, make_case, published

PLAN = Print("na_arch-d_24x36in", 609_600, 914_400, "stationery-coated", "roll")
LARGE = Print("iso_a0_841x1189mm", 841_000, 1_189_000, "stationery-coated", "roll")
WANTED = Standard("x", prints=PrintDemand((PLAN, LARGE)))
REFUSED = "client-error-attributes-or-values-not-supported"
SUBSTITUTED = "successful-ok-ignored-or-substituted-attributes"


def findings(identity: str, *seen: tuple[str, str, Fact], standard: Standard = WANTED) -> list[Finding]:
    """What one rule finds of the new device; seen are (probe, source, fact)."""
    verdict = judge(make_case([(Role.NEW, *each) for each in seen]), standard, Gate.SWAP, {})
    return [each for each in verdict.findings if each.id == identity]


def check(status: str, *unsupported: str, wanted: Print = PLAN) -> tuple[str, str, Fact]:
    number = 1 + (PLAN, LARGE).index(wanted)
    return "ipp", f"Validate-Job {number}", JobCheck(str(wanted), status.startswith("success"), status, unsupported)


def standing(found: Iterable[Finding]) -> list[tuple[str, Holds, Weight]]:
    return sorted((each.item, each.state, each.weight) for each in found)


# --- jobs.accepted


@pytest.mark.parametrize(
    ("said", "state", "weight"),
    [  # RFC 8011 appendix B: what each status says of the ticket
        (check("successful-ok"), Holds.MET, Weight.CARE),
        (check(REFUSED), Holds.UNMET, Weight.CARE),
        (check(REFUSED, "media-col"), Holds.UNMET, Weight.CARE),
        (check("client-error-document-format-not-supported"), Holds.UNMET, Weight.CARE),
        (check("client-error-conflicting-attributes"), Holds.UNMET, Weight.CARE),
        (check(SUBSTITUTED, "media-col", "media-col/media-type"), Holds.UNMET, Weight.CARE),
        (check(SUBSTITUTED, "media"), Holds.UNMET, Weight.CARE),
        (check(SUBSTITUTED, "ipp-attribute-fidelity"), Holds.MET, Weight.CARE),  # not our media
        (check("server-error-not-accepting-jobs"), Holds.UNPROVEN, Weight.NOTE),
        (check("client-error-not-authorized"), Holds.UNPROVEN, Weight.NOTE),
        (check("server-error-busy"), Holds.UNPROVEN, Weight.NOTE),
        (check("status 0x04fe"), Holds.UNPROVEN, Weight.NOTE),
    ],
)
def test_what_the_device_answers(said: tuple[str, str, Fact], state: Holds, weight: Weight) -> None:
    found = findings("jobs.accepted", said, check("successful-ok", wanted=LARGE))
    assert standing(found) == sorted([(str(PLAN), state, weight), (str(LARGE), Holds.MET, Weight.CARE)])


def test_success_is_not_called_a_proof() -> None:
    (first, _) = findings("jobs.accepted", check("successful-ok"), check("successful-ok", wanted=LARGE))
    assert "no proof" in first.title


def test_a_print_that_was_not_asked_about_is_a_note() -> None:
    found = findings("jobs.accepted", check("successful-ok"))
    assert (str(LARGE), Holds.UNPROVEN, Weight.NOTE) in standing(found)


def test_a_device_that_was_not_asked_at_all_is_a_note() -> None:
    assert standing(findings("jobs.accepted")) == [("", Holds.UNPROVEN, Weight.NOTE)]


def test_no_print_is_wanted_no_question() -> None:
    assert findings("jobs.accepted", check(REFUSED), standard=Standard("x")) == []


def test_a_size_that_is_not_supported_explains_the_refusal_of_that_print_only() -> None:
    size = MediaSize(Span(609_600, 609_600), Span(914_400, 914_400))
    able = "ipp", "media-supported", MediaSupported((), (size,), ("stationery-coated",), ())
    found = findings("jobs.accepted", able, check(REFUSED), check(REFUSED, wanted=LARGE))
    assert {each.item: each.causes for each in found} == {
        str(PLAN): (),
        str(LARGE): (f"media.supported@new/{LARGE}",),
    }


# --- agreement: IPP against the MIB


def host(device: str, printer: str, *errors: str) -> tuple[str, str, Fact]:
    return "snmp", "hrPrinterTable.1", HostPrinter(1, device, printer, errors)


def said(state: str, *reasons: str) -> tuple[str, str, Fact]:
    return "ipp", "printer-state", PrinterState(state, reasons, accepting=True)


@pytest.mark.parametrize(
    ("ipp", "snmp", "state"),
    [  # the MIB's side is the table of RFC 3805 s2.2.13.2
        (said("idle"), host("running", "idle"), Holds.MET),
        (said("processing"), host("running", "printing"), Holds.MET),
        (said("idle"), host("running", "other"), Holds.MET),  # standby
        (said("idle"), host("warning", "idle", "lowPaper"), Holds.MET),
        (said("stopped", "media-empty-error"), host("down", "other", "noPaper"), Holds.MET),
        (said("idle"), host("down", "other", "noPaper"), Holds.UNMET),
        (said("processing"), host("down", "other", "jammed"), Holds.UNMET),
        (said("idle"), host("down", "other", "offline"), Holds.UNMET),
        (said("stopped", "media-jam-error"), host("running", "idle"), Holds.UNMET),
        (said("stopped", "paused"), host("running", "idle"), Holds.MET),  # somebody's wish
        (said("idle"), host("running", "warmup"), Holds.MET),
        (said(""), host("running", "idle"), Holds.UNPROVEN),
        (said("idle"), host("", ""), Holds.UNPROVEN),
    ],
)
def test_states(ipp: tuple[str, str, Fact], snmp: tuple[str, str, Fact], state: Holds) -> None:
    weight = Weight.NOTE if state is Holds.UNPROVEN else Weight.CARE
    assert standing(findings("agreement.state", ipp, snmp)) == [("", state, weight)]


def test_one_mouth_alone_is_a_note() -> None:
    assert standing(findings("agreement.state", said("idle"))) == [("", Holds.UNPROVEN, Weight.NOTE)]


@pytest.mark.parametrize(("apart_ms", "state"), [(20_000, Holds.UNMET), (1_800_000, Holds.UNPROVEN)])
def test_what_was_seen_at_another_time_contradicts_nothing(apart_ms: int, state: Holds) -> None:
    seen = [
        observation(Role.NEW, probe, source, at, OUR_ADDRESS, fact)
        for at, (probe, source, fact) in (
            (NOW - apart_ms, said("idle")),
            (NOW, host("down", "other", "noPaper")),
        )
    ]
    verdict = judge(Case(SCHEMA, NOW, TOOL, LS_2041, (), tuple(seen)), Standard(), Gate.SWAP, {})
    assert [each.state for each in verdict.findings if each.id == "agreement.state"] == [state]


def inconsistent(state: str, *reasons: str) -> Holds:
    (found,) = findings("agreement.reasons", said(state, *reasons))
    return found.state


@pytest.mark.parametrize("row", published("IPS-02", "IPS-03", "IPS-05", "IPS-06", "IPS-07"))
def test_an_error_wants_a_stopped_printer(row: dict[str, str]) -> None:
    """IPS-07: the RFC is violated, and the verdict follows the error all the same."""
    cases = {
        "IPS-02": ("stopped", "media-empty-error"),
        "IPS-03": ("idle", "toner-low-warning"),
        "IPS-05": ("idle", "media-low"),
        "IPS-06": ("idle",),
        "IPS-07": ("processing", "media-jam-error"),
    }
    violated = "violates the RFC" in row["expected"]
    assert inconsistent(*cases[row["id"]]) is (Holds.UNMET if violated else Holds.MET)
    if violated:
        (error,) = findings("condition.reasons", said(*cases[row["id"]]))
        assert (error.state, error.weight) == (Holds.UNMET, Weight.BLOCKER)


# --- agreement about the media


def tray(name: str, width: int, level: Amount) -> InputRow:
    width_um, open_ = Measured(width), Measured(45)
    return InputRow(
        1, "continuousRoll", name, "", "", "stationery-coated", Measured(0), width_um, "meters", open_, level, None
    )


def inputs(*rows: InputRow, probe: str = "snmp", source: str = "prtInputTable.1") -> tuple[str, str, Fact]:
    return probe, source, Inputs(rows, complete=True)


def ready(*widths: int) -> tuple[str, str, Fact]:
    sizes = (MediaSize(Span(width, width), Span(210_000, 45_000_000)) for width in widths)
    rows = tuple(ReadyRow("", size, "stationery-coated", f"roll-{number}") for number, size in enumerate(sizes, 1))
    return "ipp", "media-col-ready", MediaReady(rows)


FULL, EMPTY = Measured(40), Measured(0)


@pytest.mark.parametrize(
    ("seen", "state", "weight"),
    [
        ((ready(914_400), inputs(tray("Roll 1", 914_400, FULL))), Holds.MET, Weight.CARE),
        ((ready(914_400), inputs(tray("Roll 1", 914_400, EMPTY))), Holds.UNMET, Weight.CARE),
        # rounded differently, within the 0.5 mm that the tool allows (common practice, no source)
        ((ready(914_400), inputs(tray("Roll 1", 914_000, EMPTY))), Holds.UNMET, Weight.CARE),
        # another roll of that width has some
        (
            (ready(914_400), inputs(tray("Roll 1", 914_400, EMPTY), tray("Roll 2", 914_400, FULL))),
            Holds.MET,
            Weight.CARE,
        ),
        ((ready(914_400), inputs(tray("Roll 2", 609_600, EMPTY))), Holds.UNPROVEN, Weight.NOTE),
        ((ready(), inputs(tray("Roll 1", 914_400, EMPTY))), Holds.MET, Weight.CARE),
    ],
)
def test_ready_and_empty(seen: tuple[tuple[str, str, Fact], ...], state: Holds, weight: Weight) -> None:
    assert [(each.state, each.weight) for each in findings("agreement.media", *seen)] == [(state, weight)]


def test_one_empty_roll_is_one_finding_however_often_it_is_told() -> None:
    name = "ipp", "media-ready", MediaReady((ReadyRow("roll", ready_size(), "", ""),))
    copy = inputs(tray("Roll 1", 914_400, EMPTY), probe="ipp", source="printer-input-tray")
    found = findings("agreement.media", ready(914_400), name, inputs(tray("Roll 1", 914_400, EMPTY)), copy)
    assert standing(found) == [("Roll 1", Holds.UNMET, Weight.CARE)]


def ready_size() -> MediaSize:
    return MediaSize(Span(914_400, 914_400), Span(0, 0))


# --- media.loaded with trays told twice


def loaded(*seen: tuple[str, str, Fact]) -> Holds:
    found = findings("media.loaded", *seen, standard=Standard("x", prints=PrintDemand((PLAN,))))
    return found[0].state


def test_a_second_roll_of_the_same_source_outweighs_an_empty_one() -> None:
    both = inputs(tray("Roll 1", 914_400, EMPTY), tray("Roll 2", 914_400, FULL))
    assert loaded(both) is Holds.MET
    assert loaded(ready(914_400), inputs(tray("Roll 1", 914_400, EMPTY))) is Holds.UNMET


def test_a_tray_without_a_size_adds_nothing_to_what_is_listed_as_ready() -> None:
    row = msgspec.structs.replace(tray("Roll", 0, FULL), cross=Unknown())
    narrow = ready(297_000)
    assert loaded(narrow, inputs(row, probe="ipp", source="printer-input-tray")) is Holds.UNMET
    # another source's tray may be one that the list leaves out
    assert loaded(narrow, inputs(row)) is Holds.UNPROVEN


# --- condition.alerts with alerts told twice


def alert(code: str, group_index: int | None, severity: str = "critical") -> AlertRow:
    return AlertRow(1, severity, "untrained", "markerSupplies", group_index, None, code, "", None)


def alerts_found(*tables: tuple[str, tuple[AlertRow, ...]]) -> list[str]:
    seen = [(probe, f"alerts by {probe}", Alerts(rows, complete=True)) for probe, rows in tables]
    return sorted(each.detail for each in findings("condition.alerts", *seen))


@pytest.mark.parametrize(
    ("snmp", "ipp", "count"),
    [
        ((alert("markerInkEmpty", 1),), (alert("markerInkEmpty", 1),), 1),
        ((alert("markerInkEmpty", 1),), (alert("markerInkEmpty", None),), 1),
        ((alert("markerInkEmpty", 1),), (alert("markerInkEmpty", 2),), 2),
        ((alert("markerInkEmpty", 1), alert("markerInkEmpty", 1)), (), 2),
        ((), (alert("markerInkEmpty", 1),), 1),
        ((), (), 1),  # that none is active
    ],
)
def test_an_alert_told_twice_is_one(snmp: tuple[AlertRow, ...], ipp: tuple[AlertRow, ...], count: int) -> None:
    assert len(alerts_found(("snmp", snmp), ("ipp", ipp))) == count


def test_what_only_ipp_calls_critical_counts() -> None:
    seen = [
        (Role.NEW, "snmp", "prtAlertTable.1", Alerts((), complete=True)),
        (Role.NEW, "ipp", "printer-alert", Alerts((alert("markerInkEmpty", 1),), complete=True)),
    ]
    assert judge(make_case(seen), Standard(), Gate.SWAP, {}).state is State.NOT_READY


def test_an_alert_told_twice_has_the_words_of_the_mib() -> None:
    """The table has every column, printer-alert copies some (common practice, no source)."""
    words = msgspec.structs.replace(alert("markerInkEmpty", 1), description="Black ink is empty")
    (found,) = findings(
        "condition.alerts",
        ("ipp", "printer-alert", Alerts((alert("markerInkEmpty", 1),), complete=True)),
        ("snmp", "prtAlertTable.1", Alerts((words,), complete=True)),
    )
    assert found.title == "Alert: Black ink is empty"
