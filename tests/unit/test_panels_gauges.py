"""The gauge panel without a browser: readings, settings, what the page sends, text alternatives."""

import json
import re
import xml.etree.ElementTree as ElementTree
from unittest import mock

import nbformat
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldbench.errors import InputError
from coldbench.panels import GaugePanel
from coldbench.panels.dial import Dial
from coldbench.panels.still import STATE, VIEW, refresh_pictures, still_html, still_mark
from coldbench.refrigerant import FLUIDS, fluid


def plain(words: str) -> str:
    """Words with ordinary spaces."""
    return words.replace("\u00a0", " ")


def line(panel: GaugePanel) -> str:
    """The panel's readings in words."""
    return plain(panel._frame["line"])


def send(panel: GaugePanel, number: int, **changes) -> dict:
    """Act as the page: send changes {name: (value, unit)} and return Python's answer."""
    sent = {name: {"value": value, "unit": unit} for name, (value, unit) in changes.items()}
    panel._request = {"page": "p", "number": number, "changes": sent}
    return panel._frame


def test_readings_add_the_atmosphere_and_look_up_saturation():
    panel = GaugePanel("R-134a", low_side=212)
    found = panel.readings()
    assert found["low_side_gauge_kPa"] == pytest.approx(212)
    assert found["low_side_absolute_kPa"] == pytest.approx(313.325)
    expected_K = fluid("R134a").dew_temperature(313_325.0)
    assert found["low_side_dew_degC"] == pytest.approx(expected_K - 273.15)
    assert line(panel).startswith("Low side 212 kPa gauge = 313 kPa absolute → 1.9 °C.")


def test_altitude_changes_the_absolute_pressure_only():
    sea, hill = GaugePanel(low_side=212), GaugePanel(low_side=212, altitude_m=1500)
    # ISO 2533:1975, standard atmosphere: 84.556 kPa at 1500 m geopotential.
    assert hill.readings()["atmosphere_kPa"] == pytest.approx(84.556, abs=0.05)
    assert hill.readings()["low_side_gauge_kPa"] == pytest.approx(212)
    expected_K = fluid("R134a").dew_temperature(212e3 + hill.readings()["atmosphere_kPa"] * 1e3)
    assert hill.readings()["low_side_dew_degC"] == pytest.approx(expected_K - 273.15)
    assert hill.readings()["low_side_dew_degC"] < sea.readings()["low_side_dew_degC"] - 1


def test_a_blend_says_bubble_and_dew_and_a_pure_fluid_does_not():
    assert "bubble" in line(GaugePanel("R407C")) and "dew" in line(GaugePanel("R407C"))
    assert "bubble" not in line(GaugePanel("R134a"))
    assert GaugePanel("R407C")._stage["columns"][-2:] == ["Bubble point", "Dew point"]


@pytest.mark.parametrize("name", FLUIDS)
def test_every_fluid_draws_and_reads(name):
    panel = GaugePanel(name)
    for drawing in panel.pictures(panel._state):
        ElementTree.fromstring(drawing.svg())  # well-formed
    assert panel.readings()["fluid"] == name


@given(low=st.floats(-65, 800), high=st.floats(-65, 3000), altitude=st.floats(-400, 3000),
       unit=st.sampled_from(["kPa", "bar", "psi"]))  # fmt: skip
def test_any_setting_gives_a_line_and_keeps_its_pressure(low, high, altitude, unit):
    panel = GaugePanel("R134a", altitude, low_side=f"{low:.6f} kPa", high_side=f"{high:.6f} kPa")
    panel.set(pressure_unit=unit)
    found = panel.readings()
    assert found["low_side_gauge_kPa"] == pytest.approx(low, abs=0.51)  # psi ends at −9.5 psi
    assert found["high_side_gauge_kPa"] == pytest.approx(high, abs=0.51)
    assert line(panel).count(unit) == 4


def test_switching_units_there_and_back_moves_nothing():
    panel = GaugePanel(low_side="30 psi")
    before = panel.settings["low_side"]
    for unit in ("psi", "bar", "kPa"):
        panel.set(pressure_unit=unit)
    assert panel.settings["low_side"] == before


