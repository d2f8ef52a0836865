"""Who is who in two cases, and which questions ended otherwise."""

import msgspec
import pytest

from netcheck.case import Attempt, Case, observation
from netcheck.comparing.attempts import AttemptChange, attempt_changes
from netcheck.comparing.facts import fact_changes, move_changes
from netcheck.comparing.pairing import UnknownDeviceError, paired, strangers, swapped
from netcheck.comparing.tables import Theme
from netcheck.facts.identity import (
    Model,
    PrinterNames,
    Serial,
)
from netcheck.facts.link import Neighbour, OwnInterfaceRow, OwnInterfaces
from netcheck.facts.network import InterfaceRow, Interfaces
from netcheck.move import DeviceRef, Move, Ports, QueueRef
from netcheck.roles import Outcome, Role
from tests.conftest import LS_2041, NOW, OUR_ADDRESS, make_case
from tests.test_compare_facts import case_of, compared, told
from tests.test_rules_services_more import tcp

# --- attempts


def asked(target: str, outcome: Outcome, move: Move = LS_2041, role: Role = Role.NEW, reason: str = "") -> Case:
    return make_case([], move, [Attempt(role, "snmp", target, outcome, reason, NOW, 3)])


def test_a_question_that_ended_otherwise() -> None:
    target = "192.0.2.61 udp/161 SNMPv2c prtAlertTable"
    found = attempt_changes(asked(target, Outcome.ANSWERED), asked(target, Outcome.SILENT, reason="no answer"))
    assert found == (
        AttemptChange(
            Role.NEW, "snmp", "udp/snmp SNMP prtAlertTable", (Outcome.ANSWERED,), (Outcome.SILENT,), "no answer"
        ),
    )
    assert attempt_changes(asked(target, Outcome.SILENT), asked(target, Outcome.SILENT)) == ()


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("192.0.2.61 udp/161 SNMPv2c system group", "192.0.2.21 udp/161 SNMPv1 system group"),
        ("ipp://192.0.2.61:631/ipp/print", "ipp://192.0.2.21:631/ipp/print"),
        ("ipp://[2001:db8::61]:631/ipp/print", "ipp://[2001:db8::62]:631/ipp/print"),
        ("fe80::1%eth0 tcp/9100", "fe80::2%eth1 tcp/9100"),
        ("the way to 192.0.2.61", "the way to 192.0.2.21"),
    ],
)
def test_the_same_question_at_another_address(one: str, other: str) -> None:
    assert attempt_changes(asked(one, Outcome.ANSWERED), asked(other, Outcome.ANSWERED)) == ()


def test_on_loopback_a_port_is_part_of_the_address() -> None:
    def case(port: int, state: str) -> Case:
        move = Move(new=DeviceRef("127.0.0.1", ports=Ports(ipp=port)), queue=QueueRef("Plans", f"127.0.0.1:{port + 1}"))
        role, probe, source, fact = tcp("ipp", state)
        here = msgspec.structs.replace(fact, port=port)
        attempts = [Attempt(Role.NEW, "ipp", f"ipp://127.0.0.1:{port}/ipp/print", Outcome.ANSWERED, "", NOW, 3)]
        return make_case([(role, probe, source.replace("631", str(port)), here)], move, attempts)

    one, other = case(41915, "open"), case(37359, "open")
    assert [*fact_changes(one, other), *attempt_changes(one, other), *move_changes(one, other)] == []
    (change,) = (each for each in fact_changes(one, case(37359, "refused")) if not each.moves)
    assert ("state", "open", "refused") in told(change)


def test_off_loopback_a_port_is_told() -> None:
    move = msgspec.structs.replace(LS_2041, new=DeviceRef("192.0.2.61", ports=Ports(ipp=8631)))
    (change,) = move_changes(make_case([]), make_case([], move))
    assert (change.field, change.before, change.after) == ("new ports ipp", None, "8631")


# --- who is who


def device(serial: str, mac: str, role: Role = Role.NEW) -> Case:
    row = InterfaceRow(2, "eth0", "ethernetCsmacd", mac, "up", None)
    return case_of(Serial(serial), Interfaces((row,), complete=True), role=role)


MAC, OTHER_MAC = "02:77:00:00:00:22", "02:77:00:00:00:99"


@pytest.mark.parametrize(
    ("serial", "mac", "what"),
    [
        ("HX-77-0457", MAC, []),
        ("hx-77-0457 ", MAC, []),  # the same, otherwise written
        ("HX-77-0999", MAC, ["serial"]),
        ("HX-77-0457", OTHER_MAC, ["mac"]),
        ("HX-77-0999", OTHER_MAC, ["serial", "mac"]),
        ("0000000000", MAC, []),  # what nobody filled in
    ],
)
def test_a_device_that_is_another_one(serial: str, mac: str, what: list[str]) -> None:
    found = swapped(device("HX-77-0457", MAC), device(serial, mac))
    assert [each.what for each in found] == what
    assert all(each.role is Role.NEW for each in found)


