"""Records: any object becomes plain data or a sentence; nothing large or odd gets through."""

import json
import math
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldbench.errors import InputError
from coldbench.worksheet.records import (
    LARGEST_RECORD_BYTES,
    is_blank,
    make_record,
    plain,
    read_record,
)

JSON = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=20)),
    lambda inner: st.one_of(st.lists(inner, max_size=4),
                            st.dictionaries(st.text(max_size=5), inner, max_size=4)),
    max_leaves=20)


@pytest.mark.parametrize(("value", "wanted"), [
    (5, 5), (True, True), ("5 K", "5 K"), (None, None), (..., None), (Decimal("2.5"), 2.5),
    (Fraction(1, 4), 0.25), (np.float64(2.5), 2.5), (np.float32(0.5), 0.5), (np.int64(7), 7),
    (np.bool_(True), True), (np.array(5.0), 5.0), (np.array([1, 2.5]), [1, 2.5]),
    (np.array([[1], [2]]), [[1], [2]]), ((1, 2), [1, 2]), (range(2), None), (math.nan, "nan"),
    (-math.inf, "-inf"), (np.nan, "nan"), ({1: 2, "a": 0.5}, {"1": 2, "a": 0.5}),
    (2**60, float(2**60)), (np.str_("dew"), "dew"), (np.array("5 K"), "5 K"),
    (np.ma.masked, None), (np.ma.array([1.5, 2.5], mask=[0, 1]), [1.5, None]), ({("off", True): 1}, {"off, True": 1})])
def test_usual_values_become_plain(value, wanted):
    if isinstance(value, range):
        with pytest.raises(InputError, match="type range"):
            plain(value)
        return
    made = plain(value)
    assert made == wanted and type(made) is type(wanted)
    json.dumps(made, allow_nan=False)


def test_a_quantity_of_the_units_library_becomes_text_that_can_be_read_back():
    import pint

    from coldbench.quantity import parse
    units = pint.UnitRegistry()
    for quantity, kind in ((units.Quantity(5, "delta_degC"), "temperature difference"),
                           (units.Quantity(5, "degC"), "temperature"),
                           (units.Quantity(250, "kPa"), "gauge pressure"),
                           (units.Quantity(30, "psi"), "absolute pressure")):
        text = plain(quantity)
        assert isinstance(text, str) and math.isfinite(parse(text, kind))


@pytest.mark.parametrize(("value", "reason"), [
    (1 + 2j, "complex number"), (np.complex64(1 + 2j), "complex number"), ({1, 2}, "write a list"),
    (max, "call it with"), (lambda: 5, "call it with"), (int, "call it with"),
    (b"5", "type bytes"), (object(), "type object"), ((n for n in "ab"), "type generator"),
    (10**400, "type int as large"), ({None: 5}, "rows are named by"), ({(): 5}, "rows are named by"),
    ("x" * 30_000, "larger than"), ([0] * 30_000, "larger than"), (np.zeros(10**6), "larger than"),
    ([[[[[[[1]]]]]]], "nested more than 6 levels")])
def test_other_values_are_refused_with_the_reason(value, reason):
    with pytest.raises(InputError, match=reason):
        make_record("q", value, None)


def test_a_list_that_holds_itself_ends_soon():
    endless: list = []
    endless += [endless] * 50
    table: dict = {}
    table.update(a=table)
    shared = [0] * 500
    for _ in range(4):
        shared = [shared] * 500
    for value in (endless, table, shared):
        with pytest.raises(InputError):
            make_record("q", value, None)


def test_half_a_character_pair_is_mended_so_that_files_can_hold_it():
    record = make_record("q", {"\ud800": "a\udfff"}, "\ud800")
    json.dumps(record, ensure_ascii=False).encode("utf-8")


class Hostile:
    """Raises in every method a reader may try."""

    def __getattribute__(self, name):
        raise RuntimeError("no")

    def __float__(self):
        raise RuntimeError("no")

    def __repr__(self):
        raise RuntimeError("no")


class EndlessList(list):
    def __iter__(self):
        while True:
            yield 1


class LyingText(str):
    def strip(self, *_):
        raise RuntimeError("no")

    __len__ = __str__ = encode = strip


@pytest.mark.parametrize("make", [Hostile, lambda: EndlessList([1]), lambda: [Hostile()],
                                  lambda: {"a": Hostile()}])
def test_hostile_objects_are_refused(make):
    with pytest.raises(InputError):
        make_record("q", make(), None)


def test_a_text_that_lies_about_itself_is_taken_at_its_letters():
    assert make_record("q", LyingText("dew"), None)["value"] == "dew"
    assert is_blank(LyingText("  "))


@pytest.mark.parametrize(("value", "blank"), [
    (..., True), (None, True), ("", True), (" \n", True), (0, False), (False, False), ([], False),
    ({}, False), ([None, ""], True), ({"A": None, "B": {"x": ""}}, True), ({"A": 0}, False)])
def test_blank(value, blank):
    assert is_blank(value) is blank


@pytest.mark.parametrize("line", ["", "5", "[]", "{}", '{"question": 5}', '{"question": null}',
                                  "{" * 5000, "[" * 50_000, "nonsense", b"\xff\xfe\x00",
                                  "x" * (4 * LARGEST_RECORD_BYTES + 1), '{"question": "q"',
                                  "1" * 5000])
def test_a_line_that_is_no_record_is_refused(line):
    with pytest.raises(InputError):
        read_record(line)


def test_numbers_that_are_none_arrive_as_text():
    record = read_record('{"question": "q", "value": [NaN, Infinity, 1e999, -1e999], "unit": NaN}')
    assert record["value"] == ["NaN", "Infinity", "inf", "-inf"] and record["unit"] == "NaN"


@given(JSON, JSON)
def test_any_plain_data_survives_the_way_or_is_refused(value, unit):
    try:
        record = make_record("q", value, unit)
    except InputError:
        return
    assert read_record(json.dumps(record, allow_nan=False)) == record


@given(st.one_of(st.text(max_size=200), st.binary(max_size=200)))
def test_any_line_is_a_record_or_refused(line):
    try:
        read_record(line)
    except InputError:
        return
