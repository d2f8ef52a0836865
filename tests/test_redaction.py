"""A redacted case names nobody, and is judged as the original is. What must not be in it is searched for as bytes."""

import asyncio
import functools
import re
from collections import Counter
from pathlib import Path
from typing import Any

import msgspec
import pytest

from netcheck.case import Case, Observation, observation
from netcheck.commands.rehearse import _played
from netcheck.document import Document, canonical, evidence_of, load_document
from netcheck.facts import KINDS
from netcheck.facts.identity import DeviceId, Model, PrinterNames, Serial, System
from netcheck.facts.link import AdvertisedHost, Advertisement, TxtEntry
from netcheck.facts.queue import QueueTarget
from netcheck.facts.raw import RawObjects, RawRow
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.move import DeviceRef, Move
from netcheck.probing import provides
from netcheck.redaction import redacted
from netcheck.redaction.treatment import DROPPED, FACTS, MOVE, STANDARD
from netcheck.rehearsal.scenarios import SCENARIOS
from netcheck.roles import Outcome, Role
from netcheck.standard import ModelDemand, Standard
from netcheck.verdict import Verdict
from tests.conftest import FIXTURES, LS_2041, NOW, OUR_ADDRESS, attempt, make_case
from tests.redaction_rich import rich_case, string_places

KEY, OTHER_KEY = bytes(range(32)), bytes(range(1, 33))
OF_THE_SITE = ("harrow", "plans", "land-survey", "ls-2041", "hx-77-0457", "cv24-008812", "02:77:00:", "192.0.2.")

SAVED = [each for each in sorted((FIXTURES / "cases").glob("*.json")) if b'"netcheck/case/1"' in each.read_bytes()]


@functools.cache
def rehearsed(name: str) -> tuple[Case, Standard]:
    return asyncio.run(_played(SCENARIOS[name]))


def document(case: Case, standard: Standard | None, gate: Gate = Gate.SWAP) -> bytes:
    """The whole saved file, judgement included."""
    return Document(evidence_of(case), gate, standard, judge(case, standard or Standard(), gate, provides())).encode()


def form_of(verdict: Verdict) -> tuple[Any, ...]:
    """Everything of a verdict but its words and the names in its items."""
    items = {(each.id, each.role) for each in verdict.findings}
    counted = {key: len({each.item for each in verdict.findings if (each.id, each.role) == key}) for key in items}
    findings = Counter(
        (
            each.id,
            each.role,
            each.state,
            each.weight,
            each.gate,
            tuple(sorted(c.partition("/")[0] for c in each.causes)),
        )
        for each in verdict.findings
    )
    return verdict.state, findings, counted


def judged_alike(case: Case, standard: Standard, gate: Gate = Gate.SWAP) -> list[tuple[Case, Standard | None]]:
    before = form_of(judge(case, standard, gate, provides()))
    made = [redacted(case, standard, key) for key in (KEY, OTHER_KEY)]
    for new, demanded in made:
        assert form_of(judge(new, demanded or Standard(), gate, provides())) == before
    return made


@pytest.mark.parametrize("name", SCENARIOS)
def test_a_rehearsal_is_judged_as_before_and_names_nobody(name: str) -> None:
    case, standard = rehearsed(name)
    for new, demanded in judged_alike(case, standard):
        text = document(new, demanded).lower()
        originals = [*OF_THE_SITE, *(uuid for uuid in _uuids(case))]
        assert not [each for each in originals if each.encode() in text or each.encode().hex().encode() in text]
        assert b"halden 36r" in text  # a model is no secret
        assert str(SCENARIOS[name].state).encode() in text


def _uuids(case: Case) -> set[str]:
    return {str(each.value["value"]) for each in case.observations if each.kind == "uuid"}


@pytest.mark.parametrize("path", SAVED, ids=lambda path: path.stem)
def test_a_saved_case_is_judged_as_before(path: Path) -> None:
    case, saved = load_document(path)
    gates = [Gate.STANDING] if case.move.device else list(Gate)[:4]
    for gate in gates:
        judged_alike(case, saved.standard or Standard(), gate)


def test_the_rehearsals_do_hold_what_is_searched_for() -> None:
    """The search can fail: all of it is found in the original."""
    text = document(*rehearsed("ready")).lower()
    assert not [each for each in OF_THE_SITE if each.encode() not in text]


@pytest.mark.parametrize("gate", list(Gate)[:4])
def test_a_case_full_of_names_holds_none_of_them_afterwards(gate: Gate) -> None:
    case, standard, originals = rich_case()
    before = document(case, standard, gate).lower()
    assert len(originals) > 200
    assert not [each for each in originals if each.lower().encode() not in before]
    for new, demanded in judged_alike(case, standard, gate):
        text = document(new, demanded, gate).lower()
        low = [each.lower() for each in originals]
        assert not [each for each in low if each.encode() in text]
        assert not [each for each in low if each.encode().hex().encode() in text]
        assert b"zorb" not in text


