"""Statistics of a class: known values, bounds, and indifference to the learners' order."""

import math
import statistics as standard

import pytest
from hypothesis import given
from hypothesis import strategies as some

from coldbench.grading import statistics as st

SHARES = some.floats(0, 1, allow_nan=False)
MAYBE = some.one_of(some.none(), SHARES)
TABLES = some.integers(2, 6).flatmap(lambda width: some.lists(
    some.lists(MAYBE, min_size=width, max_size=width), min_size=1, max_size=12))


def test_discrimination_of_a_hand_worked_table():
    # Question 1 against the mean of the other two, worked by hand: r of (1,1,0,0,1) and
    # (1, 0.5, 0, 0.5, 1) is 5·2 … = (Σxy − n·x̄ȳ)/√… with Σxy 2.5, x̄ 0.6, ȳ 0.6.
    rows = [[1, 1, 1], [1, 1, 0], [0, 0, 0], [0, 1, 0], [1, 1, 1]]
    expected = (2.5 - 5 * 0.6 * 0.6) / math.sqrt((3 - 5 * 0.36) * (2.5 - 5 * 0.36))
    assert st.discrimination(rows, [1, 1, 1], 0) == pytest.approx(expected, abs=1e-12)


def test_correlation_agrees_with_the_standard_library():
    xs, ys = [0.1, 0.4, 0.35, 0.8, 1.0, 0.0], [3.0, 1.0, 4.0, 1.0, 5.0, 9.0]
    assert st.correlation(xs, ys) == pytest.approx(standard.correlation(xs, ys), abs=1e-12)


def test_quartiles_agree_with_the_standard_library():
    values = [12.0, 3.0, 45.0, 45.0, 78.0, 91.0, 100.0]
    expected = standard.quantiles(values, n=4, method="inclusive")
    assert [st.quantile(values, f) for f in (0.25, 0.5, 0.75)] == pytest.approx(expected)


def test_discrimination_is_not_stated_without_grounds():
    assert st.discrimination([[1, 0], [0, 1], [1, 1], [0, 0]], [1, 1], 0) is None, "four learners"
    assert st.discrimination([[1, 0], [1, 1], [1, 0], [1, 1], [1, 0]], [1, 1], 0) is None, "all 1"
    assert st.discrimination([[0, 1], [1, 1], [0, 1], [1, 1], [0, 1]], [1, 1], 0) is None, "rest 1"


def test_chance_agrees_with_the_binomial_formula():
    # At least 2 of 5 with p = 0.3: 1 − 0.7⁵ − 5·0.3·0.7⁴.
    expected = 1 - 0.7**5 - 5 * 0.3 * 0.7**4
    assert st.chance_of_at_least(2, [0.3] * 5) == pytest.approx(expected, abs=1e-12)


@given(TABLES)
def test_figures_stay_within_their_bounds(rows):
    points = [1.0 + index for index in range(len(rows[0]))]
    for question in range(len(points)):
        facility = st.facility([row[question] for row in rows])
        assert facility is None or -1e-12 <= facility <= 1 + 1e-12
        found = st.discrimination(rows, points, question)
        assert found is None or -1 <= found <= 1
        assert found is None or len(rows) >= st.FEWEST_LEARNERS


@given(TABLES, some.randoms())
def test_the_order_of_learners_changes_nothing(rows, dice):
    shuffled = list(rows)
    dice.shuffle(shuffled)
    points = [1.0 + index for index in range(len(rows[0]))]
    for question in range(len(points)):
        assert st.facility([r[question] for r in rows]) == st.facility(
            [r[question] for r in shuffled])
        assert st.discrimination(rows, points, question) == st.discrimination(
            shuffled, points, question)


@given(some.lists(some.floats(0, 100), min_size=1), SHARES)
def test_quantiles_lie_within_the_values_and_rise(values, fraction):
    found = st.quantile(values, fraction)
    assert min(values) <= found <= max(values)
    assert found <= st.quantile(values, min(1.0, fraction + 0.1)) + 1e-9


@given(some.lists(some.floats(0, 100)))
def test_a_histogram_counts_everybody_once(values):
    assert sum(st.histogram(values)) == len(values)


@given(some.lists(SHARES, max_size=8))
def test_chances_fall_as_more_is_asked(chances):
    found = [st.chance_of_at_least(k, chances) for k in range(len(chances) + 2)]
    assert found[0] == pytest.approx(1.0)
    assert all(a >= b - 1e-12 for a, b in zip(found, found[1:], strict=False))
    assert found[-1] == 0
