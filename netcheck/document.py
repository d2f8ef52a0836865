"""The saved document: evidence, judgement, seal. Stage: the codec of the Case; everything saved passes through here.

The seal is SHA-256 over RFC 8785 (JSON Canonicalization Scheme). Without floats, with integers inside +-(2^53 - 1) and
with ASCII keys, sorted msgspec output is that scheme byte for byte; `canonical` refuses anything else, so the shortcut
cannot go wrong unnoticed. The seal proves that a file is whole, not who made it.
"""

import hashlib
from pathlib import Path
from typing import Any

import msgspec

from netcheck.case import EVIDENCE_KEYS, SCHEMA, Case
from netcheck.errors import Complaint, InputError
from netcheck.facts import KINDS
from netcheck.gates import Gate
from netcheck.saved_text import load_json, told_schema
from netcheck.spoken import code_of
from netcheck.standard import Standard
from netcheck.verdict import Verdict, standings

MAX_CASE_BYTES = 16 << 20
MAX_DEPTH = 64
_SAFE = 2**53 - 1


class Seal(msgspec.Struct, frozen=True):
    """``evidence`` is the hash of the evidence keys, ``whole`` of everything but the seal; hexadecimal.

    ``code`` is made from ``whole`` to be read over the phone; null in documents from before there was one.
    """

    evidence: str
    whole: str
    code: str | None = None


class Document(msgspec.Struct, frozen=True):
    """A document as it is saved. ``evidence`` are the six evidence keys as plain values, never re-interpreted; ``code``
    and ``whole`` are those of the file that it was read from, "" where there is none. ``verdict`` of a file is what its
    maker's rules came to: it says what somebody was told, and no judging looks at it."""

    evidence: dict[str, Any]
    gate: Gate | None = None
    standard: Standard | None = None
    verdict: Verdict | None = None
    code: str = ""
    whole: str = ""

    def plain(self) -> dict[str, Any]:
        """All keys, in the order in which a person would like to read them, seal last."""
        judgement = {
            "gate": self.gate,
            "standard": msgspec.to_builtins(self.standard),
            "verdict": msgspec.to_builtins(self.verdict),
        }
        body = {**{key: self.evidence[key] for key in EVIDENCE_KEYS}, **judgement}
        return {**body, "seal": msgspec.to_builtins(sealed(body))}

    def encode(self) -> bytes:
        """The file."""
        return encoded(self.plain())


def encoded(plain: dict[str, Any]) -> bytes:
    """A document as a file: indented JSON, one line feed at the end."""
    return msgspec.json.format(msgspec.json.encode(plain), indent=1) + b"\n"


def canonical(value: Any) -> bytes:
    """RFC 8785 form of a value without floats. Raises ValueError for what the shortcut would not get right."""
    _check(value, MAX_DEPTH)
    return _sorted(value)


_sorted = msgspec.json.Encoder(order="sorted").encode
_HARMLESS = frozenset({str, bool, type(None)})


def _check(value: Any, depth: int) -> None:
    if isinstance(value, dict):
        for key in value:
            if not (isinstance(key, str) and key.isascii()):
                raise ValueError(f"key {key!r} is not ASCII")
        value = value.values()
    elif not isinstance(value, list | tuple):
        if isinstance(value, float) or (isinstance(value, int) and not -_SAFE <= value <= _SAFE):
            raise ValueError(f"number {value!r} is not a whole number within 2^53 - 1")
        return
    if depth == 0:
        raise ValueError(f"nested more than {MAX_DEPTH} deep")
    for item in value:
        if type(item) not in _HARMLESS:  # most are, and a call for each of them is what takes the time
            _check(item, depth - 1)


def sealed(body: dict[str, Any]) -> Seal:
    """The seal of a document without one. Raises ValueError for what `canonical` refuses."""
    whole = canonical(body)
    evidence = _sorted({key: body[key] for key in EVIDENCE_KEYS})  # a part of what has just been checked
    digest = hashlib.sha256(whole).hexdigest()
    return Seal(hashlib.sha256(evidence).hexdigest(), digest, code_of(digest))


def evidence_of(case: Case) -> dict[str, Any]:
    """The evidence keys of a case as plain values."""
    plain: dict[str, Any] = msgspec.to_builtins(case)
    return plain


def load_document(path: Path) -> tuple[Case, Document]:
    """Read a saved document. Raises InputError: not JSON, of another or later schema, not as sealed, or not a case."""
    plain = load_json(path, MAX_CASE_BYTES)
    schema = plain.get("schema")
    if schema != SCHEMA:
        later = isinstance(schema, str) and schema.startswith("netcheck/case/")
        found = f"{schema!r}, made by a later netcheck" if later else told_schema(schema) or f"schema {schema!r}"
        raise InputError(Complaint(str(path), "schema", found, f"{SCHEMA!r}" + (": update netcheck" if later else "")))
    seal = _check_seal(path, plain)
    try:
        case = msgspec.convert({key: plain.get(key) for key in EVIDENCE_KEYS}, Case)
        for item in case.observations:
            if kind := KINDS.get(item.kind):
                msgspec.convert(item.value, kind)
        document = Document(
            {key: plain[key] for key in EVIDENCE_KEYS},
            msgspec.convert(plain.get("gate"), Gate | None),
            msgspec.convert(plain.get("standard"), Standard | None),
            _stored_verdict(plain),
            code=seal.code or "",
            whole=seal.whole,
        )
    except msgspec.ValidationError as error:
        raise InputError(Complaint(str(path), "", str(error), f"a case of {SCHEMA}")) from error
    return case, document


def _stored_verdict(plain: dict[str, Any]) -> Verdict | None:
    """The verdict that a file holds; None where it holds none, or one that cannot be read: what a later netcheck said
    is no reason to refuse the evidence. Findings that share a key, lean on one that is not there, or lead from one to
    the next without an end count as unreadable."""
    try:
        gate, verdict = msgspec.convert((plain.get("gate"), plain.get("verdict")), tuple[Gate, Verdict])
        if len({each.key for each in verdict.findings}) < len(verdict.findings):
            return None
        standings(verdict.findings, gate)  # fails for what cannot be arranged
    except (msgspec.ValidationError, KeyError, RecursionError):
        return None
    return verdict


def _check_seal(path: Path, plain: dict[str, Any]) -> Seal:
    """The seal that fits, with a code, also where the file is from before there was one."""
    body = {key: value for key, value in plain.items() if key != "seal"}
    missing = [key for key in (*EVIDENCE_KEYS, "gate", "standard", "verdict") if key not in body]
    if missing:
        raise InputError(Complaint(str(path), missing[0], "nothing", "a whole saved case: this key is always there"))
    stored = plain.get("seal")
    try:
        seal = sealed(body)
    except ValueError as error:
        raise InputError(Complaint(str(path), "", str(error), "whole numbers, ASCII keys, no deep nesting")) from error
    if not isinstance(stored, dict) or (stored.get("evidence"), stored.get("whole")) != (seal.evidence, seal.whole):
        part = "evidence" if not isinstance(stored, dict) or stored.get("evidence") != seal.evidence else "judgement"
        found = f"{part} that differs from its seal: the file was changed or damaged after it was saved"
        raise InputError(Complaint(str(path), "seal", found, "the file as netcheck saved it"))
    if "code" not in stored or stored["code"] not in (None, seal.code):
        found = "a code that differs from its seal: the file was changed or damaged after it was saved"
        raise InputError(Complaint(str(path), "seal.code", found, "the file as netcheck saved it"))
    return seal