def test_every_string_field_has_a_treatment() -> None:
    """Whoever adds a field decides what becomes of it (netcheck/redaction/treatment.py)."""
    for name, kind in KINDS.items():
        if name not in DROPPED:
            assert set(FACTS[name]) == {each for each in string_places(kind) if each}, name
    assert FACTS.keys() == KINDS.keys() - DROPPED
    assert set(MOVE) == set(string_places(Move)) | {"seen.role"}
    assert set(STANDARD) >= set(string_places(Standard))


def test_what_no_version_knows_is_left_out_and_said() -> None:
    raw = RawObjects((RawRow("sysContact.0", "1.3.6.1.2.1.1.4.0", "OctetString", "Zorb of Quillshire"),))
    strange = Observation(Role.NEW, "snmp", "later", NOW, OUR_ADDRESS, "colour-tables", {"owner": "Zorb of Quillshire"})
    case = make_case([(Role.NEW, "snmp", "raw", raw), (Role.NEW, "ipp", "printer-name", Model("Halden 36R"))])
    case = msgspec.structs.replace(case, observations=(*case.observations, strange, strange))
    new, _ = redacted(case, None, KEY)
    assert [each.kind for each in new.observations] == ["model"]
    (said,) = new.attempts
    assert (said.role, said.probe, said.outcome, said.at_ms) == (Role.NEW, "snmp", Outcome.NOT_TRIED, NOW)
    assert "colour-tables" in said.target
    assert "2 of a kind" in said.reason
    assert b"orb of" not in document(new, None)


def test_it_says_that_it_is_redacted_once() -> None:
    case, standard = rehearsed("ready")
    new, demanded = redacted(case, standard, KEY)
    again, _ = redacted(new, demanded, OTHER_KEY)
    assert new.tool == again.tool == f"{case.tool}, redacted"
    assert (new.made_at, new.observations[0].at_ms) == (case.made_at, case.observations[0].at_ms)


def test_it_is_the_same_with_the_same_key_only() -> None:
    case, standard = rehearsed("ready")
    plain = [canonical(evidence_of(redacted(case, standard, key)[0])) for key in (KEY, KEY, OTHER_KEY)]
    assert plain[0] == plain[1] != plain[2]
    for short in (b"", b"0123456789"):
        with pytest.raises(ValueError, match="shorter"):
            redacted(case, standard, short)


def values(case: Case, kind: str) -> list[Any]:
    return [each.value for each in case.observations if each.kind == kind]


def one(fact: Any, *others: Any, move: Move = LS_2041, standard: Standard | None = None) -> tuple[dict[str, Any], Case]:
    """The first of some facts of the new device, redacted."""
    case = make_case([(Role.NEW, "ipp", f"source {at}", each) for at, each in enumerate((fact, *others))], move)
    new, _ = redacted(case, standard, KEY)
    return new.observations[0].value, new


def test_a_model_stays_in_the_name_that_is_made_of_it() -> None:
    told = Advertisement("Halden 36R [0457] (2)", "_ipp._tcp", 631, ("a.local",), (), (TxtEntry("ty", "Halden 36R"),))
    value, _ = one(told, Serial("HX-77-0457"))
    assert value["instance"].startswith("Halden 36R [")
    assert value["instance"].endswith(
        "] (2)"
    )  # how a name is numbered that was taken (RFC 6762 s9): a rule looks at it
    assert "0457" not in value["instance"]


def test_a_serial_number_beside_the_model_goes_and_the_model_stays() -> None:
    value, new = one(
        Model("Halden 36R HX-77-0457"), Serial("HX-77-0457"), standard=Standard(model=ModelDemand("Halden*"))
    )
    assert value["value"] == f"Halden 36R {values(new, 'serial')[0]['value']}"


@pytest.mark.parametrize("name", ["printer", "Halden", "36R", "Plans", "ready", "IPP"])
def test_a_short_or_common_name_shreds_no_other_words(name: str) -> None:
    """printer-name, Plans-2 and the model are words of their own."""
    text = "Halden 36R; printer-name plans-2 Replans; ready by ipp to 36Rx"
    value, new = one(System(text, "", name, "", None), Model("Halden 36R"), PrinterNames(name))
    assert value["description"] == text
    assert name.casefold() not in value["name"].casefold().split("-")
    assert values(new, "model") == [{"value": "Halden 36R"}]


