"""Order of tests: against brute force, published optima, Huffman's code, and laws."""

import functools
import itertools
import json
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldbench.cli.app import main
from coldbench.diagnosis.strategy import (
    entropy,
    expected_cost,
    expected_inspection_cost,
    inseparable,
    inspection_order,
    path_cost,
    plan,
    posterior,
    problem_from,
    read_problem,
)
from coldbench.diagnosis.strategy.bounded import bounded_steps, code_length, lower_bound
from coldbench.diagnosis.strategy.exact import best_steps
from coldbench.diagnosis.strategy.greedy import greedy_steps
from coldbench.diagnosis.strategy.values import Values
from coldbench.errors import InputError


def table(chances, rows, costs=None):
    """A problem of faults f0… and tests given as one text of outcomes each."""
    costs = costs or [1] * len(rows)
    return {"faults": {f"f{i}": p for i, p in enumerate(chances)},
            "tests": {f"t{j}": {"cost": cost, "outcomes": {f"f{i}": o for i, o in enumerate(row)}}
                      for j, (row, cost) in enumerate(zip(rows, costs, strict=True))}}


def brute_force(problem):
    """Least expected cost by trying every test at every suspect set, on plain sets of names."""
    chance = dict(zip(problem.faults, problem.prior, strict=True))
    tests = [(t.cost, [frozenset(problem.names(m)) for _, m in t.outcomes])
             for t in problem.tests]

    @functools.cache
    def value(suspects):
        here = [cost * sum(chance[f] for f in suspects)
                + sum(value(suspects & o) for o in outcomes if suspects & o)
                for cost, outcomes in tests if all(suspects & o != suspects for o in outcomes)]
        return min(here, default=0.0)

    return value(frozenset(problem.faults))


@st.composite
def problems(draw, most=7, outcomes="abc"):
    faults = draw(st.integers(1, most))
    tests = draw(st.integers(0, 6))
    chance = st.floats(0.001, 1.0)
    return problem_from(table(
        draw(st.lists(chance, min_size=faults, max_size=faults)),
        ["".join(draw(st.lists(st.sampled_from(outcomes), min_size=faults, max_size=faults)))
         for _ in range(tests)],
        [draw(st.floats(0.0, 9.0)) for _ in range(tests)]))


@settings(max_examples=150)
@given(problems())
def test_exact_equals_brute_force(problem):
    assert plan(problem).expected_cost == pytest.approx(brute_force(problem), rel=1e-12, abs=1e-12)


# Six states and five tests: data after Pattipati & Alexandridis, Application of heuristic search
# and information theory to sequential fault diagnosis, 1990 (from memory); both figures
# recomputed by the brute force above.
SIX = table((0.70, 0.01, 0.02, 0.10, 0.05, 0.12), ("000111", "010011", "001001", "001101", "010100"))


def test_known_optimum_and_greedy_cost():
    made = plan(problem_from(SIX))
    assert made.expected_cost == pytest.approx(2.18, abs=1e-12)
    assert made.greedy_expected_cost == pytest.approx(2.86, abs=1e-12)
    assert brute_force(made.problem) == pytest.approx(2.18, abs=1e-12)


# Huffman, A Method for the Construction of Minimum-Redundancy Codes, 1952: with every subset as
# a test of unit cost, the best sequence is the best code.
@pytest.mark.parametrize("chances", [(0.4, 0.2, 0.2, 0.1, 0.1), (0.5, 0.25, 0.125, 0.125),
                                     (0.3, 0.3, 0.2, 0.1, 0.06, 0.04)])
def test_all_subsets_reach_huffman_length(chances):
    rows = ["0" + "".join(rest) for rest in itertools.product("01", repeat=len(chances) - 1)]
    cost = plan(problem_from(table(chances, rows))).expected_cost
    assert cost == pytest.approx(code_length(list(chances)), abs=1e-12)


def test_huffman_length_of_a_published_code():
    # Huffman 1952, table I: thirteen messages, mean length 3.42 (from memory).
    chances = [0.20, 0.18, 0.10, 0.10, 0.10, 0.06, 0.06, 0.04, 0.04, 0.04, 0.04, 0.03, 0.01]
    assert code_length(chances) == pytest.approx(3.42, abs=1e-12)


# Kadane & Simon 1977; Heckerman, Breese & Rommelse 1995 (the p/c rule).
def test_inspections_follow_probability_over_cost():
    p, c = {"1": 0.5, "2": 0.3, "3": 0.2}, {"1": 10, "2": 3, "3": 1}
    order = inspection_order(p, c)
    assert order == ["3", "2", "1"]
    assert expected_inspection_cost(order, p, c) == pytest.approx(8.4)


