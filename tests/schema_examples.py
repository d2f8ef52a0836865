"""For the schema's tests: a validator that knows nothing of netcheck, an example of every type that is saved, made by
walking the type, and all that can be broken in it, one thing at a time."""

import json
from collections.abc import Iterator
from copy import deepcopy
from dataclasses import dataclass
from functools import cache
from typing import Any

import jsonschema
import msgspec
import rfc8785
from msgspec import inspect

from netcheck.commands.schema import schema_of
from netcheck.document import sealed

Path_ = tuple[str | int, ...]

PLACES = {
    "address": "192.0.2.61", "addresses": "192.0.2.61", "asks": "192.0.2.1", "leads_to": "2001:db8::61",
    "from": "fe80::10%eth0", "final": "192.0.2.21", "source": "192.0.2.10", "network": "192.0.2.0/24",
    "mac": "02:77:00:00:00:22", "macs": "02:77:00:00:00:22",
}  # fmt: skip
"""What stands in a field of this name, which is no mere text: documentation addresses of RFC 5737 and RFC 3849."""
OF_TYPE = {
    ("HardwareAddress", "value"): "02:77:00:00:00:22",
    ("Move", "address"): "keep",
    ("Certificate", "fingerprint"): "5e" * 32,
    ("Service", "state"): "open",
    ("SnmpAgent", "version"): "v2c",
    ("Neighbour", "method"): "arp",
    ("PlannedNeighbour", "method"): "arp",
    ("GatewayNeighbour", "method"): "arp",
    ("FirmwareDemand", "order"): "dotted",
    ("DriverVersionDemand", "operator"): ">=",
    ("ServicesRequired", "names"): "ipp",
    ("ServicesClosed", "names"): "ftp",
    ("OriginDemand", "origins"): "static",
    ("Print", "feed"): "roll",
    ("WordEnough", "kinds"): "serial",
    ("WorksheetStep", "evidence"): "photo",
    ("Finding", "id"): "identity.firmware",
    ("Finding", "causes"): "services.snmp@new/",
    ("Observation", "kind"): "humidity",
}
"""What stands where the tool itself has a closed list of words."""


@cache
def validator(what: type[msgspec.Struct]) -> jsonschema.Draft202012Validator:
    """Of a document's or a fact's type, formats included. The schema goes through JSON, as it does for a reader."""
    schema = json.loads(json.dumps(schema_of(what)))
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema, format_checker=jsonschema.Draft202012Validator.FORMAT_CHECKER)


def faults(what: type[msgspec.Struct], plain: object) -> list[str]:
    """What is wrong with a document, by its schema."""
    return [f"{each.json_path}: {each.message[:200]}" for each in validator(what).iter_errors(plain)]


def example(what: type[msgspec.Struct]) -> dict[str, Any]:
    """A value of a type with every field of it filled."""
    filled = _filled(inspect.type_info(what), "", "")
    assert isinstance(filled, dict)
    return filled


_PLAIN: dict[type[inspect.Type], Any] = {
    inspect.IntType: 7,
    inspect.BoolType: True,
    inspect.DictType: {"percent": 41},
}


def _filled(what: inspect.Type, owner: str, name: str) -> Any:
    match what:
        case inspect.StructType():
            tag = {what.tag_field: what.tag} if what.tag_field else {}
            owner = what.cls.__name__
            return tag | {each.encode_name: _filled(each.type, owner, each.encode_name) for each in what.fields}
        case inspect.VarTupleType():
            return [_filled(what.item_type, owner, name)]
        case inspect.TupleType():
            return [_filled(each, owner, name) for each in what.item_types]
        case inspect.UnionType():
            return _filled(next(each for each in what.types if not isinstance(each, inspect.NoneType)), owner, name)
        case inspect.EnumType():
            return next(iter(what.cls)).value
        case inspect.StrType():
            return OF_TYPE.get((owner, name)) or PLACES.get(name, "Plans \u20ac")
        case inspect.LiteralType():
            return what.values[0]
        case _:
            return deepcopy(_PLAIN[type(what)])


@dataclass(frozen=True)
class Broken:
    """One thing that is wrong: where, what stands there instead (nothing, where ``gone``)."""

    where: Path_
    instead: Any = None
    gone: bool = False

    def __str__(self) -> str:
        return f"{'.'.join(map(str, self.where))} {'gone' if self.gone else json.dumps(self.instead)}"

    def of(self, whole: Any) -> Any:
        """The same value, broken."""
        broken = deepcopy(whole)
        *way, last = self.where
        inner = broken
        for step in way:
            inner = inner[step]
        if self.gone:
            del inner[last]
        else:
            inner[last] = self.instead
        return broken


