"""Which sightings are of one device: properties that hold for any, and the cases that the field has."""

import random

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.case import Observation, observation
from netcheck.facts.identity import Model, Serial, Uuid
from netcheck.facts.link import AdvertisedHost, Advertisement, Neighbour, TxtEntry
from netcheck.facts.network import SnmpAgent
from netcheck.finding.merging import Device, merged
from netcheck.finding.sighting import Sighting, Way, announced, answered
from netcheck.roles import Role

OLD, NEW = "192.0.2.21", "192.0.2.61"
UUID = "6f1b6c1e-5d0a-5b7e-9a53-0b7c6e1d2f10"


def seen(source: str, **told: tuple[str, ...] | bool) -> Sighting:
    return msgspec.convert({"ways": [{"probe": "dnssd", "source": source}], **told}, Sighting)


def devices(*sightings: Sighting) -> tuple[Device, ...]:
    found = merged(sightings)
    for _ in range(5):  # whatever order they come in
        assert merged(random.sample(sightings, len(sightings))) == found
    return found


def advertisement(
    label: str, kind: str, *places: tuple[str, int, tuple[str, ...]], **txt: str
) -> tuple[str, Advertisement]:
    hosts = tuple(AdvertisedHost(*place) for place in places)
    return f"{label}.{kind}.local", Advertisement(
        label,
        kind,
        hosts[0].port,
        tuple(host.name for host in hosts),
        tuple(address for host in hosts for address in host.addresses),
        tuple(TxtEntry(key.lower(), value) for key, value in txt.items()),
        places=hosts,
    )


def heard(*advertisements: tuple[str, Advertisement]) -> list[Observation]:
    return [observation(Role.HERE, "dnssd", source, 0, "", fact) for source, fact in advertisements]


def told(probe: str, *facts: Model | Serial | Uuid | SnmpAgent | Neighbour) -> list[Observation]:
    return [observation(Role.DEVICE, probe, fact.kind, 0, "", fact) for fact in facts]


# --- what ties


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ({"serials": ("HX-77-0457",)}, {"serials": ("hx-77-0457 ",)}),
        ({"uuids": (UUID,)}, {"uuids": (UUID,)}),
        ({"macs": ("02:77:00:00:00:22",)}, {"macs": ("02:77:00:00:00:22",)}),
        ({"hosts": ("plans-new.local",)}, {"hosts": ("plans-new.local",)}),
        ({"places": (NEW,)}, {"places": (NEW,)}),
        # One says both: that ties what has only one of them.
        ({"uuids": (UUID,)}, {"uuids": (UUID,), "serials": ("HX-77-0457",)}),
    ],
)
def test_one_thing_in_common_is_enough(one: dict[str, tuple[str, ...]], other: dict[str, tuple[str, ...]]) -> None:
    (device,) = devices(seen("a", **one), seen("b", **other))
    assert [way.source for way in device.ways] == ["a", "b"]


def test_a_chain_is_one_device() -> None:
    chain = (seen("a", uuids=(UUID,)), seen("b", uuids=(UUID,), hosts=("h.local",)), seen("c", hosts=("h.local",)))
    assert len(devices(*chain)) == 1


@pytest.mark.parametrize(
    "filler",
    [{"serials": ("0000000000",)}, {"serials": ("XXXX",)}, {"uuids": ("00000000-0000-0000-0000-000000000000",)}],
)
def test_what_nobody_filled_in_ties_nothing(filler: dict[str, tuple[str, ...]]) -> None:
    """Common practice, no source: a serial number that was never set is one character over and over."""
    assert len(devices(seen("a", hosts=("a.local",), **filler), seen("b", hosts=("b.local",), **filler))) == 2


@pytest.mark.parametrize("common", [{"uuids": (UUID,)}, {"places": (NEW,)}, {"hosts": ("plans.local",)}])
def test_different_serial_numbers_are_different_devices(common: dict[str, tuple[str, ...]]) -> None:
    """A cloned configuration has one UUID, a conflict has one address, and both are two devices."""
    pair = (seen("a", serials=("HX-77-0457",), **common), seen("b", serials=("HX-77-0458",), **common))
    assert {device.serial for device in devices(*pair)} == {"HX-77-0457", "HX-77-0458"}


def test_a_serial_number_counts_more_than_an_address() -> None:
    """A device that has moved: what was told at the old address, and another that answers there now."""
    moved = seen("a", serials=("HX-77-0457",), places=(OLD,))
    there = seen("b", serials=("HX-77-0457",), places=(NEW,))
    other = seen("c", serials=("CV24-008812",), places=(OLD,))
    assert [[way.source for way in each.ways] for each in devices(moved, there, other)] in (
        [["a", "b"], ["c"]],
        [["c"], ["a", "b"]],
    )


labels = st.sampled_from(["a", "b", "c", "d"])
some = st.lists(labels, max_size=2, unique=True).map(tuple)
sightings = st.lists(
    st.builds(
        Sighting,
        ways=st.tuples(st.builds(Way, st.sampled_from(["dnssd", "ipp", "snmp"]), labels)),
        places=some,
        hosts=some,
        macs=some.map(lambda each: tuple(f"02:77:00:00:00:0{value}" for value in each)),
        serials=some.map(lambda each: tuple(f"HX-{value}" for value in each[:1])),
        uuids=some.map(lambda each: tuple(f"uuid-{value}" for value in each[:1])),
        answered=st.booleans(),
    ),
    max_size=12,
)


