"""The questions that follow from answers, against a model agent written from RFC 3416 s4.2.2 and s4.2.3. No network.

Whatever an agent does, the questions end, and a column is called whole only when all of it is there.
"""

import bisect
from collections.abc import Callable
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.roles import Outcome
from probes.snmp.gathering import MAX_QUESTIONS, MAX_ROWS, Batch, Column, Failure, Gathering
from probes.snmp.message import REQUEST_IDS, Kind, Pdu, Syntax, VarBind
from probes.snmp.plan import Wanted

Oid = tuple[int, ...]
BASE = (1, 3, 6, 1)
Answer = Callable[[Batch], Pdu | Failure]
SILENCE = Failure(Outcome.SILENT, "no answer")


def pdu(binds: list[VarBind], status: int = 0, index: int = 0) -> Pdu:
    return Pdu(Kind.RESPONSE, REQUEST_IDS[0], status, index, tuple(binds))


def columns(*numbers: int) -> tuple[Column, ...]:
    oids = [(*BASE, number) for number in numbers]
    return tuple(Column(Wanted(f"column {oid[-1]}", f"table {oid[-1] % 2}", oid, oid)) for oid in oids)


def run(found: tuple[Column, ...], repetitions: int, answer: Answer) -> list[Batch]:
    """Ask until nothing is left to ask; return the questions."""
    gathering = Gathering(iter([Batch(found, repetitions)]))
    asked = []
    while batch := gathering.next():
        asked.append(batch)
        reply = answer(batch)
        if isinstance(reply, Failure):
            gathering.failed(batch, reply)
        else:
            gathering.answered(batch, reply)
    assert len(asked) <= MAX_QUESTIONS
    assert not any(column.open for column in found), "every column ends as whole or with its reason"
    return asked


class Model:
    """An agent in memory; it sends at most `room` values at once."""

    def __init__(self, names: list[Oid], room: int = 10_000) -> None:
        self.names = sorted(names)
        self.room = room

    def after(self, name: Oid) -> VarBind:
        at = bisect.bisect_right(self.names, name)
        if at == len(self.names):
            return VarBind(name, Syntax.END_OF_MIB_VIEW, None)
        return VarBind(self.names[at], Syntax.INTEGER32, at)

    def __call__(self, batch: Batch) -> Pdu | Failure:
        binds: list[VarBind] = []
        names = list(batch.oids())
        for _ in range(max(1, batch.repetitions)):
            for position, name in enumerate(names):
                binds.append(self.after(name))
                names[position] = binds[-1].oid
        return pdu(binds[: self.room])

    def column(self, number: int) -> set[Oid]:
        base = (*BASE, number)
        return {name[len(base) :] for name in self.names if name[: len(base)] == base and name != base}


NAMES = st.lists(
    st.tuples(st.integers(1, 6), st.lists(st.integers(1, 9), min_size=1, max_size=3)).map(
        lambda parts: (*BASE, parts[0], *parts[1])
    ),
    max_size=60,
)
WANTED = st.lists(st.integers(1, 6), min_size=1, max_size=6, unique=True)


@given(NAMES, WANTED, st.integers(0, 8), st.integers(1, 60))
def test_whole_columns_come_however_answers_are_cut(
    names: list[Oid], wanted: list[int], repetitions: int, room: int
) -> None:
    model = Model(names, room)
    found = columns(*wanted)
    run(found, repetitions, model)
    for number, column in zip(wanted, found, strict=True):
        assert column.whole
        assert set(column.rows) == model.column(number)


