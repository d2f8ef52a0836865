"""Channels and languages: RFC 3805 s6, IANA-PRINTER-MIB."""

import pytest

from netcheck.facts.channels import ChannelRow, Channels, InterpreterRow, Interpreters
from netcheck.gates import Gate
from netcheck.judge import judge
from netcheck.roles import Role
from netcheck.standard import ServicesRequired, Standard
from netcheck.verdict import Finding, Holds
from tests.conftest import make_case, published

RAW = Standard("x", services_required=ServicesRequired(("raw",)))


def channel(kind: str, state: str) -> Channels:
    return Channels((ChannelRow(1, kind, state, None, "", None, None),), complete=True)


def spoken(*families: str, complete: bool = True) -> Interpreters:
    return Interpreters(tuple(InterpreterRow(n, name, "", "", "") for n, name in enumerate(families, 1)), complete)


@pytest.mark.parametrize("row", published("CHN-03", "CHN-04"))
def test_raw_channels(row: dict[str, str]) -> None:
    """Types 11, 12, 37 and 38 are all raw TCP; noDataAccepted(4) blocks (RFC 3805 s5, s6)."""
    assert row["expected"]
    for kind in ("chPort9100", "chAppSocket", "chPortTCP", "chBidirPortTCP"):
        for state, expected in (("printDataAccepted", Holds.MET), ("noDataAccepted", Holds.UNMET)):
            case = make_case([(Role.NEW, "snmp", "prtChannelTable.1", channel(kind, state))])
            found = [each for each in judge(case, RAW, Gate.SWAP, {}).findings if each.id == "channels.accepting"]
            assert [each.state for each in found] == [expected]


def test_a_channel_of_another_service_says_nothing_about_raw() -> None:
    case = make_case([(Role.NEW, "snmp", "prtChannelTable.1", channel("chIPP", "noDataAccepted"))])
    assert not [each for each in judge(case, RAW, Gate.SWAP, {}).findings if each.id == "channels.accepting"]


def language(old: Interpreters, new: Interpreters) -> Finding:
    case = make_case([(Role.OLD, "snmp", "old", old), (Role.NEW, "snmp", "new", new)])
    (found,) = [each for each in judge(case, Standard(), Gate.SWAP, {}).findings if each.id == "channels.language"]
    return found


@pytest.mark.parametrize(
    ("old", "new", "state"),
    [
        (spoken("langHPGL", "langPDF"), spoken("langPDF"), Holds.UNMET),
        (spoken("langPS3"), spoken("langPS", "langPDF17"), Holds.MET),
        (spoken("langPDF14", "langAutomatic", "langPJL"), spoken("langPDF17"), Holds.MET),
        (spoken("langHPGL"), spoken("langPDF", complete=False), Holds.UNPROVEN),
    ],
)
def test_languages_that_would_be_lost(old: Interpreters, new: Interpreters, state: Holds) -> None:
    assert language(old, new).state is state
