"""The simulated site for callers that block: programs under test, plain sockets, an interactive prompt.

    with running_site(SCENARIOS["ready"]) as site:
        subprocess.run([...])

The site runs in an event loop in a thread of its own and is stopped when the block ends, whatever happened in it.
"""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Iterator
from contextlib import contextmanager

from netcheck.rehearsal.scenarios import Scenario
from netcheck.rehearsal.site import Site

_PATIENCE = 10.0  # seconds for starting and for stopping; both take milliseconds


@contextmanager
def running_site(scenario: Scenario) -> Iterator[Site]:
    """A started site. Raises OSError when loopback gives no ports, TimeoutError when the loop hangs."""
    site = Site(scenario)
    loop = asyncio.new_event_loop()
    thread = threading.Thread(target=loop.run_forever, name="rehearsal", daemon=True)
    thread.start()
    try:
        asyncio.run_coroutine_threadsafe(site.__aenter__(), loop).result(_PATIENCE)
        try:
            yield site
        finally:
            asyncio.run_coroutine_threadsafe(site.__aexit__(None, None, None), loop).result(_PATIENCE)
    finally:
        loop.call_soon_threadsafe(loop.stop)
        thread.join(_PATIENCE)
        loop.close()