@pytest.mark.parametrize(
    ("text", "shows"),
    [
        ("netcheck reads 1.3.6.1.2.1.43 and 4.7.2", True),
        ("at 2026-12-03 10:00:00 tcp/9100, ECONNREFUSED 111", True),
        ("mask 255.255.255.0, from 0.0.0.0, by 127.0.0.1 or ::1", True),
        ("from 10.20.30.40.", False),
        ("engine 80001f8803001ba95c7e09", False),
        ("prtGeneral.1 says S/N: QX77412", False),
        ("write to zorb@quillshire.example", False),
        ("redirects to http://zorb.quillshire.county:8080/a", False),
        ("who is 40.30.20.10.in-addr.arpa", False),
        ("fe80::21b:a9ff:fe5c:7e09%eth0", False),
        ("asked for zorb-2.local", False),
        ("asked for a.quillshire.zz, got profiles.toml", False),
        ("a 6d4ff0ce-6b11-51d8-8020-0a1b2c3d4e5f b", False),
    ],
)
def test_in_free_text_what_names_somebody_is_told_by_its_form(text: str, shows: bool) -> None:
    case = make_case([], attempts=[attempt(Role.NEW, "snmp", Outcome.SILENT, text)])
    (new,) = redacted(case, None, KEY)[0].attempts
    assert (new.reason == text) is shows
    pieces = ["20.30.40", "a95c7e09", "QX77412", "zorb", "quillshire", "30.20.10", "fe5c:7e09", "0a1b2c3d4e5f"]
    assert not [each for each in pieces if each in new.reason]


@pytest.mark.parametrize(
    ("uri", "like"),
    [
        (
            "ipp://zorb.quillshire.county:8631/printers/Plan%20Room",
            r"ipp://[\w-]+\.[\w-]+\.[\w-]+:8631/printers/[\w-]+",
        ),
        ("socket://10.20.30.40:9100", r"socket://10\.\d+\.\d+\.40:9100"),
        ("lpd://zorb/zorbq", r"lpd://host-\w+/queue-\w+"),
        ("usb://Halden/36R?serial=HX-77-0457", r"usb://Halden/36R\?serial=[A-Z]{2}-\d\d-\d{4}"),
        (
            "dnssd://Halden%2036R%20%5Bzorb%5D._ipp._tcp.local/",
            r"dnssd://Halden%2036R%20%5B[\w-]+%5D\._ipp\._tcp\.local/",
        ),
        ("ipp://[fe80::1%25eth0]:631/ipp/print", r"ipp://\[fe80::[0-9a-f:]+%25eth0\]:631/ipp/print"),
        ("zorb", r"host-\w+"),
        ("file:///dev/null", r"file:///[\w-]+/[\w-]+"),
    ],
)
def test_a_uri_keeps_what_says_how_and_loses_what_says_where(uri: str, like: str) -> None:
    facts = (QueueTarget("Plans", uri), Model("Halden 36R"), DeviceId((("MFG", "Halden"), ("MDL", "36R"))))
    value, _ = one(*facts, Serial("HX-77-0457"))
    assert re.fullmatch(like, value["uri"]), value["uri"]
    assert not [each for each in ("zorb", "quillshire", "20.30", "0457", "Plan%20Room") if each in value["uri"]]


def test_one_machine_is_one_machine_under_each_of_its_names() -> None:
    places = (AdvertisedHost("ZORB-9.local.", 631, ("10.20.30.40",)),)
    told = Advertisement("Zorb 9", "_ipp._tcp", 631, ("zorb-9.local",), ("10.20.30.40",), (), (), places)
    move = msgspec.structs.replace(LS_2041, new=DeviceRef("zorb-9"))
    value, new = one(told, System("", "", "Zorb-9", "", None), move=move)
    assert new.move.new is not None
    names = {new.move.new.host, value["hosts"][0].removesuffix(".local"), values(new, "system")[0]["name"].casefold()}
    assert names == {value["places"][0]["name"].casefold().removesuffix(".local.")}
    assert value["places"][0]["addresses"] == value["addresses"]


def test_observations_of_one_source_stay_of_one_source() -> None:
    case, standard = rehearsed("ready")
    new, _ = redacted(case, standard, KEY)
    before = Counter((each.role, each.probe, each.source, each.kind) for each in case.observations)
    after = Counter((each.role, each.probe, each.source, each.kind) for each in new.observations)
    assert sorted(before.values()) == sorted(after.values())


def test_a_fact_that_a_later_version_made_longer_loses_what_is_new() -> None:
    seen = observation(Role.NEW, "snmp", "prtGeneralSerialNumber.1", NOW, OUR_ADDRESS, Serial("HX-77-0457"))
    seen = msgspec.structs.replace(seen, value={**seen.value, "owner": "Zorb"})
    case = msgspec.structs.replace(make_case([]), observations=(seen,))
    assert set(redacted(case, None, KEY)[0].observations[0].value) == {"value"}
