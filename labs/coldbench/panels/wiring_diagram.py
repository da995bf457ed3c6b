"""The wiring diagram of a circuit: what stands still, as SVG, and where everything lies.

Supply on top, ground at the bottom, a column for each branch. Beside each wire its circuit
number and size; a number in a circle is a test point. Widths of lines follow the wire size.
Drawn with *schemdraw*; the layout is ours (`wiring_layout`).
"""

from dataclasses import dataclass, replace
from itertools import pairwise
from math import ceil

from coldbench.panels.svg import line, path, tag, text
from coldbench.panels.wiring_labels import Places, Words
from coldbench.panels.wiring_layout import Layout, lay_out, moved
from coldbench.panels.wiring_parts import still_symbol
from coldbench.panels.wiring_symbols import SHAPES, TRACK, Pen
from coldbench.panels.wiring_words import part_lines, wire_words

POINT_RADIUS = 10
_SMALL, _NAME, _MARGIN = 11.0, 12.5, 10.0

Place = tuple[float, float]


@dataclass(frozen=True)
class Diagram:
    """A drawn circuit. All places in picture units.

    still : SVG of what never moves
    points : test point number -> centre of its circle
    nodes : test point number -> the place on the wire
    parts : part id -> centre
    pins : part id -> {terminal: place}
    values : test point number -> place and anchor of its voltage
    beside : part id -> place and anchor of its state or current, below its name
    places : what is taken by symbols, wires and words
    words : every placed text, for checks
    layout : the layout in tracks
    """

    circuit: object
    width: int
    height: int
    still: str
    points: dict[int, Place]
    nodes: dict[int, Place]
    parts: dict[str, Place]
    pins: dict[str, dict[str, Place]]
    values: dict[int, Words]
    beside: dict[str, Words]
    words: tuple[Words, ...]
    places: Places
    layout: Layout


_drawn: dict[int, tuple[object, Diagram]] = {}


def diagram(circuit) -> Diagram:
    """The diagram of a circuit; drawn once for each circuit object."""
    kept = _drawn.get(id(circuit))
    if kept is None:
        if len(_drawn) > 15:
            _drawn.pop(next(iter(_drawn)))
        kept = _drawn[id(circuit)] = (circuit, _draw(circuit))
    return kept[1]


def _draw(circuit) -> Diagram:
    plan = _framed(lay_out(circuit), circuit)
    parts = {name: _px(at) for name, at in plan.parts.items()}
    pins: dict[str, dict[str, Place]] = {name: {} for name in parts}
    for node, at in plan.pins.items():
        name, terminal = node.split(".")
        pins[name][terminal] = _px(at)
    places = _obstacles(plan, circuit)
    points, nodes, marks = _test_points(plan, circuit, places)
    words, beside, values = _words(plan, circuit, places, points)
    still = "".join((_wires(plan, circuit), _bars(plan), _symbols(plan, circuit, parts, pins),
                     marks, *(_svg_words(w, look) for w, look in words)))  # fmt: skip
    return Diagram(circuit, plan.width * TRACK, plan.height * TRACK, still, points, nodes, parts,
                   pins, values, beside, tuple(w for w, _ in words), places, plan)  # fmt: skip


def _framed(plan: Layout, circuit) -> Layout:
    """The layout moved and cut so that all words lie inside."""
    places = _obstacles(plan, circuit)
    points, _, _ = _test_points(plan, circuit, places)
    _words(plan, circuit, places, points)
    left = min(box[0] for box in places.boxes)
    right = max(box[2] for box in places.boxes)
    shift = ceil((_MARGIN - left) / TRACK)
    return moved(plan, shift, ceil((right + _MARGIN) / TRACK) + shift)


def _px(at) -> Place:
    return at[0] * float(TRACK), at[1] * float(TRACK)


def _wires(plan: Layout, circuit) -> str:
    looks = {name: _thickness(wire.size_mm2) for name, wire in circuit.wires.items()}
    drawn = [path([_px(p) for p in points], f"cb-wd-wire {looks[name]}")
             for name, points in plan.wires.items()]  # fmt: skip
    leads = [path([_px(p) for p in points], "cb-wd-wire cb-wd-medium") for points in plan.leads]
    return "".join((*drawn, *leads))


def _thickness(size_mm2: float) -> str:
    return "cb-wd-thin" if size_mm2 < 1.5 else "cb-wd-medium" if size_mm2 < 4 else "cb-wd-thick"


