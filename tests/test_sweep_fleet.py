"""The fleet file as people keep it: spreadsheets in every dialect, TOML, folders of saved cases.

The oracles are RFC 4180 s2 and Python's own `csv` module. What spreadsheets write beyond that is common practice, no
source, unless something else is said.
"""

import csv
import io
import os
import shutil
import time
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from netcheck.document import load_document
from netcheck.errors import Complaint, InputError
from netcheck.gates import Gate
from netcheck.move import Ports, QueueRef
from netcheck.sweeping.fleet import Fleet, key_of, load_fleet, load_folder, row_of
from netcheck.sweeping.fleet_csv import letter
from netcheck.sweeping.fleet_lines import cells_of, lines_of
from netcheck.sweeping.fleet_notes import Notes, spans
from netcheck.sweeping.outcome import Row

from .conftest import FIXTURES

SITE = "Harrow Lane land-survey office"
WHOLE = f"""site,queue,server,old,new,gate,standard,snmp,ports,serial,mac,asset,notes
{SITE},Plans,192.0.2.5:8631,192.0.2.21,ipp://192.0.2.61:632/ipp/print,Swap,plans.toml,site-2,\
ipp=8631 raw=9101,HX-77-0457,02-77-00-00-00-22,CLS-0457,"second floor, left"
"""


def given_file(folder: Path, text: str | bytes, name: str = "fleet.csv") -> Path:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def read(folder: Path, text: str | bytes, name: str = "fleet.csv") -> Fleet:
    return load_fleet(given_file(folder, text, name))


def hosts(fleet: Fleet) -> list[str]:
    return [row.new.host for row in fleet.rows]


def test_a_whole_row_is_read(tmp_path: Path) -> None:
    standard = given_file(tmp_path, 'name = "Plan plotters 2026"', "plans.toml")
    fleet = read(tmp_path, WHOLE)
    assert not fleet.complaints
    (row,) = fleet.rows
    assert row.key == "harrow lane land-survey office/192.0.2.61/plans"
    assert (row.site, row.line, row.gate, row.standard) == (SITE, 2, Gate.SWAP, str(standard))
    assert (row.queue, row.snmp_profile) == (QueueRef("Plans", "192.0.2.5:8631"), "site-2")
    assert (row.new.host, row.new.path, row.new.ports) == ("192.0.2.61", "/ipp/print", Ports(ipp=8631, raw=9101))
    assert (row.new.serial, row.new.mac, row.new.asset) == ("HX-77-0457", "02:77:00:00:00:22", "CLS-0457")
    assert row.old is not None
    assert (row.old.host, row.notes) == ("192.0.2.21", "second floor, left")


def test_only_new_is_required_and_standing_is_the_question(tmp_path: Path) -> None:
    (row,) = read(tmp_path, "new\n192.0.2.61\n").rows
    assert row == Row(key="/192.0.2.61/", site="", new=row.new, line=2)
    assert row.gate is Gate.STANDING


BOMS = {"utf-8": b"", "utf-8-sig": b"", "utf-16-le": b"\xff\xfe", "utf-16-be": b"\xfe\xff"}
"""Byte order marks: Unicode 15, section 23.8."""


@pytest.mark.parametrize("marked", [True, False], ids=["marked", "bare"])
@pytest.mark.parametrize("encoding", BOMS)
@pytest.mark.parametrize("end", ["\r\n", "\n", "\r"], ids=["CRLF", "LF", "CR"])
@pytest.mark.parametrize("separator", [",", ";", "\t"], ids=["comma", "semicolon", "tab"])
def test_every_encoding_line_end_and_separator(
    tmp_path: Path, encoding: str, marked: bool, end: str, separator: str
) -> None:
    lines = ["site|new|notes", 'Hüttenstraße 4|192.0.2.61|"two', 'lines"', "Łódź 2|192.0.2.62|", ""]
    text = end.join(lines).replace("|", separator)
    fleet = read(tmp_path, (BOMS[encoding] if marked else b"") + text.encode(encoding))
    assert not fleet.complaints
    assert [(row.site, row.new.host, row.notes, row.line) for row in fleet.rows] == [
        ("Hüttenstraße 4", "192.0.2.61", "two lines", 2),
        ("Łódź 2", "192.0.2.62", "", 4),
    ]


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
@pytest.mark.parametrize("first", ["sep=;", "# a note; new"])
def test_a_byte_order_mark_is_no_part_of_the_first_line(tmp_path: Path, encoding: str, first: str) -> None:
    fleet = read(tmp_path, f"{first}\nsite;new\nA, B;192.0.2.61\n".encode(encoding))
    assert [(row.site, row.new.host, row.line) for row in fleet.rows] == [("A, B", "192.0.2.61", 3)]


