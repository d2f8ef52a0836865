"""Why findings changed: each reason alone, several together, and none. What must come out is known from what was made
another; nothing is taken from output."""

from typing import Any

import msgspec
from hypothesis import given
from hypothesis import strategies as st

from netcheck.case import Case
from netcheck.comparing.chain import Question, chain_of
from netcheck.comparing.changes import FindingChange, Judged, Why, changes
from netcheck.facts.identity import Firmware, Model
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.move import DeviceRef, Move
from netcheck.report.difference import render_changes
from netcheck.roles import Role
from netcheck.standard import FirmwareDemand, ModelDemand, ServicesClosed, ServicesRequired, Standard
from netcheck.verdict import Finding, Holds, Standing, State, Verdict, Weight
from tests.conftest import make_case
from tests.test_rules_services_more import tcp

STANDARD = Standard(
    "site", firmware=FirmwareDemand("4.7.2", "dotted"), services_required=ServicesRequired(("ipp", "raw"))
)
STRICTER = msgspec.structs.replace(STANDARD, name="stricter", model=ModelDemand("Halden 40R*"))
NEWER = msgspec.structs.replace(STANDARD, name="newer", firmware=FirmwareDemand("4.8.0", "dotted"))
CLOSED = Standard("closed", services_closed=ServicesClosed(("raw",)))
FIRMWARE = "identity.firmware@new/"


def seen(version: str = "4.7.2", raw: str = "open") -> Case:
    return make_case(
        [
            (Role.NEW, "ipp", "printer-firmware-string-version", Firmware(version)),
            (Role.NEW, "ipp", "printer-make-and-model", Model("Halden 36R")),
            tcp("ipp", "open"),
            tcp("raw", raw),
        ]
    )


def asked(case: Case, standard: Standard = STANDARD, gate: Gate = Gate.SWAP) -> Question:
    return Question(case, standard, gate)


def between(earlier: Question, later: Question, stored: Verdict | None = None) -> dict[str, FindingChange]:
    return {each.key: each for each in changes(chain_of(stored, earlier, later, {}))}


def test_where_nothing_is_another_nothing_changed() -> None:
    links = chain_of(judge(seen(), STANDARD, Gate.SWAP, {}), asked(seen()), asked(seen()), {})
    assert [each.why for each in links] == [None]
    assert changes(links) == ()
    assert render_changes(()) == ""


def test_what_was_seen() -> None:
    found = between(asked(seen()), asked(seen("4.8.0")))
    change = found[FIRMWARE]
    assert (change.was, change.now, change.why) == (Holds.MET, Holds.UNMET, (Why.EVIDENCE,))
    assert (change.stood, change.stands) == (Standing.FINE, Standing.IN_THE_WAY)
    assert set(found) == {FIRMWARE}


def test_the_standard() -> None:
    found = between(asked(seen()), asked(seen(), STRICTER))
    (change,) = found.values()
    assert (change.id, change.was, change.now, change.why) == ("identity.model", None, Holds.UNMET, (Why.STANDARD,))
    assert render_changes([change]).splitlines()[2].endswith("is in the way (standard)")


def test_the_gate() -> None:
    """A requirement of the swap is one for later before that."""
    wrong = seen("4.8.0")
    change = between(asked(wrong, gate=Gate.FILL), asked(wrong))[FIRMWARE]
    assert (change.was, change.now, change.why) == (Holds.UNMET, Holds.UNMET, (Why.GATE,))
    assert (change.stood, change.stands) == (Standing.LATER, Standing.IN_THE_WAY)


def test_the_rules() -> None:
    """What an earlier netcheck said, where today's says otherwise of the very same."""
    now = judge(seen("4.8.0"), STANDARD, Gate.SWAP, {})
    then = msgspec.structs.replace(
        now,
        state=State.READY,
        findings=tuple(
            msgspec.structs.replace(each, state=Holds.MET) if each.id == "identity.firmware" else each
            for each in now.findings
        ),
    )
    (change,) = between(asked(seen("4.8.0")), asked(seen("4.8.0")), then).values()
    assert (change.key, change.was, change.now, change.why) == (FIRMWARE, Holds.MET, Holds.UNMET, (Why.RULES,))


