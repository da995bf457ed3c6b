"""Quantities: what is read, which slips and mistakes are named, in which order."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldbench.errors import InputError
from coldbench.quantity import from_si, to_si, units_of
from coldbench.worksheet import Mistake
from coldbench.worksheet.kinds import QuantityQuestion
from coldbench.worksheet.kinds.base import Answer

SUPERHEAT = QuantityQuestion("superheat", quantity="temperature difference", unit="K")
EVAPORATING = QuantityQuestion("evaporating", quantity="temperature", unit="degC")
LOW_SIDE = QuantityQuestion("low side", quantity="gauge pressure", unit="kPa")
ABSOLUTE = QuantityQuestion("absolute", quantity="absolute pressure", unit="kPa")


def marked(question, value, unit, key, **rules):
    return question.mark(question.read(value, unit), key, **rules)


@pytest.mark.parametrize(("value", "unit", "kelvin"), [
    (5, "K", 5), (9, "degF", 5), ("5 K", None, 5), ("5", "K", 5), ("5 K", "K", 5), ("5K", "", 5),
    ("5,5", "K", 5.5), ("+5 °C", None, 5), ("9 °F", None, 5), (" 5 ", " K ", 5), ("−5 K", None, -5),
    ("5 Δ°C", None, 5), (0, "K", 0)])
def test_a_difference_can_be_written_in_many_ways(value, unit, kelvin):
    assert SUPERHEAT.read(value, unit).value == pytest.approx(kelvin)


def test_a_blank_between_thousands_belongs_to_the_number():
    assert LOW_SIDE.read("1 600", "kPa").value == 1.6e6
    assert LOW_SIDE.read("1 600 kPa").value == 1.6e6


@pytest.mark.parametrize("value", [True, None, [1], {}, "warm", "nan", "inf K", "", "5 kPa", "K",
                                   math.nan, math.inf, 10**400, "5 K K", "1e999 K", "1,600 K",
                                   "5 " + "x" * 500])
def test_what_is_no_difference_is_refused_in_a_sentence(value):
    for unit in ("K", None):
        try:
            SUPERHEAT.read(value, unit)
        except InputError as error:
            assert len(str(error)) < 240 and "\n" not in str(error)
        else:
            pytest.fail(f"{value!r} {unit!r} was read")


@pytest.mark.parametrize("unit", [5, ["K"], {}, "kPa", "x" * 500, True])
def test_what_is_no_unit_is_refused_in_a_sentence(unit):
    with pytest.raises(InputError):
        SUPERHEAT.read(5, unit)


def test_the_unit_beside_the_number_counts_before_the_one_of_the_line():
    assert SUPERHEAT.read("9 °F", "K").value == pytest.approx(5)
    assert SUPERHEAT.read("9", "K").value == 9
    with pytest.raises(InputError, match="kPa is a unit of pressure"):
        SUPERHEAT.read("9 kPa", "K")


@pytest.mark.parametrize(("value", "meant"), [([81, 4], "81.4"), ([-3, 5], "-3.5")])
def test_a_decimal_comma_that_python_reads_as_two_numbers_is_named(value, meant):
    with pytest.raises(InputError, match=f"is two numbers; write a decimal with a point: {meant}"):
        SUPERHEAT.read(value, "K")


def test_a_number_without_a_unit_is_read_only_where_none_is_needed():
    with pytest.raises(InputError, match=r'5 has no unit; .* "5 K", "5 °C" or "5 °F"\?'):
        SUPERHEAT.read(5)
    ratio = QuantityQuestion("x", quantity="ratio")
    assert ratio.read(0.45).value == ratio.read("45 %").value == 0.45


def test_what_is_shown_has_no_more_figures_than_it_needs():
    for number in (5.1, 1 / 3, 5.099999904632568):
        with pytest.raises(InputError, match=r'^(5\.1|0\.333333) has no unit; .* "\1 K"'):
            SUPERHEAT.read(number)
    ratio = QuantityQuestion("x", quantity="ratio")
    assert [ratio.show(n) for n in (0.0, 6.0, 12345.0, -2.5, 1 / 3)] == [
        "0", "6", "12345", "−2.5", "0.3333"]


def test_a_unit_of_a_like_kind_is_named_by_its_own_kind():
    with pytest.raises(InputError, match="is a unit of temperature difference, but a temperature"):
        EVAPORATING.read("5 Δ°C")


def test_a_vacuum_is_written_without_a_minus_sign():
    assert LOW_SIDE.read(20, "inHg vac").value == pytest.approx(-67_728, abs=1)
    with pytest.raises(InputError, match="without the minus sign"):
        LOW_SIDE.read(-20, "inHg vac")


def test_the_mistake_comes_before_the_slip_and_the_key_before_both():
    key = to_si(5, "degC", "temperature")
    foreseen = {"mirrored": Mistake(to_si(-5, "degC", "temperature"), 0.4, "Look at the sign.")}
    assert marked(EVAPORATING, -5, "degC", key).mistake == "sign slip"
    named = marked(EVAPORATING, -5, "degC", key, mistakes=foreseen)
    assert (named.mistake, named.share, named.status) == ("mirrored", 0.4, "partly")
    assert named.reason == "Likely mistake: mirrored. Look at the sign."
    right = marked(EVAPORATING, 5, "degC", key, mistakes={"same as the key": key})
    assert (right.share, right.mistake) == (1.0, "")


def test_the_first_mistake_that_fits_counts():
    mark = marked(SUPERHEAT, 5, "K", 10.0, mistakes={"carried forward": Mistake(5.0, 1.0),
                                                     "other": 5.0})
    assert (mark.mistake, mark.share) == ("carried forward", 1.0)


@pytest.mark.parametrize("wrong", [None, math.nan, math.inf])
def test_a_mistake_that_does_not_apply_is_passed_over(wrong):
    assert marked(SUPERHEAT, 5, "K", 10.0, mistakes={"x": wrong}, within="1 K").mistake == ""


@pytest.mark.parametrize("share", [-0.1, 1.1, math.nan, "all", None])
def test_a_share_lies_between_none_and_all(share):
    with pytest.raises(InputError):
        Mistake(1.0, share)
    with pytest.raises(InputError):
        marked(SUPERHEAT, 9, "K", 5.0, within="1 K", partly={"5 K": share})


def test_part_marks_for_a_wider_band_take_the_best_share():
    bands = {"3 K": 0.25, "1 K": 0.75}
    def mark(number):
        return marked(SUPERHEAT, number, "K", 10.0, within="0.5 K", partly=bands)
    assert [mark(n).share for n in (10.5, 10.9, 11, 12.9, 13, 13.1)] == [1, .75, .75, .25, .25, 0]


@pytest.mark.parametrize(("question", "number", "unit", "key", "meant"), [
    (EVAPORATING, 41, "degC", 278.15, "°F"), (EVAPORATING, 278.15, "degC", 278.15, "K"),
    (LOW_SIDE, 29, "kPa", 200e3, "psi"), (LOW_SIDE, 2, "kPa", 200e3, "bar"),
    (ABSOLUTE, 101.3, "bar", 101.3e3, "kPa"), (LOW_SIDE, 30, "kPa", -30e3, "kPa vac"),
    (SUPERHEAT, 9, "K", 5.0, "°F")])
def test_a_unit_slip_names_the_unit_in_which_the_number_is_right(question, number, unit, key,
                                                                 meant):
    mark = marked(question, number, unit, key, within="1 %" if question is not EVAPORATING
                  else "0.5 K")
    assert (mark.mistake, mark.share) == ("unit slip", 0.5)
    assert mark.reason.startswith(f"The number is right in {meant}, but you wrote ")


@given(st.sampled_from((SUPERHEAT, EVAPORATING, LOW_SIDE, ABSOLUTE)), st.floats(-400, 400),
       st.floats(-400, 400), st.data())
def test_a_unit_slip_is_named_only_if_the_number_is_right_in_another_unit(question, number,
                                                                          key_number, data):
    unit = data.draw(st.sampled_from(units_of(question.quantity)))
    try:
        answer = question.read(number, unit)
        key = to_si(key_number, question.unit, question.quantity)
    except InputError:
        return
    mark = question.mark(answer, key, within=("0.5 K" if "temp" in question.quantity else "1 kPa"))
    right_in = []
    zero_is_right = abs(to_si(0, unit, question.quantity) - key) <= mark.tolerance_si
    for other in units_of(question.quantity):
        try:
            near = abs(to_si(number, other, question.quantity) - key) <= mark.tolerance_si
        except InputError:
            continue
        same_zero = to_si(0, other, question.quantity) == to_si(0, unit, question.quantity)
        right_in += [other] if near and not (same_zero and zero_is_right) else []
    if mark.mistake == "unit slip":
        assert right_in and unit not in right_in and mark.share == 0.5
    elif mark.share < 1:
        assert not right_in


@pytest.mark.parametrize(("question", "number", "unit"), [
    (SUPERHEAT, -8, "K"), (SUPERHEAT, 8, "degF"), (EVAPORATING, 10, "degC"),
    (EVAPORATING, -14, "degF"), (LOW_SIDE, -30, "kPa")])
def test_a_sign_slip_in_the_unit_it_was_written_in(question, number, unit):
    mark = marked(question, number, unit, to_si(-number, unit, question.quantity),
                  within="0.5 K" if "temp" in question.quantity else "1 %")
    assert (mark.mistake, mark.share) == ("sign slip", 0.25)


@pytest.mark.parametrize(("number", "factor"), [(20, 10), (2000, 10), (2.0, 100), (20e3, 100)])
def test_a_slipped_decimal_point(number, factor):
    volts = QuantityQuestion("v", quantity="resistance", unit="ohm")
    mark = marked(volts, number, "ohm", 200.0)
    assert (mark.mistake, mark.share) == ("power of ten slip", 0.25)
    assert f"factor of {factor}." in mark.reason


def test_no_slip_is_seen_where_any_small_number_would_do():
    """The key 0.3 K lies within its tolerance of zero: 4 K is no slipped decimal point."""
    for number in (4, -0.4, 0.9, 40):
        assert marked(SUPERHEAT, number, "K", 0.3, within="0.5 K").mistake in ("", "unit slip")


@pytest.mark.parametrize("key", [math.nan, math.inf, "warm", None])
def test_a_key_that_is_no_number_is_refused(key):
    with pytest.raises(InputError, match="key"):
        marked(SUPERHEAT, 5, "K", key)


def test_the_number_written_is_kept_exactly_for_slips():
    """Shown with six figures, compared with all of them."""
    asked = QuantityQuestion("p", quantity="absolute pressure", unit="Pa")
    mark = marked(asked, 1_234_567.8, "kPa", 1_234_567.8, within="0.1 Pa")
    assert mark.mistake == "unit slip"


def test_an_answer_without_a_written_number_is_still_marked():
    assert SUPERHEAT.mark(Answer(9.0, "9 K"), 5.0).status == "wrong"


@given(st.floats(-1e9, 1e9), st.floats(-1e9, 1e9), st.sampled_from(units_of("gauge pressure")))
def test_marks_stay_within_all_and_nothing_and_are_the_same_each_time(number, key, unit):
    try:
        answer = LOW_SIDE.read(number, unit)
    except InputError:
        return
    once, twice = (LOW_SIDE.mark(answer, key, within=["2 %", "1 kPa"]) for _ in "ab")
    assert once == twice and 0 <= once.share <= 1


def test_shown_answer_tells_how_it_was_read():
    assert LOW_SIDE.read(29.0, "psi").text == "29 psi (199.9 kPa)"
    assert EVAPORATING.read("-4", "C").text == "−4 °C"
    assert LOW_SIDE.read(1_234_567, "Pa").text == "1234567 Pa (1234.6 kPa)"
    assert SUPERHEAT.read(-0.0, "K").text == "0 K"
    assert from_si(EVAPORATING.read("-4", "C").value, "degC", "temperature") == pytest.approx(-4)


@pytest.mark.parametrize(("unit", "wanted"), [
    ("1", "a plain number, or one with %"), ("%", "a number in %, or text with its unit")])
def test_a_bare_number_is_asked_for_in_the_unit_of_its_question(unit, wanted):
    assert QuantityQuestion("share", "ratio", unit).wanted == wanted


def test_a_part_of_one_written_as_percent_is_named():
    door = QuantityQuestion("door", "ratio", "%")
    assert "right as a part of 1, but you wrote %" in door.mark(door.read(0.31, "%"), 0.31).reason
    assert "right in %, but you wrote no unit" in door.mark(door.read("31"), 0.31).reason
