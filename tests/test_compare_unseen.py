"""Two cases, fact by fact: what is gone and what only was not seen, what always moves, and what comes first."""

import msgspec
import pytest

from netcheck.comparing.facts import How, fact_changes
from netcheck.comparing.tables import Theme
from netcheck.facts import Measured
from netcheck.facts.condition import PrinterState
from netcheck.facts.identity import (
    Firmware,
    HostUptime,
    MarkerRow,
    Markers,
    Model,
    System,
)
from netcheck.facts.link import Advertisement
from netcheck.facts.supplies import Supplies
from netcheck.roles import Outcome, Role
from tests.conftest import NOW, attempt, make_case
from tests.test_compare_facts import ANSWERED, alert, case_of, compared, supply, told
from tests.test_rules_services_more import tcp

# --- gone, or only not seen

LEVELS = Supplies((supply(Measured(64)),), complete=True)


@pytest.mark.parametrize(
    ("outcome", "how"),
    [
        (Outcome.ANSWERED, How.GONE),
        (Outcome.EMPTY, How.GONE),
        *((each, How.NOT_SEEN) for each in Outcome if each not in {Outcome.ANSWERED, Outcome.EMPTY}),
    ],
)
def test_only_who_answers_can_tell_that_something_is_gone(outcome: Outcome, how: How) -> None:
    after = case_of(attempts=[attempt(Role.NEW, "snmp", outcome, "no answer in 3 s")])
    (change,) = fact_changes(case_of(LEVELS), after)
    assert change.how is how
    assert change.reason == ("" if how is How.GONE else "no answer in 3 s")
    (back,) = fact_changes(after, case_of(LEVELS))
    assert back.how is (How.NEW if how is How.GONE else How.SEEN_NOW)


def test_who_was_not_asked_can_tell_nothing() -> None:
    (change,) = fact_changes(case_of(LEVELS), case_of(attempts=[attempt(Role.OLD, "snmp", Outcome.ANSWERED)]))
    assert (change.how, change.reason) == (How.NOT_SEEN, "snmp was not asked")


def test_the_attempt_at_that_very_table_counts() -> None:
    """One table was cut, another answered without what it had: only of the first one nothing is known."""
    before = make_case(
        [(Role.NEW, "snmp", "prtMarkerSuppliesTable.1", LEVELS), (Role.NEW, "snmp", "prtAlertTable.1", alert(1, 1))]
    )
    attempts = [
        msgspec.structs.replace(
            attempt(Role.NEW, "snmp", outcome, reason), target=f"192.0.2.61 udp/161 SNMPv2c {table}"
        )
        for table, outcome, reason in (
            ("prtMarkerSuppliesTable", Outcome.MALFORMED, "row 3 repeats"),
            ("prtAlertTable", Outcome.ANSWERED, ""),
        )
    ]
    found = {each.kind: each.how for each in fact_changes(before, make_case([], attempts=attempts))}
    assert found == {"supplies": How.NOT_SEEN, "alerts": How.GONE}


def test_absence_from_a_table_that_was_cut_short_proves_nothing() -> None:
    one, two = supply(Measured(64)), supply(Measured(9), 2, "Black ink")
    for complete, how in ((True, How.GONE), (False, How.NOT_SEEN)):
        found = compared(Supplies((one, two), complete=True), Supplies((one,), complete=complete))
        assert [each.how for each in found if each.row == "Black ink"] == [how]


def test_silence_on_multicast_proves_nothing() -> None:
    """RFC 6762: nobody has to have heard it."""
    heard = Advertisement("Halden 36R", "_ipp._tcp", 631, ("plans-new.local",), ("192.0.2.61",), ())
    (change,) = fact_changes(case_of(heard, probe="dnssd"), case_of())
    assert change.how is How.NOT_SEEN


