"""Supplies, media and channels by SNMP, all the way from an agent's objects to a ruling.

Rows are of RFC 3805, worked out by hand; the source stands beside each. What is numbered in fixtures/standards is in
tests/test_snmp_reading.py and tests/test_rules_published.py.
"""

import pytest

from netcheck.verdict import Holds
from tests.test_published_snmp import MET, UNMET, UNPROVEN, host, of, only, ruled

# --- supplies


@pytest.mark.parametrize(
    ("family", "unit", "capacity", "level", "state", "words"),
    # RFC 3805 s2.4, s6: levels are what is left, or the room left; negative ones are words and no numbers.
    [
        (3, 19, 100, 40, MET, "40 % left"),
        (4, 19, 100, 20, UNMET, "20 % room left"),  # CARE below 30, by the demand above
        (4, 19, 100, 100, MET, "100 % room left"),
        (3, 15, 1300, 65, UNMET, "5 % left"),
        (3, 15, 1300, -3, UNPROVEN, "some left"),
        (4, 15, 1300, -3, UNPROVEN, "some room left"),
        (3, 19, 100, -2, UNPROVEN, "level not told"),
        (3, 19, -1, -1, UNPROVEN, "level not told"),
        (3, 7, -2, 37, UNPROVEN, "level not told"),  # no capacity, and no percent
        (3, 19, -2, 37, MET, "37 % left"),  # common practice
        (3, 1, 100, 40, MET, "40 other of 100"),  # common practice: unit and numbers as told
        (3, 7, 100, 130, MET, "130 impressions of 100, which is more than there can be"),  # common practice: capped
    ],
)
def test_a_level(family: int, unit: int, capacity: int, level: int, state: Holds, words: str) -> None:
    told = of("prtMarkerSupplies", Class=family, SupplyUnit=unit, MaxCapacity=capacity, Level=level, Description="A")
    finding = only("supplies.level", told)
    assert finding.state is state
    assert words in f"{finding.title} {finding.detail}"
    assert "100 %" in finding.title or level <= 100 or capacity != 100
    assert all(each.state is MET for each in ruled("supplies.empty", told))


@pytest.mark.parametrize(("family", "words"), [(3, "empty"), (4, "full")])
def test_zero_is_bad_in_both_classes(family: int, words: str) -> None:
    told = of("prtMarkerSupplies", Class=family, SupplyUnit=19, MaxCapacity=100, Level=0, Description="A")
    finding = only("supplies.empty", told)
    assert (finding.state, finding.title) == (UNMET, f"A is {words}")


def test_what_is_optional_is_no_fault_where_it_is_missing() -> None:
    """RFC 3805 s6 prtMIB2Compliance: MarkerSupplies, serial number and the event counters may lawfully be missing."""
    for identity in ("supplies.empty", "supplies.level", "identity.serial"):
        assert all(each.state is not UNMET for each in ruled(identity, host(2, 3)))


# --- media and channels


@pytest.mark.parametrize(
    ("unit", "feed", "cross", "level", "state"),
    # RFC 3805 s6: tenThousandthsOfInches(3), micrometers(4); along and across the feed; -3 some, -2 unknown,
    # -1 no limit.
    [
        (3, 110_000, 85_000, 50, MET),
        (3, 85_000, 110_000, 50, MET),  # fed long edge first
        (4, 279_400, 215_900, 50, MET),
        (3, 116_929, 82_677, 50, UNMET),  # A4
        (3, 110_000, 85_000, 0, UNMET),
        (3, 110_000, 85_000, -3, MET),
        (3, 110_000, 85_000, -2, UNPROVEN),
        (3, -2, -2, 50, UNPROVEN),
        (3, -1, -1, 50, MET),  # this sub-unit sets no restriction
        (5, 110_000, 85_000, 50, UNPROVEN),  # no unit of the standard
    ],
)
def test_letter_is_loaded(unit: int, feed: int, cross: int, level: int, state: Holds) -> None:
    size = {"DimUnit": unit, "MediaDimFeedDirChosen": feed, "MediaDimXFeedDirChosen": cross}
    finding = only("media.loaded", of("prtInput", Type=3, CapacityUnit=8, MaxCapacity=500, CurrentLevel=level, **size))
    assert finding.state is state


@pytest.mark.parametrize(
    ("status", "state"),
    # RFC 8011 s5.4.12 and RFC 3805 s2.2.13.2.2: 19 is empty, jammed or missing, 27 the same and low; 8 is low.
    [(0, MET), (8, MET), (4, MET), (2, MET), (5, MET), (7, MET), (19, UNMET), (27, UNMET), (3, UNMET)],
)
@pytest.mark.parametrize("level", [50, -3])
def test_an_input_that_is_not_available_serves_no_print(status: int, state: Holds, level: int) -> None:
    size = {"DimUnit": 3, "MediaDimFeedDirChosen": 110_000, "MediaDimXFeedDirChosen": 85_000}
    finding = only("media.loaded", of("prtInput", Type=3, CurrentLevel=level, Status=status, **size))
    assert finding.state is state


@pytest.mark.parametrize(
    ("capacity", "remaining", "full"),
    # RFC 3805 s6 prtOutputRemainingCapacity: 0 is full; -1 no limit, -2 unknown, -3 room for at least one.
    [(100, 100, []), (100, 0, ["Bin is full"]), (-2, 0, ["Bin is full"]), (100, -1, []), (100, -2, []), (100, -3, [])],
)
def test_an_output_is_full(capacity: int, remaining: int, full: list[str]) -> None:
    rows = of("prtOutput", Type=3, CapacityUnit=8, MaxCapacity=capacity, RemainingCapacity=remaining, Name="Bin")
    assert [each.title for each in ruled("media.output", rows)] == full


@pytest.mark.parametrize(
    ("kind", "service"),
    # RFC 3805 s5 PrtChannelTypeTC: 37 and 38 are raw, 11 their deprecated forerunner; 12: IANA-PRINTER-MIB.
    [(11, "raw"), (12, "raw"), (37, "raw"), (38, "raw"), (8, "lpd")],
)
@pytest.mark.parametrize(
    ("told", "state"),
    [(3, MET), (4, UNMET), (1, UNPROVEN), (None, UNPROVEN)],  # RFC 3805 s6: accepts, does not, other; not told
)
def test_a_channel_takes_data(kind: int, service: str, told: int | None, state: Holds) -> None:
    rows = of("prtChannel", Type=kind, **({} if told is None else {"State": told}))
    finding = only("channels.accepting", rows)
    assert (finding.item, finding.state) == (service, state)
