"""The overview of a sweep of 10,000 devices in a real browser: fast, usable by keyboard, not to be taken over.

Sources: W3C Paint Timing (first-contentful-paint), CSP Level 3, WCAG 2.2 (2.1.1 keyboard, 4.1.2 names, 2.4.3 focus).
"""

import base64
import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from netcheck.report.sweep_overview import render_overview
from netcheck.verdict import State
from tests.sweep_rows import canary_fleet, canary_night, changed, fleet, found, night, swept

from .browser import NAMES, Browser, program

DEVICES = 10_000
MOST_MS = 3_000
"""Until the first contents are seen: on a machine of two cores that does other work as well. Measured: 150 to 310."""
READY = "!document.getElementById('tools').hidden"
LIST = "[...document.querySelectorAll('#rows a')].map(each => each.textContent)"


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    if program() is None:
        reason = f"there is no headless Chromium here: {', '.join(NAMES)}"
        if os.environ.get("NETCHECK_REAL") == "required":
            pytest.fail(f"NETCHECK_REAL=required, but {reason}", pytrace=False)
        pytest.skip(reason)
    with Browser(tmp_path_factory.mktemp("browser")) as up:
        up.call("Emulation.setDeviceMetricsOverride", width=1400, height=1000, deviceScaleFactor=1, mobile=False)
        yield up


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The address of the page of a large fleet."""
    rows = list(fleet(DEVICES))
    return written(tmp_path_factory.mktemp("page") / "sweep.html", render_overview(night(3, changed(rows)), rows))


def written(path: Path, text: str) -> str:
    path.write_text(text, "utf-8")
    return path.as_uri()


def opened(browser: Browser, url: str) -> None:
    browser.events.clear()
    browser.open("about:blank")
    browser.open(url)
    browser.until(READY)


def typed(browser: Browser, field: str, text: str) -> None:
    change = f"const it = document.getElementById('{field}'); it.value = {text!r}; it.dispatchEvent(new Event('input'))"
    browser.run(f"(() => {{ {change} }})()")


def found_are(browser: Browser, words: str) -> None:
    browser.until(f"document.getElementById('found').textContent === {words!r}")


def complaints(browser: Browser) -> list[Any]:
    return [
        *browser.said("Log.entryAdded"),
        *browser.said("Runtime.exceptionThrown"),
        *browser.said("Page.javascriptDialogOpening"),
    ]


def test_ten_thousand_devices_are_seen_at_once_and_kept_out_of_the_document(browser: Browser, page: str) -> None:
    opened(browser, page)
    paints = dict(browser.run("performance.getEntriesByType('paint').map(each => [each.name, each.startTime])"))
    print(f"first contents {paints['first-contentful-paint']:.0f} ms, usable {browser.run('performance.now()'):.0f} ms")
    assert paints["first-contentful-paint"] < MOST_MS
    assert browser.run("document.querySelectorAll('*').length") < 4000
    found_are(browser, "10,000 devices")
    assert complaints(browser) == []


def test_it_asks_nothing_of_any_network(browser: Browser, page: str) -> None:
    opened(browser, page)
    asked = [each["request"]["url"] for each in browser.said("Network.requestWillBeSent")]
    assert {each.partition("#")[0] for each in asked} - {"about:blank"} == {page}


def test_search_filters_sorting_and_pages(browser: Browser, page: str) -> None:
    opened(browser, page)
    bad = sum(each.state is State.NOT_READY for each in fleet(DEVICES))
    browser.run("document.querySelector('.counts a').click()")
    found_are(browser, f"{bad} devices")
    typed(browser, "words", "WEIR bank")
    found_are(
        browser, f"{sum(each.state is State.NOT_READY and 'Weir' in each.row.site for each in fleet(DEVICES))} devices"
    )
    browser.run("document.getElementById('clear').click()")
    found_are(browser, "10,000 devices")
    typed(browser, "site", "Mill Street survey office 1")
    found_are(browser, "4 devices")  # that site, and not the offices 10 to 19
    browser.run("document.getElementById('clear').click()")
    found_are(browser, "10,000 devices")
    browser.run("document.querySelector('[data-sort=host] button').click()")
    assert browser.run(LIST)[:3] == ["10.0.0.0", "10.0.0.1", "10.0.0.2"]
    assert browser.run("document.querySelector('[data-sort=host]').getAttribute('aria-sort')") == "ascending"
    browser.run("document.querySelector('[data-sort=host] button').click()")
    assert browser.run(LIST)[0] == "10.0.39.15"
    browser.run("document.getElementById('on').click()")
    assert browser.run("document.getElementById('where').textContent") == "101 to 200 of 10,000"
    assert browser.run(LIST)[0] == "10.0.38.171"
    took = browser.run(
        "(() => { const start = performance.now(); document.getElementById('clear').click();"
        "document.body.offsetHeight; return performance.now() - start })()"
    )
    print(f"all filtered, sorted and laid out in {took:.0f} ms")
    assert took < 1000
    assert complaints(browser) == []


def test_a_device_by_keyboard_alone(browser: Browser, page: str) -> None:
    opened(browser, page)
    browser.run("document.querySelector('#rows a').focus()")
    key = browser.run("document.activeElement.dataset.key")
    browser.key("Enter", 13, "\r")
    browser.until("document.getElementById('device').open")
    inside = browser.run("document.getElementById('device').innerText")
    for words in (
        "Install firmware 4.7.2.",
        "device snmp prtGeneralServicePerson",
        "netcheck explain firmware.version",
    ):
        assert words in inside
    assert f"--case '{key}'" in inside
    assert browser.run("document.querySelectorAll('#device meter').length") == 3
    assert browser.run("document.activeElement.textContent") == "Close"
    for _ in range(8):
        browser.key("Tab", 9)
        assert browser.run(
            "[document.getElementById('device'), document.body].some(each => each.contains(document.activeElement) "
            "&& (each.id || document.activeElement === each))"
        )
    browser.key("Escape", 27)
    browser.until("!document.getElementById('device').open")
    browser.until(f"document.activeElement.dataset.key === {key!r}")


def test_back_and_a_link_to_one_device(browser: Browser, page: str) -> None:
    opened(browser, f"{page}#kind=cannot-tell&sort=-site&page=2")
    assert browser.run("document.getElementById('where').textContent").startswith("101 to ")
    where = browser.run("location.hash")
    browser.run("document.querySelector('#rows a').click()")
    browser.until("document.getElementById('device').open")
    browser.run("history.back()")
    browser.until("!document.getElementById('device').open")
    assert browser.run("location.hash") == where
    opened(browser, f"{page}#device=Harrow%20Lane%20survey%20office%201%2F10.0.0.0%2F")
    browser.until("document.getElementById('device').open")
    assert browser.run("document.getElementById('device-name').textContent") == "10.0.0.0"
    for wrong in ("#device=nobody", "#page=-7&sort=__proto__&kind=constructor", "#%E0%A4%A", "#page=1e99"):
        opened(browser, page + wrong)
        assert not browser.run("document.getElementById('device').open")
        assert complaints(browser) == []


def test_all_sites_on_demand(browser: Browser, page: str) -> None:
    opened(browser, page)
    assert browser.run("document.querySelectorAll('#sites-table tbody tr').length") == 25
    first = browser.run("document.querySelector('#sites-table tbody').innerText")
    browser.run("document.getElementById('all-sites').click()")
    assert browser.run("document.querySelectorAll('#sites-table tbody tr').length") == 2000
    assert browser.run("document.querySelector('#sites-table tbody').innerText").startswith(first)


def test_every_control_has_a_name(browser: Browser, page: str) -> None:
    opened(browser, f"{page}#device=Harrow%20Lane%20survey%20office%201%2F10.0.0.0%2F")
    for url in (page, f"{page}#device=Harrow%20Lane%20survey%20office%201%2F10.0.0.0%2F"):
        opened(browser, url)
        nodes = browser.call("Accessibility.getFullAXTree")["nodes"]
        controls = [
            (each["role"]["value"], each.get("name", {}).get("value", ""))
            for each in nodes
            if not each["ignored"]
            and each["role"]["value"] in {"button", "link", "searchbox", "combobox", "meter", "dialog"}
        ]
        assert len(controls) > 3
        assert not [role for role, name in controls if not name.strip()]
    assert ("dialog", "10.0.0.0") in controls


def test_targets_are_large_enough(browser: Browser, page: str) -> None:
    """WCAG 2.2, 2.5.8: 24 by 24 CSS pixels, links in a line of text or table aside."""
    opened(browser, page)
    sizes = browser.run(
        "[...document.querySelectorAll('button, input, select, summary')].filter(each => each.offsetParent)"
        ".map(each => [each.outerHTML.slice(0, 60), each.getBoundingClientRect()])"
        ".map(([it, box]) => [it, box.width, box.height])"
    )
    assert len(sizes) > 8
    assert not [each for each in sizes if each[1] < 24 or each[2] < 24]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_follows_the_readers_scheme(browser: Browser, page: str, scheme: str) -> None:
    browser.call("Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": scheme}])
    opened(browser, page)
    ground = browser.run("getComputedStyle(document.body).backgroundColor")
    red = int(re.findall(r"\d+", ground)[0])
    assert (red > 200) is (scheme == "light")
    browser.call("Emulation.setEmulatedMedia", features=[])


def test_it_prints(browser: Browser, page: str) -> None:
    opened(browser, f"{page}#kind=not-ready")
    pdf = base64.b64decode(browser.call("Page.printToPDF")["data"])
    assert pdf.startswith(b"%PDF-")
    found_are(browser, "104 devices")


def test_without_javascript_the_answer_and_the_first_devices_are_there(browser: Browser, page: str) -> None:
    browser.open("about:blank")
    browser.call("Emulation.setScriptExecutionDisabled", value=True)
    try:
        browser.call("Page.navigate", url=page)
        document = seen(browser)
    finally:
        browser.call("Emulation.setScriptExecutionDisabled", value=False)
    for words in (
        "104 of 10,003 need somebody",
        "Without JavaScript",
        "Each of these devices",
        "Install firmware 4.7.2.",
    ):
        assert words in document
    assert "Show all 2,500 sites" not in document


def seen(browser: Browser) -> str:
    """What is rendered, by the layout itself: no script of ours can be asked."""
    for _ in range(200):
        snapshot = browser.call("DOMSnapshot.captureSnapshot", computedStyles=[])
        texts, layout = snapshot["strings"], snapshot["documents"][0]["layout"]
        text = "\n".join(texts[each] for each in layout["text"] if each >= 0)
        if "needs no network" in text:
            return text
    raise AssertionError("the page was not rendered")


def test_no_device_takes_part_in_the_page(browser: Browser, tmp_path: Path) -> None:
    rows = canary_fleet()
    url = written(tmp_path / "hostile.html", render_overview(canary_night(rows), rows))
    opened(browser, url)
    title = browser.run("document.title")
    for number in range(len(rows)):
        browser.run(f"document.querySelectorAll('#rows a')[{number}].click()")
        browser.until("document.getElementById('device').open")
        assert (
            browser.run(
                "document.querySelectorAll('[id^=canary], img, #device script, svg, [onerror], [onload]').length"
            )
            == 0
        )
        assert browser.run("document.documentElement.scrollWidth <= innerWidth")
        browser.run("document.getElementById('device').close()")
        browser.until("!document.getElementById('device').open && !location.hash.includes('device')")
    assert browser.run("document.title") == title
    assert complaints(browser) == []


def test_the_policy_stops_what_is_not_ours(browser: Browser, tmp_path: Path) -> None:
    """Were a device's markup in the page all the same, it would not run: the policy itself is tried."""
    rows = [swept(1, State.NOT_READY, findings=(found(),))]
    text = render_overview(night(), rows).replace(
        "</main>", "<script>document.title='hit'</script><img src='x' onerror='document.title=1'></main>"
    )
    opened(browser, written(tmp_path / "forced.html", text))
    assert browser.run("document.title") not in {"hit", "1"}
    said = " ".join(each["entry"]["text"] for each in browser.said("Log.entryAdded"))
    assert said.count("Content Security Policy") >= 2


def test_a_fleet_of_nobody(browser: Browser, tmp_path: Path) -> None:
    opened(browser, written(tmp_path / "empty.html", render_overview(night(), [])))
    found_are(browser, "0 devices")
    assert complaints(browser) == []
