"""The layout of a wiring diagram: every symbol, bar and wire of a circuit on one grid.

A *bar* is a node that several wires meet on: a splice, the ground post, a crowded terminal.
It is drawn as a horizontal line, so that every wire keeps a place, a number and a size of
its own. The ground bar lies at the bottom; the splice nearest the supply comes out on top.
"""

from collections import Counter
from dataclasses import dataclass, replace

from coldbench.panels.wiring_nets import Symbols, symbols_of
from coldbench.panels.wiring_placement import LABEL, place
from coldbench.panels.wiring_routing import Point, Router
from coldbench.panels.wiring_symbols import SHAPES

_ROW = 6  # tracks from the upper to the lower pins of a row
_CHANNEL = 3  # least tracks between the pins of two rows
_EDGE = 4  # tracks around everything
_CROWD = 3  # wires on a terminal from which on it gets a bar


@dataclass(frozen=True)
class Layout:
    """Where everything lies [tracks].

    parts : id -> centre
    pins : "part.terminal" -> place of the pin
    bars : node -> (left, right, y)
    wires : id -> corner points
    leads : lines that join a crowded terminal to its bar
    forced : wires for which the rules of routing had to be waived
    """

    symbols: Symbols
    width: int
    height: int
    parts: dict[str, Point]
    pins: dict[str, Point]
    bars: dict[str, tuple[int, int, int]]
    wires: dict[str, list[Point]]
    leads: tuple[list[Point], ...]
    forced: tuple[str, ...]


