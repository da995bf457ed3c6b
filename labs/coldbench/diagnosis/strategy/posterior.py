"""What a reading says about the suspects: Bayes' rule, and how uncertain we still are."""

import math
from collections.abc import Mapping, Sequence

from coldbench.errors import InputError


def posterior(prior: Mapping[str, float], likelihood: Mapping[str, float]) -> dict[str, float]:
    """Return the probability of each suspect after a reading.

    P(fault | reading) = P(fault) · P(reading | fault) / sum over all faults.

    Parameters
    ----------
    prior : mapping of str to float
        Probability before [-].
    likelihood : mapping of str to float
        Chance of this reading under each fault, or its density [any unit, the same for all].

    Returns
    -------
    dict of str to float
        Probability after, sums to one [-].

    Raises
    ------
    InputError
        If a likelihood is missing or negative, or no suspect could have given the reading.

    Source: Bayes' rule.

    Examples
    --------
    >>> posterior({"fuse": 0.5, "relay": 0.5}, {"fuse": 0.9, "relay": 0.1})
    {'fuse': 0.9, 'relay': 0.1}
    """
    for fault in prior:
        if not likelihood.get(fault, -1.0) >= 0.0:
            raise InputError(f"likelihood of {fault!r} is missing or not 0 or more")
    joint = {fault: p * likelihood[fault] for fault, p in prior.items()}
    total = math.fsum(joint.values())
    if not 0.0 < total < math.inf:
        raise InputError("no suspect could have given this reading; look again at the suspects "
                         "or repeat the measurement")
    return {fault: value / total for fault, value in joint.items()}


def entropy(probabilities: Sequence[float]) -> float:
    """Return the uncertainty left among suspects.

    H = −Σ p·log2 p, of the probabilities relative to their sum.

    Parameters
    ----------
    probabilities : sequence of float
        Each 0 or more [-].

    Returns
    -------
    float
        Entropy [bit]; 0 when one suspect is certain.

    Source: Shannon, A Mathematical Theory of Communication, 1948.

    Examples
    --------
    >>> entropy([0.25, 0.25, 0.25, 0.25])
    2.0
    """
    total = math.fsum(probabilities)
    if total <= 0.0:
        return 0.0
    shares = [p / total for p in probabilities if p > 0.0]
    return abs(math.fsum(-p * math.log2(p) for p in shares))
