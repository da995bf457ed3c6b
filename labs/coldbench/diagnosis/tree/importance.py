"""How much each event matters to the top event.

Several measures carry the same name in different books; `DEFINITIONS` says which is used here,
and is printed with every result.
"""

import math
from dataclasses import dataclass

from coldbench.diagnosis.tree.bdd import FALSE, Diagram
from coldbench.diagnosis.tree.cut_sets import CutSets

DEFINITIONS = {
    "birnbaum": "P(top | event happens) − P(top | event does not happen)",
    "criticality": "Birnbaum · P(event) / P(top)",
    "fussell_vesely": "P(at least one minimal cut set that holds the event happens) / P(top)",
    "raw": "risk achievement worth: P(top | event happens) / P(top)",
    "rrw": "risk reduction worth: P(top) / P(top | event does not happen)",
}


_CANCELS = 1e-4  # below it P(top) − p·Birnbaum is worked out anew


@dataclass(frozen=True)
class Importance:
    """Importance measures of one event [-]; see `DEFINITIONS`. rrw is infinite when without the
    event the top event cannot happen."""

    birnbaum: float
    criticality: float
    fussell_vesely: float
    raw: float
    rrw: float


def birnbaum(diagram: Diagram, top: int, chance: dict[str, float]) -> dict[str, float]:
    """Return Birnbaum's measure of every event, in one pass down the diagram.

    Σ over the nodes of the event of P(come to the node) · (P(high) − P(low)).

    Parameters
    ----------
    diagram : Diagram
        Logic.
    top : int
        Node of the top event.
    chance : dict of str to float
        Probabilities [-].

    Returns
    -------
    dict of str to float
        Measure [-].

    Source: Birnbaum 1969; the pass: Rauzy 1993.

    Examples
    --------
    >>> from coldbench.diagnosis.tree.bdd import diagram_of
    >>> from coldbench.diagnosis.tree.model import tree_from
    >>> tree = tree_from({"top": "t", "gate": {"t": {"kind": "and", "inputs": ["a", "b"]}},
    ...                   "event": {"a": 0.25, "b": 0.5}})
    >>> diagram, (top,) = diagram_of(tree)
    >>> birnbaum(diagram, top, tree.probabilities())
    {'a': 0.5, 'b': 0.25}
    """
    value = diagram.probability(top, chance)
    reach = {top: 1.0}
    found = dict.fromkeys(diagram.events, 0.0)
    for n in reversed(diagram.reachable(top)):
        level, high, low = diagram.nodes[n]
        name, here = diagram.events[level], reach[n]
        found[name] += here * (value[high] - value[low])
        for child, p in ((high, chance[name]), (low, 1.0 - chance[name])):
            reach[child] = reach.get(child, 0.0) + here * p
    return found


def importances(diagram: Diagram, top: int, sets: CutSets,
                chance: dict[str, float]) -> dict[str, Importance]:
    """Return every measure of every event; empty when the top event cannot happen.

    Parameters
    ----------
    diagram : Diagram
        Logic.
    top : int
        Node of the top event.
    sets : CutSets
        Its minimal cut sets.
    chance : dict of str to float
        Probabilities [-].

    Returns
    -------
    dict of str to Importance

    Examples
    --------
    >>> from coldbench.diagnosis.tree.analysis import analyse
    >>> from coldbench.diagnosis.tree.model import tree_from
    >>> tree = tree_from({"top": "t", "gate": {"t": {"kind": "or", "inputs": ["a"]}},
    ...                   "event": {"a": 0.5}})
    >>> analyse(tree).importance["a"].raw
    2.0
    """
    p_top = diagram.probability(top, chance)[top]
    if not p_top > 0.0:
        return {}
    slopes = birnbaum(diagram, top, chance)
    return {name: _measures(diagram, top, sets, chance, name, slope, p_top)
            for name, slope in slopes.items()}


def _measures(diagram: Diagram, top: int, sets: CutSets, chance: dict[str, float], name: str,
              slope: float, p_top: float) -> Importance:
    p = chance[name]
    with_it, without = p_top + (1.0 - p) * slope, p_top - p * slope
    if without < _CANCELS * p_top:  # the difference has lost its digits
        without = diagram.probability(top, chance | {name: 0.0})[top]
    union = sets.union_with(name)
    share = diagram.probability(union, chance)[union] if union != FALSE else 0.0
    return Importance(slope, slope * p / p_top, share / p_top, with_it / p_top,
                      p_top / without if without > 0.0 else math.inf)
