"""Assigning sealed benches to a class: faults drawn, benches sealed, keys kept at the desk.

Into the lab's source folder go
    benches/bench-NNNN.sealed    readings alone, under a number that tells nothing
    benches/assigned.json        public: the trios, and the complaint of each bench
    __keys__.json and problems   private: what is wrong, and what proves it (mode 600)
None of it is in git. `coldbench build` then puts the benches into the release, without the keys.
"""

import json
import random
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from coldbench.bench import Bench, Taken, load_bench, seal
from coldbench.bench.sealed import SealedBench, unpacked
from coldbench.diagnosis.from_bench import calls_of, follow, plain_problem
from coldbench.diagnosis.journal import mark_path, score_taken
from coldbench.errors import ConvergenceError, InputError
from coldbench.grading.assign_draw import Drawing, Drawn, mode_words, trios_of
from coldbench.grading.assign_pool import FILE, Pool, chosen_pool
from coldbench.grading.course import Course
from coldbench.grading.record import write_atomically
from coldbench.grading.report_pages import plural
from coldbench.worksheet.bench_keys import ASSIGNED, BenchKey, BenchKeys, write_keys

FOLDER = "benches"
PUBLIC = "assigned.json"
NUMBERS = range(1000, 10_000)
USUAL_BENCHES, MOST_BENCHES = 12, 60
FULL = 0.999


@dataclass(frozen=True)
class Assignment:
    """What was written: benches [number → key]; trios [numbers]; folder; seed."""

    benches: dict[str, BenchKey]
    trios: tuple[tuple[str, ...], ...]
    folder: Path
    seed: int

    @property
    def words(self) -> str:
        """Say in one line what was written."""
        minutes = {one.number: one.difficulty_minutes for one in self.benches.values()}
        sums = [sum(minutes[number] for number in trio) for trio in self.trios]
        families = len({one.family for one in self.benches.values()})
        return (f"{len(self.benches)} sealed benches of {families} families in "
                f"{plural(len(self.trios), 'trio')} of {min(sums):.0f} to {max(sums):.0f} minutes on "
                f"the best path, seed {self.seed}; the keys are in "
                f"source/{self.folder.name}/{ASSIGNED[0]}, for your eyes only")


def assign(course: Course, lab: str, pool: str | None = None, seed: int | None = None,
           benches: int = USUAL_BENCHES, force: bool = False,
           say: Callable[[str], None] = lambda line: None, workers: int | None = None,
           ) -> Assignment:
    """Draw, seal and write the benches of a class.

    Parameters
    ----------
    course : Course
        Its folder.
    lab : str
        A lab with a pool.
    pool : str, optional
        See `chosen_pool`; the lab's own if left out.
    seed : int, optional
        The same seed draws the same faults, numbers and trios; a secret one if left out.
    benches : int
        How many to seal, 3 to 60.
    force : bool
        Replace an assignment although work was handed in.
    say : callable
        Gets lines of progress.
    workers : int, optional
        Processes for simulating.

    Returns
    -------
    Assignment

    Raises
    ------
    InputError
        For a lab without a pool, a pool that gives too little, or work handed in already.
    """
    folder = course.source / course.require_lab(lab)
    if not (folder / FILE).is_file():
        raise InputError(f"{lab} has no {FILE}, so there is nothing to assign in it")
    if not 3 <= benches <= MOST_BENCHES:
        raise InputError(f"{benches} benches; accepted are 3 to {MOST_BENCHES}")
    if not force:
        refuse_handed_in(course, lab)
    chosen = chosen_pool(pool, folder / FILE)
    seed = random.SystemRandom().randrange(10**9) if seed is None else seed
    bench = load_bench(chosen.bench)
    made = sealed_benches(Drawing(bench, chosen, seed, say, workers), benches, seed)
    dice = random.Random(f"trios {seed}")
    numbers = list(made)
    trios = tuple(tuple(numbers[n] for n in trio)
                  for trio in trios_of([one for one, _ in made.values()], dice))
    keys = {number: bench_key(number, one, chosen) for number, (one, _) in made.items()}
    problems = {one.problem.complaint.name: plain_problem(one.problem) for one, _ in made.values()}
    write_assignment(folder, keys, trios, {n: data for n, (_, data) in made.items()})
    write_keys(folder, BenchKeys(keys, problems, seed))
    return Assignment(keys, trios, folder, seed)


