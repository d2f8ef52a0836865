"""The rules about certificates: dates by RFC 5280 section 4.1.2.5, names by RFC 9525 section 6, keys by NIST SP
800-131A (both from memory)."""

import ssl
from collections.abc import Iterable
from datetime import UTC, datetime

import msgspec
import pytest

import netcheck.rules.security as security
from netcheck.case import Case
from netcheck.facts import Fact
from netcheck.facts.link import Certificate
from netcheck.facts.network import NameLookup
from netcheck.facts.queue import QueueTarget
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.move import DeviceRef, Move, Ports
from netcheck.roles import Role
from netcheck.ruling import RULES, Moment
from netcheck.standard import FactAge, Standard
from netcheck.verdict import Finding, Holds, Weight
from tests.conftest import LS_2041, NOW, make_case

DAY = 86_400_000
CERTIFICATE = Certificate(
    port=631,
    tls="TLSv1.3",
    subject="CN=halden-36r.harrow.example",
    issuer="CN=halden-36r.harrow.example",
    names=("halden-36r.harrow.example",),
    not_before_ms=NOW - 100 * DAY,
    not_after_ms=NOW + 100 * DAY,
    key_type="rsaEncryption",
    key_bits=2048,
    fingerprint="aa" * 32,
    self_signed=True,
    chain_length=1,
    verified=False,
    fault="self-signed certificate",
)
OLDS = msgspec.structs.replace(CERTIFICATE, names=("corvid-24s.harrow.example",), fingerprint="bb" * 32)
KEEP = msgspec.structs.replace(
    LS_2041, address="keep", new=msgspec.structs.replace(LS_2041.new or DeviceRef(""), final="192.0.2.21")
)
IPPS = "ipps://192.0.2.21/ipp/print"
FOR_ADDRESS = msgspec.structs.replace(CERTIFICATE, names=("192.0.2.21",))


def changed(certificate: Certificate = CERTIFICATE, **what: object) -> Certificate:
    return msgspec.structs.replace(certificate, **what)


def case(new: Certificate | None, *, uri: str = "", old: Certificate | None = None, move: Move = KEEP) -> Case:
    """A visit at which these were seen."""
    facts: list[tuple[Role, str, str, Fact]] = [
        (Role.NEW, "names", "resolver", NameLookup("192.0.2.61", ("192.0.2.61",))),
        (Role.OLD, "names", "resolver", NameLookup("192.0.2.21", ("192.0.2.21",))),
    ]
    for role, certificate in ((Role.NEW, new), (Role.OLD, old)):
        if certificate:
            facts.append((role, "tls", f"tcp/{certificate.port} certificate", certificate))
    if uri:
        facts.append((Role.QUEUE, "spool", "device-uri", QueueTarget("Plans", uri)))
    return make_case(facts, move)


def findings(seen: Case, gate: Gate = Gate.SWAP, standard: Standard = Standard()) -> list[Finding]:  # noqa: B008 - frozen
    return [each for each in judge(seen, standard, gate, {}).findings if each.id.startswith("security.")]


def against(found: Iterable[Finding]) -> dict[str, Weight]:
    """What is not met, by id and item."""
    return {f"{each.id}/{each.item}": each.weight for each in found if each.state is not Holds.MET}


def only(found: Iterable[Finding], identity: str) -> Finding:
    (finding,) = [each for each in found if f"{each.id}/{each.item}" == identity]
    return finding


# --- what is no trouble


def test_a_device_without_tls_gives_no_finding() -> None:
    for gate in Gate:
        assert findings(case(None, uri=IPPS), gate) == []


def test_a_device_that_signs_its_own_is_normal() -> None:
    """RFC 8010 section 8.1.2. The address in the Move is not in it, and nobody connects by it."""
    for gate in Gate:
        seen = case(CERTIFICATE, uri="socket://192.0.2.21:9100", old=OLDS)
        assert against(findings(seen, gate)) == {}
    assert {each.id for each in findings(seen)} == {"security.dates", "security.key", "security.signer"}


def test_a_device_by_itself_is_asked_the_same() -> None:
    seen = make_case(
        [(Role.DEVICE, "tls", "tcp/631 certificate", changed(key_bits=1024))], Move(device=DeviceRef("192.0.2.61"))
    )
    assert against(findings(seen, Gate.STANDING)) == {"security.key/port 631": Weight.NOTE}


def test_every_rule_says_why_what_to_do_and_by_whom() -> None:
    rules = [each for name, each in RULES.items() if name.startswith("security.")]
    assert len(rules) == 7
    for each in rules:
        assert each.explanation.why
        assert each.explanation.do
        assert each.explanation.source
        assert each.weight in {Weight.CARE, Weight.NOTE}


# --- dates


@pytest.mark.parametrize(
    ("begin", "end", "says"),
    [
        (-1, 31 * DAY, ""),
        (0, 30 * DAY, ""),
        (-1, 30 * DAY - 1, "expires in 29 days"),
        (-1, DAY, "expires in 1 day"),
        (-1, 0, "expires in 0 days"),  # both ends belong to it
        (-DAY, -1, "expired on"),
        (1, DAY, "is not valid before"),
    ],
)
def test_dates(begin: int, end: int, says: str) -> None:
    found = findings(case(changed(not_before_ms=NOW + begin, not_after_ms=NOW + end)))
    finding = only(found, "security.dates/port 631")
    assert (finding.state is Holds.MET, finding.weight) == (says == "", Weight.NOTE)
    assert says in finding.title