@given(sightings, st.randoms(use_true_random=False))
def test_order_and_repetition_make_no_difference(all_seen: list[Sighting], shuffler: random.Random) -> None:
    shuffled = [*all_seen, *all_seen]
    shuffler.shuffle(shuffled)
    assert merged(shuffled) == merged(all_seen)


@given(sightings)
def test_nothing_is_lost_and_no_device_has_two_serial_numbers(all_seen: list[Sighting]) -> None:
    found = merged(all_seen)
    assert {way for each in found for way in each.ways} == {way for each in all_seen for way in each.ways}
    assert {mac for each in found for mac in each.macs} == {mac for each in all_seen for mac in each.macs}
    told_serials = {serial for each in all_seen for serial in each.serials}
    # Each serial number is one device's, and no device hides one behind another.
    assert sorted(each.serial for each in found if each.serial) == sorted(told_serials)


# --- from facts


def test_a_device_that_is_heard_and_answers_is_one_row() -> None:
    place = ("plans-new.local", 631, (NEW, "fe80::77:ff:fe00:22"))
    listened = heard(
        advertisement("Halden 36R", "_ipp._tcp", place, ty="Halden 36R", uuid=UUID.upper(), rp="ipp/print"),
        advertisement("Halden 36R", "_printer._tcp", ("plans-new.local", 0, (NEW,))),
        advertisement("Halden 36R", "_http._tcp", ("plans-new.local", 80, (NEW,))),
    )
    replied = answered(
        NEW,
        NEW,
        [*told("ipp", Model("Halden 36R PS"), Uuid(UUID)), *told("snmp", SnmpAgent("v2c"), Serial("HX-77-0457"))],
    )
    assert replied
    (device,) = devices(*announced(listened), replied)
    assert (device.model, device.serial, device.uuid) == ("Halden 36R PS", "HX-77-0457", UUID)
    assert device.addresses == (NEW, "fe80::77:ff:fe00:22")
    assert [(each.service, each.port, each.path) for each in device.offered] == [
        ("ipp", 631, "ipp/print"),
        ("http", 80, ""),  # and no lpd: port 0 is a claimed name (RFC 6763 s8)
    ]
    assert device.answered
    assert device.contested == ()


def test_two_devices_under_one_name_are_two_rows_that_say_so() -> None:
    both = advertisement("Plans", "_ipp._tcp", ("newp.local", 631, (NEW,)), ("oldp.local", 631, (OLD,)), uuid=UUID)
    found = devices(*announced(heard(both)))
    assert [(each.addresses, each.contested, each.uuid) for each in found] == [
        ((OLD,), ("Plans",), ""),
        ((NEW,), ("Plans",), ""),
    ]


def test_one_name_for_two_devices_under_different_services_is_contested_too() -> None:
    """RFC 6763 s8: all print services of one name are one device's."""
    one = advertisement("Plans", "_ipp._tcp", ("newp.local", 631, (NEW,)))
    other = advertisement("plans", "_printer._tcp", ("oldp.local", 515, (OLD,)))
    assert [each.contested for each in devices(*announced(heard(one, other)))] == [("plans",), ("Plans",)]


def test_on_loopback_a_port_tells_devices_apart() -> None:
    one = advertisement("Corvid 24S", "_ipp._tcp", ("plans-old.local", 40001, ("127.0.0.1",)))
    other = advertisement("Halden 36R", "_ipp._tcp", ("plans-new.local", 40002, ("127.0.0.1",)))
    replied = answered("127.0.0.1", "127.0.0.1 40002", told("ipp", Serial("HX-77-0457")))
    assert replied
    found = devices(*announced(heard(one, other)), replied)
    assert {each.names: each.serial for each in found} == {("Corvid 24S",): "", ("Halden 36R",): "HX-77-0457"}


def test_sources_that_contradict_each_other_at_one_place_are_one_device() -> None:
    facts = [*told("ipp", Serial("HX-77-0457")), *told("snmp", Serial("HX-77-0458"))]
    replied = answered(NEW, NEW, facts)
    assert replied
    (device,) = devices(replied)
    assert device.serial == "HX-77-0457"


def test_a_neighbour_is_seen_and_has_not_answered() -> None:
    replied = answered(NEW, NEW, told("address", Neighbour(NEW, ("02:77:00:00:00:22",), "arp", True)))
    assert replied
    (device,) = devices(replied)
    assert (device.macs, device.answered) == (("02:77:00:00:00:22",), False)


def test_two_devices_behind_one_repeater_are_two() -> None:
    """It answers for both with its own MAC."""
    behind = [
        answered(place, place, told("address", Neighbour(place, ("02:77:00:00:00:99",), "arp", True)))
        for place in (OLD, NEW)
    ]
    assert len(devices(*filter(None, behind))) == 2


def test_silence_is_no_sighting() -> None:
    assert answered(NEW, NEW, []) is None


def test_a_large_site() -> None:
    """300 devices with six services each, as a large site has."""
    many = [
        advertisement(f"Printer {number}", kind, (f"p{number}.local", 631, (f"10.0.{number // 250}.{number % 250}",)))
        for number in range(300)
        for kind in ("_ipp._tcp", "_ipps._tcp", "_printer._tcp", "_pdl-datastream._tcp", "_http._tcp")
    ]
    assert len(merged(announced(heard(*many)))) == 300
