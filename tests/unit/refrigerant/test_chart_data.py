"""Lines of the P-h and T-s charts, for every listed fluid."""

import numpy as np
import pytest

from coldbench.errors import ConvergenceError, InputError
from coldbench.refrigerant import FLUIDS, fluid
from coldbench.refrigerant.build_property_tables import LOOP_FLUIDS
from coldbench.refrigerant.chart_data import QUALITIES, ChartLine, chart_data
from coldbench.refrigerant.evaluator import Evaluator
from coldbench.refrigerant.properties import properties

ARRAYS = ("pressure_Pa", "enthalpy_J_kg", "temperature_K", "entropy_J_kgK")


def all_lines(data) -> list[ChartLine]:
    """Every line of a chart."""
    return [data.bubble, data.dew, *data.isotherms, *data.isobars, *data.quality_lines,
            *data.isentropes]


@pytest.mark.parametrize("name", FLUIDS)
def test_every_line_has_finite_read_only_arrays_within_the_chart(name):
    data = chart_data(name)
    low_Pa, top_Pa = data.pressure_range_Pa
    for line in all_lines(data):
        arrays = [getattr(line, key) for key in ARRAYS]
        assert len({array.shape for array in arrays}) == 1 and arrays[0].size >= 2
        assert all(np.isfinite(array).all() and not array.flags.writeable for array in arrays)
        assert line.pressure_Pa.min() >= low_Pa * (1 - 1e-6)
        assert line.pressure_Pa.max() <= top_Pa * (1 + 1e-6)
        assert line.temperature_K.max() <= data.temperature_range_K[1] + 1e-6


@pytest.mark.parametrize("name", FLUIDS)
def test_what_a_line_keeps_constant(name):
    data = chart_data(name)
    assert len(data.isotherms) >= 6 and len(data.isobars) >= 4 and len(data.isentropes) >= 8
    for lines, key in ((data.isotherms, "temperature_K"), (data.isobars, "pressure_Pa"),
                       (data.isentropes, "entropy_J_kgK")):
        for line in lines:
            assert np.allclose(getattr(line, key), line.value, rtol=1e-7)
    for line in data.isotherms:
        assert (line.value - 273.15) % 20.0 == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("name", FLUIDS)
def test_order_along_the_lines(name):
    data = chart_data(name)
    for line in data.isobars:
        assert (np.diff(line.enthalpy_J_kg) > 0.0).all()
        assert (np.diff(line.entropy_J_kgK) > 0.0).all()
    for line in data.isentropes:
        assert (np.diff(line.pressure_Pa) > 0.0).all()
        assert (np.diff(line.enthalpy_J_kg) > 0.0).all()
    for line in data.isotherms:
        assert (np.diff(line.entropy_J_kgK) > 0.0).all()


@pytest.mark.parametrize("name", FLUIDS)
def test_dome_and_quality_lines(name):
    data = chart_data(name)
    assert [line.value for line in data.quality_lines] == list(QUALITIES)
    widths = data.dew.enthalpy_J_kg - data.bubble.enthalpy_J_kg
    assert (widths[:-1] > 0.0).all() and widths[-1] == 0.0
    for line in data.quality_lines:
        inside = data.bubble.enthalpy_J_kg + line.value * widths
        assert line.enthalpy_J_kg == pytest.approx(inside, abs=1e-3)
    record = fluid(name).record
    top = [float(getattr(data.dew, key)[-1]) for key in ("pressure_Pa", "temperature_K")]
    assert top == pytest.approx([record.critical_pressure_Pa, record.critical_temperature_K],
                                rel=2e-4)


@pytest.mark.parametrize("name", FLUIDS)
def test_dome_agrees_with_the_saturation_tables(name):
    data, substance = chart_data(name), fluid(name)
    highest_Pa = substance.pressure_range_Pa[1]
    for line, curve in ((data.bubble, substance.bubble_temperature),
                        (data.dew, substance.dew_temperature)):
        for p, T in zip(line.pressure_Pa.tolist(), line.temperature_K.tolist()):
            if p < highest_Pa:
                assert curve(p) == pytest.approx(T, abs=2e-3)


@pytest.mark.parametrize("name", FLUIDS)
def test_zero_of_enthalpy_and_entropy(name):
    # IIR: saturated liquid at 0 degC has 200 kJ/kg and 1 kJ/(kg K).
    row, _ = Evaluator(fluid(name)).saturated_at_temperature(273.15, 0)
    assert row[1] == pytest.approx(200e3, abs=1e-3) and row[3] == pytest.approx(1e3, abs=1e-6)


@pytest.mark.parametrize("name", FLUIDS)
def test_superheated_points_against_plain_calls(name):
    # CoolProp's own search at p and T, without the phase given, from the same equation.
    from CoolProp import CoolProp

    library, data = fluid(name).record.library_name, chart_data(name)
    zero = CoolProp.PropsSI("H", "T", 273.15, "Q", 0, library) - 200e3
    checked = 0
    for line in (*data.isentropes, *data.isotherms, *data.isobars):
        for p, h, T, s in list(zip(*(getattr(line, key).tolist() for key in ARRAYS)))[::5]:
            dew_K = np.interp(p, data.dew.pressure_Pa, data.dew.temperature_K)
            if p < 0.9 * data.dew.pressure_Pa[-1] and T > dew_K + 2.0:
                found = CoolProp.PropsSI("H", "P", p, "T", T, library) - zero
                assert h == pytest.approx(found, abs=1.0)
                checked += 1
    assert checked > 50


@pytest.mark.parametrize("name", LOOP_FLUIDS)
def test_charts_and_fast_properties_agree(name):
    data, known = chart_data(name), properties(name)
    low_Pa, high_Pa = known.pressure_range_Pa
    for line in (*data.isotherms, *data.isentropes, *data.isobars, *data.quality_lines):
        for p, h, T, s in list(zip(*(getattr(line, key).tolist() for key in ARRAYS)))[::4]:
            if low_Pa < p < 0.8 * data.dew.pressure_Pa[-1]:
                assert known.temperature(p, h) == pytest.approx(T, abs=0.003)
                assert known.entropy(p, h) == pytest.approx(s, abs=0.03)


@pytest.mark.parametrize("name", [name for name in FLUIDS if fluid(name).has_glide])
def test_temperature_rises_through_the_dome_of_a_blend(name):
    data = chart_data(name)
    for line in data.isobars:
        assert (np.diff(line.temperature_K) > 0.0).all()


def test_nothing_beyond_the_equation_of_state():
    # The authors vouch for R-1234yf up to 410 K.
    assert chart_data("R1234yf").temperature_range_K[1] == 410.0


def test_the_same_object_comes_back():
    assert chart_data("R-134a") is chart_data(fluid("R134a"))


def test_unknown_fluid():
    with pytest.raises(InputError, match="no refrigerant 'R999'"):
        chart_data("R999")


def test_a_state_that_does_not_exist_raises():
    equation = Evaluator(fluid("R134a"))
    with pytest.raises(ConvergenceError, match="no state found at 800 kPa"):
        equation.at_entropy(800e3, 90_000.0, 320.0, 30.0)
