"""`netcheck find` as it is, with the DNS-SD probe whether or not this installation names it: `find.py [--json]`."""

import sys

from netcheck.commands import find
from netcheck.probing import installed
from probes.dnssd import PROBE

if all(probe.name != PROBE.name for probe in installed()):
    find.installed = lambda: iter([*installed(), PROBE])
sys.exit(find.run_find("--json" in sys.argv, None, quiet=False, no_color=True, timeout=10.0))
