"""The request to the network's owner: what is asked for, and a gap where nobody knows. Wanted is what the Move says."""

import unicodedata
from collections.abc import Iterable

import msgspec
import pytest

from netcheck.facts.identity import Model
from netcheck.facts.network import HardwareAddress
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.move import DeviceRef, Move, Ports
from netcheck.report.page import unpainted
from netcheck.report.request import GAP, _wish, render_request
from netcheck.roles import Role
from netcheck.standard import ServicesRequired, Standard, SubnetDemand
from netcheck.words import is_asked_first
from tests.conftest import LS_2041, make_case
from tests.test_rules_link import ADDRESS, NEW_MAC, OLD_MAC, SITE, Seen, arp, here, port, way
from tests.test_rules_planned import KEPT, OLD_ADDRESS, STRANGER, address_row, at_planned, known

WHEN, JACK = "2026-12-03 10:00", "B-12"


def knowing(move: Move, **new: object) -> Move:
    assert move.new is not None
    return msgspec.structs.replace(move, when=WHEN, new=msgspec.structs.replace(move.new, jack=JACK, **new))


def request(*facts: Seen, move: Move = KEPT, standard: Standard = SITE, gate: Gate = Gate.SWAP) -> str:
    case = make_case(facts, move)
    page = render_request(standard, case, judge(case, standard, gate, {}), gate, unpainted)
    assert all(len(line) <= 80 for line in page.splitlines())
    assert not {each for each in page if unicodedata.category(each) in {"Cc", "Cf", "Zl", "Zp"}} - {"\n"}
    return page


def one_line(page: str) -> str:
    return " ".join(page.split())


def points(page: str) -> list[str]:
    """The numbered points, each in one line."""
    found: list[str] = []
    for line in page.splitlines():
        if line[:5].strip().rstrip(".").isdecimal():
            found.append(line[5:].strip())
        elif found and line.startswith("     "):
            found[-1] += f" {line.strip()}"
    return found


def macs() -> Iterable[Seen]:
    return known(Role.OLD, OLD_MAC), known(Role.NEW, NEW_MAC)


def test_to_whom_for_what_and_by_when() -> None:
    page = one_line(request(move=knowing(KEPT)))
    for text in ("network's owner", "Harrow Lane land-survey office", "job LS-2041", f"by {WHEN}", f"jack {JACK}"):
        assert text in page


# --- keep: the reservation passes to another hardware address (RFC 2131 s2.1)


@pytest.mark.parametrize("origin", ["dhcp", ""])
def test_keep_changes_the_reservation(origin: str) -> None:
    point = points(request(*macs(), address_row(OLD_ADDRESS, origin), move=knowing(KEPT)))[0]
    assert f"{OLD_ADDRESS} from {OLD_MAC} to {NEW_MAC}" in point
    assert ADDRESS not in point
    assert ("by hand" in point) is (not origin)  # RFC 4293: where the device does not tell, either may be


def test_keep_of_an_address_that_is_set_by_hand_has_no_reservation_to_change() -> None:
    point = points(request(*macs(), address_row(OLD_ADDRESS, "manual"), move=knowing(KEPT)))[0]
    assert "Change the reservation" not in point
    assert f"{OLD_ADDRESS} out of what DHCP gives out" in point


def test_how_the_old_device_came_to_the_address() -> None:
    for origin, says in (("dhcp", "from DHCP"), ("manual", "set by hand"), ("other", ""), ("", "")):
        page = request(address_row(OLD_ADDRESS, origin))
        (line,) = [each for each in page.splitlines() if each.strip().startswith("address ")]
        assert f"{OLD_ADDRESS}/24" in line
        assert ("which the old device has" in line) is bool(says)
        assert says in line


def test_keep_of_an_old_device_that_is_known_by_its_name_is_a_gap() -> None:
    move = msgspec.structs.replace(LS_2041, address="keep", old=DeviceRef("plans.example"))
    assert ADDRESS not in points(request(*macs(), move=move))[0]


# --- new, usb, and what nobody knows


def test_a_new_address_is_reserved() -> None:
    move = knowing(msgspec.structs.replace(LS_2041, address="new"), final="192.0.2.70")
    point = points(request(*macs(), move=move))[0]
    assert f"Reserve 192.0.2.70 for {NEW_MAC}" in point
    assert "Change" not in point
    assert f"Reserve {ADDRESS} for" in points(request(*macs(), move=msgspec.structs.replace(LS_2041, address="new")))[0]


def test_usb_asks_for_no_address() -> None:
    move = msgspec.structs.replace(LS_2041, address="usb", new=DeviceRef(""))
    assert "Reserve" not in request(move=move)


@pytest.mark.parametrize("move", [Move(new=DeviceRef(ADDRESS)), Move(new=DeviceRef("halden.example")), Move()])
def test_what_is_not_known_is_a_gap(move: Move) -> None:
    page = one_line(request(move=move, standard=Standard()))
    for text in (f"by {GAP}", f"jack {GAP}", f"hardware address {GAP}", f"for {GAP}", "model not seen"):
        assert text in page
    assert "None" not in page
    assert "/24" not in page


def test_a_device_that_is_known_by_its_name_at_a_site_with_a_subnet() -> None:
    page = one_line(request(move=Move(address="new", new=DeviceRef("halden.example"))))
    assert "halden.example" in page
    assert "/24" not in page