def broken(what: type[msgspec.Struct], value: Any) -> Iterator[Broken]:
    """Everything that is not of its type, field by field: another type, nothing where there must be something, a word
    that is not in the list, a number with a fraction, or beyond what every reader of JSON can read."""
    yield from _broken(inspect.type_info(what), value, ())


def optional(what: type[msgspec.Struct], value: Any) -> Iterator[Broken]:
    """Every field that may be left out: it came later, and has a default."""
    yield from (each for each in _fields_gone(inspect.type_info(what), value, (), required=False))


def _broken(what: inspect.Type, value: Any, where: Path_) -> Iterator[Broken]:
    nullable = isinstance(what, inspect.UnionType) and any(isinstance(each, inspect.NoneType) for each in what.types)
    if where and not nullable:
        yield Broken(where, None)
    if isinstance(what, inspect.UnionType):
        what = next(each for each in what.types if not isinstance(each, inspect.NoneType))
    if where:
        yield from (Broken(where, each) for each in _wrong(what))
    yield from _inside(what, value, where)
    if not where:
        yield from _fields_gone(what, value, where, required=True)


def _inside(what: inspect.Type, value: Any, where: Path_) -> Iterator[Broken]:
    match what:
        case inspect.StructType():
            for each in what.fields:
                yield from _broken(each.type, value[each.encode_name], (*where, each.encode_name))
        case inspect.VarTupleType():
            yield from _broken(what.item_type, value[0], (*where, 0))
        case inspect.TupleType():
            for place, inner in enumerate(what.item_types):
                yield from _broken(inner, value[place], (*where, place))
        case _:
            return


def _wrong(what: inspect.Type) -> tuple[Any, ...]:
    match what:
        case inspect.StructType() | inspect.DictType():
            return ([], "text", 7)
        case inspect.VarTupleType():
            return ({}, "text", 7)
        case inspect.TupleType():
            return ({}, [], ["one", "two", "three"])
        case inspect.EnumType() | inspect.LiteralType():
            return ("moon", "", 7)
        case inspect.StrType():
            return (7, True, ["text"], 1.5)
        case inspect.IntType():
            return ("7", True, 7.5, 2**53, -(2**53), [7])
        case inspect.BoolType():
            return ("true", 1, 0)
        case _:
            raise AssertionError(what)


def _fields_gone(what: inspect.Type, value: Any, where: Path_, *, required: bool) -> Iterator[Broken]:
    if isinstance(what, inspect.UnionType):
        what = next(each for each in what.types if not isinstance(each, inspect.NoneType))
    match what:
        case inspect.StructType():
            if what.tag_field and required:
                yield Broken((*where, what.tag_field), gone=True)
                yield Broken((*where, what.tag_field), "moon")
            for each in what.fields:
                if each.required is required:
                    yield Broken((*where, each.encode_name), gone=True)
                inner = (*where, each.encode_name)
                yield from _fields_gone(each.type, value[each.encode_name], inner, required=required)
        case inspect.VarTupleType():
            yield from _fields_gone(what.item_type, value[0], (*where, 0), required=required)
        case _:
            return


def document(
    evidence: dict[str, Any] | None = None, gate: Any = None, standard: Any = None, verdict: Any = None
) -> dict[str, Any]:
    """A whole ``netcheck/case/1`` of what is given, sealed where it can be."""
    plain: dict[str, Any] = {
        "schema": "netcheck/case/1", "made_at": 1_795_600_000_000, "tool": "netcheck 0.1.0",
        "move": {"new": {"host": "192.0.2.61"}}, "attempts": [], "observations": [],
        **(evidence or {}), "gate": gate, "standard": standard, "verdict": verdict,
    }  # fmt: skip
    return resealed(plain)


def resealed(plain: dict[str, Any]) -> dict[str, Any]:
    """The document with a seal that fits; what cannot be sealed keeps a seal of zeros."""
    body = {key: value for key, value in plain.items() if key != "seal"}
    try:
        seal = msgspec.to_builtins(sealed(body))
    except (KeyError, ValueError):
        seal = {"evidence": "0" * 64, "whole": "0" * 64, "code": None}
    return {**body, "seal": seal}


def observed(kind: str, value: Any) -> dict[str, Any]:
    """An observation of the new device."""
    return {
        "role": "new", "probe": "ipp", "source": "printer", "at_ms": 1_795_600_000_000, "from": "192.0.2.10",
        "kind": kind, "value": value,
    }  # fmt: skip


def evidence_bytes(plain: dict[str, Any]) -> bytes:
    """The evidence as the reference package of RFC 8785 writes it."""
    return rfc8785.dumps({key: plain[key] for key in ("schema", "made_at", "tool", "move", "attempts", "observations")})
