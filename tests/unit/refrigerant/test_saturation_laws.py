"""Laws of saturation, names and limits."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldbench.errors import ConvergenceError, InputError
from coldbench.refrigerant import FLUIDS, fluid
from coldbench.refrigerant.saturation import SaturationCurve, load_curves, read_curve

BLENDS = {"R410A", "R407C", "R404A"}


@st.composite
def fluid_and_temperature(draw):
    """A fluid and a temperature within its table [K]."""
    substance = fluid(draw(st.sampled_from(FLUIDS)))
    return substance, draw(st.floats(*substance.temperature_range_K))


@given(fluid_and_temperature())
def test_temperature_to_pressure_and_back(case):
    substance, temperature_K = case
    for there, back in ((substance.bubble_pressure, substance.bubble_temperature),
                        (substance.dew_pressure, substance.dew_temperature)):
        assert back(there(temperature_K)) == pytest.approx(temperature_K, abs=1e-9)


@given(fluid_and_temperature(), st.floats(1e-4, 5.0))
def test_pressure_rises_with_temperature(case, step_K):
    substance, low_K = case
    high_K = min(low_K + step_K, substance.temperature_range_K[1])
    if high_K > low_K:
        assert substance.bubble_pressure(high_K) > substance.bubble_pressure(low_K)
        assert substance.dew_pressure(high_K) > substance.dew_pressure(low_K)


@given(fluid_and_temperature())
def test_bubble_is_not_below_dew(case):
    substance, temperature_K = case
    bubble_Pa, dew_Pa = substance.bubble_pressure(temperature_K), substance.dew_pressure(
        temperature_K)
    assert bubble_Pa > dew_Pa if substance.has_glide else bubble_Pa == dew_Pa


def test_blends_have_glide_and_pure_fluids_none():
    assert {name for name in FLUIDS if fluid(name).has_glide} == BLENDS


@pytest.mark.parametrize("name", FLUIDS)
def test_limits_are_inside_and_beyond_them_refused(name):
    substance = fluid(name)
    low_K, high_K = substance.temperature_range_K
    low_Pa, high_Pa = substance.pressure_range_Pa
    for inside_K in (low_K, high_K):
        assert substance.dew_pressure(inside_K) > 0.0
    for inside_Pa in (low_Pa, high_Pa):
        assert low_K <= substance.bubble_temperature(inside_Pa) <= high_K + 1e-9
    for outside_K in (low_K - 0.01, high_K + 0.01, float("nan"), float("inf"), -1.0):
        with pytest.raises(InputError, match=substance.designation):
            substance.bubble_pressure(outside_K)
    for outside_Pa in (low_Pa * 0.5, high_Pa * 1.2, float("nan"), 0.0, -1.0):
        with pytest.raises(InputError, match="saturation is known from"):
            substance.dew_temperature(outside_Pa)


@pytest.mark.parametrize(("name", "temperature_K", "words"), [
    ("R744", 304.2, "above its critical point (30.98 degC)"),
    ("R744", 210.0, "below its triple point (-56.56 degC)"),
    ("R134a", 373.9, "outside the table"),
])
def test_messages_name_critical_and_triple_point(name, temperature_K, words):
    with pytest.raises(InputError) as caught:
        fluid(name).bubble_pressure(temperature_K)
    assert words in str(caught.value) and "-56.56 to 30.85" in str(caught.value) or name == "R134a"


def test_a_pressure_above_the_critical_one_says_so():
    with pytest.raises(InputError, match=r"above its critical point \(7377.3 kPa\)"):
        fluid("CO2").dew_temperature(8e6)


@pytest.mark.parametrize(("spelling", "name"), [
    ("R134a", "R134a"), ("R-134a", "R134a"), ("r134A", "R134a"), ("HFC-134a", "R134a"),
    ("R 134a", "R134a"), ("CO2", "R744"), ("CO₂", "R744"), ("r-744", "R744"),
    ("HFO-1234yf", "R1234yf"), ("R-410a", "R410A"),
])
def test_everyday_names(spelling, name):
    assert fluid(spelling).name == name
    assert fluid(fluid(spelling)) is fluid(name)


@pytest.mark.parametrize("name", ["R135a", "", "134a", None, 134, "../R134a"])
def test_unknown_fluid_lists_the_accepted_ones(name):
    with pytest.raises(InputError, match="accepted: R-134a, R-1234yf, R-152a, R-744, R-12, "):
        fluid(name)


def test_a_damaged_table_is_refused(tmp_path, monkeypatch):
    import coldbench.refrigerant.saturation as saturation

    folder = saturation.resources.files("coldbench.refrigerant").joinpath("saturation_tables")
    text = folder.joinpath("R12.json").read_text(encoding="utf-8")
    (tmp_path / "saturation_tables").mkdir()
    monkeypatch.setattr(saturation.resources, "files", lambda package: tmp_path)
    copy = tmp_path / "saturation_tables" / "R12.json"
    copy.write_text(text)
    assert load_curves("R12")["bubble"] == fluid("R12").bubble
    copy.write_text(text.replace("170.0", "170.1", 1))
    with pytest.raises(InputError, match="fingerprint"):
        load_curves("R12")
    copy.write_text(text[:500])
    with pytest.raises(InputError, match="damaged"):
        load_curves("R12")
    copy.unlink()
    with pytest.raises(InputError, match="no saturation table R12.json"):
        load_curves("R12")


@pytest.mark.parametrize(("temperatures", "slopes", "words"), [
    ([1.0, 2.0, 1.5], [1.0, 1.0, 1.0], "do not rise"), ([1.0, 2.0], [1.0, 9.0], "do not rise"),
    ([1.0, 2.0], [1.0, float("nan")], "do not rise"), ([1.0, 2.0], [1.0], "as many"),
])
def test_a_curve_that_does_not_rise_is_refused(temperatures, slopes, words):
    table = {"start": 0.0, "step": 1.0, "temperatures_K": temperatures, "slopes_K": slopes}
    with pytest.raises(InputError, match=words):
        read_curve(table, "here")


def test_an_inverse_that_does_not_settle_raises():
    wild = SaturationCurve(0.0, 1.0, (0.0, 1.0), (40.0, 40.0))
    with pytest.raises((ConvergenceError, ZeroDivisionError)):
        wild.pressure(float("nan"))