def test_gaps_close_as_facts_come() -> None:
    facts = (*macs(), (Role.OLD, "snmp", "m", Model("Corvid 24S")), (Role.NEW, "snmp", "m", Model("Halden 36R")))
    page = one_line(request(*facts, move=knowing(KEPT, serial="HX-77-0457")))
    assert GAP not in page
    for text in (f"Corvid 24S, {OLD_MAC}", f"Halden 36R, {NEW_MAC}, serial HX-77-0457"):
        assert text in page


def test_whose_hardware_address_counts() -> None:
    """The work order's first, then what was read, then who answered alone: two owners are nobody's."""
    plate: Seen = (Role.NEW, "person", "plate", HardwareAddress(NEW_MAC))
    assert STRANGER in request(plate, move=knowing(KEPT, mac=STRANGER))
    assert NEW_MAC not in request(plate, move=knowing(KEPT, mac=STRANGER))
    assert NEW_MAC in request(plate, arp(STRANGER))
    assert NEW_MAC in request(arp(NEW_MAC))
    for told in (arp(), arp(NEW_MAC, STRANGER), known(Role.NEW, "")):
        assert f"Let {GAP} in" in one_line(request(told))


# --- services


def test_services_are_the_standards_on_the_moves_ports() -> None:
    """IANA: ipp 631, printer 515, snmp 161; raw printing on 9100 is common practice, no source."""
    assert "TCP 631 (ipp), TCP 9100 (raw), UDP 161 (snmp" in one_line(request(standard=Standard()))
    standard = Standard("site", services_required=ServicesRequired(("lpd", "ipp")))
    move = knowing(KEPT, ports=Ports(ipp=8631, snmp=1161))
    assert "TCP 515 (lpd), TCP 8631 (ipp), UDP 1161 (snmp" in one_line(request(move=move, standard=standard))


@pytest.mark.parametrize("final", ["2001:db8::61", "198.51.100.61"])
def test_a_prefix_is_that_of_the_addresss_own_subnet(final: str) -> None:
    standard = Standard("site", subnet=SubnetDemand("192.0.2.0/24"))
    assert f"{final}/24" not in request(move=knowing(KEPT, final=final), standard=standard)


# --- what the verdict asks for, and what must not get out


def test_what_a_finding_asks_of_others_is_in_it() -> None:
    facts = way(), here(), at_planned(STRANGER), known(Role.OLD, OLD_MAC), port("open")
    case = make_case(facts, KEPT)
    asked = [step for step in judge(case, SITE, Gate.SWAP, {}).steps if is_asked_first(step.do)]
    assert any("whom the address belongs to" in step.do for step in asked)
    found = [each for each in points(request(*facts)) if each.startswith("Found: ")]
    assert len(found) == len(asked)
    assert all(step.why in " ".join(found) for step in asked)
    assert "whom the address belongs to" in " ".join(found)
    assert "Ask" not in " ".join(found)


def test_nothing_is_asked_of_the_owner_that_we_do_ourselves() -> None:
    assert "netcheck" not in request()


def test_what_a_device_calls_itself_is_harmless() -> None:
    nasty = "\x1b[2J\x1b]0;x\x07\u202e\u2028\r\n\t" + "W" * 700
    facts = (Role.NEW, "snmp", "m", Model(nasty)), (Role.OLD, "ipp", "m", Model(nasty))
    page = request(*facts, move=knowing(KEPT, serial=nasty, mac=NEW_MAC))
    assert "<U+001B>" in page
    assert len(page) < 8_000


def test_what_the_work_order_says_is_harmless_too() -> None:
    nasty = "B\x1b[1m\u200f12"
    move = msgspec.structs.replace(knowing(KEPT), site=nasty, job=nasty, when=nasty)
    assert move.new is not None
    page = request(move=msgspec.structs.replace(move, new=msgspec.structs.replace(move.new, jack=nasty)))
    assert page.count("<U+001B>") >= 5


def test_no_secret(monkeypatch: pytest.MonkeyPatch) -> None:
    """A community is a password (RFC 3584 s1, from memory): neither it nor the profile's name concern the owner."""
    monkeypatch.setenv("NETCHECK_SNMP_COMMUNITY", "harrow-secret")
    page = request(*macs(), move=msgspec.structs.replace(knowing(KEPT), snmp_profile="site-profile"))
    assert "harrow-secret" not in page
    assert "site-profile" not in page


def test_nobody_is_asked_to_prepare_an_address_that_is_somebody_elses() -> None:
    """RFC 5227 s1: reserving it would make two machines on one address."""
    page = request(way(), here(), at_planned(STRANGER), known(Role.OLD, OLD_MAC), port("open"))
    wishes = points(page)
    assert not [each for each in wishes if OLD_ADDRESS in each and not each.startswith("Found: ")]
    assert any(each.startswith("Found: ") and OLD_ADDRESS in each for each in wishes)
    assert f"address {GAP}" in one_line(page)


@pytest.mark.parametrize(
    ("asked", "wish"),
    [
        ("Ask the network's owner to clear the table.", "clear the table."),
        ("Ask the network's owner for an address in the subnet.", "give us an address in the subnet."),
        ("Ask the network's owner whose it is.", "tell us whose it is."),
        ("Ask whoever runs the site's name server to add it.", "ask whoever runs the site's name server to add it."),
    ],
)
def test_a_wish_is_one_that_its_reader_can_act_on(asked: str, wish: str) -> None:
    assert _wish(asked) == wish