def lay_out(circuit) -> Layout:
    """The layout of a circuit; places fixed in its file are kept."""
    symbols = symbols_of(circuit)
    spots = place(symbols, circuit.layout)
    rows = {name: row for name, (_, row) in spots.items()}
    across = {f"{name}.{t}": spots[name][0] + _EDGE + x
              for name, pins in symbols.pins.items() for t, (x, _) in pins.items()}  # fmt: skip
    bars = _bars(symbols, rows, across)
    tops, height = _heights(symbols, rows, across, bars)
    parts = {name: (x + _EDGE, tops[row] + _ROW // 2) for name, (x, row) in spots.items()}
    pins = {f"{name}.{t}": (parts[name][0] + x, parts[name][1] + y)
            for name, own in symbols.pins.items() for t, (x, y) in own.items()}  # fmt: skip
    width = _EDGE + LABEL + max(
        x + SHAPES[symbols.kinds[name]].right for name, (x, _) in parts.items())  # fmt: skip
    lines = _bar_lines(bars, tops, height)
    return _routed(symbols, width, height, parts, pins, lines)


def moved(plan: Layout, shift: int, width: int) -> Layout:
    """The same layout, moved to the right by `shift` and `width` wide [tracks]."""

    def over(points):
        return [(x + shift, y) for x, y in points]

    def all_over(places):
        return {name: (x + shift, y) for name, (x, y) in places.items()}

    bars = {node: (left + shift, right + shift, y) for node, (left, right, y) in plan.bars.items()}
    return replace(plan, width=width, parts=all_over(plan.parts), pins=all_over(plan.pins),
                   bars=bars, wires={name: over(points) for name, points in plan.wires.items()},
                   leads=tuple(map(over, plan.leads)))  # fmt: skip


def _bars(symbols: Symbols, rows, across) -> dict[str, tuple[int, int, int, int]]:
    """Bars: node -> (left, right, channel, number of its line in the channel)."""
    degree = Counter(node for ends in symbols.wires.values() for node in ends)
    crowded = {n for n, count in degree.items() if "." in n and count >= _CROWD}
    nodes = [*symbols.splices, *sorted(crowded - {symbols.ground})]
    last = max(rows.values()) + 1
    spans = {}
    for node in nodes:
        pins = _met(symbols, node, across)
        grounded = symbols.nets[node] == symbols.nets[symbols.ground]
        channel = last if grounded else _channel(symbols, rows, pins, last)
        xs = [across[pin] for pin in pins]
        spans[node] = (min(xs, default=2), max(xs, default=2), channel)
    return _lines(spans, _steps_to_ground(symbols))


def _steps_to_ground(symbols: Symbols) -> dict[str, int]:
    """Wires between a node and the ground post, for the nodes of its net."""
    steps, near = {symbols.ground: 0}, [symbols.ground]
    for node in near:
        for ends in symbols.wires.values():
            for other in ends:
                if node in ends and other not in steps:
                    steps[other] = steps[node] + 1
                    near.append(other)
    return steps


def _met(symbols: Symbols, node: str, across) -> list[str]:
    """Pins that wires join to a node, or, where there are none, those of its whole net."""
    near = {other for ends in symbols.wires.values() if node in ends for other in ends}
    pins = sorted(near & set(across))
    pins = [pin for pin in pins if pin != symbols.ground]
    return pins or [p for p in across if symbols.nets[p] == symbols.nets[node]
                    and p != symbols.ground]  # fmt: skip


def _channel(symbols: Symbols, rows, pins, last: int) -> int:
    """The channel of a bar: just above what it feeds, else just below what ends on it."""
    upper, lower = [], []
    for pin in pins:
        name, terminal = pin.split(".")
        below = symbols.pins[name][terminal][1] > 0
        (lower if below else upper).append(rows[name] + below)
    return min(upper) if upper else max(lower, default=last)


def _lines(spans, steps) -> dict[str, tuple[int, int, int, int]]:
    """Give bars of one channel lines of their own where they would meet; ground comes last."""
    placed: dict[str, tuple[int, int, int, int]] = {}
    for node, (left, right, channel) in sorted(
            spans.items(), key=lambda s: (-steps.get(s[0], 0), s[1][0], s[0])):  # fmt: skip
        taken = {line for low, high, other, line in placed.values()
                 if other == channel and low <= right + 8 and left - 8 <= high}  # fmt: skip
        line = max(taken, default=-1) + 1
        placed[node] = (left, right, channel, line)
    return placed


def _heights(symbols: Symbols, rows, across, bars) -> tuple[dict[int, int], int]:
    """Top of each row [tracks], and the height of the whole."""
    bent = Counter()
    for start, end in symbols.wires.values():
        if start in across and end in across and across[start] != across[end]:
            bent[_channel(symbols, rows, [start, end], max(rows.values()) + 1)] += 1
    lines = Counter()
    for _, _, channel, line in bars.values():
        lines[channel] = max(lines[channel], line + 1)
    tops, y = {}, 0
    for row in range(max(rows.values()) + 1):
        y += _EDGE if row == 0 and not lines[0] + bent[0] else _CHANNEL
        y += 2 * lines[row] + min(4, bent[row])
        tops[row] = y
        y += _ROW
    last = max(rows.values()) + 1
    return tops, y + _CHANNEL + 3 * lines[last] + min(4, bent[last]) + 4


def _bar_lines(bars, tops, height) -> dict[str, tuple[int, int, int]]:
    """Left, right and y of each bar; in the last channel they count from the row above."""
    last = len(tops)
    floor = {row: tops[row] - 3 for row in tops}
    ceiling = tops[last - 1] + _ROW + 3
    return {
        node: (left, right, (floor[channel] - 2 * line) if channel < last else ceiling + 3 * line)
        for node, (left, right, channel, line) in bars.items()
    }


def _routed(symbols: Symbols, width, height, parts, pins, bars) -> Layout:
    router = Router(width, height)
    for name, (x, y) in parts.items():
        shape = SHAPES[symbols.kinds[name]]
        router.block(x - shape.left, y - 2, x + shape.right, y + 2)
        router.soften(x + shape.right + 1, y - 2, x + shape.right + LABEL, y + 2)
    bars = {node: (max(1, left - 3), min(width - 1, right + 3), y)
            for node, (left, right, y) in bars.items()}  # fmt: skip
    bars = {**bars, symbols.ground: (2, width - 2, height - 4)}
    for left, right, y in bars.values():
        router.bar(left, right, y)
    for x, y in pins.values():
        router.block(x, y, x, y)
    places = {node: {at} for node, at in pins.items()} | {
        node: {(x, y) for x in range(left, right + 1)} for node, (left, right, y) in bars.items()
    }
    leads = tuple(router.route(node, {pins[node]}, places[node])
                  for node in sorted(bars) if node in pins)  # fmt: skip
    wires = {}
    for name in _order(symbols, places):
        start, end = symbols.wires[name]
        wires[name] = router.route(name, places[start], places[end])
    return Layout(symbols, width, height, parts, pins, _trimmed(bars, wires, leads, symbols),
                  wires, leads, tuple(router.forced))  # fmt: skip


def _order(symbols: Symbols, places) -> list[str]:
    """Straight wires first, then the short ones."""

    def length(name):
        one, other = (places[node] for node in symbols.wires[name])
        xs = min(abs(a[0] - b[0]) for a in one for b in other)
        ys = min(abs(a[1] - b[1]) for a in one for b in other)
        return xs > 0, xs + ys, name

    return sorted(symbols.wires, key=length)


def _trimmed(bars, wires, leads, symbols: Symbols) -> dict[str, tuple[int, int, int]]:
    """Bars as long as their wires need."""
    met: dict[str, list[int]] = {node: [] for node in bars}
    for name, ends in symbols.wires.items():
        for node, point in ((ends[0], wires[name][0]), (ends[1], wires[name][-1])):
            if node in met:
                met[node].append(point[0])
    for points in leads:
        for left, right, y in bars.values():
            if points[-1][1] == y and left <= points[-1][0] <= right:
                node = next(n for n, bar in bars.items() if bar == (left, right, y))
                met[node].append(points[-1][0])
    return {node: (min(met[node], default=left), max(met[node], default=right), y)
            for node, (left, right, y) in bars.items()}  # fmt: skip
