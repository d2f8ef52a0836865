"""Every object and enumeration that is read, against the published MIBs as compiled in fixtures/mib/printer_mib.csv."""

import csv
import re
from pathlib import Path

import pytest

from probes.snmp import labels, mib
from probes.snmp.mib import Table

with (Path(__file__).parent.parent / "fixtures" / "mib" / "printer_mib.csv").open(encoding="utf-8", newline="") as file:
    PUBLISHED = {row["object"]: row for row in csv.DictReader(file)}

TABLES = {name: value for name, value in vars(mib).items() if isinstance(value, Table)}
COLUMNS = [(table, name) for table in TABLES.values() for name in table.columns]
CONVENTIONS = sorted(name for name in vars(labels) if name.endswith("TC") and not name.startswith("_"))


def published_oid(name: str) -> tuple[int, ...]:
    return tuple(map(int, PUBLISHED[name]["oid"].split(".")))


def published_labels(name: str) -> dict[int, str]:
    pairs = re.findall(r"([\w-]+)\((-?\d+)\)", PUBLISHED[name]["unit_or_enum"])
    return {int(number): label for label, number in pairs}


@pytest.mark.parametrize(("table", "name"), COLUMNS, ids=[name for _, name in COLUMNS])
def test_every_column_is_where_the_standard_has_it(table: Table, name: str) -> None:
    assert table.column(name) == published_oid(name)
    assert PUBLISHED[name]["access"] != "not-accessible"


NOT_LISTED = {"system", "hrSystem", "dot3StatsEntry"}
"""Two groups of scalars, and a row of which the list has the columns only."""


def test_what_the_list_does_not_have_is_known() -> None:
    assert {table.row for table in TABLES.values()} - set(PUBLISHED) == NOT_LISTED


@pytest.mark.parametrize(
    "table", [table for table in TABLES.values() if table.row not in NOT_LISTED], ids=lambda table: table.row
)
def test_every_row_object_is_where_the_standard_has_it(table: Table) -> None:
    assert table.oid == published_oid(table.row)


def test_the_objects_that_are_pointed_to() -> None:
    assert published_oid("hrDevicePrinter") == mib.HR_DEVICE_PRINTER
    assert published_oid("ipAddressPrefixOrigin") == mib.ADDRESS_PREFIX_ORIGIN


def enumerated(name: str) -> dict[int, str]:
    """What the list says of one object; prtAlertCode is a reference to its textual convention, in two parts."""
    if name == "prtAlertCode":
        return published_labels("TC:PrtAlertCodeTC") | published_labels("TC:PrtAlertCodeTC.finisher(30000+)")
    return published_labels(name)


@pytest.mark.parametrize("name", [name for name in mib.ENUMERATIONS if name != "ifType"])
def test_every_enumeration_has_the_labels_of_the_standard(name: str) -> None:
    assert mib.ENUMERATIONS[name] == enumerated(name)


@pytest.mark.parametrize("name", [name for _, name in COLUMNS])
def test_no_enumerated_object_is_read_without_its_labels(name: str) -> None:
    """A list of labels beside an object means that its number has a name; the exceptions are no enumerations."""
    if name in {"hrPrinterDetectedErrorState", "inetCidrRouteIfIndex"}:
        return
    assert (name in mib.ENUMERATIONS) == bool(enumerated(name))


@pytest.mark.parametrize("name", CONVENTIONS)
def test_every_textual_convention_is_complete(name: str) -> None:
    whole = published_labels(f"TC:{name}")
    if name == "PrtAlertCodeTC":
        whole |= published_labels("TC:PrtAlertCodeTC.finisher(30000+)")
    assert getattr(labels, name) == whole


def test_interface_types_are_a_part_of_the_registry() -> None:
    registry = published_labels("ifType")
    assert labels.IANAifType.items() <= registry.items()


def test_error_bits() -> None:
    """RFC 2790 hrPrinterDetectedErrorState, numbered from the most significant bit; bit 15 has no name."""
    bits = re.findall(r"(\d+) (\w+)", PUBLISHED["hrPrinterDetectedErrorState"]["unit_or_enum"])
    assert {int(number): name for number, name in bits if name != "unassigned"} == labels.HR_PRINTER_ERRORS


def test_unknown_numbers_stay_numbers() -> None:
    """ALR-08: IANA's registry of alert codes grows."""
    assert labels.label(labels.PrtAlertCodeTC, 40123) == "40123"
    assert labels.label(labels.PrtAlertCodeTC, 808) == "inputMediaSupplyEmpty"
