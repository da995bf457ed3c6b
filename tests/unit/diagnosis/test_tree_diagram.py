"""Drawn fault trees: nothing lies on anything else, nothing is left out, all of it is told."""

import itertools
import json
import re
import shutil
import xml.etree.ElementTree as ET

import pytest
from hypothesis import given, settings

from coldbench.cli.app import main
from coldbench.diagnosis.tree import read_tree, tree_from
from coldbench.errors import InputError
from coldbench.panels.tree_diagram import (
    branches,
    drawing,
    fault_tree,
    tree_svg,
    write_tree_diagram,
)
from coldbench.panels.tree_layout import BOX, GAP, layout
from coldbench.panels.tree_words import LETTERS, MOST_LINES, describe_tree, name_lines, top_down

from .test_tree import trees

SHARED = {"top": "t", "gate": {
    "t": {"kind": "and", "inputs": ["left", "right", "h"]},
    "left": {"kind": "or", "inputs": ["a", "s"]},
    "right": {"kind": "atleast", "k": 2, "inputs": ["b", "c", "s"]},
    "s": {"kind": "or", "inputs": ["x & y < z", "a"]}},
    "event": {"a": 0.1, "b": 0.2, "c": "unknown", "x & y < z": 1e-5}, "house": {"h": True}}


def nodes(root):
    yield root
    for child in root.children:
        yield from nodes(child)


@settings(max_examples=60, deadline=None)
@given(tree=trees(most_events=9))
def test_boxes_never_meet_and_children_stand_under_their_gate(tree):
    for root in branches(tree):
        places = layout(root).placed
        levels = {}
        for place in places.values():
            levels.setdefault(place.y, []).append(place.x)
            below = [places[child.key] for child in place.node.children]
            if below:
                middle = (below[0].x + below[-1].x) / 2
                assert place.x == pytest.approx(middle)
                assert all(child.y >= place.symbol_y + 42 for child in below)
        for xs in levels.values():
            gaps = [b - a for a, b in itertools.pairwise(sorted(xs))]
            assert all(gap >= BOX + GAP - 1e-6 for gap in gaps)


@settings(max_examples=60, deadline=None)
@given(tree=trees(most_events=9))
def test_every_gate_is_drawn_once_and_every_input_under_its_gate(tree):
    drawn = [node for root in branches(tree) for node in nodes(root)]
    gates = [node for node in drawn if node.kind in ("or", "and", "atleast")]
    assert len(gates) == len(top_down(tree))
    assert (sum(len(node.children) for node in gates)
            == sum(len(tree.gates[name].inputs) for name in top_down(tree)))
    ways_in = {node.sign for node in drawn if node.kind == "transfer"}
    assert ways_in == {node.number for node in gates if node.number}


def test_a_gate_in_two_places_is_drawn_once_with_triangles():
    top, branch = branches(tree_from(SHARED))
    transfers = [node for node in nodes(top) if node.kind == "transfer"]
    assert [(node.lines, node.sign) for node in transfers] == [(("s",), "1")] * 2
    assert (branch.lines, branch.number) == (("s",), "1")
    assert [node.under for node in nodes(top) if node.lines == ("a",)] == ["0.1, in 2 places"]
    assert [node.sign for node in nodes(top) if node.kind == "house"] == ["on"]


def test_a_large_tree_is_broken_into_branches_that_fit_a_page():
    gates, events = {}, {}
    for i in range(40):
        inner = [f"g{j}" for j in (2 * i + 1, 2 * i + 2) if j < 40]
        own = [f"e{i}{c}" for c in "abc"]
        gates[f"g{i}"] = {"kind": "or", "inputs": inner + own}
        events |= dict.fromkeys(own, 0.01)
    tree = tree_from({"top": "g0", "gate": gates, "event": events})
    _, width, _ = drawing(branches(tree))
    assert width < 12 * (BOX + GAP) + 60


