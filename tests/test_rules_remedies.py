"""What a person is told to do: that it can help, and hurts nobody who is right where he is.

Sources: RFC 826 and RFC 5227 s1 (one owner to an address), RFC 1122 s3.2.2.1 (who says "unreachable"), RFC 1034 (a name
server is not the device), ip-neighbour(8) (a permanent entry is never renewed); the Move's own words otherwise.
"""

import msgspec
import pytest

from netcheck.facts.condition import PrinterState
from netcheck.facts.identity import Serial
from netcheck.facts.network import NameLookup, SnmpAgent
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.move import DeviceRef
from netcheck.report.text import render
from netcheck.roles import Outcome, Role
from netcheck.standard import ServicesRequired
from netcheck.verdict import Holds
from tests.conftest import LS_2041, attempt, make_case
from tests.test_judge import found, only
from tests.test_rules_link import NEW_MAC, OLD_MAC, SITE, Seen, arp, here, judged, port, rule, table, way
from tests.test_rules_planned import KEPT, OLD_ADDRESS, STRANGER, address_row, at_planned, known
from tests.test_rules_services_more import required, tcp

ORDERED = msgspec.structs.replace(KEPT, new=msgspec.structs.replace(KEPT.new or DeviceRef(""), mac=NEW_MAC))
EARLY = way(), here(), arp(), at_planned(OLD_MAC, NEW_MAC), known(Role.OLD, OLD_MAC), port("silent")


def test_a_fixed_entry_is_deleted_and_not_waited_for() -> None:
    fixed = rule("link.remembered", here(), way(), arp(NEW_MAC), table(OLD_MAC, state="permanent"))
    assert fixed.remedy.startswith("Delete the fixed entry")
    assert "192.0.2.61 dev eth0" in fixed.remedy
    learnt = rule("link.remembered", here(), way(), arp(NEW_MAC), table(OLD_MAC, state="stale"))
    assert "fixed" not in learnt.remedy


def test_the_new_device_that_moved_too_early_is_known_by_the_work_order() -> None:
    verdict = judged(*EARLY, move=ORDERED)
    early = only(verdict, "planned.holder")
    assert (early.state, early.item) == (Holds.UNMET, "moved")
    assert "Take that address off the new device" in early.remedy
    # It is the cause why nobody answers where it is asked, and what is to be done is done there.
    assert early.key in only(verdict, "link.neighbour").causes


def test_without_the_work_orders_word_it_is_a_machine_that_nobody_knows() -> None:
    stranger = only(judged(*EARLY, move=KEPT), "planned.holder")
    assert (stranger.state, stranger.item) == (Holds.UNMET, "")
    assert NEW_MAC in stranger.title


@pytest.mark.parametrize("identity", ["planned.holder", "link.owner"])
def test_a_strangers_machine_is_left_alone_until_its_owner_was_asked(identity: str) -> None:
    facts = way(), here(), arp(NEW_MAC, STRANGER), at_planned(STRANGER), known(Role.OLD, OLD_MAC)
    remedy = only(judged(*facts, move=KEPT), identity).remedy
    assert "Ask the network's owner" in remedy
    assert "alone" in remedy
    assert "give it another address" not in remedy


@pytest.mark.parametrize(("state", "first"), [("refused", "Switch raw on"), ("silent", "Switch raw on")])
def test_a_service_that_is_off_is_switched_on(state: str, first: str) -> None:
    remedy = required(tcp("ipp", "open"), tcp("raw", state))["raw"].remedy
    assert remedy.startswith(first)
    assert "TCP port 9100 (raw)" in remedy


def test_where_somebody_said_no_the_devices_settings_come_not_first() -> None:
    remedy = required(tcp("ipp", "open"), tcp("raw", "unreachable"))["raw"].remedy
    assert remedy.startswith("Try from another computer.")
    assert "Switch" not in remedy


def test_a_name_server_that_is_silent_is_not_the_device() -> None:
    move = msgspec.structs.replace(LS_2041, new=DeviceRef("halden.example"))
    case = make_case([], move, [attempt(Role.NEW, "names", Outcome.SILENT, "the resolver did not answer")])
    kinds = {"names": frozenset({NameLookup.kind})}
    remedy = only(judge(case, SITE, Gate.SWAP, kinds), "services.name").remedy
    assert "name server" in remedy
    assert "device answers" not in remedy


def test_our_own_mask_is_corrected_by_who_is_on_the_network_already() -> None:
    masks = [each for each in found(judged(here(prefix=28), way(on_link=False)), "link.here") if each.item == "mask"]
    assert [each.remedy for each in masks] == ["Set this computer's mask to 255.255.255.0 (/24), and run this again."]


