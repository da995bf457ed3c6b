"""Which test first: the order of tests that proves the cause at the least expected cost.

`read_problem` reads suspects, their probabilities and the tests; `plan` gives the best order
beside the greedy one; `inspection_order` is the p/c rule for plain inspections; `posterior`
updates the suspects after a reading.

Glossary: a *suspect set* is the set of faults still possible, held as the bits of an integer;
*expected cost* is what is paid on average until no test can tell the remaining suspects apart.
"""

from coldbench.diagnosis.strategy.inspection import expected_inspection_cost, inspection_order
from coldbench.diagnosis.strategy.plan import Plan, plan
from coldbench.diagnosis.strategy.posterior import entropy, posterior
from coldbench.diagnosis.strategy.problem import (
    Problem,
    Test,
    inseparable,
    problem_from,
    read_problem,
)
from coldbench.diagnosis.strategy.steps import Step, expected_cost, path_cost, steps_in_words

__all__ = ["Plan", "Problem", "Step", "Test", "entropy", "expected_cost",
           "expected_inspection_cost", "inseparable", "inspection_order", "path_cost", "plan",
           "posterior", "problem_from", "read_problem", "steps_in_words"]