def test_a_number_given_with_a_new_unit_is_meant_in_that_unit():
    panel = GaugePanel()
    panel.set(low_side=30, pressure_unit="psi")
    assert panel.readings()["low_side_gauge_kPa"] == pytest.approx(206.84, abs=0.01)


def test_above_the_critical_point_there_is_no_saturation_temperature():
    panel = GaugePanel("R744", pressure_unit="bar", high_side="69.9 bar")
    assert panel.readings()["high_side_dew_degC"] is not None
    panel.set(altitude=-400)
    top = fluid("R744").critical_pressure_Pa
    from coldbench.panels.gauge_panel import _temperature_words
    from coldbench.panels.gauge_state import GaugeState, Side

    state = panel._state
    beyond = Side("high side", top, top + 1e5, None, None)
    words = _temperature_words(
        GaugeState(state.fluid, 1e5, state.low, beyond, state.pressure_unit, "degC"), beyond
    )
    assert words == "no saturation temperature: R-744 is above its critical point"


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"low_side": 900}, "900 kPa is outside −65 to 800 kPa"),
        ({"altitude": 9000}, "9000 m is outside"),
        ({"fluid": "R999"}, "'R999' is not one of"),
        ({"mid_side": 1}, "no control 'mid_side'; accepted: fluid, low_side"),
        ({"low_side": 300, "high_side": 99999}, "outside"),
    ],
)
def test_a_refused_change_moves_nothing(changes, words):
    panel = GaugePanel()
    before = panel.settings, panel._frame
    with pytest.raises(InputError, match=words):
        panel.set(**changes)
    assert (panel.settings, panel._frame) == before


def test_an_unknown_fluid_is_one_sentence():
    with pytest.raises(InputError, match="no refrigerant 'R1'"):
        GaugePanel("R1")


# What the page sends ----------------------------------------------------------------------


def test_an_answer_names_the_request_it_answers():
    frame = send(GaugePanel(), 7, low_side=(300, "kPa"))
    assert frame["answers"] == ["p", 7]
    assert frame["values"]["low_side"] == 300.0


def test_a_number_of_the_page_is_read_in_the_unit_the_page_showed():
    panel = GaugePanel(pressure_unit="psi")
    frame = send(panel, 1, low_side=(200, "kPa"), pressure_unit=("bar", None))
    assert frame["values"]["low_side"] == pytest.approx(2.0)


@pytest.mark.parametrize(
    "changes",
    [
        {"low_side": {"value": 1e9, "unit": "kPa"}},
        {"low_side": {"value": "1 apple"}},
        {"low_side": {"value": {}, "unit": "kPa"}},
        {"low_side": {}},
        {"low_side": 5},
        {"other": {"value": 5}},
        {"fluid": {"value": None}},
        [1],
    ],
)
def test_nonsense_from_the_page_is_told_and_moves_nothing(changes):
    panel = GaugePanel()
    before = panel.settings
    panel._request = {"page": "p", "number": 1, "changes": changes}
    assert panel._frame["message"]
    assert panel._frame["answers"] == ["p", 1]
    assert panel.settings == before


def test_a_fluid_with_a_lower_scale_holds_the_needle_at_its_end():
    panel = GaugePanel("R744", pressure_unit="bar", low_side="50 bar")
    panel.set(fluid="R134a")
    assert panel.readings()["low_side_gauge_kPa"] == pytest.approx(800)


# Without a kernel -------------------------------------------------------------------------


def test_the_still_picture_holds_drawings_readings_and_settings():
    html = plain(GaugePanel(low_side=212).html())
    assert html.count('role="img"') == 2
    assert "<title>Low-side gauge and high-side gauge</title>" in html
    assert "The low side needle stands at 212 kPa gauge" in html
    assert "313 kPa" in html and "Altitude of the workshop: 0 m" in html
    body = re.sub(r"<style>.*?</style>", "", html, flags=re.DOTALL)
    ElementTree.fromstring(f"<div>{body}</div>")