def _bars(plan: Layout) -> str:
    """Splices and posts as heavy lines with a dot for each wire."""
    drawn = []
    for node, (left, right, y) in plan.bars.items():
        drawn.append(line(left * TRACK, y * TRACK, right * TRACK, y * TRACK, "cb-wd-bar"))
        ends = {point for name, (start, end) in plan.symbols.wires.items() for point, met in
                ((plan.wires[name][0], start), (plan.wires[name][-1], end))
                if met == node}  # fmt: skip
        drawn += [tag("circle", cx=x * TRACK, cy=cy * TRACK, r=4, class_="cb-wd-node")
                  for x, cy in sorted(ends)]  # fmt: skip
    return "".join(drawn)


def _symbols(plan: Layout, circuit, parts, pins) -> str:
    pen = Pen()
    _, right, y = plan.bars[plan.symbols.ground]
    pen.stub("GroundChassis", (right * TRACK, y * TRACK))
    rest = [still_symbol(pen, part, parts[name], pins[name])
            for name, part in circuit.parts.items()]  # fmt: skip
    return tag("g", pen.svg(), class_="cb-wd-symbols") + "".join(rest)


def _obstacles(plan: Layout, circuit) -> Places:
    places = Places()
    for name, (x, y) in plan.parts.items():
        shape = SHAPES[plan.symbols.kinds[name]]
        left, right = shape.left, shape.right
        if plan.symbols.kinds[name] == "lamp" or left == 2:
            left = right = 1.5
        places.keep(((x - left) * TRACK, (y - 2.5) * TRACK, (x + right) * TRACK,
                     (y + 2.5) * TRACK))  # fmt: skip
    for name, (x, y) in plan.parts.items():
        if plan.symbols.kinds[name] in ("motor", "source"):  # their signs
            for dy in (-30, 30):
                places.keep((x * TRACK - 19, y * TRACK + dy - 6, x * TRACK - 8, y * TRACK + dy + 6))
    for node in plan.pins:
        name = node.split(".")[0]
        x, y = plan.pins[node]
        places.keep_line(*_px((x, y)), *_px((x, plan.parts[name][1])))
    for points in (*plan.wires.values(), *plan.leads):
        for start, end in pairwise(points):
            places.keep_line(*_px(start), *_px(end))
    for left, right, y in plan.bars.values():
        places.keep_line(left * TRACK, y * TRACK, right * TRACK, y * TRACK, pad=5)
    left, right, y = plan.bars[plan.symbols.ground]
    places.keep((right * TRACK - 14, y * TRACK, right * TRACK + 14, y * TRACK + 34))
    return places


def _test_points(plan: Layout, circuit, places: Places):
    """Circles beside the nodes, each with a short line to its node."""
    points, nodes, drawn = {}, {}, []
    r = POINT_RADIUS
    for number, point in sorted(circuit.test_points.items()):
        spots = _spots_of(plan, point.at)
        boxes = [(x - r - 1, y - r - 1, x + r + 1, y + r + 1) for (x, y), _ in spots]
        chosen = places.choose(boxes)
        places.keep(boxes[chosen])
        (x, y), node = spots[chosen]
        points[number], nodes[number] = (x, y), node
        drawn.append(line(*node, x, y, "cb-wd-lead"))
        drawn.append(tag("circle", cx=node[0], cy=node[1], r=2.6, class_="cb-wd-node"))
        drawn.append(tag("circle", cx=x, cy=y, r=r, class_="cb-wd-point"))
        long = " cb-wd-long" if number > 99 else ""
        drawn.append(text(x, y + 4.2 - 0.9 * bool(long), str(number), f"cb-wd-number{long}"))
    return points, nodes, "".join(drawn)


_BESIDE = ((-18, 0), (18, 0), (-18, -9), (-18, 9), (18, -9), (18, 9), (-27, 0), (27, 0))


def _spots_of(plan: Layout, node: str) -> list[tuple[Place, Place]]:
    """Places for the circle of a test point: (centre, the place on the node)."""
    if node not in plan.bars:
        x, y = _px(plan.pins[node])
        return [((x + dx, y + dy), (x, y)) for dx, dy in _BESIDE]
    left, right, track = plan.bars[node]
    y, spots = track * TRACK, []
    for at in (left, right):
        side = -18 if at == left else 18
        spots.append(((at * TRACK + side, float(y)), (at * TRACK, float(y))))
    for x in range(int(left * TRACK), int(right * TRACK) + 1, TRACK):
        spots += [((float(x), y + dy), (float(x), float(y))) for dy in (-18.0, 18.0)]
    return spots


