"""Sealed benches: the same readings as the model, nothing of the fault, and every change shows."""

import gzip
import json
import random

import pytest

from coldbench.bench import Bench, catalogue, load_bench, open_sealed, seal
from coldbench.bench.repairs import repair_of
from coldbench.bench.seal import BOXES, canonical, packed
from coldbench.bench.sealed import SealedBench, unpacked
from coldbench.bench.sealed_tables import applied, difference
from coldbench.bench.session import Session
from coldbench.bench.source import ModelSource, bench_ways
from coldbench.errors import InputError

BLUE = load_bench("blue")
KEY = b"a key of the instructor's own"
# One fault of each family: bench, fault, and the states it is sealed in.
SEALED = {
    "refrigerant": ("quay", "undercharge=0.9", None),
    "electrical": ("blue", "K1:coil_open", ("gentle cooling", "off")),
    "sensor": ("quay", "RT21:open", None),
    "control": ("quay", "head:dead", None),
}


class Pair:
    """A session at the model and one at the sealed file, used alike."""

    def __init__(self, model: Session, sealed: Session, fault: str, bench: Bench) -> None:
        self.model, self.sealed, self.fault, self.bench = model, sealed, fault, bench
        self.wiring = bench.circuit

    def alike(self, use):
        """The model's `Taken`, once the sealed one is the same in every respect."""
        one, other = use(self.model), use(self.sealed)
        assert other.words == one.words
        assert (other.minutes, other.refused, other.reasons) == (
            one.minutes, one.refused, one.reasons)
        assert repr(other.values) == repr(one.values)  # nan stands for a reading that wanders
        return one

    def go(self, state):
        for session in (self.model, self.sealed):
            session.set_state(state)


@pytest.fixture(scope="module", params=SEALED)
def sealed(request):
    """Fault, states, content of the file, and the model's source."""
    name, fault, states = SEALED[request.param]
    bench = load_bench(name)
    data = seal(bench, [fault], states, KEY)
    return (fault, states or tuple(bench.states), data, unpacked(data, "x.sealed"),
            ModelSource(bench, [fault]))


@pytest.fixture
def pair(sealed):
    fault, states, _, content, source = sealed
    return Pair(Session(source, states[0]), SealedBench(content).session(), fault, source.bench)


def some(things, count, seed=7):
    things = list(things)
    return random.Random(seed).sample(things, min(count, len(things)))


def test_every_instrument_shows_the_same_in_every_state(sealed, pair):
    for state in sealed[1]:
        pair.go(state)
        for use in (lambda s: s.look(), lambda s: s.gauges(), lambda s: s.codes(),
                    lambda s: s.live(), lambda s: s.recover(), lambda s: s.leak_search(),
                    lambda s: s.sight_glass(), lambda s: s.scope(s.outfit.supply),
                    lambda s: s.anemometer("condenser"), lambda s: s.anemometer("vent")):
            pair.alike(use)
        for place in pair.model.outfit.pipes:
            pair.alike(lambda s, place=place: s.pipe(place))
        for place in pair.model.outfit.vents:
            pair.alike(lambda s, place=place: s.vent(place))


def test_meter_and_scope_show_the_same_between_any_two_places(sealed, pair):
    rows = random.Random(11)
    for state in sealed[1]:
        pair.go(state)
        for _ in range(150):
            red, black = rows.sample(pair.wiring.nodes, 2)
            for use in (lambda s, r=red, b=black: s.meter("volts", r, b),
                        lambda s, r=red, b=black: s.meter("ohms", r, b),
                        lambda s, r=red, b=black: s.scope(r, b)):
                pair.alike(use)
        for number in pair.wiring.test_points:
            pair.alike(lambda s, n=number: s.meter("volts", n))


def test_currents_and_lamp_show_the_same(sealed, pair):
    for state in sealed[1]:
        pair.go(state)
        for name in pair.model.outfit.branches:
            pair.alike(lambda s, n=name: s.clamp(n))
        for red, black in some(bench_ways(pair.bench), 40):
            pair.alike(lambda s, r=red, b=black: s.meter("amps", r, b))
        for number in some(pair.wiring.test_points, 15):
            pair.alike(lambda s, n=number: s.lamp(n))
            pair.alike(lambda s, n=number: s.lamp(s.outfit.supply, n))
        pair.alike(lambda s: s.meter("amps", s.outfit.supply))


