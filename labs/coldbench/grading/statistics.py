"""The few statistics a class report needs, on plain lists of numbers.

Glossary
    share           points earned divided by points possible, 0 to 1; None when not marked yet
    facility        mean share of a question: high means easy
    discrimination  correlation of a question's share with the share on all other questions
    rest            a learner's share on the questions other than the one looked at

Sums use `math.fsum`, so the order of learners never changes a result.

Sources: facility and discrimination as in classical test theory (Lord & Novick, Statistical
Theories of Mental Test Scores, 1968, chapter 15, from memory). Quartiles: Hyndman & Fan, Sample
Quantiles in Statistical Packages, The American Statistician 50 (1996), definition 7.
"""

import math
from collections.abc import Sequence

FEWEST_LEARNERS = 5
WEAK_DISCRIMINATION = 0.2  # common practice: below it a question says little about the rest
HARD, EASY = 0.4, 0.95  # common practice
Share = float | None

DEFINITIONS = {
    "facility": "Mean share of the points earned on the question. Not stated while answers to "
                "it are still to be marked by hand. 0 % means nobody earned a point, 100 % means "
                "everybody earned all.",
    "discrimination": "Correlation (Pearson) between the share earned on the question and the "
                      "share earned on all other questions. Near 1: who is good elsewhere is good "
                      f"here. Below {WEAK_DISCRIMINATION}: the question says little about the rest "
                      "of the lab. Negative: look at its wording and its key. Not stated for fewer "
                      f"than {FEWEST_LEARNERS} learners, or when all earned the same.",
    "quartiles": "A quarter of the learners lie below the lower quartile and a quarter above the "
                 "upper one (linear interpolation between ranks).",
}


def mean(values: Sequence[float]) -> float | None:
    """Mean, or None of nothing.

    >>> mean([1.0, 2.0]), mean([])
    (1.5, None)
    """
    return math.fsum(values) / len(values) if values else None


def facility(shares: Sequence[Share]) -> float | None:
    """Mean share of a question [0 to 1], answers not marked yet left out.

    >>> facility([1.0, 0.5, None, 0.0])
    0.5
    """
    return mean([share for share in shares if share is not None])


def correlation(xs: Sequence[float], ys: Sequence[float]) -> float | None:
    """Pearson's correlation [−1 to 1]; None when one side does not vary.

    r = Σ(x−x̄)(y−ȳ) / √(Σ(x−x̄)² Σ(y−ȳ)²)

    >>> round(correlation([0, 1, 2], [1, 2, 3]), 6)
    1.0
    """
    if len(xs) != len(ys):
        raise ValueError("correlation needs two lists of one length")
    if not xs:
        return None
    dx, dy = (_deviations(values) for values in (xs, ys))
    spread = math.sqrt(math.fsum(d * d for d in dx)) * math.sqrt(math.fsum(d * d for d in dy))
    if spread < 1e-12:
        return None
    product = math.fsum(a * b for a, b in zip(dx, dy, strict=True))
    return max(-1.0, min(1.0, product / spread))


def _deviations(values: Sequence[float]) -> list[float]:
    middle = math.fsum(values) / len(values)
    return [value - middle for value in values]


def rest_share(shares: Sequence[Share], points: Sequence[float], leave_out: int) -> Share:
    """Share of one learner on all marked questions but one.

    shares, points [per question]; leave_out [index]; None when nothing else is marked.

    >>> rest_share([1.0, 0.5, None], [2.0, 2.0, 5.0], leave_out=0)
    0.5
    """
    pairs = enumerate(zip(shares, points, strict=True))
    kept = [(share, weight) for index, (share, weight) in pairs
            if index != leave_out and share is not None]
    possible = math.fsum(weight for _, weight in kept)
    return math.fsum(s * weight for s, weight in kept) / possible if possible > 0 else None


def discrimination(rows: Sequence[Sequence[Share]], points: Sequence[float],
                   question: int) -> float | None:
    """Correlation of one question with the rest [−1 to 1].

    rows [learner × question, shares]; points [per question]; question [index]. None for fewer
    than five learners or when one side does not vary.
    """
    pairs = [(row[question], rest_share(row, points, question)) for row in rows]
    known = [(own, rest) for own, rest in pairs if own is not None and rest is not None]
    if len(known) < FEWEST_LEARNERS:
        return None
    return correlation([own for own, _ in known], [rest for _, rest in known])


def quantile(values: Sequence[float], fraction: float) -> float | None:
    """Quantile with linear interpolation between ranks (definition 7); None of nothing.

    >>> quantile([1.0, 2.0, 3.0, 4.0], 0.25)
    1.75
    """
    if not values:
        return None
    ranked = sorted(values)
    place = fraction * (len(ranked) - 1)
    low = math.floor(place)
    high = min(low + 1, len(ranked) - 1)
    # Written so that equal neighbours give exactly their value back.
    return ranked[low] + (place - low) * (ranked[high] - ranked[low])


def histogram(percents: Sequence[float], bins: int = 10) -> list[int]:
    """Count percentages [0 to 100] in equal bins; 100 belongs to the last.

    >>> histogram([0.0, 9.9, 10.0, 100.0])
    [2, 1, 0, 0, 0, 0, 0, 0, 0, 1]
    """
    counts = [0] * bins
    for percent in percents:
        counts[min(bins - 1, max(0, int(percent * bins / 100)))] += 1
    return counts


def chance_of_at_least(count: int, probabilities: Sequence[float]) -> float:
    """Chance that at least `count` of independent events happen (Poisson binomial).

    probabilities [of each event, 0 to 1].

    >>> chance_of_at_least(1, [0.5, 0.5])
    0.75
    >>> chance_of_at_least(0, [])
    1.0
    """
    exactly = [1.0]
    for p in probabilities:
        without, with_it = [*exactly, 0.0], [0.0, *exactly]
        exactly = [a * (1 - p) + b * p for a, b in zip(without, with_it, strict=True)]
    return min(1.0, math.fsum(exactly[max(count, 0):]))
