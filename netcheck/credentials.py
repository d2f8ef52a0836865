"""Who we are to an SNMP agent. Stage: before collect; nothing behind the probes ever holds any of it.

A Move names a profile. What the profile means is kept on the machine that asks, in a file of its own outside of any
Move, so that a Move can be mailed. The file does not hold secrets either: it says where each one is, in an environment
variable (``env:SITE_AUTH``) or in the system's key store (``keyring:netcheck/site-auth``).

    [snmp.site]
    version = "3"
    user = "diag"
    auth = "SHA-256"
    auth_secret = "env:SITE_AUTH"
    priv = "AES-128"
    priv_secret = "keyring:netcheck/site-priv"

    [snmp.legacy]
    community = "env:SITE_COMMUNITY"

A profile that is not in the file is a community in ``NETCHECK_SNMP_<PROFILE>_COMMUNITY``; without a profile it is in
``NETCHECK_SNMP_COMMUNITY``.
"""

import importlib
import os
import re
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple, TypeAlias

from netcheck.errors import Complaint, InputError
from netcheck.secret import Secret
from netcheck.tables import Document, Table

AUTHENTICATION = ("SHA-1", "SHA-224", "SHA-256", "SHA-384", "SHA-512")
"""RFC 3414 s7 (SHA-1, as HMAC-SHA-96) and RFC 7860."""
PRIVACY = ("AES-128", "AES-192", "AES-256")
"""RFC 3826; the longer keys are common practice, of which there are two kinds (see probes/snmp/v3_engine.py)."""
SHORTEST = 8
"""Characters of a password from which keys are made (RFC 3414 s11.2)."""

_LONGEST_NAME = 32  # octets of a user's name (RFC 3414 s5, usmUserName)
_FILE = "NETCHECK_PROFILES"
_REFERENCE = 'where the secret is, as "env:SITE_AUTH" or "keyring:netcheck/site-auth"'
_VARIABLE = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")
_USUAL_VARIABLE = re.compile(r"[A-Z_][A-Z0-9_]*")
_COMMUNITY_VARIABLE = re.compile(r"NETCHECK_SNMP_(.+_)?COMMUNITY")
_HARMLESS = re.compile(r"v?[0-9][a-z]?|(MD|SHA|AES|3?DES)[-_]?[0-9]{0,3}", re.IGNORECASE)
"""What a complaint about the file may repeat: a version, a hash or a cipher. All else may be a secret by mistake."""


@dataclass(frozen=True, slots=True)
class Community:
    """A community of SNMPv1 and v2c. Which of the two is spoken, the agent decides."""

    secret: Secret


@dataclass(frozen=True, slots=True)
class User:
    """A user of SNMPv3's user-based security model. ``auth`` and ``priv`` are of AUTHENTICATION and PRIVACY, or "" for
    none; there is no privacy without authentication (RFC 3411 s3.4.3)."""

    name: str
    auth: str = ""
    auth_secret: Secret = Secret("")  # noqa: RUF009 - immutable
    priv: str = ""
    priv_secret: Secret = Secret("")  # noqa: RUF009 - immutable


Credentials: TypeAlias = Community | User


class Reference(NamedTuple):
    """Where a secret is: in the environment variable ``name``, or in the key store under ``service`` and ``name``."""

    service: str
    name: str

    def __str__(self) -> str:
        return f"keyring:{self.service}/{self.name}" if self.service else f"env:{self.name}"


@dataclass(frozen=True, slots=True)
class _Profile:
    """A profile as it is written."""

    user: str
    auth: str
    priv: str
    references: Mapping[str, Reference]


def credentials(profile: str) -> Credentials:
    """What a profile stands for, its secrets included. Raises InputError with every complaint about the file, or about
    the secrets that the profile refers to. What is not known anywhere is the community ``public``, with which devices
    are shipped (common practice, no source)."""
    path = profiles_path()
    written = _profiles(path).get(profile) if profile else None
    if written is None:
        return Community(community(profile))
    complaints: list[Complaint] = []
    secrets: dict[str, Secret] = {}
    for key, reference in written.references.items():
        try:
            secrets[key] = _secret(reference, SHORTEST if written.user else 1)
        except _Unusable as unusable:
            complaints.append(Complaint(str(path), f"[snmp.{profile}] {key}", *unusable.args))
    if complaints:
        raise InputError(*complaints)
    if not written.user:
        return Community(secrets["community"])
    nothing = Secret("")
    return User(
        written.user,
        written.auth,
        secrets.get("auth_secret", nothing),
        written.priv,
        secrets.get("priv_secret", nothing),
    )


def community(profile: str = "") -> Secret:
    """The community of a profile that is not in the file."""
    return Secret(os.environ.get(community_variable(profile), "public"))


def communities() -> list[Secret]:
    """Every community that this environment holds, whether a run uses it or not: none may be in what a run records."""
    return [Secret(value) for name, value in os.environ.items() if _COMMUNITY_VARIABLE.fullmatch(name)]


def is_set(profile: str) -> bool:
    """Does this machine know the profile? Raises InputError where its file is wrong."""
    return community_variable(profile) in os.environ or profile in _profiles(profiles_path())


def community_variable(profile: str) -> str:
    """The name of the environment variable that holds the community of a profile which is not in the file."""
    infix = f"{profile.upper().replace('-', '_')}_" if profile else ""
    return f"NETCHECK_SNMP_{infix}COMMUNITY"


