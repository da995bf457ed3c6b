"""A learner's path against the best one from the same start.

Each step is judged where it was made, at the suspects that the readings before it had left. Its
*regret* is what it costs on average beyond the best step there:

    regret = cost + Σ over outcomes P(outcome)·V(suspects then) − V(suspects now)

V is the expected cost of the best path from a suspect set. A step whose result was already
implied parts nothing, so all its cost is regret; but to verify the complaint once is never a waste. The expected cost of the path is V(start) and
the regrets of its steps; it is never below V(start), and luck does not count.

Source: regret as the difference of action values (Q and V of dynamic programming), Bellman.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from coldbench.diagnosis.journal.proof import Proof, judged, left_by, same_as
from coldbench.diagnosis.journal.steps import PathStep
from coldbench.diagnosis.strategy.problem import Problem, Test
from coldbench.diagnosis.strategy.values import Values

GOOD_SHARE, GOOD_COST = 0.15, 1.0  # a step within these of the best is a good one
NARROWS, IMPLIED, REPEATED, DEAR = "narrows", "implied", "repeated", "dear"
REFUSED, IMPOSSIBLE, CONTRARY = "refused", "impossible", "contrary"
VERIFIES, PREPARES, AFTER = "verifies", "prepares", "after the repair"
REPLACED, EARLY = "replaced", "replaced early"


@dataclass(frozen=True)
class StepScore:
    """One step as judged.

    kind [one of this module's words]; before, after [suspects, bits]; cost, regret [minutes];
    better [the test that was best there, None if there was none to make].
    """

    step: PathStep
    kind: str
    before: int
    after: int
    cost: float = 0.0
    regret: float = 0.0
    better: Test | None = None


@dataclass(frozen=True)
class PathScore:
    """A path as judged.

    truth; best_minutes [expected, of the best path from the start]; expected_minutes [of the
    learner's: the best and the regrets]; spent_minutes [on tests, until the right part was
    replaced]; proof [of all believable readings before that]; steps [judged].
    """

    problem: Problem
    truth: str
    best_minutes: float
    expected_minutes: float
    spent_minutes: float
    proof: Proof
    steps: tuple[StepScore, ...]

    def of_kind(self, *kinds: str) -> tuple[StepScore, ...]:
        """Return the steps of some kinds, such as "implied" or "refused"."""
        return tuple(one for one in self.steps if one.kind in kinds)

    @property
    def wasted(self) -> tuple[StepScore, ...]:
        """Steps that could teach nothing: implied or repeated."""
        return self.of_kind(IMPLIED, REPEATED)

    @property
    def early(self) -> tuple[StepScore, ...]:
        """Parts replaced before the cause was proven."""
        return self.of_kind(EARLY)

    @property
    def refusals(self) -> tuple[StepScore, ...]:
        """Steps that were refused for safety."""
        return self.of_kind(REFUSED)

    @property
    def impossible(self) -> tuple[StepScore, ...]:
        """Readings that the bench could not have given."""
        return self.of_kind(IMPOSSIBLE)

    @property
    def left_good_path(self) -> StepScore | None:
        """The first step that was not among the good ones, None if all were."""
        return next((one for one in self.steps if one.kind in (IMPLIED, REPEATED, DEAR, EARLY)),
                    None)

    @property
    def efficiency(self) -> float:
        """Expected cost of the best path as a share of the learner's [0 to 1]."""
        if self.expected_minutes <= 0.0:
            return 1.0
        return min(self.best_minutes / self.expected_minutes, 1.0)


def score_path(problem: Problem, steps: Iterable[PathStep], truth: str,
               parts: Mapping[str, str] = {}, values: Values | None = None,
               start: int | None = None) -> PathScore:
    """Return a learner's path as judged against the best one.

    Parameters
    ----------
    problem : Problem
        Suspects, tests and their cost; for a bench, `BenchProblem.problem`.
    steps : iterable of PathStep
        The path, in order.
    truth : str
        The fault that is present.
    parts : mapping of str to str, optional
        Fault → part to put right; needed to judge replaced parts.
    values : Values, optional
        Of the same problem; share it between learners, since it keeps what it has worked out.
    start : int, optional
        Suspects to begin with [bits]; everyone if left out.

    Returns
    -------
    PathScore

    Raises
    ------
    InputError
        For a test or fault that the problem does not have.

    Examples
    --------
    >>> from coldbench.diagnosis.strategy import problem_from
    >>> problem = problem_from({"faults": {"a": 0.5, "b": 0.5}, "tests": {
    ...     "quick": {"cost": 1, "outcomes": {"a": "yes", "b": "no"}},
    ...     "vain": {"cost": 2, "outcomes": {"a": "same", "b": "same"}}}})
    >>> found = score_path(problem, [PathStep(test="vain", outcome="same"),
    ...                              PathStep(test="quick", outcome="yes")], "a")
    >>> found.best_minutes, found.expected_minutes, found.proof.mode
    (1.0, 3.0, True)
    """
    walk = _Walk(problem, truth, parts, values or Values(problem), start)
    judged_steps = tuple([walk.take(step) for step in steps])
    regret = sum(one.regret for one in judged_steps)
    best = walk.values.to_go(walk.start)
    spent = sum(one.cost for one in judged_steps)
    return PathScore(problem, truth, best, best + regret, spent, walk.proof, judged_steps)


class _Walk:
    """A learner on the way: the suspects left, what was done, what is proven."""

    def __init__(self, problem: Problem, truth: str, parts: Mapping[str, str],
                 values: Values, start: int | None) -> None:
        self.problem, self.parts, self.values = problem, parts, values
        self.truth = problem.suspects([truth])
        self.part, self.mode = same_as(problem, truth, parts)
        self.name = parts.get(truth, truth)
        self.start = self.left = problem.everyone if start is None else start
        self.by_readings = self.start  # without what replacing parts has shown
        self.done: set[str] = set()
        self.readings = 0
        self.repaired = False

    @property
    def proof(self) -> Proof:
        return judged(self.problem, self.by_readings, self.part, self.mode, self.truth,
                      self.readings)

    def take(self, step: PathStep) -> StepScore:
        before = self.left
        if step.refused:
            return StepScore(step, REFUSED, before, before)
        if self.repaired:
            return StepScore(step, AFTER, before, before)
        if step.prepares:
            return StepScore(step, PREPARES, before, before, step.minutes)
        if not step.possible:
            return StepScore(step, IMPOSSIBLE, before, before, step.minutes)
        if step.replaced:
            return self._replace(step)
        agrees = left_by(step, self.problem)
        if not agrees & self.truth:  # not what this bench shows: it must not lead anywhere
            return StepScore(step, CONTRARY, before, before, step.minutes)
        return self._measure(step, agrees)

    def _replace(self, step: PathStep) -> StepScore:
        before, right = self.left, step.replaced == self.name
        early = not self.proof.part
        of_part = self.problem.suspects(name for name in self.problem.faults
                                        if self.parts.get(name, name) == step.replaced)
        self.repaired = right
        self.left = before & (of_part if right else ~of_part)
        return StepScore(step, EARLY if early else REPLACED, before, self.left,
                         better=self.values.best_test(before) if early else None)

    def _measure(self, step: PathStep, agrees: int) -> StepScore:
        before, after = self.left, self.left & agrees
        self.left, self.by_readings = after, self.by_readings & agrees
        self.readings += 1
        test = self.problem.test.get(step.test)
        cost = test.cost if test else step.minutes
        name = step.test or step.words
        if step.verifies and name not in self.done and after == before:
            kind, regret = VERIFIES, 0.0
        else:
            kind, regret = self._judge(step, test, cost, before, after)
        self.done.add(name)
        better = self.values.best_test(before) if kind not in (NARROWS, VERIFIES) else None
        return StepScore(step, kind, before, after, cost, regret, better)

    def _judge(self, step: PathStep, test: Test | None, cost: float, before: int, after: int,
               ) -> tuple[str, float]:
        if test is not None and not test.separates(before) or (test is None and after == before):
            name = step.test or step.words
            return (REPEATED if name and name in self.done else IMPLIED), cost
        regret = (self.values.regret(test, before) if test else
                  min(max(cost + self.values.to_go(after) - self.values.to_go(before), 0.0), cost))
        dear = regret > max(GOOD_SHARE * self.values.to_go(before), GOOD_COST)
        return (DEAR if dear else NARROWS), regret
