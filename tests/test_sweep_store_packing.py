"""A case that was packed comes back to the byte; what is damaged is told, never returned."""

import random
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.sweeping.store_packing import MARGIN, SLICE, DamagedError, packed, unpacked
from tests.sweep_nights import EVIDENCE

NEAR_A_SLICE = st.sampled_from([0, 1, SLICE - 1, SLICE, SLICE + 1, 2 * SLICE, 2 * SLICE + MARGIN, 5 * SLICE + 7])


def noise(size: int, seed: int = 1) -> bytes:
    return random.Random(seed).randbytes(size)


@given(NEAR_A_SLICE, NEAR_A_SLICE, st.booleans())
def test_every_length_comes_back_by_every_sample(size: int, sample: int, alike: bool) -> None:
    data, other = noise(size), noise(sample, 1 if alike else 2)
    assert unpacked(packed(data, other), other) == data
    assert unpacked(packed(data)) == data


@given(st.binary(max_size=300), st.binary(max_size=300))
def test_anything_comes_back(data: bytes, sample: bytes) -> None:
    assert unpacked(packed(data, sample), sample) == data


def test_the_case_of_another_night_is_a_fraction_of_the_case() -> None:
    """Other times, clocks and serial number; and one that is longer than zlib looks back."""
    other = EVIDENCE.replace(b"17956283", b"17957147").replace(b"540039", b"914711").replace(b"0457", b"9981")
    assert len(packed(other, EVIDENCE)) * 12 < len(other) < SLICE
    long, longer = EVIDENCE * 3, b"moved a little" + other * 3
    assert len(packed(longer, long)) * 12 < len(longer)


def test_zlib_alone_reads_what_is_shorter_than_a_slice() -> None:
    """Whoever has the file and no netcheck can read it."""
    assert zlib.decompress(packed(EVIDENCE)) == EVIDENCE
    assert zlib.decompressobj(zdict=EVIDENCE).decompress(packed(EVIDENCE, EVIDENCE)) == EVIDENCE


def test_what_is_damaged_is_told() -> None:
    whole = packed(EVIDENCE * 3, EVIDENCE)
    damaged = [
        whole[:-1],
        whole[: len(whole) // 2],
        whole + b"\x00",
        whole[:100] + bytes([whole[100] ^ 4]) + whole[101:],
        b"no zlib at all",
    ]
    for each in damaged:
        with pytest.raises(DamagedError, match=r"Error|ends too early"):
            unpacked(each, EVIDENCE)


def test_another_sample_is_told() -> None:
    """RFC 1950 s2.2: the stream names its dictionary by the Adler-32 of it."""
    for wrong in (EVIDENCE.replace(b"Halden", b"Corvid"), b""):
        with pytest.raises(DamagedError, match=r"Error|ends too early"):
            unpacked(packed(EVIDENCE, EVIDENCE), wrong)


def test_a_stream_that_does_not_end_is_not_followed() -> None:
    with pytest.raises(DamagedError, match="does not end"):
        unpacked(zlib.compress(b"\x00" * (50 << 20)))
