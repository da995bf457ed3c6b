"""A test-sequencing problem: faults with probabilities, tests with costs and outcomes."""

import json
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coldbench.errors import InputError

if TYPE_CHECKING:
    import numpy

MOST_FAULTS, MOST_TESTS = 400, 2000
EXAMPLES = Path(__file__).parent / "examples"


@dataclass(frozen=True)
class Test:
    """A test: its cost and, for each outcome, the faults (as bits) that give it."""

    __test__ = False  # not a test for pytest
    name: str
    cost: float
    outcomes: tuple[tuple[str, int], ...]

    def split(self, suspects: int) -> list[tuple[str, int]]:
        """Return the outcomes that are possible and the suspects each leaves.

        Parameters
        ----------
        suspects : int
            Suspect set [bits].

        Returns
        -------
        list of (str, int)
            Outcome and suspect set, in the order of the file.

        Examples
        --------
        >>> Test("fuse", 1.0, (("intact", 0b110), ("blown", 0b001))).split(0b100)
        [('intact', 4)]
        """
        return [(name, left) for name, mask in self.outcomes if (left := suspects & mask)]

    def separates(self, suspects: int) -> bool:
        """Say whether the outcome narrows a suspect set down [bits]."""
        return all(suspects & mask != suspects for _, mask in self.outcomes)


@dataclass(frozen=True)
class Problem:
    """Faults, exactly one of which is present, and the tests that tell them apart.

    prior [probabilities that sum to one, one for each fault]; suspect sets are integers whose
    bit i stands for fault i.
    """

    faults: tuple[str, ...]
    prior: tuple[float, ...]
    tests: tuple[Test, ...]

    @property
    def everyone(self) -> int:
        """The suspect set that holds every fault [bits]."""
        return (1 << len(self.faults)) - 1

    @cached_property
    def masks(self) -> tuple["numpy.ndarray", "numpy.ndarray"]:
        """Outcomes of all tests as rows of ones [outcomes × faults], and where each test begins."""
        import numpy

        masks = [mask for test in self.tests for _, mask in test.outcomes]
        rows = [[mask >> i & 1 for i in range(len(self.faults))] for mask in masks]
        begins = numpy.cumsum([0] + [len(test.outcomes) for test in self.tests])[:-1]
        return numpy.array(rows, dtype=float).reshape(len(masks), len(self.faults)), begins

    @cached_property
    def test(self) -> dict[str, Test]:
        """The tests by name."""
        return {test.name: test for test in self.tests}

    @cached_property
    def _bits(self) -> dict[str, int]:
        return {name: 1 << i for i, name in enumerate(self.faults)}

    def probability(self, suspects: int) -> float:
        """Return the probability that the fault is in a suspect set [bits]."""
        return math.fsum(self.prior[i] for i in bits(suspects))

    def names(self, suspects: int) -> tuple[str, ...]:
        """Return the names in a suspect set [bits], in the order of the file."""
        return tuple(self.faults[i] for i in bits(suspects))

    def suspects(self, names: Any) -> int:
        """Return the suspect set of some faults.

        Parameters
        ----------
        names : iterable of str
            Faults.

        Returns
        -------
        int
            Suspect set [bits].

        Raises
        ------
        InputError
            If a name is not a fault of this problem.

        Examples
        --------
        >>> problem = problem_from({"faults": {"a": 0.5, "b": 0.5}, "tests": {}})
        >>> problem.suspects(["b"])
        2
        """
        found = 0
        for name in names:
            if name not in self._bits:
                raise InputError(f"{name!r} is not a fault of this problem; it has: "
                                 f"{', '.join(self.faults[:12])}")
            found |= self._bits[name]
        return found


def bits(mask: int) -> Iterator[int]:
    """Yield the positions of the ones of an integer, lowest first.

    Examples
    --------
    >>> list(bits(0b1010))
    [1, 3]
    """
    while mask:
        low = mask & -mask
        yield low.bit_length() - 1
        mask ^= low


def inseparable(problem: Problem, suspects: int | None = None) -> list[tuple[str, ...]]:
    """Return the groups of faults that no test of the problem can tell apart.

    Parameters
    ----------
    problem : Problem
        Faults and tests.
    suspects : int, optional
        Look only among these [bits]; everyone if left out.

    Returns
    -------
    list of tuple of str
        Groups of two or more.

    Examples
    --------
    >>> inseparable(problem_from({"faults": {"a": 0.4, "b": 0.3, "c": 0.3},
    ...     "tests": {"t": {"cost": 1, "outcomes": {"a": "yes", "b": "no", "c": "no"}}}}))
    [('b', 'c')]
    """
    groups = [problem.everyone if suspects is None else suspects]
    for test in problem.tests:
        groups = [left for group in groups for _, left in test.split(group)]
    return [problem.names(group) for group in groups if group.bit_count() > 1]


