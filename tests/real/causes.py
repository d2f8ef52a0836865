"""What keeps a printer from being reached, or from staying reachable: each cause built, shown by others, and judged.

`python -m tests.real.causes [WORD...]` builds each cause (or those whose name has one of the words), asks `netcheck
ready` as an administrator and as a nobody, and prints the table of what came of it.

A cause is data. `build` puts it into an office that is in order. `shows` are the words of tools that have nothing to do
with this project (iproute2, iputils, nft's counters, net-snmp, Avahi), which prove that it is there. What a reader must
come to is a `Reading`; whatever else the page says against the move is held to be false, and fails.
"""

import re
import shlex
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import dataclass, field
from fnmatch import fnmatchcase
from typing import Final, Literal, Self

from .causes_asking import READERS, Reader, below, notes, ready, roots
from .devices import Device
from .office import Machine, Office
from .site import Place, Site
from .visit import MOVE, STANDARD, Answer

AT_ONCE: Final = 2
"""Causes at a time: most of a run is waiting for what does not answer."""
LONGEST: Final = 120
"""Of a longer line the table has only what was looked for."""
EXIT: Final = {"ready": 0, "ready-with-care": 0, "not-ready": 1, "cannot-tell": 3}
CLAIMED_S: Final = 1.5
"""A responder first looks whether a name is taken: three probes, 250 ms apart, after up to 250 ms (RFC 6762 s8.1)."""
LATER: Final = ("address.final", "queue.points-to-new", "announced.old-announced", "planned.gone")
ALWAYS: Final = ("planned.caches",)
"""A note that is true wherever the old device's address is kept."""
SYMPTOMS: Final = ("services.reach", "services.required/*", "services.old-reach", *LATER)
"""True of whatever does not answer, and of what has not moved: they may always stand below a cause, or for later."""


@dataclass(frozen=True)
class Shown:
    """What an independent tool, run at `place`, must say of the cause: `pattern` is a regular expression."""

    place: Place
    command: str
    pattern: str

    def line(self, site: Site) -> str:
        """The line that shows it; AssertionError where none does."""
        argv = [word.format(folder=site.folder) for word in shlex.split(self.command)]
        done = site.run(self.place, *argv)
        said = done.stdout + done.stderr
        found = next((match for line in said.splitlines() if (match := re.search(self.pattern, line))), None)
        assert found is not None, f"{self.place}: {self.command}: no {self.pattern!r} in {said}"
        whole = found.string if len(found.string) < LONGEST else found[0]
        return f"{argv[0]}: {' '.join(whole.split())}"


@dataclass(frozen=True)
class Reading:
    """What one reader must come to.

    `roots` must all be named, each by one of its ids (`link.owner|link.old-owner`); `also` may be named besides, since
    they are true of what was built, and so may the `notes`. `states` are the answers that are right.
    """

    roots: tuple[str, ...] = ()
    states: tuple[str, ...] = ("not-ready",)
    also: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    below: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    unsaid: tuple[str, ...] = ()


class Scene:
    """An office in order, and what is to be undone of what was done to it."""

    def __init__(self, office: Office, later: ExitStack) -> None:
        self.office: Final = office
        self.site: Final = office.site
        self.later: Final = later


@dataclass(frozen=True)
class Cause:
    """One cause, or several at once."""

    name: str
    build: Callable[[Scene], object]
    shows: tuple[Shown, ...]
    administrator: Reading
    nobody: Reading
    announced: bool = False
    move: str = MOVE
    standard: str = STANDARD
    options: tuple[str, ...] = ()
    prepare: Callable[[Site], None] | None = None
    """What is to be done before the new device is switched on."""
    environment: Callable[[Site], dict[str, str]] | None = None
    """What the technician has in the environment besides."""

    def reading(self, who: Reader) -> Reading:
        return self.administrator if who == "administrator" else self.nobody


class Prepared(Office):
    """The office, its network as the cause wants it when the new device comes up."""

    def __init__(self, cause: Cause) -> None:
        super().__init__(announced=cause.announced)
        self._prepare: Final = cause.prepare

    def __enter__(self) -> Self:
        super().__enter__()
        if self._announced:
            time.sleep(CLAIMED_S)
        return self

    def _machine(self, stack: ExitStack, node: Literal["old", "new"], device: Device) -> Machine:
        if node == "new" and self._prepare:
            self._prepare(self.site)
        return super()._machine(stack, node, device)


@dataclass
class Outcome:
    """What came of asking about one cause once; `faults` is empty where all is as it must be."""

    page: str
    state: str
    roots: list[str]
    shown: list[str]
    seconds: float
    faults: list[str] = field(default_factory=list)


