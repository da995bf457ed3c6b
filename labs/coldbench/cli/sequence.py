"""`coldbench sequence`: which test first, so that the cause is proven at the least cost."""

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from coldbench.cli.say import say
from coldbench.errors import InputError

if TYPE_CHECKING:
    from coldbench.diagnosis.strategy import Plan

_ROUNDING = 9
MOST_FAULTS = 400


def command(
    file: Annotated[Path | None, typer.Argument(
        help='JSON: {"faults": {name: p}, "tests": {name: {"cost": c, '
             '"outcomes": {fault: outcome}}}}; or the name of an example.')] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Write JSON.")] = False,
    bench: Annotated[str | None, typer.Option(
        help="Take suspects and tests from this bench instead: a name, or its file.")] = None,
    symptom: Annotated[str | None, typer.Option(help="The bench's symptom to explain.")] = None,
    limit: Annotated[int | None, typer.Option(
        help="Suspects to keep, the likeliest; all of them if left out.")] = None,
) -> None:
    """Find the order of tests of least expected cost, with the greedy order beside it."""
    from coldbench.diagnosis.strategy import plan, read_problem

    if (file is None) == (bench is None):
        raise InputError("name a problem's file, or a bench with --bench, and not both")
    if bench is not None:
        from coldbench.cli import bench_sequence

        if limit is not None and not 1 <= limit <= MOST_FAULTS:
            raise InputError(f"--limit {limit}: accepted: 1 to {MOST_FAULTS}")
        bench_sequence.run(bench, symptom, as_json, limit)
        return
    if symptom or limit is not None:
        raise InputError("--symptom and --limit go with --bench")
    made = plan(read_problem(file))
    say(json_text(made, {}) if as_json else text(made))


def json_text(made: "Plan", more: dict) -> str:
    """Return a plan as JSON, after more that is to be told of it [str]."""
    from coldbench.diagnosis.strategy.steps import room_for

    with room_for(made.problem):
        return json.dumps(more | answer(made), ensure_ascii=False)


def answer(made: "Plan") -> dict:
    """Return a plan as plain data, with the keys the command promises.

    Parameters
    ----------
    made : Plan
        Solved problem.

    Returns
    -------
    dict
        Costs in the unit of the file; lower_bound equals expected_cost when exact.

    Examples
    --------
    >>> from coldbench.diagnosis.strategy import plan, problem_from
    >>> answer(plan(problem_from({"faults": {"a": 1}, "tests": {}})))["strategy"]
    {'faults': ['a']}
    """
    from coldbench.diagnosis.strategy.steps import plain_steps

    return {
        "expected_cost": round(made.expected_cost, _ROUNDING),
        "greedy_expected_cost": round(made.greedy_expected_cost, _ROUNDING),
        "exact": made.exact, "lower_bound": round(made.lower_bound, _ROUNDING),
        "strategy": plain_steps(made.problem, made.strategy),
        "inseparable": [list(group) for group in made.inseparable]}


def text(made: "Plan") -> str:
    """Return a plan as text to read.

    Parameters
    ----------
    made : Plan
        Solved problem.

    Returns
    -------
    str

    Examples
    --------
    >>> from coldbench.diagnosis.strategy import plan, problem_from
    >>> text(plan(problem_from({"faults": {"a": 1}, "tests": {}}))).splitlines()[-1]
    'cause: a'
    """
    from coldbench.diagnosis.strategy.steps import room_for, steps_in_words

    best = "the least possible" if made.exact else (
        f"the best found; none can cost less than {made.lower_bound:.4g}")
    lines = [f"Expected cost {made.expected_cost:.4g} ({best}); "
             f"greedy order {made.greedy_expected_cost:.4g}."]
    lines += [f"No test tells these apart: {', '.join(group)}." for group in made.inseparable]
    with room_for(made.problem):
        return "\n".join([*lines, "", *steps_in_words(made.problem, made.strategy)])
