"""A sweep as JSON Lines and as a spreadsheet, read by what is not ours: `json`, `jsonschema`, `csv`.

Sources: RFC 8259 (JSON), RFC 4180 (CSV), OWASP "CSV Injection" (the characters that begin a formula; common practice,
from memory).
"""

import csv
import io
import json
from typing import Any

import jsonschema
import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.report.safe import csv_cell
from netcheck.report.sweep_lines import SCHEMA, Line, csv_lines, json_line, line_of
from netcheck.sweeping.fleet_cells import cleaned
from netcheck.sweeping.outcome import Supply, Swept
from netcheck.verdict import Holds, Standing, State, Weight
from tests.conftest import NOW
from tests.sweep_rows import CANARIES, canary_fleet, fleet, found, swept

KEYS = {
    *("schema", "key", "site", "host", "queue", "gate", "standard", "at_ms", "took_ms", "state", "fault", "model"),
    *("serial", "firmware", "mac", "address", "asset", "notes", "supplies", "findings", "fine"),
}
FINDING_KEYS = {
    *("key", "id", "role", "item", "state", "weight", "standing", "title", "root", "detail", "remedy", "sources"),
}


def no_float(text: str) -> Any:
    raise AssertionError(f"a number with a fraction: {text}")


def loaded(line: str) -> dict[str, Any]:
    assert line.endswith("\n")
    assert line.count("\n") == 1
    value: dict[str, Any] = json.loads(line, parse_float=no_float)
    return value


def table(rows: list[Swept]) -> list[dict[str, str]]:
    """The spreadsheet, as Python's csv reads it from the bytes of a file."""
    data = "".join(csv_lines(rows)).encode()
    return list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"), newline=""), strict=True))


# --- JSON Lines


def test_every_key_is_always_there() -> None:
    bare = msgspec.structs.replace(
        swept(1, None, fault="no time", supplies=(), model="", firmware=""), mac="", address=""
    )
    for each in (bare, swept(2, State.NOT_READY, findings=(found(),)), *fleet(300)):
        line = loaded(json_line(each))
        assert set(line) == KEYS
        assert all(set(finding) == FINDING_KEYS for finding in line["findings"])
        assert all(set(supply) == {"name", "percent"} for supply in line["supplies"])


def test_a_line_says_what_the_outcome_says() -> None:
    it = found("supplies.level", Standing.WATCH, "Cyan ink is low", item="2", state=Holds.UNPROVEN, weight=Weight.CARE)
    row = swept(
        61, State.READY_WITH_CARE, host="192.0.2.61", queue="Plans", findings=(it,), supplies=(Supply("Cyan", 12),)
    )
    line = loaded(json_line(row))
    assert line == {
        "schema": "netcheck/swept/1",
        "key": "Harrow Lane land-survey office/192.0.2.61/Plans",
        "site": "Harrow Lane land-survey office",
        "host": "192.0.2.61",
        "queue": "Plans",
        "gate": "standing",
        "standard": "Plan plotters 2026",
        "at_ms": NOW + 2440,
        "took_ms": 1301,
        "state": "ready-with-care",
        "fault": "",
        "model": "Halden 36R",
        "serial": "HX-77-00061",
        "firmware": "4.7.2",
        "mac": "02:77:00:00:00:3d",
        "address": "192.0.2.61",
        "asset": "",
        "notes": "",
        "supplies": [{"name": "Cyan", "percent": 12}],
        "findings": [
            {
                "key": "supplies.level@device/2",
                "id": "supplies.level",
                "role": "device",
                "item": "2",
                "state": "unproven",
                "weight": "care",
                "standing": "watch",
                "title": "Cyan ink is low",
                "root": True,
                "detail": "found 4.8.0; wanted 4.7.2",
                "remedy": "Install firmware 4.7.2. Then restart the device.",
                "sources": [
                    "device snmp prtGeneralServicePerson",
                    "device ipp printer-firmware-string-version",
                ],
            }
        ],
        "fine": 31,
    }


def test_where_there_is_no_verdict_the_state_is_null_and_the_fault_says_why() -> None:
    line = loaded(json_line(swept(1, None, fault="no time")))
    assert (line["state"], line["fault"]) == (None, "no time")


def test_a_line_is_ascii_and_gives_the_devices_own_text_back() -> None:
    for text, row in zip(CANARIES, canary_fleet(), strict=True):
        line = json_line(row)
        assert line.isascii()
        assert line[:-1].isprintable()
        assert loaded(line)["model"] == text


