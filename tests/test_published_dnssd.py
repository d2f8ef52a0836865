"""DNS-SD from the octets of the records to a ruling: RFC 6762, RFC 6763.

Rows are worked out by hand from the RFCs; the source stands beside each. What an absent key of a printer's TXT record
means is printing over DNS-SD, taken over by PWG 5100.14: from memory, as those ids say. What is numbered in
fixtures/standards is in tests/test_dnssd_*.py.
"""

import contextlib
import socket
from collections.abc import Iterator
from typing import Any

import pytest
from zeroconf import current_time_millis
from zeroconf._cache import DNSCache
from zeroconf._dns import DNSAddress, DNSPointer, DNSRecord, DNSService, DNSText

from netcheck.facts.identity import Uuid
from netcheck.facts.link import Advertisement, OwnInterfaceRow, OwnInterfaces
from netcheck.facts.network import NameLookup, Service
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.probing import Target
from netcheck.roles import Role
from netcheck.standard import Standard
from netcheck.verdict import Finding, Holds, Weight
from probes.dnssd.instance import SUBTYPES, TYPES, Instance, Place
from probes.dnssd.reading import read
from probes.dnssd.records import instances
from tests.conftest import make_case, published
from tests.dnssd_responder import LOOPBACK, PTR, Responder, _member, a, message, ptr, questions, srv, txt
from tests.test_dnssd_browsing import listened, own

MET, UNMET, _ = Holds
NEW, OLD = "192.0.2.61", "192.0.2.21"
PLANS = "Plans._ipp._tcp.local."
Seen = tuple[Role, str, str, Any]


def record(*strings: bytes) -> bytes:
    """RFC 1035 s3.3.14: each string after an octet with its length."""
    return b"".join(bytes([len(string)]) + string for string in strings)


def told(
    label: str = "Plans",
    host: str = "plans-new",
    address: str = NEW,
    kind: str = "_ipp._tcp",
    port: int = 631,
    texts: tuple[bytes, ...] = (b"\0",),
) -> Instance:
    return Instance(label, kind, (Place(f"{host}.local", port, (address,)),), texts)


def adverts(*heard: Instance) -> list[Advertisement]:
    return [fact for _, fact in read(heard) if isinstance(fact, Advertisement)]


def only(heard: Instance) -> Advertisement:
    (fact,) = adverts(heard)
    return fact


def ruled(identity: str, around: list[Instance], own: list[Instance], *more: Seen) -> list[Finding]:
    """What is heard all around, and what of it is the new device's; ours is 192.0.2.10/24."""
    rows = (OwnInterfaceRow("eth0", "192.0.2.10", 24, "02:77:00:00:00:10"),)
    here: Seen = (Role.HERE, "address", "own-interfaces", OwnInterfaces(rows))
    name: Seen = (Role.NEW, "names", "resolver", NameLookup(NEW, (NEW,)))
    both = ((Role.HERE, around), (Role.NEW, own))
    heard = [(role, "dnssd", source, fact) for role, some in both for source, fact in read(some)]
    findings = judge(make_case([here, name, *heard, *more]), Standard("none"), Gate.LEAVE, {}).findings
    return [each for each in findings if each.id == f"announced.{identity}"]


# --- TXT records


@pytest.mark.parametrize(
    ("strings", "key", "value"),
    [
        ((b"=A4", b"paper=A3"), "paper", "A3"),  # s6.4: a string that begins with "=" is ignored silently
        ((b"paper=A4", b"PAPER=A3"), "paper", "A4"),  # s6.4: of equal keys the first, whatever its case
        ((b"paper", b"paper=A3"), "paper", ""),  # s6.4: also where the first one is alone
        ((b"paper=",), "paper", ""),
        ((b"note= a = b ",), "note", " a = b "),  # s6.5: blanks and further "=" belong to the value
        ((b"paper size=A4",), "paper size", "A4"),  # s6.4: blanks in a key count
        ((b"x" * 9 + b"=" + b"y" * 245,), "x" * 9, "y" * 245),  # s6.1: a string has up to 255 octets
        ((b"note=\xc3\xbc",), "note", "ü"),
        ((), "note", ""),
    ],
)
def test_a_key(strings: tuple[bytes, ...], key: str, value: str) -> None:
    """RFC 6763 s6.4, s6.5."""
    fact = only(told(texts=(record(*strings) or b"\0",)))
    assert fact.get(key) == value
    assert "" not in {entry.key for entry in fact.txt}


