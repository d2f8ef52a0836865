"""Stage: ask, the ears. One zeroconf instance that browses for all that prints, for all targets of a run.

The library owns the sockets, the questions with their times (RFC 6762 s5.2) and the cache. What is read is the cache,
not its callbacks: where two devices claim one name, only the cache keeps the SRV records of both.

Only fresh answers prove presence: a TXT record may lie in a cache for 75 minutes (RFC 6762 s10) after its device has
gone. So the cache is our own, it begins empty, and whoever asks when it is older than `FRESH_S` gets a new one.
"""

import asyncio
import time
from typing import Final, Self

from zeroconf import BadTypeInNameException, DNSQuestionType, Zeroconf
from zeroconf.asyncio import AsyncServiceBrowser, AsyncServiceInfo, AsyncZeroconf

from probes.dnssd.instance import DOMAIN, SUBTYPES, TYPES, Instance
from probes.dnssd.links import LOOPBACK, usable
from probes.dnssd.records import instances

FRESH_S: Final = 10.0
SETTLE_S: Final = 0.15
"""All devices answer within 20 to 120 ms (RFC 6762 s6), and what one of them has to say comes together."""
RESOLVES_AT_ONCE: Final = 16
"""More at once make answers get lost in the receive buffer."""
RESOLVE_S: Final = 0.12
"""For one question. A unique record's owner answers at once (RFC 6762 s6); what comes later is heard all the same."""


class Browser:
    """One browse with a cache of its own. ``version`` grows with everything new that is heard."""

    def __init__(self, zeroconf: AsyncZeroconf) -> None:
        self.version = 0
        self._zeroconf = zeroconf
        self._heard_at = 0.0
        self._more = asyncio.Event()
        types = [f"{name}{DOMAIN}" for name in (*TYPES, *SUBTYPES)]
        # Asked for multicast answers: with several programs at port 5353 an answer by unicast reaches one of them.
        self._browser = AsyncServiceBrowser(
            zeroconf.zeroconf, types, handlers=[self._heard], question_type=DNSQuestionType.QM
        )
        self._tried: set[Instance] = set()

    @classmethod
    async def start(cls, addresses: list[str]) -> Self:
        """Listen and ask on the links that these addresses of ours are on. Raises OSError."""
        return cls(AsyncZeroconf(interfaces=addresses))

    async def stop(self) -> None:
        """Close the sockets."""
        await self._browser.async_cancel()
        await self._zeroconf.async_close()

    def instances(self) -> tuple[Instance, ...]:
        """What has been heard by now and not been taken back, complete or not."""
        return instances(self._zeroconf.zeroconf.cache)

    async def settled(self, known: int, until: float) -> int:
        """Wait until there is more than at version ``known`` and then nothing new for `SETTLE_S`; no longer than to
        ``until`` (monotonic). Returns the version."""
        while (left := until - time.monotonic()) > 0:
            quiet = self._heard_at + SETTLE_S - time.monotonic()
            if self.version != known and quiet <= 0:
                break
            try:
                async with asyncio.timeout(left if self.version == known else min(quiet, left)):
                    await self._more.wait()
            except TimeoutError:
                continue
        return self.version

    async def resolve(self, until: float) -> None:
        """Ask for what the answers left out, and for what those answers leave out in turn: a responder may send a
        pointer without what it points to, and a host name without its address. Nothing is asked twice."""
        limit = asyncio.Semaphore(RESOLVES_AT_ONCE)

        async def ask(instance: Instance) -> None:
            async with limit:
                if (left := min(RESOLVE_S, until - time.monotonic())) > 0:
                    self._tried.add(instance)
                    await _resolve(self._zeroconf.zeroconf, instance, round(left * 1000))

        while left_out := self._left_out():
            async with asyncio.TaskGroup() as group:
                for instance in left_out:
                    group.create_task(ask(instance))
            if time.monotonic() >= until:
                break

    def _left_out(self) -> list[Instance]:
        return [each for each in self.instances() if not each.complete and each not in self._tried]

    def _heard(self, **_: object) -> None:
        self.version += 1
        self._heard_at = time.monotonic()
        self._more.set()
        self._more = asyncio.Event()


async def _resolve(zeroconf: Zeroconf, instance: Instance, wait_ms: int) -> None:
    try:
        info = AsyncServiceInfo(f"{instance.type}{DOMAIN}", f"{instance.name}.")
    except BadTypeInNameException:
        return  # a name that no service may have: it stays as incomplete as it came
    await info.async_request(zeroconf, wait_ms, DNSQuestionType.QM)


class Network:
    """The browser of a run, on all links that we have, loopback included."""

    def __init__(self) -> None:
        self.fault: OSError | None = None
        """Why nothing but loopback can be asked, where that is so."""
        self._browsers: list[tuple[float, Browser]] = []
        self._starting = asyncio.Lock()

    @classmethod
    async def open(cls) -> Self:
        """For `Wire.shared`. Nothing is sent yet."""
        return cls()

    def addresses(self) -> list[str]:
        """Addresses of ours, one a link."""
        found, self.fault = usable()
        return found

    async def browser(self) -> Browser:
        """One whose answers are fresh. Raises OSError when nothing can be heard at port 5353."""
        async with self._starting:
            now = time.monotonic()
            if not self._browsers or now - self._browsers[-1][0] > FRESH_S:
                self._browsers.append((now, await Browser.start(self.addresses())))
                # Whoever still asks the one before has less than `FRESH_S` to go; the one before that is done.
                for _, done in self._browsers[:-2]:
                    await done.stop()
                del self._browsers[:-2]
            return self._browsers[-1][1]

    async def close(self) -> None:
        """Stop listening."""
        for _, browser in self._browsers:
            await browser.stop()
        self._browsers.clear()


class Loopback(Network):
    """The same for what is on this machine: nothing leaves it."""

    def addresses(self) -> list[str]:
        """Our own."""
        return [LOOPBACK]
