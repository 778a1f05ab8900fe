"""Tests of the HTML page in a real Chromium.

The tests need Debian's package `chromium` and the extra `browser`. Run by hand: `pytest -m browser`.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from tests.helpers.command import meshqc
from tests.helpers.sequences import shot, write

pytestmark = pytest.mark.browser

KELP = ("--frames", "1-15", "--size", "1.8")
QUIET = (
    *("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
)
"""Options that keep the browser itself from connecting to any server."""

LOOKS = pytest.mark.parametrize(
    ("scheme", "media", "width"),
    [("light", "screen", 1400), ("dark", "screen", 1400), ("dark", "screen", 390), ("light", "print", 794)],
)
"""The colour scheme, the medium and the width of the page in pixels.

At 96 pixels per inch (CSS, "absolute lengths"), A4 paper is 794 pixels wide.
"""


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """Start Chromium. If it is missing, the tests fail and are not skipped, because they run only on request."""
    from playwright.sync_api import sync_playwright

    chromium = shutil.which("chromium")
    assert chromium, "no chromium; on Debian: apt-get install chromium"
    with sync_playwright() as driver:
        running = driver.chromium.launch(executable_path=chromium, args=list(QUIET))
        yield running
        running.close()


@pytest.fixture(scope="module")
def inspected(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the path of the page about the demo. Two of its four sequences have no errors."""
    page = tmp_path_factory.mktemp("page") / "inspected.html"
    meshqc("check", demo, "--report", page)
    return page


