"""``netcheck judge``: a saved case again, without the device."""

import secrets
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Any

import click

from netcheck.case import Case, joined
from netcheck.case import alone as alone_of
from netcheck.commands.asking import load_others
from netcheck.commands.hearing import run_spoken
from netcheck.commands.telling import check_savable, tell
from netcheck.comparing.chain import Question, chain_of
from netcheck.comparing.changes import changes
from netcheck.document import Document, load_document
from netcheck.errors import Complaint, InputError
from netcheck.gates import Gate
from netcheck.probing import provides
from netcheck.redaction import redacted
from netcheck.report.difference import render_changes
from netcheck.report.page import Paint
from netcheck.report.readout import render_whole
from netcheck.roles import Role
from netcheck.standard import Standard, load_standard
from netcheck.verdict import Verdict

_KEY_OCTETS = 32


def run_judge(
    case: Path | None,
    spoken: bool,
    redact: bool,
    standard: Path | None,
    gate: str | None,
    others: Sequence[Path],
    **output: Any,
) -> int:
    """Judge by the Standard and the gate that are given, else by those that the file was judged by. What the file says
    the verdict was is not looked at, but held against what it is now."""
    if spoken:
        if redact or standard or gate or others or output["as_json"] or output["save"]:
            wanted = "CASE.json at most: what was read out is told, and not judged again"
            raise InputError(Complaint("command line", "--spoken", "another option beside it", wanted))
        return run_spoken(case, no_color=output["no_color"])
    if case is None:
        raise InputError(Complaint("command line", "CASE.json", "nothing", "a saved case, or --spoken"))
    check_savable(output["save"], reads=(case, standard, *others))
    saved, document = load_document(case)
    then = _question(saved, document)
    now = Question(
        joined(saved, load_others(saved.move, others)),
        load_standard(standard) if standard else then.standard,
        Gate(gate) if gate else then.gate,
    )
    alone = Role.DEVICE in saved.move.roles()
    if alone and now.gate is not Gate.STANDING:
        found = f"{now.gate}, and a case of one device by itself"
        raise InputError(Complaint("command line", "--gate", found, "standing, or a case that ready has saved"))
    if redact:
        return _redacted(now, **output)
    whole = alone_of(now.case) if now.gate is Gate.STANDING and not alone else now.case
    evidence, code = (None, "") if others else (document.evidence, document.code)
    changed = partial(_changed, "" if others else saved.tool, document, then, now)
    return tell(whole, now.standard, now.gate, evidence=evidence, code=code, changed=changed, **output)[1]


def _question(saved: Case, document: Document) -> Question:
    """What the file itself was asked."""
    usual = Gate.STANDING if Role.DEVICE in saved.move.roles() else Gate.SWAP
    return Question(saved, document.standard or Standard(), document.gate or usual)


def _changed(maker: str, document: Document, then: Question, now: Question, _: Verdict, paint: Paint) -> str:
    """What the seal of a file shows, where it is one file that is judged; and what is not as it was judged to be."""
    found = changes(chain_of(document.verdict, then, now, provides())) if document.gate else ()
    return render_whole(maker, paint) + render_changes(found, paint)


def _redacted(now: Question, **output: Any) -> int:
    """The same, told of a case in which nobody is named. It is another document, with a code of its own."""
    if not (output["save"] or output["as_json"]):
        raise InputError(Complaint("command line", "--redact", "no file to write", "--save FILE, or --json"))
    case, standard = redacted(now.case, now.standard, secrets.token_bytes(_KEY_OCTETS))
    click.echo(
        "netcheck: look it through before you send it: a name that stands in free text only is not known", err=True
    )
    whole = alone_of(case) if now.gate is Gate.STANDING and Role.DEVICE not in case.move.roles() else case
    return tell(whole, standard or Standard(), now.gate, compares=False, **output)[1]