@pytest.mark.parametrize(
    ("version", "kept"),
    [
        (b"txtvers=1", True),
        (b"txtvers=2", False),
        (b"txtvers=01", False),
        (b"txtvers=\xff", False),
        (b"TXTVERS=7", False),
        (b"txtvers=", True),  # no version is named
        (b"txtvers", True),
        (b"note=x", True),
    ],
)
def test_a_record_of_another_version_is_ignored(version: bytes, kept: bool) -> None:
    """RFC 6763 s6.7; a printer's is 1, from memory. Its place is known all the same."""
    fact = only(told(texts=(record(version, b"rp=ipp/print", b"ty=Halden 36R"),)))
    assert (fact.get("rp"), fact.get("ty")) == (("ipp/print", "Halden 36R") if kept else ("", ""))
    assert (fact.hosts, fact.port, fact.addresses) == (("plans-new.local",), 631, (NEW,))


USUAL = {
    "U": "Color Duplex Bind Collate Copies Punch Sort Staple Scan Fax PaperCustom",
    "F": "Transparent Binary TBCP",
    "1": "txtvers qtotal",
    "50": "priority",
    "none": "air",
    "application/postscript": "pdl",
    "": "note rp ty adminurl UUID TLS URF PaperMax kind",
}


@pytest.mark.parametrize(
    ("key", "value"),
    [(key, value) for value, keys in USUAL.items() for key in keys.split()],
    ids=lambda text: f"{text or 'nothing'}-from-memory",
)
def test_an_absent_key_by_convention(key: str, value: str) -> None:
    assert only(told()).usual(key) == value


def test_several_records_are_queues_in_the_order_of_their_priority() -> None:
    """RFC 6763 s6.8; 0 before 99, and 50 where none is told: from memory."""
    texts = [record(b"qtotal=4", b"rp=%d" % number, *said) for number, said in enumerate([(), [b"priority=99"]])]
    texts += [record(b"qtotal=4", b"rp=2", b"priority=0"), record(b"qtotal=4", b"rp=3", b"priority=50")]
    assert [fact.get("rp") for fact in adverts(told(kind="_printer._tcp", texts=tuple(texts)))] == ["2", "0", "3", "1"]


# --- names, services, records


@pytest.mark.parametrize("kind", ["_ipp._tcp", "_ipps._tcp", "_printer._tcp", "_pdl-datastream._tcp", "_http._tcp"])
def test_the_port_is_that_of_the_record(kind: str) -> None:
    """RFC 2782: never assumed. The types are those of the IANA registry, from memory."""
    assert kind in TYPES
    assert only(told(kind=kind, port=49_631)).port == 49_631


def test_every_subtype_is_one_of_a_type() -> None:
    """RFC 6763 s7.1: a subtype label has up to 63 octets, and what is found there is found under its type."""
    for name in SUBTYPES:
        label, _, kind = name.partition("._sub.")
        assert label.startswith("_")
        assert len(label) <= 63
        assert kind in TYPES


@pytest.mark.parametrize("label", ["P" * 63, "ü" * 31, "Plans. v. 2", "Plans (plan room)", "  ", "_ipp"])
def test_any_instance_name(label: str) -> None:
    """RFC 6763 s4.1.1: up to 63 octets of UTF-8, dots and blanks included."""
    assert len(label.encode()) <= 63
    ((source, fact),) = read([told(label=label)])
    assert isinstance(fact, Advertisement)
    assert (source, fact.instance) == (f"{label}._ipp._tcp.local", label)


def pointer(ttl: int, at: float) -> DNSRecord:
    return DNSPointer("_ipp._tcp.local.", PTR, 1, ttl, PLANS, at)


@pytest.mark.parametrize(
    ("age_s", "place", "text", "listed"),
    # RFC 6762 s10: 120 s for SRV and addresses, 4500 s for PTR and TXT, so that what is told outlives where it is.
    [
        (1, True, True, True),
        (119, True, True, True),
        (121, False, True, True),
        (4499, False, True, True),
        (4501, False, False, False),
    ],
)
def test_what_is_left_of_a_device_that_has_gone(age_s: int, place: bool, text: bool, listed: bool) -> None:
    cache, at = DNSCache(), current_time_millis() - age_s * 1000
    cache.async_add_records(
        [
            pointer(4500, at),
            DNSService(PLANS, 33, 1, 120, 0, 0, 631, "plans-new.local.", at),
            DNSText(PLANS, 16, 1, 4500, record(b"rp=ipp/print"), at),
            DNSAddress("plans-new.local.", 1, 1, 120, bytes((192, 0, 2, 61)), created=at),
        ]
    )
    heard = instances(cache)
    assert [bool(each.places) for each in heard] == [place] * listed
    assert [bool(each.texts) for each in heard] == [text] * listed


@pytest.mark.parametrize(("target", "places"), [("plans-new.local.", 1), (".", 0)])
def test_the_root_as_a_place_is_none(target: str, places: int) -> None:
    """RFC 2782: a target of "." says that the service is decidedly not there."""
    cache, at = DNSCache(), current_time_millis()
    cache.async_add_records([pointer(4500, at), DNSService(PLANS, 33, 1, 120, 0, 0, 631, target, at)])
    (heard,) = instances(cache)
    assert len(heard.places) == places