@pytest.fixture(scope="module")
def corrected(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("page")
    page = folder / "corrected.html"
    donor = demo / "kelp_broken/kelp_rest.obj"
    every = ("--all", "--invent-at-most", "3", "--uvs-from", donor, *KELP)
    assert meshqc("fix", demo / "kelp_broken", *every, "--output", folder / "out", "--report", page).returncode == 0
    return page


@contextmanager
def opened(browser: Any, path: Path, **how: Any) -> Iterator[Any]:
    said: list[str] = []
    loaded: list[str] = []
    context = browser.new_context(viewport={"width": how.pop("width", 1280), "height": 900}, **how)
    page = context.new_page()
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("dialog", lambda dialog: said.append(dialog.message))
    page.on("request", lambda request: loaded.append(request.url))
    page.goto(path.as_uri())
    yield page
    context.close()
    assert said == []
    assert [url for url in loaded if not url.startswith("data:image/png;base64,")] == [path.as_uri()]


def test_nothing_is_loaded_and_nothing_said(browser: Any, inspected: Path, corrected: Path) -> None:
    for path in (inspected, corrected):
        with opened(browser, path) as page:
            pictures = page.evaluate("[...document.images].map(one => one.complete && one.naturalWidth)")
            assert 320 in pictures  # frames; the other pictures are textures, as large as they are shown
            assert all(0 < width <= 320 for width in pictures)


def test_no_script_but_ours_runs(browser: Any, inspected: Path) -> None:
    """The browser enforces the policy and reports refused scripts in its console."""
    context = browser.new_context()
    page = context.new_page()
    page.goto(inspected.as_uri())
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    ran = page.evaluate(
        "() => { const own = document.createElement('script'); own.textContent = 'window.ran = 1';"
        " document.body.append(own); document.body.setAttribute('onclick', 'window.ran = 2'); document.body.click();"
        " return window.ran }"
    )
    assert ran is None
    assert all("Content Security Policy" in message for message in said)
    assert len(said) == 2
    context.close()


def test_hostile_names_run_nothing(browser: Any, tmp_path: Path) -> None:
    trick = "<img src=x onerror=alert(1)>'\"><svg onload=alert(2)>"
    files = {name.replace("manta.0", f"{trick}.0"): data for name, data in shot().items()}
    tag = b"usemtl </script><script>alert(3)</script>"
    write(tmp_path / "in", {name: data.replace(b"usemtl skin", tag) for name, data in files.items()})
    meshqc("check", tmp_path / "in", "--report", tmp_path / "page.html")
    with opened(browser, tmp_path / "page.html") as page:
        assert trick in page.text_content("h2")
        assert page.evaluate("document.images.length") == page.locator(".sheet img").count() > 0


SEEN = """section => {
  const slider = section.querySelector('input');
  return {
    said: slider.getAttribute('aria-valuetext'),
    readout: section.querySelector('.readout').textContent,
    links: [...section.querySelectorAll('.readout a')].map(one => one.hash),
    values: [...section.querySelectorAll('figure[data-cell] .value')].map(one => one.textContent),
    x: [...section.querySelectorAll('figure[data-cell] .cursor')].map(one => Number(one.getAttribute('x1'))),
  };
}"""
ROWS = """section => [...section.querySelectorAll('tbody tr')].map(
  row => ({x: Number(row.dataset.x), cells: [...row.cells].map(cell => cell.textContent),
           links: [...row.querySelectorAll('a')].map(one => one.hash)}))"""
SHOWN = """section => [...section.querySelectorAll('figure[data-cell]')].map(one => Number(one.dataset.cell))"""


def test_every_frame_is_read_by_keyboard_on_every_plot(browser: Any, inspected: Path) -> None:
    with opened(browser, inspected) as page:
        sections = page.locator("[data-frames]").all()
        assert len(sections) == 4
        for section in sections:
            rows, shown = section.evaluate(ROWS), section.evaluate(SHOWN)
            assert len(shown) >= 9
            slider = section.locator("input")
            slider.focus()
            page.keyboard.press("Home")
            for row in rows:
                seen = section.evaluate(SEEN)
                cells = row["cells"]
                assert seen["values"] == [cells[place] for place in shown]
                assert set(seen["x"]) == {row["x"]}
                found = cells[-1] or "nothing found"
                assert seen["readout"] == f"frame {cells[0]}, {cells[1]}: {found}"
                assert seen["links"] == row["links"]
                assert seen["said"].startswith(f"frame {cells[0]}, {cells[1]}, ")
                assert seen["said"].endswith(found)
                page.keyboard.press("ArrowRight")


def test_the_pointer_reads_the_frame_below_it(browser: Any, inspected: Path) -> None:
    with opened(browser, inspected) as page:
        section = page.locator("[data-frames]").first
        rows = section.evaluate(ROWS)
        for drawing in section.locator("figure[data-cell] svg").all():
            drawing.scroll_into_view_if_needed()
            box = drawing.bounding_box()
            for row in (rows[0], rows[7], rows[-1]):
                page.mouse.move(box["x"] + row["x"] / 640 * box["width"], box["y"] + box["height"] / 2)
                assert set(section.evaluate(SEEN)["x"]) == {row["x"]}


def test_every_link_leads_to_what_is_then_seen(browser: Any, inspected: Path, corrected: Path) -> None:
    for path in (inspected, corrected):
        with opened(browser, path) as page:
            page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
            links = page.query_selector_all("a[href]:not(.readout a)")
            assert len(links) > 20
            for link in links:
                wanted = link.get_attribute("href")
                link.focus()
                page.keyboard.press("Enter")
                top = page.evaluate("() => document.getElementById(location.hash.slice(1)).getBoundingClientRect().top")
                assert page.evaluate("location.hash") == wanted
                assert -1 <= top < 900


def test_a_letter_of_the_overview_takes_the_cursor_along(browser: Any, inspected: Path) -> None:
    with opened(browser, inspected) as page:
        letter = page.locator(".overview a").nth(2)
        letter.click()
        row = page.locator("[data-frames]").first.evaluate(ROWS)[int(letter.get_attribute("data-row"))]
        assert page.locator(".readout").first.text_content().startswith(f"frame {row['cells'][0]}, ")
        assert page.url.endswith(letter.get_attribute("href"))


def test_the_first_key_offers_to_skip_the_contents(browser: Any, inspected: Path) -> None:
    with opened(browser, inspected) as page:
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.textContent") == "skip to the findings"
        page.keyboard.press("Enter")
        assert page.evaluate("document.activeElement.tagName") == "MAIN"


@LOOKS
def test_accessible_to_all(browser: Any, inspected: Path, corrected: Path, scheme: str, media: str, width: int) -> None:
    """Source: every applicable rule of axe-core, including best practices."""
    from axe_playwright_python.sync_playwright import Axe

    for path in (inspected, corrected):
        with opened(browser, path, width=width, color_scheme=scheme) as page:
            page.emulate_media(media=media, color_scheme=scheme)
            page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
            results = Axe().run(page).response
            assert [(one["id"], one["nodes"][0]["html"][:200]) for one in results["violations"]] == []
            assert {"color-contrast", "heading-order", "landmark-one-main"} <= {one["id"] for one in results["passes"]}
            assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_light_and_dark_follow_the_reader(browser: Any, inspected: Path) -> None:
    grounds = []
    for scheme in ("light", "dark"):
        with opened(browser, inspected, color_scheme=scheme) as page:
            grounds.append(page.evaluate("getComputedStyle(document.body).backgroundColor"))
    assert grounds == ["rgb(255, 255, 255)", "rgb(21, 23, 26)"]


def test_it_is_printed_without_what_only_moves(browser: Any, inspected: Path) -> None:
    with opened(browser, inspected) as page:
        assert page.pdf(format="A4").startswith(b"%PDF-")
        page.emulate_media(media="print")
        assert page.locator(".cursor-bar:visible, .plot .value:visible, .skip:visible").count() == 0
        assert page.locator(".plot svg:visible").count() > 20


def test_without_scripts_everything_is_there_but_the_cursor(browser: Any, inspected: Path) -> None:
    with opened(browser, inspected, java_script_enabled=False) as page:
        assert page.locator(".cursor-bar:visible").count() == 0
        page.locator("summary").first.click()
        assert page.locator("details[open] td:visible").count() > 100
