"""Two cases, fact by fact: every kind and every field of it, in words; what is gone and what only was not seen; what
always moves; and what comes first."""

import typing
from types import UnionType
from typing import Any, Union

import msgspec
import pytest

from netcheck.case import Attempt, Case
from netcheck.comparing.facts import FactChange, How, fact_changes
from netcheck.comparing.tables import (
    LEFT_OUT,
    MOVES,
    NAMED_BY,
    PAIRS,
    ROW_KEYS,
    STARTED_ANEW,
    THEMES,
    ZERO_IS_NOTHING,
    Theme,
)
from netcheck.facts import KINDS, Amount, Fact, Measured, Some, Unknown
from netcheck.facts.condition import AlertRow, Alerts, HostPrinter, PrinterState
from netcheck.facts.identity import (
    DeviceId,
)
from netcheck.facts.link import Certificate
from netcheck.facts.media import MediaReady, MediaSize, ReadyRow, Span
from netcheck.facts.network import Addresses, AddressRow, InterfaceRow, Interfaces
from netcheck.facts.queue import QueueDefaults
from netcheck.facts.supplies import Supplies, Supply
from netcheck.roles import Outcome, Role
from tests.conftest import attempt, make_case

ANSWERED = [attempt(Role.NEW, probe, Outcome.ANSWERED) for probe in ("ipp", "snmp", "ports", "dnssd")]


def case_of(*facts: Fact, probe: str = "snmp", role: Role = Role.NEW, attempts: list[Attempt] = ANSWERED) -> Case:
    return make_case([(role, probe, f"source of {fact.kind}", fact) for fact in facts], attempts=attempts)


def compared(before: Fact, after: Fact) -> list[FactChange]:
    return list(fact_changes(case_of(before), case_of(after)))


def told(change: FactChange) -> list[tuple[str, str | None, str | None]]:
    return [(each.field, each.before, each.after) for each in change.fields]


# --- the tables


def test_the_tables_know_every_kind() -> None:
    """A new kind of fact must say what it is about, here."""
    assert set(THEMES) | LEFT_OUT == set(KINDS)
    assert set(THEMES.values()) | {Theme.REST} == set(Theme)


@pytest.mark.parametrize("place", sorted({*ROW_KEYS, *PAIRS, *MOVES, *STARTED_ANEW, *ZERO_IS_NOTHING}))
def test_the_tables_name_fields_that_are_there(place: tuple[str, str]) -> None:
    kind, name = place
    kinds = [KINDS[kind], *rows_of(KINDS[kind])]
    assert any(name in each.__struct_fields__ for each in kinds)
    for key in ROW_KEYS.get(place, ()):
        assert any(key in row.__struct_fields__ for row in rows_of(KINDS[kind]))


def rows_of(kind: type[msgspec.Struct]) -> list[type[msgspec.Struct]]:
    """The structures that its fields are made of."""
    found = []
    for hint in typing.get_type_hints(kind).values():
        found += [each for each in (hint, *typing.get_args(hint)) if hasattr(each, "__struct_fields__")]
    return found


def made(hint: Any, name: str, number: int) -> Any:
    """A value of any type that a fact's field may have: another one for every number."""
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if hint == Amount:
        return Measured(number)
    if origin in {Union, UnionType}:
        return made(next(each for each in arguments if each is not type(None)), name, number)
    if origin is tuple:
        inner = arguments[:1] if arguments[-1] is ... else arguments
        return tuple(made(each, name, number + place) for place, each in enumerate(inner))
    if hint is bool:
        return bool(number % 2)
    if hint is int:
        return number
    if hint is str:
        is_address = name in {"address", "addresses", "source", "leads_to"}
        return f"192.0.2.{number}" if is_address else f"{name}-{number}"
    return hint(**{field: made(each, field, number) for field, each in fields_of(hint)})


def fields_of(kind: type[msgspec.Struct]) -> list[tuple[str, Any]]:
    hints = typing.get_type_hints(kind)
    return [(name, hints[name]) for name in kind.__struct_fields__]


EVERY_FIELD = [
    pytest.param(fact, name, id=f"{kind}-{name}") for kind, fact in KINDS.items() for name, _ in fields_of(fact)
]


@pytest.mark.parametrize(("fact", "name"), EVERY_FIELD)
def test_no_field_of_any_fact_changes_unseen(fact: type[Fact], name: str) -> None:
    """One field after the other is made another: it is told, and nothing else is."""
    hint = dict(fields_of(fact))[name]
    before = made(fact, "", 2)
    after = msgspec.structs.replace(before, **{name: made(hint, name, 3)})
    found = compared(before, after)
    if fact.kind in LEFT_OUT:
        assert not found
    elif fact.kind in NAMED_BY and name in NAMED_BY[fact.kind]:
        assert {each.how for each in found} == {
            How.NOT_SEEN,
            How.SEEN_NOW,
        }  # another one is not the same changed
    else:
        assert found
        assert all(each.kind == fact.kind for each in found)
        assert all(each.moves is ((fact.kind, name) in MOVES) for each in found if name in str(each.fields))
        texts = [text for each in found for field in each.fields for text in (field.before, field.after) if text]
        assert texts
        assert not any("{" in text or "None" in text for text in texts)  # words, and no Python


@pytest.mark.parametrize("fact", [each for kind, each in KINDS.items() if kind not in LEFT_OUT])
def test_what_is_the_same_is_not_told(fact: type[Fact]) -> None:
    assert compared(made(fact, "", 2), made(fact, "", 2)) == []


# --- words


def supply(level: Amount, index: int = 1, name: str = "Cyan ink") -> Supply:
    return Supply(index, "supplyThatIsConsumed", "inkCartridge", name, "percent", Measured(100), level, "cyan")


