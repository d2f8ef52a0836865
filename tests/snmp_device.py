"""The rows of an invented large-format printer, for the test agent: columns by number, as the standards number them."""

from typing import Any

from tests.snmp_agent import V2C, Oid, Rows, oid

PRINTER = "1.3.6.1.2.1.43"
HOST = "1.3.6.1.2.1.25.3"
ADDRESS = bytes((192, 0, 2, 61))


def rows(device: int = 1) -> Rows:
    """Everything that the `Halden 36R` says; `device` is its hrDeviceIndex."""
    own = (_host(device), _media(device), _marking(device), _panel(device), _ways_in(device))
    return {**_system(), **_network(), **dict(item for part in own for item in part.items())}


def integer(value: int) -> Any:
    return V2C.Integer32(value)


def text(value: str | bytes) -> Any:
    return V2C.OctetString(value if isinstance(value, bytes) else value.encode())


def table(base: str, index: Oid, columns: dict[int, Any]) -> Rows:
    """One row: plain numbers are Integer32, plain text and bytes OCTET STRING."""
    entry = oid(base)
    return {(*entry, column, *index): _value(value) for column, value in columns.items()}


def _value(value: Any) -> Any:
    if isinstance(value, int):
        return integer(value)
    return text(value) if isinstance(value, str | bytes) else value


def _system() -> Rows:
    return {
        oid("1.3.6.1.2.1.1.1.0"): text("Halden 36R, firmware 4.7.2"),
        oid("1.3.6.1.2.1.1.2.0"): V2C.ObjectIdentifier("1.3.6.1.4.1.32473.36"),
        oid("1.3.6.1.2.1.1.3.0"): V2C.TimeTicks(720000),
        oid("1.3.6.1.2.1.1.5.0"): text("halden-36r"),
        oid("1.3.6.1.2.1.1.6.0"): text("Harrow Lane, plan room"),
        oid("1.3.6.1.2.1.25.1.1.0"): V2C.TimeTicks(86_400_000),
    }


def _network() -> Rows:
    pointer = V2C.ObjectIdentifier("1.3.6.1.2.1.4.32.1.5.2.1.4.192.0.2.0.24")
    loopback: dict[int, Any] = {2: "lo", 3: 24, 5: V2C.Gauge32(10_000_000), 6: b"", 8: 1}
    wired: dict[int, Any] = {2: "eth0", 3: 6, 5: V2C.Gauge32(100_000_000), 6: bytes.fromhex("027700000022"), 8: 1}
    return {
        **table("1.3.6.1.2.1.2.2.1", (1,), loopback),
        **table("1.3.6.1.2.1.2.2.1", (2,), wired),
        **table("1.3.6.1.2.1.4.20.1", (127, 0, 0, 1), {2: 1, 3: V2C.IpAddress("255.0.0.0")}),
        **table("1.3.6.1.2.1.4.20.1", tuple(ADDRESS), {2: 2, 3: V2C.IpAddress("255.255.255.0")}),
        **table("1.3.6.1.2.1.4.21.1", (0, 0, 0, 0), {7: V2C.IpAddress("192.0.2.1")}),
        **table("1.3.6.1.2.1.4.21.1", (192, 0, 2, 0), {7: V2C.IpAddress("192.0.2.61")}),
        **table("1.3.6.1.2.1.4.34.1", (1, 4, *ADDRESS), {3: 2, 4: 1, 5: pointer, 6: 4, 7: 1}),
        **table("1.3.6.1.2.1.31.1.1.1", (1,), {15: V2C.Gauge32(10)}),
        **table("1.3.6.1.2.1.2.2.1", (1,), {14: V2C.Counter32(0), 20: V2C.Counter32(0)}),
        **table("1.3.6.1.2.1.2.2.1", (2,), {14: V2C.Counter32(3), 20: V2C.Counter32(1)}),
        **table("1.3.6.1.2.1.10.7.2.1", (2,), {8: V2C.Counter32(5), 19: 2}),
        **table("1.3.6.1.2.1.31.1.1.1", (2,), {15: V2C.Gauge32(100)}),
    }


def _host(device: int) -> Rows:
    printer = V2C.ObjectIdentifier("1.3.6.1.2.1.25.3.1.5")
    return {
        **table(f"{HOST}.2.1", (device,), {2: printer, 3: "Halden 36R", 5: 3}),
        **table(f"{HOST}.5.1", (device,), {1: 3, 2: b"\x80\x00"}),
        **table(f"{PRINTER}.5.1.1", (device,), {2: 1, 16: "Plans", 17: "HX-77-0457"}),
        **table(f"{PRINTER}.6.1.1", (device, 1), {2: "Top cover", 3: 4}),
        **table(f"{PRINTER}.6.1.1", (device, 2), {2: "Roll door", 3: 3}),
        **table(f"{PRINTER}.7.1.1", (device, 1), {2: "en", 3: "GB", 4: 106}),
    }


