"""The published rules of what IPP carries as strings, line by line: IEEE 1284's device ID and PWG 5101.1's size names.

Each value stands beside its source and was taken from there by hand. What could be had only from memory says so.
"""

import pytest

from netcheck.facts.deviceid import parse_device_id
from netcheck.facts.identity import DeviceId
from netcheck.facts.media import MediaReady, MediaSize, Span, parse_size_name, sizes_from_names
from netcheck.standard import Print, PrintDemand, Standard
from netcheck.verdict import Holds

from .test_ipp_bytes import Value, attribute, between, collection, integer, text
from .test_ipp_published import ruled
from .test_ipp_reading import only_fact, read_facts

# --- IEEE 1284 device ID (by a public description), PWG 5107.1, PWG 5107.2

PLAIN = "MANUFACTURER:Halden;COMMAND SET:PDF,HPGL2;MODEL:36R;CLASS:PRINTER;"
PAIRS = (("MANUFACTURER", "Halden"), ("COMMAND SET", "PDF,HPGL2"), ("MODEL", "36R"), ("CLASS", "PRINTER"))
LENGTH = 2 + len(PLAIN)  # the two octets count themselves


@pytest.mark.parametrize(
    "said",
    [
        PLAIN,
        PLAIN.removesuffix(";"),  # common practice: the last semicolon is missing
        chr(LENGTH >> 8) + chr(LENGTH & 255) + PLAIN,  # most significant first, as on a cable
        chr(LENGTH & 255) + chr(LENGTH >> 8) + PLAIN,  # common practice: the other way round
        chr(0x01) + chr(0x85) + PLAIN,  # common practice: a wrong length
        chr(0x85) + chr(0x01) + PLAIN,
        PLAIN.replace(":", " :\t").replace(";", "\v;\f\r\n"),  # blanks around keys and values do not count
        PLAIN + "MODEL:other;",  # common practice: the first of two counts
    ],
)
def test_device_ids(said: str) -> None:
    assert parse_device_id(said) == PAIRS


def test_keys_have_a_case_and_short_forms_are_other_keys() -> None:
    said = DeviceId(parse_device_id("mdl:no;MDL:36R;MFG:Halden;"))
    assert (said.get("MDL", "MODEL"), said.get("MODEL"), said.get("Mdl")) == ("36R", "", "")


def test_the_longest_device_id() -> None:
    """1023 octets (PWG 5107.1), and more where a device does not keep to it."""
    for length in (1023, 4000):
        said = f"{PLAIN}CMT:".ljust(length - 1, "x") + ";"
        fact = read_facts(attribute("printer-device-id", text(said)))["printer-device-id"][0]
        assert isinstance(fact, DeviceId)
        assert len(fact.get("CMT")) == length - len(PLAIN) - len("CMT:;")


# --- PWG 5101.1: self-describing size names (names from memory); 1 in is 2540, 1 mm is 100 hundredths of a millimetre


@pytest.mark.parametrize(
    ("named", "x", "y"),
    [
        ("na_letter_8.5x11in", 215_900, 279_400),
        ("na_legal_8.5x14in", 215_900, 355_600),
        ("na_edp_11x14in", 279_400, 355_600),
        ("na_ledger_11x17in", 279_400, 431_800),
        ("na_super-b_13x19in", 330_200, 482_600),
        ("na_executive_7.25x10.5in", 184_150, 266_700),
        ("na_index-4x6_4x6in", 101_600, 152_400),
        ("na_number-10_4.125x9.5in", 104_775, 241_300),
        ("na_monarch_3.875x7.5in", 98_425, 190_500),
        ("na_arch-d_24x36in", 609_600, 914_400),
        ("na_arch-e_36x48in", 914_400, 1_219_200),
        ("iso_a0_841x1189mm", 841_000, 1_189_000),
        ("iso_a3_297x420mm", 297_000, 420_000),
        ("iso_a4_210x297mm", 210_000, 297_000),
        ("iso_a5_148x210mm", 148_000, 210_000),
        ("iso_a6_105x148mm", 105_000, 148_000),
        ("iso_dl_110x220mm", 110_000, 220_000),
        ("jis_b5_182x257mm", 182_000, 257_000),
        ("roc_16k_7.75x10.75in", 196_850, 273_050),
        ("asme_f_28x40in", 711_200, 1_016_000),
        ("custom_plan_0.5x300in", 12_700, 7_620_000),
    ],
)
def test_size_names(named: str, x: int, y: int) -> None:
    """In micrometres: the tenfold of what the standard computes."""
    parsed = parse_size_name(named)
    assert parsed is not None
    assert parsed.size() == MediaSize(Span(x, x), Span(y, y))


@pytest.mark.parametrize(
    "named",
    [
        "na_letter_08.5x11in",  # a leading zero
        "na_letter_.5x11in",
        "na_letter_8.5X11in",
        "na_letter_8.5x11",
        "na letter_8.5x11in",
        "iso_a4_210x297cm",
        "choice_iso_a4_210x297mm_na_letter_8.5x11in",  # one of two, and not told which
        "na-letter",
        "iso-a4",
        "main",
    ],
)
def test_what_is_no_size_name_gives_no_size(named: str) -> None:
    assert parse_size_name(named) is None
    assert sizes_from_names((named,)) == ()


@pytest.mark.parametrize("x", [10477, 10478, 10427, 10528])
def test_half_units_are_rounded_either_way(x: int) -> None:
    """na_number-10 is 10477.5 wide: both neighbours occur, and sizes are compared within 0.5 mm (common practice)."""
    assert loaded(integer(x), integer(24130)) is (10427.5 <= x <= 10527.5)


@pytest.mark.parametrize(("x", "y"), [(integer(24130), integer(10477)), (between(10000, 11000), between(24000, 25000))])
def test_turned_or_in_a_range(x: Value, y: Value) -> None:
    assert loaded(x, y)


def loaded(x: Value, y: Value) -> bool:
    """Is an envelope that a Standard wants loaded, where media-col-ready says this size (PWG 5100.7)?"""
    size = collection(x_dimension=x, y_dimension=y)
    fact = only_fact("media-col-ready", attribute("media-col-ready", collection(media_size=size)))
    assert isinstance(fact, MediaReady)
    wanted = Print("na_number-10_4.125x9.5in", 104_775, 241_300, "", "")
    findings = ruled("media.loaded", fact, Standard(prints=PrintDemand((wanted,))))
    return all(each.state is Holds.MET for each in findings.values())