@pytest.mark.parametrize(
    ("lines", "cells"),
    [
        ("aaa,bbb,ccc", ["aaa", "bbb", "ccc"]),
        ('"aaa","bbb","ccc"', ["aaa", "bbb", "ccc"]),
        ('"aaa","b\r\nbb","ccc"', ["aaa", "b\nbb", "ccc"]),
        ('"aaa","b""bb","ccc"', ["aaa", 'b"bb', "ccc"]),
    ],
)
def test_the_examples_of_rfc_4180_section_2(tmp_path: Path, lines: str, cells: list[str]) -> None:
    split = lines_of(f"{lines}\r\nzzz,yyy,xxx\r\n".encode(), Notes(tmp_path))
    found, after = cells_of(split, 0, ",")
    assert found == cells
    assert cells_of(split, after, ",")[0] == ["zzz", "yyy", "xxx"]


class Semicolon(csv.excel):
    delimiter = ";"


class AllQuoted(csv.excel):
    quoting = csv.QUOTE_ALL


class OldMac(csv.excel):
    lineterminator = "\r"


DIALECTS: list[type[csv.Dialect]] = [csv.excel, csv.excel_tab, csv.unix_dialect, Semicolon, AllQuoted, OldMac]
CELL = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\r\n\0"), max_size=12) | st.sampled_from(
    ['"', '""', '24" roll', ",", ";", "\t", "a,b", '"a"', " ", "'"]
)


@given(st.lists(st.lists(CELL, min_size=2, max_size=5), min_size=1, max_size=5), st.sampled_from(DIALECTS))
def test_what_the_csv_module_writes_is_read_back(rows: list[list[str]], dialect: type[csv.Dialect]) -> None:
    out = io.StringIO()
    csv.writer(out, dialect).writerows(rows)
    lines = lines_of(b"\xef\xbb\xbf" + out.getvalue().encode(), Notes(Path()))
    at, read_back = 0, []
    while at < len(lines) - 1:  # the last line is what stands behind the last line's end
        cells, at = cells_of(lines, at, dialect.delimiter)
        read_back.append(cells)
    assert read_back == rows
    again = csv.reader(io.StringIO(out.getvalue(), newline=""), dialect)
    assert read_back == list(again)


@given(st.text("ab\n,;\t\"'", max_size=40), st.sampled_from([csv.excel, csv.excel_tab, Semicolon]))
def test_line_breaks_in_quotes_as_the_csv_module_has_them(note: str, dialect: type[csv.Dialect]) -> None:
    out = io.StringIO()
    csv.writer(out, dialect).writerows([[note, "x"], ["second", "y"]])
    lines = lines_of(out.getvalue().encode(), Notes(Path()))
    cells, after = cells_of(lines, 0, dialect.delimiter)
    assert cells == [note, "x"]
    assert after == 1 + note.count("\n")
    assert cells_of(lines, after, dialect.delimiter)[0] == ["second", "y"]


