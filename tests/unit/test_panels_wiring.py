"""The wiring diagram: everything of the file is on it, nothing lies on anything else."""

import re
import xml.etree.ElementTree as ET
from itertools import pairwise

import pytest
from coldbench.bench import load_bench
from coldbench.electrical import load_circuit, parse_circuit, shipped_circuits, solve
from coldbench.errors import InputError
from coldbench.panels.wiring_diagram import POINT_RADIUS, diagram
from coldbench.panels.wiring_file import diagram_svg, wiring_picture, write_diagram
from coldbench.panels.wiring_labels import Places
from coldbench.panels.wiring_live import live_of, moving
from coldbench.panels.wiring_routing import Router
from coldbench.panels.wiring_symbols import SHAPES, TRACK
from coldbench.panels.wiring_words import part_lines, wire_words

# Small circuits as a teacher might describe them, without places for the diagram.
LAMP = """
name = "own"
title = "A lamp and its switch"
ground = "B.minus"
[states.off]
light = false
[[part]]
id = "B"
kind = "source"
label = "Battery"
emf_V = 12.6
[[part]]
id = "S"
kind = "switch"
label = "Light switch"
input = "light"
[[part]]
id = "L"
kind = "lamp"
label = "Lamp"
rated_W = 5.0
[[wire]]
id = "W1"
from = "B.plus"
to = "S.a"
size_mm2 = 1.0
length_m = 1.0
[[wire]]
id = "W2"
circuit = 2
from = "S.b"
to = "L.a"
size_mm2 = 1.0
length_m = 1.0
[[wire]]
id = "W3"
circuit = 3
from = "L.b"
to = "B.minus"
size_mm2 = 1.0
length_m = 1.0
[[test_point]]
number = 1
at = "L.a"
"""


def own_circuit(parts, wires, points):
    """A circuit from short descriptions: parts [(id, kind, extra lines)], wires [(from, to)]."""
    text = ['name = "own"', 'title = "Own circuit"', 'ground = "B.minus"', "[states.off]"]
    text += [f"{name} = false" for _, _, extra in parts
             for name in re.findall('input = "(.*)"', extra)]  # fmt: skip
    for name, kind, extra in parts:
        text += ["[[part]]", f'id = "{name}"', f'kind = "{kind}"', f'label = "Part {name}"', extra]
    for number, (start, end) in enumerate(wires, 1):
        text += ["[[wire]]", f'id = "W{number}"', f"circuit = {100 + number}", f'from = "{start}"',
                 f'to = "{end}"', "size_mm2 = 1.5", "length_m = 1.0"]  # fmt: skip
    for number, place in enumerate(points, 1):
        text += ["[[test_point]]", f"number = {number}", f'at = "{place}"']
    return parse_circuit("\n".join(text), "own.toml")


def changeover():
    """Two relays that turn a motor either way, a lamp beside it, crowded terminals."""
    relay = "coil_ohm = 85.0"
    return own_circuit(
        [("B", "source", "emf_V = 12.6"), ("F", "fuse", "rating_A = 20.0"), ("KA", "relay", relay),
         ("KB", "relay", relay), ("M", "motor", "winding_ohm = 0.5\nk_V_s = 0.03\n"
          "friction_N_m = 0.01"), ("S1", "switch", 'input = "one"'),
         ("S2", "switch", 'input = "other"'), ("L", "lamp", "rated_W = 5.0")],
        [("B.plus", "F.a"), ("F.b", "KA.87"), ("F.b", "KB.87"), ("F.b", "S1.a"), ("F.b", "S2.a"),
         ("S1.b", "KA.86"), ("S2.b", "KB.86"), ("KA.85", "G"), ("KB.85", "G"), ("KA.87a", "G"),
         ("KB.87a", "G"), ("G", "B.minus"), ("KA.30", "M.plus"), ("M.minus", "KB.30"),
         ("S1.b", "L.a"), ("L.b", "G")],
        ["F.b", "KA.30", "KB.30", "G", "KA.86"])  # fmt: skip


def string_of_resistors(count: int):
    """A chain of resistors from the post to ground."""
    names = [f"R{k}" for k in range(count)]
    wires = [("B.plus", "R0.a"), *((f"R{k}.b", f"R{k + 1}.a") for k in range(count - 1)),
             (f"R{count - 1}.b", "B.minus")]  # fmt: skip
    return own_circuit([("B", "source", "emf_V = 12.6"),
                        *((n, "resistor", "resistance_ohm = 100.0") for n in names)],
                       wires, [f"{n}.a" for n in names])  # fmt: skip


def ladder(count: int):
    """Lamps in parallel between two splices."""
    names = [f"L{k}" for k in range(count)]
    return own_circuit(
        [("B", "source", "emf_V = 12.6"), *((n, "lamp", "rated_W = 5.0") for n in names)],
        [("B.plus", "X"), *(("X", f"{n}.a") for n in names), *((f"{n}.b", "Y") for n in names),
         ("Y", "B.minus")], ["X", "Y", *(f"{n}.a" for n in names)])  # fmt: skip


