"""The panels for diagnosis in a running notebook: a tree built and a suspect struck out by keys."""

import pytest

CODE = (
    "from coldbench.panels import SuspectPanel, TreePanel\n"
    'panel = TreePanel(["fuse blown", "fan 1 open", "fan 2 open"], top="no condenser air")\n'
    'suspects = SuspectPanel({"fuse blown": 0.2, "fan 1 open": 0.5, "fan 2 open": 0.3})\n'
    "display(panel, suspects)"
)
LIVE = ".cb-panel:not(.cb-still)"
TREE = f"{LIVE}[aria-label='Build a fault tree']"
SUSPECTS = f"{LIVE}[aria-label='Suspects']"
SETTLED_MS = 30_000


@pytest.fixture(scope="module")
def page(run_panel):
    """A notebook with both panels, running."""
    page = run_panel("tree-panel", CODE, width=1500, height=1100)
    for panel in (TREE, SUSPECTS):
        page.wait_for_selector(f"{panel}:not(.cb-resting) select", timeout=120_000)
    yield page
    page.close()


def expect_line(page, panel: str, words: str) -> None:
    """Wait until the panel's line holds `words`."""
    page.wait_for_function(
        "([panel, words]) => document.querySelector(panel + ' .cb-line').textContent"
        ".includes(words)", arg=[panel, words], timeout=SETTLED_MS)  # fmt: skip


def expect_focus(page, words: str) -> None:
    """Wait until the element with the focus has a name that starts with `words`."""
    page.wait_for_function(
        "(words) => (document.activeElement.getAttribute('aria-label') || '').startsWith(words)",
        arg=words, timeout=SETTLED_MS)  # fmt: skip




def test_a_tree_is_built_by_keyboard_alone(page):
    cells = page.locator(".jp-Notebook .jp-Cell").count()
    page.locator(f"{TREE} .cb-target").first.focus()
    page.keyboard.press("c")
    expect_line(page, TREE, '["or", "fuse blown"]')
    expect_focus(page, "Box 1, no condenser air (OR), selected")
    page.keyboard.press("g")
    expect_line(page, TREE, '["or", "fuse blown", ["and"]]')
    expect_focus(page, "Box 3, gate 3 (AND), selected")  # the focus follows to the new gate
    for cause in ("fan 1 open", "fan 2 open"):
        page.locator(f"{TREE} label:has-text('Cause') + select").focus()
        page.keyboard.type(cause)
        page.locator(f"{TREE} .cb-target[tabindex='0']").focus()
        page.keyboard.press("c")
        expect_line(page, TREE, f'"{cause}"')
    expect_line(page, TREE, "2 minimal cut sets")
    page.keyboard.press("o")
    expect_line(page, TREE, "3 minimal cut sets")
    page.keyboard.press("u")
    expect_line(page, TREE, '["or", "fuse blown", ["and", "fan 1 open", "fan 2 open"]]')
    assert page.locator(".jp-Notebook .jp-Cell").count() == cells  # no key reached the notebook
    assert page.locator(f"{TREE} tbody tr").count() == 2


def test_the_tree_is_copied_by_a_button_and_nothing_more_than_the_tree(page):
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    page.locator(f"{TREE} .cb-copy").focus()
    page.keyboard.press("Enter")
    page.locator(f"{TREE} .cb-copy:has-text('Copied')").wait_for(timeout=SETTLED_MS)
    copied = page.evaluate("navigator.clipboard.readText()")
    assert copied == '["or", "fuse blown", ["and", "fan 1 open", "fan 2 open"]]'
    assert page.locator(f"{SUSPECTS} .cb-copy").is_hidden()


def test_arrow_keys_and_clicks_select_boxes(page):
    page.locator(f"{TREE} .cb-target[aria-label^='Box 1,']").focus()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    page.wait_for_selector(f"{TREE} .cb-target[aria-label$=', selected']:not([aria-label^='Box "
                           "1,'])", timeout=SETTLED_MS)
    page.locator(f"{TREE} .cb-target[aria-label^='Box 5,']").click()
    page.wait_for_selector(f"{TREE} .cb-target[aria-label='Box 5, fan 2 open, selected']",
                           timeout=SETTLED_MS)
    page.keyboard.press("Delete")
    expect_line(page, TREE, '["and", "fan 1 open"]]')
    page.keyboard.press("u")
    expect_line(page, TREE, '["and", "fan 1 open", "fan 2 open"]]')


