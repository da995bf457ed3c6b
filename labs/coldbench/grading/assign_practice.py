"""Practice benches of a lab: sealed once, kept in git, with keys that stay at the desk.

Without an assignment every learner gets these benches, in one order or another, so that the lab
runs and its gate has something to pass.
"""

import itertools
from collections.abc import Callable
from pathlib import Path

from coldbench.bench import load_bench
from coldbench.diagnosis.from_bench import plain_problem
from coldbench.grading.assign import Assignment, bench_key, sealed_benches, write_assignment
from coldbench.grading.assign_draw import Drawing
from coldbench.grading.assign_pool import Pool
from coldbench.worksheet.bench_keys import PRACTICE, BenchKeys, write_keys

PUBLIC, PATTERN = "practice.json", "practice-*.sealed"
PRACTICE_BENCHES = 3
NUMBERS = range(100, 1000)  # shorter than those of assigned benches, so never the same


def write_practice(folder: Path, pool: Pool, seed: int,
                   say: Callable[[str], None] = print) -> Assignment:
    """Seal three practice benches and write them with their keys.

    Parameters
    ----------
    folder : Path
        The lab's source folder.
    pool : Pool
        Three faults of three families.
    seed : int
        For their numbers.
    say : callable
        Gets lines of progress.

    Returns
    -------
    Assignment
        Its trios are every order of the three.

    Raises
    ------
    InputError
        If a fault is not fit.
    """
    drawing = Drawing(load_bench(pool.bench), pool, seed, say)
    made = sealed_benches(drawing, PRACTICE_BENCHES, seed, NUMBERS)
    keys = {number: bench_key(number, one, pool, "practice") for number, (one, _) in made.items()}
    trios = tuple(itertools.permutations(made))
    write_assignment(folder, keys, trios, {number: data for number, (_, data) in made.items()},
                     PUBLIC, PATTERN)
    problems = {one.problem.complaint.name: plain_problem(one.problem) for one, _ in made.values()}
    write_keys(folder, BenchKeys(keys, problems, seed), PRACTICE)
    return Assignment(keys, trios, folder, seed)