@given(NAMES, WANTED, st.integers(0, 8), st.sampled_from([0, 1, 2, 3]))
def test_an_agent_that_can_answer_only_little_is_asked_for_little(
    names: list[Oid], wanted: list[int], repetitions: int, most: int
) -> None:
    """tooBig (RFC 3416 s4.2.1) for more than `most` values; with none at all, every column is given up by name."""
    model = Model(names)

    def answer(batch: Batch) -> Pdu | Failure:
        asked = len(batch.columns) * max(1, batch.repetitions)
        return model(batch) if asked <= most else pdu([], status=1)

    found = columns(*wanted)
    run(found, repetitions, answer)
    for number, column in zip(wanted, found, strict=True):
        if most:
            assert set(column.rows) == model.column(number)
            assert column.whole
        else:
            assert column.failure
            assert "tooBig" in column.failure.reason


@given(NAMES, WANTED, st.integers(0, 8), st.randoms(use_true_random=False))
def test_nonsense_ends_too(names: list[Oid], wanted: list[int], repetitions: int, draw: Random) -> None:
    """Random answers: silence, empty, shuffled, repeated, foreign, errors with any index. It only has to end."""
    model = Model(names)

    def answer(batch: Batch) -> Pdu | Failure:
        good = model(batch)
        assert isinstance(good, Pdu)
        binds = list(good.varbinds)
        match draw.randrange(7):
            case 0:
                return SILENCE
            case 1:
                return pdu([])
            case 2:
                draw.shuffle(binds)
                return pdu(binds)
            case 3:
                return pdu(binds * 3)
            case 4:
                return pdu(binds, draw.randrange(1, 25), draw.randrange(-1, 9))
            case 5:
                return pdu([VarBind((9, 9), Syntax.NULL, None)] * len(binds))
            case _:
                return good

    run(columns(*wanted), repetitions, answer)


def test_identifiers_that_do_not_increase_end_a_column() -> None:
    """An agent that goes round in a circle would be walked for ever; what came before the turn is kept."""
    names = [(*BASE, 1, row) for row in range(1, 5)]

    def answer(batch: Batch) -> Pdu:
        circle = [VarBind(names[row % 3], Syntax.INTEGER32, row) for row in range(max(1, batch.repetitions))]
        return pdu(circle)

    column = columns(1)
    run(column, 8, answer)
    assert list(column[0].rows) == [(1,), (2,), (3,)]
    assert column[0].failure
    assert not column[0].whole
    assert column[0].failure.outcome is Outcome.MALFORMED
    assert "do not increase" in column[0].failure.reason


def test_an_object_that_follows_itself_ends_a_column() -> None:
    """An identifier that stays where it is does not increase either."""
    column = columns(1)
    asked = run(column, 0, lambda _: pdu([VarBind((*BASE, 1, 1), Syntax.INTEGER32, 0)]))
    assert len(asked) == 2
    assert column[0].failure


def test_an_endless_table_is_cut_off() -> None:
    def answer(batch: Batch) -> Pdu:
        last = batch.columns[0].last
        row = last[5] if len(last) > 5 else 0
        return pdu([VarBind((*BASE, 1, row + step), Syntax.INTEGER32, 0) for step in range(1, 50)])

    column = columns(1)
    run(column, 49, answer)
    assert len(column[0].rows) == MAX_ROWS
    assert column[0].failure
    assert "more than 256 rows" in column[0].failure.reason


def test_one_broken_object_costs_one_column() -> None:
    """genErr accuses one object (RFC 3416 s4.2.1): the other columns are read without it."""
    model = Model([(*BASE, number, row) for number in (1, 2, 3) for row in (1, 2)])

    def answer(batch: Batch) -> Pdu | Failure:
        good = model(batch)
        assert isinstance(good, Pdu)
        for position, bind in enumerate(good.varbinds):
            if bind.oid == (*BASE, 2, 2):
                return pdu([], status=5, index=position % len(batch.columns) + 1)
        return good

    found = columns(1, 2, 3)
    run(found, 4, answer)
    assert [column.whole for column in found] == [True, False, True]
    assert [len(column.rows) for column in found] == [2, 1, 2]
    assert found[1].failure
    assert found[1].failure.reason == "column 2: the agent answers genErr"