def test_every_box_can_be_reached_by_arrow_keys(page):
    reached = page.evaluate("""(panel) => {
      const fields = [...document.querySelectorAll(panel + ' .cb-target')];
      const seen = new Set([fields[0]]);
      for (const field of seen)
        for (const key of ['ArrowLeft', 'ArrowRight', 'ArrowUp', 'ArrowDown']) {
          field.focus();
          field.dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true }));
          seen.add(document.activeElement);
        }
      return fields.filter((field) => !seen.has(field)).map((field) => field.ariaLabel);
    }""", TREE)  # fmt: skip
    assert reached == []


def test_a_suspect_is_struck_out_and_brought_back(page):
    page.locator(f"{SUSPECTS} .cb-target").first.focus()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    page.wait_for_selector(f"{SUSPECTS} .cb-target[aria-label^='Suspect 2,'][aria-label$="
                           "', selected']", timeout=SETTLED_MS)
    page.keyboard.press("s")
    expect_line(page, SUSPECTS, "2 of 3 suspects left")
    page.wait_for_selector(f"{SUSPECTS} .cb-target[aria-label*='struck out by reasoning']",
                           timeout=SETTLED_MS)
    assert page.locator(f"{SUSPECTS} .cb-ft-struck").count() == 1
    page.keyboard.press("r")
    expect_line(page, SUSPECTS, "3 of 3 suspects left")


def test_no_text_of_the_tree_lies_on_another_or_leaves_its_box(page):
    met = page.evaluate("""(panel) => {
      const svg = document.querySelector(panel + ' .cb-target-frame svg');
      const boxes = [...svg.querySelectorAll('text')].map((text) =>
        [text.textContent, text.getBBox()]);
      const met = [];
      boxes.forEach(([one, a], k) => boxes.slice(k + 1).forEach(([other, b]) => {
        const wide = Math.min(a.x + a.width, b.x + b.width) - Math.max(a.x, b.x);
        const high = Math.min(a.y + a.height, b.y + b.height) - Math.max(a.y, b.y);
        if (wide > 3 && high > 4) met.push(`${one} on ${other}`);
      }));
      boxes.forEach(([one, a]) => { if (a.width > 138) met.push(`${one} is too wide`); });
      return met;
    }""", TREE)  # fmt: skip
    assert not met, met


@pytest.mark.parametrize("panel", [TREE, SUSPECTS], ids=["tree", "suspects"])
def test_names_and_roles_are_sound(page, panel):
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(page, context=panel).response["violations"]
    serious = [v["id"] for v in found if v["impact"] in ("serious", "critical")]
    assert not serious, serious


CAUSES_CODE = (
    "from coldbench.panels import CausesPanel\n"
    'CausesPanel("blue", "fans never run", {"fuse F1 blown": "F1:blown", "fan 2 open": "M2:open"})'
)
CAUSES = f"{LIVE}[aria-label='Try causes at the bench']"


def test_causes_are_ticked_and_tried_by_keys(run_panel):
    page = run_panel("causes-panel", CAUSES_CODE)
    expect_line(page, CAUSES, "Nothing tried yet")
    panel = page.locator(CAUSES)
    for words in ("fuse F1 blown", "fan 2 open"):
        panel.get_by_label(words).focus()
        page.keyboard.press("Space")
    panel.get_by_role("button", name="Try them at the bench").focus()
    page.keyboard.press("Enter")
    expect_line(page, CAUSES, "The bench shows “fans never run”")
    assert panel.locator("tbody th").all_inner_texts() == ["fuse F1 blown + fan 2 open"]
    box, table = panel.bounding_box(), panel.locator("table").bounding_box()
    assert table["x"] + table["width"] <= box["x"] + box["width"]
    page.close()
