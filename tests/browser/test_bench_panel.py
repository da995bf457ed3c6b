"""The panel of the whole bench in a running notebook, worked by keyboard alone."""

import pytest

CODE = (
    "from coldbench.bench import load_bench\n"
    "from coldbench.worksheet import Case\n"
    "from coldbench.worksheet.case_table import CaseTable\n"
    'display(CaseTable("ml-07", Case(())))\n'
    'print("· three doors: not answered yet. " * 9)\n'
    "from coldbench.panels import BenchPanel\n"
    'panel = BenchPanel(load_bench("blue").session("full cooling", ["K1:coil_open"]))\npanel'
)
LIVE = ".cb-panel:not(.cb-still)"
SETTLED_MS = 30_000


@pytest.fixture(scope="module")
def page(run_panel):
    """A notebook with the panel, running."""
    page = run_panel("bench-panel", CODE)
    yield page
    page.close()


def expect(page, selector: str, words: str) -> None:
    """Wait until an element of the panel holds `words`."""
    page.wait_for_function(
        "([selector, words]) => document.querySelector(selector).textContent.includes(words)",
        arg=[f"{LIVE} {selector}", words], timeout=SETTLED_MS)  # fmt: skip


def focused(page) -> str:
    """Name of the element with the focus: its label, or the words on it."""
    return page.evaluate(
        "(({ ariaLabel, labels, textContent }) => ariaLabel || labels?.[0]?.textContent"
        " || textContent || '')(document.activeElement)")  # fmt: skip


def tab_to(page, words: str) -> None:
    """Press Tab until the focused element's name starts with `words`."""
    for _ in range(60):
        if focused(page).startswith(words):
            return
        page.keyboard.press("Tab")
    pytest.fail(f"Tab never came to {words!r}")


def test_a_measurement_at_a_relay_by_keyboard_alone(page):
    cells = page.locator(".jp-Notebook .jp-Cell").count()
    page.locator(f"{LIVE} .cb-target[tabindex='0']").focus()  # then only keys
    page.keyboard.press("1")
    page.keyboard.press("5")
    assert focused(page).startswith("Test point 15,")
    page.keyboard.press("Enter")
    expect(page, ".cb-target-frame desc", "red on 15")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("b")
    expect(page, ".cb-target-frame desc", "black on 16")
    page.keyboard.press("m")
    expect(page, ".cb-line", "Voltmeter, 15 to 16: 1")
    assert page.locator(f"{LIVE} tbody tr").count() == 1
    assert page.locator(".jp-Notebook .jp-Cell").count() == cells  # no key reached the notebook


def test_numbers_typed_fast_one_after_the_other_are_two_numbers(page):
    page.locator(f"{LIVE} .cb-target[tabindex='0']").focus()
    page.wait_for_timeout(1000)  # the number typed before is over
    for key in ("1", "9", "Enter", "2", "0", "b"):
        page.keyboard.press(key)
    expect(page, ".cb-target-frame desc", "red on 19")
    expect(page, ".cb-target-frame desc", "black on 20")


def test_instruments_and_states_by_keyboard_alone(page):
    tab_to(page, "Operating state")
    tab_to(page, "Read both gauges")
    page.keyboard.press("Enter")
    expect(page, ".cb-line", "Gauges: high-side gauge")
    assert "not read" not in page.locator(f"{LIVE} svg").first.text_content()
    tab_to(page, "Pipe")
    page.keyboard.type("suction")
    tab_to(page, "Pipe thermometer")
    page.keyboard.press("Enter")
    expect(page, ".cb-line", "Pipe thermometer, suction line: ")
    tab_to(page, "Live data")
    page.keyboard.press("Enter")
    expect(page, ".cb-lists", "fans asked for")
    page.locator(f"{LIVE} select").first.focus()
    page.keyboard.type("off")
    expect(page, ".cb-line", "Bench: off")
    assert "not read" in page.locator(f"{LIVE} svg").first.text_content()


