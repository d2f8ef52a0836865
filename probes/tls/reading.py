"""Stage: read. A certificate in DER (RFC 5280) → the fact. Pure, and suspicious: the peer chose every octet.

The parser is `cryptography`'s: it is strict, does not recurse into what it does not know, and checks signatures,
without which "signed by itself" would be a guess. What it does not take is malformed; what it takes is cut to a bounded
fact.
"""

import hashlib
import warnings
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Final, NamedTuple

from netcheck.facts import Fact
from netcheck.facts.link import Certificate
from netcheck.probing import Malformed
from probes.tls.asking import Shown

if TYPE_CHECKING:
    from cryptography import x509

MAX_NAMES: Final = 100
MAX_TEXT: Final = 1024
"""Characters of a name: RFC 5280 appendix A.1 sets 64 for a common name; nothing sets a bound for a whole one."""
_MAX_DER: Final = 256 << 10
_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
_MS: Final = timedelta(milliseconds=1)
_KEY_TYPES: Final = {
    "1.2.840.113549.1.1.1": "rsaEncryption",  # RFC 3279 section 2.3.1
    "1.2.840.113549.1.1.10": "id-RSASSA-PSS",  # RFC 4055 section 1.2
    "1.2.840.10040.4.1": "id-dsa",  # RFC 3279 section 2.3.2
    "1.2.840.10045.2.1": "id-ecPublicKey",  # RFC 5480 section 2.1.1
    "1.3.101.112": "id-Ed25519",  # RFC 8410 section 3
    "1.3.101.113": "id-Ed448",
}


def read(payload: Shown) -> Iterable[tuple[str, Fact]]:
    """The certificate. Raises Malformed."""
    der = payload.shaken.der
    if len(der) > _MAX_DER:
        raise Malformed(f"a certificate of {len(der)} octets, more than {_MAX_DER}")
    said = _said(der)
    yield (
        f"tcp/{payload.port} certificate",
        Certificate(
            port=payload.port,
            tls=payload.shaken.version,
            subject=_cut(said.subject),
            issuer=_cut(said.issuer),
            names=tuple(map(_cut, said.names[:MAX_NAMES])),
            not_before_ms=(said.not_before - _EPOCH) // _MS,
            not_after_ms=(said.not_after - _EPOCH) // _MS,
            key_type=_KEY_TYPES.get(said.key_type, said.key_type),
            key_bits=said.key_bits,
            fingerprint=hashlib.sha256(der).hexdigest(),
            self_signed=said.self_signed,
            chain_length=payload.shaken.chain_length,
            verified=not payload.fault,
            fault=payload.fault,
            names_complete=len(said.names) <= MAX_NAMES,
        ),
    )


def _cut(text: str) -> str:
    return text if len(text) <= MAX_TEXT else f"{text[:MAX_TEXT]}..."


class _Said(NamedTuple):
    """What a certificate says, as the parser has it; the key's type is a dotted identifier."""

    subject: str
    issuer: str
    names: list[str]
    not_before: datetime
    not_after: datetime
    key_type: str
    key_bits: int
    self_signed: bool


def _said(der: bytes) -> _Said:
    """Everything that is asked of the parser, which parses most parts when they are asked for."""
    from cryptography import x509  # here, because it costs 40 ms and most runs meet no TLS

    broken = (x509.InvalidVersion, x509.DuplicateExtension, x509.UnsupportedGeneralNameType)
    # A serial number that is not positive is the issuer's sin and no news to the user, whom the parser would tell.
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            parsed = x509.load_der_x509_certificate(der)
            return _Said(
                parsed.subject.rfc4514_string(),
                parsed.issuer.rfc4514_string(),
                _names(parsed),
                parsed.not_valid_before_utc,
                parsed.not_valid_after_utc,
                parsed.public_key_algorithm_oid.dotted_string,
                _key_bits(parsed),
                _is_self_signed(parsed),
            )
        except (ValueError, TypeError, KeyError, *broken) as error:
            # TypeError: a common name that is a BIT STRING. KeyError, before version 50: one of a type that is none.
            raise Malformed(f"not a certificate by RFC 5280: {_cut(str(error))}") from error


def _names(parsed: "x509.Certificate") -> list[str]:
    """DNS names and addresses; where it has none of them, its common names (RFC 6125 section 6.4.4)."""
    from cryptography import x509

    try:
        alternatives = parsed.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except x509.ExtensionNotFound:
        found = []
    else:
        addresses = alternatives.get_values_for_type(x509.IPAddress)
        found = [*alternatives.get_values_for_type(x509.DNSName), *map(str, addresses)]
    return found or [str(each.value) for each in parsed.subject.get_attributes_for_oid(x509.NameOID.COMMON_NAME)]


def _key_bits(parsed: "x509.Certificate") -> int:
    """0 for a type that has one size only, or that the parser does not know."""
    from cryptography.exceptions import UnsupportedAlgorithm

    try:
        return getattr(parsed.public_key(), "key_size", 0)
    except UnsupportedAlgorithm:
        return 0


def _is_self_signed(parsed: "x509.Certificate") -> bool:
    """RFC 5280 section 3.2: issued to itself, and signed by the key in it. Where the signature's algorithm is not known
    here, the first half has to do."""
    from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm

    if parsed.issuer != parsed.subject:
        return False
    try:
        parsed.verify_directly_issued_by(parsed)
    except InvalidSignature:
        return False
    except (UnsupportedAlgorithm, TypeError):
        return True
    return True
