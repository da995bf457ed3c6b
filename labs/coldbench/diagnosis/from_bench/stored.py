"""A complaint's suspects, tests and outcomes as plain data, so that marking need not simulate.

`plain_problem` writes what `read_step` and `score_path` need; `stored_problem` reads it back. The
table of readings is left out: it is the large part, and scoring a journal needs only classes.
"""

import math
from collections.abc import Mapping
from typing import Any

from coldbench.bench import Bench, catalogue
from coldbench.diagnosis.from_bench.classes import Class
from coldbench.diagnosis.from_bench.complaint import complaint_of
from coldbench.diagnosis.from_bench.instruments import BenchTest
from coldbench.diagnosis.from_bench.problem import BenchProblem, Sorted
from coldbench.diagnosis.from_bench.table import ShownTable
from coldbench.diagnosis.strategy import Problem, Test
from coldbench.errors import InputError

FORM = 1


def plain_problem(one: BenchProblem) -> dict[str, Any]:
    """Return a complaint's problem as plain data.

    Parameters
    ----------
    one : BenchProblem
        From `bench_problem`; its complaint must be a symptom of the bench file.

    Returns
    -------
    dict

    Examples
    --------
    >>> from coldbench.bench import load_bench
    >>> from coldbench.diagnosis.from_bench import bench_problem
    >>> blue = load_bench("blue")
    >>> small = bench_problem(blue, "no air from the vents", workers=1, keep=False,
    ...                       pool=["MB:open", "F301:blown"], states=["key on"])
    >>> stored_problem(blue, plain_problem(small)).problem == small.problem
    True
    """
    tests = [_plain_test(one.sorted[test.name], test) for test in one.problem.tests]
    return {"form": FORM, "bench": one.bench.name, "complaint": one.complaint.name,
            "states": list(one.table.states), "faults": list(one.problem.faults),
            "prior": list(one.problem.prior), "verifies": list(one.verifies), "tests": tests}


def _plain_test(sort: Sorted, test: Test) -> list[Any]:
    made = sort.test
    classes = {key: [[c.words, _number(c.low), _number(c.high)] for c in sort.classes[key]]
               for key in sort.parting}
    outcomes = [[list(pattern), words] for pattern, words in sort.words.items()]
    masks = [[words, f"{mask:x}"] for words, mask in test.outcomes]
    return [made.name, made.instrument, list(made.place), made.state, list(made.keys), made.minutes,
            classes, outcomes, masks]


def _number(value: float) -> float | None:
    return None if math.isnan(value) else value


def stored_problem(bench: Bench, data: Mapping[str, Any]) -> BenchProblem:
    """Return a complaint's problem from its plain data; its table of readings is empty.

    Parameters
    ----------
    bench : Bench
        The bench it was made from.
    data : mapping
        From `plain_problem`.

    Returns
    -------
    BenchProblem

    Raises
    ------
    InputError
        If it is of another bench or form, or names a fault that the bench does not have.
    """
    if data.get("form") != FORM or data.get("bench") != bench.name:
        raise InputError(f"these stored tests are not of {bench.name}, or of another version; "
                         "assign the benches again")
    every = {one.id: one for one in catalogue(bench)}
    if unknown := [name for name in data["faults"] if name not in every]:
        raise InputError(f"stored tests name {unknown[0]!r}, which {bench.name} cannot have; "
                         "assign the benches again")
    tests, found = [], {}
    for row in data["tests"]:
        name, instrument, place, state, keys, minutes, classes, outcomes, masks = row
        made = BenchTest(name, instrument, tuple(place), state, tuple(keys), minutes)
        by_key = {key: [Class(words, *map(_back, ends)) for words, *ends in rows]
                  for key, rows in classes.items()}
        found[name] = Sorted(made, tuple(by_key), by_key,
                             {tuple(pattern): words for pattern, words in outcomes})
        tests.append(Test(name, minutes, tuple((words, int(mask, 16)) for words, mask in masks)))
    suspects = tuple(every[name] for name in data["faults"])
    table = ShownTable(bench.name, tuple(data["states"]), (), {}, {}, {})
    problem = Problem(tuple(data["faults"]), tuple(data["prior"]), tuple(tests))
    made = BenchProblem(bench, complaint_of(bench, data["complaint"]), suspects, table, problem,
                        found)
    made.__dict__["verifies"] = tuple(data["verifies"])  # worked out of the table otherwise
    return made


def _back(value: float | None) -> float:
    return math.nan if value is None else value
