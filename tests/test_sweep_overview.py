"""The overview of a sweep, read by parsers that are not ours, with devices that try to become part of it.

Sources: HTML Living Standard (elements, script contents), CSP Level 3 (hashes), WCAG 2.2 (contrast 1.4.3 and 1.4.11,
headings, table headers, language). The page in a browser is tested in tests/real/test_sweep_browser.py.
"""

import base64
import hashlib
import itertools
import json
import re
import urllib.parse
from collections import Counter
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any

import msgspec
import pytest

from netcheck import rules as _rules  # noqa: F401 - importing it fills RULES
from netcheck.report.safe import html, script_json
from netcheck.report.sweep_night import KINDS, Change, Changes, natural, worst_first
from netcheck.report.sweep_overview import STATIC_ROWS, render_overview
from netcheck.ruling import RULES
from netcheck.verdict import State
from tests.sweep_rows import CANARIES, canary_fleet, canary_night, changed, fleet, found, night, swept

VOID = {"meta", "input", "br", "img", "link", "hr"}
"""Elements without an end tag (HTML, "Void elements"), those that could be met here."""


@dataclass
class Read(HTMLParser):
    """The page as the standard library's parser sees it: elements in order, attributes, text by element."""

    elements: list[tuple[str, dict[str, str | None]]] = field(default_factory=list)
    texts: list[tuple[str, str]] = field(default_factory=list)
    open_: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open_.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if not self.open_ or self.open_.pop() != tag:
            self.wrong.append(f"</{tag}> at {self.getpos()}")

    def handle_data(self, data: str) -> None:
        self.texts.append((self.open_[-1] if self.open_ else "", data))

    def named(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.elements if name == tag]

    def inside(self, tag: str) -> list[str]:
        return [text for name, text in self.texts if name == tag]


def read(page: str) -> Read:
    parser = Read()
    parser.feed(page)
    parser.close()
    assert not parser.wrong
    assert not parser.open_
    return parser


def data_of(page: str) -> dict[str, Any]:
    match = re.search(r'<script type="application/json" id="fleet">(.*?)</script>', page, re.DOTALL)
    assert match
    loaded: dict[str, Any] = json.loads(match[1])
    return loaded


# --- what it says


def test_the_answer_is_the_heading_and_the_first_thing() -> None:
    page = read(render_overview(night(3), fleet(1009)))
    bad = sum(each.state is State.NOT_READY for each in fleet(1009))
    assert page.inside("h1") == [f"{bad} of 1,012 need somebody"]
    (title,) = page.inside("title")
    assert title.startswith(f"{bad} of 1,012 need somebody")


def test_every_count_stands_beside_its_word_and_shape() -> None:
    rows = list(fleet(3000))
    page = render_overview(night(7), rows)
    counts = Counter({"not-asked": 7}) + Counter(each.state or "no-verdict" for each in rows)
    for name, kind in KINDS.items():
        number = f"<b>{counts[name]:,}</b>"
        assert f'{number} <span class="kind {name}"><i aria-hidden="true">{kind.shape}</i> {kind.word}</span>' in page
    assert len({kind.shape for kind in KINDS.values()}) == len({kind.word for kind in KINDS.values()}) == len(KINDS)


def test_what_changed_stands_before_sites_and_devices() -> None:
    rows = list(fleet(500))
    page = read(render_overview(night(0, changed(rows)), rows))
    assert page.inside("h2")[:3] == ["Changed since 2026-11-24 09:46 UTC", "Sites", "Devices"]
    assert page.inside("h3")[0] == "New trouble (6)"


def test_a_change_leads_to_its_device_and_one_that_is_gone_to_nothing() -> None:
    row = swept(1, site="Mill Street", host="192.0.2.61")
    gone = Change("mill street/192.0.2.9/", "it was asked then")
    page = read(render_overview(night(0, Changes(1, newly=(Change(row.row.key, "news"),), gone=(gone,))), [row]))
    anchor = "device=" + urllib.parse.quote("Mill Street/192.0.2.61/", safe="")
    links = [each["href"] for each in page.named("a") if (each["href"] or "").startswith("#device")]
    assert set(links) == {f"#{anchor}"}
    assert {"id": anchor} in page.named("article")


def test_the_devices_to_look_at_first_are_there_without_javascript() -> None:
    rows = list(fleet(5000))
    page = render_overview(night(), rows)
    assert page.count('<th scope="row"><a href="#device=') == STATIC_ROWS == page.count("<article ")
    first = worst_first(rows)[0]
    noscript = page[page.rindex("<noscript>") :]
    assert first.row.new.host in noscript
    assert "Install firmware 4.7.2." in noscript
    assert f"these are the {STATIC_ROWS} devices of 5,000" in page


def test_the_data_has_every_device_and_says_what_the_outcome_says() -> None:
    rows = list(fleet(2000))
    data = data_of(render_overview(night(), rows))
    assert len(data["rows"]) == 2000
    by_key = {each.row.key: each for each in rows}
    for key, host, site, kind, model, firmware, lowest, _, serial, *rest in data["rows"]:
        it = by_key[key]
        assert (host, data["texts"][site], serial) == (it.row.new.host, it.row.site, it.serial)
        assert (data["texts"][model], data["texts"][firmware]) == (it.model, it.firmware)
        assert data["kinds"][kind][0] == (it.state or "no-verdict")
        assert lowest == min((each.percent for each in it.supplies if each.percent is not None), default=None)
        titles = [data["texts"][data["findings"][number][1]] for number in rest[-1]]
        assert Counter(titles) == Counter(each.title for each in it.findings)