def test_better_words_of_the_rules_are_no_change() -> None:
    now = judge(seen("4.8.0"), STANDARD, Gate.SWAP, {})
    then = msgspec.structs.replace(
        now, findings=tuple(msgspec.structs.replace(each, title="as it was put then") for each in now.findings)
    )
    links = chain_of(then, asked(seen("4.8.0")), asked(seen("4.8.0")), {})
    assert [each.why for each in links] == [None, Why.RULES]
    assert changes(links) == ()
    (change,) = between(asked(seen("4.8.0")), asked(seen("4.9.0")), then).values()
    assert change.why == (Why.EVIDENCE,)


def test_two_reasons_are_both_named_in_order() -> None:
    change = between(asked(seen(), gate=Gate.FILL), asked(seen("4.8.0")))[FIRMWARE]
    assert change.why == (Why.EVIDENCE, Why.GATE)
    assert (change.stood, change.stands) == (Standing.FINE, Standing.IN_THE_WAY)


def test_what_changed_and_changed_back_is_left_out() -> None:
    """The firmware is another, and so is the one that is asked for."""
    assert FIRMWARE not in between(asked(seen()), asked(seen("4.8.0"), NEWER))


def test_an_open_finding_that_says_something_else_is_a_change() -> None:
    change = between(asked(seen("4.8.0")), asked(seen("4.9.0")))[FIRMWARE]
    assert (change.stood, change.stands, change.why) == (
        Standing.IN_THE_WAY,
        Standing.IN_THE_WAY,
        (Why.EVIDENCE,),
    )
    assert change.before is not None
    assert change.after is not None
    assert "4.8.0" in change.before.title + change.before.detail
    assert "4.9.0" in change.after.title + change.after.detail
    assert "as before, but not the same" in " ".join(render_changes([change]).split())


def test_that_time_goes_by_is_no_change() -> None:
    """An open finding may say how long ago something was seen; that this is longer ago now is not news."""
    old = Finding(
        "x.y", Role.NEW, "", Holds.UNPROVEN, Weight.BLOCKER, Gate.SWAP, "Not seen",
        "firmware was seen 31 minutes ago, too long ago", (), "", (), (),
    )  # fmt: skip
    later = msgspec.structs.replace(old, detail="firmware was seen 95 minutes ago, too long ago")
    one, other = (Verdict(State.CANNOT_TELL, (each,), ()) for each in (old, later))
    assert changes([Judged(None, one, Gate.SWAP), Judged(Why.EVIDENCE, other, Gate.SWAP)]) == ()


def test_what_matters_comes_first() -> None:
    """In the way now, then what no longer is, then missing; each title tells where it belongs."""
    earlier = seen("4.8.0")
    later = msgspec.structs.replace(
        seen(raw="refused"), observations=tuple(o for o in seen(raw="refused").observations if o.kind != "model")
    )
    demanding = msgspec.structs.replace(STANDARD, model=ModelDemand("Halden 36R*"))
    found = changes(chain_of(None, asked(earlier, demanding), asked(later, demanding), {}))
    ids = [each.id for each in found]
    assert ids.index("services.required") < ids.index("identity.firmware") < ids.index("identity.model")


def test_each_has_its_place() -> None:
    """In the way now, no longer, still but not the same; then missing, to watch, later, a note, fine."""
    open_, unseen = (Holds.UNMET, Weight.BLOCKER, Gate.SWAP), (Holds.UNPROVEN, Weight.BLOCKER, Gate.SWAP)
    met, later = (Holds.MET, Weight.BLOCKER, Gate.SWAP), (Holds.UNMET, Weight.BLOCKER, Gate.LEAVE)
    care, note = (Holds.UNMET, Weight.CARE, Gate.SWAP), (Holds.UNMET, Weight.NOTE, Gate.SWAP)
    ends = [(met, open_), (open_, care), (open_, open_), (met, unseen), (care, met), (later, met), (met, note)]

    def verdict(side: int) -> Verdict:
        grades = reversed([(number, each[side]) for number, each in enumerate(ends)])
        findings = tuple(
            Finding("a.b", Role.NEW, str(number), grade[0], grade[1], grade[2], f"{side}", "", (), "", (), ())
            for number, grade in grades
        )
        return Verdict(State.READY, findings, ())

    found = changes([Judged(None, verdict(0), Gate.SWAP), Judged(Why.EVIDENCE, verdict(1), Gate.SWAP)])
    assert [each.item for each in found] == [str(number) for number in range(len(ends))]