def test_what_is_refused_is_said_and_costs_nothing(page):
    before = page.locator(f"{LIVE} .cb-line").text_content().rsplit(";", 1)[1]
    page.locator(f"{LIVE} select").first.focus()
    page.keyboard.press("Home")  # the first state
    expect(page, ".cb-line", "Bench: full cooling")
    tab_to(page, "Recover and weigh")
    page.keyboard.press("Enter")
    expect(page, ".cb-line", "refused: switch the drive off first")
    assert page.locator(f"{LIVE} .cb-line").text_content().endswith(before)


def test_what_an_instrument_says_stands_beside_its_button_until_the_next_change(page):
    """The line is far above most buttons; a learner must not have to scroll to see an answer."""
    def beside(button: str) -> str:
        row = page.locator(f"{LIVE} .cb-row", has=page.locator(f"button:has-text('{button}')"))
        row.locator(f"button:has-text('{button}')").click()
        return row.locator("xpath=following-sibling::*[1][@class='cb-echo']").text_content()

    assert beside("Vent thermometer").startswith("Vent thermometer, left: ")
    page.locator(f"{LIVE} select", has=page.locator("option:has-text('not placed')")).first \
        .select_option("none")
    assert beside("Take the reading") == "place both leads first"
    assert page.locator(f"{LIVE} .cb-echo").count() == 1
    assert beside("Put the box in").endswith("set to 0 °C")
    expect(page, ".cb-line", "box at ambient 0 °C")
    page.locator(f"{LIVE} button:has-text('Take the box out')").click()
    expect(page, ".cb-line", "the sensor is back in its place")
    page.locator(f"{LIVE} select").first.select_option("off")
    page.wait_for_selector(f"{LIVE} .cb-echo", state="detached")


def test_no_words_of_the_drawings_lie_on_others(page):
    """By the boxes the browser itself measures; a letter's edge may touch."""
    for what in ("Read both gauges", "Vent thermometer", "Anemometer"):
        page.locator(f"{LIVE} button:has-text('{what}')").click()
        expect(page, ".cb-line", {"Read both gauges": "Gauges"}.get(what, what))
    met = page.evaluate("""(live) => [...document.querySelectorAll(live + ' svg')].flatMap((svg) => {
      const boxes = [...svg.querySelectorAll('text')].filter((text) => !text.transform.baseVal.length)
        .filter((text) => !text.matches('.cb-wd-letter, .cb-bench-socket'))
        .map((text) => [text.textContent, text.getBBox()]);
      const met = [];
      boxes.forEach(([one, a], k) => boxes.slice(k + 1).forEach(([other, b]) => {
        const wide = Math.min(a.x + a.width, b.x + b.width) - Math.max(a.x, b.x);
        const high = Math.min(a.y + a.height, b.y + b.height) - Math.max(a.y, b.y);
        if (wide > 3 && high > 5) met.push(`${one} on ${other}`);
      }));
      const { width, height } = svg.viewBox.baseVal;
      boxes.forEach(([one, b]) => {
        if (b.x < 0 || b.x + b.width > width + 1 || b.y + b.height > height + 4)
          met.push(`${one} outside`);
      });
      return met;
    })""", LIVE)  # fmt: skip
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
    assert page.locator(f"{LIVE} .cb-target").count() > 50 and bare.count() == 0


def test_a_printed_line_breaks_between_words(page):
    """Where the case table stands; JupyterLab's own rule breaks anywhere."""
    broken = page.evaluate("""() => {
      const style = (pre) => getComputedStyle(pre).wordBreak;
      const pre = document.querySelector('.jp-OutputArea-output[data-mime-type$=stdout] pre');
      const ours = style(pre);
      for (const sheet of document.querySelectorAll('.jp-OutputArea-output style'))
        if (sheet.textContent.includes('word-break')) sheet.disabled = true;
      return [ours, style(pre)];
    }""")
    assert broken == ["normal", "break-all"]