def read_problem(path: str | Path) -> Problem:
    """Read a problem from a JSON file, as `problem_from` describes it.

    Parameters
    ----------
    path : str or Path
        File, or the name of a shipped example.

    Returns
    -------
    Problem

    Raises
    ------
    InputError
        With file, name and reason, if it cannot be read or is not such a problem.

    Examples
    --------
    >>> len(read_problem("dead-fan").tests)
    6
    >>> read_problem("nowhere.json")
    Traceback (most recent call last):
    coldbench.errors.InputError: nowhere.json: cannot be read: No such file or directory; \
accepted: a file, or an example: dead-fan
    """
    shipped = EXAMPLES / f"{path}.json"
    path = shipped if shipped.is_file() else path
    try:
        data = json.loads(Path(path).read_text("utf-8-sig"), object_pairs_hook=_no_name_twice)
    except OSError as error:
        names = ", ".join(sorted(file.stem for file in EXAMPLES.glob("*.json")))
        raise InputError(f"{path}: cannot be read: {error.strerror}; accepted: a file, or an "
                         f"example: {names}") from None
    except (ValueError, RecursionError) as error:
        raise InputError(f"{path}: not JSON: {error}") from None
    except InputError as error:
        raise InputError(f"{path}: {error}") from None
    return problem_from(data, str(path))


def problem_from(data: Any, where: str = "problem") -> Problem:
    """Make a problem of plain data.

    Parameters
    ----------
    data : dict
        `{"faults": {name: p}, "tests": {name: {"cost": c, "outcomes": {fault: outcome}}}}`.
        The probabilities are taken relative to their sum: exactly one fault is present.
    where : str
        File, for messages.

    Returns
    -------
    Problem

    Raises
    ------
    InputError
        With file, name and reason.

    Examples
    --------
    >>> problem_from({"faults": {"a": 0.2, "b": 0.2}, "tests": {}}).prior
    (0.5, 0.5)
    """
    faults = _table(data, "faults", where)
    tests = _table(data, "tests", where)
    if unknown := sorted(set(map(str, data)) - {"faults", "tests"}):
        raise InputError(f"{where}: {unknown[0]!r} is unknown; accepted: faults, tests")
    if not 1 <= len(faults) <= MOST_FAULTS or len(tests) > MOST_TESTS:
        raise InputError(f"{where}: {len(faults)} faults and {len(tests)} tests; accepted: 1 to "
                         f"{MOST_FAULTS} faults, at most {MOST_TESTS} tests")
    chances = [_number(p, f"{where}: probability of fault {name!r}", 0.0, 1.0)
               for name, p in faults.items()]
    if not (total := math.fsum(chances)) > 0.0:
        raise InputError(f"{where}: faults: every probability is 0; at least one must be above 0")
    names = tuple(faults)
    return Problem(names, tuple(p / total for p in chances),
                   tuple(_test(name, row, names, where) for name, row in tests.items()))


def _test(name: str, row: Any, faults: tuple[str, ...], where: str) -> Test:
    here = f"{where}: test {name!r}"
    if not isinstance(row, Mapping) or not set(row) <= {"cost", "outcomes"}:
        raise InputError(f"{here}: must be a table with cost and outcomes")
    cost = _number(row.get("cost"), f"{here}: cost", 0.0, 1e9)
    given = _table(row, "outcomes", here)
    if missing := [fault for fault in faults if fault not in given]:
        raise InputError(f"{here}: no outcome for fault {missing[0]!r}; every fault needs one")
    if extra := [fault for fault in given if fault not in faults]:
        raise InputError(f"{here}: an outcome for {str(extra[0])!r}, which is not a fault")
    masks: dict[str, int] = {}
    for i, fault in enumerate(faults):
        masks[_word(given[fault], f"{here}: outcome for fault {fault!r}")] = masks.get(
            _word(given[fault], here), 0) | 1 << i
    return Test(name, cost, tuple(masks.items()))


def _word(value: Any, here: str) -> str:
    if isinstance(value, bool | int | str):
        return str(value)
    raise InputError(f"{here}: must be a word, a whole number or true/false, not {value!r:.40}")


def _table(data: Any, key: str, where: str) -> Mapping[str, Any]:
    found = data.get(key) if isinstance(data, Mapping) else None
    if not isinstance(found, Mapping):
        raise InputError(f"{where}: {key}: missing or not a table")
    return found


def _number(value: Any, what: str, low: float, high: float) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
        raise InputError(f"{what}: {value!r:.40} is not a number from {low:g} to {high:g}")
    return float(value)


def _no_name_twice(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, value in pairs:
        if name in found:
            raise InputError(f"{name!r} stands twice in one table; each name may stand once")
        found[name] = value
    return found
