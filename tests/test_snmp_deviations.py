"""What real agents get wrong or leave out, and what the read half makes of it.

The deviations are common practice without a source, unless a check names one. Nothing may raise, and nothing that was
not said may become a fact.
"""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.facts import Fact, Measured, Unknown, Unrestricted
from netcheck.facts.condition import Alerts, Covers, HostPrinter
from netcheck.facts.identity import Model, Serial, System
from netcheck.facts.network import SnmpAgent
from probes.snmp import mib
from probes.snmp.harvest import Harvested
from probes.snmp.message import Syntax, VarBind, Version
from probes.snmp.plan import TABLES, Topic
from probes.snmp.reading import read
from tests.snmp_columns import Cells, facts, harvest, the_fact

PRINTER_TYPE = mib.HR_DEVICE_PRINTER
NETWORK_TYPE = (1, 3, 6, 1, 2, 1, 25, 3, 1, 4)  # hrDeviceNetwork, RFC 2790
DEFAULT = "1.4.0.0.0.0.0"


def host(cells: Cells) -> HostPrinter:
    return next(fact for fact in facts(Topic.HOST, cells) if isinstance(fact, HostPrinter))


# --- which printer ---------------------------------------------------------------------------------------------------


def test_the_printer_need_not_be_the_first_device() -> None:
    """RFC 2790: hrDeviceType says what a row is; hrDeviceIndex is any number."""
    found = facts(
        Topic.HOST,
        {
            "hrDeviceType.1": NETWORK_TYPE,
            "hrDeviceDescr.1": "Network interface",
            "hrDeviceType.3": PRINTER_TYPE,
            "hrDeviceDescr.3": "Halden 36R",
            "hrDeviceStatus.3": 2,
            "hrPrinterStatus.3": 3,
            "prtGeneralSerialNumber.3": "HX-77-0457",
        },
    )
    assert found == [HostPrinter(3, "running", "idle", None), Model("Halden 36R"), Serial("HX-77-0457")]


@pytest.mark.parametrize(
    "cells",
    [
        {"hrPrinterStatus.5": 4},
        {"hrPrinterStatus.5": 4, "hrDeviceType.1": NETWORK_TYPE},
        {"hrPrinterStatus.5": 4, "hrDeviceType.5": (0, 0)},
    ],
)
def test_a_printer_is_known_by_its_status_where_no_type_names_it(cells: Cells) -> None:
    assert host(cells) == HostPrinter(5, "", "printing", None)


def test_a_printer_mib_alone_shows_a_printer_too() -> None:
    assert facts(Topic.HOST, {"prtGeneralSerialNumber.2": "HX-77-0457"}) == [Serial("HX-77-0457")]


def test_rows_of_another_printer_are_left_alone() -> None:
    cells = {
        "hrDeviceType.2": PRINTER_TYPE,
        "hrDeviceType.4": PRINTER_TYPE,
        "prtInputName.2.1": "Roll 1",
        "prtInputName.4.1": "Tray of the other one",
    }
    assert [row.name for row in the_fact(Topic.INPUTS, cells | {"hrDeviceType.1": NETWORK_TYPE}).rows] == ["Roll 1"]


def test_no_printer_no_facts() -> None:
    assert read_all({"hrDeviceType.1": NETWORK_TYPE, "hrDeviceStatus.1": 2}, Topic.HOST) == []


def read_all(cells: Cells, topic: Topic) -> list[Fact]:
    return [fact for _, fact in read(harvest(topic, cells))]


# --- types and numbers -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "value",
    [(Syntax.INTEGER32, 64), (Syntax.GAUGE32, 0), (Syntax.NULL, None), (Syntax.OBJECT_IDENTIFIER, (0, 0))],
)
def test_an_error_state_of_another_type_is_not_no_errors(value: Any) -> None:
    assert host({"hrPrinterStatus.1": 3, "hrPrinterDetectedErrorState.1": value}).errors is None


def test_an_empty_error_state_is_no_errors() -> None:
    """RFC 3805 s2.2.13.2.1 has 0 to 128 octets."""
    assert host({"hrPrinterStatus.1": 3, "hrPrinterDetectedErrorState.1": b""}).errors == ()


def test_numbers_that_the_standard_does_not_name_stay_numbers() -> None:
    found = host({"hrPrinterStatus.1": 9, "hrDeviceStatus.1": -1})
    assert (found.printer_status, found.device_status) == ("9", "-1")


def test_a_counter_that_lacks_its_leading_zero_is_not_negative() -> None:
    """RFC 2578 s7.1.6: Counter32 runs to 2^32 - 1; in four octets without the fifth its sign bit is set."""
    cells = {"hrDeviceType.1": PRINTER_TYPE, "prtMarkerLifeCount.1.1": (Syntax.COUNTER32, -1)}
    assert the_fact(Topic.MARKERS, cells).rows[0].life_count == 2**32 - 1


def test_an_enumeration_as_text_is_not_read() -> None:
    assert host({"hrPrinterStatus.1": "idle", "hrDeviceStatus.1": 2}).printer_status == ""


@pytest.mark.parametrize(
    ("unit", "number", "length"),
    [
        (4, 914_400, Measured(914_400)),
        (3, 360_000, Measured(914_400)),
        (5, 914_400, Unknown()),
        (None, 914_400, Unknown()),
        (4, -1, Unrestricted()),
        (4, -2, Unknown()),
    ],
)
def test_lengths_are_measured_only_in_a_legal_unit(unit: int | None, number: int, length: Any) -> None:
    """PrtMediaUnitTC: tenThousandthsOfInches(3), micrometers(4) (RFC 3805 s6); 36 in are 914.4 mm."""
    cells = {"hrDeviceType.1": PRINTER_TYPE, "prtInputMediaDimXFeedDirChosen.1.1": number}
    if unit is not None:
        cells["prtInputDimUnit.1.1"] = unit
    assert the_fact(Topic.INPUTS, cells).rows[0].cross == length


