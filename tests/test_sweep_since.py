"""The history's answer in words: what each page of a sweep shows of what changed."""

from collections.abc import Iterable

import msgspec

from netcheck.report.sweep_night import Change, Changes
from netcheck.report.sweep_since import changes_of
from netcheck.report.sweep_text import render_sweep
from netcheck.sweeping.history import Differing, Exchanged, FirmwareCount, Flapping, Low, Since, Turn
from netcheck.sweeping.outcome import Swept
from netcheck.verdict import Standing, State
from tests.conftest import NOW
from tests.sweep_rows import found, night, swept

QUIET = Since(7, NOW, 6, NOW - 86_400_000, (), (), (), (), (), (), (), (), (), (), ())
DAY_BEFORE = NOW - 86_400_000
SITE = "Harrow Lane land-survey office"


def said(rows: Iterable[Swept] = (), **news: object) -> Changes:
    return changes_of(msgspec.structs.replace(QUIET, **news), rows)


def key(number: int) -> str:
    return swept(number).row.key


def test_a_night_without_news_says_so() -> None:
    assert said() == Changes(DAY_BEFORE)
    page = render_sweep(msgspec.structs.replace(night(), changes=said()), [swept(1)])
    assert "Changed since 2026-11-24 09:46 UTC\n  Nothing changed.\n" in page


def test_new_trouble_says_what_it_is_what_was_before_and_for_how_long() -> None:
    bad = swept(1, State.NOT_READY, findings=(found(), found("a.b", Standing.MISSING, "other")))
    silent = swept(2, None, fault="no time")
    newly = (Turn(key(1), State.READY, State.NOT_READY, "", 2), Turn(key(2), None, None, "no time", 1))
    assert said([bad, silent], newly=newly).newly == (
        Change(key(1), "not ready: The firmware is not the Standard's (and 1 more); was ready; for 2 nights"),
        Change(key(2), "no verdict: no time"),
    )


def test_its_findings_are_not_told_twice() -> None:
    bad = swept(1, State.NOT_READY, findings=(found(),))
    differing = (Differing(key(1), (found(),), ()), Differing(key(2), (found(),) * 5, (found(title="gone"),)))
    told = said([bad], newly=(Turn(key(1), State.READY, State.NOT_READY, "", 2),), findings=differing)
    title = "The firmware is not the Standard's"
    assert told.findings == (Change(key(2), f"{title}; {title}; {title}; 2 more"),)
    assert told.settled == (Change(key(2), "gone"),)


def test_recovered_flapping_and_exchanged() -> None:
    ready, wrong = State.READY, State.NOT_READY
    told = said(
        [swept(1)],
        recovered=(Turn(key(1), wrong, ready, "", 3),),
        flapping=(Flapping(key(2), (ready, ready, wrong, ready, None), 3),),
        exchanged=(Exchanged(key(3), "mac", "02:77:00:00:00:21", "02:77:00:00:00:22"),),
        once=(Turn(key(1), ready, State.CANNOT_TELL, "", 1),),
    )
    assert told.recovered == (Change(key(1), "ready, was not ready; after 3 nights"),)
    assert told.flapping == (Change(key(2), "changed 3 times: ready, then not ready, then ready, then no verdict"),)
    assert told.exchanged == (Change(key(3), "its hardware address was 02:77:00:00:00:21, is 02:77:00:00:00:22"),)
    assert told.once == (Change(key(1), "cannot tell; was ready"),)


def test_a_supply_is_told_when_it_becomes_low_and_not_every_night() -> None:
    low = (
        Low(key(1), "Cyan ink", 12, 20, 25),
        Low(key(2), "Cyan ink", 11, 20, 12),
        Low(key(3), "Black ink", 3, 20, None),
    )
    assert said(low=low).low == (
        Change(key(3), "Black ink: 3 %, low under 20 %"),
        Change(key(1), "Cyan ink: 12 %, low under 20 %; was 25 %"),
    )


def test_firmware_is_told_by_model_where_it_changed() -> None:
    counts = (
        FirmwareCount("Corvid 24S", "2.1", 40, 40),
        FirmwareCount("Halden 36R", "4.7.2", 900, 1012),
        FirmwareCount("Halden 36R", "4.8.0", 112, 0),
        FirmwareCount("Halden 36R", "5.0", 3, 3),
    )
    told = said(firmware=counts).firmware
    assert told == (Change("Halden 36R", "4.7.2 on 1,012 (was on 900); 4.8.0 on 0 (was on 112); 5.0 on 3"),)


def test_who_came_and_who_went() -> None:
    told = said([swept(1, State.NOT_READY)], arrived=(key(1), key(2)), gone=(f"{SITE}/192.0.2.9/",))
    assert told.came == (Change(key(1), "not ready"), Change(key(2), "not asked"))
    assert [each.key for each in told.gone] == [f"{SITE}/192.0.2.9/"]


def test_in_a_first_night_nothing_is_new_but_what_runs_low() -> None:
    bad = swept(1, State.NOT_READY, findings=(found(),))
    turn = Turn(key(1), None, State.NOT_READY, "", 1)
    told = said([bad], before=None, before_ms=None, newly=(turn,), low=(Low(key(1), "Cyan ink", 12, 20, None),))
    assert (told.newly, len(told.low), told.before_ms) == ((), 1, 0)
    page = render_sweep(msgspec.structs.replace(night(), changes=told), [bad])
    assert "No earlier night to compare with" in page
    assert "Nothing changed" not in page
