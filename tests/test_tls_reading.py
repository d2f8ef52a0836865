"""Certificates as the `tls` probe reads them, against what `openssl x509` says about the same file (RFC 5280)."""

import ipaddress
import random
import re
import ssl
import subprocess
import warnings

import pytest

from netcheck.facts.link import Certificate
from netcheck.probing import Malformed
from probes.tls import PROBE
from probes.tls.asking import Shown
from probes.tls.handshake import Shaken
from probes.tls.reading import MAX_NAMES, MAX_TEXT

from .test_tls_made import (
    KINDS,
    LARGE,
    Made,
    made,
    needs_openssl,
    openssl,
    said,
    said_dates,
    said_fingerprint,
    said_key,
    said_names,
)

pytestmark = needs_openssl


def read(der: bytes, fault: str = "self-signed certificate") -> Certificate:
    ((source, fact),) = PROBE.read(Shown(631, Shaken("TLSv1.3", der, 1), fault))
    assert source == "tcp/631 certificate"
    assert isinstance(fact, Certificate)
    return fact


@pytest.mark.parametrize("name", KINDS)
def test_a_certificate_is_what_openssl_says(name: str) -> None:
    it = made(name)
    fact = read(it.der)
    assert (fact.not_before_ms, fact.not_after_ms) == said_dates(it.certificate)
    assert fact.fingerprint == said_fingerprint(it.certificate)
    assert f"subject={fact.subject}\n" == said(it.certificate, "-subject")
    assert f"issuer={fact.issuer}\n" == said(it.certificate, "-issuer")
    assert fact.self_signed is (KINDS[name].issuer == "")
    assert (fact.port, fact.tls, fact.chain_length) == (631, "TLSv1.3", 1)


@pytest.mark.parametrize("name", ["valid", "weak", "curve", "edwards"])
def test_the_key_is_what_openssl_says(name: str) -> None:
    fact = read(made(name).der)
    algorithm, bits = said_key(made(name).certificate)
    # RFC 8410 section 3 calls it id-Ed25519; such a key has one size, and neither side says it.
    assert (fact.key_type, fact.key_bits) == ("id-Ed25519" if algorithm == "ED25519" else algorithm, bits)


@pytest.mark.parametrize("name", ["valid", "other"])
def test_the_names_are_what_openssl_says(name: str) -> None:
    fact = read(made(name).der)
    expected = said_names(made(name).certificate)
    assert expected
    assert fact.names == tuple(
        str(ipaddress.ip_address(value)) if kind == "IP Address" else value for kind, value in expected
    )
    assert fact.names_complete


def test_without_alternative_names_the_common_name_counts() -> None:
    # RFC 6125 section 6.4.4
    assert read(made("nameless").der).names == ("nameless",)


def test_of_too_many_names_the_first_are_kept_and_it_is_said() -> None:
    der = made("large").der
    assert 60_000 < len(der) < 100_000
    fact = read(der)
    assert len(said_names(made("large").certificate)) == LARGE
    assert fact.names == tuple(value for _, value in said_names(made("large").certificate)[:MAX_NAMES])
    assert not fact.names_complete


@pytest.mark.parametrize(("fault", "verified"), [("", True), ("certificate has expired", False)])
def test_trust_is_what_the_handshake_said(fault: str, *, verified: bool) -> None:
    fact = read(made("valid").der, fault)
    assert (fact.verified, fact.fault) == (verified, fault)


# --- what is none, or odd


def test_a_wrong_signature_is_not_self_signed() -> None:
    der = bytearray(made("valid").der)
    der[-1] ^= 1  # the signature comes last (RFC 5280 section 4.1)
    damaged = made("valid").certificate.with_name("damaged.crt")
    damaged.write_text(ssl.DER_cert_to_PEM_cert(der))
    check = ["openssl", "verify", "-check_ss_sig", "-CAfile", str(damaged), str(damaged)]
    assert "signature failure" in subprocess.run(check, capture_output=True, text=True).stderr
    assert read(bytes(der)).self_signed is False


def test_a_serial_number_of_zero_is_read_without_a_word() -> None:
    """RFC 5280 section 4.1.2.2 wants it positive, and users to cope when it is not."""
    odd, key = made("valid").certificate.with_name("zero.crt"), made("valid").key
    openssl("req", "-x509", "-new", "-key", key, "-subj", "/CN=zero", "-set_serial", "0", "-out", odd)
    assert said(odd, "-serial") == "serial=00\n"
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert read(Made(odd, key, odd).der).subject == "CN=zero"


def test_a_name_without_end_is_cut() -> None:
    long, key = made("valid").certificate.with_name("long.crt"), made("valid").key
    name = "".join(f"/OU={number:060}" for number in range(40))
    openssl("req", "-x509", "-new", "-key", key, "-subj", f"{name}/CN=long", "-out", long)
    assert len(said(long, "-subject")) > 2000
    assert len(read(Made(long, key, long).der).subject) == MAX_TEXT + len("...")


def test_a_certificate_that_ends_early_is_malformed() -> None:
    der = made("curve").der
    for end in range(len(der)):
        with pytest.raises(Malformed, match="RFC 5280"):
            read(der[:end])


@pytest.mark.parametrize(
    "octets",
    [
        b"",
        b"<html>",
        b"\x30\x80" * 10_000,  # indefinite length, nested: forbidden in DER (X.690 section 10.1)
        b"\x30\x84\xff\xff\xff\xff",
        b"\x30\x03\x02\x01\x00",
        bytes(1 << 20),
    ],
)
def test_what_is_no_certificate_is_malformed(octets: bytes) -> None:
    with pytest.raises(Malformed):
        read(octets)


def test_the_same_extension_twice_is_malformed() -> None:
    """RFC 5280 section 4.2: a certificate must not have two of one kind. What differs here is a name's last letter."""
    twice, key = made("valid").certificate.with_name("twice.crt"), made("valid").key
    more = ["-addext", "subjectAltName=DNS:a.example", "-addext", "1.2.3.4.5.6.7=ASN1:NULL"]
    openssl("req", "-x509", "-new", "-key", key, "-subj", "/CN=twice", *more, "-out", twice)
    der = Made(twice, key, twice).der
    own, alternative = bytes.fromhex("06062a0304050607"), bytes.fromhex("0603551d11")
    assert der.count(own) == der.count(alternative) == 1
    # Both identifiers in one length: 1.2.3.4.5.6.7 becomes a second basicConstraints (2.5.29.19), padded nowhere.
    assert re.search(rb"\x06\x03\x55\x1d\x13", der)
    doubled = der.replace(alternative, bytes.fromhex("0603551d13"))
    with pytest.raises(Malformed, match="uplicate"):
        read(doubled)


def test_damage_is_malformed_or_read_and_nothing_else() -> None:
    rng = random.Random("damage")
    read_anyway = malformed = 0
    for name in ("valid", "curve", "leaf"):
        whole = made(name).der
        for _ in range(1500):
            octets = bytearray(whole)
            for _ in range(rng.randint(1, 4)):
                octets[rng.randrange(len(octets))] = rng.randrange(256)
            try:
                read(bytes(octets))
                read_anyway += 1
            except Malformed:
                malformed += 1
    assert min(read_anyway, malformed) > 500
