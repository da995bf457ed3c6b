"""A panel in a running notebook: keys, typing, units, the screen reader's view, and saving."""

import json
import re
import urllib.request
from pathlib import Path

import nbformat
import pytest

HERE = Path(__file__).parent
NOTEBOOK = "release/pressure-temperature/pressure-temperature.ipynb"
LOW, HIGH = "Low side, gauge pressure", "High side, gauge pressure"
SETTLED_MS = 30_000


@pytest.fixture(scope="module")
def again(run_panel):
    """Another notebook with two views of one panel, running."""
    code = "from coldbench.panels import GaugePanel\npanel = GaugePanel()\ndisplay(panel, panel)"
    page = run_panel("again", code)
    yield page
    page.close()


@pytest.fixture(scope="module")
def page(open_page, run_first_code_cell):
    """The notebook, open, with its panel running."""
    page = open_page(f"/lab/tree/{NOTEBOOK}")
    run_first_code_cell(page)
    yield page
    page.close()


def expect_line(page, words: str) -> None:
    """Wait until the readings in words begin with `words`."""
    page.wait_for_function(
        "words => document.querySelector('.cb-line').textContent.replaceAll('\\u00a0', ' ')"
        ".startsWith(words)", arg=words, timeout=SETTLED_MS,
    )  # fmt: skip


def cells(page) -> int:
    """Number of cells in the notebook."""
    return page.locator(".jp-Notebook .jp-Cell").count()


def put_low_side(page, number: str) -> None:
    """Type a low-side pressure in its box and press Enter."""
    page.get_by_label(f"{LOW}, type a number").focus()
    page.keyboard.press("Control+A")
    page.keyboard.type(number)
    page.keyboard.press("Enter")


def test_tab_leads_from_the_cell_into_the_panel(page):
    page.locator(".jp-Notebook .jp-CodeCell .cm-content").first.click()
    page.keyboard.press("Escape")
    for _ in range(12):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.closest('.cb-panel') !== null"):
            break
    assert page.evaluate("document.activeElement.tagName") == "SELECT"
    assert page.locator(".cb-still").count() == 1 and not page.locator(".cb-still").is_visible()
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.type") == "range"


def test_arrows_move_the_slider_and_the_readings(page):
    put_low_side(page, "200")
    expect_line(page, "Low side 200 kPa gauge = 301 kPa absolute → 0.8 °C.")
    page.get_by_label(LOW, exact=True).focus()
    for _ in range(12):
        page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ArrowLeft")
    expect_line(page, "Low side 212 kPa gauge = 313 kPa absolute")
    assert page.get_by_label(f"{LOW}, type a number").input_value() == "212"


def test_typing_in_the_box_moves_the_readings(page):
    put_low_side(page, "312")
    expect_line(page, "Low side 312 kPa gauge = 413 kPa absolute")
    assert page.get_by_label(LOW, exact=True).input_value() == "312"


def test_a_number_outside_the_range_is_refused_in_words(page):
    put_low_side(page, "250")
    expect_line(page, "Low side 250 kPa")
    put_low_side(page, "9999")
    box = page.get_by_label(f"{LOW}, type a number")
    assert box.get_attribute("aria-invalid") == "true"
    page.keyboard.press("Tab")
    assert page.locator(".cb-hint").first.inner_text() == "Accepted: −65 to 800 kPa"
    assert box.input_value() == "250"
    expect_line(page, "Low side 250 kPa")


def test_keys_in_a_control_change_no_cell(page):
    before = page.locator(".jp-Notebook").inner_text(), cells(page)
    for label in (LOW, f"{LOW}, type a number"):
        page.get_by_label(label, exact=label == LOW).focus()
        for key in ("a", "b", "x", "c", "v", "m", "r", "y", "1", "d", "d", "Shift+M"):
            page.keyboard.press(key)
    put_low_side(page, "250")
    expect_line(page, "Low side 250 kPa")
    assert cells(page) == before[1] == 3
    assert page.locator(".jp-MarkdownCell").count() == 2


def test_single_keys_on_a_cell_change_no_cell(page):
    page.locator(".jp-Notebook .jp-MarkdownCell").last.click()
    page.keyboard.press("Escape")
    for key in ("a", "b", "x", "c", "v", "r", "y", "1", "d", "d"):
        page.keyboard.press(key)
    page.wait_for_timeout(300)
    assert cells(page) == 3
    assert page.locator(".jp-MarkdownCell").count() == 2


