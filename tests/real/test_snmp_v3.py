"""SNMPv3 against net-snmp's agent: every protocol reads the device, and every wrong credential has its own reason.

Its users are made by `createUser` (snmpd.conf(5)); AES-192-C and AES-256-C are its names for keys that are extended
as draft-reeder-snmpv3-usm-3desede-00 says, where AES-192 and AES-256 are extended as draft-blumenthal-aes-usm-04 does.
"""

import json
import re
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Self

import pytest

from .agents import Agent
from .devices import HALDEN, Device
from .office import Office
from .site import JACKS, Site
from .visit import MOVE, STANDARD, Answer, command, environment

READ: Final = Path(__file__).parent / "inside/read_v3.py"
NEW: Final = JACKS["new"].address
HASHES: Final = {"SHA-1": "SHA", "SHA-224": "SHA-224", "SHA-256": "SHA-256", "SHA-384": "SHA-384", "SHA-512": "SHA-512"}
CIPHERS: Final = {"AES": "AES-128", "AES-192": "AES-192", "AES-256": "AES-256"}
AUTH, PRIV, WRONG = "survey-auth-1", "survey-priv-2", "mistaken-3"


@dataclass(frozen=True)
class Account:
    """A user as net-snmp makes it, and the same as a profile for us; our own hash and cipher where they differ."""

    name: str
    theirs: tuple[str, ...] = ()
    auth: str = ""
    priv: str = ""
    level: str = "priv"
    view: str = "printer"

    def lines(self) -> list[str]:
        secrets = dict(zip(self.theirs, (AUTH, PRIV), strict=False))
        made = " ".join(f'{protocol} "{secret}"' for protocol, secret in secrets.items())
        return [f"createUser {self.name} {made}", f"rouser {self.name} {self.level} -V {self.view}"]

    def profile(self, name: str = "", auth: str = "", priv: str = "", *, without: str = "") -> str:
        """`name`, `auth` and `priv` in the place of what is right."""
        lines = ["[snmp.site]", 'version = "3"', f'user = "{name or self.name}"']
        for key, value in (("auth", auth or self.auth), ("priv", priv or self.priv)):
            if value and key != without:
                lines += [f'{key} = "{value}"', f'{key}_secret = "env:SITE_{key.upper()}"']
        return "\n".join(lines) + "\n"


def account(ours: str, cipher: str) -> Account:
    name = f"{ours}{cipher}".replace("-", "").lower()
    return Account(name, (HASHES[ours], cipher), ours, CIPHERS[cipher.removesuffix("-C")])


DIAG: Final = account("SHA-256", "AES")
NOBODY: Final = Account("guest", level="noauth")
SIGNED: Final = Account("signed", ("SHA-512",), "SHA-512", level="auth")
NARROW: Final = Account("narrow", ("SHA-256", "AES"), "SHA-256", "AES-128", view="systemonly")
BLIND: Final = Account("blind", ("SHA-256", "AES"), "SHA-256", "AES-128", view="nothing")
HIDDEN: Final = Account("hidden", ("SHA-256", "AES"), "SHA-256", "AES-128", view="tables")
PAIRS: Final = [
    *(account(ours, "AES") for ours in HASHES),
    # SHA-1 and SHA-224 are too short for the longer keys, which then have to be extended; SHA-512 is not.
    *(account("SHA-1", cipher) for cipher in ("AES-192", "AES-256", "AES-192-C", "AES-256-C")),
    *(account("SHA-224", cipher) for cipher in ("AES-256", "AES-256-C")),
    *(account("SHA-512", cipher) for cipher in ("AES-192", "AES-256")),
]
VIEWS: Final = [
    "view systemonly included .1.3.6.1.2.1.1",
    "view nothing included .1.3.6.1.4.1.32473.1",
    "view tables included .1.3.6.1.2.1.2",
    "view tables included .1.3.6.1.2.1.43",
]


