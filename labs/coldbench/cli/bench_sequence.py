"""`coldbench sequence --bench`: suspects, tests and outcomes taken from a bench."""

import re
from typing import TYPE_CHECKING

from coldbench.cli.bench_tree import with_symptom
from coldbench.cli.say import say

if TYPE_CHECKING:
    from coldbench.diagnosis.from_bench import BenchProblem

_LEADS = re.compile(r"(?:voltmeter|ohmmeter) (\d+)(?: to (\d+))?")


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
        say(sequence.json_text(made, about(found)))
    else:
        said = sequence.text(made)
        say("\n".join([heading(found), said, *legend(found, said)]))


def about(found: "BenchProblem") -> dict:
    """Return bench, symptom and suspects as plain data [dict]."""
    return {"bench": found.bench.name, "symptom": found.complaint.name,
            "state": found.complaint.state, "unit": "min",
            "suspects": {one.id: {"probability": round(chance, 6), "description": one.description}
                         for one, chance in zip(found.suspects, found.problem.prior, strict=True)},
            "tests": len(found.problem.tests), "unsolved": len(found.table.failed)}


def legend(found: "BenchProblem", said: str) -> list[str]:
    """Return what the names in a text stand for: test points met in it, suspects [list of str].

    said [the text of the sequence].
    """
    points = {int(number) for leads in _LEADS.findall(said) for number in leads if number}
    lines = ["", "Test points"] if points else []
    lines += [f"  {number}  {found.bench.circuit.test_points[number].label}"
              for number in sorted(points & set(found.bench.circuit.test_points))]
    ranked = sorted(zip(found.problem.prior, found.suspects, strict=True),
                    key=lambda pair: -pair[0])
    return [*lines, "", "Suspects, likeliest first",
            *(f"  {100 * chance:5.1f} %  {one.id}: {one.description}{_ends(found, one.part)}"
              for chance, one in ranked)]


def _ends(found: "BenchProblem", part: str) -> str:
    wire = found.bench.circuit.wires.get(part)
    return f", between {wire.start} and {wire.end}" if wire else ""


def heading(found: "BenchProblem") -> str:
    """Return the first lines of the text [str]."""
    return (f"{found.bench.title}: {found.complaint.name}\n"
            f"{len(found.suspects)} single faults show it in “{found.complaint.state}”; "
            f"{len(found.problem.tests)} tests tell some of them apart. Costs in minutes.")