@given(st.lists(st.tuples(st.floats(0.01, 1), st.floats(0.1, 20)), min_size=1, max_size=6))
def test_inspection_order_beats_every_permutation(parts):
    p = {str(i): pair[0] for i, pair in enumerate(parts)}
    c = {str(i): pair[1] for i, pair in enumerate(parts)}
    least = min(expected_inspection_cost(order, p, c) for order in itertools.permutations(p))
    assert expected_inspection_cost(inspection_order(p, c), p, c) == pytest.approx(least)


@settings(max_examples=60)
@given(problems())
def test_expected_cost_is_the_mean_of_the_paths(problem):
    step = best_steps(problem)
    mean = sum(p * path_cost(step, i) for i, p in enumerate(problem.prior))
    assert expected_cost(problem, step) == pytest.approx(mean, rel=1e-9, abs=1e-12)


@settings(max_examples=60)
@given(problems())
def test_no_strategy_costs_less_than_the_bound_nor_more_than_greedy(problem):
    made = plan(problem)
    assert lower_bound(problem) <= made.expected_cost * (1 + 1e-9) + 1e-12
    assert made.expected_cost <= made.greedy_expected_cost * (1 + 1e-9) + 1e-12


@settings(max_examples=40)
@given(problems())
def test_a_strategy_ends_at_what_cannot_be_told_apart(problem):
    ends, waiting = [], [plan(problem).strategy]
    while waiting:
        step = waiting.pop()
        waiting += step.branches.values()
        if step.test is None and step.suspects.bit_count() > 1:
            ends.append(problem.names(step.suspects))
    assert sorted(ends) == sorted(inseparable(problem))


def test_more_tests_never_cost_more():
    draw = random.Random(4)
    rows = ["".join(draw.choice("abc") for _ in range(9)) for _ in range(10)]
    costs = [draw.uniform(1, 5) for _ in rows]
    sizes = [plan(problem_from(table([0.1] * 9, rows[:n], costs[:n]))) for n in range(4, 11)]
    whole = [m.expected_cost for m in sizes if not m.inseparable]
    assert len(whole) > 2 and whole == sorted(whole, reverse=True) and whole[-1] < whole[0]


def test_bounded_search_beyond_twenty_is_no_worse_than_greedy():
    draw = random.Random(11)
    rows = ["".join(draw.choice("abc") for _ in range(60)) for _ in range(40)]
    problem = problem_from(table([draw.random() for _ in range(60)], rows,
                                 [draw.uniform(1, 9) for _ in rows]))
    made = plan(problem)
    assert not made.exact
    assert made.lower_bound <= made.expected_cost < made.greedy_expected_cost
    assert made.expected_cost == pytest.approx(expected_cost(problem, made.strategy))


def test_bounded_search_nears_the_optimum_where_that_is_known():
    for seed in range(5):
        draw = random.Random(seed)
        rows = ["".join(draw.choice("ab") for _ in range(18)) for _ in range(18)]
        problem = problem_from(table([draw.random() for _ in range(18)], rows,
                                     [draw.uniform(1, 5) for _ in rows]))
        best = expected_cost(problem, best_steps(problem))
        found = expected_cost(problem, bounded_steps(problem))
        assert best * (1 - 1e-12) <= found <= best * 1.05
        assert found <= expected_cost(problem, greedy_steps(problem)) * (1 + 1e-12)


def test_posterior_and_entropy():
    after = posterior({"a": 0.2, "b": 0.8}, {"a": 0.5, "b": 0.125})
    assert after == pytest.approx({"a": 0.5, "b": 0.5})
    assert entropy([1.0, 0.0]) == 0.0
    with pytest.raises(InputError, match="no suspect could have given this reading"):
        posterior({"a": 1.0}, {"a": 0.0})


GOOD = {"faults": {"a": 0.5, "b": 0.5}, "tests": {"t": {"cost": 1, "outcomes": {"a": 1, "b": 2}}}}


