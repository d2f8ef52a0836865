"""``netcheck explain``: the rules' own words, offline."""

import difflib

from netcheck import rules as _rules  # noqa: F401 - importing it fills RULES
from netcheck.cli import emit
from netcheck.errors import Complaint, InputError
from netcheck.numbers import IDS, NUMBERS
from netcheck.report.page import Page, unpainted
from netcheck.ruling import RULES, Rule


def run_explain(finding: str | None) -> int:
    """Print one rule, or all of them, a line each."""
    page = Page(unpainted)
    if finding is None:
        for identity, rule in sorted(RULES.items()):
            page.labelled(identity, rule.explanation.asks, 0, 28)
    else:
        _one(page, _named(finding))
    emit(str(page))
    return 0


def _named(finding: str) -> Rule:
    identity = finding.partition("@")[0].strip().casefold()
    if identity.isascii() and identity.isdecimal():
        identity = IDS.get(int(identity[:9]), identity)
    if identity not in RULES:
        close = difflib.get_close_matches(identity, RULES, n=3, cutoff=0.4)
        any_of = "a finding's id or number; without one, all are listed"
        wanted = f"a finding's id, as {' or '.join(close)}" if close else any_of
        raise InputError(Complaint("command line", "FINDING", repr(finding), wanted))
    return RULES[identity]


def _one(page: Page, rule: Rule) -> None:
    it = rule.explanation
    page.text(f"{rule.id} ({NUMBERS[rule.id]})")
    page.text(it.asks)
    until = f" and until {rule.until}" if rule.until else ""
    for label, text in (
        ("Why", it.why),
        ("Do", it.do),
        ("Not seen", it.unseen),
        ("Denied", it.denied),
        ("Careful", it.caution),
        ("Takes", it.takes),
        ("Weight", f"{rule.weight}; counts from gate {rule.gate} on{until}"),
        ("Source", it.source),
        ("Follows", ", ".join(rule.after)),
    ):
        if text:
            page.labelled(label, text, 2, 11)
