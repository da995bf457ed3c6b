"""`coldbench sequence --bench`: suspects, tests and outcomes taken from a bench."""

import json
from typing import TYPE_CHECKING

from coldbench.cli.bench_tree import with_symptom
from coldbench.cli.pt import _say

if TYPE_CHECKING:
    from coldbench.diagnosis.from_bench import BenchProblem


def run(bench: str, symptom: str | None, as_json: bool, limit: int | None) -> None:
    """Find the order of tests for a symptom of a bench, and say it.

    Parameters
    ----------
    bench : str
        Name of a bench, or its file.
    symptom : str or None
        One of its symptoms.
    as_json : bool
        Write JSON.
    limit : int or None
        Suspects to keep, the likeliest.

    Raises
    ------
    InputError
        For a bench or symptom that is none.
    """
    from coldbench.cli import sequence
    from coldbench.diagnosis.from_bench import bench_problem
    from coldbench.diagnosis.strategy import plan

    found = bench_problem(with_symptom(bench, symptom), symptom, limit)
    made = plan(found.problem)
    if as_json:
        _say(json.dumps(about(found) | sequence.answer(made), ensure_ascii=False))
    else:
        _say(f"{heading(found)}\n{sequence.text(made)}")


def about(found: "BenchProblem") -> dict:
    """Return bench, symptom and suspects as plain data [dict]."""
    return {"bench": found.bench.name, "symptom": found.complaint.name,
            "state": found.complaint.state, "unit": "min",
            "suspects": {one.id: {"probability": round(chance, 6), "description": one.description}
                         for one, chance in zip(found.suspects, found.problem.prior, strict=True)},
            "tests": len(found.problem.tests), "unsolved": len(found.table.failed)}


def heading(found: "BenchProblem") -> str:
    """Return the first lines of the text [str]."""
    return (f"{found.bench.title}: {found.complaint.name}\n"
            f"{len(found.suspects)} single faults show it in “{found.complaint.state}”; "
            f"{len(found.problem.tests)} tests tell some of them apart. Costs in minutes.")
