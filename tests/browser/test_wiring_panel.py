"""The wiring panel in a running notebook: a measurement at a test point by keyboard alone."""

import pytest

CODE = (
    "from coldbench.panels import WiringPanel\n"
    'panel = WiringPanel("three-relay-fans", live=True)\npanel'
)
LIVE = ".cb-panel:not(.cb-still)"
SETTLED_MS = 30_000


@pytest.fixture(scope="module")
def page(run_panel):
    """A notebook with the panel, running."""
    page = run_panel("wiring-panel", CODE)
    yield page
    page.close()


def point(page, number: int):
    """The button of a test point on the diagram."""
    return page.locator(f"{LIVE} .cb-target[aria-label^='Test point {number},']")


def expect_line(page, words: str) -> None:
    """Wait until the meter's words hold `words`."""
    page.wait_for_function(
        "([live, words]) => document.querySelector(live + ' .cb-line').textContent"
        ".includes(words)", arg=[LIVE, words], timeout=SETTLED_MS)  # fmt: skip


def focused(page) -> str:
    """Accessible name of the element with the focus."""
    return page.evaluate("document.activeElement.getAttribute('aria-label') || ''")


def tab_to(page, words: str) -> None:
    """Press Tab until an element whose name starts with `words` has the focus."""
    for _ in range(60):
        page.keyboard.press("Tab")
        if focused(page).startswith(words):
            return
    pytest.fail(f"Tab never came to {words!r}")


def test_measures_at_a_test_point_by_keyboard_alone(page):
    cells = page.locator(".jp-Notebook .jp-Cell").count()
    page.locator(f"{LIVE} select").first.focus()  # then only keys
    page.keyboard.press("Shift+Tab")
    tab_to(page, "Test point 1,") if not focused(page).startswith("Test point") else None
    page.keyboard.press("5")
    page.keyboard.press("Enter")
    expect_line(page, "Red on 5")
    page.keyboard.press("ArrowDown")
    assert focused(page).startswith("Test point 6,")
    page.keyboard.press("Shift+Enter")
    expect_line(page, "Red on 5, black on 6")
    page.keyboard.press("m")
    expect_line(page, "0.00")
    assert focused(page).startswith("Test point 6,")
    assert page.locator(".jp-Notebook .jp-Cell").count() == cells  # no key reached the notebook
    assert page.locator(f"{LIVE} tbody tr").count() == 1


def test_every_test_point_can_be_reached_by_arrow_keys(page):
    reached = page.evaluate("""(live) => {
      const fields = [...document.querySelectorAll(live + ' .cb-target')];
      const seen = new Set([fields[0]]);
      for (const field of seen)
        for (const key of ['ArrowLeft', 'ArrowRight', 'ArrowUp', 'ArrowDown']) {
          field.focus();
          field.dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true }));
          seen.add(document.activeElement);
        }
      return fields.filter((field) => !seen.has(field)).map((field) => field.ariaLabel);
    }""", LIVE)  # fmt: skip
    assert reached == []


def test_switching_to_low_gives_the_voltage_of_one_fan(page):
    state = page.locator(f"{LIVE} label:has-text('Operating state') + select")
    state.focus()
    page.keyboard.type("low")
    expect_line(page, "state low")
    point(page, 6).focus()
    page.keyboard.press("m")
    page.wait_for_function(
        "(live) => /6\\.\\d+ V/.test(document.querySelector(live + ' .cb-line').textContent)",
        arg=LIVE, timeout=SETTLED_MS)  # fmt: skip
    assert point(page, 5).get_attribute("aria-label").endswith("red lead here")


def test_a_click_places_the_red_lead_and_with_shift_the_black_one(page):
    point(page, 3).click()
    expect_line(page, "Red on 3")
    point(page, 14).click(modifiers=["Shift"])
    expect_line(page, "Red on 3, black on 14")


def test_no_text_of_the_diagram_lies_on_another(page):
    """By the boxes the browser itself measures; a letter's edge may touch."""
    page.locator(f"{LIVE} label:has-text('Show what goes on now') input").check()
    page.wait_for_selector(f"{LIVE} .cb-wd-live", timeout=SETTLED_MS)
    met = page.evaluate("""(live) => {
      const texts = [...document.querySelectorAll(live + ' .cb-target-frame svg text')].filter(
        (text) => !text.closest('.cb-front') || text.classList.contains('cb-wd-live'));
      const boxes = texts.map((text) => [text.textContent, text.getBBox()]);
      const met = [];
      boxes.forEach(([one, a], k) => boxes.slice(k + 1).forEach(([other, b]) => {
        const wide = Math.min(a.x + a.width, b.x + b.width) - Math.max(a.x, b.x);
        const high = Math.min(a.y + a.height, b.y + b.height) - Math.max(a.y, b.y);
        if (wide > 3 && high > 4) met.push(`${one} on ${other}`);
      }));
      return met;
    }""", LIVE)  # fmt: skip
    assert not met, met


@pytest.mark.parametrize("light", ["true", "false"])
def test_names_roles_and_contrast_are_sound(page, light):
    from axe_playwright_python.sync_playwright import Axe

    before = page.evaluate("document.body.dataset.jpThemeLight")
    page.evaluate("light => document.body.dataset.jpThemeLight = light", light)
    found = Axe().run(page, context=LIVE).response["violations"]
    page.evaluate("light => document.body.dataset.jpThemeLight = light", before)
    grave = [(v["id"], v["help"]) for v in found if v["impact"] in ("serious", "critical")]
    assert not grave, grave


def test_each_focusable_element_keeps_jupyterlabs_keys_away(page):
    bare = page.locator(f"{LIVE} :is(input, select, button):not([data-lm-suppress-shortcuts=true])")
    assert page.locator(f"{LIVE} .cb-target").count() == 21 and bare.count() == 0


def test_tab_goes_down_the_panel_as_it_is_laid_out(page):
    tops = page.evaluate(
        "(live) => [...document.querySelectorAll(live + ' :is(select, input, .cb-target[tabindex"
        "=\"0\"])')].map((field) => Math.round(field.closest('.cb-controls, .cb-pictures')"
        ".getBoundingClientRect().top))", LIVE)  # fmt: skip
    assert len(set(tops)) == 2 and tops == sorted(tops)


def test_a_narrow_column_cuts_no_table(page):
    page.keyboard.press("Escape")
    page.set_viewport_size({"width": 600, "height": 900})  # the panel has 232 of them
    page.wait_for_timeout(500)
    right, edge = page.evaluate(
        "(live) => ['.cb-table', ''].map((what) => document.querySelector(live + ' ' + what)"
        ".getBoundingClientRect().right)", LIVE)  # fmt: skip
    page.set_viewport_size({"width": 1400, "height": 950})
    assert right <= edge