def test_actuator_tests_show_the_same(sealed, pair):
    held = sealed[3]["benches"][0]["tests"]
    for state in sealed[1]:
        pair.go(state)
        for what in pair.model.outfit.tests if state in held or state == "off" else ():
            pair.alike(lambda s, w=what: s.actuate(w))
        if (state not in held and pair.bench.states[state].ignition
                and pair.fault != "head:dead"):  # a dead head answers no test anywhere
            assert "actuator tests are held for" in pair.sealed.actuate("fans off").refused
    assert held


def test_sensor_boxes_show_the_same(sealed, pair):
    pair.go("off")
    assert "one sensor box at a time" in pair.sealed.substitute("cabin", 0.0).refused
    state = next(s for s in sealed[1] if pair.bench.states[s].running)
    points = some(pair.wiring.test_points, 6)
    pair.go(state)
    for name, one in pair.model.outfit.sensors.items():
        for value in BOXES[one["unit"]]:
            pair.alike(lambda s, n=name, v=value: s.substitute(n, v))
            for use in (lambda s: s.gauges(), lambda s: s.live(), lambda s: s.codes(),
                        lambda s: s.look(), lambda s: s.clamp(s.outfit.fans[0]),
                        *(lambda s, n=number: s.meter("volts", n) for number in points)):
                pair.alike(use)
        pair.alike(lambda s, n=name: s.substitute(n, None))
    refused = pair.sealed.substitute("pressure", 777.0).refused
    assert refused == ("not with this sealed bench: the sensor box for pressure can be set to "
                       "150, 1000, 2900 kPa")


def test_parts_off_their_wires_show_the_same(sealed, pair):
    pair.go("off")
    for part in ("K1", "M1", "CL", *some(sorted(
                pair.wiring.parts.keys() & set(pair.model.outfit.pluggable)), 5)):
        pair.alike(lambda s, p=part: s.unplug(p))
        own = pair.wiring.parts[part].nodes
        for number, red in enumerate(own):
            for black in own[:number]:
                pair.alike(lambda s, r=red, b=black: s.meter("ohms", r, b))
        pair.alike(lambda s, p=part: s.plug(p))


def test_what_the_file_does_not_hold_is_refused_plainly(pair):
    session = pair.sealed
    session.set_state("off")
    session.unplug("M1")
    for taken in (session.gauges(), session.meter("volts", 5), session.meter("ohms", 3, 4)):
        assert taken.refused.startswith("not with this sealed bench: ")
    assert not session.plug("M1").refused
    assert "battery" not in session.lamp(3, 4).refused
    assert session.lamp(3, 4).refused.startswith("not with this sealed bench: clip the test lamp")


def test_the_repair_is_confirmed_and_a_wrong_one_is_not(sealed, pair):
    part = repair_of(pair.bench, pair.fault)
    pair.go("off")
    pair.alike(lambda s: s.replace("evaporator"))
    assert pair.sealed.confirm().values["states off"].value > 0
    pair.alike(lambda s: s.replace(part))
    assert pair.sealed.confirm().values["states off"].value == 0
    for state in sealed[1]:
        pair.go(state)
        for use in (lambda s: s.gauges(), lambda s: s.live(), lambda s: s.codes(),
                    lambda s: s.meter("volts", 5), lambda s: s.clamp("B")):
            pair.alike(use)
    assert "after a replacement" in pair.sealed.lamp(3).refused


# --- what is in the file -----------------------------------------------------------------------------
def test_the_file_names_no_fault(sealed):
    fault, states, data, content, _ = sealed
    text = gzip.decompress(data).decode()
    mode = fault.rpartition(":")[2].partition("=")[0]
    readings = canonical({key: one for key, one in content.items()
                          if key not in ("outfit", "nodes", "ways", "currents")}).decode()
    for word in (mode, "fault", "healthy", *(one.id for one in catalogue(sealed[4].bench))):
        assert f'"{word}"' not in readings, word
    assert fault not in text and len(data) < 1_000_000
    assert [len(one) for one in content["repairs"]] == [3]
    assert set(content["benches"][0]["states"]) == set(states)


