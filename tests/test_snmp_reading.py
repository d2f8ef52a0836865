"""Columns to facts, against the published checks of RFC 3805, RFC 2790, RFC 4293 and RFC 2863.

The checks, each with its source and the standing of its evidence, are rows of fixtures/standards/oracle_checks.json.
Those about channels (CHN-) bear on nothing here: there is no fact about channels, since services are tried instead.
"""

import ipaddress
from collections.abc import Callable
from typing import Any

import pytest

from netcheck.facts import Measured, Some, Unknown, Unrestricted
from netcheck.facts.condition import Alerts
from netcheck.facts.identity import System
from netcheck.facts.media import InputRow
from netcheck.facts.network import AddressRow
from netcheck.facts.supplies import Supply
from probes.snmp import mib, plan
from probes.snmp.message import Syntax
from probes.snmp.plan import Topic
from probes.snmp.reading_network import inet_address
from probes.snmp.reading_printer import error_labels, sub_unit
from tests.conftest import published
from tests.snmp_columns import DEVICE, Cells, facts, the_fact

NOT_READ = {
    "ALR-07": "prtAlertCriticalEvents is not asked for: nothing can be concluded from its absence",
    "MIB-07": "resolutions are not asked for",
    "MIB-09": "media paths are not asked for",
    "IPM-11": "hrSystemUptime is not asked for",
}


def the_supply(**cells: Any) -> Supply:
    row: Supply = the_fact(
        Topic.SUPPLIES, {f"prtMarkerSupplies{name}.{DEVICE}.1": value for name, value in cells.items()}
    ).rows[0]
    return row


def the_input(**cells: Any) -> InputRow:
    row: InputRow = the_fact(Topic.INPUTS, {f"prtInput{name}.{DEVICE}.1": value for name, value in cells.items()}).rows[
        0
    ]
    return row


def the_alerts(*rows: Cells) -> Alerts:
    cells = {
        f"prtAlert{name}.{DEVICE}.{row['Index']}": value
        for row in rows
        for name, value in row.items()
        if name != "Index"
    }
    fact: Alerts = the_fact(Topic.ALERTS, cells | {f"prtGeneralSerialNumber.{DEVICE}": "HX-77-0457"})
    return fact


# --- the published checks --------------------------------------------------------------------------------------------


def check_sub_unit(row: Any) -> None:
    if row["id"] == "SUB-09":
        assert [sub_unit(status) for status in (7, 127, -1, 128)] == [None] * 4
        return
    status = sub_unit(int(row["input"].rpartition("=")[2]))
    assert status is not None
    assert {
        "availability": status.availability,
        "noncritical": status.non_critical,
        "critical": status.critical,
        "offline": status.offline,
        "transitioning": status.transitioning,
    } == row["expected"]


def check_errors(row: Any) -> None:
    if row["id"] == "ERR-16":
        assert error_labels(b"\x40") == error_labels(b"\x40\x00") == error_labels(b"\x40\0\0\0\0") == ("noPaper",)
        return
    octets = row["input"].rpartition("0x")[2].removesuffix("(empty)")
    # A bit that the standard does not name is kept by its number.
    assert error_labels(bytes.fromhex(octets)) == tuple(
        label.removeprefix("unassigned-bit-") for label in row["expected"]
    )


def supply_1() -> None:
    supply = the_supply(Class=3, SupplyUnit=19, MaxCapacity=100, Level=40)
    assert (supply.family, supply.unit) == ("supplyThatIsConsumed", "percent")
    assert (supply.capacity, supply.level) == (Measured(100), Measured(40))


def supply_3() -> None:
    supply = the_supply(Class=4, MaxCapacity=100, Level=100)
    assert (supply.family, supply.level) == ("receptacleThatIsFilled", Measured(100))


def supply_9() -> None:
    supply = the_supply(SupplyUnit=7, MaxCapacity=10000, Level=2500)
    assert (supply.unit, supply.capacity, supply.level) == ("impressions", Measured(10000), Measured(2500))


def supply_8() -> None:
    supply = the_supply(SupplyUnit=19, MaxCapacity=-2, Level=37)
    assert (supply.unit, supply.capacity, supply.level) == ("percent", Unknown(), Measured(37))


def supply_11() -> None:
    supply = the_supply(MaxCapacity=100, Level=130)
    assert (supply.capacity, supply.level) == (Measured(100), Measured(130)), "as the device said it"