def test_declared_lengths_stand_in_only_where_nothing_was_chosen() -> None:
    cells = {
        "hrDeviceType.1": PRINTER_TYPE,
        "prtInputDimUnit.1.1": 4,
        "prtInputMediaDimFeedDirDeclared.1.1": 297_000,
        "prtInputMediaDimXFeedDirDeclared.1.1": 210_000,
        "prtInputMediaDimXFeedDirChosen.1.1": -2,
    }
    row = the_fact(Topic.INPUTS, cells).rows[0]
    assert (row.feed, row.cross) == (Measured(297_000), Unknown())


# --- text ------------------------------------------------------------------------------------------------------------


def test_the_declared_character_set_is_that_of_the_current_localization() -> None:
    """RFC 3805 s6: prtGeneralCurrentLocalization points into prtLocalizationTable. IANA: 17 is Shift_JIS."""
    cells = {
        "hrDeviceType.1": PRINTER_TYPE,
        "prtGeneralCurrentLocalization.1": 2,
        "prtLocalizationCharacterSet.1.1": 106,
        "prtLocalizationCharacterSet.1.2": 17,
        "prtInputDescription.1.1": "ロール".encode("shift_jis"),
        "prtInputName.1.1": "Rolle größer".encode(),
    }
    row = the_fact(Topic.INPUTS, cells).rows[0]
    assert (row.description, row.name) == ("ロール", "Rolle größer"), "a name is not a localized string"


# --- tables ----------------------------------------------------------------------------------------------------------


def test_an_incomplete_table_says_so() -> None:
    cells = {"hrDeviceType.1": PRINTER_TYPE, "prtAlertCode.1.3": 8}
    assert the_fact(Topic.ALERTS, cells, complete=False).complete is False
    assert the_fact(Topic.ALERTS, cells).complete is True


def test_a_row_that_lacks_a_column_is_still_a_row() -> None:
    cells = {"hrDeviceType.1": PRINTER_TYPE, "prtAlertCode.1.3": 8, "prtAlertDescription.1.9": "Only text"}
    rows = the_fact(Topic.ALERTS, cells).rows
    assert [(row.index, row.code, row.description) for row in rows] == [(3, "jam", ""), (9, "", "Only text")]


@pytest.mark.parametrize(("topic", "kind"), [(Topic.ALERTS, Alerts), (Topic.COVERS, Covers)])
def test_an_empty_table_is_none_only_of_an_agent_with_a_printer_mib(topic: Topic, kind: type[Any]) -> None:
    printer = {"hrDeviceType.1": PRINTER_TYPE}
    assert facts(topic, printer) == []
    assert facts(topic, printer | {"prtGeneralCurrentLocalization.1": 1}) == [kind((), complete=True)]


@pytest.mark.parametrize("topic", [Topic.SUPPLIES, Topic.INPUTS, Topic.OUTPUTS, Topic.MARKERS])
def test_absent_tables_prove_nothing(topic: Topic) -> None:
    """RFC 3805 s6, prtMIB2Compliance: the supplies are optional; nobody prints without an input."""
    assert facts(topic, {"hrDeviceType.1": PRINTER_TYPE, "prtGeneralCurrentLocalization.1": 1}) == []


# --- the agent -------------------------------------------------------------------------------------------------------


def test_an_agent_without_a_system_group_is_still_an_agent() -> None:
    assert facts(Topic.SYSTEM, {}, version=Version.V1) == [SnmpAgent("v1")]


def test_a_part_of_the_system_group() -> None:
    found = facts(Topic.SYSTEM, {"sysDescr.0": "Halden 36R\0", "sysObjectID.0": (1, 3, 6, 1, 4, 1, 32473)})
    assert found == [SnmpAgent("v2c"), System("Halden 36R", "1.3.6.1.4.1.32473", "", "", None)]


VALUES = st.one_of(
    st.tuples(st.sampled_from([Syntax.INTEGER32, Syntax.COUNTER32, Syntax.COUNTER64]), st.integers(-(2**64), 2**64)),
    st.tuples(st.sampled_from([Syntax.OCTET_STRING, Syntax.IP_ADDRESS, Syntax.OPAQUE]), st.binary(max_size=20)),
    st.tuples(st.just(Syntax.OBJECT_IDENTIFIER), st.lists(st.integers(0, 400), max_size=20).map(tuple)),
    st.just((Syntax.NULL, None)),
)
INDEXES = st.one_of(
    st.sampled_from([(1,), (1, 1), (1, 4, 192, 0, 2, 1), ()]), st.lists(st.integers(0, 300), max_size=8).map(tuple)
)


@given(st.sampled_from(list(TABLES)), st.data())
def test_any_columns_are_read_without_raising(topic: Topic, data: st.DataObject) -> None:
    names = [name for each in {topic, Topic.HOST} for table in TABLES[each] for name in table.columns]
    columns = {}
    for name in names:
        rows = data.draw(st.dictionaries(INDEXES, VALUES, max_size=3))
        binds = {index: VarBind(index, *value) for index, value in rows.items()}
        columns[name] = Harvested(binds, data.draw(st.booleans()))
    found = harvest(topic, {"hrDeviceType.1": PRINTER_TYPE})
    for source, fact in read(type(found)(topic, Version.V2C, {**found.columns, **columns})):
        assert source
        assert isinstance(fact, Fact)
