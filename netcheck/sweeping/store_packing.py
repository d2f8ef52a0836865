"""A case in few bytes: zlib, with an earlier case of the same model as its dictionary. Stage: the codec of the store.

Measured with the case of one device by itself (24.2 kB of evidence), with every time, clock, counter and level changed,
and for another device its address, serial and MAC too:

    zlib by itself, level 6                              4.2 kB   0.17 ms
    with the device's own case of the night before       0.9 kB   0.14 ms
    with the case of another device of the model         1.1 kB   0.15 ms

The model's case is the choice: it needs one sample a model, and not one a device, which would cost more than it saves
until the eighteenth night. To store a case only where something but the times has changed saves nothing: uptimes,
round trips and counters are part of the evidence and never the same twice.

zlib looks back 32 kB. So a longer case is cut into slices, each with the part of the sample around the same place.
"""

import zlib

SLICE, MARGIN = 24 << 10, 4 << 10  # a slice, and how far its like may have moved; with both margins they fill the 32 kB
LEVEL = 6


def packed(data: bytes, sample: bytes = b"") -> bytes:
    """``data`` as its difference from ``sample``; by itself where there is none."""
    return b"".join(_pack(data[at : at + SLICE], _around(sample, at)) for at in range(0, len(data), SLICE))


class DamagedError(Exception):
    """What was stored is not as it was."""


def unpacked(data: bytes, sample: bytes = b"") -> bytes:
    """What was packed. Raises DamagedError where it is damaged, or was packed with another sample: zlib's own check
    sums cover both."""
    parts: list[bytes] = []
    while data:
        dictionary = _around(sample, len(parts) * SLICE)
        stream = zlib.decompressobj(zdict=dictionary) if dictionary else zlib.decompressobj()
        try:
            parts.append(stream.decompress(data, SLICE))
            whole = stream.eof or not stream.decompress(stream.unconsumed_tail, 1)
        except zlib.error as error:
            raise DamagedError(str(error)) from error
        if not (whole and stream.eof):
            raise DamagedError("it ends too early, or does not end")
        data = stream.unused_data
    return b"".join(parts)


def _around(sample: bytes, at: int) -> bytes:
    return sample[max(0, at - MARGIN) : at + SLICE + MARGIN]


def _pack(data: bytes, dictionary: bytes) -> bytes:
    deflate = zlib.DEFLATED
    stream = (
        zlib.compressobj(LEVEL, deflate, zlib.MAX_WBITS, zlib.DEF_MEM_LEVEL, zdict=dictionary) if dictionary else None
    )
    stream = stream or zlib.compressobj(LEVEL)
    return stream.compress(data) + stream.flush()