def supply_13() -> None:
    cells = {
        f"prtMarkerSuppliesColorantIndex.{DEVICE}.1": 0,
        f"prtMarkerSuppliesColorantIndex.{DEVICE}.2": 2,
        f"prtMarkerColorantValue.{DEVICE}.0": "never",
        f"prtMarkerColorantValue.{DEVICE}.2": "matte black",
    }
    assert [supply.colorant for supply in the_fact(Topic.SUPPLIES, cells).rows] == ["", "matte black"]


def input_size(unit: int, feed: int, cross: int) -> tuple[Any, Any]:
    row = the_input(DimUnit=unit, MediaDimFeedDirChosen=feed, MediaDimXFeedDirChosen=cross)
    return row.feed, row.cross


def input_2() -> None:
    row = the_input(CurrentLevel=0, MaxCapacity=500)
    assert (row.level, row.capacity) == (Measured(0), Measured(500))


def alert_1() -> None:
    alerts = the_alerts(*({"Index": index, "Code": 8} for index in (3, 7, 8)))
    assert [row.index for row in alerts.rows] == [3, 7, 8]
    assert alerts.complete


def alert_2() -> None:
    before, after = the_alerts({"Index": 7, "Code": 8}, {"Index": 9, "Code": 3}), the_alerts({"Index": 9, "Code": 3})
    assert [row.index for row in before.rows] == [7, 9]
    assert [row.index for row in after.rows] == [9]


def alert_4() -> None:
    row = the_alerts({"Index": 1, "SeverityLevel": 4, "Code": 7}).rows[0]
    assert (row.severity, row.code) == ("warning", "configurationChange")


def alert_9() -> None:
    raised = the_alerts({"Index": 1, "Time": (Syntax.TIME_TICKS, 360000)}).rows[0].at_centiseconds
    up = system(sysUpTime=(Syntax.TIME_TICKS, 720000)).up_centiseconds
    assert raised is not None
    assert up is not None
    assert (up - raised) / 100 == 3600


def index_columns_are_not_asked_for() -> None:
    """The index comes from what follows the column."""
    assert not any(name.endswith("Index") and name.startswith("prtInput") for name in mib.INPUT.columns)
    assert the_fact(Topic.INPUTS, {f"prtInputType.{DEVICE}.42": 6}).rows[0].index == 42


def cover_labels() -> None:
    cells = {f"prtCoverStatus.{DEVICE}.{status}": status for status in (3, 4, 5, 6)}
    labels = [row.status for row in the_fact(Topic.COVERS, cells).rows]
    assert labels == ["coverOpen", "coverClosed", "interlockOpen", "interlockClosed"]


def life_count() -> None:
    cells = {
        f"prtMarkerLifeCount.{DEVICE}.1": (Syntax.COUNTER32, 120450),
        f"prtMarkerCounterUnit.{DEVICE}.1": 7,
    }
    row = the_fact(Topic.MARKERS, cells).rows[0]
    assert (row.life_count, row.unit) == (120450, "impressions")


def dotted(oid: tuple[int, ...]) -> str:
    return ".".join(map(str, oid))


def address_row(**cells: Any) -> AddressRow:
    index = "1.4.192.0.2.5"
    row: AddressRow = the_fact(
        Topic.ADDRESSES, {f"ipAddress{name}.{index}": cell for name, cell in cells.items()}
    ).rows[0]
    return row


def address_index() -> None:
    instance = (*mib.ADDRESS.column("ipAddressIfIndex"), 1, 4, 192, 0, 2, 5)
    assert dotted(instance) == "1.3.6.1.2.1.4.34.1.3.1.4.192.0.2.5"
    assert inet_address(instance[-6:]) == (ipaddress.ip_address("192.0.2.5"), ())
    assert address_row(IfIndex=2).interface == 2


def prefix_pointer() -> None:
    pointer = (1, 3, 6, 1, 2, 1, 4, 32, 1, 5, 2, 1, 4, 192, 0, 2, 0, 24)
    assert address_row(Prefix=pointer).prefix_length == 24
    assert address_row(Prefix=(0, 0)).prefix_length is None


def link_local() -> None:
    row = the_fact(Topic.ADDRESSES, {"ipAddressOrigin.1.4.169.254.9.9": 6}).rows[0]
    assert (row.address, row.origin) == ("169.254.9.9", "random")