class UserAgent(Agent):
    """The same agent, with users."""

    accounts = (*PAIRS, NOBODY, SIGNED, NARROW, BLIND, HIDDEN)

    def __enter__(self) -> Self:
        (self._folder / "memory").mkdir(mode=0o700, parents=True, exist_ok=True)
        self.become(self.device)
        return self

    def boots(self) -> int:
        """How often it was started, by what it wrote down itself when it last began or ended."""
        found = re.findall(r"^engineBoots (\d+)$", self._read("memory/snmpd.conf"), re.MULTILINE)
        return int(found[-1])

    def _configuration(self, device: Device) -> str:
        # What it writes down when it ends, its engine id and boots among it, it otherwise does not read (-C).
        lines = [
            f"includeFile {self._folder}/memory/snmpd.conf",
            *VIEWS,
            *(line for each in self.accounts for line in each.lines()),
        ]
        return super()._configuration(device) + "\n".join(lines) + "\n"


def environment_of(site: Site, profile: str, auth: str = AUTH, priv: str = PRIV) -> dict[str, str]:
    path = site.folder / "profiles.toml"
    path.write_text(profile)
    root = str(Path(__file__).parents[2])
    return {"PYTHONPATH": root, "NETCHECK_PROFILES": str(path), "SITE_AUTH": auth, "SITE_PRIV": priv}


def read(site: Site, profile: str, **secrets: str) -> dict[str, Any]:
    """What one process reads in SNMP; no secret may be anywhere in what it prints."""
    env = environment_of(site, profile, **secrets)
    done = site.run("workstation", sys.executable, READ, NEW, "site", env=env)
    assert not done.returncode, done.stderr
    assert_no_secret(done.stdout + done.stderr)
    return dict(json.loads(done.stdout))


def assert_no_secret(text: str) -> None:
    assert not [secret for secret in (AUTH, PRIV, WRONG) if secret in text]


def assert_read(found: Mapping[str, Any]) -> None:
    assert {outcome for outcome, _, _ in found["attempts"]} <= {"answered", "empty"}
    assert found["facts"]["snmp-agent"] == {"version": "v3"}
    assert found["facts"]["serial"]["value"] == HALDEN.serial
    assert len(found["facts"]["supplies"]["rows"]) == len(HALDEN.supplies)


def denied(found: Mapping[str, Any]) -> str:
    ((outcome, _, reason),) = found["attempts"]
    assert outcome == "denied", reason
    assert not found["facts"]
    return str(reason)


def snmpget(site: Site, who: Account) -> str:
    """net-snmp's own client, with the same user: the serial number (RFC 3805 prtGeneralSerialNumber)."""
    signed = ("-a", who.theirs[0], "-A", AUTH) if who.auth else ()
    sealed = ("-x", who.theirs[1], "-X", PRIV) if who.priv else ()
    level = "authPriv" if sealed else "authNoPriv" if signed else "noAuthNoPriv"
    oid = "1.3.6.1.2.1.43.5.1.1.17.1"
    options = ("-v3", "-t1", "-r1", "-Oqv", "-u", who.name, "-l", level)
    done = site.run("workstation", "snmpget", *options, *signed, *sealed, NEW, oid, env={"MIBS": ""})
    return done.stdout.strip().strip('"')


def test_every_protocol_reads_the_device(site: Site) -> None:
    with UserAgent(site, "new", HALDEN):
        for who in (*PAIRS, NOBODY, SIGNED):
            assert snmpget(site, who) == HALDEN.serial, f"{who.name}: not even net-snmp can read it"
            assert_read(read(site, who.profile()))