def refuse_handed_in(course: Course, lab: str) -> None:
    """Raise InputError when work was handed in: it is marked with the benches there are now."""
    handed = sorted(path.parent.name for path in course.submitted.glob(f"*/{lab}")
                    if path.is_dir()) if course.submitted.is_dir() else []
    if handed:
        more = f" and {len(handed) - 3} more" if len(handed) > 3 else ""
        raise InputError(f"work on {lab} was handed in by {', '.join(handed[:3])}{more}; new "
                         "benches would make it worthless. Move it away, or add --force")


def sealed_benches(drawing: Drawing, count: int, seed: int, among: range = NUMBERS,
                   ) -> dict[str, tuple[Drawn, bytes]]:
    """Return number → (fault, sealed file); each walked along its best path to the end.

    among [what numbers are drawn from]. Raises InputError when the pool gives fewer than three.
    """
    numbers = random.Random(f"numbers {seed}").sample(among, count)
    found: dict[str, tuple[Drawn, bytes]] = {}
    for one in drawing.draw():
        data = sealed_and_walked(drawing.bench, one, drawing.pool)
        if data is not None:
            found[str(numbers[len(found)])] = one, data
            drawing.say(f"bench {len(found)} of {count} sealed")
        if len(found) == count:
            break
    if len(found) < 3:
        raise InputError(f"the pool gives {len(found)} faults that show a complaint and can be "
                         "proven; 3 or more are wanted")
    return found


def sealed_and_walked(bench: Bench, one: Drawn, pool: Pool) -> bytes | None:
    """Return the sealed file of a fault; None when the best path does not earn full marks on it."""
    try:
        data = seal(bench, [one.fault.id], pool.states or None)
        session = SealedBench(unpacked(data, one.fault.id)).session(one.problem.complaint.state)
        follow(session, calls_of(one.problem, one.walk))
    except ConvergenceError:
        return None
    taken = session.taken
    refused = any(use.refused for use in taken)
    return data if not refused and taken[-1].values["states off"].value == 0 and (
        earned(one, taken) >= FULL) else None


def earned(one: Drawn, taken: list[Taken]) -> float:
    """Return the share of the points that a way earns, its cause being named rightly [0 to 1]."""
    score = score_taken(one.problem, taken, one.fault.id, values=one.values)
    return mark_path(score, True, True).total


def bench_key(number: str, one: Drawn, pool: Pool, prefix: str = "bench") -> BenchKey:
    """Return what the desk keeps of a bench; prefix [of its file's name]."""
    problem = one.problem
    return BenchKey(
        number=number, file=f"{FOLDER}/{prefix}-{number}.sealed", bench=pool.bench,
        complaint=problem.complaint.name, state=problem.complaint.state, fault=one.fault.id,
        part=one.part, mode=mode_words(one.fault.mode), family=one.family,
        place=one.fault.proven_at, right=one.right,
        best_minutes=round(one.values.to_go(problem.problem.everyone), 3),
        difficulty_minutes=one.walk.minutes, proves=one.walk.tests,
        path=calls_of(problem, one.walk), states=problem.table.states)


def write_assignment(folder: Path, keys: dict[str, BenchKey], trios, files: dict[str, bytes],
                     public: str = PUBLIC, pattern: str = "bench-*.sealed") -> None:
    """Write sealed files and the public list; what was assigned before goes."""
    place = folder / FOLDER
    place.mkdir(exist_ok=True)
    for old in place.glob(pattern):
        old.unlink()
    for number, data in files.items():
        (folder / keys[number].file).write_bytes(data)
    benches = {number: {"file": key.file, "complaint": key.complaint, "state": key.state}
               for number, key in sorted(keys.items())}
    text = json.dumps({"benches": benches, "trios": [list(trio) for trio in trios]},
                      ensure_ascii=False, indent=1)
    write_atomically(place / public, text + "\n")