CIRCUITS = {
    **{name: (lambda name=name: load_circuit(name)) for name in shipped_circuits()},
    "lamp": lambda: parse_circuit(LAMP, "own.toml"), "changeover": changeover,
    "chain": lambda: string_of_resistors(5), "ladder": lambda: ladder(6),
}  # fmt: skip


@pytest.fixture(params=CIRCUITS)
def circuit(request):
    return CIRCUITS[request.param]()


def texts(svg: str) -> list[str]:
    """The words of a drawing, in order; also proves that it is sound XML."""
    root = ET.fromstring(f'<svg xmlns="http://www.w3.org/2000/svg">{svg}</svg>')
    return ["".join(node.itertext()) for node in root.iter("{http://www.w3.org/2000/svg}text")]


def overlap(one, other) -> tuple[float, float]:
    """Width and height that two boxes share."""
    return (min(one[2], other[2]) - max(one[0], other[0]),
            min(one[3], other[3]) - max(one[1], other[1]))  # fmt: skip


def test_every_part_wire_and_test_point_is_on_the_diagram(circuit):
    words = texts(diagram(circuit).still)
    for part in circuit.parts.values():
        assert part_lines(part)[0] in words
    for wire in circuit.wires.values():
        assert words.count(wire_words(wire)) >= 1
    assert sum(word == wire_words(w) for w in circuit.wires.values() for word in words) >= len(
        circuit.wires)  # fmt: skip
    drawn = diagram(circuit)
    assert set(drawn.points) == set(circuit.test_points)
    assert all(str(number) in words for number in circuit.test_points)


def test_no_wire_broke_the_rules_of_routing(circuit):
    assert diagram(circuit).layout.forced == ()


def test_no_label_lies_on_another_or_on_a_test_point(circuit):
    drawn, r = diagram(circuit), POINT_RADIUS
    boxes = [("/".join(w.lines), w.box) for w in (*drawn.words, *drawn.values.values())]
    boxes += [(f"point {n}", (x - r, y - r, x + r, y + r)) for n, (x, y) in drawn.points.items()]
    met = [(a, b) for k, (a, one) in enumerate(boxes) for b, other in boxes[k + 1 :]
           if overlap(one, other)[0] > 3 and overlap(one, other)[1] > 4]  # fmt: skip
    assert not met


def test_symbols_stand_clear_of_each_other_and_all_lies_inside(circuit):
    drawn, plan = diagram(circuit), diagram(circuit).layout
    bodies = []
    for name, (x, y) in plan.parts.items():
        shape = SHAPES[circuit.parts[name].kind]
        bodies.append((x - shape.left, y - 2, x + shape.right, y + 2))
    assert not [1 for k, one in enumerate(bodies) for other in bodies[k + 1 :]
                if min(overlap(one, other)) > 0]  # fmt: skip
    for words in drawn.words:
        assert words.box[0] >= 0 and words.box[2] <= drawn.width
        assert words.box[1] >= 0 and words.box[3] <= drawn.height


def test_a_wire_ends_where_its_terminals_are(circuit):
    plan = diagram(circuit).layout
    for name, (start, end) in plan.symbols.wires.items():
        for node, point in ((start, plan.wires[name][0]), (end, plan.wires[name][-1])):
            if node in plan.bars:
                left, right, y = plan.bars[node]
                assert point[1] == y and left <= point[0] <= right
            else:
                assert plan.pins[node] == point


