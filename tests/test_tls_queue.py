"""What a queue that prints by TLS makes of the new device's certificate, by the rules: it stops when it meets one that
it does not know (observed with CUPS 2.4.2)."""

from datetime import UTC, datetime

import msgspec
import pytest

from netcheck.case import Case, joined
from netcheck.facts.link import Certificate
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.move import Move
from netcheck.roles import Role
from netcheck.standard import Standard
from netcheck.verdict import Holds, Verdict, Weight
from tests.conftest import NOW

from .test_rules_security import (
    CERTIFICATE,
    DAY,
    FOR_ADDRESS,
    IPPS,
    KEEP,
    OLDS,
    against,
    case,
    changed,
    findings,
    only,
)


def test_the_queue_meets_a_good_certificate() -> None:
    for gate in Gate:
        assert against(findings(case(FOR_ADDRESS, uri=IPPS), gate)) == {}
    assert {each.id for each in findings(case(FOR_ADDRESS, uri=IPPS))} > {
        "security.queue-trust",
        "security.queue-changed",
    }


@pytest.mark.parametrize("uri", [IPPS, "https://192.0.2.61:631/ipp/print", "ipps://192.0.2.61/ipp/print"])
@pytest.mark.parametrize(("begin", "end"), [(-2, -1), (1, 2)])
def test_dates_weigh_more_where_the_queue_meets_them(uri: str, begin: int, end: int) -> None:
    bad = changed(names=("192.0.2.21", "192.0.2.61"), not_before_ms=NOW + begin * DAY, not_after_ms=NOW + end * DAY)
    found = findings(case(bad, uri=uri))
    cause = only(found, "security.queue-trust/port 631 dates")
    assert (cause.state, cause.weight) == (Holds.UNMET, Weight.CARE)
    assert only(found, "security.dates/port 631").causes == (cause.key,)


def test_a_name_weighs_more_where_the_queue_uses_it() -> None:
    found = findings(case(CERTIFICATE, uri=IPPS))
    assert against(found) == {"security.queue-trust/port 631 name": Weight.CARE}
    only_dates = findings(case(changed(not_after_ms=NOW + DAY), uri=IPPS))
    # That a name is wrong does not explain that the time runs out.
    assert only(only_dates, "security.dates/port 631").causes == ()


@pytest.mark.parametrize(
    "uri",
    [
        "ipp://192.0.2.21/ipp/print",  # in plain
        "socket://192.0.2.21:9100",
        "lpd://192.0.2.21/lp",
        "usb://Halden/36R",
        "ipps://192.0.2.99/ipp/print",  # to another device
        "ipps://192.0.2.61:8631/ipp/print",  # to a port where it showed none
    ],
)
def test_a_queue_that_does_not_meet_it_is_not_troubled(uri: str) -> None:
    for gate in Gate:
        bad = changed(not_after_ms=NOW - 1)
        assert set(against(findings(case(bad, uri=uri, old=OLDS), gate)).values()) <= {Weight.NOTE, Weight.CARE}
        troubled = [each for each in findings(case(bad, uri=uri), gate) if each.id.startswith("security.queue-")]
        assert troubled == []


# --- a certificate that the queue does not know


def test_the_queue_knows_the_old_one_s() -> None:
    """CUPS 2.4.2 stopped the queue when the certificate at its address was another one (observed 3 times of 3)."""
    found = findings(case(FOR_ADDRESS, uri=IPPS, old=OLDS))
    assert against(found) == {"security.queue-pin/port 631": Weight.CARE}
    finding = only(found, "security.queue-pin/port 631")
    assert (finding.role, len(finding.evidence)) == (Role.QUEUE, 2)
    assert "aaaaaaaa" in finding.detail
    assert "bbbbbbbb" in finding.detail


@pytest.mark.parametrize(
    ("uri", "move", "gate", "new"),
    [
        (IPPS, KEEP, Gate.LEAVE, FOR_ADDRESS),  # by then the queue's own state tells
        ("ipp://192.0.2.21/ipp/print", KEEP, Gate.SWAP, FOR_ADDRESS),
        (IPPS, msgspec.structs.replace(KEEP, address="new"), Gate.SWAP, FOR_ADDRESS),
        (IPPS, KEEP, Gate.SWAP, changed(FOR_ADDRESS, fingerprint=OLDS.fingerprint)),
        (IPPS, KEEP, Gate.SWAP, changed(FOR_ADDRESS, port=443)),
    ],
)
def test_where_it_need_not_know_it(uri: str, move: Move, gate: Gate, new: Certificate) -> None:
    found = findings(case(new, uri=uri, old=OLDS, move=move), gate)
    assert not [each for each in found if each.id == "security.queue-pin"]


def again(certificate: Certificate, *, later_ms: int, uri: str = IPPS) -> Case:
    """The same visit later, with another certificate."""
    seen = case(certificate, uri=uri)
    moved = tuple(msgspec.structs.replace(each, at_ms=each.at_ms + later_ms) for each in seen.observations)
    return msgspec.structs.replace(seen, observations=moved, made_at=NOW + later_ms)


def verdict(first: Certificate, second: Certificate, uri: str = IPPS) -> Verdict:
    """Two cases, joined in the order in which nobody would join them."""
    both = joined(again(second, later_ms=2 * DAY, uri=uri), [again(first, later_ms=0, uri=uri)])
    return judge(both, Standard(), Gate.LEAVE, {})


def test_a_certificate_that_changed_between_two_cases() -> None:
    made_new = changed(FOR_ADDRESS, fingerprint="cc" * 32)
    found = [each for each in verdict(FOR_ADDRESS, made_new).findings if each.id == "security.queue-changed"]
    (finding,) = found
    assert (finding.state, finding.weight) == (Holds.UNMET, Weight.CARE)
    assert f"after {datetime.fromtimestamp(NOW / 1000, UTC):%Y-%m-%d}" in finding.title
    assert [says in finding.detail for says in ("cccccccc", "aaaaaaaa")] == [True, True]


@pytest.mark.parametrize("uri", [IPPS, "socket://192.0.2.21:9100"])
def test_one_that_stayed_or_that_nobody_remembers(uri: str) -> None:
    other = changed(FOR_ADDRESS, fingerprint="cc" * 32) if uri != IPPS else FOR_ADDRESS
    found = [each for each in verdict(FOR_ADDRESS, other, uri).findings if each.id == "security.queue-changed"]
    assert [each.state for each in found] == ([Holds.MET] if uri == IPPS else [])


def test_the_latest_certificate_is_the_one_that_is_judged() -> None:
    """History is for what changed; everything else takes the latest from each source."""
    expired = changed(FOR_ADDRESS, not_after_ms=NOW - 1)
    for first, second, state in ((expired, FOR_ADDRESS, Holds.MET), (FOR_ADDRESS, expired, Holds.UNMET)):
        found = [each for each in verdict(first, second).findings if each.id == "security.dates"]
        assert [each.state for each in found] == [state]
