"""Old nights are forgotten, but no last run, no device's last outcome and no device's last case."""

import sqlite3
from pathlib import Path

import pytest

from netcheck.standard import Standard
from netcheck.sweeping.store import Store
from netcheck.verdict import State
from tests.conftest import NOW
from tests.sweep_nights import DAY_MS, EVIDENCE, FLEET, RICH, add_night, found, store_at, swept

HALDEN = "harrow-lane/192.0.2.61/"


def checks(path: Path) -> None:
    """SQLite's own checks of a file."""
    connection = sqlite3.connect(path)
    assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    assert connection.execute("PRAGMA foreign_key_check").fetchall() == []


def states(store: Store, run: int) -> dict[str, State | None]:
    return {each.row.key: each.state for each in store.night(run)}


def test_old_nights_are_forgotten_but_no_last_case(tmp_path: Path) -> None:
    steady, left, silent = HALDEN, "mill-street/192.0.2.7/", "quay-road/192.0.2.8/"
    with store_at(tmp_path) as store:
        first = add_night(store, [swept(key, evidence=EVIDENCE) for key in (steady, left, silent)])
        rest = [add_night(store, [swept(steady, evidence=EVIDENCE), swept(silent, None)]) for _ in range(4)]
        document = store.document(first, silent)
        assert store.prune(2) == 1 + 2 * 2  # the steady one of the first night, both of the next two
        assert states(store, first) == {left: State.READY, silent: State.READY}
        assert [len(states(store, run)) for run in rest] == [0, 0, 2, 2]
        assert store.document(first, silent) == document
        assert [each.thinned for each in store.runs()] == [True, True, True, False, False]
        assert store.prune(2) == 0
        add_night(store, [swept(key, evidence=EVIDENCE) for key in (steady, left, silent)])
        store.prune(2)
        assert states(store, first) == {}, "what was a last case and is not any more goes with its night"
    checks(tmp_path / "sweep.db")


def test_what_nothing_leads_to_any_more_goes_too(tmp_path: Path) -> None:
    """Of every table: what repeats is there once for all nights, and goes with the last of them."""
    old = swept(HALDEN, State.NOT_READY, model="Corvid 24S", evidence=EVIDENCE, supplies=(), standard=Standard("old"))
    with store_at(tmp_path) as store:
        add_night(store, [old])
        for _ in range(2):
            add_night(store, [swept(evidence=EVIDENCE, findings=(found("supplies.level"),))])
        names = ("asked", "identity", "standard", "supply_names", "finding", "finding_set", "set_finding", "sample")
        assert store.prune(2) == 1
        left = {name: len(list(store.ask(f"SELECT 1 FROM {name}"))) for name in names}  # noqa: S608 - names of ours
    assert left == dict.fromkeys(names, 1)


def test_the_last_run_stays_whatever_became_of_it(tmp_path: Path) -> None:
    with store_at(tmp_path) as store:
        old = add_night(store, [swept()])
        part = add_night(store, [swept()], fleet="another fleet")
        last = add_night(store, [swept()])
        running = store.begin(NOW + 9 * DAY_MS, FLEET, 1)
        store.add(running, swept())
        assert store.prune(1) == 1
        assert [len(states(store, run)) for run in (old, part, last, running)] == [0, 1, 1, 1]
        store.finish(running, NOW + 9 * DAY_MS + 1, 0)
        assert store.prune(1) == 1
        with pytest.raises(ValueError, match="always kept"):
            store.prune(0)


def test_forgetting_gives_the_room_back_and_the_store_goes_on(tmp_path: Path) -> None:
    keys = [f"site/192.0.2.{host}/" for host in range(50)]
    with store_at(tmp_path) as store:
        for night in range(8):
            # Text that does not compress, so that there is something to give back.
            add_night(store, [swept(key, None, fault=f"{night} {key} " + "no answer " * 200) for key in keys])
        path = tmp_path / "sweep.db"
        before = path.stat().st_size
        store.prune(1)
        assert path.stat().st_size < before / 3
        assert next(store.ask("PRAGMA freelist_count")) == (0,)
        run = add_night(store, RICH)
        assert list(store.night(run, evidence=True)) == list(RICH)


def test_a_reader_is_not_in_the_way(tmp_path: Path) -> None:
    with store_at(tmp_path) as store:
        for _ in range(3):
            add_night(store, RICH)
        with Store.open(tmp_path / "sweep.db", reading=True) as reader:
            reading = reader.night(3)
            next(reading)
            add_night(store, RICH)
            store.prune(1)
            assert len(list(reading)) == len(RICH) - 1
