"""Panels as a page shows them by itself: in a narrow column, in the dark, and printed."""

import itertools
import re
import shutil
import subprocess

import pytest

from coldbench.panels import CyclePanel, GaugePanel, LoopPanel, SensorPanel, WiringPanel
from coldbench.panels.still import style_sheet

ROWS = 'document.querySelectorAll(".cb-table tr")'
WORD = re.compile(r'<word xMin="(.*)" yMin="(.*)" xMax="(.*)" yMax="(.*)">(.*)</word>')


@pytest.fixture
def page(browser):
    """An empty page."""
    page = browser.new_page(viewport={"width": 900, "height": 700})
    yield page
    page.close()


def words_of(pdf: bytes) -> list[list[tuple[str, list[float]]]]:
    """Words with their boxes [left, top, right, bottom in points], page by page."""
    said = subprocess.run(["pdftotext", "-bbox", "-", "-"], input=pdf, capture_output=True,
                          check=True).stdout.decode()  # fmt: skip
    return [[(word, [float(edge) for edge in box]) for *box, word in WORD.findall(part)]
            for part in said.split("<page ")[1:]]  # fmt: skip


def overprinted(words) -> list[tuple[str, str]]:
    """Pairs of different words that lie on each other; the same word twice is its own edge."""
    return [(one, other) for (one, a), (other, b) in itertools.combinations(words, 2)
            if one != other and min(a[2], b[2]) - max(a[0], b[0]) > 2
            and min(a[3], b[3]) - max(a[1], b[1]) > 4]  # fmt: skip


@pytest.mark.skipif(not shutil.which("pdftotext"), reason="needs poppler's pdftotext")
@pytest.mark.parametrize("make", [SensorPanel, LoopPanel])
def test_a_table_that_meets_the_end_of_a_page_is_not_printed_over(page, make):
    html = make().html()
    pages = 0
    for top_mm in range(0, 200, 25):  # the page ends at other rows each time
        page.set_content(f"<!DOCTYPE html><div style='height: {top_mm}mm'></div>{html}")
        printed = words_of(page.pdf(format="A4", margin=dict.fromkeys(("top", "bottom"), "15mm")))
        pages = max(pages, len(printed))
        for words in printed:
            assert not overprinted(words)
    assert pages > 1


@pytest.mark.parametrize("make", [GaugePanel, CyclePanel, LoopPanel, SensorPanel,
                                  lambda: WiringPanel("three-relay-fans")])  # fmt: skip
@pytest.mark.parametrize("width_px", [240, 480, 600])
def test_a_narrow_column_cuts_no_table(page, make, width_px):
    page.set_content(f"<!DOCTYPE html><div style='width: {width_px}px'>{make().html()}</div>")
    right, edge = page.evaluate(
        "[document.querySelector('.cb-table').getBoundingClientRect().right,"
        " document.querySelector('.cb-panel').getBoundingClientRect().right]")
    assert right <= edge


def test_controls_are_dark_in_the_dark(page):
    page.set_content(f"<style>{style_sheet()}</style><body data-jp-theme-light='false'>"
                     "<div class='cb-panel'><input type=radio></div>")
    scheme = "getComputedStyle(document.querySelector('input')).colorScheme"
    assert page.evaluate(scheme) == "dark"
    page.evaluate("document.body.dataset.jpThemeLight = 'true'")
    assert page.evaluate(scheme) == "light"


def test_a_notebooks_own_table_style_changes_no_still_view(page):
    theirs = (".jp-RenderedHTMLCommon :is(td, th, tr) { text-align: right; }"
              ".jp-RenderedHTMLCommon tbody tr:nth-child(odd) { background: #eee; }")
    page.set_content(f"<!DOCTYPE html><style>{theirs}</style><div class='jp-RenderedHTMLCommon"
                     f" jp-RenderedHTMLCommon'>{SensorPanel().html()}</div>")
    assert page.evaluate(f"getComputedStyle({ROWS}[1].firstChild).textAlign") == "left"
    assert page.evaluate(f"getComputedStyle({ROWS}[1]).backgroundColor") == "rgba(0, 0, 0, 0)"
