"""The store gives back what it was given, once, and the same document that the sweep would have saved."""

import random
import sqlite3
from pathlib import Path

import msgspec
import pytest

from netcheck.document import Document, canonical, encoded, load_document
from netcheck.errors import InputError
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.probing import provides
from netcheck.standard import Standard
from netcheck.sweeping.outcome import Supply
from netcheck.sweeping.store import Store
from netcheck.sweeping.store_schema import APPLICATION_ID, SCHEMA, VERSION
from netcheck.verdict import State
from tests.conftest import FIXTURES, NOW
from tests.sweep_nights import EVIDENCE, FLEET, PLOTTERS, RICH, add_night, store_at, swept

CASES = sorted(path.stem for path in (FIXTURES / "cases").glob("*.json") if path.stem != "found")
HALDEN = "harrow-lane/192.0.2.61/"


def tables(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(path)


def test_a_night_comes_back_as_it_was_stored(tmp_path: Path) -> None:
    with store_at(tmp_path) as store:
        run = add_night(store, RICH)
        assert list(store.night(run, evidence=True)) == list(RICH)
        bare = [msgspec.structs.replace(each, evidence=b"") for each in RICH]
        assert list(store.night(run)) == bare
    with Store.open(tmp_path / "sweep.db", reading=True) as store:
        assert list(store.night(run, evidence=True)) == list(RICH)


def test_it_comes_back_in_the_order_of_the_fleet(tmp_path: Path) -> None:
    """Whoever answers first is stored first; saved cases have no line, and keep the order in which they came."""
    outcomes = [swept(f"site/192.0.2.{host}/") for host in (3, 1, 2)]
    lines = (30, 0, 20)
    placed = [
        msgspec.structs.replace(each, row=msgspec.structs.replace(each.row, line=line))
        for each, line in zip(outcomes, lines, strict=True)
    ]
    with store_at(tmp_path) as store:
        run = add_night(store, placed)
        assert [each.row.line for each in store.night(run)] == [0, 20, 30]


def test_every_night_has_what_it_had_though_what_repeats_is_stored_once(tmp_path: Path) -> None:
    changed = swept(HALDEN, State.NOT_READY, firmware="4.8.0", supplies=(Supply("Cyan ink", 73),), evidence=EVIDENCE)
    moved = msgspec.structs.replace(
        changed, row=msgspec.structs.replace(changed.row, notes="behind the stairs", line=9)
    )
    nights = [swept(evidence=EVIDENCE), swept(evidence=EVIDENCE), changed, moved, swept()]
    with store_at(tmp_path) as store:
        runs = [add_night(store, [each]) for each in nights]
        assert [list(store.night(run, evidence=True)) for run in runs] == [[each] for each in nights]
        counts = {
            name: next(store.ask(f"SELECT count(*) FROM {name}"))[0]  # noqa: S608 - names of ours
            for name in ("device", "standard", "asked", "identity", "finding", "finding_set", "sample", "evidence")
        }
    assert counts == {
        "device": 1,
        "standard": 1,
        "asked": 3,  # the line changed, and changed back
        "identity": 3,
        "finding": 1,
        "finding_set": 2,
        "sample": 1,
        "evidence": 4,
    }


def test_each_way_to_answer_gets_a_sample_and_the_newest_are_tried(tmp_path: Path) -> None:
    noise = [random.Random(kind).randbytes(3000) for kind in range(5)]
    with store_at(tmp_path) as store:
        for kind in noise:
            for night in range(3):
                add_night(store, [swept(evidence=kind + b"%d" % night)])
        assert next(store.ask("SELECT count(*) FROM sample")) == (len(noise),)
        stored = [each.evidence for run in store.runs() for each in store.night(run.number, evidence=True)]
    assert stored == [kind + b"%d" % night for kind in noise for night in range(3)]


def test_what_is_stored_is_there_for_another_process_before_the_run_is_over(tmp_path: Path) -> None:
    with store_at(tmp_path) as store:
        run = store.begin(NOW, FLEET, 2)
        store.add(run, swept())
        with Store.open(tmp_path / "sweep.db", reading=True) as other:
            assert [each.row.key for each in other.night(run)] == [HALDEN]


def test_a_second_outcome_of_a_key_is_refused_and_changes_nothing(tmp_path: Path) -> None:
    with store_at(tmp_path) as store:
        run = store.begin(NOW, FLEET, 2)
        store.add(run, swept())
        with pytest.raises(ValueError, match=HALDEN):
            store.add(run, swept(state=State.NOT_READY, model="Corvid 24S", evidence=EVIDENCE))
        store.add(run, swept("mill-street/192.0.2.7/", State.NOT_READY))  # and what was known is right afterwards
        assert [each.state for each in store.night(run)] == [State.READY, State.NOT_READY]
        assert next(store.ask("SELECT count(*) FROM sample")) == (0,)
        assert not list(store.ask("SELECT 1 FROM identity WHERE model = 'Corvid 24S'"))


def test_an_outcome_of_no_run_is_refused(tmp_path: Path) -> None:
    with store_at(tmp_path) as store, pytest.raises(ValueError, match="no such run"):
        store.add(99, swept())


# --- resuming


def test_a_run_that_was_not_finished_is_resumed_with_what_is_done(tmp_path: Path) -> None:
    with store_at(tmp_path) as store:
        assert store.resume() is None
        add_night(store, [swept()])
        assert store.resume() is None
        run = store.begin(NOW, FLEET, 2)
        assert store.resume() == (run, frozenset())
        store.add(run, swept())
    with store_at(tmp_path) as store:
        assert store.resume() == (run, frozenset({HALDEN}))
        store.add(run, swept("mill-street/192.0.2.7/"))
        store.finish(run, NOW + 1, 0)
        assert store.resume() is None


def test_a_run_that_left_some_is_resumed_and_finished_again(tmp_path: Path) -> None:
    with store_at(tmp_path) as store:
        run = add_night(store, [swept()], left=1)
        assert store.resume() == (run, frozenset({HALDEN}))
        store.finish(run, NOW + 2, 0)
        last = store.runs()[-1]
        assert (last.number, last.finished_ms, last.left) == (run, NOW + 2, 0)


def test_a_run_that_is_gone_on_with_is_no_night_until_it_is_finished_again(tmp_path: Path) -> None:
    with store_at(tmp_path) as store:
        run = add_night(store, [swept()], left=2)
        store.reopen(run, 4, 1)
        last = store.runs()[-1]
        assert (last.finished_ms, last.total, last.left, last.refused) == (None, 4, 3, 1)
        store.add(run, swept("mill-street/192.0.2.7/"))
        assert store.runs()[-1].left == 2


def test_what_a_later_run_has_finished_is_not_taken_up_again(tmp_path: Path) -> None:
    with store_at(tmp_path) as store:
        killed = store.begin(NOW, FLEET, 1)
        add_night(store, [swept()])
        assert store.resume() is None
        part = store.begin(NOW, "fleet.csv, only harrow-lane/*", 1)
        assert store.resume() == (part, frozenset())
        assert store.resume(FLEET) is None
        assert killed < part


# --- documents


@pytest.mark.parametrize("name", CASES)
def test_the_document_is_the_one_that_the_sweep_would_have_saved(tmp_path: Path, name: str) -> None:
    case, document = load_document(FIXTURES / "cases" / f"{name}.json")
    gate, standard = document.gate or Gate.STANDING, document.standard or Standard()
    outcome = swept(evidence=canonical(document.evidence), standard=standard)
    outcome = msgspec.structs.replace(outcome, row=msgspec.structs.replace(outcome.row, gate=gate))
    with store_at(tmp_path) as store:
        add_night(store, [swept(evidence=EVIDENCE)])  # the sample of its model is another case
        run = add_night(store, [outcome])
        plain = store.document(run, HALDEN)
    saved = tmp_path / "case.json"
    saved.write_bytes(encoded(plain))
    again, read = load_document(saved)  # refuses what is not as its seal says
    assert (again, read.gate, read.standard) == (case, gate, standard)
    expected = Document(document.evidence, gate, standard, judge(case, standard, gate, provides())).plain()
    assert plain == expected
    assert (
        plain["seal"]["evidence"]
        == msgspec.json.decode((FIXTURES / "cases" / f"{name}.json").read_bytes())["seal"]["evidence"]
    )


def test_a_document_of_today_is_the_same_to_the_byte(tmp_path: Path) -> None:
    """Its keys stand in the order of their declaration again, though evidence is sealed, and stored, in another."""
    case, document = load_document(FIXTURES / "cases" / "read.json")
    with store_at(tmp_path) as store:
        run = add_night(store, [swept(evidence=EVIDENCE)])
        plain = store.document(run, HALDEN)
    verdict = judge(case, PLOTTERS, Gate.STANDING, provides())
    assert encoded(plain) == Document(document.evidence, Gate.STANDING, PLOTTERS, verdict).encode()


def test_where_there_is_no_case_it_says_so(tmp_path: Path) -> None:
    with store_at(tmp_path) as store:
        run = add_night(store, [swept(), swept("mill-street/192.0.2.7/", None)])
        with pytest.raises(InputError, match=r"no case of run 1; wanted a device, and a run, that has a case"):
            store.document(run, HALDEN)
        with pytest.raises(InputError, match="the worker process died"):
            store.document(run, "mill-street/192.0.2.7/")
        with pytest.raises(InputError, match="no case of run 7"):
            store.document(7, HALDEN)
        assert store.last_case(HALDEN) is None
        later = add_night(store, [swept(evidence=EVIDENCE)])
        add_night(store, [swept()])
        assert store.last_case(HALDEN) == later


# --- the file


def test_the_file_explains_itself(tmp_path: Path) -> None:
    with store_at(tmp_path):
        pass
    connection = tables(tmp_path / "sweep.db")
    pragmas = ("application_id", "user_version", "journal_mode", "auto_vacuum")
    assert [connection.execute(f"PRAGMA {name}").fetchone()[0] for name in pragmas] == [
        APPLICATION_ID,
        VERSION,
        "wal",
        2,
    ]
    kinds = connection.execute("SELECT name, sql FROM sqlite_master WHERE type IN ('table', 'view') AND sql NOTNULL")
    bare = [
        name for name, text in kinds if "--" not in text and not name.startswith("sqlite_") and name != "set_finding"
    ]
    assert not bare, "a table whose text says nothing of what it is for"
    columns = [line for line in SCHEMA.splitlines() if line.startswith("    ") and " TEXT" in line]
    assert len(columns) > 20


def test_the_views_lay_it_out_for_others(tmp_path: Path) -> None:
    with store_at(tmp_path) as store:
        add_night(store, RICH)
    connection = tables(tmp_path / "sweep.db")
    assert connection.execute("SELECT key, state, standard FROM night WHERE run = 1 ORDER BY key").fetchall() == [
        (HALDEN, "ready", "Plan plotters 2026"),
        ("mill-street/192.0.2.7/Plans", None, "Plan plotters 2026"),
        ("quay-road/2001:db8::7/Plans", "not-ready", ""),
        ("tollgate/192.0.2.9/", "cannot-tell", "Plan plotters 2026"),
    ]
    question = "SELECT key FROM night_finding WHERE rule = 'firmware.version' AND state = 'unmet'"
    assert connection.execute(question).fetchall() == [("quay-road/2001:db8::7/Plans",)]


def test_no_number_has_a_fraction_and_nothing_points_nowhere(tmp_path: Path) -> None:
    with store_at(tmp_path) as store:
        for _ in range(3):
            add_night(store, RICH)
        store.prune(1)
    connection = tables(tmp_path / "sweep.db")
    checks(connection)
    names = [name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
    for name in names:
        columns = [column[1] for column in connection.execute(f"PRAGMA table_info({name})")]
        for column in columns:
            assert not connection.execute(f"SELECT 1 FROM {name} WHERE typeof({column}) = 'real'").fetchall()  # noqa: S608
    with pytest.raises(sqlite3.IntegrityError):
        connection.execute("INSERT INTO run (at_ms, fleet, total) VALUES (1.5, 'f', 1)")


def checks(connection: sqlite3.Connection) -> None:
    """SQLite's own checks of a file."""
    assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    assert connection.execute("PRAGMA foreign_key_check").fetchall() == []


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE evidence SET packed = substr(packed, 1, 40)",
        "UPDATE sample SET packed = zeroblob(100)",
        "UPDATE result SET state = 'splendid'",
        'UPDATE standard SET content = \'{"name": "Plan plotters 2027", "paint": "grey"}\'',
        "UPDATE asked SET line = '{}'",
    ],
)
def test_what_cannot_be_read_back_is_a_damaged_store(tmp_path: Path, change: str) -> None:
    with store_at(tmp_path) as store:
        run = add_night(store, [swept(evidence=EVIDENCE)])
    connection = tables(tmp_path / "sweep.db")
    connection.execute(change)
    connection.commit()
    connection.close()
    with Store.open(tmp_path / "sweep.db", reading=True) as store, pytest.raises(InputError, match="damaged"):
        list(store.night(run, evidence=True))
