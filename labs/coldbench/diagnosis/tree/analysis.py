"""Everything there is to say about one fault tree: cut sets, probability, importance."""

from dataclasses import dataclass

from coldbench.diagnosis.tree.bdd import TRUE, diagram_of
from coldbench.diagnosis.tree.cut_sets import CutSets
from coldbench.diagnosis.tree.importance import Importance, importances
from coldbench.diagnosis.tree.model import Tree

SHOWN_SETS = 1000


@dataclass(frozen=True)
class Analysis:
    """Result of a fault tree's analysis.

    top_probability [-, exact]; rare_event_bound [-, sum over minimal cut sets, ≥ exact]; both
    None when an event has no probability; minimal_cut_sets [smallest first, up to a limit].
    """

    tree: Tree
    minimal_cut_set_count: int
    minimal_cut_sets: tuple[tuple[str, ...], ...]
    top_probability: float | None
    rare_event_bound: float | None
    importance: dict[str, Importance]


def analyse(tree: Tree, limit: int = SHOWN_SETS) -> Analysis:
    """Analyse a fault tree.

    Parameters
    ----------
    tree : Tree
        Tree.
    limit : int
        Minimal cut sets to list.

    Returns
    -------
    Analysis

    Raises
    ------
    InputError
        If its logic is too large.

    Source: IEC 61025:2006.

    Examples
    --------
    >>> from coldbench.diagnosis.tree.model import tree_from
    >>> tree = tree_from({"top": "t", "gate": {"t": {"kind": "or", "inputs": ["a", "b"]}},
    ...                   "event": {"a": 0.5, "b": 0.5}})
    >>> found = analyse(tree)
    >>> found.top_probability, found.rare_event_bound, found.minimal_cut_sets
    (0.75, 1.0, (('a',), ('b',)))
    """
    diagram, (top,) = diagram_of(tree)
    sets = CutSets(diagram, top)
    listed = tuple(sets.smallest(limit))
    if any(tree.events[name] is None for name in tree.used_events):
        return Analysis(tree, sets.count, listed, None, None, {})
    chance = tree.probabilities()
    exact = float(top) if top <= TRUE else diagram.probability(top, chance)[top]
    return Analysis(tree, sets.count, listed, exact, sets.rare_event_bound(chance),
                    importances(diagram, top, sets, chance))
