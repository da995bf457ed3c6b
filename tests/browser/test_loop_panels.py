"""The loop's panels in a running notebook: keys move needles and cycle, words follow."""

import json

import pytest

CODE = (
    "from coldbench.panels import CyclePanel, LoopPanel\n"
    "from IPython.display import display\n"
    "display(LoopPanel(), CyclePanel())"
)
VALVE, SUPERHEAT = "Hand valve, 0 open to 90 shut", "Superheat at the evaporator outlet"
SETTLED_MS = 30_000
LIVE = ".cb-panel:not(.cb-still)"


@pytest.fixture(scope="module")
def page(run_panel):
    """A notebook with both panels, running."""
    page = run_panel("loop-panels", CODE)
    page.locator(f"{LIVE}:not(.cb-resting)").nth(1).wait_for(timeout=120_000)
    yield page
    page.close()


def panel(page, which: int):
    """The loop panel (0) or the cycle panel (1)."""
    return page.locator(LIVE).nth(which)


def expect_words(page, which: int, words: str) -> None:
    """Wait until a panel's readings in words hold `words`."""
    page.wait_for_function(
        "([live, at, words]) => document.querySelectorAll(live)[at].querySelector('.cb-line')"
        ".textContent.replaceAll('\\u00a0', ' ').includes(words)",
        arg=[LIVE, which, words], timeout=SETTLED_MS,
    )  # fmt: skip


def put(page, which: int, label: str, number: str) -> None:
    """Type a number in the box of a control and press Enter."""
    panel(page, which).locator(f"input[type=number][aria-label^='{label}']").focus()
    page.keyboard.press("Control+A")
    page.keyboard.type(number)
    page.keyboard.press("Enter")


def test_closing_the_valve_by_keys_moves_gauges_and_notes(page):
    put(page, 0, VALVE, "70")
    slider = panel(page, 0).locator("input[type=range]").first
    slider.focus()
    for _ in range(15):
        page.keyboard.press("ArrowRight")
    page.wait_for_function(
        "live => [...document.querySelector(live).querySelectorAll('desc')]"
        ".some((words) => words.textContent.includes('hand valve at 85°'))",
        arg=LIVE, timeout=SETTLED_MS)  # fmt: skip
    expect_words(page, 0, "bubbles in the liquid line")
    assert slider.input_value() == "85"


def test_the_clutch_stops_the_loop_and_starts_it_again(page):
    box = panel(page, 0).get_by_label("Compressor clutch engaged")
    box.focus()
    page.keyboard.press("Space")
    expect_words(page, 0, "the compressor stands still")
    assert page.evaluate("document.activeElement.type") == "checkbox"
    page.keyboard.press("Space")
    expect_words(page, 0, "Superheat")


def test_superheat_moves_the_cycle(page):
    before = panel(page, 1).locator(".cb-front").inner_html()
    put(page, 1, SUPERHEAT, "20")
    expect_words(page, 1, "Cooling capacity")
    page.wait_for_function(
        "([live, before]) => document.querySelectorAll(live)[1].querySelector('.cb-front')"
        ".innerHTML !== before", arg=[LIVE, before], timeout=SETTLED_MS)  # fmt: skip
    assert "superheat 20.0 K" in panel(page, 1).locator(".cb-front").inner_html()


def test_a_setting_without_a_cycle_says_why_and_the_next_one_is_shown(page):
    put(page, 1, "Low side, gauge pressure", "500")
    put(page, 1, "High side, gauge pressure", "500")
    expect_words(page, 1, "No cycle: ")
    put(page, 1, "High side, gauge pressure", "1200")
    expect_words(page, 1, "COP")


@pytest.mark.parametrize("light", ["true", "false"])
def test_no_serious_barrier_for_assistive_technology(page, light):
    from axe_playwright_python.sync_playwright import Axe

    before = page.evaluate("document.body.dataset.jpThemeLight")
    page.evaluate("light => document.body.dataset.jpThemeLight = light", light)
    found = Axe().run(page, context=LIVE).response
    page.evaluate("light => document.body.dataset.jpThemeLight = light", before)
    grave = [v for v in found["violations"] if v["impact"] in ("serious", "critical")]
    assert not grave, json.dumps([(v["id"], v["help"], [n["html"] for n in v["nodes"]])
                                  for v in grave], indent=1)  # fmt: skip


def test_each_control_has_a_name_and_keeps_jupyterlabs_keys_away(page):
    fields = page.locator(f"{LIVE} :is(input, select, button)")
    assert fields.count() >= 40
    nameless = page.evaluate(
        """live => [...document.querySelectorAll(`${live} :is(input, select)`)].filter(
             (field) => !field.ariaLabel && !(field.labels && field.labels.length)).length""", LIVE)
    assert nameless == 0
    bare = page.locator(
        f"{LIVE} :is(input, select, button):not([data-lm-suppress-shortcuts='true'])")
    assert bare.count() == 0


def test_nothing_is_cut_off_at_the_side(page):
    wide = page.evaluate(
        """live => [...document.querySelectorAll(live)].map(
             (panel) => [...panel.querySelectorAll('*')].filter((part) => part.tagName !== 'desc'
               && !part.closest('svg') && !part.closest('.cb-spoken')
               && part.getBoundingClientRect().right > panel.getBoundingClientRect().right)
             .map((part) => part.className || part.tagName))""", LIVE)  # fmt: skip
    assert wide == [[], []]
