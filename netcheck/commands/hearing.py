"""``netcheck judge --spoken``: what was read over the phone, typed in; with a file, held against it."""

import re
import sys
from collections.abc import Iterator
from pathlib import Path

import click

from netcheck import rules as _rules  # noqa: F401 - importing it fills RULES
from netcheck.case import Case
from netcheck.cli import emit
from netcheck.commands.telling import EXIT, paint_for
from netcheck.dictation import NotHeardError, take, take_check
from netcheck.document import Document, load_document
from netcheck.errors import Complaint, InputError
from netcheck.gates import Gate
from netcheck.readout import FIELDS, ReadOut, read_out
from netcheck.report.readout import render_heard

CHECK = "check"
_LABELS = (*FIELDS, CHECK)
_LABEL = re.compile(rf"\s*({'|'.join(_LABELS)})\b[\s:]*", re.IGNORECASE)
_PARTS = re.compile(r"[\n;]|\s(?=(?:code|check)\s)", re.IGNORECASE)
"""What joins lines (a mail program) leaves no mark before the last two fields."""
_MOST = 4000
_WHERE = "read-out"
_WANTED = f"a field a line, each with its name: {', '.join(_LABELS)}"


def run_spoken(file: Path | None, *, no_color: bool) -> int:
    """Ask for the fields, or read them from stdin where nobody sits there; check them; say what they mean. Raises
    InputError: what was typed cannot be what was printed, or is not of this file."""
    document = load_document(file) if file else None
    if sys.stdin and sys.stdin.isatty():
        said = _asked()
    else:
        said, check = _taken(_piped(sys.stdin.read(_MOST + 1) if sys.stdin else ""))
        if wrong := _wrong(said, check):
            raise InputError(wrong)
    if file and document:
        _hold_against(file, said, *document)
    emit(render_heard(said, str(file or ""), paint_for(no_color=no_color)))
    return EXIT[said.state]


def _wrong(said: ReadOut, check: str) -> Complaint | None:
    """What shows that something was misheard; None where nothing does."""
    heard = "; ".join(f"{field} {getattr(said, field)}" for field in FIELDS)
    if said.contradiction:
        return Complaint(_WHERE, "blockers", said.contradiction, f"what fits together: read back {heard}")
    if said.check != check:
        found = f"{check}, which does not fit what was typed ({heard})"
        return Complaint(_WHERE, CHECK, found, "the same fields: read them back, the check last")
    return None


def _asked() -> ReadOut:
    """Each field by itself, until it can be what was read, and all again, until they fit together."""
    typed: dict[str, str] = {}
    while True:
        typed = {field: _field(field, typed.get(field)) for field in _LABELS}
        said = ReadOut(**{field: typed[field] for field in FIELDS})
        if not (wrong := _wrong(said, typed[CHECK])):
            return said
        click.echo(f"netcheck: {wrong}\nRead each field back; Enter keeps it.", err=True)


def _field(field: str, before: str | None) -> str:
    while True:
        text = click.prompt(field, default=before, err=True)
        try:
            return take_check(text) if field == CHECK else take(field, text)
        except NotHeardError as error:
            click.echo(f"netcheck: {error}", err=True)


def _piped(text: str) -> dict[str, str]:
    """The block as it is printed, or a field a line. A part without a field's name goes on with the field before."""
    if len(text) > _MOST:
        raise InputError(Complaint(_WHERE, "", f"more than {_MOST} characters", _WANTED))
    typed: dict[str, str] = {}
    field = ""
    for part in _PARTS.split(re.sub(r"(?i)to read out:", "", text)):
        if label := _LABEL.match(part):
            field = label[1].casefold()
            if field in typed:
                raise InputError(Complaint(_WHERE, field, "two of it", _WANTED))
            typed[field] = part[label.end() :]
        elif part.strip():
            if not field:
                raise InputError(Complaint(_WHERE, "", repr(part.strip()[:40]), _WANTED))
            typed[field] += f" {part}"
    return {field: _as_typed(value) for field, value in typed.items()}


def _as_typed(value: str) -> str:
    """Of code and check the page has characters and words, and of a code that there is not, the reason."""
    characters, colon, _ = value.partition(":")
    return (characters if colon else value).partition(", since ")[0].strip()


def _taken(typed: dict[str, str]) -> tuple[ReadOut, str]:
    """Raises InputError with every field that cannot be right."""
    complaints, fields = [], {}
    for field in _LABELS:
        try:
            text = typed.get(field, "")
            fields[field] = take_check(text) if field == CHECK else take(field, text)
        except NotHeardError as error:
            complaints.append(Complaint(_WHERE, error.field, error.found, error.wanted))
    if complaints:
        raise InputError(*complaints)
    check = fields.pop(CHECK)
    return ReadOut(**fields), check


def _hold_against(file: Path, said: ReadOut, case: Case, document: Document) -> None:
    if document.verdict is None:
        raise InputError(Complaint(str(file), "verdict", "none", "a file with the verdict that was read out"))
    saved = read_out(case, document.verdict, document.gate or Gate.SWAP, document.code)
    if differing := list(_differing(said, saved)):
        raise InputError(*(Complaint(str(file), *each) for each in differing))


def _differing(said: ReadOut, saved: ReadOut) -> Iterator[tuple[str, str, str]]:
    for field in FIELDS:
        read, has = getattr(said, field), getattr(saved, field)
        if "".join(filter(str.isalnum, read.casefold())) != "".join(filter(str.isalnum, has.casefold())):
            yield field, has, f"{read}, as it was read out"
