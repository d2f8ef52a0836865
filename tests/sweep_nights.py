"""Nights of a small fleet, built in memory: what the store and its history are tested with. All of it is invented."""

from collections.abc import Iterable, Mapping
from pathlib import Path

from netcheck.document import canonical, load_document
from netcheck.gates import Gate
from netcheck.move import DeviceRef, QueueRef
from netcheck.roles import Role
from netcheck.standard import Standard, SupplyLimits
from netcheck.sweeping.outcome import Found, Row, Supply, Swept
from netcheck.sweeping.store import Store
from netcheck.verdict import Holds, Standing, State, Weight
from tests.conftest import FIXTURES, NOW

DAY_MS = 86_400_000
FLEET = "fleet.csv"
PLOTTERS = Standard("Plan plotters 2026", supplies=SupplyLimits(30, 10))
EVIDENCE = canonical(load_document(FIXTURES / "cases" / "read.json")[1].evidence)
"""Of one device by itself, as it was recorded."""


def found(
    rule: str = "firmware.version",
    *,
    item: str = "",
    state: Holds = Holds.UNMET,
    standing: Standing = Standing.IN_THE_WAY,
    detail: str = "found 4.8.0; wanted 4.7.2",
) -> Found:
    """A finding."""
    return Found(
        key=f"{rule}@device/{item}",
        id=rule,
        role=Role.DEVICE,
        item=item,
        state=state,
        weight=Weight.NOTE if standing is Standing.NOTE else Weight.BLOCKER,
        standing=standing,
        title=f"{rule} is not met",
        root=True,
        detail=detail,
        remedy="Install firmware 4.7.2.",
        sources=("device snmp system", "device ipp printer-firmware-string-version"),
    )


def swept(key: str = "harrow-lane/192.0.2.61/", state: State | None = State.READY, **changed: object) -> Swept:
    """An outcome of one device; ``changed`` are the fields of `Swept` that are to be others."""
    site, host, queue = key.split("/")
    row = Row(key, site, DeviceRef(host), Gate.STANDING, queue=QueueRef(queue) if queue else None, line=7)
    fields: dict[str, object] = {
        "fault": "" if state else "the worker process died while it was asked",
        "model": "Halden 36R",
        "serial": "HX-77-0457",
        "firmware": "4.7.2",
        "mac": "02:77:00:00:00:22",
        "address": host,
        "supplies": (Supply("Cyan ink", 74), Supply("Maintenance cartridge", None)),
        "findings": (found(),) if state is State.NOT_READY else (),
        "fine": 31,
        "standard": PLOTTERS,
        "row": row,
        "at_ms": NOW,
        "took_ms": 640,
        "state": state,
    }
    return Swept(**{**fields, **changed})  # type: ignore[arg-type]


RICH = (
    swept(),
    swept("mill-street/192.0.2.7/Plans", None),
    swept(
        "quay-road/2001:db8::7/Plans",
        State.NOT_READY,
        findings=(
            found(),
            found("supplies.level", item="Cyan \u202e\x00'; DROP TABLE run; --", detail="", standing=Standing.NOTE),
        ),
        supplies=(),
        model="\U0001f5a8 " * 300,
        serial="",
        evidence=EVIDENCE,
        standard=Standard(),
    ),
    swept("tollgate/192.0.2.9/", State.CANNOT_TELL, findings=(found(state=Holds.UNPROVEN),), evidence=b"{}"),
)
"""Outcomes with all that is rare, and text that is out to do harm."""


def add_night(store: Store, outcomes: Iterable[Swept], *, fleet: str = FLEET, left: int = 0) -> int:
    """One finished run of these outcomes; returns its number."""
    outcomes = list(outcomes)
    at_ms = NOW + DAY_MS * len(store.runs())
    run = store.begin(at_ms, fleet, len(outcomes) + left)
    for each in outcomes:
        store.add(run, each)
    store.finish(run, at_ms + 60_000, left)
    return run


ANSWERS = {"r": State.READY, "c": State.READY_WITH_CARE, "n": State.NOT_READY, "t": State.CANNOT_TELL, "x": None}


def played(store: Store, tracks: Mapping[str, str]) -> int:
    """A night for each letter, of every key: r ready, c with care, n not ready, t cannot tell, x no verdict, - not
    asked. Returns the last run."""
    run = 0
    for night in range(max(map(len, tracks.values()))):
        letters = {key: letters[night] for key, letters in tracks.items() if night < len(letters)}
        run = add_night(store, [swept(key, ANSWERS[letter]) for key, letter in letters.items() if letter != "-"])
    return run


def store_at(folder: Path) -> Store:
    """A new store, or the one of before."""
    return Store.open(folder / "sweep.db")
