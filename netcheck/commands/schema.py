"""``netcheck schema``: the JSON Schema (2020-12) of what is saved, and of every kind of fact in it.

The types say most of it (msgspec writes that part), `schema_forms` what they cannot say. Evidence is kept as it came,
so whatever a later version adds to it is allowed, if it is fit to be sealed; what the codec would drop is not. Three
things no schema can say, and only the codec checks: that a whole number is written without a fraction (to JSON Schema
1.0 is an integer), that nothing is nested more than 64 deep, and that the seal fits.
"""

import inspect
import re
from collections.abc import Iterable, Iterator
from copy import deepcopy
from typing import Any, Final, NamedTuple, TypeAlias

import msgspec

from netcheck.case import EVIDENCE_KEYS, Case, Observation
from netcheck.case import SCHEMA as CASE_1
from netcheck.cli import emit
from netcheck.commands.schema_forms import ASCII, FORMS, SINCE_1970, WHOLE, Form
from netcheck.comparing.document import SCHEMA as DIFFERENCE_1
from netcheck.comparing.document import Difference
from netcheck.document import Seal
from netcheck.errors import Complaint, InputError
from netcheck.facts import KINDS, Fact
from netcheck.finding.document import SCHEMA as FOUND_1
from netcheck.finding.document import Found
from netcheck.gates import Gate
from netcheck.report.sweep_lines import SCHEMA as SWEPT_1
from netcheck.report.sweep_lines import Line
from netcheck.standard import Standard
from netcheck.verdict import Verdict

DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"
Schema: TypeAlias = dict[str, Any]


class Saved(Case, frozen=True, kw_only=True):
    """``netcheck/case/1`` with all its keys: evidence, judgement, seal."""

    gate: Gate | None
    standard: Standard | None
    verdict: Verdict | None
    seal: Seal


class Document(NamedTuple):
    """A document that is saved: what its key ``schema`` says, its type, and what it is."""

    schema: str
    what: type[msgspec.Struct]
    about: str


DOCUMENTS: Final[dict[str, Document]] = {
    "case": Document(CASE_1, Saved, "A visit, or one device, as it was seen and judged: evidence, judgement, seal."),
    "found": Document(FOUND_1, Found, "The printers that could be seen from one place, a row a physical device."),
    "difference": Document(DIFFERENCE_1, Difference, "What changed between two cases."),
    "swept": Document(SWEPT_1, Line, "One device of a sweep, a line of JSON each."),
}
"""By the word for it."""

_PLAIN: Final = "Plain"
_REF: Final = "#/$defs/{name}"
_ANYTHING: Final[Schema] = {"$ref": _REF.format(name=_PLAIN)}
_SEALABLE: Final[Schema] = {
    "title": _PLAIN,
    "description": "Whatever can be sealed: no number with a fraction, none beyond 2^53 - 1, ASCII names.",
    "type": ["null", "boolean", "string", "integer", "array", "object"],
    **WHOLE,
    "items": _ANYTHING,
    "propertyNames": ASCII,
    "additionalProperties": _ANYTHING,
}


def run_schema(kind: str | None) -> int:
    """Print the schema of a document, or of one kind of fact. Raises InputError for what is neither."""
    name = kind or "case"
    if name not in DOCUMENTS and name not in KINDS:
        wanted = f"one of {', '.join(sorted(KINDS))}; or a document: {', '.join(DOCUMENTS)}"
        raise InputError(Complaint("command line", "KIND", repr(kind), wanted))
    what = DOCUMENTS[name].what if name in DOCUMENTS else KINDS[name]
    emit(msgspec.json.format(msgspec.json.encode(schema_of(what)), indent=2) + b"\n")
    return 0


def schema_of(what: type[msgspec.Struct]) -> Schema:
    """The schema of a document's type, or of a fact's, complete in itself."""
    facts = list(KINDS.values()) if what is Saved else []
    (top, *refs), parts = msgspec.json.schema_components([what, *facts], ref_template=_REF)
    if what is Saved:
        parts[Observation.__name__] = _discriminated(parts[Observation.__name__], dict(zip(facts, refs, strict=True)))
    kept = _kept(what, top, parts)
    defs = {name: _told(part, keeps=name in kept) for name, part in parts.items()}
    root = defs.pop(_named(top))
    if kept:
        defs[_PLAIN] = _SEALABLE
    return {"$schema": DIALECT, **_head(what, root), **root, "$defs": defs}


