"""The published rules of IPP and what goes with it, line by line: RFC 8010, RFC 8011, PWG 5101.1, IEEE 1284.

Each value stands beside its source and was taken from there by hand. What could be had only from memory says so.
"""

import pytest

from netcheck.facts import Fact
from netcheck.facts.condition import PrinterState
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.move import DeviceRef, Move
from netcheck.roles import Role
from netcheck.rules.condition import reason_severity
from netcheck.standard import Standard
from netcheck.verdict import Finding, Holds, Weight
from probes.ipp.codec import decode, encode
from probes.ipp.labels import LAST_SUCCESS, Operation, status_words
from probes.ipp.values import Collection, Integer, Message, Text, Value

from .conftest import make_case
from .test_ipp_bytes import attribute, boolean, enum, keyword, octets
from .test_ipp_codec import APPENDIX_A
from .test_ipp_reading import only_fact, read_facts

ALONE = Move(device=DeviceRef("192.0.2.61"))


def ruled(identity: str, fact: Fact, standard: Standard = Standard()) -> dict[str, Finding]:  # noqa: B008 - frozen
    """Findings of one rule about one fact, by item."""
    verdict = judge(make_case([(Role.DEVICE, "ipp", "said", fact)], ALONE), standard, Gate.STANDING, {})
    return {finding.item: finding for finding in verdict.findings if finding.id == identity}


# --- RFC 8010 appendix A: the octets that the RFC prints beside its words


@pytest.mark.parametrize(
    ("section", "octets"),
    [
        ("A.1", 227),
        ("A.2", 201),
        ("A.3", 167),
        ("A.4", 261),
        ("A.5", 212),
        ("A.6", 135),
        ("A.7", 259),
        ("A.8", 213),
        ("A.9", 196),
    ],
)
def test_the_examples_are_as_long_as_printed(section: str, octets: int) -> None:
    """A.1 without its document data."""
    whole = APPENDIX_A[section]
    assert len(whole) == octets
    assert encode(decode(whole)) == whole


@pytest.mark.parametrize(
    ("section", "named", "length"),
    [
        ("A.1", "printer-uri", 0x002C),
        ("A.1", "sides", 0x0013),
        ("A.2", "job-uri", 0x0030),
        ("A.2", "status-message", 0x000D),
        ("A.4", "status-message", 0x002F),
    ],
)
def test_lengths_of_values_that_the_rfc_prints(section: str, named: str, length: int) -> None:
    (value, *_) = values(decode(APPENDIX_A[section]), named)
    assert isinstance(value, Text)
    assert len(value.value) == length
    assert bytes((0, len(named))) + named.encode() + length.to_bytes(2) in APPENDIX_A[section]


def values(message: Message, named: str) -> tuple[Value, ...]:
    return next(each.values for group in message.groups for each in group.attributes if each.name == named)


def test_numbers_that_the_rfc_prints() -> None:
    assert values(decode(APPENDIX_A["A.8"]), "limit") == (Integer(0x32),)
    assert decode(APPENDIX_A["A.8"]).request_id == 0x7B
    assert values(decode(APPENDIX_A["A.1"]), "copies") == (Integer(0x14),)
    (media,) = values(decode(APPENDIX_A["A.7"]), "media-col")
    assert isinstance(media, Collection)
    (size,) = media.member("media-size")
    assert isinstance(size, Collection)
    assert (size.member("x-dimension"), size.member("y-dimension")) == ((Integer(0x5208),), (Integer(0x7404),))


# --- RFC 8011: operations and status codes


def test_nothing_is_ever_asked_that_prints_or_changes() -> None:
    """Table 19: Print-Job, Print-URI, Create-Job, Send-Document, Send-URI, Cancel-Job, Hold-, Release- and Restart-Job,
    Pause- and Resume-Printer, Purge-Jobs; and Set-Printer-Attributes (RFC 3380), Identify-Printer (PWG 5100.13)."""
    changing = {0x02, 0x03, 0x05, 0x06, 0x07, 0x08, 0x0C, 0x0D, 0x0E, 0x10, 0x11, 0x12, 0x13, 0x3C}
    assert not changing & {each.value for each in Operation}
    assert (Operation.VALIDATE_JOB, Operation.GET_JOBS, Operation.GET_PRINTER_ATTRIBUTES) == (0x04, 0x0A, 0x0B)


