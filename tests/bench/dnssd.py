"""How long it takes to hear and resolve 300 devices with 6 services each: `python tests/bench/dnssd.py`.

A second process answers on loopback as 300 devices would: each of them 20 to 120 ms after the question (RFC 6762 s6),
with everything that belongs to it in packets of at most 1,460 octets. The receive buffer is the kernel's stock one.
Ends with 1 when not all were resolved within the goal in every run. Then, without a goal, the same with responders that
send nothing along, so that every service has to be asked for.
"""

import asyncio
import multiprocessing
import random
import socket
import sys
import time
from multiprocessing.synchronize import Event
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from zeroconf import ServiceInfo
from zeroconf._protocol.incoming import DNSIncoming
from zeroconf._protocol.outgoing import DNSOutgoing

from netcheck.probing import Answer, Deadline, Target
from netcheck.roles import Role
from netcheck.wire import Wire
from probes.dnssd import PROBE
from tests.dnssd_responder import GROUP, LOOPBACK, PTR, _member

GOAL_S = 1.0
DEVICES, ROUNDS = 300, 5
KINDS = (
    "_ipp._tcp.local.",
    "_ipps._tcp.local.",
    "_printer._tcp.local.",
    "_pdl-datastream._tcp.local.",
    "_http._tcp.local.",
)
SERVICES = 6  # one of each kind, and a second queue under _ipp
RESPONSE = 0x8400
TXT = {
    "rp": "ipp/print",
    "ty": "Halden 36R",
    "pdl": "application/pdf,image/tiff,image/jpeg",
    "note": "Plan room",
    "qtotal": "1",
}


def services(number: int) -> list[ServiceInfo]:
    label, host = f"Bench plotter {number}", f"bench-{number}.local."
    address = socket.inet_aton(f"10.1.{number // 250}.{number % 250 + 1}")
    named = [(kind, label, 631) for kind in KINDS] + [(KINDS[0], f"{label} roll 2", 632)]
    return [
        ServiceInfo(kind, f"{name}.{kind}", port, properties=TXT, server=host, addresses=[address])
        for kind, name, port in named
    ]


def packets(infos: list[ServiceInfo], *, complete: bool) -> list[bytes]:
    """What one device sends to a question for all of its kinds."""
    out = DNSOutgoing(RESPONSE)
    for info in infos:
        out.add_answer_at_time(info.dns_pointer(), 0)
        if complete:
            for record in (info.dns_service(), info.dns_text(), *info.dns_addresses()):
                out.add_additional_answer(record)
    return out.packets()


def respond(complete: bool, ready: Event, done: Event) -> None:
    """The 300 devices."""
    all_of_them = [services(number) for number in range(DEVICES)]
    whole = [packets(infos, complete=complete) for infos in all_of_them]
    single = {info.name.lower(): info for infos in all_of_them for info in infos}
    with _member() as member:
        ready.set()
        due: list[tuple[float, bytes]] = []
        while not done.is_set():
            member.settimeout(max(0.0005, min(0.05, due[-1][0] - time.monotonic())) if due else 0.05)
            try:
                due += answers(member.recv(9000), whole, single)
                due.sort(reverse=True)
            except TimeoutError:
                pass
            while due and due[-1][0] <= time.monotonic():
                member.sendto(due.pop()[1], GROUP)


def answers(octets: bytes, whole: list[list[bytes]], single: dict[str, ServiceInfo]) -> list[tuple[float, bytes]]:
    now, query = time.monotonic(), DNSIncoming(octets)
    if not query.is_query():
        return []
    if any(question.type == PTR for question in query.questions) and not query.answers():
        return [(moment, each) for device in whole for moment in [now + random.uniform(0.02, 0.12)] for each in device]
    out = DNSOutgoing(RESPONSE)
    for info in {single[name] for question in query.questions if (name := question.name.lower()) in single}:
        for record in (info.dns_service(), info.dns_text(), *info.dns_addresses()):
            out.add_answer_at_time(record, 0)
    return [(now, each) for each in out.packets()] if out.answers else []


async def heard() -> tuple[int, float, int]:
    """How many services were resolved, after how long the last of them was told, and how many datagrams got lost."""
    began, last, names = time.perf_counter(), 0.0, set()
    async with Wire() as wire:
        async for reply in PROBE.ask(Target(Role.HERE, LOOPBACK), wire, Deadline(time.monotonic() + 5)):
            if isinstance(reply, Answer):
                names |= {
                    each.name for each in reply.payload if each.complete and each.label.startswith("Bench plotter")
                }
                last = time.perf_counter() - began
        return len(names), last, dropped()


def dropped() -> int:
    """Datagrams that found the receive buffer of a socket of ours full; 0 where the system does not tell (proc(5))."""
    tables = [table for table in (Path("/proc/net/udp"), Path("/proc/net/udp6")) if table.exists()]
    links = [each.readlink() for each in Path("/proc/self/fd").iterdir() if each.exists()] if tables else []
    own = {str(link).strip("socket:[]") for link in links}
    rows = (line.split() for table in tables for line in table.read_text().splitlines()[1:])
    return sum(int(row[-1]) for row in rows if row[9] in own)


def measured(*, complete: bool) -> list[tuple[int, float, int]]:
    ready, done = multiprocessing.Event(), multiprocessing.Event()
    responder = multiprocessing.Process(target=respond, args=(complete, ready, done))
    responder.start()
    try:
        ready.wait(20)
        runs = []
        for _ in range(ROUNDS):
            runs.append(asyncio.run(heard()))
            time.sleep(1.1)  # a record is multicast once a second at most (RFC 6762 s6)
    finally:
        done.set()
        responder.join(5)
    return runs


def main() -> int:
    import probes.dnssd.browsing  # loading the library is not what is measured

    probes.dnssd.asking.LOOPBACK_WINDOW_S = 4.0  # type: ignore[misc]
    runs = measured(complete=True)
    print(f"{DEVICES} x {SERVICES} services, sent along: {told(runs)}")
    print(f"{DEVICES} x {SERVICES} services, asked for:   {told(measured(complete=False))}")
    return 0 if all(count == DEVICES * SERVICES and took <= GOAL_S for count, took, _ in runs) else 1


def told(runs: list[tuple[int, float, int]]) -> str:
    return ", ".join(f"{count} in {took:.2f} s ({lost} lost)" for count, took, lost in runs)


if __name__ == "__main__":
    sys.exit(main())
