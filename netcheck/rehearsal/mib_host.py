"""The host's side of a simulated device's MIB: system, interfaces, addresses, routes, host resources, entity.

RFC 3418 (system), RFC 2863 (IF-MIB), RFC 4293 (IP-MIB, whose deprecated ipAddrTable most printers still answer),
RFC 4292 and RFC 1213 (routes), RFC 3635 (duplex), RFC 2790 (HOST-RESOURCES-MIB), RFC 6933 (ENTITY-MIB).
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.rehearsal import conditions as state
from netcheck.rehearsal.conditions import Condition
from netcheck.rehearsal.device import Device
from netcheck.rehearsal.mib import Address, Columns, Counter, Gauge, Pointer, Row, Ticks, inet, oid, row, scalars

PRINTER = 1  # hrDeviceIndex of the printer
ETHERNET = 2  # ifIndex of the wire; 1 is the loopback interface, as on most small systems
_ETHERNET_DEVICE = 2  # hrDeviceIndex of the network card
_EXAMPLE_ENTERPRISE = "1.3.6.1.4.1.32473"  # the enterprise number for documentation, RFC 5612


def host_rows(device: Device, found: tuple[Condition, ...]) -> Iterator[Row]:
    """Every row of the host's own MIBs. `found` are the device's conditions."""
    yield from _system(device)
    yield from _interfaces(device)
    yield from _addresses(device)
    yield from _routes(device)
    yield from _host_resources(device, found)
    yield from _entity(device)


def _system(device: Device) -> Iterator[Row]:
    yield from scalars(
        "1.3.6.1.2.1.1",
        {
            1: f"{device.make_and_model}; firmware {device.firmware}; serial {device.serial}".encode(),
            2: Pointer(oid(f"{_EXAMPLE_ENTERPRISE}.1")),
            3: Ticks(device.up_seconds * 100, running=True),
            4: b"survey-it@example.org",
            5: device.host_name.encode(),
            6: device.location.encode(),
            7: 72,  # application and transport layers, RFC 3418
        },
    )


def _interfaces(device: Device) -> Iterator[Row]:
    yield from scalars("1.3.6.1.2.1.2", {1: 2})
    yield from _interface(1, "lo", 24, 65536, 10, b"")
    mac = bytes.fromhex(device.network.mac.replace(":", ""))
    yield from _interface(ETHERNET, "eth0", 6, 1500, device.network.mbit, mac)
    duplex: Columns = {3: Counter(0), 8: Counter(0), 19: 3}  # no errors, full duplex
    yield from row("1.3.6.1.2.1.10.7.2.1", (ETHERNET,), duplex)


def _interface(index: int, name: str, kind: int, mtu: int, mbit: int, mac: bytes) -> Iterator[Row]:
    quiet, busy = Counter(0), Counter(index * 481_516)
    columns: Columns = {
        1: index,
        2: name.encode(),
        3: kind,
        4: mtu,
        5: Gauge(mbit * 1_000_000),
        6: mac,
        7: 1,
        8: 1,
        9: Ticks(0),
    }
    yield from row("1.3.6.1.2.1.2.2.1", (index,), columns)
    traffic: Columns = {10: busy, 11: busy, 13: quiet, 14: quiet, 16: busy, 17: busy, 19: quiet, 20: quiet}
    yield from row("1.3.6.1.2.1.2.2.1", (index,), traffic)
    yield from row("1.3.6.1.2.1.31.1.1.1", (index,), {1: name.encode(), 15: Gauge(mbit)})


def _addresses(device: Device) -> Iterator[Row]:
    network = device.network
    for address, mask, interface in (("127.0.0.1", "255.0.0.0", 1), (network.address, network.mask, ETHERNET)):
        old: Columns = {1: Address(address), 2: interface, 3: Address(mask), 4: 1, 5: 65535}
        yield from row("1.3.6.1.2.1.4.20.1", oid(address), old)
    prefix = (ETHERNET, *inet(str(network.subnet.network_address)), network.subnet.prefixlen)
    by_hand = network.origin == "static"
    columns: Columns = {
        3: ETHERNET,
        4: 1,  # unicast
        5: Pointer((*oid("1.3.6.1.2.1.4.32.1.5"), *prefix)),
        6: 2 if by_hand else 4,  # manual, dhcp
        7: 1,  # preferred
        8: Ticks(0),
        9: Ticks(0),
        10: 1,  # active
        11: 3 if by_hand else 2,  # kept in non-volatile memory, or not
    }
    yield from row("1.3.6.1.2.1.4.34.1", inet(network.address), columns)
    lifetime = Gauge(0xFFFFFFFF)
    yield from row("1.3.6.1.2.1.4.32.1", prefix, {5: 2 if by_hand else 4, 6: 1, 7: 2, 8: lifetime, 9: lifetime})


def _routes(device: Device) -> Iterator[Row]:
    gateway = device.network.gateway
    everywhere = "0.0.0.0"  # noqa: S104 - the default route; nothing is bound to it
    old: Columns = {1: Address(everywhere), 2: ETHERNET, 7: Address(gateway), 8: 4, 9: 3, 11: Address(everywhere)}
    yield from row("1.3.6.1.2.1.4.21.1", oid(everywhere), old)
    policy = (2, 0, 0)  # the OID 0.0: no policy
    index = (*inet(everywhere), 0, *policy, *inet(gateway))
    yield from row("1.3.6.1.2.1.4.24.7.1", index, {7: ETHERNET, 8: 4, 9: 3, 10: Gauge(0), 17: 1})


def _host_resources(device: Device, found: tuple[Condition, ...]) -> Iterator[Row]:
    yield from scalars("1.3.6.1.2.1.25.1", {1: Ticks(device.up_seconds * 100, running=True)})
    types = "1.3.6.1.2.1.25.3.1"
    printer: Columns = {
        1: PRINTER,
        2: Pointer(oid(f"{types}.5")),
        3: device.make_and_model.encode(),
        4: Pointer((0, 0)),
        5: state.device_status(found),
        6: Counter(0),
    }
    yield from row("1.3.6.1.2.1.25.3.2.1", (PRINTER,), printer)
    card: Columns = {
        1: _ETHERNET_DEVICE,
        2: Pointer(oid(f"{types}.4")),
        3: b"eth0",
        4: Pointer((0, 0)),
        5: 2,
        6: Counter(0),
    }
    yield from row("1.3.6.1.2.1.25.3.2.1", (_ETHERNET_DEVICE,), card)
    yield from row("1.3.6.1.2.1.25.3.4.1", (_ETHERNET_DEVICE,), {1: ETHERNET})
    status: Columns = {1: state.printer_status(found), 2: state.error_octets(found)}
    yield from row("1.3.6.1.2.1.25.3.5.1", (PRINTER,), status)


def _entity(device: Device) -> Iterator[Row]:
    chassis: Columns = {
        2: device.make_and_model.encode(),
        3: Pointer((0, 0)),
        4: 0,
        5: 3,  # chassis
        6: -1,
        7: b"chassis",
        8: b"1",
        9: device.firmware.encode(),
        10: b"",
        11: device.serial.encode(),
        12: device.maker.encode(),
        13: device.model.encode(),
        16: 2,  # no field-replaceable unit
    }
    yield from row("1.3.6.1.2.1.47.1.1.1.1", (1,), chassis)