def old_mask() -> None:
    assert dotted((*mib.OLD_ADDRESS.column("ipAdEntNetMask"), 192, 0, 2, 5)) == "1.3.6.1.2.1.4.20.1.3.192.0.2.5"
    mask = (Syntax.IP_ADDRESS, bytes((255, 255, 255, 0)))
    assert the_fact(Topic.ADDRESSES, {"ipAdEntNetMask.192.0.2.5": mask}).rows[0].prefix_length == 24


def old_gateway() -> None:
    assert dotted(plan.WANTED["ipRouteNextHop"].oid) == "1.3.6.1.2.1.4.21.1.7.0.0.0.0"


def speed(if_speed: int, high_speed: int = 0) -> int | None:
    cells = {"ifSpeed.2": (Syntax.GAUGE32, if_speed), "ifHighSpeed.2": (Syntax.GAUGE32, high_speed)}
    bits: int | None = the_fact(Topic.INTERFACES, cells).rows[0].speed_bits
    return bits


def mac(octets: bytes) -> str:
    text: str = the_fact(Topic.INTERFACES, {"ifPhysAddress.2": octets}).rows[0].mac
    return text


def system(**cells: Any) -> System:
    found = facts(Topic.SYSTEM, {f"{name}.0": value for name, value in cells.items()})
    return next(fact for fact in found if isinstance(fact, System))


def same(one: Any, other: Any) -> None:
    assert one == other


CHECKS: dict[str, Callable[[], None]] = {
    "SUP-01": supply_1,
    "SUP-03": supply_3,
    "SUP-04": lambda: same(the_supply(Class=3, Level=-3).level, Some()),
    "SUP-05": lambda: same(the_supply(Class=4, Level=-3).level, Some()),
    "SUP-06": lambda: same(the_supply(Level=-2).level, Unknown()),
    "SUP-07": lambda: same(the_supply(Level=-1).level, Unrestricted()),
    "SUP-08": supply_8,
    "SUP-09": supply_9,
    "SUP-10": lambda: same(the_supply(MaxCapacity=0, Level=0).capacity, Measured(0)),
    "SUP-11": supply_11,
    "SUP-12": lambda: same(the_supply(SupplyUnit=19).unit, "percent"),
    "SUP-13": supply_13,
    "INP-01": lambda: same(the_input(CurrentLevel=-3).level, Some()),
    "INP-02": input_2,
    "INP-05": lambda: same(input_size(3, 116929, 82677), (Measured(297000), Measured(210000))),
    "INP-06": lambda: same(input_size(3, 85000, 110000), (Measured(215900), Measured(279400))),
    "ALR-01": alert_1,
    "ALR-02": alert_2,
    "ALR-04": alert_4,
    "ALR-06": lambda: same(the_alerts({"Index": 1, "GroupIndex": -1}).rows[0].group_index, None),
    "ALR-08": lambda: same(the_alerts({"Index": 1, "Code": 40123}).rows[0].code, "40123"),
    "ALR-09": alert_9,
    "MIB-01": lambda: same(
        dotted((*mib.SUPPLIES.column("prtMarkerSuppliesLevel"), 1, 3)), "1.3.6.1.2.1.43.11.1.1.9.1.3"
    ),
    "MIB-03": index_columns_are_not_asked_for,
    "MIB-04": cover_labels,
    "MIB-06": life_count,
    "IPM-01": address_index,
    "IPM-02": prefix_pointer,
    "IPM-03": lambda: same(
        [address_row(Origin=origin).origin for origin in (1, 2, 4, 5, 6, 3)],
        ["other", "manual", "dhcp", "linklayer", "random", "3"],
    ),
    "IPM-04": link_local,
    "IPM-05": old_mask,
    "IPM-06": old_gateway,
    "IPM-07": lambda: same(speed(2**32 - 1, 10000), 10**10),
    "IPM-08": lambda: same(speed(100_000_000), 10**8),
    "IPM-09": lambda: same([mac(bytes.fromhex("001b2c3d4e5f")), mac(b"")], ["00:1b:2c:3d:4e:5f", ""]),
    "IPM-10": lambda: same(system(sysUpTime=(Syntax.TIME_TICKS, 12000)).up_centiseconds, 12000),
}


@pytest.mark.parametrize("row", published("SUB-", "ERR-", "SUP-", "INP-", "ALR-", "MIB-", "IPM-"))
def test_published_check(row: Any) -> None:
    match row["id"].partition("-")[0]:
        case "SUB":
            check_sub_unit(row)
        case "ERR":
            check_errors(row)
        case _ if row["id"] in NOT_READ:
            assert row["id"] not in CHECKS
        case _:
            CHECKS[row["id"]]()
