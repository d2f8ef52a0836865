"""A fleet's outcomes, built in memory: what the outputs of a sweep are tested with. All of it is invented."""

from collections.abc import Iterator

import msgspec

from netcheck.gates import Gate
from netcheck.move import DeviceRef, QueueRef
from netcheck.report.sweep_night import Change, Changes, Night
from netcheck.roles import Role
from netcheck.standard import Standard
from netcheck.sweeping.outcome import Found, Row, Supply, Swept
from netcheck.verdict import Holds, Standing, State, Weight
from tests.conftest import NOW

PLOTTERS = Standard("Plan plotters 2026")
STREETS = ("Harrow Lane", "Mill Street", "Quay Road", "Saddlers Yard", "Priory Close", "Tollgate", "Weir Bank")

CANARIES = (
    "<img src=x onerror=alert(1) id=canary1>",
    "</script><script id=canary2>document.title='hit'</script>",
    "\"><svg onload=alert(1) id=canary3 x='",
    "<!--<script id=canary4>",
    "' autofocus onfocus=alert(1) id=canary5 '",
    "$data ${script} $$ {{rows}}",
    "\u202egnp.exe \u2066isolated \u200bzero\u200d",
    "\U0001f5a8\ufe0f \u05d0\u05d1\u05d2 \u4e2d\u6587 \u00fc Z\u0351\u036b\u0343\u036aa",
    "x" * 700,
    "line\r\nbreak\ttab\x00nul\x1b[31mred\x9b",
    "&lt;b id=canary6&gt; &#60;i id=canary7&#62;",
    "]]>--></style></title></textarea></noscript><b id=canary8>",
)
"""What a device may call itself in order to become part of the page; each that could names the element it would be."""


def found(
    identity: str = "firmware.version",
    standing: Standing = Standing.IN_THE_WAY,
    title: str = "The firmware is not the Standard's",
    *,
    item: str = "",
    state: Holds = Holds.UNMET,
    weight: Weight = Weight.BLOCKER,
    root: bool = True,
    detail: str = "found 4.8.0; wanted 4.7.2",
    remedy: str = "Install firmware 4.7.2. Then restart the device.",
    sources: tuple[str, ...] = ("device snmp prtGeneralServicePerson", "device ipp printer-firmware-string-version"),
) -> Found:
    """A finding, as a sweep would have it."""
    key = f"{identity}@{Role.DEVICE}/{item}"
    return Found(key, identity, Role.DEVICE, item, state, weight, standing, title, root, detail, remedy, sources)


def swept(
    number: int = 1,
    state: State | None = State.READY,
    *,
    site: str = "Harrow Lane land-survey office",
    host: str = "",
    queue: str = "",
    notes: str = "",
    findings: tuple[Found, ...] = (),
    supplies: tuple[Supply, ...] = (Supply("Black ink", 74), Supply("Maintenance cartridge", None)),
    model: str = "Halden 36R",
    serial: str = "",
    firmware: str = "4.7.2",
    fault: str = "",
) -> Swept:
    """One device's outcome."""
    host = host or f"10.{number >> 16 & 255}.{number >> 8 & 255}.{number & 255}"
    ref = QueueRef(queue) if queue else None
    row = Row(f"{site}/{host}/{queue}", site, DeviceRef(host), Gate.STANDING, queue=ref, notes=notes, line=number + 1)
    return Swept(
        row,
        NOW + 40 * number,
        1_240 + number % 700,
        state,
        fault=fault,
        model=model,
        serial=serial or f"HX-77-{number:05}",
        firmware=firmware,
        mac=f"02:77:00:{number >> 16 & 255:02x}:{number >> 8 & 255:02x}:{number & 255:02x}",
        address=host,
        supplies=supplies,
        findings=findings,
        fine=31,
        standard=PLOTTERS,
    )


