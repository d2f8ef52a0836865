"""Who asks: an administrator, or a user who may do nothing; and how the answer of `netcheck ready` is taken apart."""

import subprocess
import sys
from pathlib import Path
from typing import Any, Final, Literal, get_args

from . import visit
from .office import Office
from .visit import MOVE, STANDARD, Answer

Reader = Literal["administrator", "nobody"]
READERS: Final[tuple[Reader, ...]] = get_args(Reader)
GATES: Final = ("survey", "fill", "swap", "leave")
NOBODY: Final = ("setpriv", "--reuid=65534", "--regid=65534", "--clear-groups", "--bounding-set=-all")
JUDGED: Final = Path(__file__).parent / "inside/judged.py"


def ready(
    office: Office,
    *options: str,
    who: Reader = "administrator",
    move: str = MOVE,
    standard: str = STANDARD,
    more: dict[str, str] | None = None,
) -> Answer:
    """`netcheck ready` at the workstation, as one of the two."""
    argv, saved = visit.command(office, *options, move=move, standard=standard)
    saved.parent.chmod(0o777)
    start = argv.index(sys.executable)
    own = [*(NOBODY if who == "nobody" else ()), sys.executable, str(JUDGED), *argv[start + 3 :]]
    env = {**visit.environment(office), **(more or {})}
    done = subprocess.run([*argv[:start], *own], env=env, capture_output=True, text=True, timeout=60)
    assert saved.exists(), done.stdout + done.stderr
    return Answer(done.returncode, done.stdout, done.stderr, saved)


def _against(answer: Answer) -> list[tuple[str, dict[str, Any]]]:
    """What is not met, heaviest first, by id or id/item."""
    return [(f"{each['id']}/{each['item']}".rstrip("/"), each) for each in answer.findings if each["state"] != "met"]


def _counts(answer: Answer, finding: dict[str, Any]) -> bool:
    """Does it count at the gate that was asked, or is it for later?"""
    return GATES.index(str(finding["gate"])) <= GATES.index(str(answer.document["gate"]))


def roots(answer: Answer) -> list[str]:
    """What is in the way or missing and nothing else explains; notes left out."""
    return [
        name
        for name, each in _against(answer)
        if _counts(answer, each) and each["weight"] != "note" and not each["causes"]
    ]


def notes(answer: Answer) -> list[str]:
    """What is noted as not being so. A note that something was not seen says nothing of the device."""
    return [name for name, each in _against(answer) if each["weight"] == "note" and each["state"] == "unmet"]


def below(answer: Answer) -> list[str]:
    """What is not so, and was explained by something else, or counts later only."""
    return [
        name
        for name, each in _against(answer)
        if each["weight"] != "note" and each["state"] == "unmet" and (each["causes"] or not _counts(answer, each))
    ]
