"""Written quantities: many spellings, one meaning, or one clear refusal."""

import pytest

from coldbench.errors import InputError
from coldbench.quantity import KINDS, format_quantity, normalise_unit, parse, to_si, units_of


@pytest.mark.parametrize(("text", "kind", "expected"), [
    ("0 °C", "temperature", 273.15), ("0degC", "temperature", 273.15),
    ("0 ℃", "temperature", 273.15), ("0 C", "temperature", 273.15),
    ("32 deg F", "temperature", 273.15), ("32 ℉", "temperature", 273.15),
    ("32 º F", "temperature", 273.15), ("−40 F", "temperature", 233.15),
    ("5 °F", "temperature difference", 25 / 9), ("5 K", "temperature difference", 5.0),
    ("5 °C", "temperature difference", 5.0), ("−3 delta_degC", "temperature difference", -3.0),
    ("2,5 bar", "gauge pressure", 2.5e5), ("2.5 bar(g)", "gauge pressure", 2.5e5),
    ("2.5 BAR", "gauge pressure", 2.5e5), ("30 psig", "gauge pressure", 206842.7),
    ("30 psi", "gauge pressure", 206842.7), ("30 PSI", "absolute pressure", 206842.7),
    ("300 kPa abs", "absolute pressure", 3e5), ("3 bara", "absolute pressure", 3e5),
    ("0.3 MPa", "absolute pressure", 3e5), ("20 inHg vac", "gauge pressure", -67727.8),
    ('20 "Hg vac', "gauge pressure", -67727.8), ("29.92 inHg", "absolute pressure", 101320.7),
    ("3 N/mm²", "absolute pressure", 3e6), ("1 600 m", "length", 1600.0),
    ("1\u202f600 m", "length", 1600.0), ("1,600.5 m", "length", 1600.5),
    ("1.600,5 m", "length", 1600.5), ("1,234,567 m", "length", 1234567.0),
    ("1'600 m", "length", 1600.0), ("1’600,5 m", "length", 1600.5), ("3.2:1", "ratio", 3.2),
    ("5250 ft", "length", 1600.2), ("1.2e3 W", "power", 1200.0), ("85 %", "ratio", 0.85),
    ("0.85", "ratio", 0.85), ("10 kΩ", "resistance", 1e4), ("4.7 k", "resistance", 4700.0),
    ("10 mΩ", "resistance", 0.01), ("10 MΩ", "resistance", 1e7), ("10 µA", "current", 1e-5),
    ("900 r/min", "speed", 94.2478), ("90°", "angle", 1.570796),
    ("1.2 kJ/(kg·K)", "specific entropy", 1200.0), ("50 kg/m³", "density", 50.0),
])
def test_accepted(text, kind, expected):
    assert parse(text, kind) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(("text", "kind", "words"), [
    ("5", "temperature", "has no unit"), ("5", "gauge pressure", "has no unit"),
    ("", "length", "does not start with a finite number"),
    ("nan kPa", "gauge pressure", "finite number"), ("inf K", "temperature", "finite number"),
    ("10⁵ Pa", "gauge pressure", "'10⁵ Pa' needs working out"),
    ("10² kPa", "gauge pressure", "working out"), ("5½ bar", "gauge pressure", "working out"),
    ("½ bar", "gauge pressure", "working out"), ("2 ½ bar", "gauge pressure", "working out"),
    ("2 1/2 bar", "gauge pressure", "working out"), ("5₂ kPa", "gauge pressure", "working out"),
    ("3×10^2 kPa", "gauge pressure", "working out"), ("3x10² kPa", "gauge pressure", "working out"),
    ("2^3 kPa", "gauge pressure", "working out"), ("1/3", "ratio", "working out"),
    ("1:3", "ratio", "working out"), ("1e999 Pa", "gauge pressure", "too large"), ("1,600 m", "length", "1600 or 1.6"),
    ("1.2.3 m", "length", "is not a number"), ("1,2,3 m", "length", "is not a number"),
    ("5 0 kPa", "gauge pressure", "is not a unit"), ("5–6 bar", "gauge pressure", "not a unit"),
    ("30 psia", "gauge pressure", "is an absolute pressure"),
    ("30 kPa (a)", "gauge pressure", "is an absolute pressure"),
    ("30 PSIG", "absolute pressure", "is a gauge pressure"),
    ("20 inHg", "gauge pressure", "write 'inHg vac'"),
    ("−20 inHg vac", "gauge pressure", "negative vacuum"),
    ("30 psig", "pressure difference", "is a gauge pressure"),
    ("−300 degC", "temperature", "-273.15 degC"), ("−1 kPa", "absolute pressure", "below 0"),
    ("1 mpa", "absolute pressure", "not a unit"), ("5 kg", "length", "accepted: m, mm"),
    ("5 degC; drop table", "temperature", "not a unit"), ("5 V", "current", "not a unit"),
    ("60 1/min/s", "speed", "not a unit"), ("5 10**9 m", "length", "not a unit"),
    ("5 " + "m" * 5000, "length", "not a unit"),
])
def test_refused_in_one_sentence(text, kind, words):
    with pytest.raises(InputError) as caught:
        parse(text, kind)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), True, "5", None, 1j, [1.0]])
def test_values_that_are_no_numbers_are_refused(value):
    with pytest.raises(InputError, match="number"):
        to_si(value, "K", "temperature")


@pytest.mark.parametrize("text", [None, 5, b"5 K", ["5 K"]])
def test_parse_wants_text(text):
    with pytest.raises(InputError, match="must be text"):
        parse(text, "temperature")


def test_unknown_kind_lists_the_kinds():
    with pytest.raises(InputError, match="accepted: temperature, temperature difference"):
        units_of("warmth")


def test_letter_case_never_swaps_milli_and_mega():
    assert to_si(1, "mA", "current") == 1e-3
    assert to_si(1, "MA", "current") == 1e6  # through the compound units, not taken for mA
    with pytest.raises(InputError):
        to_si(1, "MM", "length")


def test_every_kind_prefers_a_unit_that_normalises_to_itself():
    for kind in KINDS:
        assert [normalise_unit(unit, kind) for unit in units_of(kind)] == list(units_of(kind))


@pytest.mark.parametrize(("value", "unit", "kind", "digits", "text"), [
    (247.05, "degC", "temperature", None, "−26.1 °C"), (2.78, "K", "temperature difference",
                                                        None, "2.8 K"),
    (273.1499, "degC", "temperature", 1, "0.0 °C"), (2e5, "psi", "gauge pressure", 0, "29 psig"),
    (-33863.886, "inHg vac", "gauge pressure", 1, "10.0 inHg vac"), (0.5, "%", "ratio", 0, "50 %"),
])
def test_format(value, unit, kind, digits, text):
    assert format_quantity(value, unit, kind, digits) == text


def test_format_refuses_what_is_not_finite():
    with pytest.raises(InputError):
        format_quantity(float("nan"), "K", "temperature")
