"""Printable state charts: lines where the fluid has them, labels, words, refusals."""

import re
import xml.etree.ElementTree as ElementTree

import pytest

from coldbench.errors import InputError
from coldbench.panels import state_chart
from coldbench.panels.chart_figure import _place, cycle_stations
from coldbench.panels.state_lines import KINDS, plot
from coldbench.refrigerant import FLUIDS, fluid
from coldbench.refrigerant.cycle import CycleParts, solve_cycle
from coldbench.refrigerant.loop import Conditions, solve_loop
from coldbench.refrigerant.state import saturated, state_pT

PARTS = CycleParts(superheat_K=8, subcooling_K=6, isentropic_efficiency=0.7, mass_flow_kg_s=0.03)


def cycle(low_Pa=300e3, high_Pa=1200e3, parts=PARTS):
    """An ordinary cycle."""
    return solve_cycle("R134a", low_Pa, high_Pa, parts)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("name", FLUIDS)
def test_every_fluid_and_kind_draws_with_a_text_alternative(name, kind):
    chart = state_chart(name, kind)
    html = chart.html()
    svg = re.search(r"<svg.*</svg>", html, re.DOTALL)[0]
    ElementTree.fromstring(svg)
    assert fluid(name).designation in chart.alt and "dome" in chart.alt
    assert 'role="img"' in svg and chart.alt[:60] in html


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("name", FLUIDS)
def test_the_rounded_dome_keeps_to_the_saturation_table(name, kind):
    from coldbench.refrigerant.chart_files import stored_chart

    shown, data = plot(name, kind), stored_chart(name)
    at = list(zip(shown.dome.x, shown.dome.y, strict=True))
    x, y = ("enthalpy_J_kg", "pressure_Pa") if kind == "P-h" else ("entropy_J_kgK", "temperature_K")
    for line in (data.bubble, data.dew):
        for across, up in zip(getattr(line, x), getattr(line, y), strict=True):
            up = up / 1e3 if kind == "P-h" else up - 273.15
            assert any(abs(u - across / 1e3) < 1e-3 * abs(u) and abs(v - up) < 1e-3 * abs(v) + 1e-3
                       for u, v in at)


def test_between_nodes_the_dome_stays_at_saturation():
    # The saturation curve of the shipped tables, at pressures between the chart's nodes.
    from coldbench.refrigerant.properties import properties

    r134a, shown = properties("R134a"), plot("R134a")
    ends = {"liquid": r134a.liquid_enthalpy_sat, "vapour": r134a.vapour_enthalpy_sat}
    for h, p in zip(shown.dome.x, shown.dome.y, strict=True):
        if 40 < p < 3800:
            nearest = min(ends.values(), key=lambda side: abs(side(p * 1e3) / 1e3 - h))
            # The printed line is 1.3 kJ/kg wide.
            allowed = 0.05 if p < 2900 else 0.3
            assert nearest(p * 1e3) / 1e3 == pytest.approx(h, abs=allowed)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("name", FLUIDS)
def test_most_lines_carry_their_value_within_the_axes(name, kind):
    from coldbench.panels.chart_figure import _axes

    shown = plot(name, kind)
    axes = _axes(shown, [])
    for family in shown.families:
        labelled = [line for line in family.lines
                    if any(_place(axes, line, at) for at in line.labels_at)]
        assert len(labelled) >= 0.6 * len(family.lines), family.look
        for line in labelled:
            for at in line.labels_at:
                if found := _place(axes, line, at):
                    assert shown.holds(*found[:2])


def test_a_cycle_is_numbered_in_the_order_of_flow_and_said_in_words():
    chart = state_chart("R134a", cycle=cycle())
    texts = [t.get_text() for t in chart.figure.axes[0].texts]
    assert [t for t in texts if t in "1234"] == ["1", "2", "3", "4"]
    assert "1 compressor inlet at 300 kPa, 8.7 °C" in chart.alt
    assert "3 condenser outlet at 1200 kPa" in chart.alt


def test_pressure_drops_give_further_numbers():
    parts = CycleParts(mass_flow_kg_s=0.03, superheat_K=8, liquid_line_drop_Pa=80e3,
                       suction_line_drop_Pa=20e3, discharge_line_drop_Pa=50e3)
    names = [name for name, _ in cycle_stations(cycle(parts=parts))]
    assert names == ["compressor inlet", "compressor outlet", "condenser inlet",
                     "condenser outlet", "valve inlet", "evaporator inlet", "evaporator outlet"]


@pytest.mark.parametrize("kind", KINDS)
def test_a_solved_loop_draws_and_a_resting_one_has_no_cycle(kind):
    running, resting = solve_loop(), solve_loop(Conditions(speed_rpm=0))
    assert "compressor outlet" in state_chart("R134a", kind, cycle=running).alt
    assert cycle_stations(resting) == []
    assert "Cycle" not in state_chart("R134a", kind, cycle=resting).alt


def test_axes_stretch_to_hold_every_point():
    deep = saturated("R134a", 6e3, 0.5)
    low, high = state_chart("R134a", points={"A": deep}).figure.axes[0].get_ylim()
    assert low < 6 < high


def test_the_condenser_follows_its_isobar_on_a_temperature_entropy_chart():
    from coldbench.panels.state_lines import path_between

    solved = cycle()
    way = path_between("T-s", [state for _, state in cycle_stations(solved)])
    flat = [t for s, t in way if 1.25 < s < 1.65 and t > 20]
    expected = fluid("R134a").dew_temperature(1200e3) - 273.15
    assert len(flat) > 20 and all(t == pytest.approx(expected, abs=0.05) for t in flat)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"kind": "p-v"}, "chart 'p-v' is not one of P-h, T-s"),
        ({"fluid": "R1"}, "no refrigerant 'R1'"),
        ({"points": {"A": (1, 2)}}, r"A: \(1, 2\) is no state; use state_pT"),
        ({"fluid": "R152a", "points": {"A": state_pT("R134a", 1e5, 300.0)}},
         "A is a state of R134a, the chart is of R152a"),
    ],
)  # fmt: skip
def test_what_does_not_fit_is_refused_in_words(arguments, words):
    with pytest.raises(InputError, match=words):
        state_chart(**arguments)


def test_lines_differ_without_colour():
    from coldbench.panels.chart_figure import _LOOKS

    for shown in (plot("R134a", "P-h"), plot("R134a", "T-s")):
        dashes = [repr(_LOOKS[family.look]["linestyles"]) for family in shown.families]
        assert len(set(dashes)) == len(dashes)
