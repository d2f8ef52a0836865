"""Which questions ended otherwise, and whether somebody who could tell a fact answered. Pure.

A question is found again by its role, its probe and its target. A target holds addresses and ports, which change on a
visit (and on loopback with every run), so it is compared without the addresses, and with the services' names in the
place of their ports.
"""

import re
from collections.abc import Iterable, Iterator

import msgspec

from netcheck.case import Attempt, Case, Observation
from netcheck.comparing.tables import NEVER_GONE
from netcheck.evidence import PERSON
from netcheck.move import Move
from netcheck.place import DEFAULT_PORTS
from netcheck.roles import Outcome, Role

_ANSWERS = {Outcome.ANSWERED, Outcome.EMPTY}
_PORT = re.compile(r"(?<=[/:])\d{1,5}\b")
_ADDRESS = re.compile(r"\[?[0-9a-fA-F]*:[0-9a-fA-F:.]*:[0-9a-fA-F.]*(?:%\w+)?\]?|\b\d{1,3}(?:\.\d{1,3}){3}\b")
_VERSION = re.compile(r"\bSNMPv[123]c?\b")
_NO_AUTHORITY = re.compile(r"://(?::[\w-]+)?(?=/|$)")
_WORDS = re.compile(r"[\w/-]+")
_OUTCOMES = list(Outcome)


class AttemptChange(msgspec.Struct, frozen=True):
    """A question that ended otherwise. ``what`` is its target without addresses, ``before`` and ``after`` how it ended,
    mostly one word, more where it was asked more than once; nothing where it was not asked. ``reason`` is the later
    one, or the earlier where all is well now."""

    role: Role
    probe: str
    what: str
    before: tuple[Outcome, ...]
    after: tuple[Outcome, ...]
    reason: str


def attempt_changes(before: Case, after: Case) -> tuple[AttemptChange, ...]:
    """Every question that did not end as it did before; first those that were answered and are not."""
    one, other = _asked(before), _asked(after)
    found = []
    for key in dict.fromkeys((*other, *one)):
        was, now = one.get(key, []), other.get(key, [])
        if _outcomes(was) != _outcomes(now):
            found.append(AttemptChange(*key, _outcomes(was), _outcomes(now), _reason(now) or _reason(was)))
    return tuple(sorted(found, key=lambda each: (_lost(each), each.role, each.probe)))


def _lost(change: AttemptChange) -> int:
    answered, answers = (bool(_ANSWERS & set(each)) for each in (change.before, change.after))
    if not (change.before and change.after):
        return 3
    return 0 if answered and not answers else 1 if answers and not answered else 2


def _asked(case: Case) -> dict[tuple[Role, str, str], list[Attempt]]:
    found: dict[tuple[Role, str, str], list[Attempt]] = {}
    for attempt in case.attempts:
        found.setdefault((attempt.role, attempt.probe, plain_target(attempt, case.move)), []).append(attempt)
    return found


def plain_target(attempt: Attempt, move: Move) -> str:
    """The target without addresses and hosts, with services for ports, and without the version that was agreed on."""
    ref = {Role.OLD: move.old, Role.NEW: move.new}.get(attempt.role) or move.device
    ports = {**DEFAULT_PORTS, **(ref.ports.named() if ref else {})}
    services = {str(port): service for service, port in reversed(ports.items())}
    text = attempt.target
    for host in _hosts(move):
        text = re.sub(rf"(?<![\w.-]){re.escape(host)}(?![\w-])", "", text)
    text = _PORT.sub(lambda port: services.get(port[0], port[0]), _ADDRESS.sub("", text))
    if move.queue and attempt.role is Role.QUEUE:
        text = text.replace(f":{move.queue.server.rpartition(':')[2]}", "")
    text = _NO_AUTHORITY.sub(":", _VERSION.sub("SNMP", text))
    return " ".join(text.split())


def _hosts(move: Move) -> Iterator[str]:
    for ref in (move.old, move.new, move.device):
        yield from filter(None, (ref.host, ref.final) if ref else ())
    if move.queue:
        yield move.queue.server.rpartition(":")[0]


def _outcomes(attempts: Iterable[Attempt]) -> tuple[Outcome, ...]:
    return tuple(sorted({attempt.outcome for attempt in attempts}, key=_OUTCOMES.index))


def _reason(attempts: Iterable[Attempt]) -> str:
    return next((each.reason for each in attempts if each.outcome not in _ANSWERS and each.reason), "")


class Unseen:
    """Why a fact that another case has may be true in this one as well, although it was not seen."""

    def __init__(self, case: Case) -> None:
        self._asked: dict[tuple[Role, str], str] = {}
        self._about: dict[tuple[Role, str, str], str] = {}
        for each in case.attempts:
            missed = "" if each.outcome in _ANSWERS else each.reason or str(each.outcome)
            who = (each.role, each.probe)
            self._asked[who] = self._asked.get(who) or missed
            for word in _WORDS.findall(each.target):
                self._about[*who, word] = self._about.get((*who, word)) or missed

    def why(self, item: Observation) -> str:
        """The reason; "" where it is not: who told it was asked again, answered, and told it no more. Where an attempt
        names the table or port that the fact came from, that attempt counts; else all of the probe's."""
        if reason := NEVER_GONE.get(item.kind):
            return reason
        if item.probe == PERSON:
            return ""  # all that a person said is in the Move
        who = (item.role, item.probe)
        if who not in self._asked:
            return f"{item.probe} was not asked"
        source = item.source.partition(".")[0].partition(" ")[0]
        return self._about.get((*who, source), self._asked[who])