def test_every_line_fits_the_schema_of_its_type() -> None:
    schema = msgspec.json.schema(Line)
    validator = jsonschema.Draft202012Validator(schema)
    for each in (*fleet(300), *canary_fleet()):
        validator.validate(loaded(json_line(each)))
        assert msgspec.json.decode(json_line(each), type=Line) == line_of(each)
    wrong = {**loaded(json_line(swept())), "state": "fine"}
    assert not validator.is_valid(wrong)
    assert not validator.is_valid({**loaded(json_line(swept())), "more": 1})
    assert schema["$defs"]["Line"]["properties"]["schema"]["enum"] == [SCHEMA]


# --- the spreadsheet


def test_it_begins_with_a_byte_order_mark_and_every_line_ends_in_crlf() -> None:
    data = "".join(csv_lines(fleet(50))).encode()
    assert data.startswith(b"\xef\xbb\xbf")
    assert data.count(b"\r\n") == 51
    assert data.count(b"\r") == 51


def test_every_row_has_a_cell_for_each_column() -> None:
    rows = [*fleet(300), *canary_fleet()]
    lines = list(csv.reader(io.StringIO("".join(csv_lines(rows)), newline=""), strict=True))
    assert {len(line) for line in lines} == {len(lines[0])}
    assert len(lines) == len(rows) + 1


def test_a_row_says_what_the_outcome_says() -> None:
    rows = [
        swept(
            61,
            State.NOT_READY,
            host="192.0.2.61",
            queue="Plans",
            notes='a "quoted", note\nof two lines',
            findings=(found(),),
        ),
        swept(62, None, fault="no time", supplies=()),
    ]
    one, other = table(rows)
    assert (one["new"], one["queue"], one["answer"], one["gate"]) == ("192.0.2.61", "Plans", "not ready", "standing")
    assert one["in the way"] == "The firmware is not the Standard's"
    assert one["notes"] == 'a "quoted", note\nof two lines'
    assert (one["lowest supply percent"], one["supplies"]) == ("74", "Black ink: 74 %\nMaintenance cartridge: not told")
    assert (one["serial"], one["mac"], one["asked at"]) == ("HX-77-00061", "02:77:00:00:00:3d", "2026-11-25 09:46 UTC")
    assert (other["answer"], other["fault"], other["lowest supply percent"]) == ("no verdict", "no time", "")


FORMULAS = [
    "=1+1",
    "+1",
    "-1",
    "@SUM(A1)",
    "\t=1",
    "\r=1",
    "\n=1",
    " =1",
    '"=1',
    "\uff1d1",
    "\uff0b1",
    "\uff0d1",
    "\uff201",
]


@pytest.mark.parametrize("text", FORMULAS)
def test_no_cell_begins_a_formula(text: str) -> None:
    """Nor would it where the spreadsheet takes the semicolon for the separator, as in much of Europe."""
    for foreign in (text, f"x;{text}", f'x";{text}', f"x\n{text}"):
        (cell,) = next(csv.reader(io.StringIO(csv_cell(foreign), newline=""), strict=True))
        for part in cell.replace("\n", ";").split(";"):
            assert part.lstrip(' "')[:1] not in set("=+-@\t\r\uff1d\uff0b\uff0d\uff20"), cell


@pytest.mark.parametrize(
    "text", ["4.10", "4,10", "00812", "1E5", "4.7.2", "11/12", "12:30", "10.100.100.100", "1" * 16]
)
def test_what_a_spreadsheet_would_convert_is_kept_as_text(text: str) -> None:
    """And our own reader of fleet files takes the apostrophe away again."""
    assert csv_cell(text) == f'"\'{text}"'
    assert cleaned("serial", f"'{text}") == text


@pytest.mark.parametrize(
    "text", ["Halden 36R", "HX-77-0457", "192.0.2.61", "02:77:00:00:00:22", "12", "a-b", "x, -3", ""]
)
def test_what_is_harmless_stays_as_it_is(text: str) -> None:
    assert csv_cell(text) == f'"{text}"'


@given(st.lists(st.text(st.characters(exclude_categories=["Cs"])), min_size=1, max_size=5))
def test_any_text_is_one_cell_of_one_row(texts: list[str]) -> None:
    line = ",".join(map(csv_cell, texts))
    rows = list(csv.reader(io.StringIO(line + "\r\n", newline=""), strict=True))
    assert [len(row) for row in rows] == [len(texts)]
    assert "\x00" not in line
    assert "\r" not in line