def test_a_level_in_its_unit() -> None:
    (change,) = compared(
        Supplies((supply(Measured(64)), supply(Measured(9), 2, "Black ink")), complete=True),
        Supplies((supply(Measured(40)), supply(Measured(9), 2, "Black ink")), complete=True),
    )
    assert (change.how, change.theme, change.row) == (How.CHANGED, Theme.SUPPLIES, "Cyan ink")
    assert told(change) == [("level", "64 percent", "40 percent")]


def test_levels_that_are_no_numbers() -> None:
    (change,) = compared(Supplies((supply(Some()),), complete=True), Supplies((supply(Unknown()),), complete=True))
    assert told(change) == [("level", "some, amount not told", "not told")]


def test_lengths_in_millimetres() -> None:
    """A roll of 24 in is 609.6 mm wide, one of 36 in 914.4 mm (1 in is 25.4 mm)."""
    roll = [
        MediaReady((ReadyRow("roll", MediaSize(Span(x, x), Span(210_000, 45_720_000)), "stationery", "main-roll"),))
        for x in (609_600, 914_400)
    ]
    (change,) = compared(*roll)
    assert told(change) == [
        ("size", "609.6 mm x 210 mm to 45720 mm", "914.4 mm x 210 mm to 45720 mm"),
    ]


def test_of_a_list_only_what_differs() -> None:
    (change,) = compared(
        HostPrinter(1, "running", "idle", ("lowToner", "doorOpen")), HostPrinter(1, "running", "idle", ("lowToner",))
    )
    assert told(change) == [("errors", "doorOpen", None)]
    (change,) = compared(
        PrinterState("idle", ("a", "b"), accepting=True), PrinterState("idle", ("b", "a", "c"), accepting=True)
    )
    assert told(change) == [("reasons", None, "c")]


def test_pairs_are_fields_of_their_own() -> None:
    one, other = DeviceId((("MFG", "Halden"), ("CMD", "PDF"))), DeviceId((("MFG", "Halden"), ("SN", "HX-77-0457")))
    (change,) = compared(one, other)
    assert sorted(told(change)) == [("pairs CMD", "PDF", None), ("pairs SN", None, "HX-77-0457")]
    (change,) = compared(QueueDefaults("a4", (("sides", "one-sided"),)), QueueDefaults("a4", (("sides", "two"),)))
    assert told(change) == [("options sides", "one-sided", "two")]


def test_a_link_speed_and_a_mask() -> None:
    def interface(speed: int) -> Interfaces:
        return Interfaces((InterfaceRow(2, "eth0", "ethernetCsmacd", "02:77:00:00:00:22", "up", speed),), complete=True)

    (change,) = compared(interface(100_000_000), interface(1_000_000_000))
    assert (change.row, told(change)) == ("eth0", [("speed", "100 Mbit/s", "1000 Mbit/s")])

    def address(prefix: int) -> Addresses:
        return Addresses((AddressRow("192.0.2.61", prefix, "", 2, "manual", ""),), complete=True)

    (change,) = compared(address(24), address(25))
    assert (change.theme, change.row, told(change)) == (
        Theme.ADDRESS,
        "192.0.2.61",
        [("prefix length", "24", "25")],
    )


def test_a_row_is_found_again_by_its_key_and_not_by_its_place() -> None:
    one, two = supply(Measured(64)), supply(Measured(9), 2, "Black ink")
    assert compared(Supplies((one, two), complete=True), Supplies((two, one), complete=True)) == []


def test_rows_that_share_a_key_are_wholes() -> None:
    rows = [ReadyRow(name, None, "", "") for name in ("iso_a3_297x420mm", "iso_a2_420x594mm")]
    (change,) = compared(MediaReady((rows[0],)), MediaReady((rows[0], rows[1])))
    assert told(change) == [("rows", None, "name iso_a2_420x594mm")]


def test_two_rows_of_one_source_are_wholes_too() -> None:
    rows = [ReadyRow(name, None, "", "main-roll") for name in ("iso_a3_297x420mm", "iso_a2_420x594mm")]
    (change,) = compared(MediaReady((rows[0],)), MediaReady((rows[0], rows[1])))
    assert told(change) == [("rows", None, "name iso_a2_420x594mm, source main-roll")]


def test_a_certificate_by_its_days() -> None:
    """946,684,800 s after 1970-01-01 is 2000-01-01, by `date -u -d @946684800`."""
    one = made(Certificate, "", 2)
    before, after = (msgspec.structs.replace(one, not_after_ms=day) for day in (946_684_800_000, 946_771_200_000))
    (change,) = compared(before, after)
    assert told(change) == [("not after", "2000-01-01", "2000-01-02")]


def test_what_the_spooler_says_of_its_queue_is_about_the_queue() -> None:
    state = PrinterState("idle", (), accepting=True)
    stopped = msgspec.structs.replace(state, state="stopped")
    for role, theme in ((Role.NEW, Theme.CONDITION), (Role.QUEUE, Theme.QUEUE)):
        (change,) = fact_changes(case_of(state, role=role), case_of(stopped, role=role))
        assert change.theme is theme


def alert(index: int, at: int) -> Alerts:
    row = AlertRow(index, "critical", "trained", "cover", 1, 7, "coverOpen", "Front cover is open", at)
    return Alerts((row,), complete=True)


def test_an_alert_that_is_raised_anew_is_the_same_one() -> None:
    """RFC 3805 s2.2.13.4: a new row has a new index; what it speaks of is the same."""
    assert [each.moves for each in compared(alert(3, 100), alert(9, 5000))] == [True]
