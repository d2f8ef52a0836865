"""Which device it is, and where. A part of the page of one device."""

import re
from collections.abc import Iterator

from netcheck.case import Case
from netcheck.facts.condition import PrinterClock
from netcheck.facts.identity import (
    DeviceId,
    Firmware,
    HostUptime,
    Model,
    PrinterNames,
    Serial,
    System,
    Uuid,
)
from netcheck.facts.link import Advertisement, Neighbour, Route
from netcheck.facts.network import Addresses, AddressRow, Gateways, InterfaceRow, Interfaces, NameLookup
from netcheck.report.device_amounts import duration, spelt
from netcheck.report.device_said import Claim, Line, by_value, by_whom, seen, told
from netcheck.words import join

MOST = 6
"""Addresses or interfaces that are shown; the document has all."""
_ORIGINS = {"manual": "set by hand", "dhcp": "by DHCP", "linklayer": "made from its hardware address"}
_METHODS = {"arp": "ARP", "nd": "neighbour discovery", "neighbour-table": "our system's memory"}
_FIRMWARE_KEYS = ("FWVER", "FW", "FIRMWARE")  # of a device ID; common practice, no source
_FIRMWARE = re.compile(r"\bfirmware(?: version)?[ :=/]*v?(\d[\w.-]*\w|\d)", re.IGNORECASE)
_SAME_UPTIME_S = 120


def identity(case: Case) -> Iterator[Line]:
    """Where it was asked, and what it calls itself."""
    host = case.move.device.host if case.move.device else ""
    resolved = [each for found in seen(case, NameLookup) for each in found.fact.addresses if each != host]
    yield Line("asked at", join([host, join(resolved), *(_way(each.fact) for each in seen(case, Route))]))
    yield from told("model", models(case), _same_model)
    yield from told("serial", _serials(case))
    yield from told("firmware", firmware(case))
    for each in seen(case, Firmware)[:1]:
        if len(each.fact.modules) > 1:
            yield Line("modules", join(f"{module.name} {module.version}" for module in each.fact.modules))
    known = {value.casefold() for _, value in models(case)}
    names = by_value(claim for claim in _names(case) if claim.value.casefold() not in known)
    if names:
        yield Line("called", join(f"{value} ({by_whom(who)})" for value, who in names))
    yield from told("location", _locations(case))


def models(case: Case) -> Iterator[Claim]:
    """IPP's wording first: of all it is the one that is meant for people (RFC 8011 s5.4.9)."""
    found = seen(case, Model)
    yield from (Claim(each.who, each.fact.value) for each in sorted(found, key=lambda each: each.who != "IPP"))
    for each in seen(case, DeviceId):
        maker, model = each.fact.get("MFG", "MANUFACTURER"), each.fact.get("MDL", "MODEL")
        yield Claim(each.who, model if model.casefold().startswith(maker.casefold()) else f"{maker} {model}")
    yield from (Claim(each.who, each.fact.get("ty")) for each in seen(case, Advertisement))


def _same_model(one: str, other: str) -> bool:
    """Sources word a model differently: with or without the maker, or with more words. All words of one in the other
    make them the same."""
    first, second = (set(re.findall(r"[\w.-]+", text.casefold())) for text in (one, other))
    return first <= second or second <= first


def _serials(case: Case) -> Iterator[Claim]:
    yield from (Claim(each.who, each.fact.value) for each in seen(case, Serial))


def firmware(case: Case) -> Iterator[Claim]:
    """Told over IPP, in a device ID, or in words by the SNMP agent."""
    yield from (Claim(each.who, each.fact.version) for each in seen(case, Firmware))
    yield from (Claim(each.who, each.fact.get(*_FIRMWARE_KEYS)) for each in seen(case, DeviceId))
    for each in seen(case, System):
        if found := _FIRMWARE.search(each.fact.description):
            yield Claim(each.who, found[1])


def _names(case: Case) -> Iterator[Claim]:
    yield from (Claim(each.who, each.fact.name) for each in seen(case, System))
    yield from (Claim(each.who, each.fact.name) for each in seen(case, PrinterNames))
    yield from (Claim(each.who, each.fact.info) for each in seen(case, PrinterNames))
    yield from (Claim(each.who, each.fact.instance) for each in seen(case, Advertisement))


def _locations(case: Case) -> Iterator[Claim]:
    yield from (Claim(each.who, each.fact.location) for each in seen(case, System))
    yield from (Claim(each.who, each.fact.location) for each in seen(case, PrinterNames))
    yield from (Claim(each.who, each.fact.get("note")) for each in seen(case, Advertisement))


