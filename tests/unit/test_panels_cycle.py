"""The cycle panel without a browser: numbers of the cycle itself, words, drawings, refusals."""

import re
import xml.etree.ElementTree as ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldbench.errors import InputError
from coldbench.panels import CyclePanel
from coldbench.panels.cycle_picture import backdrop, within
from coldbench.panels.still import still_html
from coldbench.panels.state_lines import Line, plot
from coldbench.refrigerant.cycle import CycleParts, solve_cycle
from coldbench.refrigerant.loop import blue_parts
from coldbench.refrigerant.loop.conditions import LOOP_FLUIDS


def drawings(panel):
    """The drawings, parsed: malformed ones raise."""
    return [ElementTree.fromstring(p.svg()) for p in panel.pictures(panel._state)]


def test_readings_are_those_of_the_cycle_between_the_gauges():
    panel = CyclePanel("R-134a", low_side=200, high_side=1200, superheat=8, subcooling=6,
                       isentropic_efficiency=70, speed=1500)  # fmt: skip
    parts = CycleParts(superheat_K=8, subcooling_K=6, isentropic_efficiency=0.7,
                       volumetric_efficiency=0.75, speed_rev_s=25.0,
                       displacement_m3=blue_parts().compressor.displacement_m3)  # fmt: skip
    wanted = solve_cycle("R134a", 301_325.0, 1_301_325.0, parts)
    found = panel.readings()
    assert found["capacity_W"] == pytest.approx(wanted.capacity_W)
    assert found["power_W"] == pytest.approx(wanted.power_W)
    assert found["cop"] == pytest.approx(wanted.cop)
    assert found["discharge_temperature_degC"] == pytest.approx(
        wanted.discharge_temperature_K - 273.15)  # fmt: skip
    assert found["h3_kJ_kg"] == found["h4_kJ_kg"]


def test_the_words_say_the_numbers():
    panel = CyclePanel()
    found, line = panel.readings(), panel._frame["line"].replace("\u00a0", " ")
    assert f"{found['capacity_W'] / 1e3:.2f} kW" in line and f"COP {found['cop']:.2f}" in line
    assert f"{found['discharge_temperature_degC']:.1f} °C" in line
    assert len(panel._frame["rows"]) == 4


def test_altitude_lifts_nothing_on_the_gauges_but_lowers_what_boils():
    sea, hill = CyclePanel(), CyclePanel(altitude_m=2000)
    assert sea.settings["low_side"] == hill.settings["low_side"]
    cold = [p.readings()["evaporating_temperature_degC"] for p in (sea, hill)]
    assert cold[1] < cold[0] - 1


@pytest.mark.parametrize("name", LOOP_FLUIDS)
@pytest.mark.parametrize("unit", ["kPa", "bar", "psi"])
def test_every_fluid_draws_in_every_unit(name, unit):
    panel = CyclePanel(name, pressure_unit=unit)
    (svg,) = drawings(panel)
    texts = {element.text for element in svg.iter() if element.tag.endswith("text")}
    assert {"1", "2", "3", "4", "condenser", "evaporator", "compressor", "valve"} <= texts
    assert f"{unit} absolute" in texts
    assert "1 compressor inlet" in panel._frame["pictures"]["chart"][1]


@given(low=st.floats(-60, 500), high=st.floats(500, 2600), superheat=st.floats(0, 40),
       subcooling=st.floats(0, 20), efficiency=st.floats(40, 100),
       name=st.sampled_from(LOOP_FLUIDS))  # fmt: skip
@settings(max_examples=60, deadline=None)
def test_any_setting_gives_a_cycle_within_the_drawing_or_says_why(
        low, high, superheat, subcooling, efficiency, name):  # fmt: skip
    panel = CyclePanel(name, low_side=low, high_side=high, superheat=superheat,
                       subcooling=subcooling, isentropic_efficiency=efficiency)  # fmt: skip
    drawings(panel)
    found = panel.readings()
    if "why" in found:
        assert panel._frame["line"] == f"No cycle: {found['why']}." and found["why"]
    else:
        assert found["cop"] > 0
        assert found["discharge_temperature_degC"] > found["condensing_temperature_degC"] - 0.01


def test_no_cycle_is_said_and_nothing_stays_from_before():
    panel = CyclePanel()
    panel.set(low_side=500, high_side=500)
    assert "No cycle: " in panel._frame["line"]
    assert panel._frame["rows"] == [] and panel._frame["pictures"]["chart"][0] == ""
    assert "No cycle" in panel.html()
    panel.set(high_side=1200)
    assert panel.readings()["cop"] > 0


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"low_side": 900}, "900 kPa is outside"),
        ({"fluid": "R22"}, "R22.* is not one of R-134a, R-1234yf, R-152a"),
        ({"speed": "9000 rpm"}, "9000 rpm is outside 500 to 4000 rpm"),
        ({"angle": 1}, "no control 'angle'"),
    ],
)
def test_what_does_not_fit_is_refused(changes, words):
    panel = CyclePanel()
    before = panel._frame
    with pytest.raises(InputError, match=words):
        panel.set(**changes)
    assert panel._frame == before


def test_superheat_is_meant_in_the_chosen_unit():
    panel = CyclePanel(temperature_unit="degF", superheat=18)
    assert panel.settings["superheat"] == pytest.approx(10.0)
    panel.set(superheat="5 K")
    assert panel._frame["values"]["superheat"] == pytest.approx(9.0)


def test_only_what_moves_is_sent_while_a_slider_moves():
    panel = CyclePanel()
    stage = panel._stage
    panel.set(superheat=12)
    assert panel._stage is stage
    assert len(panel._frame["pictures"]["chart"][0]) < 5_000 < len(backdrop("R134a", "kPa"))


def test_lines_are_cut_at_the_edge_of_the_chart():
    shown = plot("R134a")
    (left, right), (low, high) = shown.x_range, shown.y_range
    across = Line((left - 100, right + 100), (low * 2, low * 2))
    ((start, end),) = within(shown, across)
    assert start[0] == pytest.approx(0) and end[0] == pytest.approx(1)
    assert within(shown, Line((left - 9, left - 5), (low * 2, low * 3))) == []
    for family in shown.families:
        for one in family.lines:
            for piece in within(shown, one):
                assert all(-1e-9 <= share <= 1 + 1e-9 for spot in piece for share in spot)


def test_the_still_view_holds_the_chart_and_the_table():
    panel = CyclePanel()
    html = still_html(panel._stage, panel._frame)
    assert html.count("<svg") == 1 and "4 wet vapour" in html
    assert not re.search(r">(nan|None|inf)<", html)