TAKEN = {
    "blanks and no-break blanks around": "site,new\n\u00a0 Mill \u00a0,\u00a0192.0.2.61\u2007\n",
    "zero-width blanks from a web page": "site,new\nMill\u200b,\ufeff192.0.2.61\u200b\n",
    "capitals in the header": "SITE,New\nMill,192.0.2.61\n",
    "blanks and underscores in the header": ' "S i t e ",_N e_w_\nMill,192.0.2.61\n',
    "a line break in the header": '"site\n",new\nMill,192.0.2.61\n',
    "another order": "new,site\n192.0.2.61,Mill\n",
    "empty rows": "site,new\n\n   \nMill,192.0.2.61\n\n",
    "rows of separators": "site,new\n,\n , \nMill,192.0.2.61\n,,,,\n",
    "rows of quoted nothing": 'site,new\n"",""\nMill,192.0.2.61\n',
    "empty columns at the end": "site,new,,,\nMill,192.0.2.61,,,\n",
    "empty columns behind the header": "site,new\nMill,192.0.2.61,,,\n",
    "the first line of Excel": "sep=;\nsite;new\nMill;192.0.2.61\n",
    "the first line of Excel, quoted": '"sep=,"\nsite,new\nMill,192.0.2.61\n',
    "another separator by Excel's first line": "sep=|\nsite|new\nMill|192.0.2.61\n",
    "a title above the header": "Plotters of the county;;\n;;\nsite;new;serial\nMill;192.0.2.61;\n",
    "notes": "# kept by the desk\nsite,new\n# Mill,192.0.2.99\n  # and, so on\nMill,192.0.2.61\n",
    "a leading apostrophe": "site,new\nMill,'192.0.2.61\n",
    "a formula that is text": 'site,new\nMill,"=""192.0.2.61"""\n',
    "blanks before the quotes": 'site, new\nMill, "192.0.2.61" \n',
    "a row without its last cells": "site,new,serial,notes\nMill,192.0.2.61\n",
    "commas in the notes of a tab file": "site\tnew\tnotes\nMill\t192.0.2.61\ta, b; c\n",
    "no end of the last line": "site,new\nMill,192.0.2.61",
    "a URI": "site,new\nMill,ipp://192.0.2.61/ipp/print\n",
    "CR CR LF": "site,new\r\r\nMill,192.0.2.61\r\r\n",
}


@pytest.mark.parametrize("text", TAKEN.values(), ids=TAKEN)
def test_what_is_taken_as_it_comes(tmp_path: Path, text: str) -> None:
    fleet = read(tmp_path, text)
    assert [(row.site, row.new.host) for row in fleet.rows] == [("Mill", "192.0.2.61")]
    assert not fleet.complaints


@pytest.mark.parametrize(
    "site",
    ['Depot 24" wide', "'s-Hertogenbosch", "O'Hara's yard", "Mill & Sons <west>", "測量事務所", "#5 (old) depot"],
)
def test_a_site_may_be_called_what_it_is_called(tmp_path: Path, site: str) -> None:
    quoted = '"' + site.replace('"', '""') + '"'
    (row,) = read(tmp_path, f"site,new\n{quoted},192.0.2.61\n").rows
    assert row.site == site


@pytest.mark.parametrize(
    "ports",
    ["ipp=8631 raw=9101", "ipp:8631;raw:9101", "IPP = 8631, Raw = 9101", "raw:9101|ipp:8631", " ipp=8631;;raw=9101 "],
)
def test_ports_as_people_write_them(tmp_path: Path, ports: str) -> None:
    (row,) = read(tmp_path, f'new,ports\n192.0.2.61,"{ports}"\n').rows
    assert row.new.ports == Ports(ipp=8631, raw=9101)


def test_blanks_within_a_value_are_one_blank(tmp_path: Path) -> None:
    (row,) = read(tmp_path, 'site,new\n"Harrow\u00a0Lane\n  land-survey\toffice",192.0.2.61\n').rows
    assert row.site == SITE


def test_the_file_s_own_line_numbers_with_line_breaks_in_quotes(tmp_path: Path) -> None:
    text = '# note\nsite,new,notes\nA,192.0.2.1,"one\ntwo\n\nfour"\n\nB,192.0.2.2,\nC,192.0.2,\n'
    fleet = read(tmp_path, text)
    assert [row.line for row in fleet.rows] == [3, 8]
    assert fleet.complaints[0].key == "line 9, column B (new)"


@pytest.mark.parametrize(
    ("index", "name"), [(0, "A"), (25, "Z"), (26, "AA"), (51, "AZ"), (52, "BA"), (701, "ZZ"), (702, "AAA")]
)
def test_columns_have_the_spreadsheet_s_letters(index: int, name: str) -> None:
    """Common practice of spreadsheets, no source: base 26 without a zero."""
    assert letter(index) == name


@pytest.mark.parametrize(
    ("lines", "text"),
    [
        ([3], "line 3"),
        ([3, 5], "lines 3 and 5"),
        ([3, 4], "lines 3 and 4"),
        ([3, 4, 5], "lines 3 to 5"),
        ([3, 5, 6, 7, 12], "lines 3, 5 to 7 and 12"),
    ],
)
def test_lines_are_told_in_short(lines: list[int], text: str) -> None:
    assert spans(lines) == text