def test_what_is_asked_one_by_one_is_not_gone_where_nobody_asked() -> None:
    """Only one Standard spoke of that port: the other case's ports answered all the same."""
    one, both = make_case([tcp("ipp", "open")], attempts=ANSWERED), [tcp("ipp", "open"), tcp("lpd", "open")]
    (change,) = fact_changes(make_case(both, attempts=ANSWERED), one)
    assert (change.row, change.how) == ("lpd", How.NOT_SEEN)
    (back,) = fact_changes(one, make_case(both, attempts=ANSWERED))
    assert back.how is How.SEEN_NOW


def test_a_field_that_an_earlier_netcheck_did_not_record_is_no_change() -> None:
    earlier, later = (
        case_of(PrinterState("idle", (), accepting=True)),
        case_of(PrinterState("idle", (), accepting=True, message="Ready")),
    )
    value = {key: each for key, each in earlier.observations[0].value.items() if key not in {"message", "reasons_told"}}
    older = msgspec.structs.replace(earlier.observations[0], value=value)
    assert fact_changes(msgspec.structs.replace(earlier, observations=(older,)), later) == ()
    assert [told(each) for each in fact_changes(earlier, later)] == [[("message", None, "Ready")]]


def test_a_kind_that_nobody_knows_is_compared_all_the_same() -> None:
    plain = case_of(Model("Halden 36R")).observations[0]
    cases = [
        msgspec.structs.replace(
            case_of(),
            observations=(
                msgspec.structs.replace(plain, kind="humidity", value={"percent": each, "rows": [{"a": 1}]}),
            ),
        )
        for each in (40, 55)
    ]
    (change,) = fact_changes(cases[0], cases[1])
    assert (change.kind, change.theme, told(change)) == ("humidity", Theme.REST, [("percent", "40", "55")])


def test_of_several_looks_the_last_one_counts() -> None:
    early, late = case_of(Firmware("4.7.2")), case_of(Firmware("4.8.0"))
    later = msgspec.structs.replace(late.observations[0], at_ms=NOW + 1)
    both = msgspec.structs.replace(early, observations=(later, *early.observations))
    assert fact_changes(both, late) == ()


# --- what always moves


def test_clocks_are_told_last_and_marked() -> None:
    before = case_of(HostUptime(540_000), System("d", "1.3", "plans-new", "", 540_000), Firmware("4.7.2"))
    after = case_of(HostUptime(600_000), System("d", "1.3", "plans-new", "", 600_000), Firmware("4.8.0"))
    found = fact_changes(before, after)
    assert [(each.kind, each.moves) for each in found] == [("firmware", False), ("system", True), ("host-uptime", True)]
    assert told(found[2]) == [("up", "1:30:00", "1:40:00")]  # 540,000 and 600,000 hundredths of a second


def test_a_restart_is_no_clock_that_moved_on() -> None:
    (change,) = compared(HostUptime(540_000), HostUptime(3_000))
    assert not change.moves
    (jitter,) = compared(HostUptime(540_000), HostUptime(539_990))
    assert jitter.moves


def test_a_page_count_shows_that_it_printed() -> None:
    before, after = (
        Markers((MarkerRow(1, "inkjetAqueous", "impressions", count, None),), complete=True) for count in (14, 26)
    )
    (change,) = compared(before, after)
    assert (change.moves, change.theme, told(change)) == (False, Theme.PRINTED, [("life count", "14", "26")])


# --- order


def test_what_findings_rest_on_comes_first_and_then_by_theme() -> None:
    before = case_of(Firmware("4.7.2"), Model("Halden 36R"), LEVELS)
    after = case_of(Firmware("4.8.0"), Model("Halden 40R"), Supplies((supply(Measured(1)),), complete=True))
    assert [each.kind for each in fact_changes(before, after)] == ["model", "firmware", "supplies"]
    resting = {(Role.NEW, "snmp", "source of supplies"): ("supplies.empty@new/Cyan ink",)}
    found = fact_changes(before, after, resting)
    assert [each.kind for each in found] == ["supplies", "model", "firmware"]
    assert found[0].findings == ("supplies.empty@new/Cyan ink",)
