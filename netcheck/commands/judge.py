"""``netcheck judge``: a saved case again, without the device."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from netcheck.case import alone as alone_of
from netcheck.case import joined
from netcheck.commands.asking import load_others
from netcheck.commands.hearing import run_spoken
from netcheck.commands.telling import tell
from netcheck.document import load_document
from netcheck.errors import Complaint, InputError
from netcheck.gates import Gate
from netcheck.roles import Role
from netcheck.standard import Standard, load_standard


def run_judge(
    case: Path | None, standard: Path | None, gate: str | None, others: Sequence[Path], spoken: bool, **output: Any
) -> int:
    """Judge by the Standard and the gate that are given, else by those that the file was judged by. What the file says
    the verdict was is not looked at."""
    if spoken:
        if standard or gate or others or output["as_json"] or output["save"]:
            wanted = "CASE.json at most: what was read out is told, and not judged again"
            raise InputError(Complaint("command line", "--spoken", "another option beside it", wanted))
        return run_spoken(case, no_color=output["no_color"])
    if case is None:
        raise InputError(Complaint("command line", "CASE.json", "nothing", "a saved case, or --spoken"))
    saved, document = load_document(case)
    whole = joined(saved, load_others(saved.move, others))
    demanded = load_standard(standard) if standard else document.standard or Standard()
    alone = Role.DEVICE in saved.move.roles()
    at = Gate(gate) if gate else document.gate or (Gate.STANDING if alone else Gate.SWAP)
    if alone and at is not Gate.STANDING:
        found = f"{at}, and a case of one device by itself"
        raise InputError(Complaint("command line", "--gate", found, "standing, or a case that ready has saved"))
    evidence, code = (None, "") if others else (document.evidence, document.code)
    if at is Gate.STANDING and not alone:
        whole = alone_of(whole)
    return tell(whole, demanded, at, evidence=evidence, code=code, **output)[1]
