"""The rules about where we ourselves stand, and that nobody is worse off by what only others may see.

Rows come from fixtures/standards/oracle_checks.json, each with its source.
"""

import re

import msgspec
import pytest

from netcheck.facts.condition import PrinterState
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.move import DeviceRef, Move
from netcheck.roles import Role
from netcheck.ruling import RULES
from netcheck.standard import FactAge, Standard
from netcheck.verdict import Finding, Holds, State, Verdict, Weight
from tests.conftest import NOW, make_case, published
from tests.test_judge import ALONE, HEALTHY, found, only
from tests.test_rules_link import (
    ADDRESS,
    NEW_MAC,
    OLD_MAC,
    OURS,
    SITE,
    Seen,
    arp,
    here,
    judged,
    mask,
    port,
    rule,
    table,
    way,
)


def links(verdict: Verdict) -> list[Finding]:
    return [finding for finding in verdict.findings if finding.id.startswith("link.")]


# --- where we stand


@pytest.mark.parametrize("row", published("IPV-13", "IPV-14", "IPV-15"))
def test_a_self_assigned_address_of_ours(row: dict[str, str]) -> None:
    address, _, prefix = row["input"].partition("/")
    assert "link-local" in row["expected"]
    for source in (address, ""):
        finding = rule("link.self-assigned", here(address, int(prefix)), way(source, on_link=False))
        assert (finding.state, finding.weight) == (Holds.UNMET, Weight.CARE)


@pytest.mark.parametrize("row", published("IPV-05", "IPV-06", "IPV-09", "IPV-11", "IPV-24"))
def test_an_address_that_was_given(row: dict[str, str]) -> None:
    address, _, prefix = row["input"].partition("/")
    assert row["expected"].startswith("usable")
    assert rule("link.self-assigned", here(address, int(prefix)), way(address)).state is Holds.MET


def test_on_a_direct_cable_both_are_self_assigned() -> None:
    facts = here("169.254.7.9", 16), way("169.254.7.9", address="169.254.8.8"), port("open")
    assert rule("link.self-assigned", *facts).state is Holds.MET
    assert rule("link.here", *facts).weight is Weight.NOTE


@pytest.mark.parametrize(("state", "weight"), [("silent", Weight.CARE), ("open", Weight.NOTE)])
def test_standing_elsewhere_is_a_matter_of_care_while_the_device_is_silent(state: str, weight: Weight) -> None:
    verdict = judged(here("198.51.100.7"), way("198.51.100.7", on_link=False), port(state))
    finding = only(verdict, "link.here")
    assert (finding.state, finding.weight, finding.role) == (Holds.UNMET, weight, Role.HERE)
    assert "198.51.100.7/24" in finding.detail


def test_standing_elsewhere_explains_silence() -> None:
    facts = [here("198.51.100.7"), way("198.51.100.7", on_link=False), port("silent"), port("silent", role=Role.OLD)]
    case = make_case(facts)
    afar = tuple(msgspec.structs.replace(item, from_="198.51.100.7") for item in case.observations)
    verdict = judge(msgspec.structs.replace(case, observations=afar), SITE, Gate.SWAP, {})
    stand = only(verdict, "link.here")
    assert verdict.state is State.CANNOT_TELL
    for identity in ("services.reach", "services.old-reach"):
        assert stand.key in only(verdict, identity).causes


def test_another_mask_than_the_sites() -> None:
    findings = found(judged(here(OURS, 28), way(on_link=False), port("silent")), "link.here")
    assert {(each.item, each.state) for each in findings} == {("", Holds.MET), ("mask", Holds.UNMET)}
    assert not found(judged(here(), way(), standard=Standard("none")), "link.here")


@pytest.mark.parametrize(
    ("stands", "identity"),
    [
        ((here(up=False), way()), "link.up"),
        ((here("169.254.7.9", 16), way("", on_link=False)), "link.self-assigned"),
        ((here("198.51.100.7"), way("", on_link=False)), "link.here"),
        ((here(), way("", on_link=False)), "link.way"),
    ],
)
def test_the_first_of_our_own_troubles_is_the_root(stands: tuple[Seen, ...], identity: str) -> None:
    verdict = judged(*stands, port("unreachable"), port("unreachable", role=Role.OLD))
    roots = [each for each in verdict.findings if each.state is Holds.UNMET and not each.causes]
    assert [each.id for each in roots] == [identity]
    assert {"services.reach", "services.old-reach"} <= {each.id for each in verdict.findings if each.causes}


def test_a_link_whose_state_is_not_told_is_no_question() -> None:
    assert not found(judged(here(up=None), way()), "link.up")


# --- on one link, or not


