"""The loop panel without a browser: the solved loop in gauges, words and drawing; labs' options."""

import re
import xml.etree.ElementTree as ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldbench.errors import ConvergenceError, InputError
from coldbench.panels import LoopPanel, loop_panel
from coldbench.panels.loop_picture import _lever
from coldbench.refrigerant.loop import Conditions, fault_kinds, solve_loop
from coldbench.refrigerant.loop.conditions import LOOP_FLUIDS


def texts(panel, which: int = 1) -> set[str]:
    """All words in a drawing, which must be well-formed."""
    svg = ElementTree.fromstring(panel.pictures(panel._state)[which].svg())
    return {element.text for element in svg.iter() if element.tag.endswith("text")}


def line(panel) -> str:
    """The readings in words, with ordinary spaces."""
    return panel._frame["line"].replace("\u00a0", " ")


def test_readings_are_those_of_the_solved_loop():
    panel = LoopPanel(ambient=35, intake=30, humidity=60, blower=80, condenser_fan="low",
                      speed=2000, valve_angle=70, charge=90,
                      faults=["air-in-system=0.3"])  # fmt: skip
    wanted = solve_loop(
        Conditions(ambient_K=308.15, intake_K=303.15, intake_humidity=0.6, blower=0.8,
                   condenser_fan="low", speed_rpm=2000, valve_angle_deg=70, charge=0.9),
        faults=["air-in-system=0.3"])  # fmt: skip
    found = panel.readings()
    assert found["high_side_gauge_kPa"] == pytest.approx(wanted.high_side_gauge_Pa / 1e3)
    assert found["low_side_gauge_kPa"] == pytest.approx(wanted.low_side_gauge_Pa / 1e3)
    assert found["vent_temperature_degC"] == pytest.approx(wanted.vent_temperature_K - 273.15)
    assert found["superheat_K"] == pytest.approx(wanted.superheat_K)
    assert found["flags"] == "; ".join(wanted.flags)


def test_gauges_and_drawing_say_the_same_as_the_line():
    panel = LoopPanel()
    found = panel.readings()
    high = f"{found['high_side_gauge_kPa']:.0f} kPa"
    vent = f"{found['vent_temperature_degC']:.1f} °C"
    assert high in texts(panel, 0) and vent in texts(panel, 1)
    assert line(panel).startswith(f"High side {high}, low side ")
    assert vent in panel._frame["pictures"]["loop"][1]


def test_warm_start_does_not_change_what_is_shown():
    moved = LoopPanel()
    for angle in (30, 60, 75, 85, 90, 80, 72):
        moved.set(valve_angle=angle)
    fresh = LoopPanel(valve_angle=72)
    for name, value in fresh.readings().items():
        if isinstance(value, float):
            assert moved.readings()[name] == pytest.approx(value, rel=1e-4, abs=1e-3), name


def test_closing_the_hand_valve_lowers_both_sides_and_is_noted():
    # Common practice with a receiver: closing the liquid line makes the high side fall too.
    panel = LoopPanel()
    openly = panel.readings()
    panel.set(valve_angle=85)
    shut = panel.readings()
    assert shut["high_side_gauge_kPa"] < openly["high_side_gauge_kPa"] - 100
    assert shut["low_side_gauge_kPa"] < openly["low_side_gauge_kPa"] - 100
    assert shut["sight_glass"] == "bubbles" and "bubbles" in texts(panel)
    assert "Note: " in panel._frame["line"]


def test_at_rest_both_gauges_agree_and_nothing_flows():
    panel = LoopPanel(clutch=False)
    found = panel.readings()
    assert found["high_side_gauge_kPa"] == found["low_side_gauge_kPa"]
    assert {"at rest", "still"} <= texts(panel)
    assert "the compressor stands still" in panel._frame["line"]
    assert "COP" not in [row[0] for row in panel._frame["rows"]]


def test_without_explanation_the_working_out_is_left_to_the_learner():
    panel = LoopPanel(faults=["undercharge=1"], explain=False)
    page = panel.html() + str(panel.readings())
    for word in ("uperheat", "ubcooling", "COP", "receiver empty", "mass flow", "undercharge"):
        assert word not in page
    assert not any("% full" in (t or "") or re.fullmatch(r"\d+ %", t or "") for t in texts(panel))
    assert {"high_side_gauge_kPa", "vent_temperature_degC", "sight_glass"} <= set(panel.readings())


