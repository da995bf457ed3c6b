"""Controls of panels: what a learner may type, and what is refused in words."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldbench.errors import InputError
from coldbench.panels.controls import Button, Choice, Slider, Toggle

LOW = Slider("low_side", "Low side", -65, 800, 1, "kPa", "gauge pressure")


@pytest.mark.parametrize(
    ("given_value", "unit", "expected_Pa"),
    [
        (212, "", 212e3),
        ("212 kPa", "", 212e3),
        ("2,12 bar", "", 212e3),
        (30, "psi", 206_842.7),
        ("30 psi", "", 206_842.7),  # 1 psi = 6894.757 Pa, NIST SP 811 (2008), appendix B
        (800, "", 800e3),
        (-65, "", -65e3),
    ],
)
def test_a_slider_takes_numbers_in_its_unit_and_texts_with_theirs(given_value, unit, expected_Pa):
    assert LOW.clean(given_value, unit) == pytest.approx(expected_Pa, abs=0.05)


@pytest.mark.parametrize(
    ("given_value", "words"),
    [
        (801, "801 kPa is outside −65 to 800 kPa"),
        ("-1 bar", "−100 kPa is outside"),
        ("much", "not a gauge pressure"),
        ("30", "has no unit"),
        ("30 psia", "absolute pressure"),
        (float("nan"), "not a number"),
        (float("inf"), "not a number"),
        (None, "not a number"),
        ([1], "not a number"),
    ],
)
def test_a_slider_refuses_the_rest_in_words(given_value, words):
    with pytest.raises(InputError, match=words):
        LOW.clean(given_value)


@given(st.floats(-65e3, 800e3))
def test_a_setting_inside_the_range_is_held_as_it_is(setting_Pa):
    assert LOW.held(setting_Pa) == setting_Pa
    assert LOW.clean(LOW.shown(setting_Pa)) == pytest.approx(setting_Pa, abs=1e-6)


@given(st.floats(-1e9, 1e9))
def test_a_held_setting_is_always_accepted(setting_Pa):
    LOW.clean(LOW.shown(LOW.held(setting_Pa)))


def test_what_is_shown_is_one_decimal_finer_than_the_step():
    assert LOW.value(206_842.7) == 206.8
    assert Slider("x", "X", 0, 9, 0.05, "bar", "gauge pressure").value(206_842.7) == 2.068
    assert Slider("x", "X", 0, 9, 50).value(7) == 7.0


def test_a_choice_takes_the_value_or_its_words_in_any_case():
    choice = Choice("unit", "Temperature unit", (("degC", "°C"), ("degF", "°F")))
    assert choice.clean("DEGC") == choice.clean("°c") == "degC"
    with pytest.raises(InputError, match="Temperature unit: 'K' is not one of °C, °F"):
        choice.clean("K")
    assert choice.held("gone") == "degC"


def test_a_toggle_takes_true_and_false_only():
    assert Toggle("fan", "Fan").clean(True) is True
    with pytest.raises(InputError, match="neither True nor False"):
        Toggle("fan", "Fan").clean("on")


@pytest.mark.parametrize("presses", [-1, 1.5, "2", True])
def test_a_button_counts_whole_presses(presses):
    assert Button("probe", "Probe").clean(3) == 3
    with pytest.raises(InputError, match="not a number of presses"):
        Button("probe", "Probe").clean(presses)
