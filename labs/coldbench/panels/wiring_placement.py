"""Where the symbols of a wiring diagram stand: rows from supply to ground, columns by branch.

Rows follow from the nets: what hands current on stands above what takes it. Columns are sought
by a short random search with a fixed start, so that the same file always gives the same
drawing; it keeps branches straight, wires short and symbols apart. A circuit file may fix
places in a table `[layout]`: `K1 = [x, row]`, x in tracks.
"""

import random
from itertools import pairwise

from coldbench.panels.wiring_nets import Symbols
from coldbench.panels.wiring_symbols import SHAPES

LABEL = 8  # tracks kept free on the right of a symbol for its words
_STEP, _MOVES, _TRIES = 2, 8000, 3


def place(symbols: Symbols, fixed: dict[str, tuple[int, int]]) -> dict[str, tuple[int, int]]:
    """Place every part: its id -> (x [tracks], row).

    Parameters
    ----------
    symbols : what to place
    fixed : places from the file, id -> (x [tracks], row)
    """
    rows = _rows(symbols, {name: row for name, (_, row) in fixed.items()})
    held = {name: x for name, (x, _) in fixed.items()}
    across = _columns(symbols, rows, held)
    left = min(x - SHAPES[symbols.kinds[name]].left for name, x in across.items())
    return {name: (x - left, rows[name]) for name, x in across.items()}


def _rows(symbols: Symbols, fixed: dict[str, int]) -> dict[str, int]:
    """Row of each part: below everything that hands it current."""
    givers = _givers(symbols)
    rows: dict[str, int] = {}

    def row(name, above=frozenset()):
        if name not in rows:
            ways = [row(g, above | {name}) + 1 for g in givers[name] if g not in above]
            if name in above:
                return 0
            rows[name] = fixed.get(name, max(ways, default=0))
        return rows[name]

    for name in symbols.kinds:
        row(name)
    kept = {r: k for k, r in enumerate(sorted(set(rows.values())))}
    return {name: kept[r] for name, r in rows.items()}


def _givers(symbols: Symbols) -> dict[str, set[str]]:
    """For each part, the parts whose lower pin lies on the net of one of its upper pins."""
    lower: dict[int, set[str]] = {}
    for name, pins in symbols.pins.items():
        for terminal, (_, y) in pins.items():
            if y > 0:
                lower.setdefault(symbols.nets[f"{name}.{terminal}"], set()).add(name)
    grounded = symbols.nets[symbols.ground]
    return {
        name: {giver for terminal, (_, y) in pins.items() if y < 0
               and (net := symbols.nets[f"{name}.{terminal}"]) != grounded
               for giver in lower.get(net, ()) if giver != name}
        for name, pins in symbols.pins.items()
    }  # fmt: skip


def _columns(symbols: Symbols, rows, held) -> dict[str, int]:
    """Across position of each part [tracks] of the least cost found."""
    cost = _Cost(symbols, rows)
    at = _start(symbols, rows) | held
    loose = [name for name in at if name not in held]
    if not loose:
        return at
    found = [_search(cost, at, loose, rows, random.Random(seed)) for seed in range(_TRIES)]
    return min(found, key=cost)


def _search(cost, at, loose, rows, draw: random.Random) -> dict[str, int]:
    """One search: bold moves at first, small ones later, a worse place taken while hot."""
    best = cost(at)
    for move in range(_MOVES):
        tried = _moved(at, loose, rows, draw, 14 if move < _MOVES / 2 else 4)
        price = cost(tried)
        heat = 3.0 * max(0.0, 1 - move / (0.8 * _MOVES))
        if price <= best + heat * draw.random() ** 2:
            at, best = tried, price
    return at


def _start(symbols: Symbols, rows) -> dict[str, int]:
    """Parts of each row side by side, in the order of the file."""
    ends: dict[int, int] = {}
    at = {}
    for name, kind in symbols.kinds.items():
        shape = SHAPES[kind]
        at[name] = ends.get(rows[name], 0) + shape.left
        at[name] += at[name] % _STEP
        ends[rows[name]] = at[name] + shape.right + LABEL
    return at


