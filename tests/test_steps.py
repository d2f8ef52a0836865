"""What to do, in order: what others must be asked for first, each sentence once, with its caution.

The order, that a sentence is a step, and that "Ask" begins what is somebody else's are this project's own promises
(`netcheck explain`, the module `netcheck.ruling`); no standard speaks of them.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest

import netcheck.rules as _rules
from netcheck.facts.condition import Covers
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.report.text import render
from netcheck.roles import Outcome, Role
from netcheck.ruling import RULES, Rule
from netcheck.standard import Standard, WorksheetStep
from netcheck.verdict import STANDARDS_STEP, Holds, State, Step, Verdict
from netcheck.words import is_asked, is_asked_first, sentences
from tests.conftest import LS_2041, attempt, make_case
from tests.test_judge import ALONE, HEALTHY
from tests.test_rules_link import NEW_MAC, OLD_MAC, SITE, Seen, arp, here, judged, port, way
from tests.test_rules_planned import KEPT, STRANGER, address_row, at_planned, known

_PACKAGE = Path(_rules.__file__).resolve().parent.parent
_MENTIONS = re.compile(r"\bask(s|ed)?\b", re.IGNORECASE)
_OF_US = {
    "Run this again: asking has renewed what this computer remembers.",
}
"""Sentences that speak of our own asking."""


def remedies(rule: Rule) -> list[str]:
    it = rule.explanation
    return [sentence for text in (it.do, it.unseen, it.denied) for sentence in sentences(text)]


def crowded() -> Verdict:
    """Many faults at once: a stranger at the planned address, two owners of the present one, a lease, silence."""
    facts: tuple[Seen, ...] = (
        here(),
        way(),
        arp(NEW_MAC, STRANGER),
        port("silent"),
        at_planned(STRANGER),
        known(Role.OLD, OLD_MAC),
        address_row("192.0.2.21", "dhcp"),
        (Role.NEW, "snmp", "c", Covers((), complete=True)),
    )
    return judged(*facts, move=KEPT)


# --- sentences


@pytest.mark.parametrize(
    ("text", "steps"),
    [
        ("", []),
        ("Do this.", ["Do this."]),
        (
            "Do this. Ask whoever runs it. Is it up? Run this again!",
            ["Do this.", "Ask whoever runs it.", "Is it up?", "Run this again!"],
        ),
        ("Name it: [old] host in the Move, or --old.", ["Name it: [old] host in the Move, or --old."]),
        (
            "Print it: netcheck ready MOVE.toml --request. Ask for it.",
            ["Print it: netcheck ready MOVE.toml --request.", "Ask for it."],
        ),
        ("Wait 2.5 s. then look", ["Wait 2.5 s. then look"]),
    ],
)
def test_a_remedy_is_taken_apart_into_sentences(text: str, steps: list[str]) -> None:
    assert sentences(text) == steps
    assert " ".join(steps) == text


@pytest.mark.parametrize(
    ("step", "asked"),
    [
        ("Ask the network's owner.", True),
        ("Asking helps.", False),
        ("Then Ask them.", False),
        ("ask", False),
        ("", False),
    ],
)
def test_who_is_asked(step: str, *, asked: bool) -> None:
    assert is_asked(step) is asked


@pytest.mark.parametrize("rule", RULES.values(), ids=lambda rule: rule.id)
def test_whatever_mentions_asking_begins_with_it(rule: Rule) -> None:
    odd = [each for each in remedies(rule) if _MENTIONS.search(each) and not is_asked(each) and each not in _OF_US]
    assert not odd


def literals(file: Path) -> Iterator[str]:
    """The texts of a module that are no docstrings: remedies that are made where a rule is asked."""
    tree = ast.parse(file.read_text("utf-8"))
    said = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in said:
            yield node.value


_MADE = [*sorted((_PACKAGE / "rules").glob("*.py")), _PACKAGE / "judge.py", _PACKAGE / "evidence.py"]


@pytest.mark.parametrize(
    "file",
    [pytest.param(each, id=each.stem) for each in _MADE],
)
def test_what_is_made_on_the_way_begins_with_it_too(file: Path) -> None:
    """Only the bare word: "asked" and "asking" are mostly said of the tool. "Ask for that one" is for ourselves."""
    odd = [each for text in literals(file) for each in sentences(text) if re.search(r"\bask\b", each)]
    assert odd == ([": ask for that one."] if file.stem == "queue" else [])


@pytest.mark.parametrize("rule", RULES.values(), ids=lambda rule: rule.id)
def test_every_sentence_can_stand_as_a_step(rule: Rule) -> None:
    """It begins with a capital letter and ends; whoever reads one alone must not start in the middle."""
    for each in remedies(rule):
        assert each[0].isupper(), each
        assert each[-1] in ".!?", each
        assert "  " not in each


def test_somebody_is_named_in_what_is_asked() -> None:
    """Waiting starts with the asking, so it must be clear whom."""
    asked = [each for rule in RULES.values() for each in remedies(rule) if is_asked(each)]
    assert len(asked) > 5
    assert [each for each in asked if not re.match(r"Ask (the |whoever )", each)] == []


# --- the order


def test_what_others_do_comes_first_and_each_sentence_once() -> None:
    steps = [step.do for step in crowded().steps]
    assert len(steps) == len(set(steps))
    first = [is_asked_first(each) for each in steps]
    assert any(first)
    assert not all(first)
    assert first == sorted(first, reverse=True)


def test_what_hangs_on_a_look_of_our_own_is_not_asked_first() -> None:
    """Nobody opens a firewall for a service that is off: whoever is there looks first, and asks then."""
    hanging = [step for step in crowded().steps if is_asked(step.do) and ", if " in step.do]
    assert hanging
    assert not any(is_asked_first(step.do) for step in hanging)


def test_within_both_parts_the_order_is_the_findings() -> None:
    verdict = crowded()
    roots = [finding for finding in verdict.findings if finding.state is not Holds.MET and not finding.causes]
    places = {finding.title: number for number, finding in reversed(list(enumerate(roots)))}
    for part in (True, False):
        order = [places[step.why] for step in verdict.steps if is_asked_first(step.do) is part]
        assert order == sorted(order)


def test_a_step_is_a_whole_sentence_of_a_remedy_that_nothing_else_explains() -> None:
    verdict = crowded()
    remedy = {finding.title: finding for finding in verdict.findings}
    for step in verdict.steps:
        finding = remedy[step.why]
        assert step.do in sentences(finding.remedy)
        assert not finding.causes
        assert finding.state is not Holds.MET
    folded = {each.title for each in verdict.findings if each.causes}
    assert not folded & {step.why for step in verdict.steps}


def test_a_caution_stays_with_what_we_do_ourselves() -> None:
    """Whoever is asked switches nothing off here."""
    verdict = judged(here(), way(), arp(NEW_MAC), port("silent"))
    assert any(is_asked(step.do) for step in verdict.steps)
    by_title = {finding.title: RULES[finding.id].explanation.caution for finding in verdict.findings}
    own = [step for step in verdict.steps if not is_asked(step.do)]
    assert [step.caution for step in own] == [by_title[step.why] for step in own]
    assert not [step for step in verdict.steps if is_asked(step.do) and step.caution]


def test_a_sentence_of_several_rules_keeps_its_caution() -> None:
    verdict = judged(here(), way(), arp(), port("silent"))
    warned = [step for step in verdict.steps if "Never switch a device off" in step.caution]
    assert warned
    assert all(not is_asked(step.do) for step in warned)


def test_a_sentence_is_never_cautioned_by_one_rule_only() -> None:
    """The same words are one step, with the first one's caution: so it must not hang on who comes first."""
    cautions: dict[str, set[str]] = {}
    for rule in RULES.values():
        for each in remedies(rule):
            if not is_asked(each):
                cautions.setdefault(each, set()).add(rule.explanation.caution)
    differ = {each for each, told in cautions.items() if len(told) > 1}
    assert differ <= {
        # Only read: nobody lifts or switches anything while doing it
        "Compare the plate on the device with the work order.",
        "Switch IPP on in the device's network settings.",
    }


