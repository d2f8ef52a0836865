"""What starting up costs, as a ratio: ``netcheck --help`` against ``python -c pass``, in one run.

    python tests/bench/startup.py

Goal: at most 6 times, and no network library imported.
"""

import statistics
import subprocess
import sys
import time

ROUNDS = 15
GOAL = 6.0
HELP = "import sys; sys.argv = ['netcheck', '--help']; from netcheck.cli import run; run()"
LOADED = (
    "import sys\nfrom netcheck.cli import _guarded\n_guarded(['--help'])\n"
    "print(*sorted({m.partition('.')[0] for m in sys.modules}), file=sys.stderr)"
)
NETWORK = {"asyncio", "ssl", "msgspec", "pysnmp", "pyasn1", "zeroconf", "scapy", "aiohttp", "h11", "netifaces"}


def milliseconds(code: str) -> float:
    """Wall time of one new interpreter."""
    began = time.perf_counter()
    subprocess.run([sys.executable, "-c", code], stdout=subprocess.DEVNULL, check=True)
    return (time.perf_counter() - began) * 1000


def main() -> int:
    """Alternate the two, so that the machine's moods hit both; print medians and their ratio."""
    bare, helped = [], []
    for _ in range(ROUNDS):
        bare.append(milliseconds("pass"))
        helped.append(milliseconds(HELP))
    ratio = statistics.median(helped) / statistics.median(bare)
    loaded = subprocess.run([sys.executable, "-c", LOADED], capture_output=True, text=True, check=True).stderr.split()
    network = NETWORK & set(loaded)
    print(f"python -c pass   {statistics.median(bare):7.1f} ms")
    print(f"netcheck --help  {statistics.median(helped):7.1f} ms   {ratio:.1f} times (goal: at most {GOAL:.0f})")
    print(f"network libraries imported: {', '.join(sorted(network)) or 'none'}")
    return 0 if ratio <= GOAL and not network else 1


if __name__ == "__main__":
    sys.exit(main())
