"""What the simulated devices announce by DNS-SD (RFC 6763), on loopback only: python-zeroconf answers for them.

A device announces what it serves, under one instance name for all (RFC 6763 s8). Where loopback carries no multicast,
or another program keeps port 5353 to itself, the site is without announcements and otherwise as it is.
"""

from __future__ import annotations

import socket
from collections.abc import Iterable, Iterator, Mapping
from contextlib import AsyncExitStack
from typing import TYPE_CHECKING

from netcheck.rehearsal.device import Device, Service

if TYPE_CHECKING:
    from zeroconf import ServiceInfo
    from zeroconf.asyncio import AsyncZeroconf

LOOPBACK = "127.0.0.1"
_TYPES: dict[Service, str] = {
    "ipp": "_ipp._tcp.local.",
    "ipps": "_ipps._tcp.local.",
    "raw": "_pdl-datastream._tcp.local.",
    "lpd": "_printer._tcp.local.",
    "http": "_http._tcp.local.",
}
_HAVE_PATHS: frozenset[Service] = frozenset({"ipp", "ipps", "lpd"})
_QUEUE = "print"  # of the LPD service


async def announce(devices: Iterable[tuple[Device, Mapping[Service, int]]], stack: AsyncExitStack) -> bool:
    """Answer for these devices at these ports until the stack is left. False where that cannot be done."""
    from zeroconf.asyncio import AsyncZeroconf

    try:
        responder = AsyncZeroconf(interfaces=[LOOPBACK])
    except OSError:
        return False
    stack.push_async_callback(_withdraw, responder)
    await responder.zeroconf.async_wait_for_start()
    taken: set[str] = set()
    for device, ports in devices:
        # Where both are of one model the second gives way and takes another name, as devices do (RFC 6762 s9).
        label, host = device.announced_as or device.make_and_model, device.host_name
        if label in taken:
            label, host = f"{label} (2)", f"{host}-2"
        taken.add(label)
        for info in _services(device, label, host, ports):
            # Neither probed for nor announced (RFC 6762 s8), which takes a second: whoever asks is answered.
            responder.zeroconf.registry.async_add(info)
    return True


async def _withdraw(responder: AsyncZeroconf) -> None:
    """One goodbye (RFC 6762 s10.1): nothing gets lost on loopback."""
    if goodbye := responder.zeroconf.generate_unregister_all_services():
        responder.zeroconf.async_send(goodbye)
    await responder.async_close()


def _services(device: Device, label: str, host: str, ports: Mapping[Service, int]) -> Iterator[ServiceInfo]:
    from zeroconf import ServiceInfo

    for service, kind in _TYPES.items():
        if service not in device.unplugged:
            yield ServiceInfo(
                kind,
                f"{label}.{kind}",
                addresses=[socket.inet_aton(LOOPBACK)],
                port=ports[service],
                properties={} if service == "http" else _printing(device, service),
                server=f"{host}.local.",
            )


def _printing(device: Device, service: Service) -> dict[str, str]:
    """The keys that printers tell (printing over DNS-SD, PWG 5100.14; from memory)."""
    path = {"rp": device.ipp_path.removeprefix("/") if service != "lpd" else _QUEUE} if service in _HAVE_PATHS else {}
    return {
        "txtvers": "1",
        "qtotal": "1",
        **path,
        "ty": device.make_and_model,
        "product": f"({device.make_and_model})",
        "pdl": ",".join(device.formats),
        "note": device.location,
        "UUID": device.uuid.removeprefix("urn:uuid:"),
        "usb_MFG": device.maker,
        "usb_MDL": device.model,
        "kind": "large-format",
        "Color": "T",
    }