def test_what_to_do_comes_from_the_finding_or_else_from_its_rule() -> None:
    rule = next(each for each in RULES.values() if each.explanation.do and each.explanation.caution)
    bare = msgspec.structs.replace(found(rule.id), remedy="", detail="", sources=())
    data = data_of(render_overview(night(), [swept(1, State.NOT_READY, findings=(bare,))]))
    ((_, _, _, doing, caution, *_),) = data["findings"]
    assert data["texts"][doing] == rule.explanation.do
    assert data["texts"][caution] == rule.explanation.caution


def test_devices_are_sorted_as_people_count() -> None:
    hosts = ["192.0.2.61", "192.0.2.9", "plotter10", "plotter2", "9" * 400]
    assert sorted(hosts, key=natural) == ["192.0.2.9", "192.0.2.61", "9" * 400, "plotter2", "plotter10"]


def test_it_grows_by_little_for_each_device() -> None:
    size = {number: len(render_overview(night(), fleet(number)).encode()) for number in (1000, 10_000)}
    assert (size[10_000] - size[1000]) / 9000 < 400  # bytes a device


# --- nothing that a device says becomes part of it


def test_no_foreign_text_becomes_an_element_or_an_attribute() -> None:
    rows = canary_fleet()
    hostile, tame = read(render_overview(canary_night(rows), rows)), read(render_overview(night(), fleet(500)))
    known = {tag for tag, _ in tame.elements} | {"details", "summary", "ul", "li", "article", "div", "h3", "section"}
    assert {tag for tag, _ in hostile.elements} <= known
    for tag, attributes in hostile.elements:
        assert not any(name.startswith("on") or name in {"style", "src", "srcdoc"} for name in attributes), (
            tag,
            attributes,
        )
        assert not str(attributes.get("id", "")).startswith("canary")
        assert (attributes.get("href") or "#").startswith("#")
    assert len(hostile.named("script")) == 2
    assert len(hostile.named("style")) == 1


def test_the_data_comes_back_as_it_was_with_what_acts_as_codes() -> None:
    rows = canary_fleet()
    page = render_overview(canary_night(rows), rows)
    texts = data_of(page)["texts"]
    assert CANARIES[0] in texts
    assert CANARIES[1] in texts
    assert not any(char in text for text in texts for char in "\u202e\u2066\u200b\x00\x1b\x9b\r\n\t")
    assert "<U+202E>gnp.exe" in "".join(texts)
    assert not any(char in page for char in "\u202e\u2066\u200b\x00\x1b\x9b")


def test_text_of_any_length_is_clipped() -> None:
    page = render_overview(canary_night(canary_fleet()), canary_fleet())
    assert "x" * 600 in page
    assert "x" * 601 not in page


@pytest.mark.parametrize("text", CANARIES)
def test_made_harmless_it_reads_as_one_text_in_an_element_and_in_an_attribute(text: str) -> None:
    parser = Read()
    parser.feed(f'<p title="{html(text)}">{html(text)}</p>')
    parser.close()
    assert [tag for tag, _ in parser.elements] == ["p"]
    (attributes,) = parser.named("p")
    assert attributes == {"title": "".join(data for _, data in parser.texts)}


@pytest.mark.parametrize("text", CANARIES)
def test_json_in_a_script_has_nothing_that_ends_it(text: str) -> None:
    coded = script_json({"a": text})
    assert json.loads(coded) == {"a": text}
    assert coded.isascii()
    assert not set(coded) & set("<>&")


# --- what it may do, and how it is to be read


def test_the_policy_names_its_own_style_and_script_and_nothing_else() -> None:
    page = render_overview(night(), fleet(10))
    parser = read(page)
    policy = next(
        each["content"] for each in parser.named("meta") if each.get("http-equiv") == "Content-Security-Policy"
    )
    assert policy

    def digest(element: str) -> str:
        inner = re.findall(rf"<{element}>(.*?)</{element}>", page, re.DOTALL)
        assert len(inner) == 1
        return base64.b64encode(hashlib.sha256(inner[0].encode()).digest()).decode()

    assert dict(part.strip().split(" ", 1) for part in policy.split(";")) == {
        "default-src": "'none'",
        "script-src": f"'sha256-{digest('script')}'",
        "style-src": f"'sha256-{digest('style')}'",
        "base-uri": "'none'",
        "form-action": "'none'",
    }


def test_it_refers_to_nothing_outside_itself() -> None:
    page = render_overview(night(), fleet(300))
    parser = read(page)
    assert not re.search(r"https?://|//cdn|@import|url\(", page)
    assert not [
        tag for tag, _ in parser.elements if tag in {"img", "link", "iframe", "object", "embed", "form", "base"}
    ]


def test_language_headings_labels_and_table_headers() -> None:
    rows = list(fleet(500))
    parser = read(render_overview(night(0, changed(rows)), rows))
    assert parser.named("html") == [{"lang": "en"}]
    levels = [int(tag[1]) for tag, _ in parser.elements if re.fullmatch("h[1-6]", tag)]
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in itertools.pairwise(levels))
    assert all(each.get("scope") in {"col", "row"} for each in parser.named("th"))
    order = [tag for tag, _ in parser.elements]
    assert all("label" in order[max(0, at - 1) : at] for at, tag in enumerate(order) if tag in {"input", "select"})
    ids = [each["id"] for _, each in parser.elements if "id" in each]
    assert len(ids) == len(set(ids))
