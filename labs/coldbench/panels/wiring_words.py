"""Words for a wiring diagram: labels beside symbols and wires, and the whole circuit told."""

import re
from textwrap import wrap

_LINE = 13  # letters in a line beside a symbol
_RATINGS = {"fuse": ("rating_A", "A"), "resistor": ("resistance_ohm", "Ω")}
_KIND_WORDS = {
    "source": "source", "low_side_driver": "low-side driver", "pwm_driver": "pulse-width module",
    "logic_input": "controller input with pull-up", "reference": "reference voltage",
    "variable_resistor": "variable resistor", "ratio_output": "ratiometric sensor",
    "current_source": "light sensor",
}  # fmt: skip


def part_lines(part, narrow: bool = False) -> tuple[str, ...]:
    """Name and label of a part in short lines; a fuse with its rating, a resistor with its ohms.

    narrow : in lines as short as the words allow

    >>> from types import SimpleNamespace
    >>> part_lines(SimpleNamespace(id="F1", kind="fuse", label="Fan fuse",
    ...                            parameters={"rating_A": 40.0}))
    ('F1 · 40 A', 'Fan fuse')
    """
    rating = _rating(part)
    if narrow:
        return part.id, *filter(None, [rating]), *wrap(_kept(part.label), 1, break_long_words=False,
                                                       break_on_hyphens=False)
    more = f" · {rating}" if rating else ""
    return (f"{part.id}{more}", *wrap(_kept(part.label), _LINE))


def _kept(label: str) -> str:
    """A label whose last word, when short, stays with the one before: "fan 1"."""
    return re.sub(r" (\S{1,2})$", "\N{NO-BREAK SPACE}\\1", label)


def wire_words(wire) -> str:
    """Circuit number and size [mm²] of a wire, as written beside it.

    >>> from types import SimpleNamespace
    >>> wire_words(SimpleNamespace(circuit=31, size_mm2=4.0))
    '31 / 4'
    """
    number = "" if wire.circuit is None else f"{wire.circuit} / "
    return f"{number}{wire.size_mm2:g}"


def node_words(node: str) -> str:
    """A node in words.

    >>> node_words("K1.30"), node_words("M1.plus"), node_words("S3")
    ('K1 terminal 30', 'M1 plus', 'splice S3')
    """
    if "." not in node:
        return f"splice {node}"
    name, terminal = node.split(".")
    return f"{name} terminal {terminal}" if terminal[0].isdigit() else f"{name} {terminal}"


def point_words(point) -> str:
    """A test point in words: its label, else its node."""
    return point.label or node_words(point.at)


def describe(circuit) -> str:
    """The whole diagram in words: every part with its wires, every splice, every test point."""
    head = (f"{circuit.title}. Supply on top, ground at the bottom: {len(circuit.parts)} parts, "
            f"{len(circuit.wires)} wires, {len(circuit.test_points)} test points.")  # fmt: skip
    parts = [_part_words(circuit, part) for part in circuit.parts.values()]
    splices = [_splice_words(circuit, node) for node in _splices(circuit)]
    points = "; ".join(f"{number} {point_words(point)} at {node_words(point.at)}"
                       for number, point in sorted(circuit.test_points.items()))  # fmt: skip
    return " ".join((head, *parts, *splices, f"Test points: {points}." if points else ""))


def _rating(part) -> str:
    key, unit = _RATINGS.get(part.kind, ("", ""))
    return f"{_short(part.parameters[key])}{unit}" if key else ""


def _short(number: float) -> str:
    """A number and the space or prefix before its unit, e.g. "22 k" for ohms."""
    return f"{number / 1e3:g} k" if number >= 1e3 else f"{number:g} "


def _part_words(circuit, part) -> str:
    kind = _KIND_WORDS.get(part.kind, part.kind)
    name = ", ".join(filter(None, (part.id, f"{kind} {_rating(part)}".strip(), part.label)))
    ways = [words for wire in circuit.wires.values() for words in _ways(wire, part.id)]
    return f"{name}: {'; '.join(ways)}."


def _ways(wire, name: str):
    """A wire as seen from a part."""
    for here, there in ((wire.start, wire.end), (wire.end, wire.start)):
        if here.split(".")[0] == name and "." in here:
            yield f"{here.split('.')[1]} to {node_words(there)} {_wire_told(wire)}"


def _wire_told(wire) -> str:
    number = "" if wire.circuit is None else f"circuit {wire.circuit}, "
    return f"({number}{wire.size_mm2:g} mm²)"


def _splices(circuit) -> list[str]:
    ends = {end for wire in circuit.wires.values() for end in (wire.start, wire.end)}
    return sorted(end for end in ends if "." not in end)


def _splice_words(circuit, node: str) -> str:
    others = [wire.end if wire.start == node else wire.start
              for wire in circuit.wires.values() if node in (wire.start, wire.end)]  # fmt: skip
    return f"Splice {node} joins {', '.join(map(node_words, others))}."