def test_a_panel_leaves_the_live_view_and_after_it_the_picture():
    panel = GaugePanel(low_side=212)
    live, still = outputs_of(panel)
    assert live["data"][VIEW]["model_id"] == panel.model_id
    assert live["data"]["text/html"] == "" and "212" in live["data"]["text/plain"]
    assert plain(still["data"]["text/html"]) == plain(panel.html()) and VIEW not in still["data"]


def test_a_stock_page_shows_the_picture_beside_a_live_view_it_may_not_run():
    from nbconvert import HTMLExporter

    panel = GaugePanel(low_side=212)
    page, _ = HTMLExporter().from_notebook_node(nbformat.from_dict(saved_with(panel)))
    body = re.sub(r"<script.*?</script>|<style.*?</style>", "", page, flags=re.DOTALL)
    assert body.count("cb-still") == 1
    assert "Low side 212 kPa" in plain(body)


def test_a_saved_notebook_is_brought_up_to_its_last_setting():
    panel = GaugePanel(low_side=212)
    outputs = outputs_of(panel)
    panel.set(low_side=444)
    saved = json.loads(json.dumps(saved_with(panel, outputs), sort_keys=True))  # as a file has it
    assert refresh_pictures(saved) == 1
    html = plain(saved["cells"][0]["outputs"][1]["data"]["text/html"])
    assert "Low side 444 kPa" in html
    assert html == plain(still_html(panel._stage, panel._frame))


def outputs_of(panel) -> list[dict]:
    """What a cell that shows a panel leaves in the notebook."""
    shown = []
    with mock.patch("IPython.display.display",
                    lambda data, raw, metadata={}: shown.append((data, metadata))):  # noqa: B006
        panel._ipython_display_()
    return [{"output_type": "display_data", "data": data, "metadata": metadata}
            for data, metadata in shown]


def saved_with(panel, outputs=None) -> dict:
    """A notebook saved with the panel's outputs and its state."""
    state = {panel.model_id: {"state": {"_stage": panel._stage, "_frame": panel._frame}}}
    cell = {"cell_type": "code", "source": "panel", "execution_count": 1, "metadata": {},
            "outputs": outputs or outputs_of(panel)}
    return {"nbformat": 4, "nbformat_minor": 4, "cells": [cell],
            "metadata": {"widgets": {STATE: {"state": state}}}}


@pytest.mark.parametrize("notebook", [
    {"cells": []},
    {"cells": [{"outputs": [{"data": {}, "metadata": still_mark("gone")}]}]},
    {"cells": [{"outputs": [{"metadata": {"coldbench": "odd"}}, {"name": "stdout"}]}, {}]},
])  # fmt: skip
def test_other_notebooks_are_left_alone(notebook):
    before = json.dumps(notebook)
    assert refresh_pictures(notebook) == 0
    assert json.dumps(notebook) == before


# Drawing ----------------------------------------------------------------------------------


@given(st.floats(-100, 800), st.floats(-100, 800))
def test_the_needle_turns_clockwise_with_pressure(one, other):
    scale = Dial("low", (0, 0), -100, 800, "kPa").scale
    turn = scale.place(other) - scale.place(one)
    # Full sweep 260 degrees over 900 kPa.
    assert turn == pytest.approx((other - one) * 260 / 900, abs=1e-9)


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours "#rrggbb" [-]; WCAG 2.2, definition of contrast ratio."""

    def luminance(colour: str) -> float:
        parts = (int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5))
        red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4
                            for p in parts)  # fmt: skip
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("theme", [0, 1])
def test_colours_keep_their_contrast(theme):
    """WCAG 2.2, 1.4.3 text 4.5 to 1 and 1.4.11 graphical objects 3 to 1."""
    from coldbench.panels.still import style_sheet

    blocks = re.findall(r"\{([^{}]*--cb-ground: #[^{}]*)\}", style_sheet())
    colours = dict(re.findall(r"--cb-(\w+): (#\w{6})", blocks[theme]))
    for ground in (colours["ground"], colours["face"]):
        for name in ("ink", "soft", "low", "high", "refused"):
            assert contrast(colours[name], ground) >= 4.5, name
        for name in ("rule", "focus"):
            assert contrast(colours[name], ground) >= 3.0, name
