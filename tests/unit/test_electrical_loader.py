"""Circuit files: what is refused names the file, the key and the reason; what is right loads."""

import pytest

from coldbench.electrical import load_circuit, parse_circuit, shipped_circuits, wire_resistance
from coldbench.errors import InputError

GOOD = """
name = "small"
title = "A lamp on a switch"
ground = "B.minus"
[states.off]
light = false
[states.on]
light = true
[[part]]
id = "B"
kind = "source"
emf_V = 12.0
[[part]]
id = "S"
kind = "switch"
input = "light"
[[part]]
id = "L"
kind = "lamp"
rated_W = 21.0
[[wire]]
id = "W1"
circuit = 10
from = "B.plus"
to = "S.a"
size_mm2 = 2.5
length_m = 1.0
[[wire]]
id = "W2"
circuit = 11
from = "S.b"
to = "L.a"
size_mm2 = 1.0
length_m = 1.0
[[wire]]
id = "W3"
circuit = 12
from = "L.b"
to = "B.minus"
size_mm2 = 1.0
length_m = 1.0
[[test_point]]
number = 1
at = "L.a"
"""
SECOND_BATTERY = """
[[part]]
id = "B2"
kind = "source"
emf_V = 12.0
[[wire]]
id = "W4"
from = "B2.plus"
to = "S.a"
size_mm2 = 1.0
length_m = 1.0
[[wire]]
id = "W5"
from = "B2.minus"
to = "B.minus"
size_mm2 = 1.0
length_m = 1.0
"""


def refusal(old: str, new: str) -> str:
    assert old in GOOD
    with pytest.raises(InputError) as refused:
        parse_circuit(GOOD.replace(old, new, 1), "small.toml")
    return str(refused.value)


def test_a_good_file_loads():
    circuit = parse_circuit(GOOD, "small.toml")
    assert circuit.nodes[0] == "B.minus"
    assert set(circuit.nodes) == {"B.plus", "B.minus", "S.a", "S.b", "L.a", "L.b"}
    assert circuit.inputs == {"light": "switch"}
    assert circuit.node(1) == circuit.node("1") == circuit.node("L.a") == "L.a"
    assert circuit.supply == "B.plus"
    assert circuit.parts["L"].parameters["rated_V"] == 12.0


@pytest.mark.parametrize("name", shipped_circuits())
def test_shipped_circuits_load_and_have_test_points(name):
    circuit = load_circuit(name)
    assert circuit.test_points and circuit.states
    assert load_circuit(name) is circuit


@pytest.mark.parametrize(("old", "new", "words"), [
    ('name = "small"', 'name = "other"', ["name", "other"]),
    ('title = "A lamp on a switch"\n', "", ["title", "text"]),
    ('title =', 'tittle = "x"\ntitle =', ["unknown key 'tittle'"]),
    ('ground = "B.minus"', 'ground = "B.negative"', ["ground", "B.negative"]),
    ('kind = "lamp"', 'kind = "torch"', ["part L", "unknown kind 'torch'", "lamp"]),
    ('id = "L"', 'id = "2L"', ["part 3", "id", "letter"]),
    ('id = "L"', 'id = "S"', ["'S' is used twice"]),
    ('id = "W3"', 'id = "S"', ["'S'", "part and to a wire"]),
    ("rated_W = 21.0", "", ["part L", "rated_W is missing", "(W)"]),
    ("rated_W = 21.0", "rated_W = -1", ["part L", "rated_W", "0.1 to 500"]),
    ("rated_W = 21.0", "rated_W = nan", ["part L", "rated_W", "number"]),
    ("rated_W = 21.0", 'rated_W = "21"', ["part L", "rated_W", "number"]),
    ("rated_W = 21.0", "rated_W = 21.0\npath_ohm = 3.0", ["part L", "path_ohm"]),
    ('input = "light"', "", ["part S", "input"]),
    ('kind = "lamp"', 'kind = "lamp"\ninput = "light"', ["part L", "has no input"]),
    ("light = true", "light = 1", ["states.on", "light", "true or false"]),
    ("light = true", "", ["states.on", "light is missing"]),
    ("light = true", "light = true\nfog = true", ["states.on", "unknown input 'fog'"]),
    ('to = "S.a"', 'to = "Q.a"', ["wire W1", "to", "unknown part"]),
    ('to = "S.a"', 'to = "S.c"', ["wire W1", "to", "no terminal", "a, b"]),
    ('to = "S.a"', 'to = "X9"', ["W1", "to", "dangling"]),
    ('to = "L.a"', 'to = "S.a"', ["part L", "no wire at terminal a"]),
    ('to = "S.a"', 'to = "B.plus"', ["wire W1", "both ends"]),
    ("size_mm2 = 2.5", "size_mm2 = 2.6", ["wire W1", "size_mm2", "2.5"]),
    ("length_m = 1.0", "length_m = 0", ["wire W1", "length_m"]),
    ("circuit = 11", "circuit = 10", ["wire W2", "duplicate number", "10"]),
    ("circuit = 11", "circuit = 1.5", ["wire W2", "circuit", "whole number"]),
    ("number = 1\n", "number = 0\n", ["test_point", "number"]),
    ("number = 1\n", 'number = 1\nat = "L.b"\n[[test_point]]\nnumber = 1\n',
     ["test_point 1", "used twice"]),
    ('at = "L.a"', 'at = "L.x"', ["test_point 1", "at", "L.x"]),
    ("[[test_point]]", SECOND_BATTERY + "[[test_point]]", ["two supplies tied", "B2"]),
    ("emf_V = 12.0", "emf_V = 12.0 V", ["not valid TOML"]),
    ("[states.off]\nlight = false\n[states.on]\nlight = true\n", "", ["states"]),
])
def test_refusals_name_file_key_and_reason(old, new, words):
    said = refusal(old, new)
    assert said.startswith("small.toml: ")
    assert all(word in said for word in words), said
    assert "\n" not in said


def test_a_file_that_is_not_there_or_has_no_such_name(tmp_path):
    with pytest.raises(InputError, match=r"no circuit 'fans'.*three-relay-fans"):
        load_circuit("fans")
    with pytest.raises(InputError, match="cannot be read"):
        load_circuit(tmp_path / "none.toml")
    (tmp_path / "bad.toml").write_bytes(b"\xff\xfe")
    with pytest.raises(InputError, match="UTF-8"):
        load_circuit(tmp_path / "bad.toml")
    (tmp_path / "small.toml").write_text(GOOD, "utf-8")
    assert load_circuit(tmp_path / "small.toml").name == "small"


@pytest.mark.parametrize(("size_mm2", "ohm_per_km"), [
    (0.5, 39.0), (0.75, 26.0), (1.0, 19.5), (1.5, 13.3), (2.5, 7.98), (4.0, 4.95), (6.0, 3.30),
])
def test_wire_table(size_mm2, ohm_per_km):
    """IEC 60228, class 5, plain copper, 20 °C."""
    assert wire_resistance(size_mm2, 1000.0 - 1e-9) == pytest.approx(ohm_per_km, rel=1e-9)


def test_a_wire_is_two_joints_and_its_conductor():
    wire = parse_circuit(GOOD, "small.toml").wires["W1"]
    assert wire.resistance_ohm == pytest.approx(2 * 0.002 + 7.98e-3)
    with pytest.raises(InputError, match="sizes are"):
        wire_resistance(3.0, 1.0)
    with pytest.raises(InputError, match="length"):
        wire_resistance(2.5, -1.0)
