"""What changed since an earlier night, asked of a store that has those nights.

Each track is a device's nights as letters: r ready, c ready with care, n not ready, t cannot tell, x no verdict, - not
asked. The site `old` has been in the fleet for long enough that it is not watched closely any more.
"""

from collections.abc import Sequence
from pathlib import Path

import pytest

from netcheck.sweeping.history import Flapping, Since, since
from netcheck.sweeping.outcome import Swept
from netcheck.sweeping.store import Store
from netcheck.verdict import Holds, Standing, State
from tests.conftest import NOW
from tests.sweep_nights import DAY_MS, FLEET, add_night, found, played, store_at, swept

A, B, C = "old/192.0.2.1/", "old/192.0.2.2/", "old/192.0.2.3/"
FORMER = "r" * 7


def asked(folder: Path, tracks: dict[str, str], nights: int = 1) -> Since:
    """The question after nights in which every device of an old site was ready, and then as its track says."""
    with store_at(folder) as store:
        return since(store, played(store, {key: FORMER + track for key, track in tracks.items()}), nights)


def keys(items: Sequence[object]) -> list[str]:
    return [item.key for item in items]  # type: ignore[attr-defined]


def news(found_: Since) -> str:
    """Under which headings the device A stands."""
    headings = {"newly": found_.newly, "recovered": found_.recovered, "once": found_.once, "flapping": found_.flapping}
    return " ".join(name for name, items in headings.items() if A in keys(items))


@pytest.mark.parametrize(
    ("track", "expected"),
    [
        ("rr", ""),
        ("rc", ""),
        ("rn", "once"),
        ("rt", "once"),
        ("rx", "once"),
        ("rnn", "newly"),
        ("rtt", "newly"),
        ("rnt", "newly"),
        ("rnr", ""),  # it did not count, so it did not recover
        ("rnnn", ""),  # told the night before
        ("rnnr", "recovered"),
        ("rnnc", "recovered"),
        ("rnnrr", ""),
        ("rn-n", "newly"),  # not asked is not between
        ("rnn-r", "recovered"),
        ("rn-", ""),
        ("rnrn", "flapping"),
        ("rnrnrrr", "flapping"),
        ("rnrnrrrrrr", ""),
        ("rnnrrnn", "flapping"),
        ("rnrnnr", "flapping"),
    ],
)
def test_what_a_device_is_told_of(tmp_path: Path, track: str, expected: str) -> None:
    assert news(asked(tmp_path, {A: track, B: "r" * len(track)})) == expected


@pytest.mark.parametrize(
    ("track", "nights", "expected"),
    [
        ("rrnnnn", 1, ""),
        ("rrnnnn", 3, "newly"),
        ("rrnnnn", 99, "newly"),
        ("nnnnrr", 2, "recovered"),
        ("nnnnrr", 1, ""),
        ("rnnnrr", 99, ""),  # it was well before, and is well
    ],
)
def test_it_is_compared_with_any_night_before(tmp_path: Path, track: str, nights: int, expected: str) -> None:
    assert news(asked(tmp_path, {A: track}, nights)) == expected


def test_what_it_says_of_a_turn(tmp_path: Path) -> None:
    found_ = asked(tmp_path, {A: "rcnx", B: "rnnr", C: "rrrt"})
    (newly,), (recovered,), (once,) = found_.newly, found_.recovered, found_.once
    assert (newly.key, newly.was, newly.now, newly.nights) == (A, State.READY_WITH_CARE, None, 2)
    assert newly.fault == "the worker process died while it was asked"
    assert (recovered.key, recovered.was, recovered.now, recovered.nights) == (B, State.NOT_READY, State.READY, 2)
    assert (once.key, once.was, once.now, once.nights) == (C, State.READY, State.CANNOT_TELL, 1)
    assert (found_.run, found_.before) == (11, 10)
    assert found_.at_ms - (found_.before_ms or 0) == DAY_MS


def test_what_it_says_of_flapping(tmp_path: Path) -> None:
    (flapping,) = asked(tmp_path, {A: "rnrnt"}).flapping
    ready, not_ready = State.READY, State.NOT_READY
    assert flapping == Flapping(A, (ready,) * 4 + (not_ready, ready, not_ready, State.CANNOT_TELL), 4)


# --- first nights


def test_in_the_first_night_all_that_is_wrong_is_new_and_no_device_is(tmp_path: Path) -> None:
    with store_at(tmp_path) as store:
        found_ = since(store, played(store, {A: "n", B: "r", C: "t"}))
    assert (found_.before, found_.before_ms) == (None, None)
    assert keys(found_.newly) == [A, C]
    lists = (found_.arrived, found_.gone, found_.exchanged, found_.findings)
    assert not any(lists)
    assert found_.closely == ("old",)


def test_a_new_site_is_watched_closely_for_seven_nights(tmp_path: Path) -> None:
    for night in range(9):
        folder = tmp_path / str(night)
        folder.mkdir()
        new = "new/192.0.2.9/"
        with store_at(folder) as store:
            played(store, {A: FORMER})
            for _ in range(night):
                add_night(store, [swept(A), swept(new)])
            found_ = since(store, add_night(store, [swept(A, State.NOT_READY), swept(new, State.NOT_READY)]))
        watched = night < 7
        assert (new in keys(found_.newly), new in keys(found_.once)) == (watched, not watched)
        assert found_.closely == (("new",) if watched else ())
        assert A in keys(found_.once), "the others are not"
        assert found_.arrived == ((new,) if night == 0 else ())


