"""The p/c rule: in which order to inspect parts one by one.

Source: Kadane & Simon, 1977; Heckerman, Breese & Rommelse, Decision-theoretic troubleshooting,
1995: with one fault and inspections that each find one part and never err, the order of falling
probability per cost has the least expected cost.
"""

import math
from collections.abc import Mapping, Sequence

from coldbench.errors import InputError


def inspection_order(probability: Mapping[str, float], cost: Mapping[str, float]) -> list[str]:
    """Return the parts in the order of falling probability per cost.

    Parameters
    ----------
    probability : mapping of str to float
        Chance that the part is the faulty one [-].
    cost : mapping of str to float
        Cost of inspecting it [minutes, above 0].

    Returns
    -------
    list of str

    Raises
    ------
    InputError
        If a cost is missing or not above 0, or a probability outside 0 to 1.

    Source: Kadane & Simon 1977; Heckerman, Breese & Rommelse 1995.

    Examples
    --------
    >>> inspection_order({"1": 0.5, "2": 0.3, "3": 0.2}, {"1": 10, "2": 3, "3": 1})
    ['3', '2', '1']
    """
    _check(probability, cost)
    return sorted(probability, key=lambda part: -probability[part] / cost[part])


def expected_inspection_cost(order: Sequence[str], probability: Mapping[str, float],
                             cost: Mapping[str, float]) -> float:
    """Return the expected cost of inspecting parts in an order until the fault is found.

    Σ over parts of p(part) · (costs of the parts up to and including it).

    Parameters
    ----------
    order : sequence of str
        Every part once.
    probability, cost : mapping of str to float
        As for `inspection_order`.

    Returns
    -------
    float
        Expected cost [the unit of cost].

    Examples
    --------
    >>> round(expected_inspection_cost(["3", "2", "1"], {"1": 0.5, "2": 0.3, "3": 0.2},
    ...                                {"1": 10, "2": 3, "3": 1}), 3)
    8.4
    """
    _check(probability, cost)
    if sorted(order) != sorted(probability):
        raise InputError("order must name every part once: " + ", ".join(probability))
    paid, terms = 0.0, []
    for part in order:
        paid += cost[part]
        terms.append(probability[part] * paid)
    return math.fsum(terms)


def _check(probability: Mapping[str, float], cost: Mapping[str, float]) -> None:
    for part, chance in probability.items():
        if not 0.0 <= chance <= 1.0:
            raise InputError(f"probability of {part!r} is {chance!r}; accepted: 0 to 1")
        if not 0.0 < cost.get(part, -1.0) < math.inf:
            raise InputError(f"cost of {part!r} must be a number above 0")