def test_fast_keys_end_where_they_should(page):
    put_low_side(page, "300")
    expect_line(page, "Low side 300 kPa")
    slider = page.get_by_label(LOW, exact=True)
    slider.focus()
    page.evaluate(
        """() => {
          window.jumps = 0;
          const slider = document.activeElement;
          let last = Number(slider.value);
          window.watch = setInterval(() => {
            if (Number(slider.value) < last) window.jumps += 1;
            last = Number(slider.value);
          }, 2);
        }"""
    )
    for _ in range(60):
        page.keyboard.press("ArrowRight")
    expect_line(page, "Low side 360 kPa")
    page.wait_for_timeout(300)
    page.evaluate("clearInterval(window.watch)")
    assert slider.input_value() == "360"
    assert page.evaluate("window.jumps") == 0, "the slider jumped back while keys came in"


def test_changing_the_unit_keeps_the_pressure(page):
    put_low_side(page, "207")
    expect_line(page, "Low side 207 kPa")
    page.get_by_label("psi").focus()
    page.keyboard.press("Space")
    expect_line(page, "Low side 30.0 psi gauge = 44.7 psi absolute → 1.")
    assert page.evaluate("document.activeElement.value") == "psi", "the focus was lost"
    page.keyboard.press("ArrowLeft")
    expect_line(page, "Low side 2.07 bar")
    page.keyboard.press("ArrowLeft")
    expect_line(page, "Low side 207 kPa")


def test_a_blend_shows_bubble_and_dew(page):
    menu = page.get_by_label("Refrigerant")
    menu.select_option("R407C")
    page.wait_for_function("document.querySelector('.cb-line').textContent.includes('bubble')")
    head = page.locator(".cb-readings .cb-table thead").inner_text()
    assert "Bubble point" in head and "Dew point" in head
    menu.select_option("R134a")
    page.wait_for_function("!document.querySelector('.cb-line').textContent.includes('bubble')")


@pytest.mark.parametrize("light", ["true", "false"])
def test_no_serious_barrier_for_assistive_technology(page, light):
    from axe_playwright_python.sync_playwright import Axe

    before = page.evaluate("document.body.dataset.jpThemeLight")
    page.evaluate("light => document.body.dataset.jpThemeLight = light", light)
    found = Axe().run(page, context=".cb-panel").response
    page.evaluate("light => document.body.dataset.jpThemeLight = light", before)
    grave = [v for v in found["violations"] if v["impact"] in ("serious", "critical")]
    assert not grave, json.dumps([(v["id"], v["help"], [n["html"] for n in v["nodes"]])
                                  for v in grave], indent=1)  # fmt: skip
    assert {"color-contrast", "label", "svg-img-alt"} <= {v["id"] for v in found["passes"]}


def test_each_focusable_element_keeps_jupyterlabs_keys_away(page):
    bare = page.locator(
        ".cb-panel :is(input, select, button, [tabindex]):not([data-lm-suppress-shortcuts='true'])"
    )
    assert bare.count() == 0
    assert page.locator(".cb-panel [data-lm-suppress-shortcuts='true']").count() >= 10


def test_readings_are_read_aloud_once_the_keys_rest(page):
    put_low_side(page, "111")
    page.wait_for_function(
        "document.querySelector('[aria-live=polite].cb-spoken').textContent.includes('111')",
        timeout=SETTLED_MS,
    )


def test_a_printed_notebook_shows_the_last_setting(page, course, browser, lab_address):
    put_low_side(page, "123")
    expect_line(page, "Low side 123 kPa")
    page.keyboard.press("Control+s")
    wait_for_state(page, course / NOTEBOOK)
    base, token = lab_address.split("/lab/")[0], lab_address.split("token=")[1]
    printed = browser.new_page(java_script_enabled=False)
    printed.goto(f"{base}/nbconvert/html/{NOTEBOOK}?token={token}")  # what File → Print prints
    assert printed.locator(".cb-panel").count() == 1  # the live view needs its scripts
    line = printed.locator(".cb-line").inner_text().replace("\u00a0", " ")
    assert line.startswith("Low side 123 kPa gauge = 224 kPa absolute")
    drawings = printed.locator(".cb-panel svg[role=img]")
    assert drawings.count() == 2
    assert all(drawings.nth(k).bounding_box()["width"] > 250 for k in range(2))
    assert "123 kPa" in drawings.first.locator("desc").text_content()
    printed.close()


