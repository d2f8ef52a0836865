"""SNMPv3 from inside: keys against RFC 3414 A.3, what each Report means, values, and what hostile messages do.

That the messages are right, net-snmp says: tests/real/test_snmp_v3.py.
"""

import asyncio
import contextlib
import itertools
import json
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyasn1.codec.ber import decoder, encoder
from pysnmp.proto.mpmod.rfc3412 import SNMPv3Message
from pysnmp.proto.secmod.rfc3414 import localkey
from pysnmp.proto.secmod.rfc3414.service import SnmpUSMSecurityModel, UsmSecurityParameters

from netcheck.credentials import AUTHENTICATION, PRIVACY, User
from netcheck.facts.network import SnmpAgent
from netcheck.probing import Deadline, Miss, Target
from netcheck.roles import Outcome, Role
from netcheck.secret import Secret
from netcheck.wire import Wire
from probes.snmp import PROBE
from probes.snmp.asking import Reply
from probes.snmp.ber import MalformedError, Oid
from probes.snmp.harvest import Harvest
from probes.snmp.message import REQUEST_IDS, Kind, Pdu, Syntax, VarBind
from probes.snmp.plan import Topic
from probes.snmp.v3_engine import CIPHERS, HASHES, Engine, Level, Question, Reported

from .snmp_theirs import ENGINE, UNKNOWN_ENGINE_IDS, V2C, their_message, their_pdu, their_value

ORACLE = {
    row["id"]: row
    for row in json.loads((Path(__file__).parents[1] / "fixtures/standards/oracle_checks.json").read_text("utf-8"))
    if row["id"].startswith("USM-")
}
A3_ENGINE = V2C.OctetString(bytes(11) + b"\x02")  # RFC 3414 A.3
USER = User("diag", "SHA-256", Secret("never-shown-1"), "AES-128", Secret("never-shown-2"))
PLAIN = User("diag")
SYS_DESCR = (1, 3, 6, 1, 2, 1, 1, 1, 0)
NUMBER = REQUEST_IDS[7]


def usm_stats(number: int) -> Oid:
    """usmStats(1..6).0 (RFC 3414 s5)."""
    return (1, 3, 6, 1, 6, 3, 15, 1, 1, number, 0)


# --- keys ------------------------------------------------------------------------------------------------------------


def test_sha1_keys_are_those_of_the_standard() -> None:
    """USM-02: RFC 3414 A.3.2."""
    service = SnmpUSMSecurityModel.AUTH_SERVICES[HASHES["SHA-1"]]
    master = service.hash_passphrase(b"maplesyrup")
    assert bytes(master).hex() == ORACLE["USM-02"]["expected"]["Ku"]
    assert bytes(service.localize_key(master, A3_ENGINE)).hex() == ORACLE["USM-02"]["expected"]["Kul"]


def test_the_engine_makes_keys_as_the_standard_does_with_any_hash() -> None:
    """USM-01: RFC 3414 A.3.1. MD5 is not offered; the way from password to key is the same for all (RFC 7860 s4.1)."""
    master = localkey.hash_passphrase_md5(b"maplesyrup")
    assert bytes(master).hex() == ORACLE["USM-01"]["expected"]["Ku"]
    assert bytes(localkey.localize_key_md5(master, A3_ENGINE)).hex() == ORACLE["USM-01"]["expected"]["Kul"]


def test_passwords_that_repeat_each_other_make_the_same_key() -> None:
    """USM-03: RFC 3414 s11.2. So the reason of a wrong digest cannot tell them apart either."""
    one, other = (bytes(localkey.hash_passphrase_md5(password)).hex() for password in (b"bertbert", b"bertbertbert"))
    assert one == other
    assert one in ORACLE["USM-03"]["expected"]


def test_every_protocol_that_a_profile_may_name_is_spoken() -> None:
    assert set(HASHES) == {"", *AUTHENTICATION}
    assert set(CIPHERS) == {"", *PRIVACY}
    assert all(protocol in SnmpUSMSecurityModel.AUTH_SERVICES for protocol in HASHES.values())
    assert all(protocol in SnmpUSMSecurityModel.PRIV_SERVICES for each in CIPHERS.values() for protocol in each)
    lengths = [SnmpUSMSecurityModel.AUTH_SERVICES[HASHES[name]].digest_length for name in AUTHENTICATION]
    assert lengths == [12, 16, 24, 32, 48]  # octets: RFC 3414 s6.1, RFC 7860 s4.2.1


# --- an agent that only ever reports ---------------------------------------------------------------------------------