def test_days_are_those_of_the_calendar() -> None:
    # ssl.cert_time_to_seconds is the standard library's own reading of a certificate's time.
    end = ssl.cert_time_to_seconds("Mar  1 00:00:00 2019 GMT") * 1000
    assert "expired on 2019-03-01" in only(findings(case(changed(not_after_ms=end))), "security.dates/port 631").title


@pytest.mark.parametrize("end", [10**18, -(10**18)])
def test_a_day_that_no_calendar_has_is_no_fault_of_ours(end: int) -> None:
    found = only(findings(case(changed(not_after_ms=end))), "security.dates/port 631")
    assert "beyond the calendar" in found.title + found.detail


def test_now_is_the_case_s_time_whenever_it_is_judged() -> None:
    assert isinstance(Moment(NOW), msgspec.Struct)
    later = msgspec.structs.replace(case(CERTIFICATE), made_at=NOW + 101 * DAY)
    assert against(findings(case(CERTIFICATE))) == {}
    assert against(findings(later)) == {"security.dates/port 631": Weight.NOTE}
    assert datetime.fromtimestamp(NOW / 1000, UTC).year == 2026  # and not when the test runs


def test_what_was_shown_long_ago_still_says_its_own_dates() -> None:
    later = msgspec.structs.replace(case(CERTIFICATE), made_at=NOW + 101 * DAY)
    assert against(findings(later, standard=Standard(fact_age=FactAge(30)))) == {"security.dates/port 631": Weight.NOTE}


# --- key and signer


@pytest.mark.parametrize(
    ("kind", "bits", "state"),
    [
        ("rsaEncryption", 1024, Holds.UNMET),
        ("rsaEncryption", 2047, Holds.UNMET),
        ("rsaEncryption", 2048, Holds.MET),
        ("rsaEncryption", 0, Holds.UNPROVEN),
        ("id-ecPublicKey", 192, Holds.UNMET),
        ("id-ecPublicKey", 224, Holds.MET),
        ("id-Ed25519", 0, Holds.MET),
        ("1.2.3.4", 0, Holds.MET),
    ],
)
def test_keys(kind: str, bits: int, state: Holds) -> None:
    finding = only(findings(case(changed(key_type=kind, key_bits=bits))), "security.key/port 631")
    assert (finding.state, finding.weight) == (state, Weight.NOTE)


@pytest.mark.parametrize(
    ("verified", "self_signed", "state"),
    [
        (True, False, Holds.MET),
        (True, True, Holds.MET),
        (False, True, Holds.MET),
        (False, False, Holds.UNMET),
    ],
)
def test_signers(verified: bool, self_signed: bool, state: Holds) -> None:
    finding = only(
        findings(case(changed(verified=verified, self_signed=self_signed, fault="unable to get local issuer"))),
        "security.signer/port 631",
    )
    assert (finding.state, finding.weight) == (state, Weight.NOTE)
    assert ("unable to get local issuer" in finding.detail) is (state is Holds.UNMET)


# --- names


@pytest.mark.parametrize(
    ("names", "host", "fits"),
    [
        (("halden-36r.harrow.example",), "halden-36r.harrow.example", True),
        (("Halden-36R.Harrow.Example",), "halden-36r.harrow.EXAMPLE.", True),
        (("corvid-24s.harrow.example",), "halden-36r.harrow.example", False),
        (("*.harrow.example",), "halden-36r.harrow.example", True),
        (("*.harrow.example",), "a.halden-36r.harrow.example", False),
        (("*.harrow.example",), "harrow.example", False),
        (("h*.harrow.example",), "halden-36r.harrow.example", False),
        (("*",), "printer", False),
        (("corvid", "halden"), "halden", True),
        (("192.0.2.61",), "192.0.2.61", True),
        (("*.0.2.61",), "192.0.2.61", False),
        (("2001:DB8:0::61",), "2001:db8::61", True),
        (("fe80::1",), "fe80::1%eth0", True),
        (("halden.local",), "192.0.2.61", False),
        ((), "192.0.2.61", False),
    ],
)
def test_whose_name_it_is(names: tuple[str, ...], host: str, *, fits: bool) -> None:
    assert security.made_out_to(names, host) is fits


def named_for_tls(host: str) -> Move:
    return msgspec.structs.replace(LS_2041, queue=None, new=DeviceRef(host, ports=Ports(ipps=631)))


def test_a_move_that_asks_for_tls_wants_its_own_name() -> None:
    seen = case(CERTIFICATE, move=named_for_tls("192.0.2.61"))
    assert against(findings(seen)) == {"security.name/port 631 name": Weight.CARE}
    assert against(findings(case(CERTIFICATE, move=named_for_tls("halden-36r.harrow.example")))) == {}


def test_names_that_were_not_kept_prove_nothing() -> None:
    seen = case(changed(names_complete=False), move=named_for_tls("192.0.2.61"))
    assert only(findings(seen), "security.name/port 631 name").state is Holds.UNPROVEN


def test_a_queue_that_leads_to_a_bare_host_is_judged_too() -> None:
    """No URI (RFC 3986 s3), but what a spooler may hold: it says of no service, TLS included."""
    bare = case(FOR_ADDRESS, uri="192.0.2.21")
    assert not [each for each in findings(bare) if each.id.startswith("security.queue") and each.state is Holds.UNMET]
    leads = [each for each in judge(bare, Standard(), Gate.SWAP, {}).findings if each.id == "queue.points-to-old"]
    assert [each.state for each in leads] == [Holds.MET]
