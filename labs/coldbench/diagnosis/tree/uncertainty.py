"""How uncertain the top event's probability is when those of the events are uncertain.

Each probability is drawn log-normally with its value as median and an error factor
EF = 95th percentile / median; the sampling is seeded, so it can be repeated.

Source: Fault Tree Handbook, NUREG-0492, 1981 (log-normal distributions and error factors).
"""

import math
from dataclasses import dataclass

from coldbench.diagnosis.tree.bdd import TRUE, diagram_of
from coldbench.diagnosis.tree.model import Tree
from coldbench.errors import InputError

_95th = 1.6448536269514722  # 95th percentile of the standard normal distribution
MOST_SAMPLES = 200_000


@dataclass(frozen=True)
class Spread:
    """Mean and percentiles of the top event's probability [-]."""

    mean: float
    percentile_5: float
    median: float
    percentile_95: float
    samples: int


def spread(tree: Tree, error_factor: float = 3.0, samples: int = 10_000, seed: int = 1) -> Spread:
    """Return the spread of the top event's probability.

    Parameters
    ----------
    tree : Tree
        Tree with probabilities.
    error_factor : float
        95th percentile over median of every event, 1 to 100 [-].
    samples : int
        100 to 200000.
    seed : int
        Seed of the random numbers.

    Returns
    -------
    Spread

    Raises
    ------
    InputError
        If an argument is outside its range or a probability is missing.

    Source: NUREG-0492, 1981.

    Examples
    --------
    >>> from coldbench.diagnosis.tree.model import tree_from
    >>> tree = tree_from({"top": "t", "gate": {"t": {"kind": "or", "inputs": ["a"]}},
    ...                   "event": {"a": 0.001}})
    >>> 0.0029 < spread(tree).percentile_95 < 0.0031
    True
    """
    import numpy

    if not 1.0 <= error_factor <= 100.0:
        raise InputError(f"error_factor is {error_factor!r}; accepted: 1 to 100")
    if not 100 <= samples <= MOST_SAMPLES:
        raise InputError(f"samples is {samples!r}; accepted: 100 to {MOST_SAMPLES}")
    sigma = math.log(error_factor) / _95th
    random = numpy.random.default_rng(seed)
    chance = {name: numpy.minimum(1.0, p * numpy.exp(sigma * random.standard_normal(samples)))
              for name, p in tree.probabilities().items()}
    diagram, (top,) = diagram_of(tree)
    drawn = (numpy.full(samples, float(top)) if top <= TRUE
             else diagram.probability(top, chance)[top])
    low, middle, high = numpy.percentile(drawn, (5, 50, 95))
    return Spread(float(drawn.mean()), float(low), float(middle), float(high), samples)