def test_how_long_a_site_is_known_survives_forgetting(tmp_path: Path) -> None:
    with store_at(tmp_path) as store:
        played(store, {A: FORMER + "rr"})
        store.prune(1)
        found_ = since(store, add_night(store, [swept(A, State.NOT_READY)]))
        assert (keys(found_.once), found_.closely) == ([A], ())
        assert found_.before == 9
        assert since(store, found_.run, 99).before == 9, "what was forgotten cannot be compared with"


# --- findings


def nights_of(folder: Path, *nights: list[Swept]) -> Since:
    with store_at(folder) as store:
        played(store, {A: FORMER})
        runs = [add_night(store, outcomes) for outcomes in nights]
        return since(store, runs[-1])


def test_findings_that_appeared_and_settled(tmp_path: Path) -> None:
    cyan = found("supplies.level", item="Cyan", standing=Standing.WATCH)
    black = found("supplies.level", item="Black", standing=Standing.WATCH)
    note = found("services.closed", item="ftp", state=Holds.UNPROVEN, standing=Standing.NOTE)
    before = swept(A, State.READY_WITH_CARE, findings=(cyan,))
    after = swept(A, State.READY_WITH_CARE, findings=(black, note))
    (differing,) = nights_of(tmp_path, [before], [after]).findings
    assert (differing.key, differing.appeared, differing.settled) == (A, (black,), (cyan,))


def test_other_words_of_one_finding_are_no_news(tmp_path: Path) -> None:
    one = swept(A, State.READY_WITH_CARE, findings=(found(detail="found 12 %"),))
    other = swept(A, State.READY_WITH_CARE, findings=(found(detail="found 11 %"),))
    assert nights_of(tmp_path, [one], [other]).findings == ()


def test_findings_of_a_bad_night_are_told_when_it_counts(tmp_path: Path) -> None:
    """Not the first night, and then against the last night that counted, or they would never be told."""
    bad = swept(A, State.NOT_READY)
    assert nights_of(tmp_path, [swept(A)], [bad]).findings == ()
    with store_at(tmp_path) as store:
        found_ = since(store, add_night(store, [bad]))
        assert keys(found_.newly) == [A]
        assert found_.findings[0].appeared == bad.findings
        found_ = since(store, add_night(store, [bad]))
        assert found_.findings == ()
        found_ = since(store, add_night(store, [swept(A)]))
        assert (found_.findings[0].appeared, found_.findings[0].settled) == ((), bad.findings)


def test_a_night_without_a_verdict_settles_nothing(tmp_path: Path) -> None:
    watched = swept(A, State.READY_WITH_CARE, findings=(found(standing=Standing.WATCH),))
    assert nights_of(tmp_path, [watched], [swept(A, None)]).findings == ()
    with store_at(tmp_path) as store:
        assert since(store, add_night(store, [watched])).findings == ()


# --- which nights


def test_runs_that_did_not_finish_are_no_nights(tmp_path: Path) -> None:
    with store_at(tmp_path) as store:
        played(store, {A: FORMER})
        killed = store.begin(NOW, FLEET, 2)
        store.add(killed, swept(A, State.NOT_READY))
        found_ = since(store, add_night(store, [swept(A, State.NOT_READY)]))
        assert keys(found_.once) == [A]
        assert found_.before == 7
        running = store.begin(NOW, FLEET, 2)
        store.add(running, swept(A, State.NOT_READY))
        found_ = since(store, running)  # it may be asked all the same
        assert (keys(found_.newly), found_.gone) == ([A], ())


def test_a_part_of_the_fleet_is_compared_with_that_part(tmp_path: Path) -> None:
    with store_at(tmp_path) as store:
        played(store, {A: FORMER, B: FORMER})
        part = add_night(store, [swept(A, State.NOT_READY)], fleet="fleet.csv, only old/192.0.2.1/")
        assert (since(store, part).before, since(store, part).gone) == (None, ())
        found_ = since(store, add_night(store, [swept(A, State.NOT_READY), swept(B)]))
        assert (found_.before, keys(found_.once), found_.arrived) == (7, [A], ())


def test_everything_is_in_the_order_of_the_fleet(tmp_path: Path) -> None:
    found_ = asked(tmp_path, {C: "rn", A: "rn", B: "rn"})
    assert keys(found_.once) == [C, A, B]


def test_a_reader_asks_the_same(tmp_path: Path) -> None:
    found_ = asked(tmp_path, {A: "rnn", B: "rnr"})
    with Store.open(tmp_path / "sweep.db", reading=True) as store:
        assert since(store, found_.run) == found_


def test_there_must_be_such_a_run(tmp_path: Path) -> None:
    with store_at(tmp_path) as store:
        with pytest.raises(ValueError, match="no run 5"):
            since(store, 5)
        with pytest.raises(ValueError, match="at least one"):
            since(store, played(store, {A: "r"}), 0)
