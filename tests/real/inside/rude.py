"""A device that claims a name without looking whether it is taken: `rude.py NAME HOST ADDRESS PORT`, until it is ended.

python-zeroconf's cooperating responders skip the probing of RFC 6762 s8.1, as devices with a broken stack do.
"""

import asyncio
import socket
import sys

from zeroconf import ServiceInfo
from zeroconf.asyncio import AsyncZeroconf

NAME, HOST, ADDRESS, PORT = sys.argv[1:]
KIND = "_ipp._tcp.local."


async def main() -> None:
    info = ServiceInfo(
        KIND,
        f"{NAME}.{KIND}",
        port=int(PORT),
        addresses=[socket.inet_aton(ADDRESS)],
        properties={"rp": f"ipp/{HOST}"},
        server=f"{HOST}.local.",
    )
    async with AsyncZeroconf(interfaces=[ADDRESS]) as responder:
        await (await responder.async_register_service(info, cooperating_responders=True))
        print("claimed", flush=True)
        await asyncio.Event().wait()


asyncio.run(main())
