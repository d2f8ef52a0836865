"""`netcheck compare` on cases of the simulated site before and after one named fault: what must have changed is known
from what the scenario makes another."""

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

import pytest

import netcheck.comparing.document
from netcheck.cli import _guarded
from netcheck.comparing.document import SCHEMA
from tests.test_compare_command import compare, document


class Fault(NamedTuple):
    """What a scenario makes another than ``ready``: the exit code that its verdict must have (0 ready, 1 not ready, 3
    cannot tell), the finding that must say so, of how many items, and a fact with one field, before and after."""

    code: int
    finding: str
    items: int
    kind: str
    field: tuple[str, str | None, str | None]


FAULTS = {
    "firmware-too-new": Fault(1, "identity.firmware", 1, "firmware", ("version", "4.7.2", "4.8.0")),
    "wrong-mask": Fault(1, "address.mask", 1, "addresses", ("prefix length", "24", "25")),
    "out-of-media": Fault(1, "media.loaded", 2, "inputs", ("level", "41 meters", "0 meters")),
    "old-holds-address": Fault(1, "address.held", 1, "", ("", None, None)),
    "waste-full": Fault(1, "supplies.empty", 1, "supplies", ("level", "97 percent", "0 percent")),
    "new-unreachable": Fault(1, "services.reach", 1, "service", ("state", "open", "refused")),
    "snmp-silent": Fault(3, "services.snmp", 1, "", ("", None, None)),
}
"""From `netcheck.rehearsal.scenarios`: firmware 4.8.0 for 4.7.2, mask /25 for /24, 0 of 41 m on the roll (for both
plans that the Standard has printed), 0 of 97 % room in the cartridge, nothing that listens, no answer over SNMP."""


@pytest.fixture(scope="module")
def saved(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Path]:
    folder = tmp_path_factory.mktemp("cases")

    def play(name: str) -> Path:
        path = folder / f"{name}.json"
        if not path.exists():
            assert _guarded(["rehearse", name, "--save", str(path), "--quiet"]) in {0, 1, 3}
        return path

    return play


def still(plain: dict[str, Any]) -> list[dict[str, Any]]:
    """The facts that changed, without what always moves and without what was heard by multicast: another simulated site
    on this machine may be heard as well, or drown an announcement."""
    return [each for each in plain["facts"] if not each["moves"] and each["probe"] != "dnssd"]


def ids(plain: dict[str, Any], stands: str, side: str = "after") -> set[str]:
    """The findings that stand there on one side, and are not explained by others."""
    return {each["id"] for each in plain["findings"] if each[side] and each[side]["stands"] == stands}


@pytest.mark.parametrize("name", FAULTS)
def test_the_fault_is_what_changed(saved: Any, name: str) -> None:
    fault = FAULTS[name]
    before, after = saved("ready"), saved(name)
    assert compare(before, after)[0] == fault.code
    plain = document(before, after)
    assert (plain["was"], plain["now"]) == ("ready", {1: "not-ready", 3: "cannot-tell"}[fault.code])
    assert fault.finding in ids(plain, "in-the-way" if fault.code == 1 else "missing")
    assert {why for each in plain["findings"] for why in each["why"]} == {"evidence"}
    first = plain["findings"][0]
    assert first["id"] == fault.finding
    assert first["before"]["state"] == "met"
    if fault.kind:
        fields = [
            (field["field"], field["before"], field["after"])
            for each in plain["facts"]
            if each["kind"] == fault.kind and each["role"] == "new"
            for field in each["fields"]
        ]
        assert fault.field in fields
    assert not [each for each in still(plain) if each["role"] == "old"]  # nobody touched it
    assert plain["swapped"] == plain["asked"] == []


@pytest.mark.parametrize("name", FAULTS)
def test_the_way_back_is_the_way_there(saved: Any, name: str) -> None:
    """Mended: what came into the way is no longer there, field by field."""
    there, back = document(saved("ready"), saved(name)), document(saved(name), saved("ready"))
    assert compare(saved(name), saved("ready"))[0] == 0

    def ends(plain: dict[str, Any], one: str, other: str) -> set[Any]:
        return {
            (each["key"], *(each[side] and each[side]["stands"] for side in (one, other))) for each in plain["findings"]
        }

    assert ends(there, "before", "after") == ends(back, "after", "before")
    fields = [
        {
            (each["kind"], each["row"], field["field"], field[one], field[other])
            for each in still(plain)
            if each["how"] == "changed"
            for field in each["fields"]
        }
        for plain, one, other in ((there, "before", "after"), (back, "after", "before"))
    ]
    assert fields[0] == fields[1]


def test_what_snmp_told_is_not_gone_but_not_seen(saved: Any) -> None:
    plain = document(saved("ready"), saved("snmp-silent"))
    told = {(each["how"], each["role"]) for each in plain["facts"] if each["probe"] == "snmp" and not each["moves"]}
    assert told == {("not-seen", "new")}
    silent = [each for each in plain["attempts"] if each["after"] == ["silent"] and each["probe"] != "dnssd"]
    assert [(each["role"], each["probe"], each["before"]) for each in silent] == [("new", "snmp", ["answered"])]