class Reporter(asyncio.DatagramProtocol):
    """Answers each message with the next of these Reports; the last one again and again."""

    def __init__(self, *counts: Oid) -> None:
        self.counts = list(counts)
        self.seen: list[tuple[bytes, int]] = []  # the user, and the level's flags, of each message

    def connection_made(self, transport: Any) -> None:
        self.transport = transport

    def datagram_received(self, data: bytes, addr: Any) -> None:
        asked, _ = decoder.decode(data, asn1Spec=SNMPv3Message())
        security, _ = decoder.decode(bytes(asked["msgSecurityParameters"]), asn1Spec=UsmSecurityParameters())
        self.seen.append((bytes(security["msgUserName"]), bytes(asked["msgGlobalData"]["msgFlags"])[0] & 3))
        counts = self.counts.pop(0) if len(self.counts) > 1 else self.counts[0]
        report = their_message(their_pdu(oid=counts), int(asked["msgGlobalData"]["msgID"]), boots=3, time=4711)
        self.transport.sendto(encoder.encode(report), addr)


def ask(user: User, reporter: Reporter | None, seconds: float = 8.0) -> list[Reply]:
    async def run() -> list[Reply]:
        loop = asyncio.get_running_loop()
        transport, _ = await loop.create_datagram_endpoint(
            lambda: reporter or asyncio.DatagramProtocol(), ("127.0.0.1", 0)
        )
        port = transport.get_extra_info("sockname")[1]
        if reporter is None:
            transport.abort()
            await asyncio.sleep(0)
        target = Target(Role.NEW, "127.0.0.1", "127.0.0.1", {"snmp": port}, user=user)
        try:
            async with Wire() as wire:
                return [reply async for reply in PROBE.ask(target, wire, Deadline(time.monotonic() + seconds))]
        finally:
            transport.close()

    return asyncio.run(run())


def only_miss(replies: list[Reply]) -> Miss:
    (miss,) = replies
    assert isinstance(miss, Miss)
    assert "never-shown" not in repr(miss)
    return miss


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (3, "does not know the user"),  # USM-05
        (1, "knows the user, but not with authPriv"),
        (5, "knows the user, but the authentication password or hash is wrong"),
        (6, "takes the authentication, but the privacy password or cipher is wrong"),  # USM-10
        (2, "clock or boot counter"),
        (4, "engine id"),
    ],
)
def test_each_report_says_what_to_correct(number: int, words: str) -> None:
    """The meanings are those of RFC 3414 s3.2 and s5; usmStatsUnknownEngineIDs first, as in s4."""
    miss = only_miss(ask(USER, Reporter(UNKNOWN_ENGINE_IDS, usm_stats(number))))
    assert miss.outcome is Outcome.DENIED
    assert words in miss.reason


def test_the_first_message_names_nobody() -> None:
    """USM-12: discovery is without user and security (RFC 3414 s4), what follows is with both."""
    reporter = Reporter(UNKNOWN_ENGINE_IDS, usm_stats(3))
    ask(USER, reporter)
    assert reporter.seen == [(b"", 0), (b"diag", 3)]


def test_a_clock_that_differs_once_is_no_fault() -> None:
    """RFC 3414 s4: that is how the agent's clock is learnt. It is asked again, and then judged by what it says."""
    reporter = Reporter(UNKNOWN_ENGINE_IDS, usm_stats(2), usm_stats(3))
    assert "does not know the user" in only_miss(ask(USER, reporter)).reason
    assert len(reporter.seen) == 3


def test_both_ways_to_a_long_key_are_tried() -> None:
    reporter = Reporter(UNKNOWN_ENGINE_IDS, usm_stats(6), UNKNOWN_ENGINE_IDS, usm_stats(6))
    user = User("diag", "SHA-1", Secret("never-shown-1"), "AES-256", Secret("never-shown-2"))
    assert "privacy password or cipher" in only_miss(ask(user, reporter)).reason
    assert [level for _, level in reporter.seen] == [0, 3, 0, 3]


def test_an_object_that_no_standard_counts_is_named() -> None:
    """snmpUnknownContexts, RFC 3413: nothing that a profile could correct."""
    miss = only_miss(ask(USER, Reporter(UNKNOWN_ENGINE_IDS, (1, 3, 6, 1, 6, 3, 12, 1, 5, 0))))
    assert (miss.outcome, miss.reason) == (Outcome.DENIED, "the agent reports 1.3.6.1.6.3.12.1.5.0")


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="how a refusal is heard differs")
def test_nobody_there_is_refused_and_not_denied() -> None:
    assert only_miss(ask(USER, None)).outcome is Outcome.REFUSED


def test_silence_is_silence() -> None:
    class Mute(Reporter):
        def datagram_received(self, data: bytes, addr: Any) -> None:
            pass

    miss = only_miss(ask(USER, Mute(UNKNOWN_ENGINE_IDS), seconds=1.5))
    assert miss.outcome is Outcome.SILENT
    assert "SNMPv3 discovery" in miss.reason


# --- values and nonsense ---------------------------------------------------------------------------------------------


def answered(pdu: Any, number: int = NUMBER, user: bytes = b"diag") -> bytes:
    whole = their_message(pdu, number, boots=3, time=4711)
    security = UsmSecurityParameters()
    for position, value in enumerate((ENGINE, 3, 4711, user, b"", b"")):
        security.setComponentByPosition(position, value)
    whole["msgSecurityParameters"] = encoder.encode(security)
    return bytes(encoder.encode(whole))