def test_wires_share_no_stretch(circuit):
    """Two wires may cross; two on the same track would be one line to the eye."""
    plan, taken = diagram(circuit).layout, {}
    for name, points in plan.wires.items():
        for (x1, y1), (x2, y2) in zip(points, points[1:], strict=False):
            steps = max(abs(x2 - x1), abs(y2 - y1))
            for k in range(steps):
                a = (x1 + (x2 - x1) * k // steps, y1 + (y2 - y1) * k // steps)
                b = (x1 + (x2 - x1) * (k + 1) // steps, y1 + (y2 - y1) * (k + 1) // steps)
                assert taken.setdefault(frozenset((a, b)), name) == name


def test_supply_is_on_top_and_ground_at_the_bottom():
    plan = diagram(load_circuit("three-relay-fans")).layout
    heights = {node: y for node, (_, _, y) in plan.bars.items()}
    assert heights["B.minus"] == max(heights.values())
    assert heights["S1"] == min(heights.values())
    assert plan.parts["F1"][1] < plan.parts["K1"][1] < plan.parts["M1"][1] < plan.parts["K2"][1]


def test_the_same_file_gives_the_same_drawing():
    assert diagram(changeover()).still == diagram(changeover()).still


def test_the_description_tells_the_circuit():
    said = wiring_picture(load_circuit("three-relay-fans")).description
    for words in ("Two condenser fans on three relays", "K2, relay, Relay 2, changeover of fan 1",
                  "30 to M1 minus (circuit 32", "Splice S4 joins", "8 relay 2, terminal 87a"):
        assert words in said
    assert len(re.findall(r"\bTest points:", said)) == 1


def test_the_svg_stands_alone(circuit):
    svg = diagram_svg(circuit)
    root = ET.fromstring(svg)
    names = [child.tag.rpartition("}")[2] for child in root]
    assert root.get("role") == "img" and names[:3] == ["title", "desc", "style"]
    assert "var(" not in svg and "http" not in svg.replace("http://www.w3.org/2000/svg", "")
    assert circuit.title in root[0].text


def test_live_values_show_state_by_word_and_line_not_by_colour():
    circuit = load_circuit("three-relay-fans")
    low = solve(circuit, "low")
    shown = moving(diagram(circuit), live_of(circuit, circuit.settings("low"), low))
    words = texts(shown)
    assert words.count("energised") == 1 and words.count("released") == 2
    assert shown.count("cb-wd-energised") == 1
    assert f"{low.currents['M1']:.2f} A" in words and f"{low.voltage(5):.2f} V" in words
    assert "cb-wd-energised" not in moving(diagram(circuit))


def test_a_file_is_written_and_other_kinds_are_refused(tmp_path):
    made = write_diagram(load_circuit("clutch"), tmp_path / "clutch.svg")
    assert ET.parse(made).getroot().tag.endswith("svg")
    with pytest.raises(InputError, match=r"\.svg or \.pdf"):
        write_diagram(load_circuit("clutch"), tmp_path / "clutch.doc")
    with pytest.raises(InputError, match="cannot be written"):
        write_diagram(load_circuit("clutch"), tmp_path / "nowhere" / "clutch.svg")


@pytest.mark.parametrize(("layout", "words"), [
    ("K9 = [1, 2]", "no part of this circuit"), ("B = [1]", "two whole numbers"),
    ("B = [1, -2]", "two whole numbers"), ('B = "left"', "two whole numbers")])  # fmt: skip
def test_a_wrong_place_is_named(layout, words):
    with pytest.raises(InputError, match=words):
        parse_circuit(f"{LAMP}\n[layout]\n{layout}", "own.toml")


def test_places_of_the_file_are_kept():
    plan = diagram(parse_circuit(f"{LAMP}\n[layout]\nB = [3, 0]\nS = [30, 0]\nL = [30, 4]",
                                 "own.toml")).layout  # fmt: skip
    assert plan.parts["S"][0] - plan.parts["B"][0] == 27
    assert plan.parts["S"][0] == plan.parts["L"][0]


def test_a_router_goes_around_and_crosses_straight():
    router = Router(20, 20)
    router.block(5, 0, 5, 10)
    way = router.route("one", {(2, 5)}, {(8, 5)})
    assert way[0] == (2, 5) and way[-1] == (8, 5) and max(y for _, y in way) == 11
    across = router.route("two", {(3, 0)}, {(3, 19)})
    assert across == [(3, 0), (3, 19)] and router.forced == []
    narrow = Router(9, 1)
    narrow.route("four", {(0, 0)}, {(6, 0)})
    assert narrow.route("five", {(2, 0)}, {(8, 0)}) and narrow.forced == ["five"]


def test_words_go_where_there_is_room_and_give_way_later():
    places = Places()
    places.keep((0, 0, 50, 20))
    first = places.put(("W1",), 10, [(10, 10, "start"), (60, 10, "start"), (60, 80, "start")])
    second = places.put(("W2",), 10, [(60, 10, "start")])
    assert places.words(first).x == 60 and places.words(first).y < 20
    places.settle()
    assert places.words(first).y > 70 and places.words(second).y < 20


def test_words_take_shorter_lines_where_long_ones_would_lie_on_a_wire():
    places = Places()
    places.keep_line(50, 0, 50, 100)
    wide, short = ("a long name",), ("a", "long", "name")
    assert places.words(places.put(wide, 10, [(10, 50, "start")], short)).lines == short
    places = Places()
    assert places.words(places.put(wide, 10, [(10, 50, "start")], short)).lines == wide


def test_few_words_of_the_whole_wiring_of_a_bench_lie_on_a_wire():
    """On the largest sheet; a halo keeps those readable."""
    drawn = diagram(load_bench("blue").circuit)
    wires = Places()
    for points in (*drawn.layout.wires.values(), *drawn.layout.leads):
        for (x1, y1), (x2, y2) in pairwise(points):
            wires.keep_line(*(TRACK * at for at in (x1, y1, x2, y2)))
    lying = [words.lines for words in drawn.words if wires.crowding(words.box) > 0]
    assert len(lying) <= 13, lying


def test_the_command_draws_at_rest_or_with_the_values_of_a_case(tmp_path, capsys):
    from coldbench.cli import main

    for name, words in (("rest", []), ("low", ["--state", "low"])):
        with pytest.raises(SystemExit) as end:
            main(["circuit", "three-relay-fans", "--draw", str(tmp_path / f"{name}.svg"), *words])
        assert end.value.code in (0, None)
        assert f"{name}.svg" in capsys.readouterr().out.replace("\n", "")
    assert ">energised<" not in (tmp_path / "rest.svg").read_text("utf-8")
    low = (tmp_path / "low.svg").read_text("utf-8")
    assert ">energised<" in low and "State low" in low