def _head(what: type[msgspec.Struct], root: Schema) -> Schema:
    """Which schema it is. A document's key ``schema`` has one value, and that is its name."""
    if issubclass(what, Fact):
        return {"$id": f"urn:netcheck:fact:{what.kind}"}
    document = next(each for each in DOCUMENTS.values() if each.what is what)
    root["properties"]["schema"] = {"const": document.schema}
    for time in {"made_at", "at_ms"} & set(root["properties"]):
        root["properties"][time].update(SINCE_1970)
    root |= {"title": document.schema, "description": document.about}
    return {"$id": f"urn:{document.schema.replace('/', ':')}"}


def _kept(what: type[msgspec.Struct], top: Schema, parts: Schema) -> set[str]:
    """The parts whose unknown keys are kept as they came: evidence, which is never written anew from its types."""
    if issubclass(what, Fact):
        return set(parts)
    if what is not Saved:
        return set()
    root = parts[_named(top)]["properties"]
    return set(_reached((root[key] for key in EVIDENCE_KEYS), parts))


def _reached(schemas: Iterable[Any], parts: Schema) -> Iterator[str]:
    """The parts that schemas lead to."""
    seen: set[str] = set()
    found = [name for schema in schemas for name in _references(schema)]
    while found:
        name = found.pop()
        if name not in seen and name in parts:
            seen.add(name)
            yield name
            found += _references(parts[name])


def _references(schema: Any) -> Iterator[str]:
    if isinstance(schema, dict):
        if "$ref" in schema:
            yield _named(schema)
        for each in schema.values():
            yield from _references(each)
    elif isinstance(schema, list | tuple):
        for each in schema:
            yield from _references(each)


def _named(reference: Schema) -> str:
    return str(reference["$ref"]).removeprefix(_REF.format(name=""))


def _discriminated(part: Schema, facts: dict[type[Fact], Schema]) -> Schema:
    """An observation: its kind says what its value is; of a kind that is not known here, it may be anything."""
    part = deepcopy(part)
    part["properties"]["value"] = {"type": "object", **_ANYTHING}
    part["allOf"] = [
        {
            "if": {"properties": {"kind": {"const": fact.kind}}, "required": ["kind"]},
            "then": {"properties": {"value": reference}},
        }
        for fact, reference in facts.items()
    ]
    return part


_FORMS: Final = {what.__name__: forms for what, forms in FORMS.items()}


def _told(part: Schema, *, keeps: bool) -> Schema:
    """One part with its forms. ``keeps``: the codec keeps keys that it does not know."""
    part = deepcopy(part)
    if "description" in part:
        part["description"] = re.sub(r"\s+", " ", inspect.cleandoc(part["description"]))
    forms = _FORMS.get(part.get("title", ""), {})
    for name, schema in part.get("properties", {}).items():
        _bound(schema)
        _narrow(schema, forms.get(name, {}))
    if part.get("title") == Seal.__name__:
        part["required"] = list(Seal.__struct_fields__)  # the code may be null, and has to be there
    if "properties" in part:
        part["additionalProperties"] = _ANYTHING if keeps else False
        part |= {"propertyNames": ASCII} if keeps else {}
    return part


def _narrow(schema: Schema, form: Form) -> None:
    """Put a form where it belongs."""
    if schema.get("type") == "array" and isinstance(schema["items"], dict):
        _narrow(schema["items"], form)
    elif schema.get("type") in {"string", "integer"}:
        schema.update(form)
    for choice in () if "type" in schema else schema.get("anyOf", ()):
        _narrow(choice, form)


def _bound(schema: Any) -> None:
    """No whole number is beyond what every reader can read."""
    if isinstance(schema, dict):
        if schema.get("type") == "integer":
            schema.update(WHOLE)
        for each in schema.values():
            _bound(each)
    elif isinstance(schema, list):
        for each in schema:
            _bound(each)