def address(case: Case) -> Iterator[Line]:
    """Which addresses it has by its own word, over which interfaces, and who answers for it on the wire."""
    rows = [(each.who, row) for each in seen(case, Addresses) for row in each.fact.rows]
    yield from _bounded("own", [line for group in _by_address(rows) for line in _own(group)])
    gateways = seen(case, Gateways)
    yield from told("gateway", (Claim(each.who, join(each.fact.addresses) or "none") for each in gateways))
    yield from _bounded("interface", [_interface(row) for each in seen(case, Interfaces) for row in each.fact.rows])
    yield from told("on the wire", _owners(case))


def _way(route: Route) -> str:
    if not route.interface:
        return "to which our system has no way"
    return f"from our {route.source} on {route.interface}, {'on the same subnet' if route.on_link else 'by a router'}"


def _by_address(rows: list[tuple[str, AddressRow]]) -> list[list[tuple[str, AddressRow]]]:
    groups: dict[str, list[tuple[str, AddressRow]]] = {}
    for who, row in rows:
        groups.setdefault(row.address, []).append((who, row))
    return list(groups.values())


def _own(group: list[tuple[str, AddressRow]]) -> Iterator[str]:
    """One address: as often as its tables give it different prefixes, and once where they agree or say nothing."""
    rows = [row for _, row in group]
    prefixes = list(dict.fromkeys(row.prefix_length for row in rows if row.prefix_length is not None))
    masks = join(dict.fromkeys(row.mask for row in rows if row.mask and row.prefix_length is None))
    origin = next((row.origin for row in rows if row.origin), "")
    origin = _ORIGINS.get(origin, origin)
    who = by_whom(list(dict.fromkeys(who for who, _ in group)))
    if not prefixes:
        mask = f"mask {masks}, which is none" if masks else "mask not told"
        yield f"{join([rows[0].address, mask, origin])} ({who})"
    for number, prefix in enumerate(prefixes):
        flag = "  <- two masks for one address" if number else ""
        yield f"{join([f'{rows[0].address}/{prefix}', origin])} ({who}){flag}"


def _bounded(label: str, texts: list[str]) -> Iterator[Line]:
    for number, text in enumerate(texts[:MOST]):
        yield Line("" if number else label, text)
    if len(texts) > MOST:
        yield Line("", f"and {len(texts) - MOST} more")


def _interface(row: InterfaceRow) -> str:
    speed = f"{row.speed_bits // 1_000_000:,} Mbit/s" if row.speed_bits else ""
    errors = [
        f"{count:,} {what}"
        for count, what in (
            (row.in_errors, "errors in"),
            (row.out_errors, "errors out"),
            (row.late_collisions, "late collisions"),
        )
        if count
    ]
    duplex = spelt(row.duplex) if row.duplex and row.duplex != "unknown" else ""
    return join([row.description or f"interface {row.index}", row.oper_status, row.mac, speed, duplex, *errors])


def _owners(case: Case) -> Iterator[Claim]:
    """Who answers for the address on our own link."""
    for each in seen(case, Neighbour):
        found = each.fact
        who = _METHODS.get(found.method, found.method)
        yield Claim(who, join(found.macs) or ("nobody" if found.complete else found.reason))


def more(case: Case) -> Iterator[Line]:
    """What is rarely needed."""
    uuids = [Claim(each.who, each.fact.value) for each in seen(case, Uuid)]
    uuids += [Claim(each.who, each.fact.get("uuid").lower()) for each in seen(case, Advertisement)]
    yield from told("UUID", uuids)
    times = [f"{duration(int(value))} ({by_whom(who)})" for value, who in by_value(_uptimes(case), _near)]
    if times:
        yield Line("running for", join(times))


def _uptimes(case: Case) -> Iterator[Claim]:
    """In seconds. The agent's own time only where nobody tells the device's."""
    found = [Claim(each.who, str(each.fact.centiseconds // 100)) for each in seen(case, HostUptime)]
    found += [Claim(each.who, str(each.fact.up_s)) for each in seen(case, PrinterClock) if each.fact.up_s]
    if not found:
        found = [
            Claim(f"{each.who} agent", str(each.fact.up_centiseconds // 100))
            for each in seen(case, System)
            if each.fact.up_centiseconds
        ]
    yield from found


def _near(one: str, other: str) -> bool:
    return abs(int(one) - int(other)) <= _SAME_UPTIME_S
