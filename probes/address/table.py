"""What our system remembers of its neighbours, by whichever door it has for those without privilege."""

import asyncio
import ipaddress
import sys
from contextlib import suppress
from pathlib import Path

from netcheck.probing import Malformed

from . import netlink, printed
from .netlink import Entry

_PROC = Path("/proc/net/arp")
_COMMAND_WITHIN_S = 2.0


class Unreadable(Exception):  # noqa: N818 - it says what the table is
    """Our system did not show its neighbour table; the text says why."""


async def entry_of(address: str, interface: str) -> Entry | None:
    """What the table holds of one address on one link; None where it holds nothing. Raises `Unreadable`."""
    bare = ipaddress.ip_address(address.partition("%")[0])
    if sys.platform.startswith("linux"):
        try:
            return netlink.entry_of(bare, interface)
        except (OSError, Malformed) as error:
            if bare.version != 4:
                raise Unreadable(f"netlink: {error}") from error
        # A sandbox may refuse the one and show the other, which says less.
        found = printed.proc_net_arp(_proc_net_arp())
    elif bare.version == 4:
        found = printed.arp_command(await _said_by_arp())
    else:
        raise Unreadable("IPv6 neighbours are not read on this system")
    of_it = (entry for entry in found if entry.address == str(bare) and entry.interface in {interface, ""})
    return next(of_it, None)


def _proc_net_arp() -> str:
    try:
        return _PROC.read_text("ascii", "replace")
    except OSError as error:
        raise Unreadable(f"{_PROC}: {error.strerror}") from error


async def _said_by_arp() -> str:
    """By design; run on neither Windows nor macOS. -n keeps BSD's command from asking for names."""
    options = ["-a"] if sys.platform == "win32" else ["-an"]
    try:
        process = await asyncio.create_subprocess_exec(
            "arp", *options, stdout=asyncio.subprocess.PIPE, stderr=asyncio.subprocess.DEVNULL
        )
    except OSError as error:
        raise Unreadable(f"arp {options[0]}: {error.strerror}") from error
    try:
        async with asyncio.timeout(_COMMAND_WITHIN_S):
            said, _ = await process.communicate()
    except TimeoutError as error:
        raise Unreadable(f"arp {options[0]} did not come to an end") from error
    finally:
        with suppress(ProcessLookupError):
            process.kill()
        await process.wait()
    return said.decode("ascii", "replace")
