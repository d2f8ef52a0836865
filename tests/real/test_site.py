"""The site is one network, its faults take effect, it leaves nothing behind, and is skipped where it cannot be."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from .clients import connect
from .needs import PROGRAMS, why_not
from .office import Office
from .raw import RawPort
from .site import JACKS, Site, namespaces
from .spooler import Spooler

OLD, NEW = JACKS["old"].address, JACKS["new"].address


def test_the_workstation_meets_the_machines_by_their_hardware_addresses(site: Site) -> None:
    with RawPort(site, "old"), RawPort(site, "new"):
        assert connect(site, OLD, 9100) == connect(site, NEW, 9100) == ""
    neighbours = site.run("workstation", "ip", "neigh").stdout
    assert f"{OLD} dev eth0 lladdr 02:77:00:00:00:21" in neighbours
    assert f"{NEW} dev eth0 lladdr 02:77:00:00:00:22" in neighbours


def test_filters_drop_reject_and_are_lifted(site: Site) -> None:
    with RawPort(site, "new"):
        site.filter("new", "tcp dport 9100 drop")
        assert connect(site, NEW, 9100) == "no answer"
        site.filter("new", "tcp dport 9100 reject with tcp reset")
        assert "Connection refused" in connect(site, NEW, 9100)
        site.filter("new")
        assert connect(site, NEW, 9100) == ""


def test_a_filter_that_is_no_filter_is_an_error(site: Site) -> None:
    with pytest.raises(RuntimeError, match="syntax error"):
        site.filter("new", "tcp dport 9100 perhaps")


def test_addresses_masks_and_gateways_change(site: Site) -> None:
    site.configure("new", "10.77.0.200/25", gateway="10.77.0.254")
    assert "10.77.0.200/25" in site.run("new", "ip", "addr", "show", "dev", "eth0").stdout
    assert "default via 10.77.0.254" in site.run("new", "ip", "route").stdout
    # The half-known neighbour: the workstation is outside the mask, so the way back is through the gateway.
    assert "via 10.77.0.254" in site.run("new", "ip", "route", "get", JACKS["workstation"].address).stdout


def test_a_pulled_cable_silences_and_a_plugged_one_restores(site: Site) -> None:
    with RawPort(site, "new"):
        site.plug("new", connected=False)
        assert connect(site, NEW, 9100) == "no answer"
        site.plug("new", connected=True)
        assert connect(site, NEW, 9100) == ""


def test_names_are_known_only_where_they_were_given(site: Site) -> None:
    site.name_hosts("workstation", {NEW: "halden"})
    assert NEW in site.run("workstation", "getent", "hosts", "halden").stdout
    assert site.run("old", "getent", "hosts", "halden").returncode != 0


# --- leaving nothing behind


def test_nothing_is_left() -> None:
    with Office() as office:
        pids = office.site.processes()
        office.new.printer.program.pause()  # held programs end as well
        assert len(pids) > 8
        assert len([name for name in namespaces() if name.startswith(f"{office.site.name}-")]) == 6
    assert_gone(office.site, pids)


def test_nothing_is_left_after_a_failure_inside() -> None:
    office = Office()
    pids: list[int] = []

    def fail() -> None:
        with office:
            pids.extend(office.site.processes())
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail()
    assert len(pids) > 8
    assert_gone(office.site, pids)


def test_nothing_is_left_after_a_failure_on_the_way_up(monkeypatch: pytest.MonkeyPatch) -> None:
    office = Office()
    pids: list[int] = []

    def fail(*_: object) -> None:
        pids.extend(office.site.processes())
        raise ZeroDivisionError

    monkeypatch.setattr(Spooler, "add", fail)
    with pytest.raises(ZeroDivisionError):
        office.__enter__()
    assert len(pids) > 8
    assert_gone(office.site, pids)


def test_a_stray_is_ended_and_reported() -> None:
    site = Site().__enter__()
    site.run("new", "sh", "-c", "setsid --fork sleep 61 >/dev/null 2>&1")
    pids = site.processes()
    assert len(pids) == 1
    with pytest.raises(AssertionError, match="sleep 61"):
        site.__exit__(None, None, None)
    assert_gone(site, pids)


def assert_gone(site: Site, pids: list[int]) -> None:
    assert [name for name in namespaces() if name.startswith(f"{site.name}-")] == []
    assert not site.folder.exists()
    assert [pid for pid in pids if _alive(pid)] == []


def _alive(pid: int) -> bool:
    """A zombie is not: its parent, which has yet to notice, may be the init of a container that never looks."""
    try:
        return ") Z " not in Path("/proc", str(pid), "stat").read_text()
    except (FileNotFoundError, ProcessLookupError):
        return False


# --- skipping


@pytest.mark.parametrize(
    ("system", "uid", "absent", "refused", "reason"),
    [
        ("Darwin", 0, "", "", "network namespaces need Linux, this is Darwin"),
        ("Linux", 1000, "", "", "network namespaces need root, this is user 1000"),
        ("Linux", 0, "snmpd", "", "missing: snmpd (Debian package snmpd)"),
        ("Linux", 0, "", "refused: no", "refused: no"),
        ("Linux", 0, "", "", ""),
    ],
)
def test_the_reason_for_skipping_is_exact(system: str, uid: int, absent: str, refused: str, reason: str) -> None:
    assert why_not(system, uid, lambda program: None if program == absent else program, lambda: refused) == reason


@pytest.mark.parametrize(("required", "outcome"), [("", "1 skipped"), ("required", "1 error")])
def test_a_machine_without_the_programs_skips_or_fails(tmp_path: Path, required: str, outcome: str) -> None:
    here = Path(__file__)
    chosen = f"{here}::test_names_are_known_only_where_they_were_given"
    env = {**os.environ, "PATH": str(tmp_path), "NETCHECK_REAL": required}
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-p", "no:cacheprovider", "-q", chosen],
        cwd=here.parents[2],
        env=env,
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert outcome in done.stdout
    assert all(program in done.stdout for program in PROGRAMS)
