"""The best way from a complaint to one fault, as tests and as what is done at a session."""

from collections.abc import Iterable
from dataclasses import dataclass

from coldbench.bench import Session
from coldbench.bench.session import MEASURES, METER_MODES
from coldbench.diagnosis.from_bench.instruments import GROUND, BenchTest
from coldbench.diagnosis.from_bench.problem import BenchProblem
from coldbench.diagnosis.strategy.values import Values
from coldbench.errors import InputError

Call = tuple[str | int | float, ...]
STATE, REPLACE, CONFIRM = "set_state", "replace", "confirm"


@dataclass(frozen=True)
class Walk:
    """The best way to one fault.

    fault; tests [in order]; minutes [that they cost together]; left [suspects that no test parts
    from the fault, bits].
    """

    fault: str
    tests: tuple[str, ...]
    minutes: float
    left: int


def best_walk(problem: BenchProblem, fault: str, values: Values | None = None) -> Walk:
    """Return the tests that the best path makes when a certain fault is present.

    Parameters
    ----------
    problem : BenchProblem
        Of the complaint.
    fault : str
        One of its suspects.
    values : Values, optional
        Of the same problem; share it.

    Returns
    -------
    Walk

    Examples
    --------
    >>> from coldbench.bench import load_bench
    >>> from coldbench.diagnosis.from_bench.problem import bench_problem
    >>> small = bench_problem(load_bench("blue"), "no air from the vents", workers=1, keep=False,
    ...                       pool=["MB:open", "F301:blown"], states=["key on"])
    >>> len(best_walk(small, "MB:open").tests)
    1
    """
    values = values or Values(problem.problem)
    bit, left, tests = problem.problem.suspects([fault]), problem.problem.everyone, []
    while (test := values.best_test(left)) is not None:
        tests.append(test)
        left &= next(mask for _, mask in test.outcomes if mask & bit)
    return Walk(fault, tuple(test.name for test in tests), sum(test.cost for test in tests), left)


def call_of(test: BenchTest) -> Call:
    """Return what is done at a session for a test: method and arguments.

    >>> call_of(BenchTest("voltmeter 5 to ground, off", "voltmeter", (5, "ground"), "off", (), 1))
    ('meter', 'volts', 5)
    """
    tool, places = test.instrument, (place for place in test.place if place != GROUND)
    if tool in METER_MODES:
        return ("meter", METER_MODES[tool], *places)
    return (MEASURES[tool], *places)


def calls_of(problem: BenchProblem, walk: Walk) -> tuple[Call, ...]:
    """Return a walk as calls of a session: verify, measure, put right, run the test.

    Parameters
    ----------
    problem : BenchProblem
        Of the complaint, with its table.
    walk : Walk
        From `best_walk`.

    Returns
    -------
    tuple of Call
        Method and arguments each; begins in the complaint's state.
    """
    complaint = problem.complaint
    verify = next(test for test in problem.tests if test.name in problem.verifies)
    state, calls = complaint.state, [(STATE, complaint.state)]
    tests = [problem.sorted[name].test for name in walk.tests]
    for test in [*([] if any(test.name == verify.name for test in tests) else [verify]), *tests]:
        if test.state != state:
            state = test.state
            calls.append((STATE, state))
        calls.append(call_of(test))
    return (*calls, *repair_calls(problem, walk.fault))


def repair_calls(problem: BenchProblem, fault: str) -> tuple[Call, ...]:
    """Return the calls that put a fault right and confirm it [tuple of Call]."""
    dead = [name for name, one in problem.bench.states.items() if not one.ignition]
    if not dead:
        raise InputError(f"{problem.bench.name} has no state with the ignition off to repair in")
    return ((STATE, dead[0]), (REPLACE, problem.parts[fault]),
            (STATE, problem.complaint.state), (CONFIRM,))


def follow(session: Session, calls: Iterable[Call]) -> None:
    """Do some calls at a session, in order; what instruments gave stands in its `taken`.

    >>> from coldbench.bench import load_bench
    >>> session = load_bench("blue").session()
    >>> follow(session, [("set_state", "off"), ("meter", "ohms", 5, 6)])
    >>> session.taken[-1].values["ohms"].value
    0.2
    """
    for method, *arguments in calls:
        getattr(session, method)(*arguments)
