"""Drawing faults from a pool, and putting three of them together for a learner.

A fault is fit when it shows a complaint of the bench file that several faults could cause, and
when the best path from the complaint proves its part by more than free looks. Its difficulty is
the minutes of that path.
"""

import itertools
import random
import statistics
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from coldbench.bench import Bench, BenchFault
from coldbench.diagnosis.from_bench import (
    BenchProblem, Walk, bench_problem, best_walk, complaint_of, shown_table)
from coldbench.diagnosis.strategy.values import Values
from coldbench.errors import InputError
from coldbench.grading.assign_pool import LEAST_FAMILIES, Pool

TRIOS_FOR_EACH = 2  # trios kept for each bench
SPREAD = 0.25       # of the middle difficulty, within which a trio's may lie


@dataclass(frozen=True, eq=False)
class Drawn:
    """A fault drawn: family [of the pool], the problem of its complaint, the best walk to it."""

    fault: BenchFault
    family: str
    problem: BenchProblem
    values: Values
    walk: Walk

    @property
    def part(self) -> str:
        """The part that must be put right."""
        return self.problem.parts[self.fault.id]

    @property
    def right(self) -> tuple[tuple[str, str], ...]:
        """Pairs (part, mode) that no test tells from this fault, in the words of an answer."""
        return tuple(dict.fromkeys(
            (self.problem.parts[name], mode_words(self.problem.fault[name].mode))
            for name in self.problem.problem.names(self.walk.left)))


def mode_words(mode: str) -> str:
    """Return a fault's mode as an answer names it.

    >>> mode_words("coil_open"), mode_words("txv-stuck-open")
    ('coil open', 'txv stuck open')
    """
    return mode.replace("_", " ").replace("-", " ")


class Drawing:
    """Draws fit faults from a pool.

    bench; pool; seed; say [called with lines of progress]; workers [processes; None: as many as
    processors]; keep [use the cache folder].
    """

    def __init__(self, bench: Bench, pool: Pool, seed: int, say=lambda line: None,
                 workers: int | None = None, keep: bool = True) -> None:
        self.bench, self.pool, self.say, self.workers, self.keep = bench, pool, say, workers, keep
        self.dice = random.Random(f"benches {seed}")
        self._problems: dict[str, tuple[BenchProblem, Values] | None] = {}
        self._used: Counter[str] = Counter()

    def draw(self) -> Iterator[Drawn]:
        """Yield fit faults, from the families in turn, no part twice."""
        families = {name: list(faults) for name, faults in self.pool.faults(self.bench).items()}
        shown = self._complaints([one.id for many in families.values() for one in many])
        for faults in families.values():
            self.dice.shuffle(faults)
        parts: set[str] = set()
        waiting = list(families.items())
        self.dice.shuffle(waiting)
        while any(faults for _, faults in waiting):
            for family, faults in waiting:
                while faults:
                    found = self._fit(family, faults.pop(), shown)
                    if found is not None and found.part not in parts:
                        parts.add(found.part)
                        self._used[found.problem.complaint.name] += 1
                        yield found
                        break

    def _complaints(self, faults: Sequence[str]) -> dict[str, list[str]]:
        """Fault → complaints of the bench file that it shows."""
        names = self.pool.complaints or tuple(self.bench.symptoms)
        complaints = [complaint_of(self.bench, name) for name in names]
        held = self.pool.states or tuple(self.bench.states)
        complaints = [one for one in complaints if one.state in held]
        states = dict.fromkeys(one.state for one in complaints)
        self.say(f"{len(faults)} faults of the pool in {len(states)} operating states")
        table = shown_table(self.bench, states, [(name,) for name in faults], self.workers,
                            self.keep)
        return {fault: [one.name for one in complaints if table.row(one.state, [fault])
                        and one.shows(table.shown(one.state, [fault]))] for fault in faults}

    def _fit(self, family: str, fault: BenchFault, shown: dict[str, list[str]]) -> Drawn | None:
        names = list(shown[fault.id])
        self.dice.shuffle(names)
        for name in sorted(names, key=lambda one: self._used[one]):
            made = self._problem(name)
            if made is None or fault.id not in made[0].fault:
                continue
            found = Drawn(fault, family, *made, best_walk(made[0], fault.id, made[1]))
            hard = found.walk.minutes >= self.pool.least_minutes
            if hard and {part for part, _ in found.right} == {found.part}:
                return found
        return None

    def _problem(self, complaint: str) -> tuple[BenchProblem, Values] | None:
        if complaint not in self._problems:
            self.say(f"“{complaint}”: which faults could cause it, and what tells them apart")
            try:
                made = bench_problem(self.bench, complaint, states=self.pool.states or None,
                                     workers=self.workers, keep=self.keep,
                                     pool=self.pool.suspect_ids(self.bench))
            except InputError:  # no single fault shows it
                made = None
            enough = made is not None and len(made.suspects) >= self.pool.least_suspects
            self._problems[complaint] = (made, Values(made.problem)) if enough else None
        return self._problems[complaint]


def trios_of(drawn: Sequence[Drawn], dice: random.Random) -> list[tuple[int, int, int]]:
    """Return trios of faults from three families whose difficulties add up alike.

    Those nearest to the middle of all possible trios are kept, twice as many as there are faults;
    in each the easiest comes first.

    Parameters
    ----------
    drawn : sequence of Drawn
        Faults.
    dice : random.Random
        For the order.

    Returns
    -------
    list of (int, int, int)
        Places in `drawn`.

    Raises
    ------
    InputError
        If the faults are of fewer than three families.
    """
    possible = [trio for trio in itertools.combinations(range(len(drawn)), 3)
                if len({drawn[n].family for n in trio}) == 3]
    if not possible:
        raise InputError(f"the pool gives fit faults of {len({one.family for one in drawn})} "
                         f"families only; {LEAST_FAMILIES} are wanted")
    minutes = {trio: sum(drawn[n].walk.minutes for n in trio) for trio in possible}
    middle = statistics.median(minutes.values())
    dice.shuffle(possible)
    possible.sort(key=lambda trio: abs(minutes[trio] - middle))
    kept = balanced(possible, minutes, middle, TRIOS_FOR_EACH * len(drawn))
    dice.shuffle(kept)
    return [tuple(sorted(trio, key=lambda n: (drawn[n].walk.minutes, n))) for trio in kept]


def balanced(trios: Iterable[tuple[int, ...]], minutes, middle: float, most: int,
             ) -> list[tuple[int, ...]]:
    """Return trios near the middle, those first whose faults are used least; at least one."""
    away = {trio: abs(minutes[trio] - middle) for trio in trios}
    widest = max(SPREAD * middle + 1.0, min(away.values()))
    near = [trio for trio, distance in away.items() if distance <= widest]
    used: Counter[int] = Counter()
    kept: list[tuple[int, ...]] = []
    while near and len(kept) < most:
        best = min(near, key=lambda trio: sum(used[n] for n in trio))
        near.remove(best)
        used.update(best)
        kept.append(best)
    return kept
