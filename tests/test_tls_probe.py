"""The `tls` probe against servers on loopback: the certificate that they show, and whom it asks at all."""

import asyncio
import re
import ssl

import pytest

from netcheck.collect import Recorder, collect_once
from netcheck.move import Move
from netcheck.probing import Answer, Target
from netcheck.roles import Outcome, Role
from probes.names import PROBE as NAMES
from probes.tls import PROBE

from .test_tls_made import HOST, made, needs_openssl, said_fingerprint
from .test_tls_served import (
    Handler,
    as_openssl_sees_it,
    asked,
    gathered,
    listening,
    missed,
    says,
    server_context,
    shown,
    target,
    tls,
    waits,
)

pytestmark = needs_openssl


# --- the certificate that is shown


@pytest.mark.parametrize("name", ["valid", "expired", "future", "other", "weak", "curve", "edwards", "large", "leaf"])
def test_the_certificate_is_the_one_in_the_file(name: str) -> None:
    fact = shown(asked(tls(server_context(made(name)))))
    assert fact.fingerprint == said_fingerprint(made(name).certificate)
    assert not fact.verified
    assert fact.fault


@pytest.mark.parametrize(("name", "length"), [("valid", 1), ("leaf", 3)])
def test_version_chain_and_fault_are_what_openssl_sees(name: str, length: int) -> None:
    with listening(tls(server_context(made(name)))) as port:
        (result,) = asyncio.run(gathered(target({"ipps": port})))
        page = as_openssl_sees_it(port, "-showcerts")
    fact = shown(result)
    assert fact.chain_length == page.count("BEGIN CERTIFICATE") == length
    version = re.search(r"^New, (TLSv[\d.]+),", page, re.MULTILINE)
    code = re.search(r"Verify return code: \d+ \((.*)\)", page)
    assert version
    assert code
    assert (fact.tls, fact.fault) == (version[1], code[1])


def test_what_this_system_trusts_is_verified(monkeypatch: pytest.MonkeyPatch) -> None:
    """OpenSSL takes its list of issuers from the file that SSL_CERT_FILE names."""
    with listening(tls(server_context(made("leaf")))) as port:
        page = as_openssl_sees_it(port, "-CAfile", str(made("root").certificate))
        monkeypatch.setenv("SSL_CERT_FILE", str(made("root").certificate))
        (result,) = asyncio.run(gathered(target({"ipps": port})))
    assert "Verify return code: 0 (ok)" in page
    fact = shown(result)
    assert (fact.verified, fact.fault, fact.chain_length, fact.self_signed) == (True, "", 3, False)