@pytest.mark.parametrize("gate", [Gate.SURVEY, Gate.SWAP, Gate.LEAVE, Gate.STANDING])
def test_nothing_seen_leads_to_steps_without_a_fault(gate: Gate) -> None:
    move = LS_2041.alone() if gate is Gate.STANDING else LS_2041
    tried = [attempt(role, "ipp", Outcome.DENIED, "a password") for role in (Role.OLD, Role.NEW, Role.DEVICE)]
    verdict = judge(make_case([], move, tried), SITE, gate, {"ipp": frozenset({"ipp-service"})})
    assert verdict.steps
    assert all(step.do and step.why for step in verdict.steps)


def test_the_standards_own_steps_come_last_and_only_where_the_gate_is_open() -> None:
    own = (
        WorksheetStep("Ask the desk to close the job", Gate.STANDING, "", "word"),
        WorksheetStep("Take the crate away", Gate.STANDING, "", "photo"),
    )
    verdict = judge(make_case(HEALTHY, ALONE), Standard("x", worksheet=own), Gate.STANDING, {})
    assert verdict.state in {State.READY, State.READY_WITH_CARE}
    assert [step.do for step in verdict.steps[-2:]] == [each.step for each in own]
    assert all(step.why.startswith(STANDARDS_STEP) for step in verdict.steps[-2:])
    closed = judged(here(), way(), arp(), standard=msgspec.structs.replace(SITE, worksheet=own))
    assert not [step for step in closed.steps if step.why.startswith(STANDARDS_STEP)]


# --- on the page


def test_the_page_lists_what_to_ask_for_before_the_rest_where_there_is_more_than_one_thing() -> None:
    verdict = crowded()
    page = render(make_case([], KEPT), verdict, Gate.SWAP)
    assert page.count("Ask first") == 1
    asked = [step.do for step in verdict.steps if is_asked_first(step.do)]
    assert asked
    listed = " ".join(page.partition("Ask first")[2].split())
    assert all(each in listed for each in asked)
    one = msgspec.structs.replace(verdict, steps=(Step("Switch it on.", "off", ""),))
    assert "Ask first" not in render(make_case([], KEPT), one, Gate.SWAP)


def test_our_own_asking_is_nobody_elses_step() -> None:
    verdict = judged(here(), way(), port("silent"))
    assert not [step for step in verdict.steps if is_asked(step.do) and "netcheck" in step.do]