def response(*binds: VarBind, number: int = NUMBER, request_id: int = 0) -> bytes:
    pdu = V2C.ResponsePDU()
    V2C.apiPDU.set_defaults(pdu)
    V2C.apiPDU.set_request_id(pdu, request_id or number)
    V2C.apiPDU.set_varbinds(pdu, [(bind.oid, their_value(bind)) for bind in binds])
    return answered(pdu, number)


def met(user: User = PLAIN) -> Engine:
    """An engine that has met its agent and has one question open, NUMBER."""
    engine = Engine(user, CIPHERS[user.priv][0])
    level = Level.AUTH_PRIV if user.priv else Level.NO_AUTH_NO_PRIV
    engine.seal(NUMBER - 1, level, Question(Kind.GET, [SYS_DESCR]))
    report = encoder.encode(their_message(their_pdu(), NUMBER - 1, boots=3, time=4711))
    assert engine.open(report) == Reported(UNKNOWN_ENGINE_IDS)
    engine.seal(NUMBER, level, Question(Kind.GET, [SYS_DESCR]))
    return engine


def test_values_arrive_as_those_of_the_other_versions() -> None:
    binds = (
        VarBind((1, 3, 1), Syntax.INTEGER32, -3),
        VarBind((1, 3, 2), Syntax.OCTET_STRING, b"Halden\xff\0"),
        VarBind((1, 3, 3), Syntax.NULL, None),
        VarBind((1, 3, 4), Syntax.OBJECT_IDENTIFIER, (1, 3, 6, 1, 4, 1, 32473, 36)),
        VarBind((1, 3, 5), Syntax.IP_ADDRESS, b"\xc0\0\2\x15"),
        VarBind((1, 3, 6), Syntax.COUNTER32, 4_294_967_295),
        VarBind((1, 3, 7), Syntax.GAUGE32, 100_000_000),
        VarBind((1, 3, 8), Syntax.TIME_TICKS, 12),
        VarBind((1, 3, 9), Syntax.OPAQUE, b"\x9f"),
        VarBind((1, 3, 10), Syntax.COUNTER64, 2**64 - 1),
        VarBind((1, 3, 11), Syntax.NO_SUCH_OBJECT, None),
        VarBind((1, 3, 12), Syntax.NO_SUCH_INSTANCE, None),
        VarBind((1, 3, 13), Syntax.END_OF_MIB_VIEW, None),
    )
    assert met().open(response(*binds)) == Pdu(Kind.RESPONSE, NUMBER, 0, 0, binds)


def test_an_answer_without_the_signature_is_not_taken() -> None:
    """A response in the clear to a user who authenticates: RFC 3412 s7.2 step 12 b."""
    with pytest.raises(MalformedError):
        met(USER).open(response(VarBind(SYS_DESCR, Syntax.OCTET_STRING, b"forged")))


def test_an_answer_to_something_else_is_not_taken() -> None:
    with pytest.raises(MalformedError, match=f"response to request {NUMBER + 1}"):
        met().open(response(VarBind(SYS_DESCR, Syntax.NULL, None), request_id=NUMBER + 1))


@given(st.booleans(), st.integers(0, 400), st.binary(min_size=1, max_size=4), st.integers(0, 40))
@settings(max_examples=60, deadline=None)
def test_nonsense_is_malformed_and_nothing_worse(is_report: bool, at: int, junk: bytes, cut: int) -> None:
    number = next(NUMBERS)
    engine = Engine(PLAIN, CIPHERS[""][0]) if is_report else MET
    engine.seal(number, Level.NO_AUTH_NO_PRIV, Question(Kind.GET, [SYS_DESCR]))
    if is_report:
        whole = bytes(encoder.encode(their_message(their_pdu(), number)))
    else:
        binds = VarBind(SYS_DESCR, Syntax.OCTET_STRING, b"Halden 36R"), VarBind((1, 3), Syntax.COUNTER64, 2**40)
        whole = response(*binds, number=number)
    at %= len(whole)
    broken = whole[:at] + junk + whole[at + len(junk) : len(whole) - cut]
    with contextlib.suppress(MalformedError):
        assert isinstance(engine.open(broken), Pdu | Reported)


MET = met()
NUMBERS = itertools.count(REQUEST_IDS[100])


# --- what is loaded, and what is shown -------------------------------------------------------------------------------


def test_nobody_else_waits_for_the_engine() -> None:
    code = "import sys, probes.snmp, netcheck.commands.asking; print('pysnmp' in sys.modules, 'keyring' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=20)
    assert done.stdout.split() == ["False", "False"], done.stderr


def test_nothing_shows_a_secret() -> None:
    engine = met(USER)
    target = Target(Role.NEW, "127.0.0.1", user=USER)
    assert "never-shown" not in repr((USER, target, engine, engine.__dict__))


def test_facts_say_v3() -> None:
    assert [fact for _, fact in PROBE.read(Harvest(Topic.SYSTEM, 3, {}))] == [SnmpAgent("v3")]
