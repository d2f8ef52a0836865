"""Profiles: where they are, what they may say, and that no secret is ever shown."""

import json
import sys
import types
from pathlib import Path

import pytest

from netcheck.collect import targets_of
from netcheck.credentials import Community, Reference, User, credentials, is_set, parse_reference, profiles_path
from netcheck.errors import InputError
from netcheck.gates import Gate
from netcheck.move import DeviceRef, Move
from netcheck.secret import Secret
from netcheck.standard import Standard

SITE = """
[snmp.site]
version = "3"
user = "diag"
auth = "SHA-256"
auth_secret = "env:SITE_AUTH"
priv = "AES-128"
priv_secret = "env:SITE_PRIV"
[snmp.legacy]
community = "env:SITE_COMMUNITY"
[snmp.signed]
user = "diag"
auth = "SHA-512"
auth_secret = "env:SITE_AUTH"
[snmp.open]
version = "3"
user = "guest"
"""


@pytest.fixture(autouse=True)
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "profiles.toml"
    path.write_text(SITE, "utf-8")
    monkeypatch.setenv("NETCHECK_PROFILES", str(path))
    monkeypatch.setenv("SITE_AUTH", "auth-pass-1")
    monkeypatch.setenv("SITE_PRIV", "priv-pass-2")
    monkeypatch.setenv("SITE_COMMUNITY", "harrow")
    for name in ("NETCHECK_SNMP_COMMUNITY", "NETCHECK_SNMP_SITE_COMMUNITY", "NETCHECK_SNMP_ELSEWHERE_COMMUNITY"):
        monkeypatch.delenv(name, raising=False)
    return path


def refused(profile: str = "site") -> list[str]:
    with pytest.raises(InputError) as raised:
        credentials(profile)
    return [str(complaint) for complaint in raised.value.complaints]


def test_profiles_of_every_kind() -> None:
    auth, priv = Secret("auth-pass-1"), Secret("priv-pass-2")
    assert credentials("site") == User("diag", "SHA-256", auth, "AES-128", priv)
    assert credentials("signed") == User("diag", "SHA-512", auth)
    assert credentials("open") == User("guest")
    assert credentials("legacy") == Community(Secret("harrow"))


def test_a_profile_that_is_not_in_the_file_is_a_variable(monkeypatch: pytest.MonkeyPatch) -> None:
    assert credentials("elsewhere") == Community(Secret("public"))
    assert not is_set("elsewhere")
    monkeypatch.setenv("NETCHECK_SNMP_ELSEWHERE_COMMUNITY", "plans")
    assert credentials("elsewhere") == Community(Secret("plans"))
    assert is_set("elsewhere")
    assert is_set("site")


