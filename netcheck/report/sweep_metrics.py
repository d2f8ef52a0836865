"""A sweep as metrics, for a node's textfile collector. Stage: outcomes → text.

The text is OpenMetrics 1.0 and, at the same time, the older text format (version 0.0.4), because the collector reads
only that one. So there are only gauges: state sets and infos would make it refuse the whole file, as would timestamps
of our own, and a counter's name is another in each. A state is one sample, with the value 1, of the state that holds;
when it changes, the next scrape ends the old series.

How many series there can be is bounded, whatever the fleet says of itself:

* a device has one for its answer, one for its firmware, and `MOST_SUPPLIES` for supplies;
* devices beyond `MOST_DEVICES` have none of their own, those that somebody should look at last of all; they are in the
  counts, and ``netcheck_sweep_devices_without_series`` says how many;
* findings are counted by id and standing: both are netcheck's own, closed lists;
* a site has one for each kind of answer, up to `MOST_SITES` sites, those with most to look at first;
* a value that a device chose is at most `LONGEST` characters long; one that is longer keeps its start and a hash of all
  of it, so that two stay two.
"""

import hashlib
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from netcheck.report.safe import metric_label
from netcheck.report.sweep_lines import STANDING_WORDS
from netcheck.report.sweep_night import KINDS, Night, kind_of, tally, worst_first
from netcheck.sweeping.outcome import Swept

MOST_DEVICES: Final = 20_000
MOST_SITES: Final = 2_000
MOST_SUPPLIES: Final = 12
LONGEST: Final = 100
_SECONDS: Final = "seconds"
Sample = tuple[dict[str, str], str]


def render_metrics(night: Night, rows: Iterable[Swept]) -> str:
    """The whole file. It must be written whole, or the collector reads half of it."""
    ordered = worst_first(rows)
    own = ordered[:MOST_DEVICES]
    families = [*_sweep(night, ordered), *_counts(ordered), *_devices(own)]
    return "".join(families) + "# EOF\n"


def _family(name: str, help_text: str, samples: Iterable[Sample], unit: str = "") -> str:
    """One family: TYPE, UNIT, HELP and its samples, together, as OpenMetrics wants them; "" without samples. One series
    that came twice would make the collector refuse the file, so that only the first of them stays."""
    series: dict[str, str] = {}
    for labels, value in samples:
        inner = ",".join(f"{key}={metric_label(_short(text))}" for key, text in labels.items())
        series.setdefault(f"{{{inner}}}" if inner else "", value)
    if not series:
        return ""
    lines = [f"{name}{labels} {value}\n" for labels, value in series.items()]
    unit_line = f"# UNIT {name} {unit}\n" if unit else ""
    return f"# TYPE {name} gauge\n{unit_line}# HELP {name} {help_text}\n{''.join(lines)}"


def _short(text: str) -> str:
    if len(text) <= LONGEST:
        return text
    mark = "~" + hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:8]
    return text[: LONGEST - len(mark)] + mark


def _seconds(ms: int) -> str:
    """Exactly, and never by way of a float."""
    return f"{ms // 1000}.{ms % 1000:03}"


def _one(value: str) -> list[Sample]:
    return [({}, value)]


def _sweep(night: Night, rows: Sequence[Swept]) -> Iterator[str]:
    """About the run itself, so that a sweep that does not run, or does not end, can be noticed."""
    started, finished = night.started_ms, night.finished_ms
    yield _family("netcheck_sweep_start_time_seconds", "When it began.", _one(_seconds(started)), _SECONDS)
    ended = _one(_seconds(finished)) if finished else []
    yield _family("netcheck_sweep_end_time_seconds", "When it ended, absent if it did not.", ended, _SECONDS)
    lasted = _one(_seconds(max(0, finished - started))) if finished else []
    yield _family("netcheck_sweep_duration_seconds", "How long it took.", lasted, _SECONDS)
    yield _family("netcheck_sweep_left", "Devices that were not asked.", _one(str(night.left)))
    yield _family("netcheck_sweep_refused", "Rows of the fleet that could not be asked.", _one(str(night.refused)))
    counts = tally(night, rows)
    by_state: list[Sample] = [({"state": name}, str(counts[name])) for name in KINDS]
    yield _family("netcheck_sweep_devices", "Devices of the fleet by answer.", by_state)
    beyond = max(0, len(rows) - MOST_DEVICES)
    yield _family("netcheck_sweep_devices_without_series", "Devices that are only counted.", _one(str(beyond)))


def _counts(rows: Sequence[Swept]) -> Iterator[str]:
    found = Counter((one.id, STANDING_WORDS[one.standing]) for each in rows for one in each.findings if one.root)
    samples: list[Sample] = [
        ({"finding": identity, "standing": standing}, str(number))
        for (identity, standing), number in sorted(found.items())
    ]
    yield _family("netcheck_findings", "Requirements not met, without those that another explains.", samples)
    by_site = Counter((each.row.site, kind_of(each).name) for each in rows)
    sites = list(dict.fromkeys(each.row.site for each in rows))[:MOST_SITES]
    samples = [
        ({"site": site, "state": name}, str(by_site[site, name]))
        for site in sites
        for name in KINDS
        if by_site[site, name]
    ]
    yield _family("netcheck_site_devices", "Devices of a site by answer, those that were asked.", samples)


def _devices(rows: Sequence[Swept]) -> Iterator[str]:
    named = list(_named(rows))
    states: list[Sample] = [({**labels, "state": kind_of(each).name}, "1") for labels, each in named]
    yield _family("netcheck_device_state", "The answer that holds.", states)
    firmware: list[Sample] = [
        ({**labels, "model": each.model, "version": each.firmware}, "1") for labels, each in named if each.firmware
    ]
    yield _family("netcheck_device_firmware", "The firmware that the device names.", firmware)
    supplies: list[Sample] = [
        ({**labels, "supply": name}, str(level)) for labels, each in named for name, level in _levels(each)
    ]
    yield _family("netcheck_device_supply_percent", "Percent left, where the device says.", supplies, "percent")


def _named(rows: Sequence[Swept]) -> Iterator[tuple[dict[str, str], Swept]]:
    """Each device with the labels that tell it from all others, as its key does."""
    for each in rows:
        row = each.row
        yield {"site": row.site, "host": row.new.host, "queue": row.queue.name if row.queue else ""}, each


def _levels(swept: Swept) -> Iterator[tuple[str, int]]:
    """The supplies that say how full they are; those with one name are numbered, as two bottles of one colour."""
    seen: Counter[str] = Counter()
    for each in swept.supplies[:MOST_SUPPLIES]:
        seen[each.name] += 1
        if each.percent is not None:
            yield each.name + (f" #{seen[each.name]}" if seen[each.name] > 1 else ""), each.percent