def test_a_missing_verdict_starts_with_what_todays_rules_say() -> None:
    links = chain_of(None, asked(seen("4.8.0")), asked(seen()), {})
    assert [each.why for each in links] == [None, Why.EVIDENCE]


ALONE = msgspec.structs.replace(
    seen("4.8.0"),
    move=Move(device=DeviceRef("192.0.2.61")),
    observations=tuple(msgspec.structs.replace(each, role=Role.DEVICE) for each in seen("4.8.0").observations),
)


def test_a_device_by_itself_is_the_new_one_beside_a_move() -> None:
    """The same device, seen the same: its firmware is wrong both times, and is one finding."""
    found = between(asked(ALONE, STANDARD, Gate.STANDING), asked(seen("4.8.0")))
    assert FIRMWARE not in found
    back = chain_of(None, asked(seen("4.8.0")), asked(ALONE, STANDARD, Gate.STANDING), {})
    assert [each.why for each in back] == [None, Why.GATE, Why.EVIDENCE]  # it cannot be asked about any other gate
    assert FIRMWARE not in {each.key for each in changes(back)}


def test_what_a_rule_says_of_one_item_is_held_against_what_it_said_of_all() -> None:
    """No alert, then two, then none: each was fine before, and the whole is not told beside its parts."""

    def told(state: Holds, *items: str) -> Verdict:
        findings = tuple(
            Finding("a.b", Role.NEW, item, state, Weight.BLOCKER, Gate.SWAP, item or "all", "", (), "", (), ())
            for item in items
        )
        return Verdict(State.READY, findings, ())

    fine, wrong = told(Holds.MET, ""), told(Holds.UNMET, "one", "two")
    for one, other in ((fine, wrong), (wrong, fine)):
        found = changes([Judged(None, one, Gate.SWAP), Judged(Why.EVIDENCE, other, Gate.SWAP)])
        assert [each.item for each in found] == ["one", "two"]
        assert {(each.was, each.now) for each in found} <= {(Holds.MET, Holds.UNMET), (Holds.UNMET, Holds.MET)}


grades = st.none() | st.tuples(
    st.sampled_from(Holds), st.sampled_from(Weight), st.sampled_from([Gate.FILL, Gate.LEAVE])
)
verdicts = st.lists(grades, min_size=4, max_size=4)


@given(st.lists(verdicts, min_size=2, max_size=5))
def test_a_finding_is_listed_when_its_two_ends_differ(links: list[list[Any]]) -> None:
    """Held against a plain comparison of the first link with the last; and every reason is one at which it moved."""

    def verdict(told: list[Any]) -> Verdict:
        findings = tuple(
            Finding("a.b", Role.NEW, str(number), grade[0], grade[1], grade[2], f"title {number}", "", (), "", (), ())
            for number, grade in enumerate(told)
            if grade
        )
        return Verdict(State.READY, findings, ())

    whys = [None, *list(Why)][: len(links)]
    chain = [Judged(why, verdict(told), Gate.SWAP) for why, told in zip(whys, links, strict=True)]
    found = {each.item: each for each in changes(chain)}
    assert set(found) == {str(number) for number in range(4) if links[0][number] != links[-1][number]}
    for item, change in found.items():
        trail = [told[int(item)] for told in links]
        moved = {why for why, one, other in zip(whys[1:], trail, trail[1:], strict=False) if one != other}
        assert set(change.why) == moved
