"""An agent that is asked in SNMPv3: who are we to it, and if it does not let us in, what has to be corrected?

The agent says so in a Report. It checks in a fixed order, and the first check that fails is the one reported
(RFC 3414 s3.2), so that each Report also says what is right:

    unknown engine id       step 3   normal answer to the first message of all, which carries its engine id
    unknown user name       step 4   correct the user
    unsupported level       step 5   the user is right; correct the level: authentication, privacy, or neither
    wrong digest            step 6   user and level are right; correct the authentication password or the hash
    not in time window      step 7   the digest is right as well; normal once, since it carries the clock that we need
    decryption error        step 8   all but the privacy password or the cipher is right

Many agents say nothing in the last case: what they have deciphered is no PDU to them, and they drop it. So silence
after a digest that was taken is held against the same user without privacy, which is answered, if only by a refusal.
"""

import time
from collections.abc import Sequence
from typing import Final

from netcheck.credentials import User
from netcheck.probing import Deadline, Target
from netcheck.roles import Outcome
from netcheck.wire import Wire

from .ber import Oid
from .discovery import USM_STATS
from .gathering import DENYING, Failure
from .greeting import Greeting, hello
from .line import GREETING_S, PATIENCE_S, Line
from .message import EXCEPTIONS, V3, Kind, Pdu, Spoken, error_label
from .v3_engine import CIPHERS, Engine, Level, Question, Reported

_FIRST, _SECOND = PATIENCE_S[:1], GREETING_S
_MIB_2: Final = (1, 3, 6, 1, 2, 1)

_HANDSHAKE: Final = {"usmStatsUnknownEngineIDs", "usmStatsNotInTimeWindows"}
"""What an agent may report once without anything being wrong (RFC 3414 s4)."""
_WRONG_CIPHER: Final = "the agent takes the authentication, but the privacy password or cipher is wrong"
_REPORTS: Final = {
    "usmStatsUnknownUserNames": "the agent does not know the user",
    "usmStatsUnsupportedSecLevels": "the agent knows the user, but not with {level}",
    "usmStatsWrongDigests": "the agent knows the user, but the authentication password or hash is wrong",
    "usmStatsDecryptionErrors": _WRONG_CIPHER,
    "usmStatsNotInTimeWindows": "the agent takes the keys, but goes on saying that its clock or boot counter differs",
    "usmStatsUnknownEngineIDs": "the agent goes on denying the engine id that it has told itself",
}
_NO_ACCESS: Final = "the agent takes the keys, but lets the user read nothing at {level} ({error})"
_NO_VIEW: Final = "the agent takes the keys, but the user's view is empty"


class UserLine(Line):
    """The conversation of one user with the agent of one target."""

    def __init__(self, user: User, target: Target, wire: Wire, deadline: Deadline) -> None:
        super().__init__(target, wire, deadline)
        self.user = user
        self.level = _level(user)
        self._engine = Engine(user, CIPHERS[user.priv][0])

    @property
    def met(self) -> bool:
        """Has the agent ever answered us?"""
        return self._engine.met

    def use(self, cipher: Oid) -> None:
        """Go on with this cipher, as if we had not met."""
        self._engine = Engine(self.user, cipher)

    async def get(
        self, version: Spoken, oids: Sequence[Oid], patience_s: Sequence[float] = PATIENCE_S
    ) -> Pdu | Failure:
        """See `Line`; no access is a failure here."""
        answer = await self._ask(Question(Kind.GET, oids), self.level, patience_s)
        if isinstance(answer, Pdu) and answer.error_status in DENYING:
            error = error_label(answer.error_status)
            return Failure(Outcome.DENIED, _NO_ACCESS.format(level=self.level, error=error))
        return answer

    async def follow(self, version: Spoken, oids: Sequence[Oid], repetitions: int) -> Pdu | Failure:
        """See `Line`."""
        kind = Kind.GETBULK if repetitions else Kind.GETNEXT
        return await self._ask(Question(kind, oids, repetitions), self.level, PATIENCE_S)

    async def in_the_clear(self, patience_s: Sequence[float]) -> Pdu | Failure:
        """Whatever the agent says to the same user without privacy."""
        return await self._ask(Question(Kind.GETNEXT, [_MIB_2]), Level.AUTH_NO_PRIV, patience_s)

    async def _ask(self, question: Question, level: Level, patience_s: Sequence[float]) -> Pdu | Failure:
        engine, excused = self._engine, set[str]()
        while True:
            answer = await self.exchange(lambda number: engine.seal(number, level, question), engine.open, patience_s)
            if not isinstance(answer, Reported):
                return answer
            report = USM_STATS.get(answer.counts or (), "")
            if report not in _HANDSHAKE or report in excused:
                return _denied(report, answer.counts, level)
            excused.add(report)


def _level(user: User) -> Level:
    if user.priv:
        return Level.AUTH_PRIV
    return Level.AUTH_NO_PRIV if user.auth else Level.NO_AUTH_NO_PRIV


def _denied(report: str, counts: Oid | None, level: Level) -> Failure:
    if not report:
        said = "no reason" if counts is None else ".".join(map(str, counts))
        return Failure(Outcome.DENIED, f"the agent reports {said}")
    return Failure(Outcome.DENIED, _REPORTS[report].format(level=level))


# --- the first contact -----------------------------------------------------------------------------------------------


async def greet(line: UserLine) -> Greeting | Failure:
    """The system group, or what keeps us from it."""
    began = time.monotonic()
    result = await _hello(line, _FIRST)
    if _is_silent(result):
        result = await _after_silence(line)
    if isinstance(result, Failure):
        if result.outcome is not Outcome.SILENT:
            return result
        to = "after its answer to the discovery" if line.met else "to SNMPv3 discovery"
        return result._replace(reason=f"no answer in {time.monotonic() - began:.1f} s {to}")
    return result if result.system else await _without_system(line)


async def _hello(line: UserLine, patience_s: tuple[float, ...]) -> Greeting | Failure:
    """The first answer with any cipher that ours can mean."""
    ciphers = CIPHERS[line.user.priv]
    for cipher in ciphers:
        if cipher != ciphers[0] or line.met:
            line.use(cipher)
        result = await hello(line, V3, patience_s)
        if not _may_be_the_cipher(line, result):
            return result
    return result


def _may_be_the_cipher(line: UserLine, result: Greeting | Failure) -> bool:
    return isinstance(result, Failure) and (result.reason == _WRONG_CIPHER or (_is_silent(result) and line.met))


async def _after_silence(line: UserLine) -> Greeting | Failure:
    """A datagram was lost, the agent is slow, or it drops what it cannot decipher."""
    if not line.met or not line.user.priv:
        return await _hello(line, _SECOND)
    clear = await line.in_the_clear(_SECOND)
    if isinstance(clear, Failure):
        return clear
    result = await _hello(line, _FIRST)
    if _is_silent(result):
        return Failure(Outcome.DENIED, f"{_WRONG_CIPHER}: what is encrypted is not answered")
    return result


def _is_silent(result: Greeting | Failure) -> bool:
    return isinstance(result, Failure) and result.outcome is Outcome.SILENT


async def _without_system(line: UserLine) -> Greeting | Failure:
    """Every agent has a system group; one that shows none may show something else."""
    answer = await line.follow(V3, [_MIB_2], 0)
    if isinstance(answer, Failure):
        return answer
    shown = [bind for bind in answer.varbinds if bind.syntax not in EXCEPTIONS]
    if answer.error_status or not shown:
        return Failure(Outcome.DENIED, _NO_VIEW)
    line.remarks["the system group is not in the user's view"] = None
    return Greeting(V3, {})
