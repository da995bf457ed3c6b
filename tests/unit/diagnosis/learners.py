"""Scripted learners: one that follows the best order, one that prods, one that only guesses."""

import random

from coldbench.diagnosis.journal import PathStep


def perfect(bench, strategy, fault):
    """The steps of who follows a strategy at a bench with a fault."""
    step, steps = strategy, []
    while step.test is not None:
        outcome = bench.outcome(step.test.name, fault)
        steps.append(PathStep(len(steps) + 1, step.test.name, step.test.name, outcome,
                              minutes=step.test.cost))
        step = step.branches[outcome]
    return steps


def prodder(bench, fault, seed, count=12):
    """The steps of who puts instruments anywhere."""
    draw = random.Random(f"{seed} {fault}")
    tests = [draw.choice(bench.problem.tests) for _ in range(count)]
    return [PathStep(n, test.name, test.name, bench.outcome(test.name, fault), minutes=test.cost)
            for n, test in enumerate(tests, 1)]
