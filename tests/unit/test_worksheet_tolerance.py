"""Tolerances: three forms, every unit, limits included."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldbench.errors import InputError
from coldbench.quantity import from_si, to_si, units_of
from coldbench.worksheet.kinds import KINDS as ANSWER_KINDS
from coldbench.worksheet.tolerance import is_near, tolerance_si

NUMERIC = ("temperature", "temperature difference", "absolute pressure", "gauge pressure",
           "pressure difference", "voltage", "current", "resistance", "mass flow", "ratio")


def question(kind: str, unit: str = ""):
    return ANSWER_KINDS["quantity"](name="q", quantity=kind, unit=unit)


def share(kind: str, number: float, unit: str, key: float, own_unit: str = "", **rules) -> float:
    asked = question(kind, own_unit)
    return asked.mark(asked.read(number, unit), key, **rules).share


def test_half_a_kelvin_is_nine_tenths_of_a_degree_fahrenheit():
    assert tolerance_si("0.5 K", 300.0, "temperature", "degF") == pytest.approx(0.5)
    assert tolerance_si("0.9 degF", 300.0, "temperature", "degC") == pytest.approx(0.5)
    assert tolerance_si("0.9 degF", 5.0, "temperature difference", "K") == pytest.approx(0.5)


@pytest.mark.parametrize("unit", units_of("temperature"))
@pytest.mark.parametrize("side", (-1, 1))
def test_the_limit_itself_is_right_in_every_unit(unit, side):
    for key_C in (-30.0, -0.3, 0.0, *(n * 1.37 for n in range(2, 60))):
        key = key_C + 273.15
        for beyond, wanted in ((0.0, 1.0), (0.001, 0.0)):
            number = from_si(key + side * (0.5 + beyond), unit, "temperature")
            got = share("temperature", number, unit, key, within="0.5 K")
            assert got == wanted, (key_C, unit, beyond)


@pytest.mark.parametrize("unit", [u for u in units_of("gauge pressure") if "vac" not in u])
def test_the_limit_stays_right_when_decimals_blur(unit):
    """0.1 + 0.2 is not 0.3 for a computer; for a learner it is."""
    for tenths in range(60):
        key_K, key_Pa = tenths * 0.1, (200 + tenths * 0.37) * 1e3
        written = f"{key_K + 0.3:.1f} K"
        assert share("temperature difference", written, None, key_K, within="0.3 K") == 1
        number = from_si(key_Pa + 2e3, unit, "gauge pressure")
        assert share("gauge pressure", number, unit, key_Pa, within="2 kPa") == 1


@pytest.mark.parametrize(("answer", "right"), [
    (12.3, True), (12.29, True), (12.39, True), (12.34, True), (12.2899, False), (12.3901, False)])
def test_three_significant_figures(answer, right):
    """Key 12.34 kPa: half a step of the third figure is 0.05 kPa."""
    assert (share("gauge pressure", answer, "kPa", 12_340.0, "kPa", within="3 sf") == 1) is right


@given(st.floats(0.01, 1e5), st.integers(1, 5), st.sampled_from(NUMERIC[2:]), st.booleans())
def test_a_key_rounded_to_its_figures_is_right(size, figures, kind, negative):
    number = -size if negative and kind in ("gauge pressure", "voltage", "current") else size
    unit = units_of(kind)[0]
    rounded = float(f"{number:.{figures - 1}e}")
    assert share(kind, rounded, unit, to_si(number, unit, kind), within=f"{figures} sf") == 1


@given(st.floats(-60, 200), st.sampled_from(("degC", "degF")))
def test_figures_count_in_the_questions_own_unit_even_with_an_offset(number, unit):
    if abs(number) < 1e-3:
        return
    key = to_si(number, unit, "temperature")
    asked = question("temperature", unit)
    rounded = float(f"{number:.2e}")
    for other in units_of("temperature"):
        written = from_si(to_si(rounded, unit, "temperature"), other, "temperature")
        assert asked.mark(asked.read(written, other), key, within="3 sf").share == 1
    step = 10.0 ** (math.floor(math.log10(abs(number))) - 2)
    off = to_si(number + 0.6 * step, unit, "temperature")
    assert asked.mark(asked.read(off, "K"), key, within="3 sf").share < 1


@given(st.sampled_from(NUMERIC), st.floats(-1000, 1000), st.floats(-1.5, 1.5), st.data())
def test_an_answer_earns_the_same_in_any_fitting_unit(kind, size, step, data):
    if abs(abs(step) - 1) < 1e-6:
        return  # on the limit, where rounding may decide; tested above
    first = units_of(kind)[0]
    positive = kind in ("temperature", "absolute pressure", "resistance")
    key = abs(size) + 200 if positive else size
    within = "0.5 K" if "temperature" in kind else f"1 {first}"
    half_width = tolerance_si(within, key, kind, first)
    value = key + step * half_width
    if value < 0 and positive or kind == "mass flow" and abs(value) < 1e-9:
        return
    unit = data.draw(st.sampled_from(units_of(kind)))
    number = from_si(value, unit, kind)
    if "vac" in unit and number < 0:
        return
    assert (share(kind, number, unit, key, within=within) == 1) == (abs(step) < 1)


def test_a_key_of_zero():
    assert share("voltage", 0, "V", 0.0, within="0.1 V") == 1
    assert share("voltage", -0.1, "V", 0.0, within="0.1 V") == 1
    assert share("voltage", 0.11, "V", 0.0, within="0.1 V") == 0
    assert share("temperature", 0.4, "degC", 273.15, within=["3 sf", "0.5 K"]) == 1
    for form in ("2 %", "3 sf"):
        with pytest.raises(InputError, match="key of zero"):
            share("voltage", 0, "V", 0.0, within=form)


def test_negative_keys():
    assert share("gauge pressure", -20, "kPa", -20e3, within="2 %") == 1
    assert share("gauge pressure", -20.4, "kPa", -20e3, within="2 %") == 1
    assert share("gauge pressure", -20.5, "kPa", -20e3, within="2 %") == 0
    assert share("gauge pressure", "5.906 inHg vac", None, -20e3, within="2 %") == 1
    assert share("temperature", -26, "degC", 247.0, within="0.5 K") == 1


def test_the_most_generous_of_several_forms_counts():
    assert tolerance_si(["1 %", "2 kPa"], 100e3, "gauge pressure", "kPa") == 2000
    assert tolerance_si(["5 %", "2 kPa"], 100e3, "gauge pressure", "kPa") == 5000


@pytest.mark.parametrize("form", ["", "warm", "0.5", "-1 K", "0 sf", "1.2.3 %", "-2 %", "nan K",
                                  "inf K", 0.5, None, [], ["1 K", 2], "5 kPa", "3 %"])
def test_a_tolerance_that_cannot_be_read_is_refused_in_a_sentence(form):
    with pytest.raises(InputError):
        tolerance_si(form, 300.0, "temperature", "degC")


def test_without_a_tolerance_a_temperature_gets_half_a_kelvin_not_one_percent_of_its_kelvins():
    assert share("temperature", 20.5, "degC", 293.15) == 1
    assert share("temperature", 21, "degC", 293.15) == 0
    assert share("voltage", 5.05, "V", 5.0) == 1


@given(st.floats(allow_nan=False, allow_infinity=False, width=32),
       st.floats(allow_nan=False, allow_infinity=False, width=32), st.floats(0, 1e6))
def test_nearness_is_symmetric_and_grows_with_the_band(one, other, width):
    assert is_near(one, other, width) == is_near(other, one, width)
    assert is_near(one, one, 0.0)
    assert is_near(one, other, abs(one - other))