@pytest.mark.parametrize(
    ("code", "words"),
    [
        (0x0001, "successful-ok-ignored-or-substituted-attributes"),
        (0x0400, "client-error-bad-request"),
        (0x0401, "client-error-forbidden"),
        (0x0402, "client-error-not-authenticated"),
        (0x0403, "client-error-not-authorized"),
        (0x0404, "client-error-not-possible"),
        (0x0405, "client-error-timeout"),
        (0x0406, "client-error-not-found"),
        (0x040A, "client-error-document-format-not-supported"),
        (0x040B, "client-error-attributes-or-values-not-supported"),
        (0x0500, "server-error-internal-error"),
        (0x0501, "server-error-operation-not-supported"),
        (0x0502, "server-error-service-unavailable"),
        (0x0503, "server-error-version-not-supported"),
        (0x0504, "server-error-device-error"),
        (0x0505, "server-error-temporary-error"),
        (0x0506, "server-error-not-accepting-jobs"),
        (0x0507, "server-error-busy"),
    ],
)
def test_status_codes(code: int, words: str) -> None:
    """RFC 8011 appendix B; 0x0000 to 0x00ff are successes, and no others (section B.1)."""
    assert status_words(code) == words
    assert (code <= LAST_SUCCESS) is words.startswith("successful")


# --- RFC 8011 sections 5.4.11, 5.4.12, 5.4.23: state, acceptance, reasons


@pytest.mark.parametrize(
    ("state", "accepting", "ready"),
    [(3, True, True), (4, True, True), (3, False, False), (4, False, False), (5, True, False), (5, False, False)],
)
def test_state_and_acceptance_are_two_things(state: int, accepting: bool, ready: bool) -> None:
    """Stopped and accepting queues jobs and prints nothing; idle and not accepting rejects them."""
    fact = only_fact(
        "printer-state",
        attribute("printer-state", enum(state)),
        attribute("printer-is-accepting-jobs", boolean(accepting)),
        attribute("printer-state-reasons", keyword("none")),
    )
    findings = ruled("condition.state", fact)
    assert (findings["IPP"].state is Holds.MET) is (state != 5)
    assert (findings["accepting"].state is Holds.MET) is accepting
    assert all(each.state is Holds.MET for each in findings.values()) is ready


@pytest.mark.parametrize(
    ("state", "reason", "keyword", "severity"),
    [
        ("stopped", "media-needed", "media-needed", "error"),  # without a suffix, stopped
        ("idle", "media-needed", "media-needed", "warning"),  # in any other state
        ("processing", "media-needed", "media-needed", "warning"),
        ("idle", "media-low-report", "media-low", "report"),
        ("stopped", "toner-low-warning", "toner-low", "warning"),
        ("idle", "cover-open-error", "cover-open", "error"),
        ("stopped", "stopped-partly-report", "stopped-partly", "report"),
        ("idle", "com.example-cutter-worn-warning", "com.example-cutter-worn", "warning"),
        # a registered keyword may itself end so (PWG 5107.3, from memory)
        ("idle", "printer-unrecoverable-storage-error", "printer-unrecoverable-storage-error", "warning"),
    ],
)
def test_suffixes(state: str, reason: str, keyword: str, severity: str) -> None:
    assert reason_severity(reason, state) == (keyword, severity)


@pytest.mark.parametrize(
    ("reasons", "weights"),
    [
        (("media-empty-error", "toner-low-warning", "other-report"), [Weight.BLOCKER, Weight.CARE, Weight.NOTE]),
        (("none",), []),
    ],
)
def test_each_reason_weighs_what_its_suffix_says(reasons: tuple[str, ...], weights: list[Weight]) -> None:
    said = attribute("printer-state-reasons", *map(keyword, reasons))
    fact = only_fact("printer-state", attribute("printer-state", enum(5)), said)
    assert isinstance(fact, PrinterState)
    assert [each.weight for each in ruled("condition.reasons", fact).values() if each.state is Holds.UNMET] == weights


# --- PWG 5100.9: printer-alert as first written has no last semicolon; PWG 5100.13: printer-supply has one


@pytest.mark.parametrize("end", ["", ";"])
def test_both_ends_are_accepted(end: str) -> None:
    facts = read_facts(
        attribute("printer-alert", octets(f"code=jam;severity=critical{end}".encode())),
        attribute("printer-supply", octets(f"type=ink;level=5;maxcapacity=100{end}".encode())),
    )
    assert "critical" in str(facts["printer-alert"])
    assert "Measured(value=100)" in str(facts["printer-supply"])
