"""The pages in a real browser: nothing is fetched, nothing complains, paper comes out, and a person
who hears the page is told what it shows."""

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.audit.asking import ask
from tests.audit.kitchen_record import record

MISSING = "the extra `browser` is missing"
playwright = pytest.importorskip("playwright.sync_api", reason=MISSING)
axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason=MISSING)

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no chromium on this machine")

PAGES = (
    *(("batch", "261130-1"), ("batch", "261201-3"), ("batch", "261204-7")),
    *(("day", "2026-11-30"), ("day", "2020-01-01")),
    *(("report",), ("recall", "P-41"), ("recall", "B-7")),
)


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("kept") / "kept.ledger"
    record(path)
    return path


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """The distribution's own; without its sandbox, which root has not."""
    with playwright.sync_playwright() as tool:
        made = tool.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield made
        made.close()


@pytest.fixture(params=PAGES, ids=" ".join)
def file(request: pytest.FixtureRequest, kept: Path, tmp_path: Path) -> Path:
    made = tmp_path / "page.html"
    assert ask(kept, *request.param, "--html", str(made)).exit_code == 0
    return made


def test_a_page_asks_for_nothing_complains_of_nothing_and_prints_on_both_papers(
    browser: Any, file: Path
) -> None:
    page = browser.new_page()
    said: list[str] = []
    asked: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("request", lambda request: asked.append(request.url))
    page.goto(file.as_uri())
    for paper in ("A4", "Letter"):
        printed = page.pdf(format=paper)
        assert printed.startswith(b"%PDF-") and printed.count(b"/Type /Page\n") > 0
    assert (said, asked) == ([], [file.as_uri()])
    page.close()


def test_nothing_runs_over_the_edge_of_the_paper(browser: Any, file: Path) -> None:
    """A4 without its margins is 180 mm, 680 px, wide; a wider page is cut or shrunk."""
    page = browser.new_page(viewport={"width": 680, "height": 900})
    page.emulate_media(media="print")
    page.goto(file.as_uri())
    assert page.evaluate("document.documentElement.scrollWidth") <= 680
    for text in page.query_selector_all("svg text"):
        box, chart = text.bounding_box(), text.evaluate_handle("t => t.ownerSVGElement")
        edge = chart.as_element().bounding_box()
        assert box["x"] >= edge["x"] - 1, text.text_content()
        assert box["x"] + box["width"] <= edge["x"] + edge["width"] + 1, text.text_content()
    page.close()


def test_a_person_who_hears_the_page_is_told_what_it_shows(browser: Any, file: Path) -> None:
    """By the rules of WCAG that a program can check."""
    page = browser.new_page()
    page.goto(file.as_uri())
    found = axe.Axe().run(page)
    assert found.response["passes"], "the rules ran"
    assert [rule["id"] for rule in found.response["violations"]] == []
    page.close()
