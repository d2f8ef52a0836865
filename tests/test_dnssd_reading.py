"""Instances → advertisements: names that are only claimed, several hosts, several texts (RFC 6763)."""

import re
import subprocess
import sys

import pytest
from zeroconf import current_time_millis
from zeroconf._cache import DNSCache
from zeroconf._dns import DNSPointer, DNSService

from netcheck.facts.link import Advertisement
from probes.dnssd.instance import SUBTYPES, TYPES, Instance, Place
from probes.dnssd.reading import read
from probes.dnssd.records import instances

from .conftest import published

Json = dict[str, str]
OLD = Place("plans-old.local", 515, ("192.0.2.21",))
NEW = Place("plans-new.local", 515, ("192.0.2.61", "fe80::77:ff:fe00:22"))


def facts(*instances: Instance) -> dict[str, Advertisement]:
    found = {}
    for source, fact in read(instances):
        assert isinstance(fact, Advertisement)
        found[source] = fact
    return found


@pytest.mark.parametrize("row", published("MDN-07"))
def test_a_placeholder_is_a_name_and_no_service(row: Json) -> None:
    assert row["expected"] == "flagship placeholder: name is claimed, no LPD service"
    claimed = Instance("Plans", "_printer._tcp", (Place("plans-new.local", 0, ("192.0.2.61",)),), (b"\0",))
    (source, fact), *others = facts(claimed).items()
    assert (source, others) == ("Plans._printer._tcp.local", [])
    assert (fact.instance, fact.type, fact.port, fact.hosts) == ("Plans", "_printer._tcp", 0, ("plans-new.local",))
    assert fact.txt == ()


@pytest.mark.parametrize("row", published("MDN-13"))
def test_two_texts_are_two_queues_and_the_preferred_comes_first(row: Json) -> None:
    assert row["expected"].startswith("two logical queues; choose by priority (lower is preferred")
    spare = b"\x08qtotal=2\x0bpriority=60\x08rp=spare"
    main = b"\x08qtotal=2\x0bpriority=20\x07rp=main"
    found = facts(Instance("Plans", "_printer._tcp", (NEW,), (spare, main)))
    assert [(source, fact.get("rp")) for source, fact in found.items()] == [
        ("Plans._printer._tcp.local", "main"),
        ("Plans._printer._tcp.local TXT 2", "spare"),
    ]


@pytest.mark.parametrize("said", [b"", b"priority", b"priority=", b"priority=high", b"priority=-1", b"priority=99999"])
def test_a_priority_that_is_none_counts_as_the_usual_one(said: bytes) -> None:
    """50 by convention (printing over DNS-SD; from memory)."""
    odd = bytes([len(said)]) + said + b"\x06rp=odd"
    before, after = b"\x0bpriority=49\x09rp=before", b"\x0bpriority=51\x08rp=after"
    found = facts(Instance("Plans", "_printer._tcp", (NEW,), (after, odd, before)))
    assert [fact.get("rp") for fact in found.values()] == ["before", "odd", "after"]


def test_a_name_that_two_hosts_claim_shows_both() -> None:
    (fact,) = facts(Instance("Plans", "_printer._tcp", (NEW, OLD), (b"\0",))).values()
    assert fact.hosts == ("plans-new.local", "plans-old.local")
    assert fact.addresses == ("192.0.2.61", "fe80::77:ff:fe00:22", "192.0.2.21")
    assert [(place.name, place.addresses) for place in fact.places] == [
        ("plans-new.local", NEW.addresses),
        ("plans-old.local", OLD.addresses),
    ]


def test_the_full_name_is_the_source_even_of_a_name_with_dots() -> None:
    """RFC 6763 s4.3: an instance name may have dots, and only the type ends it."""
    assert list(facts(Instance("Plans 2.0 v. 3", "_ipp._tcp", (NEW,), (b"\0",)))) == ["Plans 2.0 v. 3._ipp._tcp.local"]


@pytest.mark.parametrize("row", published("MDN-09"))
def test_the_services_that_are_browsed_for_may_be_called_that(row: Json) -> None:
    """RFC 6335 s5.1: 1 to 15 letters, digits and hyphens, a letter among them."""
    assert row["input"] == "service name longer than 15 characters"
    for name in (*TYPES, *SUBTYPES):
        service, protocol = name.split(".")[-2:]
        assert re.fullmatch(r"_(?=.*[a-z])(?!-)[a-z0-9-]{1,15}(?<!-)", service)
        assert protocol == "_tcp"


@pytest.mark.parametrize(("age_s", "alive"), [(0, True), (119, True), (121, False)])
def test_a_record_is_not_read_when_its_time_is_over(age_s: int, alive: bool) -> None:
    """RFC 6762 s10: SRV and address records live for 120 s."""
    cache, heard_at = DNSCache(), current_time_millis() - age_s * 1000
    name = "Plans._ipp._tcp.local."
    cache.async_add_records(
        [
            DNSPointer("_ipp._tcp.local.", 12, 1, 4500, name, heard_at),
            DNSService(name, 33, 1, 120, 0, 0, 631, "plans-new.local.", heard_at),
        ]
    )
    places = (Place("plans-new.local", 631, ()),) if alive else ()
    assert instances(cache) == (Instance("Plans", "_ipp._tcp", places),)


def test_the_probe_can_be_loaded_without_any_network_library() -> None:
    """It is loaded with every command, and most of them never listen."""
    script = "import sys, probes.dnssd; print(sorted({'zeroconf', 'netifaces'} & set(sys.modules)))"
    assert subprocess.run([sys.executable, "-c", script], capture_output=True, text=True).stdout == "[]\n"
