"""What was read before is read the same again, and what differs from it in any octet is not taken for it."""

import random
from collections.abc import Callable

import pytest

from probes.snmp import message
from probes.snmp.ber import MalformedError

from .test_rehearsal_fleet import NAME, SERIAL, snmp_request

QUESTION = snmp_request(70_000, SERIAL, NAME, "1.3.6.1.2.1.1.1.0")  # by pysnmp


@pytest.fixture(autouse=True)
def _nothing_known() -> None:
    message._KNOWN.clear()


def response(octets: bytes) -> bytes:
    """A request turned into the response of the same bindings (RFC 3416 s3: the PDU's tag)."""
    at = octets.index(b"public") + len(b"public")
    return octets[:at] + bytes((message.Kind.RESPONSE,)) + octets[at + 1 :]


def outcome(octets: bytes) -> object:
    try:
        return message.decode(octets)
    except MalformedError as error:
        return str(error)


def test_a_second_time_it_is_the_same() -> None:
    first = outcome(response(QUESTION))
    assert isinstance(first, message.Message)
    assert len(message._KNOWN) == 3
    assert outcome(response(QUESTION)) == first


def changed(seed: int) -> bytes:
    octets, dice = bytearray(response(QUESTION)), random.Random(seed)
    for _ in range(dice.randint(1, 3)):
        octets[dice.randrange(len(octets))] = dice.randrange(256)
    return bytes(octets[: dice.choice((len(octets), len(octets), dice.randrange(1, len(octets))))])


@pytest.mark.parametrize("make", [changed])
def test_whatever_is_known_no_answer_is_another_one(make: Callable[[int], bytes]) -> None:
    samples = [make(seed) for seed in range(3_000)]
    fresh = []
    for sample in samples:
        message._KNOWN.clear()
        fresh.append(outcome(sample))
    message.decode(response(QUESTION))
    assert [outcome(sample) for sample in samples] == fresh
    assert any(isinstance(each, message.Message) for each in fresh)
    assert any(isinstance(each, str) for each in fresh)


def test_the_memory_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(message, "_MOST_KNOWN", 10)
    for number in range(100):
        message.decode(response(snmp_request(70_000, f"1.3.6.1.2.1.1.{number}.0")))
        assert len(message._KNOWN) <= 10
    long = response(snmp_request(70_000, ".".join(["1.3.6.1", *("268435455" for _ in range(20))])))
    before = len(message._KNOWN)
    message.decode(long)
    assert len(message._KNOWN) == before
