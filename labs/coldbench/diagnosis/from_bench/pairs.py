"""Which pairs of faults are worth trying at the bench, when neither shows the complaint alone.

Trying every pair of some hundred faults would take hours, so only pairs that plausibly combine
are tried. Faults that look the same from outside (gauges, pipes, vents, air flows, doors, fans,
clutch) form a class, and one pair stands for two classes at first. Tried are, in this order and the
likeliest of each first:

1. two classes whose changes of the complaint's readings, added up, would show the complaint, and
   two that stop different fans, of which one may stand in for the other;
2. two classes that each move a reading the complaint looks at;
3. two classes that move the same of the outside readings, or of which one moves a reading of the
   complaint;
4. classes of which one is not seen from outside, where both move the same test point or current:
   parts that share a circuit, as a part and the one that stands in for it do.

Where one pair of two classes shows the complaint, the other pairs of their members are tried too.
A fault that no instrument shows by itself is in no pair.
"""

import itertools
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from coldbench.bench import BenchFault
from coldbench.diagnosis.from_bench.complaint import Complaint
from coldbench.diagnosis.from_bench.table import Row, Shown, ShownTable, changed_keys

BOUND = ("Pairs are tried in this order: two faults whose changes of the complaint's readings add "
         "up to it, or that stop different fans; that both move such a reading; that move the "
         "same gauge, pipe, vent, air flow, door or clutch, or of which one moves a reading of "
         "the complaint; that move the same test point or current. One pair for each two classes "
         "of faults alike from outside, the likeliest first, then their other members.")
_OUTSIDE = ("gauge ", "pipe ", "vent ", "door ", "fan ")
_INSIDE = ("tp ", "current ")


def is_outside(key: str) -> bool:
    """Say whether a reading shows what the bench does, rather than how its wiring is.

    >>> is_outside("gauge high"), is_outside("tp 12")
    (True, False)
    """
    return key.startswith(_OUTSIDE) or key.endswith(" flow") or key in ("clutch", "cycling", "blower")


@dataclass(frozen=True)
class Alike:
    """Faults that look the same: members [likeliest first], moved [keys that they change], row
    [what the bench shows under the likeliest], stopped [fans that stand still].
    """

    members: tuple[BenchFault, ...]
    moved: frozenset[str]
    row: Row
    stopped: frozenset[str]
    outside: bool
    weight: float


def alike(faults: Sequence[BenchFault], weights: Sequence[float], table: ShownTable, state: str,
          healthy: Row, fans: Iterable[str] = ()) -> list[Alike]:
    """Return the classes of faults that look the same, without those that nothing shows.

    Parameters
    ----------
    faults : sequence of BenchFault
        Faults, each with a row in the table.
    weights : sequence of float
        How likely each is.
    table : ShownTable
        Rows.
    state : str
        State the complaint is noticed in.
    healthy : dict
        Row of the healthy bench.
    fans : iterable of str
        Motors that may stand in for each other.

    Returns
    -------
    list of Alike
    """
    rows = [table.rows[state, (one.id,)] for one in faults]
    moved = [frozenset(changed_keys(healthy, row)) for row in rows]
    outside = [n for n, keys in enumerate(moved) if any(map(is_outside, keys))]
    inside = [n for n, keys in enumerate(moved)
              if n not in set(outside) and any(key.startswith(_INSIDE) for key in keys)]
    found = []
    for places, wanted in ((outside, is_outside), (inside, lambda key: key.startswith(_INSIDE))):
        for members in _same([rows[n] for n in places], places, wanted, weights):
            found.append(Alike(tuple(faults[n] for n in members), moved[members[0]],
                               rows[members[0]], _stopped(rows[members[0]], healthy, fans),
                               wanted is is_outside, weights[members[0]]))
    return found


def _stopped(row: Row, healthy: Row, fans: Iterable[str]) -> frozenset[str]:
    """Fans that draw current in the healthy bench, and none now."""
    def draws(one: Row, motor: str) -> bool:
        value, around = one.get(f"current {motor}", (0.0, 0.0))
        return abs(value) > around

    return frozenset(one for one in fans if draws(healthy, one) and not draws(row, one))


def _same(rows: list[Row], places: list[int], wanted: Callable[[str], bool],
          weights: Sequence[float]) -> list[list[int]]:
    """Places of rows that no wanted reading tells from that of the likeliest among them."""
    own = {place: {key: one for key, one in row.items() if wanted(key)}
           for place, row in zip(places, rows, strict=True)}
    groups: list[list[int]] = []
    for place in sorted(places, key=lambda n: -weights[n]):
        for group in groups:
            if next(changed_keys(own[group[0]], own[place]), None) is None:
                group.append(place)
                break
        else:
            groups.append([place])
    return groups


def candidate_pairs(found: Sequence[Alike], complaint: Complaint, healthy: Shown,
                    ) -> list[tuple[Alike, Alike]]:
    """Return the pairs of classes worth trying, in the order in which to try them.

    Parameters
    ----------
    found : sequence of Alike
        Classes.
    complaint : Complaint
        Its readings; where they are not known, every outside reading counts as one.
    healthy : Shown
        What the healthy bench shows.

    Returns
    -------
    list of (Alike, Alike)
        Also pairs of a class with itself, where it has two members or more.
    """
    ranked = []
    for a, b in itertools.combinations_with_replacement(found, 2):
        if a is b and len(a.members) < 2:
            continue
        rank = 1 if _adds_up(a, b, complaint, healthy) else _rank(a, b, complaint.readings)
        if rank:
            ranked.append((rank, -a.weight * b.weight, len(ranked), (a, b)))
    return [pair for *_, pair in sorted(ranked, key=lambda row: row[:3])]


def _adds_up(a: Alike, b: Alike, complaint: Complaint, healthy: Shown) -> bool:
    """Whether two classes stop different fans, or their changes add up to the complaint."""
    if a.stopped - b.stopped and b.stopped - a.stopped:
        return True
    values = dict(healthy.values)
    for key in set(complaint.readings or filter(is_outside, values)) & set(values):
        base = values[key].value
        change = sum(one.row[key][0] - base for one in (a, b) if key in one.row)
        values[key] = values[key]._replace(value=base + change)
    return complaint.shows(Shown(healthy.state, (), values))


def _rank(a: Alike, b: Alike, readings: tuple[str, ...]) -> int:
    """2 to 4 as at the top of this module, 0 where two classes do not plausibly combine."""
    def touches(one: Alike) -> bool:
        return any(key in readings if readings else is_outside(key) for key in one.moved)

    if touches(a) and touches(b):
        return 2
    common = a.moved & b.moved
    if a.outside and b.outside and (touches(a) or touches(b) or any(map(is_outside, common))):
        return 3
    return 4 if any(key.startswith(_INSIDE) for key in common) else 0


def member_pairs(a: Alike, b: Alike) -> list[tuple[str, str]]:
    """Return the pairs of fault ids of two classes; two faults of one part that exclude each
    other, such as open and shorted, are no pair.
    """
    pairs = itertools.combinations(a.members, 2) if a is b else itertools.product(
        a.members, b.members)
    return [(one.id, other.id) for one, other in pairs if one.part != other.part
            or one.family == "refrigerant"]
