"""A fault tree derived from a bench: every single fault, and pairs that show a complaint together.

Each cut set of the tree has been simulated. Single faults: all of the catalogue. Pairs: see
`pairs`; `tried` and `left` say how far the search went.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from coldbench.bench import Bench, BenchFault, bench_faults, catalogue
from coldbench.diagnosis.from_bench.complaint import Complaint, complaint_of
from coldbench.diagnosis.from_bench.pairs import (
    BOUND, Alike, alike, candidate_pairs, member_pairs,
)
from coldbench.diagnosis.from_bench.priors import kind_of_part, weight
from coldbench.diagnosis.from_bench.problem import pool_of
from coldbench.diagnosis.from_bench.table import ShownTable, shown_table
from coldbench.diagnosis.tree import Tree, tree_from
from coldbench.errors import InputError

PAIRS = 240  # pairs simulated unless another number is asked for
ROUNDS = 6  # after each round, members of the classes that it has found come first
_PER_VEHICLE = 1e-3  # a weight is a number among a thousand vehicles


@dataclass(frozen=True, eq=False)
class BenchTree:
    """What a bench says about the causes of a complaint.

    tree [its events are fault ids]; singles, doubles [minimal cut sets of one and two faults];
    tried [pairs simulated]; left [pairs that the search would have tried with more time]; faults
    [single faults simulated]; unsolved [cases without a solution]; bound [what was tried, in
    words].
    """

    bench: Bench
    complaint: Complaint
    tree: Tree
    singles: tuple[str, ...]
    doubles: tuple[tuple[str, str], ...]
    faults: int
    tried: int
    left: int
    unsolved: int
    bound: str = BOUND


def tree_from_bench(bench: Bench, symptom: "str | Complaint", pairs: int = PAIRS,
                    workers: int | None = None, keep: bool = True,
                    pool: Iterable[str] | None = None) -> BenchTree:
    """Return the fault tree of a complaint, derived by simulating single and double faults.

    Parameters
    ----------
    bench : Bench
        The bench.
    symptom : str or Complaint
        One of its symptoms, or a complaint of your own.
    pairs : int
        Simulate at most this many pairs; 0: single faults only.
    workers : int, optional
        Processes.
    keep : bool
        Use the cache folder.
    pool : iterable of str, optional
        Fault ids to look among; the whole catalogue if left out.

    Returns
    -------
    BenchTree
        The probability of an event is the fault's weight among a thousand vehicles.

    Raises
    ------
    InputError
        If the healthy bench shows the complaint, or neither one fault nor two do.

    Examples
    --------
    >>> from coldbench.bench import load_bench
    >>> found = tree_from_bench(load_bench("blue"), "no air from the vents", workers=1,
    ...                         keep=False, pool=["MB:open", "undercharge"])
    >>> found.singles, found.doubles
    (('MB:open',), ())
    """
    complaint = symptom if isinstance(symptom, Complaint) else complaint_of(bench, symptom)
    faults = pool_of(bench, pool)
    cases = [(), *((one.id,) for one in faults)]
    table = shown_table(bench, [complaint.state], cases, workers, keep)
    if table.row(complaint.state, ()) is None or complaint.shows(
            table.shown(complaint.state, ())):
        raise InputError(f"{bench.name} shows “{complaint.name}” with no fault at all, or cannot "
                         "be solved; a tree needs a symptom that faults bring about")
    solved = [one for one in faults if table.row(complaint.state, (one.id,)) is not None]
    singles = [one for one in solved if complaint.shows(table.shown(complaint.state, (one.id,)))]
    search = _Pairs(bench, complaint, table, pairs, workers, keep)
    search.run([one for one in solved if one not in singles])
    if not singles and not search.found:
        raise InputError(f"no single fault of {bench.name}, and none of {search.tried} pairs, "
                         f"shows “{complaint.name}”")
    tree = _tree(bench, complaint, singles, search)
    doubles = tuple(dict.fromkeys(pair for found in search.found for pair in found[2]))
    return BenchTree(bench, complaint, tree, tuple(one.id for one in singles), doubles,
                     len(faults), search.tried, search.left,
                     len(faults) - len(solved) + search.unsolved)


class _Pairs:
    """The search for pairs: found [(class, class, pairs that show the complaint)]."""

    def __init__(self, bench: Bench, complaint: Complaint, table: ShownTable, most: int,
                 workers: int | None, keep: bool) -> None:
        self.bench, self.complaint, self.table = bench, complaint, table
        self.most, self.workers, self.keep = most, workers, keep
        self.found: list[tuple[Alike, Alike, list[tuple[str, str]]]] = []
        self.tried = self.left = self.unsolved = 0

    def run(self, faults: Sequence[BenchFault]) -> None:
        healthy = self.table.rows[self.complaint.state, ()]
        weights = [weight(self.bench, one) for one in faults]
        groups = alike(faults, weights, self.table, self.complaint.state, healthy,
                       [fan.motor for fan in self.bench.fans])
        wanted = [(a, b, pairs) for a, b in candidate_pairs(
                  groups, self.complaint, self.table.shown(self.complaint.state, ()))
                  if (pairs := list(filter(self._together, member_pairs(a, b))))]
        while wanted and self.tried < self.most:
            count = min(max(self.most // ROUNDS, 1), self.most - self.tried)
            now, wanted = wanted[:count], wanted[count:]
            showing = self._showing([pairs[0] for *_, pairs in now])
            self._members([row for row in now if row[2][0] in showing])
        self.left += len(wanted)

    def _together(self, pair: tuple[str, str]) -> bool:
        """Whether a bench can have both: a fault that stands for several may hold the other."""
        try:
            bench_faults(self.bench, pair)
        except InputError:
            return False
        return True

    def _members(self, hits: list[tuple[Alike, Alike, list]]) -> None:
        """Try the other members of classes of which one pair shows the complaint."""
        others = [pair for *_, pairs in hits for pair in pairs[1:]]
        now = others[:max(self.most - self.tried, 0)]
        self.left += len(others) - len(now)
        good = self._showing(now) | {pairs[0] for *_, pairs in hits}
        self.found += [(a, b, [pair for pair in pairs if pair in good]) for a, b, pairs in hits]

    def _showing(self, pairs: list[tuple[str, str]]) -> set[tuple[str, str]]:
        if not pairs:
            return set()
        state = self.complaint.state
        table = shown_table(self.bench, [state], pairs, self.workers, self.keep)
        self.tried += len(pairs)
        self.unsolved += len(table.failed)
        return {pair for pair in pairs if table.row(state, pair) is not None
                and self.complaint.shows(table.shown(state, pair))}


def _tree(bench: Bench, complaint: Complaint, singles: list[BenchFault], search: _Pairs) -> Tree:
    """Faults under kinds of part, these under families; pairs under gates of their own."""
    gates: dict[str, dict] = {}
    top = _families(bench, singles, gates)
    doubles = [name for *_, pairs in search.found for name in _and_gates(pairs, gates)]
    if doubles:
        gates["two faults together"] = {"kind": "or", "inputs": doubles}
        top.append("two faults together")
    gates[complaint.name] = {"kind": "or", "inputs": top}
    used = {name for gate in gates.values() for name in gate["inputs"] if name not in gates}
    events = {one.id: min(_PER_VEHICLE * weight(bench, one), 1.0) for one in catalogue(bench)
              if one.id in used}
    return tree_from({"title": f"{bench.title}: {complaint.name}", "top": complaint.name,
                      "gate": gates, "event": events}, bench.name)


def _families(bench: Bench, singles: list[BenchFault], gates: dict[str, dict]) -> list[str]:
    """Gates of the families; of the kinds of part below them, where a family has several."""
    families: dict[str, dict[str, list[str]]] = {}
    for one in singles:
        kind = kind_of_part(bench, one).replace("_", " ")
        families.setdefault(one.family, {}).setdefault(kind, []).append(one.id)
    for family, kinds in families.items():
        inputs = []
        for kind, ids in kinds.items():
            if len(ids) > 1 and len(kinds) > 1:
                gates[f"{family}: {kind}"] = {"kind": "or", "inputs": ids}
                inputs.append(f"{family}: {kind}")
            else:
                inputs += ids
        gates[f"{family} fault"] = {"kind": "or", "inputs": inputs}
    return [f"{family} fault" for family in families]


def _and_gates(pairs: list[tuple[str, str]], gates: dict) -> list[str]:
    """Gates for the pairs of two classes: faults with the same partners share one."""
    partners: dict[str, list[str]] = {}
    for one, other in pairs:
        partners.setdefault(one, []).append(other)
    shared: dict[tuple[str, ...], list[str]] = {}
    for one, others in partners.items():
        shared.setdefault(tuple(others), []).append(one)
    names = []
    for right, left in shared.items():
        sides = [_side(side, gates) for side in (left, list(right))]
        names.append(f"{sides[0]} and {sides[1]}")
        gates[names[-1]] = {"kind": "and", "inputs": sides}
    return names


def _side(names: list[str], gates: dict) -> str:
    if len(names) == 1:
        return names[0]
    name = f"{names[0]} or {len(names) - 1} more"
    n = 2
    while name in gates and gates[name]["inputs"] != names:
        name, n = f"{names[0]} or {len(names) - 1} more ({n})", n + 1
    gates[name] = {"kind": "or", "inputs": names}
    return name