@pytest.mark.parametrize(("change", "words"), [
    ({"faults": {"a": 1.2, "b": 0}}, r"probability of fault 'a'.*not a number from 0 to 1"),
    ({"faults": {"a": float("nan"), "b": 0.1}}, r"fault 'a'.*not a number"),
    ({"faults": {"a": True, "b": 0.1}}, r"fault 'a'.*not a number"),
    ({"faults": {"a": 0, "b": 0}}, "every probability is 0"),
    ({"faults": {}}, "0 faults"),
    ({"faults": 5}, "faults: missing or not a table"),
    ({"extra": {}}, "'extra' is unknown"),
    ({"tests": {"t": {"cost": 1, "outcomes": {"a": 1}}}}, "test 't': no outcome for fault 'b'"),
    ({"tests": {"t": {"cost": 1, "outcomes": {"a": 1, "b": 2, "c": 1}}}}, "'c'.*not a fault"),
    ({"tests": {"t": {"cost": -1, "outcomes": {"a": 1, "b": 2}}}}, "cost: -1"),
    ({"tests": {"t": {"cost": 1, "outcomes": {"a": 1, "b": 0.5}}}}, "must be a word"),
    ({"tests": {"t": {"price": 1}}}, "must be a table with cost and outcomes"),
    ({"tests": {"t": {"cost": 1}}}, "outcomes: missing"),
])
def test_bad_problems_are_refused_in_one_sentence(tmp_path, capsys, change, words):
    path = tmp_path / "problem.json"
    path.write_text(json.dumps(GOOD | change))
    with pytest.raises(InputError, match=words) as refused:
        read_problem(path)
    assert str(path) in str(refused.value)
    with pytest.raises(SystemExit) as left:
        main(["sequence", str(path)])
    assert left.value.code == 2
    assert len(capsys.readouterr().err.strip().splitlines()) == 1


@pytest.mark.parametrize("text", ["", "[1]", "{", "[" * 100000, '{"faults": {"a": 1, "a": 1}}'])
def test_files_that_are_no_problem(tmp_path, text):
    path = tmp_path / "problem.json"
    path.write_text(text)
    with pytest.raises(InputError, match="problem.json"):
        read_problem(path)


def run(*words):
    with pytest.raises(SystemExit) as left:
        main(list(words))
    assert left.value.code == 0


def test_command_prints_the_promised_keys(tmp_path, capsys):
    path = tmp_path / "six.json"
    path.write_text(json.dumps(SIX))
    run("sequence", str(path), "--json")
    found = json.loads(capsys.readouterr().out)
    assert found["expected_cost"] == 2.18 and found["greedy_expected_cost"] == 2.86
    assert found["inseparable"] == [] and found["strategy"]["test"].startswith("t")
    run("sequence", str(path))
    assert "least possible" in capsys.readouterr().out


def test_four_hundred_parts_tested_one_by_one_are_planned_and_told(tmp_path, capsys):
    """A chain of 399 tests: deeper than Python's calls nest by themselves."""
    count = 400
    rows = ["n" * i + "y" + "n" * (count - i - 1) for i in range(count)]
    path = tmp_path / "chain.json"
    path.write_text(json.dumps(table([1.0 / count] * count, rows, [1.0] * count)))
    run("sequence", str(path), "--json")
    written = capsys.readouterr().out
    assert json.loads(written)["expected_cost"] == pytest.approx(
        (sum(range(1, count)) + count - 1) / count)


def test_after_a_part_was_replaced_in_vain_only_what_is_left_weighs():
    """a and b look alike, b is ruled out: of a, c, d with 1, 10, 9 the test for c comes first.

    By hand: 1 + (1 + 9)/20 = 1.5; with b's weight it would seem to be the test for a or b.
    """
    values = Values(problem_from({"faults": {"a": 0.01, "b": 0.8, "c": 0.10, "d": 0.09}, "tests": {
        name: {"cost": 1, "outcomes": {fault: "yes" if fault in name else "no" for fault in "abcd"}}
        for name in ("ab", "c", "d")}}))
    left = values.problem.suspects("acd")
    assert values.best_test(left).name == "c"
    assert values.to_go(left) == pytest.approx(1.5)
    assert values.regret(values.problem.test["c"], left) == pytest.approx(0.0)
    assert values.best_test(values.problem.everyone).name == "ab"


def test_what_was_asked_before_changes_no_value():
    """Learners share what has been worked out: nobody's mark may hang on who was graded first."""
    draw = random.Random(4)
    rows = ["".join(draw.choice("ab") for _ in range(30)) for _ in range(14)]
    problem = problem_from(table([draw.random() for _ in range(30)], rows,
                                 [draw.uniform(1, 9) for _ in rows]))
    sets = [problem.everyone ^ 1 << n for n in range(12)]
    shared, backwards = Values(problem, budget=3), Values(problem, budget=3)
    one = [shared.to_go(left) for left in sets]
    assert one == [backwards.to_go(left) for left in reversed(sets)][::-1]
    assert one[-1] == Values(problem, budget=3).to_go(sets[-1])
