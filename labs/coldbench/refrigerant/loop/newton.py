"""Damped Newton's iteration for four equations, with Broyden's updates and step limits.

Source: Dennis and Schnabel, Numerical Methods for Unconstrained Optimization and Nonlinear
Equations (from memory). Plain Python: at four unknowns it is quicker than calling a library.
"""

from collections.abc import Callable
from typing import NamedTuple

from coldbench.errors import InputError

TOLERANCE = 1e-8
_MOST_ITERATIONS = 40
_DIFFERENCE = 1e-5
_SIDES = (1.0, -1.0)  # at a corner of the function the slopes on one side may lead nowhere
_SHORTEST_STEP = 1.0 / 64.0
_GOOD_REDUCTION = 0.9  # a step that leaves more than this of the residual wants fresh slopes

Vector = tuple[float, ...]


class Bounds(NamedTuple):
    """Least and most value of each unknown, and the longest step in each."""

    least: Vector
    most: Vector
    step: Vector


class Iterate(NamedTuple):
    """Where an iteration ended."""

    x: Vector
    residuals: Vector | None
    converged: bool


def solve(function: Callable[[Vector], Vector], start: Vector, bounds: Bounds) -> Iterate:
    """Look for x with function(x) = 0 from one start.

    Parameters
    ----------
    function : callable
        Takes 4 unknowns, returns 4 residuals; may raise InputError where it is not defined.
    start : tuple of 4 floats
        First x; moved inside the bounds.
    bounds : Bounds
        Limits.

    Returns
    -------
    Iterate
        `converged` only if all residuals are within 1e-8.

    Examples
    --------
    >>> bounds = Bounds((-9.0,) * 4, (9.0,) * 4, (5.0,) * 4)
    >>> got = solve(lambda x: (x[0] ** 2 - 4, x[1] - 1, x[2] + x[0], x[3]), (1.0,) * 4, bounds)
    >>> got.converged, [round(v, 6) for v in got.x]
    (True, [2.0, 1.0, -2.0, -0.0])
    """
    x = _inside(start, bounds)
    r = _try(function, x)
    slopes, sides = None, _SIDES
    for _ in range(_MOST_ITERATIONS):
        if r is None or _size(r) < TOLERANCE:
            break
        if slopes is None:
            if not sides:
                break
            slopes, sides = _differences(function, x, r, bounds, sides[0]), sides[1:]
        step = _direction(slopes, r, bounds)
        found = step and _line_search(function, x, r, step, bounds)
        if not found:
            slopes = None
            continue
        new_x, new_r = found
        good = _size(new_r) < _GOOD_REDUCTION * _size(r)
        slopes = _broyden(slopes, x, new_x, r, new_r) if good else None
        x, r, sides = new_x, new_r, _SIDES
    return Iterate(x, r, r is not None and _size(r) < TOLERANCE)


def _try(function, x: Vector) -> Vector | None:
    """Residuals, or None where the function is not defined."""
    try:
        return function(x)
    except (InputError, ArithmeticError, ValueError):
        return None


def _size(r: Vector) -> float:
    return max(map(abs, r))


def _norm(r: Vector) -> float:
    return sum(v * v for v in r)


def _inside(x: Vector, bounds: Bounds) -> Vector:
    return tuple(min(max(v, low), high) for v, low, high in zip(x, *bounds[:2], strict=True))


def _differences(function, x: Vector, r: Vector, bounds: Bounds,
                 side: float) -> list[list[float]] | None:
    """Slopes of every residual in every unknown, from one side; from the other if need be."""
    columns = []
    for j in range(len(x)):
        for step in (side * _DIFFERENCE, -side * _DIFFERENCE):
            inside = bounds.least[j] <= x[j] + step <= bounds.most[j]
            moved = _try(function, (*x[:j], x[j] + step, *x[j + 1:])) if inside else None
            if moved is not None:
                break
        else:
            return None
        columns.append([(m - v) / step for m, v in zip(moved, r, strict=True)])
    return [list(row) for row in zip(*columns, strict=True)]


def _direction(slopes, r: Vector, bounds: Bounds) -> Vector | None:
    """Newton's step, shortened as a whole to the step limits."""
    step = slopes and gauss(slopes, [-v for v in r])
    if not step:
        return None
    longest = max(abs(s) / limit for s, limit in zip(step, bounds.step, strict=True))
    if not longest < float("inf"):
        return None
    shorter = 1.0 / longest if longest > 1.0 else 1.0
    return tuple(s * shorter for s in step)


def _line_search(function, x: Vector, r: Vector, step: Vector,
                 bounds: Bounds) -> tuple[Vector, Vector] | None:
    """Halve the step until the residuals shrink."""
    share, before = 1.0, _norm(r)
    while share >= _SHORTEST_STEP:
        trial = _inside(tuple(v + share * s for v, s in zip(x, step, strict=True)), bounds)
        found = _try(function, trial)
        if found is not None and _norm(found) < (1.0 - 0.1 * share) * before:
            return trial, found
        share *= 0.5
    return None


def _broyden(slopes, x: Vector, new_x: Vector, r: Vector, new_r: Vector):
    """Slopes corrected by what the last step showed (Broyden's rank-one update)."""
    step = [b - a for a, b in zip(x, new_x, strict=True)]
    length = sum(s * s for s in step)
    if length == 0.0:
        return None
    updated = []
    for row, before, after in zip(slopes, r, new_r, strict=True):
        miss = (after - before - sum(a * s for a, s in zip(row, step, strict=True))) / length
        updated.append([a + miss * s for a, s in zip(row, step, strict=True)])
    return updated


def gauss(matrix: list[list[float]], right: list[float]) -> list[float] | None:
    """Solve linear equations by elimination with row exchange.

    Parameters
    ----------
    matrix : list of lists
        Square.
    right : list
        Right-hand side.

    Returns
    -------
    list or None
        Solution; None if the matrix is singular.

    Examples
    --------
    >>> gauss([[0.0, 2.0], [1.0, 1.0]], [4.0, 5.0])
    [3.0, 2.0]
    """
    n = len(right)
    rows = [[*row, b] for row, b in zip(matrix, right, strict=True)]
    for k in range(n):
        pivot = max(range(k, n), key=lambda i: abs(rows[i][k]))
        if not abs(rows[pivot][k]) > 1e-12:
            return None
        rows[k], rows[pivot] = rows[pivot], rows[k]
        for i in range(k + 1, n):
            factor = rows[i][k] / rows[k][k]
            if factor:
                rows[i] = [a - factor * b for a, b in zip(rows[i], rows[k], strict=True)]
    solution = [0.0] * n
    for k in reversed(range(n)):
        known = sum(rows[k][j] * solution[j] for j in range(k + 1, n))
        solution[k] = (rows[k][n] - known) / rows[k][k]
    return solution
