"""What learners read: short, in plain words, and never more than they may know."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldbench.errors import InputError
from coldbench.quantity import KINDS, to_si, units_of
from coldbench.worksheet import Mistake
from coldbench.worksheet.kinds import (
    ChoiceQuestion,
    OrderedQuestion,
    QuantityQuestion,
    TableQuestion,
)
from coldbench.worksheet.kinds.unit_words import usual_units

SUPERHEAT = QuantityQuestion("superheat", quantity="temperature difference", unit="K",
                             plausible=("-2 K", "30 K"))
PIPE = QuantityQuestion("pipe", quantity="temperature", unit="degC")
LOW = QuantityQuestion("low", quantity="gauge pressure", unit="kPa")
ABSOLUTE = QuantityQuestion("absolute", quantity="absolute pressure", unit="kPa")
CHART = TableQuestion("chart", {"gauge": LOW, "absolute": ABSOLUTE}, ("A", "B"))
PLAIN_UNITS = {"gauge pressure": ("kPa", "bar", "MPa", "psi", "Pa"),
               "absolute pressure": ("kPa", "bar", "MPa", "psia", "Pa"),
               "temperature": ("°C", "°F", "K"), "temperature difference": ("K", "°C", "°F"),
               "ratio": ("%",), "resistance": ("Ω", "kΩ", "MΩ", "mΩ")}


@pytest.mark.parametrize(("question", "value", "unit", "sentence"), [
    (SUPERHEAT, 5, None, '5 has no unit; which do you mean: "5 K", "5 °C" or "5 °F"?'),
    (SUPERHEAT, 5, "kPa",
     "kPa is a unit of pressure, but a temperature difference is needed; use K, °C or °F"),
    (SUPERHEAT, "warm", None, "'warm' does not start with a number; "
     "write a temperature difference: a number in K, or text with its unit (K, °C, °F)"),
    (SUPERHEAT, 5, "foo", "'foo' is not a known unit of temperature difference; use K, °C or °F"),
    (SUPERHEAT, float("nan"), "K", "the value is nan, not a number; look for an empty value or a "
     "division by zero in the steps before"),
    (ABSOLUTE, 250, "psig", "psig is a gauge pressure, but an absolute pressure is needed; "
     "use kPa, bar, MPa, psia or Pa"),
    (LOW, 250, "psia", "psia is an absolute pressure, but a gauge pressure is needed; "
     "use kPa, bar, MPa, psi or Pa"),
    (LOW, 20, "inHg", "inHg does not say whether it counts up or down from the atmosphere; "
     "write 'inHg vac' for a vacuum"),
    (PIPE, -300, "C", "−300 °C is impossible; the lowest temperature is −273.15 °C"),
    (PIPE, 4, "bar", "bar is a unit of pressure, but a temperature is needed; use °C, °F or K"),
    (PIPE, True, "C", "True is not a number; write a temperature: a number in °C, or text with "
     "its unit (°C, °F, K)"),
    (PIPE, "1,600 K", None, "'1,600' could mean 1600 or 1.6; write one of these"),
])
def test_what_is_wrong_and_what_would_be_right(question, value, unit, sentence):
    with pytest.raises(InputError) as caught:
        question.read(value, unit)
    assert str(caught.value) == sentence


def test_an_odd_size_is_pointed_out_from_the_public_range_alone():
    assert SUPERHEAT.read(300, "K").doubt == (
        "that looks very high (usual here: −2 K to 30 K); check the unit and the sign")
    assert SUPERHEAT.read(-2.5, "K").doubt.startswith("that looks very low")
    assert SUPERHEAT.read(30, "K").doubt == ""


@pytest.mark.parametrize(("kind", "units"), PLAIN_UNITS.items())
def test_units_are_offered_as_people_write_them(kind, units):
    assert usual_units(kind) == units


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_says_what_it_wants_with_at_most_five_units_that_can_be_read_back(kind):
    question = QuantityQuestion("q", quantity=kind)
    units = usual_units(kind)
    assert 1 <= len(units) <= 5 and all(sign in question.wanted for sign in units)
    assert all("deg" not in sign or kind == "angle" for sign in units)
    for sign in units:
        assert question.read(1, sign).value == question.read(f"1 {sign}").value


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("stranger", ["K", "kPa", "V", "rpm", "kg", "%", "banana"])
def test_a_stranger_among_units_is_told_without_the_slow_library(kind, stranger, monkeypatch):
    """Only a unit that no kind knows is worth asking the library for compound units."""
    question = QuantityQuestion("q", quantity=kind)
    if stranger != "banana":
        monkeypatch.setattr("coldbench.quantity.convert.compound_factor", None)
    try:
        question.read(5, stranger)
    except InputError as error:
        text = str(error)
        assert len(text) < 170 and "deg" not in text.replace("degree", "")
        assert stranger in text


# --- nothing a learner reads before the key may be shown tells the key -----------------------

PRESSURES = st.floats(20e3, 900e3)
NUMBERS = st.floats(1, 2000).map(lambda x: float(f"{x:.4g}"))
REASONS = (
    r"Right\.", r"Likely mistake: forgot the air\. Add it\.",
    r"Close, but not exact enough; read the scale with more care, and round only at the end\.",
    r"Not right, and it fits none of the usual mistakes; go through the steps again\.",
    r"The number is right in [^0-9]+, but you wrote [^0-9]+\.",
    r"The size is right, the sign is not\.",
    r"A decimal point or a prefix slipped: off by a factor of (10|100|1000)\.")


def numeric_mark(number, unit, key):
    return LOW.mark(LOW.read(number, unit), key, within=["1 %", "1.5 kPa"], partly={"9 kPa": 0.5},
                    mistakes={"forgot the air": Mistake(key + 101_325, 0.2, "Add it.")})


@given(PRESSURES, st.one_of(NUMBERS, st.none()), st.sampled_from((0.001, 0.01, 0.1, 1.0, 10.0)),
       st.floats(-12e3, 12e3), st.data())
def test_reasons_of_numbers_hold_neither_key_nor_tolerance(key, number, scale, off, data):
    units = [unit for unit in units_of("gauge pressure") if not re.search("[0-9]|vac", unit)]
    unit = data.draw(st.sampled_from(units))
    number = (key + off) / to_si(1, "kPa", "gauge pressure") * scale if number is None else number
    mark = numeric_mark(number, unit, key)
    assert any(re.fullmatch(reason, mark.reason) for reason in REASONS), mark.reason


@given(PRESSURES, PRESSURES, NUMBERS, NUMBERS)
def test_reasons_of_tables_hold_neither_key_nor_tolerance(first, second, one, two):
    key = {"A": {"gauge": first, "absolute": second}, "B": {"gauge": second, "absolute": first}}
    read = CHART.read({"A": {"gauge": one, "absolute": two}, "B": {"gauge": two}}, "kPa")
    reason = CHART.mark(read, key, within={"gauge": "7 kPa", "absolute": "3 %"},
                        partly={"40 kPa": 0.5}).reason
    numbers = re.findall("[0-9]+", reason)
    assert set(numbers) <= {"0", "1", "2", "3", "4", "10", "100", "1000"}, reason
    assert numbers[:2] == [numbers[0], "4"]


@given(st.sampled_from([None, "warm", True, [1], "5 K", "5"]), PRESSURES, PRESSURES)
def test_an_unreadable_answer_gets_the_same_words_whatever_the_key(value, first, second):
    def reason(key):
        read = CHART.read({"A": {"gauge": value, "absolute": 5}, "B": {"gauge": 1}},
                          {"absolute": "kPa", "gauge": "kPa" if value != "5" else None})
        mark = CHART.mark(read, {"A": {"gauge": key}}, within="1 Pa")
        return mark.reason
    try:
        assert reason(first) == reason(second)
    except InputError:
        return


WORDS = ("bubble point", "dew point", "middle", "critical point")


@pytest.mark.parametrize("key", WORDS)
def test_reasons_of_choices_do_not_name_the_key(key):
    asked = ChoiceQuestion("c", choices=WORDS)
    for word in WORDS:
        assert not any(w in asked.mark(asked.read(word), key).reason for w in WORDS)


@pytest.mark.parametrize("size", range(1, 4))
def test_reasons_of_several_choices_and_lists_name_no_item_and_not_how_many_fit(size):
    several = ChoiceQuestion("s", choices=WORDS, several=True)
    some = OrderedQuestion("o", items=WORDS, all_items=False)
    reasons = set()
    for number in (size + 1, 4):
        key = list(WORDS[:number])
        for asked, given_words in ((several, [WORDS[0]]), (some, [WORDS[0]])):
            reason = asked.mark(asked.read(given_words), key).reason
            assert not any(word in reason for word in WORDS)
            reasons.add(reason)
    assert len(reasons) == 2  # one for each kind, whatever the number that fit