def test_the_way_back_never_makes_two_machines_on_one_address() -> None:
    """RFC 5227 s1: where the address is kept, the new device has to be off before the old one is on again."""
    kept, moved = (msgspec.structs.replace(KEPT, address=policy) for policy in ("keep", "new"))
    ways = []
    for move in (kept, moved):
        case = make_case([(Role.OLD, *port("open")[1:])], move)
        ways.append(" ".join(render(case, judge(case, SITE, Gate.LEAVE, {}), Gate.LEAVE).split()))
    first, second = (page.partition("Way back:")[2] for page in ways)
    assert first.index("take the new printer off the network") < first.index("reconnect the old one")
    assert "lead the queue back" in second


def test_what_nobody_answers_for_may_still_be_somebodys() -> None:
    title = rule("link.neighbour", way(), arp(), port("silent")).title
    assert "answers for" in title
    assert OLD_ADDRESS not in title


def test_what_we_send_goes_to_the_old_device_says_the_work_order() -> None:
    """The neighbour table of a reader without rights is proof enough of whom this computer sends to (RFC 826)."""
    facts = way(), here(), table(OLD_MAC), port("silent"), known(Role.OLD, OLD_MAC)
    verdict = judged(*facts, move=ORDERED)
    astray = only(verdict, "link.intended")
    assert astray.state is Holds.UNMET
    assert f"{OLD_MAC}, the old device's" in astray.title
    assert astray.key in only(verdict, "services.reach").causes


@pytest.mark.parametrize(
    "facts",
    [
        (way(), here(), table(OLD_MAC), port("open")),  # another of its interfaces, maybe: it answers
        (way(), here(), table(OLD_MAC), port("refused"), (Role.NEW, "snmp", "agent", SnmpAgent("v2c"))),
        (way(), here(), table(NEW_MAC), port("silent")),  # off, or behind a firewall
        (way(), here(), port("silent")),
    ],
)
def test_nothing_is_said_to_go_astray_that_does_not(facts: tuple[Seen, ...]) -> None:
    assert [each for each in found(judged(*facts, move=ORDERED), "link.intended") if each.state is Holds.UNMET] == []


def test_a_slip_in_the_move_is_no_reason_to_unplug_the_old_printer() -> None:
    """The Move gives both one address: the old printer is right where it is."""
    same = NameLookup("192.0.2.21", ("192.0.2.21",))
    move = msgspec.structs.replace(
        LS_2041, old=DeviceRef("192.0.2.21", serial="CV24-008812"), new=DeviceRef("192.0.2.21")
    )
    facts: list[Seen] = [(role, "names", "resolver", same) for role in (Role.OLD, Role.NEW)]
    case = make_case([*facts, (Role.NEW, "ipp", "serial", Serial("CV24-008812"))], move)
    finding = only(judge(case, SITE, Gate.SWAP, {}), "identity.is-old")
    assert finding.state is Holds.UNMET
    assert finding.remedy == "Correct the new device's host in the Move."


def test_a_reservation_is_changed_at_the_swap_and_no_sooner() -> None:
    """RFC 2131 s4.4.5: at its next renewal the old device would lose the address while people print on it."""
    facts = way(), here(), address_row("192.0.2.21", "dhcp")
    remedy = only(judged(*facts, move=KEPT), "planned.reservation").remedy
    assert "at the time of the swap, and no sooner" in remedy


@pytest.mark.parametrize(
    ("facts", "says"),
    [
        ([(Role.OLD, *port("silent")[1:])], "so there may be none"),
        ([(Role.OLD, *port("silent")[1:]), port("silent")], "could not be looked at from here"),
    ],
)
def test_the_way_back_is_not_denied_where_we_are_blind(facts: list[Seen], says: str) -> None:
    case = make_case([*facts, *([port("open")] if len(facts) == 1 else [])], KEPT)
    page = " ".join(render(case, judge(case, SITE, Gate.SWAP, {}), Gate.SWAP).split())
    assert says in page.partition("Way back:")[2]


def test_waiting_for_a_job_takes_as_long_as_the_job() -> None:
    printing = (Role.NEW, "ipp", "state", PrinterState("processing", (), True))
    standard = msgspec.structs.replace(SITE, services_required=ServicesRequired(("raw",)))
    case = make_case([tcp("ipp", "open"), tcp("raw", "refused"), printing])
    page = render(case, judge(case, standard, Gate.SWAP, {}), Gate.SWAP)
    waiting = page.partition("raw (port 9100) is not free")[2].partition("netcheck explain services.required")[0]
    assert "Wait until" in waiting
    assert "takes" not in waiting
