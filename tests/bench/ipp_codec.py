"""How long reading an IPP response takes, against an independent parser, on the same octets in the same run.

    python tests/bench/ipp_codec.py

Prints microseconds a message and the ratio. Machines differ and are noisy: the ratio is what can be compared.
"""

import statistics
import time
from collections.abc import Callable
from pathlib import Path

from pyipp.parser import parse

from probes.ipp.codec import decode

RECORDED = Path(__file__).parents[2] / "fixtures" / "ipp"
ROUNDS = 15
MESSAGES_A_ROUND = 100


def microseconds(read: Callable[[bytes], object], octets: bytes) -> float:
    """Of one call: the median of the rounds."""
    rounds = []
    for _ in range(ROUNDS):
        began = time.perf_counter()
        for _ in range(MESSAGES_A_ROUND):
            read(octets)
        rounds.append((time.perf_counter() - began) / MESSAGES_A_ROUND * 1e6)
    return statistics.median(rounds)


def main() -> None:
    print(f"{'message':22}{'octets':>8}{'ours us':>10}{'pyipp us':>10}{'ratio':>8}")
    for path in sorted(RECORDED.glob("*.ipp")):
        octets = path.read_bytes()
        ours, theirs = microseconds(decode, octets), microseconds(parse, octets)
        print(f"{path.name:22}{len(octets):8}{ours:10.1f}{theirs:10.1f}{theirs / ours:8.1f}")


if __name__ == "__main__":
    main()
