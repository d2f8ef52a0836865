"""The veil itself: what it takes out, and what it has to leave as it is; and what is announced by multicast."""

import copy
import pickle
from pathlib import Path

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

import probes.dnssd.browsing
from netcheck.collect import Recorder
from netcheck.commands import find
from netcheck.facts.identity import Serial
from netcheck.facts.link import OwnInterfaceRow, OwnInterfaces
from netcheck.probing import installed
from netcheck.roles import Role
from netcheck.secret import WITHHELD, Secret, Veil, harmless, without_userinfo

from .dnssd_responder import LOOPBACK, PTR, Responder, a, message, ptr, srv, txt
from .secrets_devices import SAYS, echoes, passwords, uris
from .secrets_site import asker, canary, leaks

COMMUNITY = canary("community behind a veil")
NOT_OURS = [
    "Halden 36R, large-format printer",
    "see http://halden-36r.example:631/ipp/print?a=b#c or write to plans@county.example",
    "mailto:plans@county.example",
    "ipp://[fe80::1%25eth0]:631/printers/Plans@office",
    "dnssd://Plans%20%40%20office._ipp._tcp.local/?uuid=5",
    "https://halden-36r.example/help?who=plans@county.example",
    "02:77:00:00:00:22",
    "1.3.6.1.2.1.43.11.1.1.9.1.3",
    "0277000000226832",
    "// two slashes, and an @",
    "socket://192.0.2.21:9100",
]


@pytest.mark.parametrize("text", NOT_OURS)
def test_what_is_no_secret_stays_as_it_is(text: str) -> None:
    assert Veil([Secret(COMMUNITY), Secret("public")]).text(text) == text


@pytest.mark.parametrize("word", ["public", "open", "Plans", "idle", "ipp", "9100", ""])
def test_a_community_that_is_a_usual_word_is_no_hole(word: str) -> None:
    """A hole in the place of a known word would tell what it is, and spoil what it stood in."""
    text = f"public open Plans idle ipp 9100 {word}"
    assert Veil([Secret(word)]).text(text) == text


@pytest.mark.parametrize("short", ["x7Kq2p", "r-0w", "k9k9k9k"])
def test_a_short_one_goes_where_it_stands_by_itself(short: str) -> None:
    assert Veil([Secret(short)]).text(f"by {short}, of {short}s") == f"by {WITHHELD}, of {short}s"


def test_every_form_of_it_goes_and_nothing_around_it() -> None:
    veil = Veil([Secret(COMMUNITY)])
    for each in echoes(COMMUNITY):
        if isinstance(each, str):
            assert veil.text(each).startswith(SAYS)
            assert not leaks({"": veil.text(each).encode()}, [COMMUNITY])
            assert leaks({"": each.encode()}, [COMMUNITY])


def test_the_user_of_a_uri_goes_and_the_host_stays() -> None:
    """RFC 3986 s3.2.1; where it is not clear which is which, all of it goes."""
    assert without_userinfo("ipp://a:b@h.example/x") == "ipp://h.example/x"
    assert without_userinfo("lpd://a@h.example/x") == "lpd://h.example/x"
    assert without_userinfo("a http://a:b/c@h.example/ d") == f"a http://{WITHHELD} d"
    assert without_userinfo("http://a:b@h.example:80/c@d") == "http://h.example:80/c@d"
    assert without_userinfo("http://a:b@c/d@h.example/") == f"http://{WITHHELD}"
    assert without_userinfo("http://admin:secr... (40 more characters)") == f"http://{WITHHELD} (40 more characters)"
    told = uris("here")
    kept = {how: without_userinfo(text) for how, text in told.items()}
    assert not leaks({how: text.encode() for how, text in kept.items()}, passwords("here"))
    assert {how for how, text in kept.items() if "halden-36r.example" not in text} == {"delimiters"}


@given(st.text(max_size=60))
def test_any_text_is_taken_and_taken_twice_is_the_same(text: str) -> None:
    veil = Veil([Secret(COMMUNITY)])
    once = veil.text(text)
    assert veil.text(once) == once


@given(st.text(max_size=20), st.text(max_size=20))
def test_it_goes_whatever_is_around_it(before: str, behind: str) -> None:
    assert COMMUNITY not in Veil([Secret(COMMUNITY)]).text(before + COMMUNITY + behind)


def test_a_fact_that_is_none_without_the_secret_is_not_kept() -> None:
    recorder, own = Recorder(veil=Veil([Secret("192.0.2.61")])), "192.0.2.61"
    assert recorder.keep(Role.NEW, "snmp", "prtGeneralSerialNumber.1", 1, "", Serial(f"{own} HX-77-0457"))
    rows = (OwnInterfaceRow("eth0", own, 24, "02:77:00:00:00:10"),)
    assert not recorder.keep(Role.HERE, "address", "interfaces", 1, "", OwnInterfaces(rows))
    assert [each.value for each in recorder.observations] == [{"value": f"{WITHHELD} HX-77-0457"}]


def test_a_secret_is_in_no_copy_that_could_be_saved() -> None:
    for attempt in (pickle.dumps, copy.deepcopy, msgspec.json.encode, msgspec.to_builtins):
        with pytest.raises(TypeError):
            attempt(Secret(COMMUNITY))
    assert COMMUNITY not in f"{Secret(COMMUNITY)} {Secret(COMMUNITY)!r} {Secret(COMMUNITY)!s:>9}"


def test_a_message_of_ours_repeats_none() -> None:
    secret = canary("some secret that was made")
    assert Secret(secret).reveal() == secret
    assert harmless(f"KeyError: {secret!r} at ipp:/a:{secret}@h and a:b@h") == (
        f"KeyError: '{WITHHELD}' at ipp:/h and {WITHHELD}@h"
    )
    assert harmless("No such option: --save-as") == "No such option: --save-as"


def test_what_is_announced(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """DNS-SD: TXT keys of a printer (adminurl, note, rp), with passwords and the community that we would ask with."""
    named = [probe for probe in installed() if probe.name in {"dnssd", "names", "ipp", "snmp", "ports"}]
    monkeypatch.setattr(find, "installed", lambda: iter(named))
    monkeypatch.setattr(probes.dnssd.browsing, "usable", lambda: ([LOOPBACK], None))
    monkeypatch.setenv("NETCHECK_SNMP_COMMUNITY", COMMUNITY)
    instance, host = f"Telling {COMMUNITY}._ipp._tcp.local", "telling-36r.local"
    told = uris("DNS-SD")
    keys = [f"adminurl={told['proper']}", f"note={SAYS} {COMMUNITY}, {told['in a text']}", f"rp=ipp/{COMMUNITY}"]
    keys += ["ty=Halden 36R", f"product=({told['nested']})", f"x={told['behind']}"]
    strings = [*(each.encode() for each in keys), b"y=\xff" + COMMUNITY.encode() + told["no scheme"].encode()]
    records = [ptr("_ipp._tcp.local", instance), srv(instance, host, 9), txt(instance, *strings), a(host, LOOPBACK)]
    saved = tmp_path / "found.json"
    with Responder({("_ipp._tcp.local", PTR): [message(*records)]}) as responder:
        done = asker(capsys)("find", "--json", "--save", saved, "--timeout", "5")
        assert ("_ipp._tcp.local", PTR) in responder.asked
    assert f"Telling {WITHHELD}" in done.out
    done.free_of(COMMUNITY, *passwords("DNS-SD"))
    assert not leaks({"saved": saved.read_bytes()}, [COMMUNITY, *passwords("DNS-SD")])