def observe(cause: Cause, who: Reader) -> Outcome:
    """Build it, ask, have it shown (afterwards: the tools would teach the workstation what it is to find out)."""
    with Prepared(cause) as office, ExitStack() as later:
        scene = Scene(office, later)
        cause.build(scene)
        began = time.monotonic()
        more = cause.environment(office.site) if cause.environment else {}
        answer = ready(office, *cause.options, who=who, move=cause.move, standard=cause.standard, more=more)
        seconds = time.monotonic() - began
        outcome = Outcome(
            answer.page, answer.state, roots(answer), [], seconds, list(faults(answer, cause.reading(who)))
        )
        for each in cause.shows:
            try:
                outcome.shown.append(each.line(office.site))
            except AssertionError as missing:
                outcome.faults.append(str(missing))
        if not printed_nothing(office):
            outcome.faults.append("something was printed")
    return outcome


def observe_all(cause: Cause) -> dict[Reader, Outcome]:
    """By each reader, in an office of his own, at once: most of the time is waiting."""
    with ThreadPoolExecutor(len(READERS)) as pool:
        asked = {who: pool.submit(observe, cause, who) for who in READERS}
        return {who: future.result() for who, future in asked.items()}


def printed_nothing(office: Office) -> bool:
    """Nothing may ever be written to a raw port that nobody asked to print."""
    folders = office.site.folder.glob("raw-*/received")
    return not any(path.stat().st_size for path in folders)


def faults(answer: Answer, reading: Reading) -> Iterator[str]:
    """What is wrong with an answer."""
    named = roots(answer)
    if answer.state not in reading.states:
        yield f"state {answer.state}, not {' or '.join(reading.states)}"
    if answer.code != EXIT[answer.state]:
        yield f"exit code {answer.code} for {answer.state}"
    for wanted in reading.roots:
        if not any(is_one_of(each, wanted) for each in named):
            yield f"{wanted} is not named"
    right = (*reading.roots, *reading.also)
    yield from (f"{each} is named, and is not the cause" for each in named if not is_any(each, right))
    noted = (each for each in notes(answer) if not is_any(each, (*right, *reading.notes, *ALWAYS)))
    yield from (f"{each} is noted, and not true" for each in noted)
    folded = (each for each in below(answer) if not is_any(each, (*right, *reading.below, *SYMPTOMS)))
    yield from (f"{each} is said below a cause or for later, and not true" for each in folded)
    flat = " ".join(answer.page.split())
    yield from (f"the page does not say {each!r}" for each in reading.words if not re.search(each, flat))
    yield from (f"the page says {each!r}" for each in reading.unsaid if re.search(each, flat))
    if answer.complaints:
        yield f"on stderr: {answer.complaints.strip()}"


def is_one_of(name: str, alternatives: str) -> bool:
    return any(fnmatchcase(name, each) for each in alternatives.split("|"))


def is_any(name: str, wanted: Iterable[str]) -> bool:
    return any(is_one_of(name, each) for each in wanted)


def nothing(scene: Scene) -> None:
    """The cause lies in the Move, or in what is not there."""


def both(name: str, one: Cause, other: Cause, administrator: Reading, nobody: Reading, **more: object) -> Cause:
    """Two causes at once."""

    def build(scene: Scene) -> None:
        one.build(scene)
        other.build(scene)

    shows = (*one.shows, *other.shows)
    announced = one.announced or other.announced
    return Cause(name, build, shows, administrator, nobody, announced, **more)  # type: ignore[arg-type]


# --- the table


def every() -> tuple[Cause, ...]:
    from . import causes_address, causes_announced, causes_link, causes_pairs, causes_path, causes_service

    modules = (causes_link, causes_path, causes_address, causes_announced, causes_service, causes_pairs)
    return tuple(cause for module in modules for cause in module.CAUSES)


def row(cause: Cause, outcomes: dict[Reader, Outcome]) -> str:
    cells = [cause.name, "; ".join(outcomes["administrator"].shown) or "none"]
    for outcome in outcomes.values():
        said = ", ".join(outcome.roots) or "nothing against it"
        cells.append(f"{outcome.state}: {said}{'' if not outcome.faults else ' **WRONG**'}")
    cells.append(" / ".join(f"{outcome.seconds:.1f}" for outcome in outcomes.values()))
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def table(causes: Iterable[Cause], words: list[str], what: str = "causes") -> int:
    """Print the table of those whose names have one of the words, or of all; whether anything is wrong."""
    chosen = [cause for cause in causes if not words or any(word in cause.name for word in words)]
    wrong: list[str] = []
    began = time.monotonic()
    print("| what is built | shown by | administrator | nobody | seconds |\n|---|---|---|---|---|")
    with ThreadPoolExecutor(AT_ONCE) as pool:
        for cause, outcomes in zip(chosen, pool.map(observe_all, chosen), strict=True):
            print(row(cause, outcomes), flush=True)
            for who, outcome in outcomes.items():
                wrong += [f"{cause.name}, {who}: {fault}" for fault in outcome.faults]
    runs, seconds = len(chosen) * len(READERS), time.monotonic() - began
    print(f"\n{len(chosen)} {what}, {runs} runs, {len(wrong)} faults, {seconds:.0f} s")
    print(*wrong, sep="\n", file=sys.stderr)
    return bool(wrong)


if __name__ == "__main__":
    sys.exit(table(every(), sys.argv[1:]))
