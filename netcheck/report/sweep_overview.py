"""A sweep as one page for a browser: a single file that needs nothing else. Stage: outcomes → HTML.

What matters is in the document itself and is there without JavaScript: the answer, what changed, the sites, and the
devices that somebody should look at first with all that is to be done. The script adds all other devices, search,
filters and sorting from the data inside the page, a hundred rows at a time.

Everything that a device, a file or a person said goes through `safe.html`, or through `safe.script_json` and from there
into the document as text. The Content-Security-Policy allows this page's one style and one script by their hashes, and
nothing else: whatever else got into the page would neither run nor load.
"""

from base64 import b64encode
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from hashlib import sha256
from importlib import resources
from string import Template
from urllib.parse import quote

from netcheck import __version__
from netcheck.report.page import clipped
from netcheck.report.safe import html
from netcheck.report.sweep_night import (
    KINDS,
    NOT_ASKED,
    Change,
    Kind,
    Natural,
    Night,
    answer,
    beside,
    gist,
    kind_of,
    lowest,
    moment,
    natural,
    place_of,
    refused,
    since_when,
    standards_of,
    tally,
    times,
    worst_first,
)
from netcheck.report.sweep_overview_data import HEADINGS, doing, fleet_json, shown
from netcheck.sweeping.outcome import Found, Swept
from netcheck.verdict import Standing
from netcheck.words import join

STATIC_ROWS = 100
"""Devices that are there without JavaScript."""
STATIC_SITES = 25
STATIC_CHANGES = 8
MOST_CHANGES = 500


def render_overview(night: Night, rows: Iterable[Swept]) -> str:
    """The whole page, to be written in UTF-8."""
    ordered = worst_first(rows)
    counts = tally(night, ordered)
    style, script = _data("overview.css"), _data("overview.js")
    names = standards_of(ordered)
    by = f"by {join(names[:3])}" if names else "by no Standard: only what needs none was asked"
    more = f"{len(names) - 3} more" if len(names) > 3 else ""
    return Template(_data("overview.html")).substitute(
        title=html(f"{answer(counts)} \u2013 {moment(night.started_ms)}"),
        answer=html(answer(counts)),
        about=html(clipped(join([night.fleet, times(night), by, more, refused(night)]))),
        counts="".join(_count(kind, counts[kind.name]) for kind in KINDS.values() if counts[kind.name]),
        changed_heading=html(since_when(night.changes) if night.changes else "Changes"),
        changes=_changes(night, {each.row.key: each for each in ordered}),
        sites=_sites(ordered),
        kind_options="".join(
            f'<option value="{kind.name}">{kind.word}</option>' for kind in KINDS.values() if kind.name != NOT_ASKED
        ),
        reduced=html(_reduced(len(ordered))),
        rows="".join(map(_row, ordered[:STATIC_ROWS])),
        details="".join(map(_details, ordered[:STATIC_ROWS])),
        footer=html(f"netcheck {__version__}. This page needs no network and sends nothing anywhere."),
        data=fleet_json(ordered, night.case_command),
        style=style,
        style_hash=_hash(style),
        script=script,
        script_hash=_hash(script),
    )


def _data(name: str) -> str:
    return (resources.files("netcheck.report") / "data" / name).read_text("utf-8")


def _hash(inline: str) -> str:
    """As a Content-Security-Policy names an inline script or style (CSP 3, "Does element match source list")."""
    return f"sha256-{b64encode(sha256(inline.encode()).digest()).decode()}"


def _foreign(text: str) -> str:
    """Text that may be of any script and direction, kept from turning round what stands beside it."""
    return f"<bdi>{html(clipped(text))}</bdi>" if text else ""


def _kind(kind: Kind) -> str:
    return f'<span class="kind {kind.name}"><i aria-hidden="true">{kind.shape}</i> {kind.word}</span>'


def _count(kind: Kind, number: int) -> str:
    inner = f"<b>{number:,}</b> {_kind(kind)}"
    link = f'<a href="#kind={kind.name}" title="{html(kind.means)}">{inner}</a>' if kind.name != NOT_ASKED else inner
    return f"<li>{link}</li>"


def _link(swept: Swept, words: str) -> str:
    return f'<a href="#{_anchor(swept)}">{_foreign(words)}</a>'


def _anchor(swept: Swept) -> str:
    """Where a device is: an element of this id without JavaScript, what the script shows with it."""
    return f"device={quote(shown(swept.row.key), safe='')}"


def _changes(night: Night, rows: dict[str, Swept]) -> str:
    changes = night.changes
    if changes is None:
        return "<p>Not asked for.</p>"
    others = f"<p>{_foreign(beside(night))}</p>" if beside(night) else ""
    if parts := [_changed(heading, found, rows) for heading, found in changes.parts()]:
        return f'{others}<div class="changes">{"".join(parts)}</div>'
    return "<p>Nothing.</p>" if changes.before_ms else others


