"""`netcheck find` as it is: `find.py [--json]`."""

import sys

from netcheck.commands import find

sys.exit(find.run_find("--json" in sys.argv, None, quiet=False, no_color=True, timeout=10.0))