def test_a_name_that_is_not_in_it_is_a_matter_for_rules(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SSL_CERT_FILE", str(made("other").certificate))
    fact = shown(asked(tls(server_context(made("other")))))
    assert (fact.verified, fact.names) == (True, ("corvid-24s.harrow.example",))


@pytest.mark.parametrize(
    ("host", "called"), [(HOST, HOST), (f"{HOST}.", HOST), ("127.0.0.1", None), ("fe80::1%eth0", None)]
)
def test_the_peer_is_called_by_its_name(host: str, called: str | None) -> None:
    """RFC 6066 section 3: a host name without a final dot, and no literal address."""
    names: list[str | None] = []
    context = server_context(made("valid"))
    context.sni_callback = lambda _, name, __: names.append(name)
    with listening(tls(context)) as port:
        asyncio.run(gathered(target({"ipps": port}, host)))
    assert names == [called, called]


# --- old devices


@pytest.mark.filterwarnings("ignore:ssl.TLSVersion")
@pytest.mark.parametrize("version", [ssl.TLSVersion.TLSv1, ssl.TLSVersion.TLSv1_1])
def test_old_versions_are_read_and_not_trusted(version: ssl.TLSVersion, monkeypatch: pytest.MonkeyPatch) -> None:
    """RFC 8996 forbids them; a device that has nothing else is still to be read."""
    context = server_context(made("valid"))
    context.minimum_version, context.maximum_version = ssl.TLSVersion.MINIMUM_SUPPORTED, version
    monkeypatch.setenv("SSL_CERT_FILE", str(made("valid").certificate))
    fact = shown(asked(tls(context)))
    assert fact.tls == {ssl.TLSVersion.TLSv1: "TLSv1", ssl.TLSVersion.TLSv1_1: "TLSv1.1"}[version]
    assert not fact.verified
    assert fact.fault.startswith("not verified: by TLS 1.2 and later it speaks TLS and refused us: protocol version")


def test_old_ciphers_are_read_and_not_trusted() -> None:
    context = server_context(made("valid"), "AES128-SHA:@SECLEVEL=0")
    context.maximum_version = ssl.TLSVersion.TLSv1_2
    fact = shown(asked(tls(context)))
    assert (fact.tls, fact.verified) == ("TLSv1.2", False)
    assert "refused us: handshake failure" in fact.fault


def test_a_peer_with_nothing_in_common_has_refused() -> None:
    context = server_context(made("valid"), "CAMELLIA128-SHA:@SECLEVEL=0")
    context.maximum_version = ssl.TLSVersion.TLSv1_2
    assert missed(asked(tls(context))) == (Outcome.FAILED, "speaks TLS and refused us: handshake failure")


# --- where it asks


def test_only_printing_and_web_ports_are_ever_spoken_to() -> None:
    """Whatever reaches a raw port is printed."""
    reached: list[str] = []
    names = ("ipp", "ipps", "raw", "lpd", "http", "https", "smb")

    def note(name: str) -> Handler:
        return lambda _: reached.append(name)

    def reach(*services: str) -> list[str]:
        reached.clear()
        asyncio.run(gathered(target({name: ports[name] for name in services}), 0.4))
        return sorted(set(reached))

    with (
        listening(note("ipp")) as a,
        listening(note("ipps")) as b,
        listening(note("raw")) as c,
        listening(note("lpd")) as d,
        listening(note("http")) as e,
        listening(note("https")) as f,
        listening(note("smb")) as g,
    ):
        ports = dict(zip(names, (a, b, c, d, e, f, g), strict=True))
        assert reach(*names) == ["https", "ipps"]
        assert reach("ipp", "raw", "lpd", "http", "https") == ["https", "ipp"]
        assert reach("raw", "lpd", "http", "smb") == []


def test_one_port_is_asked_once_and_a_silent_one_does_not_hold_the_other() -> None:
    with listening(tls(server_context(made("valid")))) as spoken, listening(waits) as silent:
        (same,) = asyncio.run(gathered(target({"ipp": spoken, "https": spoken})))
        assert isinstance(same, Answer)
        first, last = asyncio.run(gathered(target({"ipps": silent, "https": spoken}), 1))
    assert shown(first).port == spoken
    assert missed(last)[0] is Outcome.SILENT


def test_a_run_makes_a_case_with_a_certificate_and_leaves_no_connection() -> None:
    recorder = Recorder()
    with listening(tls(server_context(made("valid")))) as port, listening(says(b"HTTP/1.1 400 x\r\n\r\n")) as plain:
        where = Target(Role.NEW, "127.0.0.1", ports={"ipps": port, "https": plain})
        asyncio.run(collect_once([where], [NAMES, PROBE], recorder, 5))
    case = recorder.case(Move())
    (seen,) = [item for item in case.observations if item.kind == "certificate"]
    assert (seen.probe, seen.source, seen.value["port"]) == ("tls", f"tcp/{port} certificate", port)
    outcomes = {each.target: each.outcome for each in case.attempts if each.probe == "tls"}
    assert outcomes == {f"127.0.0.1 tcp/{port}": Outcome.ANSWERED, f"127.0.0.1 tcp/{plain}": Outcome.MALFORMED}
