"""Writes `orders.json`: chances and minutes for the questions on rank and on the first test.

Run it as `python source/fault-trees/__make_orders__.py`. It keeps to numbers for which the
questions have clear answers that can be checked by hand:

clutches     chances of the clutch tree [%: one cause, first and second of two, each of three]; the
             group whose causes matter most stands out
chains       four parts in a row, one of them open, three points between them to measure at. The
             best order of tests begins elsewhere than the greedy one and costs clearly less.
inspections  four parts to look at one by one, and the order of chance per minute is neither the
             order of chance nor that of minutes.
"""

import itertools
import json
from pathlib import Path

from coldbench.diagnosis.strategy import (
    expected_cost,
    expected_inspection_cost,
    inspection_order,
    plan,
    problem_from,
)
from coldbench.diagnosis.strategy.greedy import information_gain

STEP = 0.05
PARTS, POINTS = "ABCD", "123"
KEPT = 90


def shares(count: int) -> list[tuple[int, ...]]:
    """Every way to part 20 steps of 5 % among `count` parts, each 10 to 50 %."""
    return [s for s in itertools.product(range(2, 11), repeat=count) if sum(s) == 20]


def chain(chances, minutes):
    """Four parts in a row: a point says whether the break lies before it or behind it."""
    return problem_from({
        "faults": {part: STEP * k for part, k in zip(PARTS, chances, strict=True)},
        "tests": {point: {"cost": cost, "outcomes": {
            part: "before" if j <= i else "behind" for j, part in enumerate(PARTS)}}
            for i, (point, cost) in enumerate(zip(POINTS, minutes, strict=True))}})


def clear_chain(chances, minutes) -> bool:
    """True where greedy and best begin elsewhere, and both are clear by a margin."""
    problem = chain(chances, minutes)
    worth = sorted((information_gain(problem, test, problem.everyone) / test.cost
                    for test in problem.tests), reverse=True)
    if worth[0] < 1.08 * worth[1]:
        return False
    made = plan(problem)
    return (made.strategy.test.name != made.greedy.test.name
            and made.greedy_expected_cost >= 1.05 * made.expected_cost
            and second_best(problem) >= 1.03 * made.expected_cost)


def second_best(problem) -> float:
    """Least cost of the strategies that begin with another test than the best one."""
    best = plan(problem).strategy.test.name
    return min(begin_with(problem, test) for test in problem.tests if test.name != best)


def begin_with(problem, test) -> float:
    """Expected cost of one test first and the best order after it."""
    rest = sum(problem.probability(left) * expected_cost(problem, plan(problem, left).strategy)
               for _, left in test.split(problem.everyone))
    return test.cost + rest


def clear_inspections(chances, minutes) -> bool:
    """True where the rule of chance per minute gives an order of its own, by a margin."""
    p = dict(zip(PARTS, (STEP * k for k in chances), strict=True))
    c = dict(zip(PARTS, minutes, strict=True))
    ranks = sorted((p[part] / c[part] for part in PARTS), reverse=True)
    if any(a < 1.12 * b for a, b in itertools.pairwise(ranks)) or len(set(chances)) < 4:
        return False
    order = inspection_order(p, c)
    cost = expected_inspection_cost(order, p, c)
    others = (sorted(PARTS, key=lambda part: -p[part]), sorted(PARTS, key=lambda part: c[part]),
              order[::-1])
    return len(set(minutes)) == 4 and all(
        expected_inspection_cost(other, p, c) > 1.06 * cost for other in others)


def clear_clutch(single, first, second, each) -> bool:
    """True where one group of causes has the greatest criticality by a margin."""
    s, p, q, v = (percent / 100 for percent in (single, first, second, each))
    pair, vote = p * q, 3 * v**2 - 2 * v**3
    worth = sorted((s * (1 - pair) * (1 - vote), pair * (1 - s) * (1 - vote),
                    v * 2 * v * (1 - v) * (1 - s) * (1 - pair)))
    return worth[-1] >= 1.15 * worth[-2]


def spread(found: list) -> list:
    """An even choice of at most KEPT."""
    step = max(1, len(found) // KEPT)
    return found[::step][:KEPT]


def main() -> None:
    chains = [{"percent": [5 * k for k in s], "minutes": list(m)} for s in shares(4)
              for m in itertools.product((2, 3, 5, 8, 12), repeat=3)
              if clear_quick(s, m) and clear_chain(s, m)]
    inspections = [{"percent": [5 * k for k in s], "minutes": list(m)} for s in shares(4)
                   for m in itertools.permutations((2, 3, 5, 8, 12), 4)
                   if clear_inspections(s, m)]
    clutches = [list(c) for c in itertools.product(
        range(6, 15), range(20, 29, 2), range(32, 45, 2), range(14, 27)) if clear_clutch(*c)]
    print(len(clutches), "clutches,", len(chains), "chains,", len(inspections), "inspections")
    made = {"chains": spread(chains), "inspections": spread(inspections),
            "clutches": spread(clutches)}
    rows = {name: ",\n  ".join(json.dumps(one) for one in ones) for name, ones in made.items()}
    text = ",\n".join(f' "{name}": [\n  {lines}\n ]' for name, lines in rows.items())
    Path(__file__).with_name("orders.json").write_text(f"{{\n{text}\n}}\n", "utf-8")


def clear_quick(chances, minutes) -> bool:
    """A cheap look first: costs of the five orders by hand, so that most cases need no more."""
    p, (c1, c2, c3) = [STEP * k for k in chances], minutes
    costs = {"2": c2 + (p[0] + p[1]) * c1 + (p[2] + p[3]) * c3,
             "1": c1 + min(sum(p[1:]) * c2 + (p[2] + p[3]) * c3,
                           sum(p[1:]) * c3 + (p[1] + p[2]) * c2),
             "3": c3 + min(sum(p[:3]) * c2 + (p[0] + p[1]) * c1,
                           sum(p[:3]) * c1 + (p[1] + p[2]) * c2)}
    ranked = sorted(costs.values())
    return ranked[1] >= 1.03 * ranked[0]


if __name__ == "__main__":
    main()