def test_without_a_profile_the_file_is_of_no_concern(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file.write_text("not TOML", "utf-8")
    monkeypatch.setenv("NETCHECK_SNMP_COMMUNITY", "plans")
    assert credentials("") == Community(Secret("plans"))


def test_the_file_wins_over_the_variable(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NETCHECK_SNMP_SITE_COMMUNITY", "plans")
    assert isinstance(credentials("site"), User)


def test_what_the_devices_are_asked_with() -> None:
    def target(profile: str) -> tuple[User | None, Secret]:
        move = Move(device=DeviceRef("192.0.2.61"), snmp_profile=profile)
        found = targets_of(move, Standard(), Gate.STANDING)[0]
        return found.user, found.community

    user, community = target("site")
    assert user == credentials("site")
    assert community == Secret("")
    assert target("legacy") == (None, Secret("harrow"))


# --- where the file is -----------------------------------------------------------------------------------------------


def test_the_usual_places(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """XDG Base Directory Specification 0.8; on Windows, application data that follow the user (APPDATA)."""
    monkeypatch.delenv("NETCHECK_PROFILES")
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    assert profiles_path() == tmp_path / "config" / "netcheck" / "profiles.toml"
    monkeypatch.delenv("XDG_CONFIG_HOME")
    monkeypatch.setattr(Path, "home", lambda: tmp_path)
    assert profiles_path() == tmp_path / ".config" / "netcheck" / "profiles.toml"
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setenv("APPDATA", str(tmp_path / "Roaming"))
    assert profiles_path() == tmp_path / "Roaming" / "netcheck" / "profiles.toml"


def test_no_file_is_no_fault_unless_it_was_named(file: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    file.unlink()
    assert str(file) in refused()[0]
    monkeypatch.delenv("NETCHECK_PROFILES")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    assert credentials("site") == Community(Secret("public"))


# --- what is wrong with it -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("key", ["auth_secret", "priv_secret"])
@pytest.mark.parametrize("literal", ['"hunter2-hunter2"', '"env:hunter2 hunter2"', '"keyring:hunter2"', "77227722"])
def test_a_secret_itself_is_refused_and_not_repeated(file: Path, key: str, literal: str) -> None:
    name = "SITE_AUTH" if key == "auth_secret" else "SITE_PRIV"
    file.write_text(SITE.replace(f'{key} = "env:{name}"', f"{key} = {literal}", 1), "utf-8")
    (complaint,) = refused()
    assert f"[snmp.site] {key}" in complaint
    assert "env:SITE_AUTH" in complaint
    assert not any(part in complaint for part in ("hunter2", "7722"))


def test_every_complaint_at_once(file: Path) -> None:
    file.write_text(
        """
        [snmp.a]
        version = 3
        user = "diag"
        auth = "MD5"
        [snmp.b]
        user = "diag"
        priv = "AES-128"
        community = "env:C"
        [snmp.c]
        version = "3"
        [snmp.d]
        auth = "SHA-1"
        [snmp.e]
        community = "env:C"
        comunity = "env:C"
        [snmp.f]
        version = "2c"
        user = "a-name-that-is-longer-than-thirty-two-octets"
        """,
        "utf-8",
    )
    found = "\n".join(refused("f"))
    for part in (
        '[snmp.a] version: found 3; wanted "1", "2c" or "3"',
        "[snmp.a] auth: found 'MD5'; wanted SHA-1 or SHA-224",
        "[snmp.a] auth_secret: found nothing",
        "[snmp.b] priv_secret: found nothing",
        "[snmp.b] auth: found nothing; wanted a hash",
        "[snmp.b] community",
        "[snmp.c] user: found nothing",
        "[snmp.d] community: found nothing",
        "[snmp.d] auth: found a setting of version 3",
        "[snmp.e] comunity: found a key that is not known; wanted one of",
        "[snmp.f] user",
        "[snmp.f] version: found '2c'",
    ):
        assert part in found


def test_secrets_that_are_not_there_are_all_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("SITE_AUTH")
    monkeypatch.setenv("SITE_PRIV", "")
    found = refused()
    assert len(found) == 2
    assert "[snmp.site] auth_secret: found env:SITE_AUTH, where nothing is" in found[0]
    assert credentials("legacy") == Community(Secret("harrow")), "what another profile lacks is its own affair"


def test_passwords_under_eight_characters_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """RFC 3414 s11.2 (USM-04): at least eight; a community may be shorter."""
    monkeypatch.setenv("SITE_AUTH", "seven77")
    monkeypatch.setenv("SITE_PRIV", "eight888")
    monkeypatch.setenv("SITE_COMMUNITY", "x")
    (complaint,) = refused()
    assert "fewer than 8" in complaint
    assert "seven77" not in complaint
    assert credentials("legacy") == Community(Secret("x"))


def test_references() -> None:
    assert parse_reference("env:SITE_AUTH") == Reference("", "SITE_AUTH")
    assert parse_reference("keyring:netcheck/site-auth") == Reference("netcheck", "site-auth")
    for text in ("", "env:", "env:A B", "keyring:", "keyring:/x", "keyring:x/", "file:/x", "SITE_AUTH"):
        with pytest.raises(ValueError, match=r"^not a reference$"):
            parse_reference(text)


# --- the key store ---------------------------------------------------------------------------------------------------


def key_store(monkeypatch: pytest.MonkeyPatch, held: dict[tuple[str, str], str], *, locked: bool = False) -> None:
    """In the place of the library `keyring`, with the one function and the one error of it that are used."""
    store, errors = types.ModuleType("keyring"), types.ModuleType("keyring.errors")

    class KeyringError(Exception):
        pass

    def get_password(service: str, name: str) -> str | None:
        if locked:
            raise KeyringError("auth-pass-1 is behind a lock")
        return held.get((service, name))

    store.get_password = get_password  # type: ignore[attr-defined]
    errors.KeyringError = KeyringError  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "keyring", store)
    monkeypatch.setitem(sys.modules, "keyring.errors", errors)


def with_key_store(file: Path) -> None:
    file.write_text(SITE.replace("env:SITE_AUTH", "keyring:netcheck/site-auth"), "utf-8")


def test_a_secret_in_the_key_store(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with_key_store(file)
    key_store(monkeypatch, {("netcheck", "site-auth"): "auth-pass-3"})
    assert credentials("signed") == User("diag", "SHA-512", Secret("auth-pass-3"))


def test_a_key_store_that_gives_nothing(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with_key_store(file)
    key_store(monkeypatch, {})
    assert "keyring:netcheck/site-auth, where nothing is" in refused("signed")[0]
    key_store(monkeypatch, {}, locked=True)
    (complaint,) = refused("signed")
    assert "the key store gives nothing out (KeyringError)" in complaint
    assert "auth-pass-1" not in complaint


def test_no_key_store_library(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with_key_store(file)
    monkeypatch.setitem(sys.modules, "keyring", None)
    assert "the Python package keyring is not installed" in refused("signed")[0]


def test_nothing_shows_a_secret() -> None:
    shown = repr([credentials(name) for name in ("site", "signed", "legacy")])
    assert not any(secret in shown for secret in ("auth-pass-1", "priv-pass-2", "harrow"))
    assert "pass" not in json.dumps({"move": str(Move(snmp_profile="site"))})
