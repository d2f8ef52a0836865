"""What octets say as text: IANA's character sets, and what devices do with them.

The sets are those of fixtures/snmp/iana_charsets.csv; that our codec is the one of that name is CPython's own word.
What devices do is seen in the field; common practice, no source, unless a check names one.
"""

import codecs
import csv

import pytest
from hypothesis import given
from hypothesis import strategies as st

from probes.snmp.text import CHARSETS, decoded
from tests.conftest import FIXTURES

with (FIXTURES / "snmp" / "iana_charsets.csv").open(encoding="utf-8", newline="") as file:
    REGISTRY = {int(row["mibenum"]): row["label"] for row in csv.DictReader(file)}

NAMED_OTHERWISE = {  # labels that CPython does not know as aliases, and names of the same sets that it does
    "csUTF8": "UTF-8",
    "csEUCPkdFmtJapanese": "EUC-JP",
    "csUnicode": "UTF-16BE",  # ISO-10646-UCS-2 is its basic plane, big-endian
    "csUTF16": "UTF-16",
    "csUTF16BE": "UTF-16BE",
    "csUTF16LE": "UTF-16LE",
    "csGBK": "GBK",
    "csGB18030": "GB18030",
    "csPC8CodePage437": "IBM437",
    "csHPRoman8": "hp-roman8",
    "csGB2312": "GB2312",
    "csHZGB2312": "HZ-GB-2312",
    "csPC775Baltic": "IBM775",
    "csIBM00858": "IBM858",
    "csTIS620": "TIS-620",
    "csWindows31J": "ms932",
    "csEUCKR": "EUC-KR",
    "csMacintosh": "macintosh",
    **{f"csISO8859{part}": f"ISO-8859-{part}" for part in (13, 14, 15, 16)},
    **{f"cswindows{page}": f"windows-{page}" for page in range(1250, 1259)},
    "cswindows874": "cp874",
    "csKOI8U": "KOI8-U",
    "csISO2022JP2": "ISO-2022-JP-2",
}


def test_a_device_finds_the_sets_that_devices_use() -> None:
    """The Latin, Cyrillic, Greek, Hebrew, Thai, Japanese, Chinese and Korean ones; those of terminals are left out."""
    assert len(CHARSETS) > 50
    assert REGISTRY.keys() >= CHARSETS.keys()


@pytest.mark.parametrize("number", sorted(CHARSETS))
def test_every_set_is_the_registry_s(number: int) -> None:
    label = REGISTRY[number]
    assert codecs.lookup(CHARSETS[number]).name == codecs.lookup(NAMED_OTHERWISE.get(label, label)).name


@pytest.mark.parametrize(
    ("octets", "declared", "text"),
    [
        (b"Roll 1\0\0 ", "utf-8", "Roll 1"),
        (b"  Roll 1", "utf-8", "  Roll 1"),
        (b"Roll 1\0\x17\xff", "utf-8", "Roll 1"),
        (b"\0\0HX-77", "utf-8", "HX-77"),
        ("Rouleau supérieur".encode(), "utf-8", "Rouleau supérieur"),
        ("Rouleau supérieur".encode("latin-1"), "utf-8", "Rouleau supérieur"),
        ("Rouleau supérieur".encode("latin-1"), "iso8859-1", "Rouleau supérieur"),
        ("Qualité".encode("latin-1"), "utf-8", "Qualité"),
        ("Qualité".encode("latin-1"), "iso8859-1", "Qualité"),
        ("ロール".encode("shift_jis"), "shift_jis", "ロール"),
        ("ﾂｻ".encode("shift_jis"), "shift_jis", "ﾂｻ"),
        ("Rouleau supérieur".encode(), "ascii", "Rouleau supérieur"),
        ("Größe".encode("hp-roman8"), "hp-roman8", "Größe"),
        ("Größe".encode("cp850"), "cp850", "Größe"),
        ("Größe".encode(), "cp850", "Größe"),
        ("휴면".encode(), "hp-roman8", "휴면"),
        ("Größe".encode() + "ß".encode()[:1], "cp850", "Größe"),
        ("Größe".encode("utf-16-be"), "utf-16-be", "Größe"),
        (codecs.BOM_UTF16_LE + "Größe\0\0".encode("utf-16-le"), "utf-16", "Größe"),
        ("Größe".encode(), "utf-16-be", "Größe"),
        (b"\xff\xfe", "utf-8", "ÿþ"),
        (b"", "utf-8", ""),
        (b"\0", "utf-16", ""),
    ],
)
def test_text_is_what_the_device_means(octets: bytes, declared: str, text: str) -> None:
    assert decoded(octets, declared) == text


@given(st.binary(max_size=60), st.sampled_from(sorted(set(CHARSETS.values()))))
def test_any_octets_are_some_text(octets: bytes, declared: str) -> None:
    assert "\0" not in decoded(octets, declared)


@given(st.text(st.characters(min_codepoint=0x20, max_codepoint=0xFFFF, categories=("L", "N")), max_size=30))
def test_utf_8_is_utf_8_whatever_one_octet_set_is_declared(text: str) -> None:
    for declared in ("utf-8", "ascii", "hp-roman8", "cp850", "iso8859-1"):
        assert decoded(text.encode(), declared) == text