def test_names_stand_in_a_sealed_bench_as_in_every_other(sealed):
    """What the files of different faults name is the same, so no name tells anything."""
    content = sealed[3]
    outfit = json.loads(canonical(ModelSource(sealed[4].bench, ()).outfit.as_dict()))
    assert content["outfit"] == outfit | {"states": list(sealed[1])}
    assert content["nodes"] == list(sealed[4].bench.circuit.nodes)
    assert content["currents"] == [*sealed[4].bench.circuit.parts, *sealed[4].bench.circuit.wires]
    assert len(content["ways"]) == len(bench_ways(sealed[4].bench))


# --- tampering ---------------------------------------------------------------------------------------
def test_a_changed_reading_is_told_in_one_sentence(sealed, tmp_path):
    plain = gzip.decompress(sealed[2])
    at = plain.index(b'"gauge high":') + len(b'"gauge high":')
    changed = plain[:at] + (b"9" if plain[at:at + 1] != b"9" else b"8") + plain[at + 1:]
    path = tmp_path / "bench-7.sealed"
    path.write_bytes(gzip.compress(changed))
    with pytest.raises(InputError) as told:
        open_sealed(path)
    assert str(told.value) == ("bench-7.sealed was changed after it was sealed, so its readings "
                               "cannot be believed; ask for the file again")


def test_a_file_changed_and_sealed_again_does_not_bear_the_signature(sealed):
    content = json.loads(canonical(sealed[3]))
    content["benches"][0]["off"] = []
    again = packed(content, None)
    assert unpacked(again, "x.sealed")  # without the key nobody can tell
    with pytest.raises(InputError, match="does not bear the signature of this key"):
        unpacked(again, "x.sealed", KEY)
    assert unpacked(sealed[2], "x.sealed", KEY)


@pytest.mark.parametrize("data", [
    b"", b"PK\x03\x04", gzip.compress(b"[]\n{}"), gzip.compress(b'{"format": "else"}\n{}'),
    gzip.compress(b"\xff\xfe\n")], ids=["empty", "zip", "list", "other format", "no text"])
def test_what_is_no_sealed_bench_is_told_so(data, tmp_path):
    path = tmp_path / "x.sealed"
    path.write_bytes(data)
    with pytest.raises(InputError, match="is not a sealed bench, or it is damaged"):
        open_sealed(path)


def test_a_cut_file_another_version_and_no_file_are_told(sealed, tmp_path):
    with pytest.raises(InputError, match="damaged|was changed"):
        unpacked(sealed[2][:5000], "x.sealed")
    head, _, text = gzip.decompress(sealed[2]).partition(b"\n")
    later = json.dumps(json.loads(head) | {"version": 99}).encode()
    with pytest.raises(InputError, match="version 99"):
        unpacked(gzip.compress(later + b"\n" + text), "x.sealed")
    with pytest.raises(InputError, match=r"none\.sealed cannot be read"):
        open_sealed(tmp_path / "none.sealed")


def test_what_cannot_be_sealed_is_told():
    with pytest.raises(InputError, match="has no state 'flying'"):
        seal(BLUE, [], ["flying"])
    with pytest.raises(InputError, match="faults of 4 parts"):
        seal(BLUE, ["K1:coil_open", "K2:coil_open", "K3:coil_open", "head:dead"], ["off"])


def test_differences_bring_back_what_was_there():
    one = {"a": [1, 2, 3], "b": {"x": 1, "y": 2}, "c": 1, "d": [1]}
    other = {"a": [1, 5, 3], "b": {"x": 1, "z": 4}, "e": "new", "d": [1, 2]}
    assert applied(one, difference(one, other)) == other
    assert applied(other, difference(other, one)) == one
    assert difference(one, one) == {}
