"""The device's own view of its network, as agents tell it: addresses, interfaces and default routers.

What agents leave out or get wrong is common practice without a source, unless a check names one.
"""

from typing import Any

import pytest

from netcheck.facts import Fact
from netcheck.facts.network import AddressRow, Gateways
from probes.snmp import mib
from probes.snmp.harvest import Harvested
from probes.snmp.message import Syntax, VarBind
from probes.snmp.plan import Topic
from probes.snmp.reading import read
from tests.snmp_columns import Cells, facts, harvest, the_fact


def test_both_address_tables_are_told() -> None:
    found = facts(
        Topic.ADDRESSES,
        {
            "ipAddressIfIndex.1.4.127.0.0.1": 1,
            "ipAddressIfIndex.1.4.192.0.2.61": 2,
            "ipAddressOrigin.1.4.192.0.2.61": 2,
            "ipAddressIfIndex.2.16.32.1.13.184.0.0.0.0.0.0.0.0.0.0.0.1": 2,
            "ipAdEntIfIndex.127.0.0.1": 1,
            "ipAdEntIfIndex.192.0.2.61": 2,
            "ipAdEntNetMask.192.0.2.61": (Syntax.IP_ADDRESS, bytes((255, 255, 0, 255))),
        },
    )
    assert found[0].rows == (
        AddressRow("192.0.2.61", None, "", 2, "manual", ""),
        AddressRow("2001:db8::1", None, "", 2, "", ""),
    )
    assert found[1].rows == (AddressRow("192.0.2.61", None, "255.255.0.255", 2, "", ""),)


def test_the_broadcast_address_is_not_the_device() -> None:
    """RFC 4293 ipAddressType: unicast(1), anycast(2), broadcast(3). net-snmp's agent lists its broadcast address."""
    cells = {"ipAddressType.1.4.192.0.2.61": 1, "ipAddressType.1.4.192.0.2.255": 3}
    assert [row.address for row in the_fact(Topic.ADDRESSES, cells).rows] == ["192.0.2.61"]


@pytest.mark.parametrize(
    "index", ["1.4.192.0.2", "1.4.192.0.2.300", "1.3.192.0.2", "9.4.192.0.2.1", "1", "2.4.192.0.2.1"]
)
def test_an_index_that_is_no_address_is_no_row(index: str) -> None:
    assert the_fact(Topic.ADDRESSES, {f"ipAddressIfIndex.{index}": 2}).rows == ()


def test_the_loopback_interface_is_left_out() -> None:
    """ifType softwareLoopback(24), IANAifType."""
    cells = {"ifType.1": 24, "ifDescr.1": "lo", "ifType.2": 6, "ifDescr.2": "eth0"}
    assert [row.index for row in the_fact(Topic.INTERFACES, cells).rows] == [2]


@pytest.mark.parametrize(
    ("cells", "addresses"),
    [
        ({"ipDefaultRouterLifetime.1.4.192.0.2.1.2": (Syntax.GAUGE32, 1800)}, ("192.0.2.1",)),
        ({"inetCidrRouteIfIndex.2.0.0.1.4.192.0.2.1": 2}, ("192.0.2.1",)),
        ({"inetCidrRouteIfIndex.3.0.0.2.1.4.192.0.2.1": 2}, ("192.0.2.1",)),
        ({"ipCidrRouteNextHop.0.192.0.2.1": (Syntax.IP_ADDRESS, bytes((192, 0, 2, 1)))}, ("192.0.2.1",)),
        ({"inetCidrRouteIfIndex.2.0.0.1.4.0.0.0.0": 2}, ()),
        ({"inetCidrRouteIfIndex.200.1": 2}, ()),
    ],
)
def test_default_routers_of_every_table(cells: Cells, addresses: tuple[str, ...]) -> None:
    """Rows as the ask half keeps them: the index from behind what makes a route a default (RFC 4292, RFC 4293)."""
    assert the_fact(Topic.GATEWAYS, cells) == Gateways(addresses, complete=True)


def gateways(after: tuple[int, ...] | None, rows: dict[Any, Any] | None = None) -> list[Fact]:
    found = harvest(Topic.GATEWAYS, {})
    columns = {**found.columns, "ipRouteNextHop": Harvested(rows or {}, complete=True, after=after)}
    return [fact for _, fact in read(type(found)(found.topic, found.version, columns))]


def test_no_default_route_takes_a_table_that_has_none() -> None:
    another_route = (*mib.OLD_ROUTE.column("ipRouteNextHop"), 192, 0, 2, 0)
    assert gateways(another_route) == [Gateways((), complete=True)]
    assert gateways((1, 3, 6, 1, 2, 1, 5, 1, 0)) == []
    assert gateways(None) == []


def test_the_old_default_route() -> None:
    bind = VarBind((), Syntax.IP_ADDRESS, bytes((192, 0, 2, 1)))
    assert gateways(None, {(): bind}) == [Gateways(("192.0.2.1",), complete=True)]
