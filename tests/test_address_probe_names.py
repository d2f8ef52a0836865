"""Names both ways, and a resolver that says no, cannot tell, or hangs."""

import asyncio
import socket
import subprocess
import sys
import time
from collections.abc import Callable
from typing import Any

import pytest

from netcheck.collect import Recorder, collect_once
from netcheck.probing import Probe, Target
from netcheck.roles import Outcome, Role
from probes import names

ADDRESS = "192.0.2.61"
Back = Callable[[str], tuple[str, list[str], list[str]]]


def raising(error: Exception) -> Callable[..., Any]:
    def call(*_: object, **__: object) -> Any:
        raise error

    return call


def leading_to(*addresses: str) -> Callable[..., Any]:
    def call(host: str, *_: object, **__: object) -> Any:
        found = (host,) if host == ADDRESS else addresses
        return [(socket.AF_INET, socket.SOCK_STREAM, 6, "", (address, 0)) for address in found]

    return call


def asked(address: str = ADDRESS, within_s: float = 4) -> Recorder:
    recorder = Recorder()
    probes: list[Probe[Any]] = [names.PROBE, names.REVERSE]
    asyncio.run(collect_once([Target(Role.NEW, address)], probes, recorder, within_s))
    return recorder


def told(recorder: Recorder) -> dict[str, Any]:
    (item,) = [item for item in recorder.observations if item.kind == "reverse-name"]
    return item.value


def outcome(recorder: Recorder) -> tuple[Outcome, str]:
    (attempt,) = [attempt for attempt in recorder.attempts if attempt.probe == names.REVERSE.name]
    return attempt.outcome, attempt.reason


def back(*found: str) -> Back:
    return lambda address: (found[0], list(found[1:]), [address])


def test_the_name_back_and_where_it_leads(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(socket, "gethostbyaddr", back("halden.example", "plotter.example"))
    monkeypatch.setattr(socket, "getaddrinfo", leading_to("192.0.2.99"))
    assert told(asked()) == {
        "address": ADDRESS,
        "names": ["halden.example", "plotter.example"],
        "by": "resolver",
        "leads_to": ["192.0.2.99"],
    }


@pytest.mark.parametrize("number", [1, 4])
def test_no_name_is_a_fact(monkeypatch: pytest.MonkeyPatch, number: int) -> None:
    """netdb.h: HOST_NOT_FOUND is 1, NO_DATA is 4 (from memory)."""
    monkeypatch.setattr(socket, "gethostbyaddr", raising(socket.herror(number, "no")))
    assert told(asked())["names"] == []


@pytest.mark.parametrize("number", [2, 3])
def test_a_resolver_that_cannot_tell_has_not_said_no(monkeypatch: pytest.MonkeyPatch, number: int) -> None:
    """netdb.h: TRY_AGAIN is 2, NO_RECOVERY is 3 (from memory)."""
    monkeypatch.setattr(socket, "gethostbyaddr", raising(socket.herror(number, "Host name lookup failure")))
    assert outcome(asked()) == (Outcome.FAILED, "the resolver says: Host name lookup failure")


@pytest.mark.parametrize(
    ("error", "leads_to"),
    [
        (socket.gaierror(socket.EAI_NONAME, "no such name"), []),
        (socket.gaierror(socket.EAI_AGAIN, "try again"), None),
        (UnicodeError("label empty or too long"), None),
    ],
)
def test_a_name_back_that_leads_nowhere(
    monkeypatch: pytest.MonkeyPatch, error: Exception, leads_to: list[str] | None
) -> None:
    def call(host: str, *_: object, **__: object) -> Any:
        if host != ADDRESS:
            raise error
        return leading_to()(host)

    monkeypatch.setattr(socket, "gethostbyaddr", back("halden.example"))
    monkeypatch.setattr(socket, "getaddrinfo", call)
    assert told(asked())["leads_to"] == leads_to


def test_names_of_reverse_zones_are_no_names(monkeypatch: pytest.MonkeyPatch) -> None:
    """RFC 2317: a delegated zone answers with aliases such as 61.32/27.2.0.192.in-addr.arpa."""
    monkeypatch.setattr(socket, "gethostbyaddr", back("halden.example", "61.32/27.2.0.192.in-addr.arpa"))
    monkeypatch.setattr(socket, "getaddrinfo", leading_to(ADDRESS))
    assert told(asked())["names"] == ["halden.example"]


def test_a_thousand_names_are_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(socket, "gethostbyaddr", back(*(f"n{number}.example" for number in range(1000))))
    monkeypatch.setattr(socket, "getaddrinfo", leading_to(ADDRESS))
    assert len(told(asked())["names"]) == 16


def test_a_name_that_is_no_text_is_malformed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(socket, "gethostbyaddr", raising(UnicodeDecodeError("utf-8", b"\xff", 0, 1, "no")))
    assert outcome(asked())[0] is Outcome.MALFORMED


@pytest.mark.parametrize("address", ["127.0.0.1", "::1"])
def test_nobody_is_asked_about_loopback(monkeypatch: pytest.MonkeyPatch, address: str) -> None:
    monkeypatch.setattr(socket, "gethostbyaddr", raising(AssertionError("it was asked")))
    recorder = asked(address)
    assert {attempt.probe for attempt in recorder.attempts} == {"names"}


@pytest.mark.parametrize("within_s", [0.3, 10])
def test_a_resolver_that_hangs_holds_nobody_up(monkeypatch: pytest.MonkeyPatch, within_s: float) -> None:
    monkeypatch.setattr(socket, "gethostbyaddr", lambda _: time.sleep(20))
    began = time.monotonic()
    recorder = asked(within_s=within_s)
    assert time.monotonic() - began < min(within_s, names.REVERSE_WITHIN_S) + 0.4
    assert outcome(recorder) == (Outcome.SILENT, "the resolver did not answer")


HANGING = """
import asyncio, socket, time
from netcheck.collect import Recorder, collect_once
from netcheck.probing import Target
from netcheck.roles import Role
from probes import names
socket.gethostbyaddr = lambda _: time.sleep(60)
asyncio.run(collect_once([Target(Role.NEW, "192.0.2.61")], [names.PROBE, names.REVERSE], Recorder(), 0.3))
"""


def test_a_resolver_that_hangs_does_not_hold_the_exit() -> None:
    began = time.monotonic()
    subprocess.run([sys.executable, "-c", HANGING], check=True, timeout=30)
    assert time.monotonic() - began < 10


def test_a_bug_in_the_thread_is_an_attempt_that_failed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Raised where it is awaited, and told by collect: never silence."""
    monkeypatch.setattr(socket, "gethostbyaddr", raising(KeyError("a bug")))
    found, reason = outcome(asked())
    assert found is Outcome.FAILED
    assert "KeyError" in reason