def _changed(heading: str, found: Sequence[Change], rows: dict[str, Swept]) -> str:
    lines = [_change(each, rows.get(each.key)) for each in found[:MOST_CHANGES]]
    first, rest = "".join(lines[:STATIC_CHANGES]), "".join(lines[STATIC_CHANGES:])
    text = f"<ul>{first}</ul>"
    if rest:
        text += f"<details><summary>{len(found) - STATIC_CHANGES:,} more</summary><ul>{rest}</ul>"
        text += f"<p>The first {MOST_CHANGES:,} are listed.</p>" if len(found) > MOST_CHANGES else ""
        text += "</details>"
    return f'<section class="{"long" if rest else "short"}"><h3>{html(heading)} ({len(found):,})</h3>{text}</section>'


def _change(change: Change, swept: Swept | None) -> str:
    name = _link(swept, place_of(swept.row)) if swept else _foreign(change.name or change.key)
    return f"<li>{name}: {_foreign(change.words)}</li>"


def _sites(rows: Sequence[Swept]) -> str:
    """Verdicts by site, those with most to look at first."""
    by_site: dict[str, Counter[str]] = {}
    for each in rows:
        by_site.setdefault(each.row.site, Counter())[kind_of(each).name] += 1
    kinds = [kind for kind in KINDS.values() if any(counts[kind.name] for counts in by_site.values())]

    def rank(site: str) -> tuple[list[int], Natural]:
        return [-by_site[site][kind.name] for kind in kinds], natural(site)

    ordered = sorted(by_site, key=rank)
    lines = [_site(site, by_site[site], kinds) for site in ordered[:STATIC_SITES]]
    head = "".join(f'<th scope="col" class="number">{_kind(kind)}</th>' for kind in kinds)
    head = f'<thead><tr><th scope="col">Site</th><th scope="col" class="number">Devices</th>{head}</tr></thead>'
    names = " ".join(kind.name for kind in kinds)
    body = f"{head}<tbody>{''.join(lines)}</tbody>"
    text = f'<div class="wide"><table id="sites-table" data-kinds="{names}">{body}</table></div>'
    if len(ordered) > STATIC_SITES:
        text += f'<button id="all-sites" type="button" hidden>Show all {len(ordered):,} sites</button>'
        text += f"<noscript><p>{len(ordered) - STATIC_SITES:,} more sites, with less to look at.</p></noscript>"
    return text


def _site(site: str, counts: Counter[str], kinds: Sequence[Kind]) -> str:
    name = f'<a href="#site={quote(shown(site), safe="")}">{_foreign(site)}</a>' if site else "(no site named)"
    numbers = [counts.total(), *(counts[kind.name] for kind in kinds)]
    cells = "".join(f'<td class="number">{number:,}</td>' if number else "<td></td>" for number in numbers)
    return f'<tr><th scope="row">{name}</th>{cells}</tr>'


def _reduced(number: int) -> str:
    if number <= STATIC_ROWS:
        return "Without JavaScript there is no search and no sorting; all devices are below."
    return (
        f"Without JavaScript, these are the {STATIC_ROWS} devices of {number:,} to look at first; --csv has them all."
    )


def _row(swept: Swept) -> str:
    level = lowest(swept)
    return (
        f'<tr><td>{_kind(kind_of(swept))}</td><th scope="row">{_link(swept, swept.row.new.host)}</th>'
        f'<td>{_foreign(swept.row.site)}</td><td class="cut">{_foreign(swept.model)}</td>'
        f'<td class="cut">{_foreign(swept.firmware)}</td>'
        f'<td class="number">{"" if level is None else f"{level} %"}</td><td>{_foreign(gist(swept))}</td></tr>'
    )


def _details(swept: Swept) -> str:
    """A device with all that is to be done about it, for a browser that runs no script."""
    row = swept.row
    facts = _pairs(
        ("Site", row.site),
        ("Queue", row.queue.name if row.queue else ""),
        ("Model", swept.model),
        ("Serial number", swept.serial),
        ("Firmware", swept.firmware),
        ("Hardware", swept.mac),
        ("Asked", moment(swept.at_ms)),
        ("Notes", row.notes),
        ("No verdict", swept.fault),
    )
    levels = "; ".join(_levels(swept))
    supplies = f"<p>Supplies: {_foreign(levels)}</p>" if levels else ""
    found = "".join(_standing(swept, standing) for standing in HEADINGS)
    return (
        f'<article id="{html(_anchor(swept))}"><h3>{_foreign(place_of(row))}</h3>'
        f"<p>{_kind(kind_of(swept))}</p>{facts}{supplies}{found}</article>"
    )


def _levels(swept: Swept) -> Iterator[str]:
    for each in swept.supplies[:64]:
        yield f"{each.name} {'not told' if each.percent is None else f'{each.percent} %'}"


def _standing(swept: Swept, standing: Standing) -> str:
    found = [each for each in swept.findings if each.standing is standing and each.root]
    return f"<p><b>{HEADINGS[standing]}</b></p>{''.join(map(_finding, found))}" if found else ""


def _finding(found: Found) -> str:
    remedy, caution = doing(found)
    return (
        f'<div class="finding"><p>{_foreign(found.title)}</p>'
        + _pairs(("because", found.detail), ("do", remedy), ("careful", caution), ("seen", join(found.sources, "; ")))
        + "</div>"
    )


def _pairs(*pairs: tuple[str, str]) -> str:
    inner = "".join(f"<dt>{name}</dt><dd>{_foreign(text)}</dd>" for name, text in pairs if text)
    return f"<dl>{inner}</dl>" if inner else ""