# --- keys ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (("Mill", "halden.example", "Plans"), ("MILL", "HALDEN.example.", "plans")),
        (("Mill  West", "h", ""), ("Mill West", "h", "")),
        (("Caf\u00e9", "h", ""), ("Cafe\u0301", "h", "")),  # Unicode 15, UAX #15: canonically equivalent
    ],
)
def test_what_people_write_in_two_ways_is_one_key(one: tuple[str, str, str], other: tuple[str, str, str]) -> None:
    assert key_of(*one) == key_of(*other)


@given(*[st.tuples(*[st.text("ab/%\u00e9\x00\x1b\u202e", max_size=6)] * 3)] * 2)
def test_two_keys_are_equal_only_for_the_same(one: tuple[str, str, str], other: tuple[str, str, str]) -> None:
    """The inverse of percent-encoding (RFC 3986 s2.1) exists, so nothing can be lost."""
    key = key_of(*one)
    assert key.count("/") == 2
    assert key.isprintable()
    assert (key == key_of(*other)) == (_blankless(one) == _blankless(other))


def _blankless(parts: tuple[str, str, str]) -> list[str]:
    return [" ".join(part.split()) for part in parts]


@pytest.mark.parametrize(("one", "other"), [("\x10", "%10"), ("a/b", "a%2Fb"), ("%", "%25"), ("a b", "a\u200bb")])
def test_what_is_encoded_is_not_what_is_written_so(one: str, other: str) -> None:
    assert key_of(one, "h") != key_of(other, "h")


def test_a_key_is_bounded_and_what_is_cut_still_counts() -> None:
    long = "x" * 5000
    assert len(key_of(long, long, long)) < 700
    assert key_of(f"{long}a", "h") != key_of(f"{long}b", "h")


# --- TOML ------------------------------------------------------------------------------------------------------------

TOML = """
[fleet]
standard = "plans.toml"
snmp = "site"
[[device]]
site = "Mill"
new = "192.0.2.61"
ports = "ipp=8631"
[[device]]
new = "192.0.2.62"
gate = "fill"
snmp = "legacy"
"""


def test_toml_with_what_holds_for_all(tmp_path: Path) -> None:
    standard = given_file(tmp_path, 'name = "x"', "plans.toml")
    fleet = read(tmp_path, TOML, "fleet.toml")
    assert not fleet.complaints
    assert [(row.new.host, row.gate, row.snmp_profile, row.standard, row.line) for row in fleet.rows] == [
        ("192.0.2.61", Gate.STANDING, "site", str(standard), 5),
        ("192.0.2.62", Gate.FILL, "legacy", str(standard), 9),
    ]


def test_toml_and_csv_give_the_same_row(tmp_path: Path) -> None:
    given_file(tmp_path, 'name = "x"', "plans.toml")
    (by_csv,) = read(tmp_path, WHOLE).rows
    (cells,) = csv.DictReader(io.StringIO(WHOLE))
    text = "\n[[device]]\n" + "".join(f'{name} = "{value}"\n' for name, value in cells.items()).replace("Swap", "swap")
    fleet = read(tmp_path, text, "fleet.toml")
    assert not fleet.complaints
    assert fleet.rows == (by_csv,)


# --- folders ---------------------------------------------------------------------------------------------------------


def test_a_folder_of_saved_cases(tmp_path: Path) -> None:
    folder, outside = tmp_path / "cases", tmp_path / "outside.json"
    folder.mkdir()
    shutil.copy(FIXTURES / "cases" / "ready.json", folder / "b.json")
    shutil.copy(FIXTURES / "cases" / "read.json", folder / "READ.JSON")
    shutil.copy(FIXTURES / "cases" / "ready.json", outside)
    given_file(folder, "{", "broken.json")
    given_file(folder, b'{"schema": "\xf0("}', "damaged.json")
    given_file(folder, "no case", "notes.txt")
    given_file(folder, "{", ".partly.json")
    (folder / "folder.json").mkdir()
    shutil.copy(FIXTURES / "cases" / "ready.json", folder / "older.json")
    os.utime(folder / "older.json", (1, 1))
    if hasattr(os, "mkfifo"):
        os.mkfifo(folder / "pipe.json")
        (folder / "linked.json").symlink_to(outside)
        (folder / "nowhere.json").symlink_to(folder / "gone")
        (folder / "loop.json").symlink_to(folder / "loop.json")
    found = list(load_folder(folder))
    cases = sorted(each[0].name for each in found if not isinstance(each, Complaint))
    told = {Path(each.where).name: str(each) for each in found if isinstance(each, Complaint)}
    assert cases == ["READ.JSON", "b.json"]
    assert "JSON that cannot be read" in told["broken.json"]
    assert "can't decode byte 0xf0" in told["damaged.json"]
    assert "the same device as in b.json, which is newer" in told["older.json"]
    assert "no file" in told["folder.json"]
    if hasattr(os, "mkfifo"):
        assert "leads out of the folder" in told["linked.json"]
        assert {"pipe.json", "nowhere.json", "loop.json"} <= set(told)
    assert not {"notes.txt", ".partly.json"} & set(told)