def test_only_some_controls_are_shown_and_the_rest_stay_put():
    panel = LoopPanel(ambient=40, only=("valve_angle", "pressure_unit"))
    assert [c["name"] for c in panel._stage["controls"]] == ["valve_angle", "pressure_unit"]
    with pytest.raises(InputError, match="no control 'ambient'; accepted: valve_angle"):
        panel.set(ambient=20)
    panel.set(valve_angle=10)
    assert panel.settings["ambient"] == pytest.approx(313.15)


@pytest.mark.parametrize("name", LOOP_FLUIDS)
@pytest.mark.parametrize("units", [("kPa", "degC"), ("psi", "degF"), ("bar", "degC")])
def test_every_fluid_and_unit_draws(name, units):
    panel = LoopPanel(fluid=name, pressure_unit=units[0], temperature_unit=units[1])
    for which in (0, 1):
        assert texts(panel, which)
    assert not re.search(r">(nan|None|inf)<", panel.html())


@pytest.mark.parametrize("name", fault_kinds())
def test_every_fault_shows(name):
    panel = LoopPanel(faults=[name])
    assert texts(panel) and "high_side_gauge_kPa" in panel.readings()


@given(angle=st.floats(0, 90), ambient=st.floats(10, 50), charge=st.floats(20, 140),
       blower=st.floats(0, 100), fan=st.sampled_from(["off", "low", "high"]),
       speed=st.floats(500, 5000))  # fmt: skip
@settings(max_examples=40, deadline=None)
def test_any_setting_is_shown_or_its_failure_said(angle, ambient, charge, blower, fan, speed):
    panel = LoopPanel(valve_angle=angle, ambient=ambient, charge=charge, blower=blower,
                      condenser_fan=fan, speed=speed)  # fmt: skip
    found = panel.readings()
    assert found.get("why") or found["high_side_gauge_kPa"] >= found["low_side_gauge_kPa"] - 1e-6


def test_a_loop_that_was_not_solved_shows_nothing_from_before(monkeypatch):
    panel = LoopPanel()

    def fails(*args, **kwargs):
        raise ConvergenceError("no steady state of the loop found")

    monkeypatch.setattr(loop_panel, "solve_loop", fails)
    panel.set(valve_angle=50)
    assert panel._frame["line"] == "Nothing is shown: no steady state of the loop found."
    assert panel._frame["rows"] == [] and set(panel._frame["pictures"]) == {"loop"}
    assert panel._frame["pictures"]["loop"][0] == ""
    assert panel.readings() == {"fluid": "R134a", "why": "no steady state of the loop found"}


def test_the_lever_turns_with_the_valve():
    def tip(angle):
        return [float(v) for v in re.search(r"L([\d.]+) ([\d.]+)", _lever(angle)).groups()]

    along, across = tip(0), tip(90)
    assert along[0] == pytest.approx(490) and along[1] < 200  # along the pipe: open
    assert across[0] > 510 and across[1] == pytest.approx(210)  # across it: shut


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"faults": ["magic"]}, "magic"),
        ({"faults": ["air-in-system=3"]}, "air-in-system"),
        ({"only": ("door",)}, "no control 'door'; accepted: fluid, valve_angle"),
        ({"ambient": 90}, "90 °C is outside 10 to 50 °C"),
        ({"humidity": 130}, "130 % is outside 0 to 100 %"),
        ({"charge": -1}, "−1 % is outside 20 to 140 %"),
        ({"fluid": "R1"}, "no refrigerant 'R1'"),
        ({"altitude_m": 99999}, "altitude 99999 m"),
    ],
)
def test_what_does_not_fit_is_refused_in_words(arguments, words):
    with pytest.raises(InputError, match=re.escape(words)):
        LoopPanel(**arguments)


def test_an_angle_is_written_with_its_sign():
    panel = LoopPanel(valve_angle=70)
    assert panel._frame["words"]["valve_angle"] == "70°"
    panel.set(valve_angle="45 deg")
    assert panel._frame["words"]["valve_angle"] == "45°"
    with pytest.raises(InputError, match="95° is outside 0 to 90°"):
        panel.set(valve_angle=95)
