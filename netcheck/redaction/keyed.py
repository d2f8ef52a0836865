"""Numbers that depend on a key. Stage: the bottom of the redaction; nothing else in it is random.

HMAC-SHA-256 (RFC 2104, FIPS 180-4) of what is replaced. Without the key nobody can try out all serial numbers, or all
4,294,967,296 addresses, to see which of them falls on what stands in a redacted case.
"""

import hashlib
import hmac
from collections.abc import Iterator

SHORTEST_KEY = 16
"""Octets; the key of one redaction is made at random and thrown away."""


class Key:
    """The key of one redaction. ``purpose`` keeps apart what is drawn for a serial number and for a name."""

    def __init__(self, key: bytes) -> None:
        if len(key) < SHORTEST_KEY:
            raise ValueError(f"a key of {len(key)} octets, shorter than {SHORTEST_KEY}")
        self._key = key

    def number(self, purpose: str, value: str, bits: int, draw: int = 0) -> int:
        """A number of so many bits; another one for each ``draw``, where the first cannot be taken."""
        octets = b"".join(self._block(purpose, value, draw, block) for block in range(bits // 256 + 1))
        return int.from_bytes(octets, "big") & ((1 << bits) - 1)

    def below(self, purpose: str, value: str, bound: int, draw: int = 0) -> int:
        """A number from 0 to below ``bound``. The 64 bits beyond what is needed leave no bias that could be seen."""
        return self.number(purpose, value, bound.bit_length() + 64, draw) % bound

    def digits(self, purpose: str, value: str, draw: int = 0) -> Iterator[int]:
        """Numbers below 2^16, as many as are taken."""
        block = 0
        while True:
            octets = self._block(purpose, value, draw, block)
            yield from (int.from_bytes(octets[at : at + 2], "big") for at in range(0, len(octets), 2))
            block += 1

    def _block(self, purpose: str, value: str, draw: int, block: int) -> bytes:
        text = f"{purpose}\0{draw}\0{block}\0{value}".encode("utf-8", "surrogatepass")
        return hmac.new(self._key, text, hashlib.sha256).digest()
