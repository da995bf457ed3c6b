"""Fault trees against published ones."""

import pytest

from coldbench.diagnosis.tree import Tree, analyse, read_tree, tree_from

TANK = read_tree("pressure-tank")


# Vesely et al., Fault Tree Handbook, NUREG-0492 (1981): pressure tank.
def test_pressure_tank_cut_sets():
    assert set(map(frozenset, analyse(TANK).minimal_cut_sets)) == {
        frozenset({"T"}), frozenset({"K2"}), frozenset({"S", "S1"}), frozenset({"S", "K1"}),
        frozenset({"S", "R"})}


# NASA Fault Tree Handbook with Aerospace Applications (2002), data as quoted publicly.
def test_pressure_tank_probability():
    found = analyse(TANK)
    assert found.top_probability == pytest.approx(3.5013348120867e-5, rel=1e-7)
    # by inclusion and exclusion: T + K2 + S·(S1 + K1 + R), all independent
    p = TANK.events
    circuit = 1 - (1 - p["S1"]) * (1 - p["K1"]) * (1 - p["R"])
    exact = 1 - (1 - p["T"]) * (1 - p["K2"]) * (1 - p["S"] * circuit)
    assert found.top_probability == pytest.approx(exact, rel=1e-11)
    assert found.rare_event_bound == pytest.approx(3.50135e-5, rel=1e-9)


# Computed from the same published data set; the definitions are printed with the result.
def test_pressure_tank_importance():
    one = analyse(TANK).importance
    assert one["K2"].birnbaum == pytest.approx(0.999995, abs=5e-7)
    assert one["S"].birnbaum == pytest.approx(1.34992e-4, rel=5e-6)
    assert one["K2"].fussell_vesely == pytest.approx(0.856816, abs=5e-7)
    assert one["T"].fussell_vesely == pytest.approx(0.142803, abs=5e-7)
    assert one["K2"].raw == pytest.approx(28560.5, rel=2e-6)
    assert one["K2"].rrw == pytest.approx(6.98381, rel=1e-6)


# Vesely 1970, A time-dependent methodology for fault tree evaluation: structure of two 2-of-3
# groups; either as an AND or an OR of the groups the counts follow by hand.
@pytest.mark.parametrize(("kind", "sets"), [("or", 6), ("and", 9)])
def test_two_of_three_twice(kind, sets):
    tree = tree_from({"top": "t", "gate": {
        "t": {"kind": kind, "inputs": ["x", "y"]},
        "x": {"kind": "atleast", "k": 2, "inputs": ["1", "2", "3"]},
        "y": {"kind": "atleast", "k": 2, "inputs": ["4", "5", "6"]}},
        "event": {str(i): 0.1 for i in range(1, 7)}})
    found = analyse(tree)
    vote = 3 * 0.1 ** 2 - 2 * 0.1 ** 3
    assert found.minimal_cut_set_count == sets
    assert found.top_probability == pytest.approx(
        vote ** 2 if kind == "and" else 1 - (1 - vote) ** 2, rel=1e-12)


def test_perfect_switch_makes_its_branch_certain():
    certain = analyse(Tree(TANK.top, TANK.gates, {**TANK.events, "K2": 1.0}))
    assert certain.top_probability == 1.0