def test_each_wrong_credential_has_its_own_reason(site: Site) -> None:
    with UserAgent(site, "new", HALDEN):
        reasons = {
            "user": denied(read(site, DIAG.profile(name="nobody"))),
            "password": denied(read(site, DIAG.profile(), auth=WRONG)),
            "level": denied(read(site, SIGNED.profile(priv="AES-128"))),
            "privacy": denied(read(site, DIAG.profile(), priv=WRONG)),
            "too open": denied(read(site, DIAG.profile(without="priv"))),
            "view": denied(read(site, BLIND.profile())),
        }
        assert denied(read(site, DIAG.profile(auth="SHA-1"))) == reasons["password"], "a hash is a part of the key"
        assert denied(read(site, DIAG.profile(priv="AES-256"))) == reasons["privacy"]
    assert len(set(reasons.values())) == len(reasons)
    assert "does not know the user" in reasons["user"]
    assert "authentication password or hash is wrong" in reasons["password"]
    assert "not with authPriv" in reasons["level"]
    assert "privacy password or cipher is wrong" in reasons["privacy"]
    assert "read nothing at authNoPriv (authorizationError)" in reasons["too open"]
    assert "view is empty" in reasons["view"]


def test_a_view_that_is_too_small(site: Site) -> None:
    with UserAgent(site, "new", HALDEN):
        narrow, hidden = read(site, NARROW.profile()), read(site, HIDDEN.profile())
    assert "view is too small" in denied(narrow)
    assert "system" not in hidden["facts"]
    assert hidden["facts"]["serial"]["value"] == HALDEN.serial
    assert "the system group is not in the user's view" in hidden["attempts"][0][2]


def test_nobody_and_silence_are_not_denied(site: Site) -> None:
    with UserAgent(site, "new", HALDEN) as agent:
        site.filter("new", "udp dport 161 drop")
        ((outcome, _, reason),) = read(site, DIAG.profile())["attempts"]
        assert (outcome, "SNMPv3 discovery" in reason) == ("silent", True)
        site.filter("new")
        agent.end()
        ((outcome, _, reason),) = read(site, DIAG.profile())["attempts"]
        assert outcome == "refused"


def test_the_agent_was_restarted_in_between(site: Site) -> None:
    """The engine's boots are counted up (RFC 3414 s2.3): for the next run, and for one that is under way, to which it
    reports usmStatsNotInTimeWindows."""
    with UserAgent(site, "new", HALDEN) as agent:
        assert_read(read(site, DIAG.profile()))
        agent.restart()
        assert_read(read(site, DIAG.profile()))
        env = environment_of(site, DIAG.profile())
        again = site.folder / "again"
        running = site.start("workstation", "twice", sys.executable, READ, NEW, "site", again, env=env)
        running.until_said("first")
        agent.restart()
        again.touch()
        running.until_said("second")
        first, second = running.output.splitlines()
        assert agent.boots() == 3
    assert HALDEN.name in first
    assert HALDEN.name in second


@pytest.mark.parametrize(
    ("profile", "secrets", "words"),
    [
        (DIAG.profile(name="nobody"), {}, "does not know the user"),
        (DIAG.profile(), {"SITE_AUTH": WRONG}, "authentication password or hash is wrong"),
        (DIAG.profile(), {"SITE_PRIV": WRONG}, "privacy password or cipher is wrong"),
        (SIGNED.profile(priv="AES-128"), {}, "not with authPriv"),
        (DIAG.profile(without="priv"), {}, "read nothing at authNoPriv"),
        (BLIND.profile(), {}, "view is empty"),
        (NARROW.profile(), {}, "view is too small"),
    ],
    ids=["user", "password", "privacy", "level", "too open", "view", "small view"],
)
def test_the_technician_is_told_once(office: Office, profile: str, secrets: dict[str, str], words: str) -> None:
    site = office.site
    office.new.agent.end()
    with UserAgent(site, "new", HALDEN):
        argv, saved = command(office, "--json", move=f'{MOVE}\n[snmp]\nprofile = "site"\n', standard=STANDARD)
        env = {**environment(office), **environment_of(site, profile), **secrets}
        done = site.run("workstation", *argv[argv.index(sys.executable) :], env=env, timeout=60)
    assert saved.exists(), done.stdout + done.stderr
    assert_no_secret(saved.read_text() + done.stdout + done.stderr)
    told = Answer(done.returncode, done.stdout, done.stderr, saved).findings
    (about,) = [each for each in told if each["id"] == "services.snmp"]
    assert (about["state"], words in json.dumps(about)) == ("unproven", True), about