def profiles_path() -> Path:
    """Where the profiles are: what NETCHECK_PROFILES says, else where the platform keeps such files."""
    if named := os.environ.get(_FILE):
        return Path(named)
    if sys.platform == "win32":
        kept = os.environ.get("APPDATA")
        return (Path(kept) if kept else Path.home() / "AppData" / "Roaming") / "netcheck" / "profiles.toml"
    kept = os.environ.get("XDG_CONFIG_HOME")
    return (Path(kept) if kept else Path.home() / ".config") / "netcheck" / "profiles.toml"


# --- the file --------------------------------------------------------------------------------------------------------


def _profiles(path: Path) -> dict[str, _Profile]:
    """Every profile of the file; none where nobody made one. One that was named has to be there."""
    if not os.environ.get(_FILE) and not path.exists():
        return {}
    document = Document(path, harmless=_HARMLESS)
    profiles = {name: _profile(table) for name, table in document.root.table("snmp").named().items()}
    document.finish()
    return profiles


def _profile(table: Table) -> _Profile:
    version = table.parsed("version", _version, '"1", "2c" or "3", as text') or ""
    references = {
        key: reference
        for key in ("community", "auth_secret", "priv_secret")
        if (reference := table.hidden(key, parse_reference, _REFERENCE))
    }
    profile = _Profile(
        user=table.parsed("user", _user_name, f"a user's name of at most {_LONGEST_NAME} octets") or "",
        auth=table.choice("auth", AUTHENTICATION),
        priv=table.choice("priv", PRIVACY),
        references=references,
    )
    if table.has("user") or version == "3":
        _check_user(table, version)
    else:
        _check_community(table)
    return profile


def _check_user(table: Table, version: str) -> None:
    if not table.has("user"):
        table.complain("user", "nothing", "the user's name, which version 3 needs")
    if version in ("1", "2c"):
        table.complain("version", repr(version), 'version = "3", which is the one with users')
    if table.has("community"):
        table.complain("community", "a community", "none in a profile of version 3, which has users")
    for one, other in (
        ("auth", "auth_secret"),
        ("auth_secret", "auth"),
        ("priv", "priv_secret"),
        ("priv_secret", "priv"),
    ):
        if table.has(one) and not table.has(other):
            table.complain(other, "nothing", f"a value, since there is {one}")
    if table.has("priv") and not table.has("auth"):
        table.complain("auth", "nothing", "a hash: there is no privacy without authentication (RFC 3411 s3.4.3)")


def _check_community(table: Table) -> None:
    if not table.has("community"):
        table.complain("community", "nothing", _REFERENCE)
    for key in ("auth", "auth_secret", "priv", "priv_secret"):
        if table.has(key):
            table.complain(key, "a setting of version 3", 'version = "3" and a user, or none of this')


def parse_reference(text: str) -> Reference:
    """``env:NAME`` or ``keyring:SERVICE/NAME``. Raises ValueError, which does not say what was there."""
    kind, _, rest = text.partition(":")
    if kind == "env" and _VARIABLE.fullmatch(rest):
        return Reference("", rest)
    service, slash, name = rest.partition("/")
    if kind == "keyring" and slash and service.strip() and name.strip() and rest.isprintable():
        return Reference(service.strip(), name.strip())
    raise ValueError("not a reference")


def _version(text: str) -> str:
    if text not in ("1", "2c", "3"):
        raise ValueError(text)
    return text


def _user_name(text: str) -> str:
    if len(text.encode()) > _LONGEST_NAME:
        raise ValueError(text)
    return text


# --- the secrets -----------------------------------------------------------------------------------------------------


class _Unusable(Exception):  # noqa: N818 - a reference that leads to no secret; args are what was found and wanted
    pass


def _secret(reference: Reference, shortest: int) -> Secret:
    value = _from_key_store(reference) if reference.service else os.environ.get(reference.name)
    named = _named(reference)
    if not value:
        wanted = "the key store to hold it" if reference.service else "that environment variable set"
        raise _Unusable(f"{named}, where nothing is", wanted)
    if len(value) < shortest:
        raise _Unusable(
            f"{named}, where fewer than {shortest} characters are",
            f"a password of at least {shortest} characters (RFC 3414 s11.2)",
        )
    return Secret(value)


def _named(reference: Reference) -> str:
    """A reference as a complaint shows it: what is not named as variables are may be the secret itself."""
    usual = reference.service or _USUAL_VARIABLE.fullmatch(reference.name)
    return str(reference) if usual else "env: and a name that is not shown, as it may be a secret"


def _from_key_store(reference: Reference) -> str | None:
    try:
        keyring = importlib.import_module("keyring")
    except ImportError:
        raise _Unusable(
            f"{reference}, but the Python package keyring is not installed",
            f'it installed, or an environment variable in its place, as "env:{community_variable("site")}"',
        ) from None
    try:
        value = keyring.get_password(reference.service, reference.name)
    except Exception as error:  # noqa: BLE001 - somebody else's program: its text may hold anything, and is not for a report
        raise _Unusable(
            f"{reference}, but the key store gives nothing out ({type(error).__name__})", "it unlocked"
        ) from None
    return value if isinstance(value, str) else None
