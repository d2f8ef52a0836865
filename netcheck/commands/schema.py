"""``netcheck schema``: the JSON Schema (2020-12) of what is saved."""

from typing import Any

import msgspec

from netcheck.case import Case
from netcheck.cli import emit
from netcheck.document import Seal
from netcheck.errors import Complaint, InputError
from netcheck.facts import KINDS
from netcheck.gates import Gate
from netcheck.standard import Standard
from netcheck.verdict import Verdict

DIALECT = "https://json-schema.org/draft/2020-12/schema"


class Saved(Case, frozen=True, kw_only=True):
    """The saved document, ``netcheck/case/1``: evidence, judgement, seal."""

    gate: Gate | None
    standard: Standard | None
    verdict: Verdict | None
    seal: Seal


def run_schema(kind: str | None) -> int:
    """Print the schema of the document, or of one kind of fact."""
    if kind is not None and kind not in KINDS:
        raise InputError(Complaint("command line", "KIND", repr(kind), f"one of {', '.join(sorted(KINDS))}"))
    emit(msgspec.json.format(msgspec.json.encode(schema_of(Saved if kind is None else KINDS[kind])), indent=2).decode())
    emit("\n")
    return 0


def schema_of(what: type[msgspec.Struct]) -> dict[str, Any]:
    """The schema, naming its dialect."""
    return {"$schema": DIALECT, **msgspec.json.schema(what)}
