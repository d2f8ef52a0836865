"""How fast saved cases are judged again: as ``netcheck judge`` does it, all in one process, on one core.

    python tests/bench/rejudge.py [--cases 1000]

The cases are those of fixtures/cases, each varied by chance from a fixed seed, and sealed: another serial number and
MAC, other levels, another firmware, a probe that told nothing. Prints cases a second, and the share of each part. The
baseline, in the same run over the same files, is what nobody can do without: read, ``json.loads`` and one SHA-256.
Machines differ and are noisy: the ratio is what can be compared.

Ends with 1 when a case was not judged as the command itself judges it, or its evidence came out otherwise.
"""

import argparse
import hashlib
import json
import random
import subprocess
import sys
import tempfile
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import msgspec

from netcheck.case import EVIDENCE_KEYS, Case
from netcheck.document import Document, load_document, sealed
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.probing import provides
from netcheck.standard import Standard
from netcheck.verdict import State

FIXTURES = Path(__file__).parents[2] / "fixtures" / "cases"
MADE_FROM = ("ready", "new-unreachable", "snmp-silent", "joined", "read", "fewer-fields", "unknown-kind")
SEED = 2041
COMPARED = 3
"""Cases that the command is run on, too: a process each."""


def varied(plain: dict[str, Any], chance: random.Random) -> dict[str, Any]:
    """Another device and another day of the same site, sealed."""
    text = json.dumps({key: value for key, value in plain.items() if key != "seal"})
    serial, mac = f"HX-{chance.randrange(100):02}-{chance.randrange(10_000):04}", f"{chance.randrange(256):02x}"
    body: dict[str, Any] = json.loads(
        text.replace("HX-77-0457", serial).replace("02:77:00:00:00:22", f"02:77:00:00:{mac}:22")
    )
    mute = chance.choice(["", "", "snmp", "ipp", "dnssd"])
    body["observations"] = [each for each in body["observations"] if each["probe"] != mute]
    for each in body["observations"]:
        if each["kind"] == "supplies":
            for row in each["value"]["rows"]:
                row["level"] = {"is": "measured", "value": chance.randrange(101)}
        if each["kind"] == "firmware" and each["role"] != "old":
            each["value"]["version"] = chance.choice(["4.7.2", "4.7.2", "4.8.0"])
    return {**body, "seal": msgspec.to_builtins(sealed(body))}


def made(folder: Path, count: int) -> list[Path]:
    """The cases, as files; no two are the same."""
    chance = random.Random(SEED)
    plains = [json.loads((FIXTURES / f"{name}.json").read_text("utf-8")) for name in MADE_FROM]
    paths = []
    for number in range(count):
        path = folder / f"{number:05}.json"
        plain = varied(plains[number % len(plains)], chance)
        path.write_bytes(msgspec.json.format(msgspec.json.encode(plain), indent=1) + b"\n")
        paths.append(path)
    return paths


class Parts:
    """Seconds of each part."""

    def __init__(self) -> None:
        self.took: defaultdict[str, float] = defaultdict(float)

    def of(self, part: str, do: Callable[..., Any], *arguments: Any) -> Any:
        began = time.perf_counter()
        done = do(*arguments)
        self.took[part] += time.perf_counter() - began
        return done


def judged(path: Path, parts: Parts) -> tuple[State, bytes]:
    """As the command does it, by the Standard and the gate in the file."""
    case, document = parts.of("load", load_document, path)
    standard = document.standard or Standard()
    gate = document.gate or (Gate.STANDING if case.move.device else Gate.SWAP)
    verdict = parts.of("judge", judge, case, standard, gate, KNOWN)
    again = Document(document.evidence, gate, standard, verdict)
    return verdict.state, parts.of("encode", again.encode)


KNOWN = provides()


def inside(paths: list[Path]) -> Iterator[tuple[str, float]]:
    """What the parts of loading and encoding cost, measured by themselves."""
    parts = Parts()
    for path in paths:
        raw = parts.of("read", path.read_bytes)
        plain = parts.of("parse", msgspec.json.decode, raw)
        body = {key: value for key, value in plain.items() if key != "seal"}
        parts.of("seal", sealed, body)
        parts.of("types", msgspec.convert, {key: body[key] for key in EVIDENCE_KEYS}, Case)
    yield from parts.took.items()


def baseline(paths: list[Path]) -> float:
    began = time.perf_counter()
    for path in paths:
        raw = path.read_bytes()
        json.loads(raw)
        hashlib.sha256(raw).hexdigest()
    return time.perf_counter() - began


def wrong(path: Path, encoded: bytes) -> bool:
    """Did the command itself come to something else?"""
    command = [sys.executable, "-m", "netcheck", "judge", str(path), "--json"]
    return subprocess.run(command, stdout=subprocess.PIPE, check=False).stdout != encoded


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cases", type=int, default=1000)
    count = parser.parse_args().cases
    with tempfile.TemporaryDirectory(prefix="netcheck-") as name:
        paths = made(Path(name), count)
        size = sum(path.stat().st_size for path in paths)
        judged(paths[0], Parts())  # whatever is only done once
        least = baseline(paths)
        parts, states, faults = Parts(), Counter[State](), 0
        began = time.perf_counter()
        outcomes = [judged(path, parts) for path in paths]
        took = time.perf_counter() - began
        for path, (state, encoded) in zip(paths, outcomes, strict=True):
            states[state] += 1
            faults += json.loads(encoded)["seal"]["evidence"] != json.loads(path.read_bytes())["seal"]["evidence"]
        faults += sum(wrong(path, encoded) for path, (_, encoded) in list(zip(paths, outcomes, strict=True))[:COMPARED])
        print(f"{count} cases, {size / count / 1000:.0f} kB each: {', '.join(f'{n} {s}' for s, n in states.items())}")
        print(f"judged again   {count / took:7.0f} a second   {took / count * 1000:6.2f} ms each")
        print(f"baseline       {count / least:7.0f} a second   {least / count * 1000:6.2f} ms each")
        print(f"ratio          {took / least:7.1f} times the baseline")
        for part, seconds in parts.took.items():
            print(f"  {part:12} {seconds / took * 100:7.0f} %          {seconds / count * 1000:6.2f} ms")
        for part, seconds in inside(paths):
            print(f"  of it, {part:5} {seconds / took * 100:7.0f} %          {seconds / count * 1000:6.2f} ms")
    print(f"{faults} faults")
    return 1 if faults or len(states) < 2 else 0


if __name__ == "__main__":
    sys.exit(main())