def test_no_such_name_ends_one_column() -> None:
    """RFC 1157 s4.1.3 (from memory): v1 has no end of the view but noSuchName, for the whole question."""
    model = Model([(*BASE, 1, 1), (*BASE, 1, 2), (*BASE, 2, 1)])

    def answer(batch: Batch) -> Pdu | Failure:
        for position, name in enumerate(batch.oids(), 1):
            if model.after(name).syntax is Syntax.END_OF_MIB_VIEW:
                return pdu([], status=2, index=position)
        return model(batch)

    found = columns(1, 2, 3)
    run(found, 0, answer)
    assert [column.whole for column in found] == [True] * 3
    assert [len(column.rows) for column in found] == [2, 1, 0]


@pytest.mark.parametrize("points_at", [0, 1, 7])
@pytest.mark.parametrize("status", [2, 5], ids=["noSuchName", "genErr"])
def test_an_agent_that_points_at_the_wrong_object_is_not_believed(status: int, points_at: int) -> None:
    """RFC 3416 s4.2.2: the error index names the object; some agents have one number for all (common practice, no
    source). Who is accused first is asked alone, and halves find the one that is broken."""
    model = Model([(*BASE, number, row) for number in range(1, 25) for row in (1, 2)])
    broken = (*BASE, 13, 2)

    def answer(batch: Batch) -> Pdu | Failure:
        good = model(batch)
        assert isinstance(good, Pdu)
        return pdu([], status, points_at) if broken in {bind.oid for bind in good.varbinds} else good

    found = columns(*range(1, 25))
    asked = run(found, 0, answer)
    assert [len(column.rows) for column in found] == [1 if number == 13 else 2 for number in range(1, 25)]
    assert [column.whole for column in found if column is not found[12]] == [True] * 23
    assert found[12].whole == (status == 2), "noSuchName is how v1 says that there is no more"
    assert len(asked) <= 24


def test_getbulk_is_given_up_where_it_never_works() -> None:
    model = Model([(*BASE, number, row) for number in range(1, 9) for row in (1, 2)])
    gathering = Gathering(Batch(columns(number), 4) for number in range(1, 9))
    bulks = 0
    while batch := gathering.next():
        if batch.repetitions:
            bulks += 1
            gathering.failed(batch, SILENCE)
        else:
            reply = model(batch)
            assert isinstance(reply, Pdu)
            gathering.answered(batch, reply)
    assert bulks == 2


def test_a_part_of_a_column_ends_where_it_ends() -> None:
    """The default route sorts first in its table (RFC 1213 ipRouteTable); the next route shows that it was all."""
    table = (1, 3, 6, 1, 2, 1, 4, 21, 1, 7)
    default, other = (*table, 0, 0, 0, 0), (*table, 192, 0, 2, 0)
    cases: list[tuple[list[Oid], list[Oid], Oid | None]] = [
        ([default, other], [()], None),
        ([other], [], other),
        ([], [], None),
    ]
    for names, rows, after in cases:
        column = Column(Wanted("ipRouteNextHop", "ipRouteEntry", default, default[:-1]))
        run((column,), 4, Model(names))
        assert (list(column.rows), column.after, column.whole) == (rows, after, True)


def test_a_column_whose_first_rows_are_enough_is_not_continued() -> None:
    column = Column(Wanted("languages", "table", (*BASE, 1), (*BASE, 1), continued=False))
    asked = run_once(column, Model([(*BASE, 1, row) for row in range(1, 31)]))
    assert asked == 1
    assert len(column.rows) == 4
    assert not column.whole
    assert column.failure is None


def run_once(column: Column, model: Model) -> int:
    return len(run((column,), 4, model))


@pytest.mark.parametrize("status", [6, 16])
def test_what_the_agent_denies_is_denied(status: int) -> None:
    """noAccess(6), authorizationError(16): RFC 3416 s3."""
    found = columns(1)
    run(found, 4, lambda _: pdu([], status=status, index=1))
    assert found[0].failure
    assert found[0].failure.outcome is Outcome.DENIED