def test_two_runs_of_one_site_differ_in_nothing(saved: Any, tmp_path: Path) -> None:
    """Other ports, other times, other round trips: a rehearsal starts anew each time."""
    again = tmp_path / "again.json"
    assert _guarded(["rehearse", "ready", "--save", str(again), "--quiet"]) == 0
    plain = document(saved("ready"), again)
    assert (plain["was"], plain["now"], plain["asked"], plain["swapped"]) == ("ready", "ready", [], [])
    assert [each for each in plain["findings"] if not each["id"].startswith("announced.")] == []
    assert still(plain) == []
    assert [each for each in plain["attempts"] if each["probe"] != "dnssd"] == []
    assert any(each["moves"] for each in plain["facts"])


def test_what_changes_nothing_for_the_answer(saved: Any) -> None:
    """The IPP printer has moved to another path, and everything is as the Standard asks all the same."""
    code, page, _ = compare(saved("ready"), saved("odd-path"))
    assert (code, page.partition("  ")[0]) == (0, "READY, as before")
    plain = document(saved("ready"), saved("odd-path"))
    paths = [field for each in plain["facts"] if each["kind"] == "ipp-service" for field in each["fields"]]
    assert {"field": "path", "before": "/ipp/print", "after": "/ipp/plan-room"} in paths
    assert not [
        each
        for each in plain["findings"]
        for side in ("before", "after")
        if each[side] and each[side]["state"] != "met" and not each["id"].startswith("announced.")
    ]


def test_a_case_beside_itself(saved: Any) -> None:
    plain = document(saved("waste-full"), saved("waste-full"))
    assert plain["findings"] == plain["facts"] == plain["attempts"] == plain["asked"] == plain["swapped"] == []
    assert plain["was"] == plain["now"] == plain["alike"] == "not-ready"
    assert compare(saved("waste-full"), saved("waste-full"))[1].startswith("NOT READY, as before  Nothing changed.\n")


# --- the page


@pytest.mark.parametrize("name", FAULTS)
def test_the_page_has_80_columns_and_its_answer_first(saved: Any, name: str) -> None:
    state = "NOT READY" if FAULTS[name].code == 1 else "CANNOT TELL"
    page = compare(saved("ready"), saved(name))[1]
    assert page.startswith(
        f"READY -> {state}  {FAULTS[name].items} {'in the way' if FAULTS[name].code == 1 else 'missing'} now"
    )
    assert all(len(line) <= 80 for line in page.splitlines())
    assert f"netcheck explain {FAULTS[name].finding}" in page
    order = [line for line in page.splitlines() if line and not line.startswith(" ")]
    assert order[1] in {"In the way now", "Missing: not seen, and needed"}
    assert order[-1].startswith("Always:")
    assert compare(saved("ready"), saved(name), quiet=True)[1] == page.splitlines()[0] + "\n"


def test_one_cause_is_one_entry(saved: Any) -> None:
    """The full cartridge has raised an alert, stopped the printer and set words of its state: one thing to read."""
    page = compare(saved("ready"), saved("waste-full"))[1]
    assert page.startswith("READY -> NOT READY  1 in the way now")
    _, _, way = page.partition("In the way now\n")
    way = way.partition("\n\n")[0]
    assert way.startswith("  1. Maintenance cartridge is full: was fine, is in the way (evidence)\n")
    assert "  2. " not in way


# --- the document


def test_every_key_is_there_and_described(saved: Any) -> None:
    plain = document(saved("ready"), saved("waste-full"))
    assert plain["schema"] == SCHEMA == "netcheck/difference/1"
    described = netcheck.comparing.document.__doc__ or ""
    keys = set(plain)
    for part in (plain["before"], *(plain[name][0] for name in ("findings", "facts"))):
        keys |= set(part)
    assert not [key for key in keys if key not in described]
    for name in ("before", "after"):
        file = plain[name]
        stored = json.loads(saved({"before": "ready", "after": "waste-full"}[name]).read_text("utf-8"))
        assert (file["whole"], file["code"]) == (stored["seal"]["whole"], stored["seal"]["code"])
        assert (file["made_at"], file["tool"], file["state"]) == (
            stored["made_at"],
            stored["tool"],
            stored["verdict"]["state"],
        )
    assert plain["made_at"] == plain["after"]["made_at"]

    def values(part: Any) -> Iterator[Any]:
        for each in part.values() if isinstance(part, dict) else part if isinstance(part, list) else ():
            yield from values(each)
        yield part

    assert not any(isinstance(value, float) for value in values(plain))


def test_it_is_saved_as_it_is_printed(saved: Any, tmp_path: Path) -> None:
    file = tmp_path / "difference.json"
    told = compare(saved("ready"), saved("waste-full"), as_json=True, save=file)[1]
    assert file.read_text("utf-8") == told
    assert told == compare(saved("ready"), saved("waste-full"), as_json=True)[1]  # no clock, no chance