@pytest.mark.parametrize("row", published("MDN-11", "MDN-19"))
def test_we_ask_as_who_listens_to_all_and_claim_nothing(row: dict[str, str]) -> None:
    """MDN-11: no name is probed for, since none is claimed. MDN-19: answers to other ports than 5353 have other times
    (RFC 6762 s6.7); so questions leave from that port, and are of no type ANY (s8.1: a probe's)."""
    assert row["source"].startswith("RFC 6762")
    kind = "_ipp._tcp.local"
    name = f"Ledger plotter 5.4.{kind}"
    whole = (srv(name, "five-plotter.local", 45_654), txt(name, b"rp=ipp/print"), a("five-plotter.local", LOOPBACK))
    with Responder({(kind, PTR): [message(ptr(kind, name), additional=whole)]}), contextlib.closing(_member()) as ear:
        (recorder,) = listened(Target(Role.DEVICE, LOOPBACK, ports={"ipp": 45_654}))
        asked = list(heard_of(ear))
    assert list(own(recorder)) == [name]
    assert {port for port, _ in asked} == {5353}
    assert PTR in {each for _, each in asked}
    assert 255 not in {each for _, each in asked}


def heard_of(ear: socket.socket) -> Iterator[tuple[int, int]]:
    """Of all questions that came: the port that each left from, and its type."""
    with contextlib.suppress(TimeoutError):
        while True:
            octets, (_, port) = ear.recvfrom(9000)
            yield from ((port, kind) for _, kind in questions(octets))


# --- what proves a conflict


@pytest.mark.parametrize(
    ("around", "own", "identity", "state"),
    [
        # RFC 6762 s9: one name, type and class with different rdata from two hosts.
        (
            [],
            [Instance("Plans", "_ipp._tcp", (Place("a.local", 631, (NEW,)), Place("b.local", 631, (OLD,))))],
            "name-taken",
            UNMET,
        ),
        # Two ports, or two addresses, of one host are one owner's full set.
        (
            [],
            [Instance("Plans", "_ipp._tcp", (Place("a.local", 631, (NEW, OLD)), Place("A.local.", 632, (NEW,))))],
            "name-taken",
            None,
        ),
        ([], [told("Plans (2)")], "name-taken", UNMET),  # s9: a conflict happened once; the name is kept
        # RFC 6763 s8: one name under all print types of one device; port 0 claims it too.
        ([told(), told(host="old", address=OLD, kind="_printer._tcp", port=515)], [told()], "leads-elsewhere", UNMET),
        ([told(), told(host="old", address=OLD, kind="_printer._tcp", port=0)], [told()], "leads-elsewhere", UNMET),
        ([told(), told(kind="_printer._tcp", port=0)], [told()], "leads-elsewhere", MET),
        ([told(), told("Other", "old", OLD, "_printer._tcp", 515)], [told()], "leads-elsewhere", MET),
    ],
)
def test_a_conflict(around: list[Instance], own: list[Instance], identity: str, state: Holds | None) -> None:
    found = ruled(identity, around, own)
    assert [each.state for each in found] == ([] if state is None else [state])


@pytest.mark.parametrize(
    ("said", "state"),
    [(b"UUID=5E0A-36", None), (b"UUID=urn:uuid:5e0a-36", None), (b"UUID=5e0a-24", UNMET), (b"ty=Halden 36R", None)],
)
def test_an_announcement_against_the_device(said: bytes, state: Holds | None) -> None:
    """TXT is advertising: where it differs from IPP, IPP counts, and it is told (common practice). UUID is without
    urn:uuid:, and equals printer-uuid (from memory)."""
    uuid: Seen = (Role.NEW, "ipp", "printer-uuid", Uuid("5e0a-36"))
    found = ruled("agrees", [], [told(texts=(record(said),))], uuid)
    assert [each.state for each in found] == ([] if state is None else [state])


@pytest.mark.parametrize("address", ["10.9.8.7", "169.254.7.9", NEW])
def test_who_is_heard_is_on_our_link_whatever_its_address(address: str) -> None:
    """RFC 6762 s11. That its port is silent does not say that it is not there."""
    silent: Seen = (Role.NEW, "ports", "tcp/631", Service("ipp", 631, "silent", "", 2500, ()))
    (found,) = ruled("seen-not-reached", [], [told(address=address)], silent)
    assert found.state is UNMET
    assert address in found.detail
    assert ("not in our subnet" in found.detail) is (address != NEW)


def test_who_is_not_heard_is_no_fault() -> None:
    """RFC 6762: multicast may not cross, so silence is no evidence (common practice)."""
    assert not [each for each in ruled("not-heard", [], []) if each.state is UNMET]
    opened: Seen = (Role.NEW, "ports", "tcp/631", Service("ipp", 631, "open", "", 2, (900,)))
    assert [each.weight for each in ruled("not-heard", [told("Other", "old", OLD)], [], opened)] == [Weight.NOTE]