def test_a_very_deep_tree_is_drawn_too():
    gates = {f"g{i}": {"kind": "or", "inputs": [f"g{i + 1}", f"e{i}"]} for i in range(350)}
    gates["g350"] = {"kind": "or", "inputs": ["e350"]}
    tree = tree_from({"top": "g0", "gate": gates,
                      "event": {f"e{i}": "unknown" for i in range(351)}})
    assert sum(1 for root in branches(tree) for node in nodes(root)
               if node.kind == "or") == 351


def test_the_words_tell_every_gate_input_condition_and_probability():
    said = describe_tree(tree_from(SHARED))
    assert said.startswith("Fault tree of “t”: 4 gates, 4 basic events. “t” happens when all of "
                           "these happen together (AND gate): “left”, “right”, “h”.")
    assert ("“right” happens when at least 2 of these 3 happen (voting gate): “b”, “c”, “s”."
            in said)
    assert "“h” is a condition set to happen." in said
    assert said.endswith("Probability of “a”: 0.1; of “x & y < z”: 1e-05; of “b”: 0.2.")
    assert said.count("“s” happens when") == 1


@pytest.mark.parametrize("name", ["a", "fuse blown", "x" * 300, "very long words " * 20, "ß–Ω"])
def test_names_fit_their_box(name):
    lines = name_lines(name)
    assert len(lines) <= MOST_LINES and all(len(line) <= LETTERS for line in lines)


def test_the_file_is_sound_svg_with_title_and_words(tmp_path):
    tree = tree_from(SHARED)
    file = write_tree_diagram(tree, tmp_path / "tree.svg")
    root = ET.fromstring(file.read_text("utf-8"))
    space = {"s": "http://www.w3.org/2000/svg"}
    assert root.find("s:title", space).text == "Fault tree: t"
    assert root.find("s:desc", space).text == describe_tree(tree)
    texts = {el.text for el in root.iter("{http://www.w3.org/2000/svg}text")}
    assert {"x & y < z", "left", "2/3", "≥1", "&", "on"} <= texts
    # a sign in each symbol, so that no meaning hangs on a shape or a colour alone
    assert not re.search(r"var\(|currentColor", tree_svg(tree))


def test_a_notebook_gets_the_picture_and_its_words():
    bundle = fault_tree(read_tree("no-fan-air"))._repr_mimebundle_()
    assert 'role="img"' in bundle["text/html"]
    assert "“fan path open” happens when at least one" in bundle["text/plain"]


def test_the_command_draws(tmp_path, capsys):
    out = tmp_path / "tree.svg"
    with pytest.raises(SystemExit) as left:
        main(["tree", "no-fan-air", "--draw", str(out)])
    said = capsys.readouterr().out
    assert left.value.code == 0
    assert out.read_text("utf-8").startswith("<?xml") and said.rstrip().endswith(str(out))
    with pytest.raises(SystemExit):
        main(["tree", "no-fan-air", "--json", "--draw", str(out)])
    assert json.loads(capsys.readouterr().out)["minimal_cut_set_count"] == 9


@pytest.mark.parametrize(("name", "says"), [
    ("tree.doc", "tree.doc: a fault tree is written as .svg, .pdf or .png"),
    ("missing/tree.svg", "cannot be written"),
])
def test_a_wrong_file_gets_a_sentence(tmp_path, name, says):
    with pytest.raises(InputError, match=re.escape(says)):
        write_tree_diagram(read_tree("no-fan-air"), tmp_path / name)


@pytest.mark.parametrize(("name", "begins"), [("tree.pdf", b"%PDF"), ("tree.png", b"\x89PNG")])
def test_print_and_picture_come_through_the_browser(tmp_path, name, begins):
    tree = read_tree("no-fan-air")
    if not any(map(shutil.which, ("chromium", "chromium-browser", "google-chrome", "chrome"))):
        with pytest.raises(InputError, match="needs Chromium"):
            write_tree_diagram(tree, tmp_path / name)
        return
    assert write_tree_diagram(tree, tmp_path / name).read_bytes().startswith(begins)