def wait_for_state(page, path: Path) -> None:
    """Wait until the saved notebook holds the panel's state."""
    for _ in range(40):
        found = nbformat.read(path, as_version=4)
        if "123" in json.dumps(found.metadata.get("widgets", {})):
            return
        page.wait_for_timeout(250)
    pytest.fail("the saved notebook holds no widget state with the last setting")


def test_without_a_kernel_the_controls_rest_and_say_so(page, open_page, lab_address):
    put_low_side(page, "123")
    expect_line(page, "Low side 123 kPa")
    page.keyboard.press("Control+s")
    page.wait_for_timeout(1000)
    stop_kernels(lab_address)
    again = open_page(f"/lab/workspaces/no-kernel/tree/{NOTEBOOK}")
    note = again.locator(".cb-panel.cb-resting .cb-note")
    note.filter(has_text=re.compile("No kernel is running")).wait_for(timeout=120_000)
    assert again.locator(".cb-resting .cb-line").inner_text().replace("\u00a0", " ").startswith(
        "Low side 123 kPa")
    assert again.locator(".cb-resting input:not(:disabled)").count() == 0
    again.close()


def test_two_views_move_together_and_one_speaks(again):
    views = again.locator(".cb-panel:not(.cb-still):not(.cb-resting)")
    views.nth(1).wait_for(timeout=SETTLED_MS)
    views.nth(0).get_by_label(LOW, exact=True).focus()
    again.keyboard.press("ArrowRight")
    again.wait_for_function(
        "document.querySelector('.cb-spoken[aria-live]').textContent.includes('201')",
        timeout=SETTLED_MS)  # fmt: skip
    assert views.nth(1).get_by_label(LOW, exact=True).input_value() == "201"
    assert "201" in views.nth(1).locator(".cb-line").inner_text()
    assert "201" not in views.nth(1).locator(".cb-spoken[aria-live]").text_content()


def test_a_cell_run_again_leaves_one_panel_in_the_saved_notebook(again, course):
    page = again
    for run in (2, 3, 4):
        page.locator(".jp-Notebook .jp-CodeCell .cm-content").first.click()
        page.keyboard.press("Control+Enter")
        page.locator(".jp-InputPrompt", has_text=f"[{run}]:").first.wait_for()
        page.wait_for_selector(".cb-panel:not(.cb-resting) input")
    page.keyboard.press("Control+s")
    page.wait_for_timeout(1500)
    saved = nbformat.read(course / "release/pressure-temperature/again.ipynb", as_version=4)
    assert str(saved.cells[0].execution_count) == "4"
    models = saved.metadata.widgets["application/vnd.jupyter.widget-state+json"]["state"].values()
    assert [one["model_name"] for one in models].count("AnyModel") == 1


def test_after_a_restart_the_controls_rest_and_show_what_the_readings_belong_to(again):
    again.locator(".jp-Notebook .jp-MarkdownCell").last.click()
    again.keyboard.press("Escape")
    again.keyboard.press("0")
    again.keyboard.press("0")
    again.locator(".jp-Dialog .jp-mod-warn, .jp-Dialog .jp-mod-accept").last.click()
    slider = again.get_by_label(LOW, exact=True).first
    slider.focus()
    again.keyboard.press("ArrowRight")  # nobody hears it any more
    note = again.locator(".cb-panel.cb-resting:not(.cb-still) .cb-note")
    note.filter(has_text="no longer knows this panel").first.wait_for(timeout=SETTLED_MS)
    shown = again.locator(".cb-panel:not(.cb-still) .cb-line").first.inner_text()
    assert shown.startswith(f"Low side {slider.input_value()}\u00a0kPa")


def stop_kernels(lab_address: str) -> None:
    """Shut down every session of the server, as its menu does."""
    base, token = lab_address.split("/lab/")[0], lab_address.split("token=")[1]
    headers = {"Authorization": f"token {token}"}
    ask = urllib.request.Request(f"{base}/api/sessions", headers=headers)
    with urllib.request.urlopen(ask, timeout=20) as answer:
        sessions = json.load(answer)
    for session in sessions:
        address = f"{base}/api/sessions/{session['id']}"
        end = urllib.request.Request(address, headers=headers, method="DELETE")
        urllib.request.urlopen(end, timeout=20).close()
