"""What is still to be paid from a suspect set, and what a test costs beyond the best one."""

from coldbench.diagnosis.strategy.bounded import Search
from coldbench.diagnosis.strategy.problem import Problem, Test
from coldbench.diagnosis.strategy.reduce import Reduced, reduced
from coldbench.diagnosis.strategy.steps import Step, room_for

WIDTH, BUDGET = 2, 60


class Values:
    """Expected cost to go, for any suspect set of a problem.

    problem [any size]. Sets of up to 12 groups that tests can tell apart are valued exactly,
    larger ones by a bounded search; what has been worked out is kept, and what was asked before
    changes no value. A set may hold some of a group only, as after one of its parts was replaced
    in vain: then those alone weigh.

    >>> from coldbench.diagnosis.strategy.problem import problem_from
    >>> values = Values(problem_from({"faults": {"a": 0.5, "b": 0.5},
    ...     "tests": {"t": {"cost": 3, "outcomes": {"a": "yes", "b": "no"}}}}))
    >>> values.to_go(0b11), values.to_go(0b01), values.best_test(0b11).name
    (3.0, 0.0, 't')
    """

    def __init__(self, problem: Problem, width: int = WIDTH, budget: int = BUDGET) -> None:
        self.problem, self.width, self.budget = problem, width, budget
        self._whole = self._made(problem.everyone)
        self._parts: dict[int, tuple[Reduced, Search]] = {}

    def to_go(self, suspects: int) -> float:
        """Return the expected cost from a suspect set [bits] to the end [unit of cost]."""
        small, groups, cost, _ = self._best(suspects)
        chance = small.problem.probability(groups)
        return cost / chance if chance > 0.0 else 0.0

    def best_test(self, suspects: int) -> Test | None:
        """Return the test to make at a suspect set [bits]; None where none parts it."""
        test = self._best(suspects)[3].test
        return self.problem.test[test.name] if test else None

    def _best(self, suspects: int) -> tuple[Reduced, int, float, Step]:
        """The smaller problem, the suspect set in it, its cost times probability, first step."""
        small, search = self._of(suspects)
        groups = small.suspects(suspects)
        with room_for(self.problem):
            return (small, groups, *search.best(groups))

    def _of(self, suspects: int) -> tuple[Reduced, Search]:
        """A smaller problem of which the suspect set is some whole groups."""
        small, _ = self._whole
        if small.members(small.suspects(suspects)) == suspects:
            return self._whole
        if suspects not in self._parts:
            self._parts[suspects] = self._made(suspects)
        return self._parts[suspects]

    def _made(self, suspects: int) -> tuple[Reduced, Search]:
        small = reduced(self.problem, suspects)
        return small, Search(small.problem, self.width, self.budget)

    def with_test(self, test: Test, suspects: int) -> float:
        """Return the expected cost of making a test first and going on as well as possible.

        cost + Σ over outcomes of P(outcome) · cost to go.

        Parameters
        ----------
        test : Test
            One of the problem's, or another with outcomes for every suspect.
        suspects : int
            Suspect set [bits].

        Returns
        -------
        float
            [unit of cost]
        """
        whole = self.problem.probability(suspects)
        if whole <= 0.0:
            return test.cost
        return test.cost + sum(self.problem.probability(left) / whole * self.to_go(left)
                               for _, left in test.split(suspects))

    def regret(self, test: Test, suspects: int) -> float:
        """Return what a test costs beyond the best one, on average [unit of cost, 0 or more].

        A test that does not part the suspects costs all its price.
        """
        if not test.separates(suspects):
            return test.cost
        return max(self.with_test(test, suspects) - self.to_go(suspects), 0.0)
