"""Suspects, tests and outcomes of a complaint, worked out from the bench itself."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

from coldbench.bench import Bench, BenchFault, catalogue, repair_of
from coldbench.diagnosis.from_bench.classes import NOTHING, UNSTEADY, Class, classes
from coldbench.diagnosis.from_bench.complaint import Complaint, complaint_of
from coldbench.diagnosis.from_bench.instruments import BenchTest, bench_tests
from coldbench.diagnosis.from_bench.priors import weight
from coldbench.diagnosis.from_bench.table import ShownTable, differ, shown_table
from coldbench.diagnosis.strategy import Problem, Test
from coldbench.errors import InputError

_MOST_NAMED = 3  # readings that an outcome of many names


@dataclass(frozen=True, eq=False)
class Sorted:
    """A test with its outcomes: for each reading its classes, and the outcome of each pattern.

    parting [keys with more than one class]; classes [key → its classes]; words [pattern of
    classes of the parting keys → the outcome's name].
    """

    test: BenchTest
    parting: tuple[str, ...]
    classes: Mapping[str, list[Class]]
    words: Mapping[tuple[int, ...], str]

    def outcome(self, shown: Mapping[str, tuple[float, float]]) -> str:
        """Return the outcome that readings stand for, "" if no suspect shows such ones.

        Parameters
        ----------
        shown : mapping
            Key → (value, ±); keys that the instrument did not show are left out.

        Returns
        -------
        str
        """
        pattern = tuple(_class_of(self.classes[key], shown.get(key)) for key in self.parting)
        return self.words.get(pattern, "")


def _class_of(found: list[Class], reading: tuple[float, float] | None) -> int:
    """Place of the class a reading belongs to; −1 for none."""
    if reading is None or reading[0] != reading[0]:
        words = NOTHING if reading is None else UNSTEADY
        return next((n for n, one in enumerate(found) if one.words == words), -1)
    value, around = reading
    away = [(max(one.low - value, value - one.high, 0.0), n) for n, one in enumerate(found)
            if one.low == one.low]
    distance, place = min(away, default=(float("inf"), -1))
    return place if distance <= around + 1e-9 else -1


@dataclass(frozen=True, eq=False)
class BenchProblem:
    """A complaint at a bench, ready for `plan` and for marking a journal.

    complaint; suspects [faults of the catalogue that show it, likeliest first]; table [what the
    bench shows under each]; problem [for `strategy.plan`: fault ids, tests by name]; sorted
    [test name → its outcomes].
    """

    bench: Bench
    complaint: Complaint
    suspects: tuple[BenchFault, ...]
    table: ShownTable
    problem: Problem
    sorted: Mapping[str, Sorted]

    @cached_property
    def fault(self) -> dict[str, BenchFault]:
        """The suspects by id."""
        return {one.id: one for one in self.suspects}

    @cached_property
    def parts(self) -> dict[str, str]:
        """Suspect → the part that must be put right, by the name that `replace` takes."""
        return {one.id: repair_of(self.bench, one.id) for one in self.suspects}

    @cached_property
    def tests(self) -> tuple[BenchTest, ...]:
        """Every test that the bench allows, also those that part no suspects."""
        return bench_tests(self.bench, self.table)

    @cached_property
    def verifies(self) -> tuple[str, ...]:
        """Tests that show the readings of the complaint: they verify it."""
        wanted = set(self.complaint.readings)
        return tuple(test.name for test in self.tests
                     if test.state == self.complaint.state and wanted & set(test.keys))

    def outcome(self, test: str, fault: str) -> str:
        """Return the outcome of a test when a suspect is present."""
        bit = self.problem.suspects([fault])
        return next(name for name, mask in self.problem.test[test].outcomes if mask & bit)

    def agreeing(self, keys: Mapping[str, tuple[float, float]], state: str) -> int:
        """Return the suspects that could have given some readings.

        Parameters
        ----------
        keys : mapping
            Reading's key → (value, ±).
        state : str
            State it was taken in.

        Returns
        -------
        int
            Suspect set [bits]: those of which no instrument could tell these readings apart.
        """
        left = 0
        for n, one in enumerate(self.suspects):
            row = self.table.row(state, (one.id,)) or {}
            if all(key in row and not differ(row[key], found) for key, found in keys.items()):
                left |= 1 << n
        return left


def bench_problem(bench: Bench, symptom: "str | Complaint", limit: int | None = None,
                  states: Iterable[str] | None = None, workers: int | None = None,
                  keep: bool = True, pool: Iterable[str] | None = None) -> BenchProblem:
    """Return suspects, tests and outcomes of a complaint.

    Every single fault of the pool is simulated in the complaint's state; those that show it are
    the suspects, and are simulated in all states. A suspect that the solver cannot solve in some
    state is left out.

    Parameters
    ----------
    bench : Bench
        The bench.
    symptom : str or Complaint
        One of its symptoms, or a complaint of your own.
    limit : int, optional
        Keep this many suspects, the likeliest.
    states : iterable of str, optional
        States in which tests may be made; all of the bench if left out.
    workers : int, optional
        Processes to simulate with.
    keep : bool
        Use the cache folder.
    pool : iterable of str, optional
        Fault ids to look among; the whole catalogue if left out.

    Returns
    -------
    BenchProblem

    Raises
    ------
    InputError
        If no single fault shows the complaint, or a name is unknown.

    Examples
    --------
    >>> from coldbench.bench import load_bench
    >>> small = bench_problem(load_bench("blue"), "no air from the vents", workers=1, keep=False,
    ...                       pool=["MB:open", "F301:blown", "undercharge"], states=["key on"])
    >>> sorted(small.problem.faults)
    ['F301:blown', 'MB:open']
    """
    complaint = symptom if isinstance(symptom, Complaint) else complaint_of(bench, symptom)
    faults = pool_of(bench, pool)
    first = shown_table(bench, [complaint.state], [(one.id,) for one in faults], workers, keep)
    guilty = [one for one in faults if first.row(complaint.state, (one.id,)) is not None
              and complaint.shows(first.shown(complaint.state, (one.id,)))]
    guilty = _likeliest(bench, guilty, limit)
    table = shown_table(bench, dict.fromkeys([complaint.state, *(states or bench.states)]),
                        [(one.id,) for one in guilty], workers, keep)
    solved = set(table.complete())
    suspects = tuple(one for one in guilty if (one.id,) in solved)
    if not suspects:
        raise InputError(f"no single fault of {bench.name} shows “{complaint.name}”")
    return _problem(bench, complaint, suspects, table)


def pool_of(bench: Bench, pool: Iterable[str] | None) -> list[BenchFault]:
    """Return the faults of a catalogue with some ids, all if None [list].

    Raises: InputError naming an id that is not in it.
    """
    every = {one.id: one for one in catalogue(bench)}
    names = list(every) if pool is None else list(dict.fromkeys(pool))
    if unknown := [name for name in names if name not in every]:
        raise InputError(f"{unknown[0]!r} is not in the catalogue of {bench.name}")
    return [every[name] for name in names]


def _likeliest(bench: Bench, faults: list[BenchFault], limit: int | None) -> list[BenchFault]:
    if limit is not None and limit < 1:
        raise InputError(f"a limit of {limit} suspects; accepted: 1 or more")
    return sorted(faults, key=lambda one: -weight(bench, one))[:limit]


def _problem(bench: Bench, complaint: Complaint, suspects: tuple[BenchFault, ...],
             table: ShownTable) -> BenchProblem:
    weights = [weight(bench, one) for one in suspects]
    tests, found = [], {}
    for test in bench_tests(bench, table):
        sort, masks = sorted_test(test, suspects, table)
        if len(masks) > 1:
            tests.append(Test(test.name, test.minutes, tuple(masks.items())))
            found[test.name] = sort
    problem = Problem(tuple(one.id for one in suspects),
                      tuple(w / sum(weights) for w in weights), tuple(tests))
    return BenchProblem(bench, complaint, suspects, table, problem, found)


def sorted_test(test: BenchTest, suspects: Iterable[BenchFault], table: ShownTable,
                ) -> tuple[Sorted, dict[str, int]]:
    """Return a test with its outcome classes, and outcome → suspects that give it [bits].

    Parameters
    ----------
    test : BenchTest
        Test.
    suspects : iterable of BenchFault
        Suspects.
    table : ShownTable
        What the bench shows under each.

    Returns
    -------
    Sorted
    dict of str to int
        Only outcomes that some suspect gives.
    """
    rows = [table.rows[test.state, (one.id,)] for one in suspects]
    places, by_key = {}, {}
    for key in test.keys:
        where, found = classes([row.get(key) for row in rows], table.keys[key].unit)
        if len(found) > 1:
            places[key], by_key[key] = where, found
    words: dict[tuple[int, ...], str] = {}
    masks: dict[str, int] = {}
    for n, pattern in enumerate(zip(*places.values(), strict=True) if places else ()):
        name = words.setdefault(pattern, _named(pattern, by_key, words))
        masks[name] = masks.get(name, 0) | 1 << n
    return Sorted(test, tuple(places), by_key, words), masks


def _named(pattern: tuple[int, ...], by_key: Mapping[str, list[Class]],
           taken: Mapping[tuple[int, ...], str]) -> str:
    """The name of an outcome: its readings in words; numbered where too many to name."""
    told = [f"{key} {found[place].words}" if len(by_key) > 1 else found[place].words
            for place, (key, found) in zip(pattern, by_key.items(), strict=True)]
    name = "; ".join(told[:_MOST_NAMED])
    if len(told) > _MOST_NAMED:
        name += f"; and {len(told) - _MOST_NAMED} more (no. {len(taken) + 1})"
    return name