@pytest.mark.parametrize("row", published("MSK-"))
def test_both_masks(row: dict[str, str]) -> None:
    """RFC 1122 s3.3.1.1, each host by its own mask. The published rows say how either sees the other."""
    ends = re.match(r"workstation (\S+)/(\d+), printer (\S+)/(\d+)", row["input"])
    sees = re.findall(r"on-link=(True|False)", row["expected"])
    assert ends is not None
    ours, theirs = (text == "True" for text in sees)
    facts = here(ends[1], int(ends[2])), way(ends[1], on_link=ours, address=ends[3]), mask(ends[3], int(ends[4]))
    finding = rule("link.route", *facts, standard=Standard("none"))
    works = ours is theirs and "unreachable without a router" not in row["expected"]
    assert finding.state is (Holds.MET if works else Holds.UNMET), row["expected"]
    if ours is not theirs:
        assert finding.weight is Weight.CARE
        assert ("takes us" in finding.title) is ours


def test_a_router_on_the_way_is_a_note() -> None:
    finding = rule("link.route", here(), way(on_link=False))
    assert (finding.state, finding.weight) == (Holds.UNPROVEN, Weight.NOTE)


def test_a_wrong_mask_of_the_device_explains_that_we_disagree() -> None:
    verdict = judged(here(OURS, 24), way(), mask(ADDRESS, 30))
    assert only(verdict, "address.mask").key in only(verdict, "link.route").causes


# --- nobody is worse off


def as_device(*facts: Seen) -> list[Seen]:
    return [(Role.DEVICE if role is Role.NEW else role, probe, source, fact) for role, probe, source, fact in facts]


@pytest.mark.parametrize(
    "seen",
    [
        (),
        (here(), way(), arp(NEW_MAC)),
        (here(), way(), table(NEW_MAC, state="reachable")),
        (here(), way(), table(NEW_MAC, state="stale")),
        (here(), way(), table(state="incomplete")),
        (here(), way()),
        (here("198.51.100.7"), way("198.51.100.7", on_link=False, address=ADDRESS)),
    ],
    ids=["not-looked", "administrator", "table", "stale", "nothing-yet", "unreadable", "behind-a-router"],
)
def test_a_ready_device_is_ready_whatever_we_may_see_of_the_link(seen: tuple[Seen, ...]) -> None:
    """A technician without administrator's rights, and whoever watches the site from elsewhere, get the same answer."""
    idle: Seen = (Role.DEVICE, "ipp", "printer-state", PrinterState("idle", (), accepting=True))
    for standard in (Standard("none"), SITE):
        verdict = judge(make_case([*HEALTHY, idle, *as_device(*seen)], ALONE), standard, Gate.STANDING, {})
        worse = [each for each in links(verdict) if each.state is not Holds.MET and each.weight is not Weight.NOTE]
        assert (verdict.state, worse) == (State.READY, [])


def test_on_loopback_nobody_is_asked() -> None:
    """There, our own interfaces are all that was looked at."""
    assert links(judged(here("198.51.100.7"), port("open"))) == []
    assert links(judged(here(up=False), port("silent"))) == []


def test_what_could_not_be_seen_explains_nothing() -> None:
    """With a note as its cause, a device that was not waited for would be no more than a note itself."""
    verdict = judged(here(), way(), table(NEW_MAC), port("silent", waited_ms=500))
    assert {each.state for each in found(verdict, "link.owner")} == {Holds.UNPROVEN}
    reach = only(verdict, "services.reach")
    assert reach.state is Holds.UNPROVEN
    assert not [cause for cause in reach.causes if cause.startswith("link.")]


def test_what_is_too_old_does_not_stand() -> None:
    standard = msgspec.structs.replace(SITE, fact_age=FactAge(30))
    case = make_case([here(), way(), arp(NEW_MAC, OLD_MAC)])
    later = msgspec.structs.replace(case, made_at=NOW + 31 * 60_000)
    assert only(judge(case, standard, Gate.SWAP, {}), "link.owner").state is Holds.UNMET
    assert not found(judge(later, standard, Gate.SWAP, {}), "link.owner")


def test_an_earlier_run_does_not_speak_for_a_later_one() -> None:
    """Seen by ARP an hour ago, and only in the table now: who answered then need not be there any more."""
    case = make_case([here(), way(), table(state="failed", complete=True), arp(OLD_MAC), port("silent")])
    earlier = msgspec.structs.replace(case.observations[3], at_ms=NOW - 60 * 60_000)
    joined = msgspec.structs.replace(case, observations=(*case.observations[:3], earlier, case.observations[4]))
    assert only(judge(joined, SITE, Gate.SWAP, {}), "link.neighbour").state is Holds.UNMET


def test_the_rules_are_asked_of_a_device_by_itself() -> None:
    facts = as_device(here(), way(), arp(NEW_MAC, OLD_MAC))
    verdict = judge(make_case(facts, Move(device=DeviceRef(ADDRESS))), Standard("none"), Gate.STANDING, {})
    assert only(verdict, "link.owner").role is Role.DEVICE
    assert " new device" not in only(verdict, "link.owner").title


def test_these_rules_are_there() -> None:
    names = "up self-assigned here way router route neighbour owner old-owner mac-agrees remembered name-back intended"
    assert {f"link.{name}" for name in names.split()} == {name for name in RULES if name.startswith("link.")}
