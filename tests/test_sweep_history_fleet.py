"""What changed of the fleet itself: who is at an address, firmware, supplies, who came and who went."""

from pathlib import Path

from netcheck.standard import Standard
from netcheck.sweeping.history import Exchanged, FirmwareCount, Low, Since, since
from netcheck.sweeping.outcome import Supply, Swept
from netcheck.verdict import State
from tests.sweep_nights import add_night, played, store_at, swept

A, B, C = "old/192.0.2.1/", "old/192.0.2.2/", "old/192.0.2.3/"
FORMER = "r" * 7


def nights_of(folder: Path, *nights: list[Swept]) -> Since:
    """The question after these nights of a site that has long been in the fleet."""
    with store_at(folder) as store:
        played(store, {A: FORMER})
        runs = [add_night(store, outcomes) for outcomes in nights]
        return since(store, runs[-1])


def test_another_device_at_the_address(tmp_path: Path) -> None:
    other = swept(A, serial="HX-77-9981", mac="02:77:00:00:00:99")
    assert nights_of(tmp_path, [swept(A)], [other]).exchanged == (
        Exchanged(A, "serial", "HX-77-0457", "HX-77-9981"),
        Exchanged(A, "mac", "02:77:00:00:00:22", "02:77:00:00:00:99"),
    )


def test_silence_on_who_it_is_is_no_change_and_hides_none(tmp_path: Path) -> None:
    silent = swept(A, State.CANNOT_TELL, model="", serial="", firmware="", mac="", address="192.0.2.1")
    assert nights_of(tmp_path, [swept(A)], [silent]).exchanged == ()
    with store_at(tmp_path) as store:
        assert since(store, add_night(store, [swept(A)])).exchanged == ()
        add_night(store, [silent])
        (change,) = since(store, add_night(store, [swept(A, serial="HX-77-9981")])).exchanged
        assert (change.what, change.now) == ("serial", "HX-77-9981")


def test_an_address_that_it_names_and_not_the_one_at_which_it_was_asked(tmp_path: Path) -> None:
    key = "old/halden.example/"
    one, other = swept(key, address="192.0.2.61"), swept(key, address="192.0.2.99")
    fallen_back = swept(key, address="halden.example", serial="")
    assert nights_of(tmp_path, [one], [other]).exchanged == (Exchanged(key, "address", "192.0.2.61", "192.0.2.99"),)
    with store_at(tmp_path) as store:
        assert since(store, add_night(store, [fallen_back])).exchanged == ()
        assert since(store, add_night(store, [other])).exchanged == ()


def test_firmware_by_model_then_and_now(tmp_path: Path) -> None:
    keys_ = [f"old/192.0.2.{host}/" for host in range(1, 7)]
    before = [swept(key, firmware="4.7.2") for key in keys_[:5]]
    new = swept(keys_[5], model="Corvid 24S", firmware="2.9.1")
    after = [*(swept(key, firmware="4.8.0") for key in keys_[:2]), *before[2:4], new]
    silent = swept(keys_[4], State.CANNOT_TELL, model="", serial="", firmware="", mac="")
    found_ = nights_of(tmp_path, before, [*after, silent])
    assert found_.firmware == (
        FirmwareCount("Corvid 24S", "2.9.1", 0, 1),
        FirmwareCount("Halden 36R", "4.7.2", 5, 3),  # the silent one has what it had
        FirmwareCount("Halden 36R", "4.8.0", 0, 2),
    )
    assert found_.changed_firmware == found_.firmware


def test_supplies_that_are_low(tmp_path: Path) -> None:
    before = swept(A, supplies=(Supply("Cyan ink", 31), Supply("Black ink", None)))
    now = swept(A, supplies=(Supply("Cyan ink", 29), Supply("Black ink", 4), Supply("Grey ink", 30), Supply("x", None)))
    plain = swept(B, supplies=(Supply("Cyan ink", 19), Supply("Black ink", 20)), standard=Standard())
    found_ = nights_of(tmp_path, [before], [now, plain])
    assert found_.low == (
        Low(A, "Cyan ink", 29, 30, 31),  # the Standard's own limit
        Low(A, "Black ink", 4, 30, None),
        Low(B, "Cyan ink", 19, 20, None),
    )


# --- the fleet


def test_devices_that_came_and_went(tmp_path: Path) -> None:
    with store_at(tmp_path) as store:
        found_ = since(store, played(store, {A: FORMER + "rr", B: FORMER + "r-", C: FORMER + "-r"}))
    assert found_.gone == (B,)
    assert found_.arrived == (C,)  # a night of the whole fleet was without it: it has come back
    with store_at(tmp_path) as store:
        new = "old/192.0.2.77/"
        found_ = since(store, add_night(store, [swept(key) for key in (A, C, new)]))
        assert (found_.arrived, found_.gone) == ((new,), ())
        found_ = since(store, found_.run, 3)
        assert (found_.arrived, found_.gone) == ((new,), (B,))


def test_what_a_night_did_not_come_to_is_not_gone_and_not_new_afterwards(tmp_path: Path) -> None:
    with store_at(tmp_path) as store:
        add_night(store, [swept(A), swept(B)])
        found_ = since(store, add_night(store, [swept(A)], left=1))
        assert found_.gone == ()
        found_ = since(store, add_night(store, [swept(A), swept(B)]))
        assert (found_.arrived, found_.gone) == ((), ())
