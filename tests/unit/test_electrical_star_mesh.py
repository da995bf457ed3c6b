"""Star–mesh elimination against numpy's dense solver, and where dense elimination fails."""

import random
from fractions import Fraction

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from coldbench.electrical.star_mesh import backward, eliminate, forward, make_plan, solve


def network(seed: int):
    """Random plan, mesh and earth conductances, and the dense matrix of the same network."""
    rng = random.Random(seed)
    size = rng.randint(1, 14)
    edges = [(a, b) for a in range(size) for b in range(a) if rng.random() < 0.3]
    plan = make_plan(size, edges, [n for n in range(size) if rng.random() < 0.5])
    mesh, matrix = [0.0] * len(plan.slots), np.zeros((size, size))
    for a, b in edges:
        siemens = rng.uniform(0.1, 10.0)
        mesh[plan.slot(a, b)] += siemens
        matrix[[a, b], [a, b]] += siemens
        matrix[[a, b], [b, a]] -= siemens
    earth = [rng.uniform(0.01, 1.0) for _ in range(size)]
    return rng, plan, mesh, earth, matrix + np.diag(earth)


@given(st.integers(0, 10**9))
def test_voltages_equal_numpy_s(seed):
    rng, plan, mesh, earth, matrix = network(seed)
    injected = [rng.uniform(-1.0, 1.0) for _ in range(plan.size)]
    expected = np.linalg.solve(matrix, injected)
    factors = eliminate(plan, mesh, earth)
    np.testing.assert_allclose(solve(plan, mesh, factors, injected), expected, atol=1e-11)


@given(st.integers(0, 10**9))
def test_elimination_in_two_parts_is_the_same(seed):
    rng, plan, mesh, earth, matrix = network(seed)
    injected = [rng.uniform(-1.0, 1.0) for _ in range(plan.size)]
    expected = np.linalg.solve(matrix, injected)
    early = eliminate(plan, mesh, earth, 0, plan.early)
    forward(plan, early, injected)
    late = eliminate(plan, mesh, earth, plan.early)
    forward(plan, late, injected, plan.early)
    voltages = [0.0] * plan.size
    backward(plan, late, injected, voltages, plan.early)
    backward(plan, early, injected, voltages)
    np.testing.assert_allclose(voltages, expected, atol=1e-11)


@given(st.integers(0, 10**9))
def test_arrays_over_cases_give_the_same_floats(seed):
    rng, plan, mesh, earth, _ = network(seed)
    injected = [rng.uniform(-1.0, 1.0) for _ in range(plan.size)]
    as_arrays = [[np.array([x, 2.0 * x]) for x in row] for row in (mesh, earth, injected)]
    one = solve(plan, mesh, eliminate(plan, mesh, earth), injected)
    many = solve(plan, as_arrays[0], eliminate(plan, *as_arrays[:2]), as_arrays[2])
    assert [float(v[0]) for v in many] == one


def test_an_island_behind_a_teraohm_keeps_all_its_digits():
    """Ten nodes joined by milliohms, to ground by 1 TΩ each: exact in fractions."""
    size = 10
    plan = make_plan(size, [(n, n + 1) for n in range(size - 1)])
    mesh, earth = [1e3] * len(plan.slots), [1e-12] * size
    injected = [1e-12] + [0.0] * (size - 1)
    exact_mesh = [Fraction(g) for g in mesh]
    exact_earth = [Fraction(g) for g in earth]
    exact = solve(plan, exact_mesh, eliminate(plan, exact_mesh, exact_earth),
                  [Fraction(i) for i in injected])
    found = solve(plan, mesh, eliminate(plan, mesh, earth), injected)
    assert max(abs(v / float(e) - 1.0) for v, e in zip(found, exact, strict=True)) < 1e-14
    assert abs(found[0] - 0.1) < 1e-12