def _words(plan: Layout, circuit, places: Places, points):
    """All words: [(Words, look)], the places of live words {part: Words} and {point: Words}."""
    parts = {name: places.put((*part_lines(part), *_live_word(part)), _NAME,
                              _part_corners(plan, name),
                              (*part_lines(part, narrow=True), *_live_word(part)))
             for name, part in circuit.parts.items()}  # fmt: skip
    bars = [places.put((_bar_name(node),), _SMALL, _bar_corners(*bar))
            for node, bar in plan.bars.items()]  # fmt: skip
    values = {number: places.put(("13.78 V",), _NAME, [
        (x + dx, y + dy, "end" if dx < 0 else "start" if dx > 0 else "middle")
        for dx, dy in _AROUND]) for number, (x, y) in points.items()}  # fmt: skip
    wires = [places.put((wire_words(circuit.wires[name]),), _SMALL,
                        _wire_corners(plan.wires[name]))
             for name in sorted(plan.wires, key=lambda n: _length(plan.wires[n]))]  # fmt: skip
    places.settle()
    found, beside = [], {}
    for name, number in parts.items():
        words, live = places.words(number), _live_word(circuit.parts[name])
        if live:
            last = words.y + 1.2 * _NAME * (len(words.lines) - 1)
            beside[name] = replace(words, lines=live, y=last)
            words = replace(words, lines=words.lines[:-1])
        found.append((words, "cb-wd-part"))
    found += [(places.words(number), "cb-wd-name-small") for number in bars]
    found += [(places.words(number), "cb-wd-small") for number in wires]
    return found, beside, {number: places.words(put) for number, put in values.items()}


def _live_word(part) -> tuple[str, ...]:
    """The longest word that may be shown below a part's name, if any."""
    return (_LIVE[part.kind],) if part.kind in _LIVE else ()


def _bar_name(node: str) -> str:
    return node.replace(".minus", " −").replace(".plus", " +").replace(".", " ")


def _part_corners(plan: Layout, name: str):
    x, y = _px(plan.parts[name])
    shape = SHAPES[plan.symbols.kinds[name]]
    slim = {"motor": 24, "current_source": 30}.get(plan.symbols.kinds[name], 20)
    right = slim if shape.right == 2 else shape.right * TRACK + 5
    left = slim if shape.left == 2 else shape.left * TRACK + 3
    corners = []
    for dy in (0.0, -12.0, 12.0, -24.0, 24.0, -36.0, 36.0):
        corners += [(x + right, y + dy, "start"), (x - left, y + dy, "end")]
    return corners


def _length(points) -> int:
    return sum(abs(a[0] - b[0]) + abs(a[1] - b[1])
               for a, b in pairwise(points))  # fmt: skip


def _wire_corners(points):
    """Places along a wire: beside upright stretches, above and below level ones."""
    corners = []
    stretches = list(pairwise(points))
    for start, end in sorted(stretches, key=lambda s: -_length(s)):
        (x1, y1), (x2, y2) = _px(start), _px(end)
        for share in (0.5, 0.35, 0.65, 0.2, 0.8, 0.1, 0.9, 0.28, 0.72):
            x, y = x1 + share * (x2 - x1), y1 + share * (y2 - y1)
            if x1 == x2:
                corners += [(x + 5, y, "start"), (x - 5, y, "end")]
                corners += [(x + 26, y, "start"), (x - 26, y, "end")] if share == 0.9 else []
            else:
                corners += [(x, y - 9, "middle"), (x, y + 10, "middle")]
    return corners


def _bar_corners(left: int, right: int, y: int):
    x1, x2, y = left * TRACK, right * TRACK, y * TRACK
    sides = [(x1 - 8.0, float(y), "end"), (x2 + 8.0, float(y), "start")]
    along = [(x, y + dy, "middle") for x in range(x1, x2 + 1, TRACK) for dy in (-11.0, 12.0)]
    return [*sides, *along, (x1 - 8.0, y - 10.0, "end"), (x2 + 8.0, y - 10.0, "start"),
            (x1 - 34.0, float(y), "end"), (x2 + 34.0, float(y), "start")]  # fmt: skip


_AROUND = ((-13, 0), (13, 0), (-11, -9), (-11, 9), (11, -9), (11, 9), (0, -19), (0, 19),
           (-8, -19), (8, -19), (-8, 19), (8, 19), (-36, 0), (36, 0))  # fmt: skip
_LIVE = {"relay": "energised", "motor": "17.25 A", "coil": "3.75 A", "lamp": "0.85 A",
         "low_side_driver": "on", "switch": "closed", "fuse": "17.25 A",
         "pwm_driver": "17.25 A"}  # fmt: skip


def _svg_words(words: Words, look: str) -> str:
    step = 1.2 * words.size
    rows = [text(words.x, words.y + k * step, row,
                 "cb-wd-id" if look == "cb-wd-part" and k == 0 else look, words.anchor)
            for k, row in enumerate(words.lines)]  # fmt: skip
    return "".join(rows)
