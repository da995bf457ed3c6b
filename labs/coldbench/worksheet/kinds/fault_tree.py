"""A fault tree: what it says counts, not how it is drawn.

In `lab.toml`; `events` names the causes to choose from, and may be left out; `rows` true asks
for minimal cut sets as rows instead of a tree:

    [[question]]
    id = "no condenser air"
    kind = "fault tree"
    events = ["fuse F1 blown", "fan 1 open", "fan 2 open"]

A learner writes it in any of the ways that `worksheet/tree_data.py` shows:

    ["or", "fuse F1 blown", ["and", "fan 1 open", "fan 2 open"]]

A hidden check gives the key, and wrong trees worth naming, in the same ways or as a `Tree`:

    sheet.mark("no condenser air", key=["or", "fuse F1 blown", …],
               mistakes={"took the fans for parallel": ["or", …]})

A tree that is equivalent to the key is right. Any other earns the share of the key's minimal cut
sets that it has, less one for each that is false. The reason names false sets, with an example in
words, and says how many are missing; which ones stands with the key, shown when the key may be.

Where a tree is held against a bench, `bench` gives what the bench says of a false cut set:

    sheet.mark("fans never run", key=…, bench=lambda causes: "fan flow 57 %, not below 20 %")
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, ClassVar

from coldbench.diagnosis.tree.bdd import FALSE, TRUE, Diagram, diagram_of
from coldbench.diagnosis.tree.cut_sets import CutSets
from coldbench.diagnosis.tree.equivalence import Difference, compare
from coldbench.diagnosis.tree.model import Gate, Tree
from coldbench.errors import InputError
from coldbench.worksheet.kinds.base import Answer, Question, as_mistake
from coldbench.worksheet.kinds.choice import check_options
from coldbench.worksheet.marks import Mark
from coldbench.worksheet.spelling import find, one_line, quoted
from coldbench.worksheet.tree_data import among, is_rows, tree_of, tree_text

ALL_SWAPPED = "AND and OR swapped throughout"
ONE_SWAPPED = "AND and OR swapped at one gate"
MISCOUNTED = "wrong number at a voting gate"
LEFT_OUT = "one cause left out"
FOREIGN = "a cause that does not belong"
NOT_MINIMAL = "rows not struck out"
_ADVICE = {
    ALL_SWAPPED: "Ask at each gate: is one enough (OR), or must all happen together (AND)?",
    ONE_SWAPPED: "At one gate ask again: is one enough (OR), or must all happen together (AND)?",
    MISCOUNTED: "Ask how many must fail before what is left cannot do the job.",
    LEFT_OUT: "Follow supply, control and ground once more, part by part.",
    FOREIGN: "Check each cause alone: what would still work?",
    NOT_MINIMAL: "A row that holds another row says nothing new: strike it out.",
}
MOST_LISTED, MOST_NAMED = 300, 3
_NUMBERS = {0: "no", 1: "one", 2: "two", 3: "three"}
MOST_NODES = 20_000  # of the decision diagram of a learner's tree
Sets = frozenset[frozenset[str]]


@dataclass(frozen=True)
class FaultTreeQuestion(Question):
    """A question answered by a fault tree, or by rows of cut sets.

    events [names of the causes; empty: those of the key, as the learner's case shows them];
    rows [true: minimal cut sets, one row each].
    """

    events: tuple[str, ...] = ()
    rows: bool = False
    rules: ClassVar[tuple[str, ...]] = ("bench",)

    def __post_init__(self) -> None:
        if self.events:
            check_options("events", self.events)

    @property
    def wanted(self) -> str:
        if self.rows:
            return 'rows of causes, like [["fuse blown"], ["fan 1 open", "fan 2 open"]]'
        return 'a tree, like ["or", "fuse blown", ["and", "fan 1 open", "fan 2 open"]]'

    def read(self, value: Any, unit: Any = None) -> Answer:
        if self.rows and not is_rows(value):
            raise InputError(f"{quoted(value)} is not a list of rows; write {self.wanted}")
        tree = self._tree(value, among(self.events) if self.events else str)
        return Answer(tree, tree_text(tree), "" if is_rows(value) else self._doubt(tree))

    def _tree(self, value: Any, named: Callable[[str], str]) -> Tree:
        if not isinstance(value, list | tuple | Mapping | Tree):
            marks = ("; leave out the quotation marks around it"
                     if isinstance(value, str) and value.lstrip().startswith("[") else "")
            raise InputError(f"{quoted(value)} is not a fault tree{marks}; write {self.wanted}")
        return tree_of(value, named)

    def _doubt(self, tree: Tree) -> str:
        single = [gate.inputs[0] for gate in tree.gates.values() if len(gate.inputs) == 1]
        if not single:
            return ""
        return f"a gate has {single[0]!r} as its only input and does nothing; was more meant?"

    def mark(self, answer: Answer, key: Any, mistakes: Mapping[str, Any] = {},  # noqa: B006
             bench: Callable[[tuple[str, ...]], str] | None = None) -> Mark:
        """Mark a tree by what it says.

        key [a tree in any form]; mistakes [name → a wrong tree, or a Mistake of one; a tree
        equivalent to it is called by that name]; bench [causes of a false cut set → a sentence].
        """
        right = self._key(key)
        tree = _respelt(answer.value, right.used_events)
        shown = tree_text(right)
        foreseen = {name: self._key(wrong) for name, given in mistakes.items()
                    if (wrong := as_mistake(given).value) is not None}
        try:
            return self._compared(answer, tree, right, foreseen, mistakes, bench)
        except InputError as error:  # its logic is too large to be worked out
            return self.decided(answer, 0.0, f"Could not be worked out: {error}.", key=shown)

    def _key(self, value: Any) -> Tree:
        tree = self._tree(value, among(self.events) if self.events else str)
        if self.events and (unknown := set(tree.used_events) - set(self.events)):
            raise InputError(f"{sorted(unknown)[0]!r} in the key of {self.name!r} is not one of "
                             "its events")
        return tree

    def _compared(self, answer: Answer, tree: Tree, right: Tree, foreseen: Mapping[str, Tree],
                  mistakes: Mapping[str, Any], bench: Callable | None) -> Mark:
        difference, shown = compare(right, tree), tree_text(right)
        surplus = _surplus_rows(tree) if self.rows else 0
        if difference is None and not surplus:
            return self.decided(answer, 1.0, "Right.", key=shown)
        verdict = _judged(tree, right, surplus)
        shown += verdict.missing_words
        at_bench = verdict.at_bench(bench)
        if not surplus:
            for name, wrong in foreseen.items():
                if compare(wrong, tree) is None:
                    mark = self.blamed(answer, name, mistakes[name], key=shown)
                    return replace(mark, reason=" ".join([mark.reason, *at_bench]))
        name = NOT_MINIMAL if surplus else _named(tree, right)
        said = [f"Likely mistake: {name}. {_ADVICE[name]}"] if name else []
        said += [*verdict.words(self.rows), *at_bench]
        if difference is not None and not difference.first_says_top:
            said.append(in_words(difference))  # the other way round it would name a missing set
        return self.decided(answer, min(verdict.share, 0.99), " ".join(said), key=shown,
                            mistake=name)


def in_words(difference: Difference) -> str:
    """An example of a case that a tree takes for the top event and the key does not, in words.

    >>> in_words(Difference(("fan 1 open",), False))
    'Example: when only “fan 1 open” happens, the top event does not occur; your tree says it does.'
    """
    named = [f"“{name}”" for name in difference.happening]
    listed = " and ".join(filter(None, (", ".join(named[:-1]), *named[-1:])))
    when = (f"when only {listed} happen{'s' if len(named) == 1 else ''}" if named
            else "when none of the causes happens")
    return f"Example: {when}, the top event does not occur; your tree says it does."


@dataclass(frozen=True)
class _Verdict:
    """How a tree's minimal cut sets stand against the key's."""

    right: int
    wanted: int
    false: tuple[tuple[str, ...], ...]
    false_count: int
    missing: tuple[tuple[str, ...], ...]

    @property
    def share(self) -> float:
        return max(0.0, (self.right - self.false_count) / self.wanted)

    def words(self, rows: bool) -> list[str]:
        what = "rows" if rows else "minimal cut sets"
        said = [f"{self.right} of {self.wanted} {what} right."]
        if self.false_count:
            said.append(f"False: {_listed(self.false, self.false_count)}.")
        if self.missing:
            said.append(_counted(self.missing))
        return said

    @property
    def missing_words(self) -> str:
        """The missing sets by name, to stand with the key."""
        if not self.missing:
            return ""
        return f". Missing: {_listed(self.missing, len(self.missing))}"

    def at_bench(self, bench: Callable[[tuple[str, ...]], str] | None) -> list[str]:
        """What a bench says of the false sets that are named."""
        told = [] if bench is None else [said for one in self.false if (said := bench(one))]
        return [f"At the bench: {' '.join(told)}"] if told else []


def _counted(missing: tuple[tuple[str, ...], ...]) -> str:
    """How many sets are missing, and of how many causes each, but not which.

    >>> _counted((("a",), ("b", "c"), ("b", "d")))
    'Missing: 3 (1 of one cause, 2 of two causes).'
    """
    sizes = sorted(map(len, missing))
    listed = [f"{sizes.count(size)} of {_NUMBERS.get(size, size)} cause{'s' * (size != 1)}"
              for size in dict.fromkeys(sizes)]
    return f"Missing: {len(missing)} ({', '.join(listed)})."


def _listed(sets: Iterable[tuple[str, ...]], count: int) -> str:
    shown = [one_line(" with ".join(f"“{name}”" for name in one) or "nothing at all", 120)
             for one in list(sets)[:MOST_NAMED]]
    more = f"; and {count - len(shown)} more" if count > len(shown) else ""
    return "; ".join(shown) + more


def _judged(tree: Tree, right: Tree, surplus: int) -> _Verdict:
    diagram, (top, key_top) = diagram_of(tree, right)
    if len(diagram.nodes) > MOST_NODES:
        raise InputError("its logic is far larger than this question needs")
    key = CutSets(diagram, key_top)
    own = CutSets(diagram, top)
    wanted = key.smallest(MOST_LISTED)
    found = [one for one in wanted if _is_minimal(diagram, top, one)]
    keys = {frozenset(one) for one in wanted}
    false = [one for one in own.smallest(MOST_LISTED) if frozenset(one) not in keys]
    return _Verdict(len(found), max(len(wanted), 1), tuple(false[:MOST_NAMED]),
                    own.count - len(found) + surplus,
                    tuple(one for one in wanted if one not in found))


def _is_minimal(diagram: Diagram, root: int, names: tuple[str, ...]) -> bool:
    """True for a minimal cut set of a diagram's node."""
    return _occurs(diagram, root, set(names)) and not any(
        _occurs(diagram, root, set(names) - {name}) for name in names)


def _occurs(diagram: Diagram, root: int, happening: set[str]) -> bool:
    while root not in (FALSE, TRUE):
        level, high, low = diagram.nodes[root]
        root = high if diagram.events[level] in happening else low
    return root == TRUE


def _surplus_rows(tree: Tree) -> int:
    """Rows that hold another row, or stand twice."""
    rows = [frozenset(tree.gates[name].inputs) for name in tree.gates[tree.top].inputs]
    return sum(any(other < row for other in rows) or row in rows[:i]
               for i, row in enumerate(rows))


def _respelt(tree: Tree, events: Iterable[str]) -> Tree:
    """The tree with the key's spelling of each cause, where letters and digits agree."""
    names = tuple(events)
    new = {name: find(name, names) or name for name in tree.events}
    if len(set(new.values())) < len(new) or set(new.values()) & set(tree.gates):
        return tree
    gates = {name: replace(gate, inputs=tuple(new.get(i, i) for i in gate.inputs))
             for name, gate in tree.gates.items()}
    return Tree(tree.top, gates, dict.fromkeys(new.values()))


def _named(tree: Tree, right: Tree) -> str:
    """The usual mistake that explains the whole difference, or ""."""
    tries: tuple[tuple[str, Iterator[Tree]], ...] = (
        (ALL_SWAPPED, _all_swapped(tree)), (ONE_SWAPPED, _one_swapped(tree)),
        (MISCOUNTED, _recounted(tree)))
    for name, candidates in tries:
        if any(compare(candidate, right) is None for candidate in candidates):
            return name
    key, own = set(right.used_events), set(tree.used_events)
    if own < key and len(key - own) == 1 and _same_without(right, tree, key - own):
        return LEFT_OUT
    if key < own and _same_without(tree, right, own - key):
        return FOREIGN
    return ""


def _same_without(larger: Tree, smaller: Tree, names: set[str]) -> bool:
    """True when a tree is another one in which some causes never happen."""
    kept = {name: p for name, p in larger.events.items() if name not in names}
    return compare(replace(larger, events=kept, house=dict.fromkeys(names, False)),
                   smaller) is None


def _all_swapped(tree: Tree) -> Iterator[Tree]:
    yield replace(tree, gates={name: _swapped(gate) for name, gate in tree.gates.items()})


def _one_swapped(tree: Tree) -> Iterator[Tree]:
    for name, gate in tree.gates.items():
        if gate.kind != "atleast" and len(gate.inputs) > 1:
            yield replace(tree, gates={**tree.gates, name: _swapped(gate)})


def _swapped(gate: Gate) -> Gate:
    return replace(gate, kind={"or": "and", "and": "or"}.get(gate.kind, gate.kind))


def _recounted(tree: Tree) -> Iterator[Tree]:
    for name, gate in tree.gates.items():
        if len(gate.inputs) > 2:
            for k in range(1, len(gate.inputs) + 1):
                if k != gate.needed:
                    voting = Gate("atleast", gate.inputs, k)
                    yield replace(tree, gates={**tree.gates, name: voting})
