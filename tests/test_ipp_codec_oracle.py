"""The IPP codec against an independent parser and serializer.

pyipp 0.17 cannot read every message. It takes the second of two delimiters in a row for an attribute's tag, so that
A.9 and every response with an empty group end in an exception; of a collection member with several values it keeps
the last; it does not tell a range from a set of two integers, nor an out-of-band value from an empty string.
"""

import json
from pathlib import Path
from typing import Any

import pytest
from pyipp.enums import IppOperation
from pyipp.parser import parse
from pyipp.serializer import encode_dict

from probes.ipp.codec import decode, encode
from probes.ipp.values import (
    Collection,
    DateTime,
    Group,
    GroupTag,
    Octets,
    Opaque,
    OutOfBand,
    Range,
    Resolution,
    Value,
)

FIXTURES = Path(__file__).parents[1] / "fixtures"
APPENDIX_A = {
    section: bytes.fromhex(octets)
    for section, octets in json.loads((FIXTURES / "ipp/rfc8010_appendix_a.json").read_text()).items()
}
RECORDED = {path.name: path.read_bytes() for path in sorted((FIXTURES / "ipp").glob("*.ipp"))}
UNREADABLE = {"A.9"}


def as_pyipp_reads(value: Value) -> Any:
    match value:
        case Range():
            return [value.lower, value.upper]
        case Resolution():
            return (value.across, value.along, value.unit)
        case DateTime():
            return value.instant()
        case OutOfBand():
            return ""
        case Opaque():
            raise AssertionError("not in the messages compared")
        case Octets():
            return value.value.decode("utf-8", "ignore")
        case Collection():
            return {member.name: as_pyipp_reads(member.values[-1]) for member in value.members}
        case _:
            return value.value


def as_pyipp_groups(group: Group) -> dict[str, Any]:
    flat = {}
    for name, values in group.by_name().items():
        read = [as_pyipp_reads(value) for value in values]
        flat[name] = read if len(read) > 1 else read[0]
    return flat


@pytest.mark.parametrize("name", [name for name in (*APPENDIX_A, *RECORDED) if name not in UNREADABLE])
def test_an_independent_parser_reads_the_same(name: str) -> None:
    octets = (APPENDIX_A | RECORDED)[name]
    ours, theirs = decode(octets), parse(octets, contains_data=True)
    assert (ours.version, ours.code, ours.request_id) == (
        theirs["version"],
        theirs["status-code"],
        theirs["request-id"],
    )
    for tag, key in (
        (GroupTag.JOB, "jobs"),
        (GroupTag.PRINTER, "printers"),
        (GroupTag.UNSUPPORTED, "unsupported-attributes"),
    ):
        assert [as_pyipp_groups(group) for group in ours.groups_of(tag)] == theirs[key]
    assert as_pyipp_groups(ours.groups_of(GroupTag.OPERATION)[0]) == theirs["operation-attributes"]


def test_what_an_independent_serializer_writes_is_read() -> None:
    asked = {
        "attributes-charset": "utf-8",
        "attributes-natural-language": "en-US",
        "printer-uri": "ipp://192.0.2.61:631/ipp/print",
        "requesting-user-name": "surveyor",
        "requested-attributes": ["printer-state", "media-ready"],
    }
    octets = encode_dict(
        {
            "version": (2, 0),
            "operation": IppOperation.GET_PRINTER_ATTRIBUTES,
            "request-id": 42,
            "operation-attributes-tag": asked,
        }
    )
    read = decode(octets)
    assert (read.version, read.code, read.request_id) == ((2, 0), 0x000B, 42)
    assert as_pyipp_groups(read.groups[0]) == asked
    assert encode(read) == octets
