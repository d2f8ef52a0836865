"""The `spool` probe when the spooler has no answer: each way of having none is told from the others."""

import asyncio
import socket

import pytest

from netcheck.facts.queue import Jobs
from netcheck.roles import Outcome

from .test_ipp_bytes import (
    OK,
    message,
)
from .test_spool import Spooler, facts, gathered, misses


def test_no_spooler() -> None:
    with socket.socket() as bound:
        bound.bind(("127.0.0.1", 0))  # bound and not listening
        ((outcome, reason),) = misses(asyncio.run(gathered(bound.getsockname()[1])))
    assert outcome is Outcome.REFUSED
    assert "no spooler" in reason


@pytest.mark.parametrize(
    ("answer", "outcome"),
    [
        (401, Outcome.DENIED),
        (503, Outcome.FAILED),
        (b"<html>", Outcome.MALFORMED),
        (message(0x0401), Outcome.DENIED),
        (message(0x0507), Outcome.FAILED),
    ],
)
def test_a_failure_that_does_not_mean_that_the_queue_is_missing(answer: bytes | int, outcome: Outcome) -> None:
    spooler = Spooler(queue=answer)
    ((got, _),) = misses(spooler.ask())
    assert got is outcome
    assert len(spooler.asked) == 1


def test_a_success_without_a_queue_says_nothing() -> None:
    results = Spooler(queue=message(OK), jobs=message(OK)).ask()
    assert [type(fact) for _, fact in facts(results)] == [Jobs]


def test_names_that_are_denied() -> None:
    results = Spooler(queue=404, names=403).ask()
    assert [outcome for outcome, _ in misses(results)] == [Outcome.EMPTY, Outcome.DENIED]
