"""TXT records: the published examples, and whatever octets a device may send (RFC 6763 s6.1 to s6.5)."""

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from netcheck.facts.link import Advertisement, TxtEntry
from probes.dnssd.txt import MAX_ENTRIES, entries

from .conftest import published

Json = dict[str, str]


def record(*strings: bytes) -> bytes:
    """RFC 1035 s3.3.14: each string after an octet with its length."""
    return b"".join(bytes([len(string)]) + string for string in strings)


def advertised(*strings: bytes) -> Advertisement:
    return Advertisement("Plans", "_ipp._tcp", 631, ("plans-new.local",), ("192.0.2.61",), entries(record(*strings)))


@pytest.mark.parametrize("row", published("MDN-08"))
def test_the_example_of_the_standard(row: Json) -> None:
    octets = bytes.fromhex(row["input"].removeprefix("TXT octets ").replace(" ", ""))
    assert row["expected"] == 'key="value", paper="A4", passreq present without value'
    assert entries(octets) == (TxtEntry("key", "value"), TxtEntry("paper", "A4"), TxtEntry("passreq", None))


@pytest.mark.parametrize("row", published("MDN-14"))
def test_case_makes_no_difference(row: Json) -> None:
    one, other = (part.strip('"').encode() for part in row["input"].removeprefix("TXT ").split(" vs "))
    assert row["expected"] == "same key"
    assert entries(record(one)) == entries(record(other)) == entries(record(one, other))


@pytest.mark.parametrize("row", published("MDN-17"))
def test_a_value_goes_on_after_another_equals_sign(row: Json) -> None:
    string = row["input"].removeprefix("TXT ").strip('"').encode()
    key, _, value = row["expected"].partition(" -> ")
    assert entries(record(string)) == (TxtEntry(key, value.strip('"')),)


@pytest.mark.parametrize(
    ("string", "entry"),
    [
        (b"passreq", TxtEntry("passreq", None)),  # s6.4: present without a value
        (b"note=", TxtEntry("note", "")),  # s6.4: present with an empty value
        (b"note= A4 ", TxtEntry("note", " A4 ")),  # s6.5: blanks belong to it
        (b'note="A4"', TxtEntry("note", '"A4"')),  # s6.5: quotes belong to it
        (b"a key=1", TxtEntry("a key", "1")),  # s6.4: blanks in a key count
        ("note=Plankammer größe".encode(), TxtEntry("note", "Plankammer größe")),
        (b"note=\xff\x00", TxtEntry("note", "", "ff00")),  # s6.5: any octets
        (b"note=\x1b[31m", TxtEntry("note", "\x1b[31m")),  # kept as it came; the page makes it harmless
        (b"=value", None),  # s6.4: silently ignored
        (b"", None),  # s6.1: an empty record is one empty string
        (b"\xc3\xa9=1", None),  # s6.4: a key is printable ASCII
        (b"no\x07te=1", None),
    ],
)
def test_one_string(string: bytes, entry: TxtEntry | None) -> None:
    assert entries(record(string)) == ((entry,) if entry else ())


def test_only_the_first_of_equal_keys_counts() -> None:
    """RFC 6763 s6.4, whatever the later ones are."""
    assert entries(record(b"rp", b"RP=ipp/print", b"rp=")) == (TxtEntry("rp", None),)


def test_four_outcomes_stay_apart() -> None:
    """RFC 6763 s6.4: absent, alone, empty, with a value."""
    said = {entry.key: entry.value for entry in entries(record(b"alone", b"empty=", b"value=x"))}
    assert said == {"alone": None, "empty": "", "value": "x"}
    assert "absent" not in said


@pytest.mark.parametrize(
    ("key", "usual"),
    # Printing over DNS-SD, taken over by PWG 5100.14: from memory.
    [
        ("qtotal", "1"),
        ("priority", "50"),
        ("pdl", "application/postscript"),
        ("air", "none"),
        ("Color", "U"),
        ("rp", ""),
    ],
)
def test_what_an_absent_key_means_by_convention(key: str, usual: str) -> None:
    assert advertised().usual(key) == usual
    assert advertised(f"{key}=x".encode()).usual(key) == "x"
    assert advertised(f"{key}=".encode()).usual(key) == ""  # empty is not absent


@pytest.mark.parametrize("cut", range(1, 9))
def test_a_string_that_was_cut_off_is_what_there_is_of_it(cut: int) -> None:
    assert entries(record(b"key=value")[:-cut])[:1] in (
        (TxtEntry("key", "value"[:-cut]),),
        (TxtEntry("key"[: 9 - cut], None),),
    )


keys = st.text(st.characters(min_codepoint=0x20, max_codepoint=0x7E, exclude_characters="="), min_size=1, max_size=9)
values = st.none() | st.binary(max_size=200)


@given(st.lists(st.tuples(keys, values), max_size=40))
def test_what_was_put_in_comes_out(pairs: list[tuple[str, bytes | None]]) -> None:
    strings = [key.encode() if value is None else key.encode() + b"=" + value for key, value in pairs]
    first: dict[str, bytes | None] = {}
    for key, value in pairs:
        first.setdefault(key.lower(), value)
    found = entries(record(*strings))
    assert [entry.key for entry in found] == list(first)
    for entry in found:
        value = first[entry.key]
        assert (entry.value is None) == (value is None)
        if value is not None:
            assert (bytes.fromhex(entry.binary) or (entry.value or "").encode()) == value


@given(st.binary(max_size=2000))
@example(b"\xff")
@example(b"\x00" * 1300)
@example(record(*(b"%d=" % number for number in range(300))))
def test_any_octets_give_a_bounded_answer(octets: bytes) -> None:
    found = entries(octets)
    assert len(found) <= MAX_ENTRIES
    assert len({entry.key for entry in found}) == len(found)
    for entry in found:
        assert entry.key
        assert entry.key.isascii()
        assert entry.key.isprintable()
        assert entry.key == entry.key.lower()
        assert "=" not in entry.key
        assert not (entry.binary and entry.value)
