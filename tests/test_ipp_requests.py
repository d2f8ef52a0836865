"""How often a printer is asked, counted at the printer: twice at the most, wherever it is and whatever it refuses.

A demand for TLS (HTTP 426, or a redirect) comes before anything was looked at, and does not count; Validate-Job, which
is asked of a printer that has answered, is counted in test_ipp_validate.py.
"""

import asyncio
from collections.abc import Awaitable, Callable
from typing import NamedTuple

import pytest
from aiohttp import web

from netcheck.facts.link import Advertisement, TxtEntry
from netcheck.probing import Answer, Miss, Target
from netcheck.roles import Outcome, Role

from .test_ipp_bytes import BAD_REQUEST, NOT_FOUND, VERSION_NOT_SUPPORTED, message
from .test_ipp_probe import PRINTER_SAYS, Result, gathered, ipp, models, served
from .test_tls_ipp import secured
from .test_tls_made import needs_openssl

pytestmark = needs_openssl

Asked = tuple[str, str]  # path, version
Says = Callable[[str, str], web.Response]


class Counted(NamedTuple):
    results: list[Result]
    plain: list[Asked]
    tls: list[Asked]

    @property
    def outcomes(self) -> list[Outcome | str]:
        return [each.outcome if isinstance(each, Miss) else "answered" for each in self.results]


def counting(says: Says, counted: list[Asked]) -> Callable[[web.BaseRequest], Awaitable[web.StreamResponse]]:
    async def handler(request: web.BaseRequest) -> web.StreamResponse:
        major, minor = (await request.read())[:2]
        counted.append((request.rel_url.raw_path, f"{major}.{minor}"))
        return says(*counted[-1])

    return handler


@pytest.fixture(autouse=True)
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("probes.ipp.paths.PATIENCE_S", 0.05)


def ask(plain: Says, tls: Says | None = None, path: str = "", rp: str = "") -> Counted:
    async def main() -> Counted:
        told: tuple[list[Asked], list[Asked]] = ([], [])
        async with served(counting(plain, told[0])) as first, secured(counting(tls or refuses, told[1])) as second:
            ports = {"ipp": first} | ({"ipps": second} if tls else {})
            target = Target(Role.NEW, "127.0.0.1", "127.0.0.1", ports, path)
            if rp:
                entries = (TxtEntry("rp", rp),)
                await target.learnt.add(
                    Advertisement("Plans", "_ipp._tcp", first, ("h.local",), ("127.0.0.1",), entries)
                )
            return Counted(await gathered(target), *told)

    return asyncio.run(main())


def answers(path: str, version: str) -> web.Response:
    return ipp(PRINTER_SAYS)


def refuses(path: str, version: str) -> web.Response:
    return web.Response(status=403)


def nothing(path: str, version: str) -> web.Response:
    return web.Response(status=404)


def demands_tls(path: str, version: str) -> web.Response:
    return web.Response(status=426)


def always(response: Callable[[], web.Response]) -> Says:
    def says(path: str, version: str) -> web.Response:
        return response()

    return says


def only_at(own: str, otherwise: Says = nothing, then: Says = answers) -> Says:
    return lambda path, version: (then if path == own else otherwise)(path, version)


def only_1_1(refusal: Callable[[], web.Response]) -> Says:
    return lambda path, version: answers(path, version) if version == "1.1" else refusal()


REFUSALS: list[Callable[[], web.Response]] = [
    lambda: ipp(message(VERSION_NOT_SUPPORTED, version=b"\x01\x01")),  # RFC 8010 section 9.1
    lambda: ipp(message(BAD_REQUEST, version=b"\x01\x01")),  # common practice, no source
    lambda: web.Response(status=400, body=b"<html>", content_type="text/html"),  # common practice, no source
]


# --- in plain


def test_where_one_expects_it_once() -> None:
    assert ask(answers).plain == [("/ipp/print", "2.0")]


@pytest.mark.parametrize("refusal", REFUSALS)
def test_a_version_that_it_does_not_take_costs_one_more(refusal: Callable[[], web.Response]) -> None:
    seen = ask(only_1_1(refusal))
    assert seen.plain == [("/ipp/print", "2.0"), ("/ipp/print", "1.1")]
    assert models(seen.results) == ["Halden 36R"]