def _moved(at, loose, rows, draw: random.Random, reach: int) -> dict[str, int]:
    """One part, a part with its column, or two parts of a row, moved."""
    name = draw.choice(loose)
    tried = dict(at)
    how = draw.random()
    shift = _STEP * draw.randint(-reach, reach)
    if how < 0.5:
        tried[name] += shift
    elif how < 0.75:
        for other in loose:
            if at[other] == at[name]:
                tried[other] += shift
    elif how < 0.9:
        other = draw.choice(loose)
        if rows[other] == rows[name]:
            tried[name], tried[other] = at[other], at[name]
    else:
        for other in loose:
            if at[other] >= at[name]:
                tried[other] += shift
    return tried


def _bar_row(pins, spliced: bool) -> float | None:
    """Height [rows] at which the bar of a spliced net will lie."""
    if not spliced:
        return None
    fed = [y for _, _, y, below in pins if not below]
    return min(fed) if fed else max(y for _, _, y, _ in pins)


class _Cost:
    """How poor a placement is: overlaps, wires that wander, wires behind symbols, width."""

    def __init__(self, symbols: Symbols, rows):
        self._rows = rows
        self._bodies = {name: (SHAPES[kind].left, SHAPES[kind].right)
                        for name, kind in symbols.kinds.items()}  # fmt: skip
        self._in_row: dict[int, list[str]] = {}
        for name, row in rows.items():
            self._in_row.setdefault(row, []).append(name)
        self._alike = [(a, b) for (a, one), (b, other) in pairwise(sorted(
            symbols.kinds.items(), key=lambda part: part[1])) if one == other
            and rows[a] == rows[b]]  # fmt: skip
        self._sources = [n for n, kind in symbols.kinds.items() if kind == "source"]
        grounded = symbols.nets[symbols.ground]
        nets: dict[int, list[tuple[str, int, float, bool]]] = {}
        for name, pins in symbols.pins.items():
            for terminal, (x, y) in pins.items():
                net = symbols.nets[f"{name}.{terminal}"]
                nets.setdefault(net, []).append((name, x, rows[name] + (0.5 if y > 0 else -0.5), y > 0))
        self._drops = nets.pop(grounded, [])
        spliced = {symbols.nets[splice] for splice in symbols.splices}
        self._nets = [(sorted(net, key=lambda pin: pin[2]), _bar_row(net, n in spliced))
                      for n, net in nets.items() if len(net) > 1]  # fmt: skip

    def __call__(self, at: dict[str, int]) -> float:
        left = min(at.values())
        width = max(at.values()) - left
        price = self._overlaps(at) + 0.35 * width
        price += sum(1.5 for one, other in self._alike if at[one] > at[other])
        price += sum(0.8 * (at[name] - left) for name in self._sources)
        for net, bar in self._nets:
            xs = [at[name] + x for name, x, *_ in net]
            price += (max(xs) - min(xs)) + 4.0 * (len(set(xs)) - 1)
            if bar is not None:
                price += sum(self._behind(at, at[name] + x, min(y, bar), max(y, bar))
                             for name, x, y, _ in net)  # fmt: skip
                continue
            for (n1, x1, y1, _), (n2, x2, y2, _) in pairwise(net):
                price += min(self._behind(at, at[n1] + x1, y1, y2),
                             self._behind(at, at[n2] + x2, y1, y2))  # fmt: skip
        lowest = max(self._rows.values()) + 1
        for name, x, y, _ in self._drops:
            price += 1.5 * self._behind(at, at[name] + x, y, lowest)
        return price

    def _overlaps(self, at) -> float:
        price = 0.0
        for names in self._in_row.values():
            order = sorted(names, key=at.__getitem__)
            for one, other in pairwise(order):
                gap = (at[other] - self._bodies[other][0]) - (
                    at[one] + self._bodies[one][1] + LABEL)  # fmt: skip
                price += max(0, -gap) * 6
        return price

    def _behind(self, at, x: int, top: float, bottom: float) -> float:
        """Cost of a straight way down at x from `top` to `bottom` [rows]."""
        price = 0.0
        for row in range(int(top + 1), int(bottom + 0.5)):
            for name in self._in_row.get(row, ()):
                left, right = self._bodies[name]
                if at[name] - left - 1 <= x <= at[name] + right + 1:
                    price += 14
                elif at[name] <= x <= at[name] + right + LABEL:
                    price += 8
        return price
