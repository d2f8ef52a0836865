"""What a simulated printer is: one frozen description, from which every protocol answers.

Only causes are kept here (a roll with nothing left, an open cover, an address). What follows from them, such as alerts,
error bits and state reasons, is derived in `conditions`, so that SNMP and IPP cannot contradict each other by accident.
A fault is a function `Device -> Device`; see `scenarios`.
"""

from __future__ import annotations

import ipaddress
import uuid
from dataclasses import dataclass
from enum import IntEnum
from typing import Literal

Service = Literal["ipp", "ipps", "raw", "lpd", "http", "snmp"]
SERVICES: tuple[Service, ...] = ("ipp", "ipps", "raw", "lpd", "http", "snmp")

_UUID_SPACE = uuid.UUID("6f1b6c1e-5d0a-5b7e-9a53-0b7c6e1d2f10")  # invented; keeps printer-uuid the same on every run


class SupplyType(IntEnum):
    """prtMarkerSuppliesType of what an ink device has (IANA-PRINTER-MIB, PrtMarkerSuppliesTypeTC)."""

    INK_CARTRIDGE = 6
    WASTE_INK = 8


@dataclass(frozen=True, slots=True)
class Network:
    """How the device believes it is attached. `mac` is lower case with colons; `origin` says who gave the address."""

    mac: str
    address: str
    mask: str
    gateway: str
    origin: Literal["static", "dhcp"] = "static"
    mbit: int = 1000

    @property
    def subnet(self) -> ipaddress.IPv4Network:
        """The network that the device's own address and mask make."""
        return ipaddress.IPv4Network(f"{self.address}/{self.mask}", strict=False)


@dataclass(frozen=True, slots=True)
class Input:
    """A place where media is loaded.

    `width_um` and `length_um` are micrometres; `length_um` of a roll is the length of a full one. `size` is the name by
    PWG 5101.1. `left` and `capacity` count metres on a roll and sheets in a tray; 0 left means empty.
    """

    name: str
    feed: Literal["roll", "sheet"]
    source: str  # IPP media-source keyword
    size: str
    width_um: int
    length_um: int
    media_type: str  # IPP media-type keyword
    left: int
    capacity: int


@dataclass(frozen=True, slots=True)
class Supply:
    """An ink or a waste receptacle.

    `percent` is what is left of an ink, and the ROOM LEFT in a receptacle (RFC 3805, prtMarkerSuppliesLevel).
    """

    name: str
    type: SupplyType
    percent: int
    colour: str = ""  # prtMarkerColorantValue; "" for a receptacle, which has no colour

    @property
    def receptacle(self) -> bool:
        """True for a supply that is filled, False for one that is consumed."""
        return self.type is SupplyType.WASTE_INK


@dataclass(frozen=True, slots=True)
class Cover:
    """A cover with a switch."""

    name: str
    open: bool = False


@dataclass(frozen=True, slots=True)
class Device:
    """A whole printer.

    `prints` are the sheet sizes that it can print (PWG 5101.1 names). `life_count` counts impressions, `up_seconds` is
    its age when the simulation starts. `unplugged` services do not listen at all; `mute` ones listen and never answer.
    No device speaks TLS; that ipps still has a port, with nobody behind it, keeps a client away from the real scheduler
    that many workstations run at port 631.
    """

    maker: str
    model: str
    serial: str
    firmware: str
    host_name: str
    location: str
    network: Network
    inputs: tuple[Input, ...]
    supplies: tuple[Supply, ...]
    covers: tuple[Cover, ...]
    prints: tuple[str, ...]
    formats: tuple[str, ...]
    life_count: int
    up_seconds: int
    unplugged: frozenset[Service] = frozenset({"ipps"})
    mute: frozenset[Service] = frozenset()
    ipp_path: str = "/ipp/print"
    announced_as: str = ""  # where it is not announced under its make and model

    @property
    def make_and_model(self) -> str:
        """The name as people say it: maker, then model."""
        return f"{self.maker} {self.model}"

    @property
    def uuid(self) -> str:
        """printer-uuid as a URN; bound to maker and serial, so it survives a change of address."""
        return uuid.uuid5(_UUID_SPACE, f"{self.maker}/{self.serial}").urn

    @property
    def device_id(self) -> str:
        """The IEEE 1284 device ID, without its two length octets, as SNMP and IPP carry it (PWG 5107.2)."""
        named = (form.partition("/")[2].upper() for form in self.formats if form != "application/octet-stream")
        what = f"MFG:{self.maker};MDL:{self.model};CMD:{','.join(named)};CLS:PRINTER;"
        return f"{what}DES:{self.make_and_model};SN:{self.serial};"