@pytest.mark.parametrize(
    ("path", "rp", "own"),
    [
        ("", "", "/ipp/printer"),  # a guess
        ("", "printers/Plans", "/printers/Plans"),  # its own word
        ("", "ipp", "/ipp"),
        ("/wrong", "", "/ipp/print"),
        ("/wrong", "printers/Plans", "/printers/Plans"),
    ],
)
@pytest.mark.parametrize("refusal", REFUSALS)
def test_a_path_that_must_be_found_costs_one_more_in_the_version_that_all_take(
    path: str, rp: str, own: str, refusal: Callable[[], web.Response]
) -> None:
    """RFC 8010 section 9.1: every printer must accept 1.1."""
    seen = ask(only_at(own, then=only_1_1(refusal)), path=path, rp=rp)
    assert seen.plain == [(path or "/ipp/print", "2.0"), (own, "1.1")]
    assert models(seen.results) == ["Halden 36R"]


@pytest.mark.parametrize("absent", [nothing, always(lambda: ipp(message(NOT_FOUND)))])
@pytest.mark.parametrize("rp", ["", "a", "ipp/print"])
def test_a_printer_that_is_nowhere_is_asked_twice(absent: Says, rp: str) -> None:
    seen = ask(absent, path="", rp=rp)
    assert seen.outcomes == [Outcome.EMPTY] * 2
    assert [path for path, _ in seen.plain] == ["/ipp/print", "/a" if rp == "a" else "/ipp/printer"]


@pytest.mark.parametrize("refusal", REFUSALS)
def test_a_printer_that_refuses_everything_is_asked_twice(refusal: Callable[[], web.Response]) -> None:
    seen = ask(always(refusal))
    assert (len(seen.plain), seen.outcomes) == (2, [Outcome.FAILED])


def test_a_denial_is_not_asked_again() -> None:
    assert len(ask(refuses).plain) == 1


# --- with TLS


@pytest.mark.parametrize("plain", [refuses, always(lambda: web.Response(status=503))])
def test_tls_gets_what_plain_has_left(plain: Says) -> None:
    seen = ask(plain, answers)
    assert (len(seen.plain), seen.tls) == (1, [("/ipp/print", "1.1")])
    assert models(seen.results) == ["Halden 36R"]


def test_where_plain_left_nothing_tls_is_not_asked() -> None:
    seen = ask(nothing, answers)
    assert (len(seen.plain), seen.tls) == (2, [])


def test_a_demand_for_tls_does_not_count() -> None:
    seen = ask(demands_tls, only_at("/ipp/printer"))
    assert seen.plain == [("/ipp/print", "2.0")]
    assert seen.tls == [("/ipp/print", "2.0"), ("/ipp/printer", "1.1")]
    assert models(seen.results) == ["Halden 36R"]


def redirects(location: str) -> Says:
    return always(lambda: web.Response(status=301, headers={"Location": location}))


@pytest.mark.parametrize(
    "location", ["https://127.0.0.1/ipp/print", "https://127.0.0.1:9100/", "ipps://127.0.0.1:631/ipp/print"]
)
def test_a_redirect_to_tls_is_a_demand_and_where_it_is_is_not_the_peers_to_say(location: str) -> None:
    """At 9100 our octets would be printed: TLS is asked only at the port that is known for it."""
    seen = ask(redirects(location), answers)
    assert (len(seen.plain), len(seen.tls)) == (1, 1)
    (answer,) = seen.results
    assert isinstance(answer, Answer)
    assert answer.note == "in plain it wants an encrypted connection (HTTP 301)"


@pytest.mark.parametrize("location", ["https://192.0.2.99/ipp/print", "https://[/", "http://127.0.0.1:9100/"])
def test_a_redirect_to_somebody_else_is_no_demand(location: str) -> None:
    miss, _ = ask(redirects(location), answers).results
    assert isinstance(miss, Miss)
    assert miss.reason.startswith("redirects to where we do not follow")
