"""Asks some probes about one address, and prints the case: `look.py SECONDS PROBE[,PROBE] ADDRESS [WORD...]` (JSON).

Words: `planned=` is the address that the device is to get; `gateway=` is what it is said to have named as its router.
"""

import asyncio
import sys

import msgspec

from netcheck.collect import Recorder, collect_once
from netcheck.facts.network import Gateways
from netcheck.move import Move
from netcheck.probing import Target
from netcheck.roles import Role
from probes import address, names, ports


async def main(seconds: str, chosen: str, where: str, *words: str) -> None:
    known = {each.name: each for each in (names.REVERSE, ports.PROBE, address.PROBE, address.PLANNED, address.ROUTERS)}
    more = dict(word.split("=") for word in words)
    asked = {"ipp": 631, "raw": 9100, "snmp": 161}
    device = Target(Role.NEW, where, ports=asked, planned=more.get("planned", ""))
    if "gateway" in more:
        await device.learnt.add(Gateways((more["gateway"],), complete=True))
    recorder = Recorder()
    probes = [names.PROBE, *(known[name] for name in chosen.split(","))]
    await collect_once([Target(Role.HERE, ""), device], probes, recorder, float(seconds))
    sys.stdout.write(msgspec.json.encode(recorder.case(Move())).decode())


asyncio.run(main(*sys.argv[1:]))