def _media(device: int) -> Rows:
    roll: dict[int, Any] = {2: 6, 3: 4, 4: -1, 5: 914_400, 6: -2, 7: 914_400, 8: 17, 9: 50, 10: 31, 11: 0}
    named: dict[int, Any] = {12: "roll 914 mm", 13: "Roll 1", 18: "Upper roll", 21: "stationery-coated"}
    return {
        **table(f"{PRINTER}.8.2.1", (device, 1), roll | named),
        **table(f"{PRINTER}.8.2.1", (device, 2), roll | named | {10: 0, 11: 19, 13: "Roll 2", 18: "Lower roll"}),
        **table(f"{PRINTER}.9.2.1", (device, 1), {2: 4, 3: 8, 4: -2, 5: -3, 6: 0, 7: "Catch bin"}),
    }


INKS = ("cyan", "magenta", "yellow", "black", "matte black", "grey")


def _marking(device: int) -> Rows:
    found = table(f"{PRINTER}.10.2.1", (device, 1), {2: 12, 3: 17, 4: V2C.Counter32(8812), 5: V2C.Counter32(12)})
    for number, ink in enumerate(INKS, 1):
        supply: dict[int, Any] = {
            2: 1,
            3: number,
            4: 3,
            5: 6,
            6: f"Ink cartridge, {ink}",
            7: 15,
            8: 1300,
            9: 1300 - number,
        }
        found |= table(f"{PRINTER}.11.1.1", (device, number), supply)
        found |= table(f"{PRINTER}.12.1.1", (device, number), {2: 1, 3: 3, 4: ink, 5: 256})
    waste: dict[int, Any] = {2: 1, 3: 0, 4: 4, 5: 8, 6: "Maintenance cartridge", 7: 19, 8: 100, 9: 40}
    return found | table(f"{PRINTER}.11.1.1", (device, len(INKS) + 1), waste)


def _panel(device: int) -> Rows:
    low: dict[int, Any] = {2: 4, 3: 3, 4: 8, 5: 2, 6: -2, 7: 808, 8: "Roll 2 is out", 9: V2C.TimeTicks(360000)}
    gone: dict[int, Any] = {2: 3, 3: 4, 4: 6, 5: 2, 6: -2, 7: 3, 8: "Roll door open", 9: V2C.TimeTicks(700000)}
    return {
        **table(f"{PRINTER}.16.5.1", (device, 1), {2: "Roll door open"}),
        **table(f"{PRINTER}.16.5.1", (device, 2), {2: "Close it to go on"}),
        **table(f"{PRINTER}.17.6.1", (device, 1), {2: 500, 3: 500, 4: 9, 5: "Attention"}),
        **table(f"{PRINTER}.17.6.1", (device, 2), {2: 0, 3: 0, 4: 5, 5: "Ready"}),
        **table(f"{PRINTER}.18.1.1", (device, 3), low),
        **table(f"{PRINTER}.18.1.1", (device, 7), gone),
    }


def _ways_in(device: int) -> Rows:
    path: dict[int, Any] = {3: 4, 5: -1, 6: 914_400, 7: 279_400, 8: 279_400, 9: 5, 10: "Straight", 11: 0}
    channels: list[dict[int, Any]] = [
        {2: 44, 6: 3, 7: 2, 8: 0, 9: "URI=ipp://192.0.2.61/ipp/print\n"},
        {2: 38, 6: 3, 7: 2, 8: 0, 9: "Port=9100\nFoo=bar\n"},
        {2: 8, 6: 4, 7: 2, 8: 1, 9: "Queue=auto\n"},
    ]
    found = table(f"{PRINTER}.13.4.1", (device, 1), path)
    ours = {3: "MFG:Halden;MDL:36R;CMD:PDF,PS;SN:HX-77-0457;", 6: device}
    found |= table("1.3.6.1.4.1.2699.1.2.1.2.1.1", (device,), ours)
    for number, channel in enumerate(channels, 1):
        found |= table(f"{PRINTER}.14.1.1", (device, number), channel)
    for number, (family, level, name) in enumerate([(54, "1.7", "PDF"), (69, "", "40123"), (6, "3", "PS")], 1):
        found |= table(f"{PRINTER}.15.1.1", (device, number), {2: family, 3: level, 5: name, 6: "4.7"})
    return found
