"""Asks some probes about one address, and prints the case: `look.py SECONDS PROBE[,PROBE] ADDRESS` (JSON)."""

import asyncio
import sys

import msgspec

from netcheck.collect import Recorder, collect_once
from netcheck.move import Move
from netcheck.probing import Target
from netcheck.roles import Role
from probes import address, names, ports

seconds, chosen, where = sys.argv[1:]
known = {each.name: each for each in (names.REVERSE, ports.PROBE, address.PROBE)}
targets = [Target(Role.HERE, ""), Target(Role.NEW, where, ports={"ipp": 631, "raw": 9100})]
recorder = Recorder()
probes = [names.PROBE, *(known[name] for name in chosen.split(","))]
asyncio.run(collect_once(targets, probes, recorder, float(seconds)))
sys.stdout.write(msgspec.json.encode(recorder.case(Move())).decode())
