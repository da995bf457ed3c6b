"""Ways for the wires of a diagram: along tracks, around symbols, with few bends and crossings.

A* search on the grid of tracks. Two wires may cross straight, never share a stretch or a
corner. Should no way be left, the rules are waived for that wire rather than leaving it out;
`Router.forced` names such wires, and the tests see to it that the shipped circuits have none.
"""

import heapq

_ACROSS, _DOWN = 0, 1
_BEND, _CROSSING, _BESIDE, _SOFT = 4.0, 7.0, 0.7, 1.0
_STEPS = ((1, 0, _ACROSS), (-1, 0, _ACROSS), (0, 1, _DOWN), (0, -1, _DOWN))

Point = tuple[int, int]


class Router:
    """Finds one way after another and keeps what is taken.

    Parameters
    ----------
    width, height : size of the grid [tracks]
    """

    def __init__(self, width: int, height: int):
        self._width, self._height = width, height
        self._blocked: set[Point] = set()
        self._soft: set[Point] = set()
        self._taken: dict[Point, set[int]] = {}  # directions of wires that pass straight
        self._corners: set[Point] = set()
        self.forced: list[str] = []

    def block(self, left: int, top: int, right: int, bottom: int) -> None:
        """Keep wires out of an area [tracks, both ends included]."""
        self._blocked.update((x, y) for x in range(left, right + 1)
                             for y in range(top, bottom + 1))  # fmt: skip

    def soften(self, left: int, top: int, right: int, bottom: int) -> None:
        """Let wires pass an area only when the way around is long."""
        self._soft.update((x, y) for x in range(left, right + 1)
                          for y in range(top, bottom + 1))  # fmt: skip

    def bar(self, left: int, right: int, y: int) -> None:
        """Keep a bar free of other wires, but for crossing it straight."""
        for x in range(left, right + 1):
            self._taken.setdefault((x, y), set()).add(_ACROSS)

    def route(self, name: str, starts: set[Point], ends: set[Point]) -> list[Point]:
        """The way of a wire from one of `starts` to one of `ends`, as its corner points."""
        found = self._search(starts, ends, strict=True)
        if found is None:
            self.forced.append(name)
            found = self._search(starts, ends, strict=False)
        self._take(found)
        return _corners(found)

    def _search(self, starts, ends, strict: bool) -> list[Point] | None:
        aim = _aim(ends)
        queue = [(aim(p), 0.0, p, None) for p in sorted(starts)]
        heapq.heapify(queue)
        best: dict[tuple, float] = {}
        came: dict[tuple, tuple | None] = {(p, None): None for p in starts}
        while queue:
            _, spent, point, way = heapq.heappop(queue)
            if point in ends and way is not None:
                return _backwards(came, (point, way))
            if spent > best.get((point, way), 1e9):
                continue
            for dx, dy, turn in _STEPS:
                there = (point[0] + dx, point[1] + dy)
                price = self._price(point, way, there, turn, starts, ends, strict)
                if price is None:
                    continue
                total = spent + price
                if total < best.get((there, turn), 1e9) - 1e-9:
                    best[(there, turn)] = total
                    came[(there, turn)] = (point, way)
                    heapq.heappush(queue, (total + aim(there), total, there, turn))
        return None

    def _price(self, point, way, there, turn, starts, ends, strict) -> float | None:
        """Cost of a step, or None where it is not allowed."""
        x, y = there
        if not (0 <= x < self._width and 0 <= y < self._height):
            return None
        price = 1.0
        if way is not None and way != turn:
            if point in self._taken and point not in starts:
                if strict:
                    return None
                price += 30
            price += _BEND
        final = there in ends
        if not final and (there in self._blocked or there in self._corners or there in starts):
            if strict or there in self._blocked:
                return None
            price += 30
        taken = self._taken.get(there, ())
        if turn in taken and not final:
            if strict:
                return None
            price += 30
        elif taken and not final:
            price += _CROSSING
        if there in self._soft:
            price += _SOFT
        sides = ((x, y - 1), (x, y + 1)) if turn == _ACROSS else ((x - 1, y), (x + 1, y))
        price += sum(_BESIDE for side in sides if turn in self._taken.get(side, ()))
        return price

    def _take(self, points: list[Point]) -> None:
        for (x1, y1), (x2, y2) in zip(points, points[1:], strict=False):
            turn = _ACROSS if y1 == y2 else _DOWN
            self._taken.setdefault((x1, y1), set()).add(turn)
            self._taken.setdefault((x2, y2), set()).add(turn)
        self._corners.update(_corners(points))


def _aim(ends):
    """Distance to the nearest end, never too long."""
    left, right = min(x for x, _ in ends), max(x for x, _ in ends)
    top, bottom = min(y for _, y in ends), max(y for _, y in ends)

    def distance(point) -> float:
        x, y = point
        return (max(left - x, 0, x - right) + max(top - y, 0, y - bottom)) * 1.0

    return distance


def _backwards(came, state) -> list[Point]:
    points = []
    while state is not None:
        points.append(state[0])
        state = came[state]
    return points[::-1]


def _corners(points: list[Point]) -> list[Point]:
    """The first and last point, and those where the way turns."""
    kept = [points[0]]
    for before, here, after in zip(points, points[1:], points[2:], strict=False):
        if (here[0] - before[0], here[1] - before[1]) != (after[0] - here[0], after[1] - here[1]):
            kept.append(here)
    return [*kept, points[-1]]
