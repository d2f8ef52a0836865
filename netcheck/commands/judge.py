"""``netcheck judge``: a saved case again, without the device."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from netcheck.case import alone as alone_of
from netcheck.case import joined
from netcheck.commands.asking import load_others
from netcheck.commands.telling import tell
from netcheck.document import load_document
from netcheck.errors import Complaint, InputError
from netcheck.gates import Gate
from netcheck.roles import Role
from netcheck.standard import Standard, load_standard


def run_judge(case: Path, standard: Path | None, gate: str | None, others: Sequence[Path], **output: Any) -> int:
    """Judge by the Standard and the gate that are given, else by those that the file was judged by. What the file says
    the verdict was is not looked at."""
    saved, document = load_document(case)
    whole = joined(saved, load_others(saved.move, others))
    demanded = load_standard(standard) if standard else document.standard or Standard()
    alone = Role.DEVICE in saved.move.roles()
    at = Gate(gate) if gate else document.gate or (Gate.STANDING if alone else Gate.SWAP)
    if alone and at is not Gate.STANDING:
        found = f"{at}, and a case of one device by itself"
        raise InputError(Complaint("command line", "--gate", found, "standing, or a case that ready has saved"))
    evidence = None if others else document.evidence
    if at is Gate.STANDING and not alone:
        whole = alone_of(whole)
    return tell(whole, demanded, at, evidence=evidence, **output)[1]
