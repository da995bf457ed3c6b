"""Scripted learners: one that follows the best order, one that prods, one that only guesses."""

import random

from coldbench.diagnosis.journal import PathStep


def perfect(bench, strategy, fault):
    """The steps of who follows a strategy at a bench with a fault."""
    step, steps = strategy, [PathStep(1, "the complaint", verifies=True)]
    while step.test is not None:
        outcome = bench.outcome(step.test.name, fault)
        steps.append(PathStep(len(steps) + 1, step.test.name, step.test.name, outcome,
                              minutes=step.test.cost))
        step = step.branches[outcome]
    return steps


TURNS = {"look": "look", "gauges": "gauges", "pipe thermometer": "pipe",
         "vent thermometer": "vent", "anemometer": "anemometer", "current clamp": "clamp",
         "stored codes": "codes", "live data": "live"}


def make(session, test):
    """Make a test of a problem at a session, as a learner would."""
    session.set_state(test.state)
    if test.instrument in ("voltmeter", "ohmmeter"):
        leads = [None if place == "ground" else place for place in test.place]
        return session.meter("volts" if test.instrument == "voltmeter" else "ohms", *leads)
    return getattr(session, TURNS[test.instrument])(*test.place)


def perfect_at(session, bench, strategy, read_step):
    """What is taken by who verifies the complaint and follows a strategy at a session."""
    first = next(one for one in bench.tests if one.name in bench.verifies)
    taken, step = [make(session, first)], strategy
    while step.test is not None:
        taken.append(make(session, bench.sorted[step.test.name].test))
        step = step.branches[read_step(bench, taken[-1]).outcome]
    return taken


def prodder(bench, fault, seed, count=12):
    """The steps of who puts instruments anywhere."""
    draw = random.Random(f"{seed} {fault}")
    tests = [draw.choice(bench.problem.tests) for _ in range(count)]
    return [PathStep(n, test.name, test.name, bench.outcome(test.name, fault), minutes=test.cost)
            for n, test in enumerate(tests, 1)]
