"""Certificates for the tests, made by `openssl`, and what `openssl` says about them: it is the independent counterpart.

Made once for each process that tests, when first asked for. The names are of the invented site.
"""

import atexit
import functools
import re
import shutil
import subprocess
import tempfile
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest

HOST = "halden-36r.harrow.example"
_NAMES = (f"DNS.1={HOST}", "DNS.2=halden-36r.local", "IP.1=127.0.0.1", "IP.2=::1")
LARGE = 3100
"""Names enough for 62 KiB of them, in a certificate that OpenSSL still sends and takes (100 KiB)."""

_CONFIG = """
[ca]
default_ca = issuer
[issuer]
database = index
new_certs_dir = .
rand_serial = yes
default_md = sha256
unique_subject = no
policy = any
x509_extensions = leaf
[any]
organizationName = optional
commonName = supplied
[authority]
basicConstraints = critical,CA:TRUE
subjectKeyIdentifier = hash
[leaf]
subjectKeyIdentifier = hash
[named]
subjectKeyIdentifier = hash
subjectAltName = @names
[names]
"""


@dataclass(frozen=True)
class Kind:
    """What to make: a key (`openssl genpkey`), its time, its names, and who signs it ("" for itself)."""

    key: tuple[str, ...] = ("-algorithm", "EC", "-pkeyopt", "ec_paramgen_curve:P-256")
    begin: str = "20250101000000Z"
    end: str = "20450101000000Z"
    names: tuple[str, ...] = _NAMES
    extensions: str = "named"
    issuer: str = ""


KINDS = {
    "valid": Kind(("-algorithm", "RSA", "-pkeyopt", "rsa_keygen_bits:2048")),
    "renewed": Kind(),
    "expired": Kind(begin="20180301000000Z", end="20190301000000Z"),
    "future": Kind(begin="20980301000000Z", end="20990301000000Z"),
    "other": Kind(names=("DNS.1=corvid-24s.harrow.example",)),
    "weak": Kind(("-algorithm", "RSA", "-pkeyopt", "rsa_keygen_bits:1024")),
    "curve": Kind(),
    "edwards": Kind(("-algorithm", "ED25519")),
    "nameless": Kind(names=(), extensions="leaf"),
    "large": Kind(names=tuple(f"DNS.{number}=name-{number:05}.example" for number in range(1, LARGE + 1))),
    "root": Kind(names=(), extensions="authority"),
    "middle": Kind(names=(), extensions="authority", issuer="root"),
    "leaf": Kind(issuer="middle"),
}

needs_openssl = pytest.mark.skipif(not shutil.which("openssl"), reason="openssl makes the certificates of these tests")


@dataclass(frozen=True)
class Made:
    """A certificate and its key in PEM; `chain` also has its issuers, up to the root."""

    certificate: Path
    key: Path
    chain: Path

    @property
    def der(self) -> bytes:
        return subprocess.run(
            ["openssl", "x509", "-in", self.certificate, "-outform", "DER"], check=True, capture_output=True
        ).stdout


@functools.cache
def _folder() -> Path:
    folder = Path(tempfile.mkdtemp(prefix="netcheck-tls-"))
    atexit.register(shutil.rmtree, folder)
    (folder / "index").touch()
    return folder


@functools.cache
def made(name: str) -> Made:
    """The certificate of one of the kinds above."""
    kind, folder = KINDS[name], _folder()
    certificate, key, chain = (folder / f"{name}.{end}" for end in ("crt", "key", "chain"))
    (folder / f"{name}.cnf").write_text(_CONFIG + "\n".join(kind.names))
    openssl("genpkey", *kind.key, "-out", key.name)
    openssl("req", "-new", "-key", key.name, "-subj", f"/O=Harrow Lane/CN={name}", "-out", f"{name}.csr")
    signer = made(kind.issuer) if kind.issuer else None
    by: list[str | Path] = (
        ["-cert", signer.certificate, "-keyfile", signer.key] if signer else ["-selfsign", "-keyfile", key]
    )
    time = ["-startdate", kind.begin, "-enddate", kind.end]
    what: list[str | Path] = ["-in", f"{name}.csr", "-out", certificate, "-extensions", kind.extensions]
    openssl("ca", "-batch", "-notext", "-config", f"{name}.cnf", *by, *time, *what)
    chain.write_text(certificate.read_text() + (signer.chain.read_text() if signer else ""))
    return Made(certificate, key, chain)


def openssl(*arguments: str | Path) -> str:
    """Run it in the folder of the certificates. What it prints; AssertionError with its complaint."""
    done = subprocess.run(["openssl", *arguments], cwd=_folder(), capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    return done.stdout


def said(certificate: Path, *what: str) -> str:
    """What `openssl x509` prints about a certificate."""
    return openssl("x509", "-in", certificate, "-noout", "-nameopt", "RFC2253", *what)


def said_dates(certificate: Path) -> tuple[int, int]:
    """notBefore and notAfter in ms since 1970."""
    texts = [line.partition("=")[2] for line in said(certificate, "-dates").splitlines()]
    begin, end = (datetime.strptime(text, "%b %d %H:%M:%S %Y GMT").replace(tzinfo=UTC) for text in texts)
    return int(begin.timestamp()) * 1000, int(end.timestamp()) * 1000


def said_fingerprint(certificate: Path) -> str:
    """SHA-256 as we write it."""
    return said(certificate, "-fingerprint", "-sha256").partition("=")[2].strip().replace(":", "").lower()


def said_names(certificate: Path) -> list[tuple[str, str]]:
    """Kind and value of each subject alternative name."""
    return re.findall(r"(DNS|IP Address):([^,\s]+)", said(certificate, "-ext", "subjectAltName"))


def said_key(certificate: Path) -> tuple[str, int]:
    """The key's algorithm and its bits; 0 where none are said."""
    text = said(certificate, "-text")
    algorithm, bits = re.search(r"Public Key Algorithm: (\S+)", text), re.search(r"Public-Key: \((\d+) bit\)", text)
    assert algorithm, text
    return algorithm[1], int(bits[1]) if bits else 0