@pytest.mark.parametrize("name", ["gone", "file"])
def test_a_folder_that_is_none(tmp_path: Path, name: str) -> None:
    given_file(tmp_path, "x", "file")
    with pytest.raises(InputError, match="a folder of saved cases"):
        load_folder(tmp_path / name)


def test_a_saved_case_has_the_key_that_the_fleet_file_gives(tmp_path: Path) -> None:
    case, document = load_document(FIXTURES / "cases" / "ready.json")
    assert case.move.new is not None
    assert case.move.queue is not None
    text = f"site,new,queue,gate\n{case.move.site},{case.move.new.host},{case.move.queue.name},swap\n"
    (row,) = read(tmp_path, text).rows
    saved = row_of(case, document)
    assert (saved.key, saved.gate, saved.line) == (row.key, Gate.SWAP, 0)
    assert saved.move().new == case.move.new


def test_a_device_by_itself_has_the_key_that_the_fleet_file_gives(tmp_path: Path) -> None:
    case, document = load_document(FIXTURES / "cases" / "read.json")
    assert case.move.device is not None
    (row,) = read(tmp_path, f"new\n{case.move.device.host}\n").rows
    assert row_of(case, document).key == row.key
    assert row_of(case, document).move().device == case.move.device


# --- junk and size ---------------------------------------------------------------------------------------------------


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(st.binary(max_size=300), st.sampled_from(["fleet.csv", "fleet.toml"]))
def test_junk_is_a_complaint_and_nothing_else(tmp_path: Path, junk: bytes, name: str) -> None:
    try:
        read(tmp_path, junk, name)
    except InputError:
        return


JUNK = st.binary(max_size=30).map(lambda raw: raw.replace(b"\r", b"").replace(b"\n", b"")) | st.sampled_from(
    [b'"', b'",', b',"', b'""', b'"x",192.0.2.200,"', b'y","', b'"a,b,c', b'a,"b', b"\xe9,x,y", b"\0", b"#", b'"#",,"']
)
GOOD = ['{n},"Harrow, Lane",192.0.2.{n},HX', "{n},Mill,192.0.2.{n},", '"{n}","a ""b""","192.0.2.{n}",HX']


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=300)
@given(st.lists(JUNK | st.sampled_from(GOOD), max_size=25))
def test_junk_between_never_loses_a_good_row(tmp_path: Path, parts: list[bytes | str]) -> None:
    lines, wanted = [b"asset,site,new,serial"], []
    for number, part in enumerate(parts, 1):
        lines.append(part if isinstance(part, bytes) else part.format(n=number).encode())
        if isinstance(part, str):
            wanted.append((number + 1, f"192.0.2.{number}"))
    fleet = read(tmp_path, b"\n".join(lines) + b"\n")
    assert set(wanted) <= {(row.line, row.new.host) for row in fleet.rows}


def test_a_large_fleet_is_read_in_a_second_of_work(tmp_path: Path) -> None:
    """The bound is loose, as the machine may be busy; `process_time` counts only our own work."""
    given_file(tmp_path, 'name = "x"', "plans.toml")
    head, row = WHOLE.split("\n", 1)
    rows = (row.replace("192.0.2.61", f"10.1.{n // 250}.{n % 250 + 1}") for n in range(10_000))
    path = given_file(tmp_path, f"{head}\n{''.join(rows)}")
    began = time.process_time()
    fleet = load_fleet(path)
    took = time.process_time() - began
    assert (len(fleet.rows), fleet.complaints) == (10_000, ())
    assert took < 2, f"{took:.2f} s"