def fleet(number: int) -> Iterator[Swept]:
    """A fleet as one may be: most are ready, some are not, each for one of a few reasons, three or four to a site."""
    low = found("supplies.level", Standing.WATCH, "Cyan ink is low", item="2", weight=Weight.CARE, detail="found 12 %")
    silent = found("services.snmp", Standing.MISSING, "SNMP did not answer", state=Holds.UNPROVEN, detail="no answer")
    note = found("security.https", Standing.NOTE, "ftp was not checked", weight=Weight.NOTE, remedy="")
    for each in range(number):
        site = f"{STREETS[each // 4 % 7]} survey office {each // 28 + 1}"
        inks = tuple(
            Supply(f"{name} ink", (each * step + 40) % 101)
            for name, step in (("Black", 7), ("Cyan", 11), ("Yellow", 13))
        )
        if each % 97 == 0:
            wrong = found(detail=f"found 4.{each % 9}.0; wanted 4.7.2")
            yield swept(
                each, State.NOT_READY, site=site, findings=(wrong, note), supplies=inks, firmware=f"4.{each % 9}.0"
            )
        elif each % 41 == 0:
            yield swept(each, State.CANNOT_TELL, site=site, findings=(silent,), supplies=(), model="", firmware="")
        elif each % 1009 == 1:
            yield swept(each, None, site=site, supplies=(), model="", fault="not finished when the sweep's time was up")
        elif each % 17 == 0:
            yield swept(each, State.READY_WITH_CARE, site=site, findings=(low, note), supplies=inks)
        else:
            yield swept(
                each, site=site, findings=(note,), supplies=inks, notes="behind the stairs" if each % 9 == 0 else ""
            )


def night(left: int = 0, changes: Changes | None = None) -> Night:
    """A night of 14 minutes, its number of devices left given."""
    command = "netcheck sweep --store sweep.sqlite --case KEY"
    return Night(NOW, NOW + 851_020, left, "fleet.csv", changes, command)


def changed(rows: list[Swept]) -> Changes:
    """What changed since the night before, made of these rows."""

    def some(start: int, step: int, words: str) -> tuple[Change, ...]:
        return tuple(Change(each.row.key, words) for each in rows[start::step][:30])

    return Changes(
        before_ms=NOW - 86_400_000,
        newly=some(0, 97, "the firmware is not the Standard's, for the second night"),
        recovered=some(3, 450, "answers SNMP again"),
        exchanged=some(5, 3000, "serial number HX-77-0001 is now HX-77-0005"),
        flapping=some(11, 900, "changed its answer 4 times in 7 nights"),
        once=some(41, 410, "did not answer SNMP"),
        low=some(2, 1500, "Cyan ink 6 %"),
        firmware=(Change("Halden 36R", "4.7.2: 9,810, was 9,702; 4.8.0: 104, was 212"),),
    )


def canary_fleet() -> list[Swept]:
    """Each canary in every place that a device, a fleet file or a Standard can fill."""
    return [
        msgspec.structs.replace(
            swept(
                number,
                (State.NOT_READY, State.CANNOT_TELL, None)[number % 3],
                site=text,
                host=text,
                queue=text,
                notes=text,
                model=text,
                serial=text,
                firmware=text,
                fault=text,
                supplies=(Supply(text, 5), Supply(text, None)),
                findings=(
                    found(text, Standing.WATCH, text, item=text, detail=text, remedy=text, sources=(text, text)),
                ),
            ),
            mac=text,
            address=text,
            standard=msgspec.structs.replace(swept().standard, name=text),
        )
        for number, text in enumerate(CANARIES)
    ]


def canary_night(rows: list[Swept]) -> Night:
    each = tuple(Change(row.row.key, text) for row, text in zip(rows, CANARIES, strict=True))
    words = tuple(Change(text, text) for text in CANARIES)
    return Night(NOW, NOW + 1, 2, CANARIES[0], Changes(1, newly=each, gone=words, firmware=words), "netcheck KEY")
