"""Answers net-snmp's `snmpd` (pass_persist, snmpd.conf(5)) from a file, read again when changed: `responder.py FILE`.

FILE is JSON: {"rows": [[oid, type, value], ...], "loop": oid or "", "end": oid or ""}, the types being those of
pass_persist. From `loop` on, getnext goes back to the first row under it; at `end`, the table stops short.
"""

import bisect
import json
import sys
from pathlib import Path

Oid = tuple[int, ...]


def oid(text: str) -> Oid:
    return tuple(map(int, text.strip(".").split("."))) if text else ()


class Table:
    def __init__(self, path: Path) -> None:
        self.path = path
        self.stamp = -1

    def refresh(self) -> None:
        stamp = self.path.stat().st_mtime_ns
        if stamp == self.stamp:
            return
        content = json.loads(self.path.read_text())
        self.stamp = stamp
        self.rows = {oid(name): (kind, value) for name, kind, value in content["rows"]}
        self.order = sorted(self.rows)
        self.loop, self.end = oid(content["loop"]), oid(content["end"])

    def following(self, asked: Oid) -> Oid | None:
        place = bisect.bisect_right(self.order, asked)
        found = self.order[place] if place < len(self.order) else None
        if found and self.end and found >= self.end:
            return None
        if found and self.loop and asked[: len(self.loop)] == self.loop:
            return self.order[bisect.bisect_left(self.order, self.loop)]
        return found


def answer(table: Table, command: str, asked: Oid) -> list[str]:
    table.refresh()
    found = table.following(asked) if command == "getnext" else asked
    if found is None or found not in table.rows:
        return ["NONE"]
    return ["." + ".".join(map(str, found)), *table.rows[found]]


def main() -> None:
    table = Table(Path(sys.argv[1]))
    while command := sys.stdin.readline().strip():
        if command == "PING":
            lines = ["PONG"]
        elif command in ("get", "getnext"):
            lines = answer(table, command, oid(sys.stdin.readline().strip()))
        else:  # set: its object and value follow
            sys.stdin.readline(), sys.stdin.readline()
            lines = ["not-writable"]
        print(*lines, sep="\n", flush=True)


main()