def test_who_tells_no_serial_is_not_another_device() -> None:
    assert swapped(device("HX-77-0457", MAC), case_of()) == ()
    assert swapped(case_of(), device("HX-77-0457", MAC)) == ()


def test_who_answers_at_the_address_counts_where_the_device_tells_nothing() -> None:
    near = [case_of(Neighbour("192.0.2.61", (mac,), "arp", complete=True)) for mac in (MAC, OTHER_MAC)]
    assert [each.what for each in swapped(*near)] == ["mac"]


def test_behind_a_repeater_its_own_word_counts() -> None:
    repeater = (Role.NEW, "address", "arp", Neighbour("192.0.2.61", ("02:77:00:00:00:fe",), "arp", complete=True))
    cases = [device("HX-77-0457", mac) for mac in (MAC, OTHER_MAC)]
    near = [
        msgspec.structs.replace(each, observations=(*each.observations, *make_case([repeater]).observations))
        for each in cases
    ]
    assert [each.what for each in swapped(*near)] == ["mac"]


def alone(host: str, serial: str = "HX-77-0457", ports: Ports = Ports()) -> Case:  # noqa: B008 - frozen
    facts = [(Role.DEVICE, "ipp", "printer-device-id", Serial(serial))]
    return make_case(facts, Move(device=DeviceRef(host, ports=ports)))


def test_a_device_by_itself_takes_the_role_of_its_host() -> None:
    for host, role in (("192.0.2.61", Role.NEW), ("192.0.2.21", Role.OLD)):
        before, after, found = paired(
            alone(host), make_case([(role, "ipp", "printer-device-id", Serial("HX-77-0457"))])
        )
        assert found is role
        assert {each.role for each in (*before.observations, *after.observations)} == {role}
        assert fact_changes(before, after) == ()


def test_the_questions_to_a_device_by_itself_are_those_to_it_in_a_move() -> None:
    ports = Ports(ipp=8631)
    whole = asked("192.0.2.61 tcp/8631", Outcome.ANSWERED, Move(new=DeviceRef("192.0.2.61", ports=ports)))
    single = asked("192.0.2.61 tcp/8631", Outcome.ANSWERED, alone("192.0.2.61", ports=ports).move, Role.DEVICE)
    before, after, _ = paired(single, whole)
    assert attempt_changes(before, after) == ()


def test_of_a_move_only_that_device_is_compared() -> None:
    whole = make_case([(Role.OLD, "ipp", "x", Model("Corvid 24S")), (Role.NEW, "ipp", "x", Model("Halden 36R"))])
    before, _, role = paired(whole, alone("192.0.2.61"))
    assert role is Role.NEW
    assert [each.role for each in before.observations] == [Role.NEW]


def test_at_one_address_the_serial_number_says_who_it_is() -> None:
    """The new device has taken over the old one's address: the host alone does not tell."""
    move = msgspec.structs.replace(LS_2041, new=DeviceRef("192.0.2.61", final="192.0.2.21"))
    whole = make_case(
        [(Role.OLD, "ipp", "x", Serial("CV24-008812")), (Role.NEW, "ipp", "x", Serial("HX-77-0457"))], move
    )
    for serial, role in (("CV24-008812", Role.OLD), ("HX-77-0457", Role.NEW)):
        assert paired(alone("192.0.2.21", serial), whole)[2] is role


def test_on_loopback_the_ports_say_who_it_is() -> None:
    move = Move(old=DeviceRef("127.0.0.1", ports=Ports(ipp=1631)), new=DeviceRef("127.0.0.1", ports=Ports(ipp=2631)))
    whole = make_case([], move)
    assert paired(alone("127.0.0.1", "X-1", Ports(ipp=1631)), whole)[2] is Role.OLD
    assert paired(alone("127.0.0.1", "X-1", Ports(ipp=2631)), whole)[2] is Role.NEW


def test_a_device_that_the_move_does_not_know_is_refused() -> None:
    with pytest.raises(UnknownDeviceError, match=r"192\.0\.2\.99") as caught:
        paired(alone("192.0.2.99"), make_case([]))
    assert "192.0.2.61" in caught.value.wanted


def test_strangers() -> None:
    assert strangers(LS_2041, LS_2041) == []
    other = msgspec.structs.replace(LS_2041, job="LS-9999", new=DeviceRef("192.0.2.99"))
    assert len(strangers(LS_2041, other)) == 2
    moved = msgspec.structs.replace(LS_2041, new=DeviceRef("192.0.2.77", final="192.0.2.61"))
    assert strangers(LS_2041, moved) == []  # it was to have that address


def test_where_we_look_from_is_compared_like_anything_else() -> None:
    own = [OwnInterfaces((OwnInterfaceRow("eth0", address, 24, ""),)) for address in (OUR_ADDRESS, "192.0.2.11")]
    found = fact_changes(case_of(own[0], role=Role.HERE), case_of(own[1], role=Role.HERE))
    assert {each.theme for each in found} == {Theme.ADDRESS}
    assert observation(Role.HERE, "x", "y", NOW, "", own[0]).kind == found[0].kind
    assert compared(PrinterNames("a"), PrinterNames("b"))[0].theme is Theme.IDENTITY
