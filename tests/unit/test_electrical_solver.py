"""Operating points against results by hand; relays in sequence; fuses; refusals."""

import math

import numpy as np
import pytest

from coldbench.electrical import (
    load_circuit,
    parse_circuit,
    solve,
    solve_batch,
    solve_sequence,
)
from coldbench.electrical.fuses import fuse_words
from coldbench.electrical.newton import MOST_STEPS
from coldbench.errors import ConvergenceError, InputError


def build(parts: dict[str, str], wires: list[str], inputs: str = ""):
    """A circuit from part lines and "from to" pairs; wires of 1 m, 6 mm² (7.3 mΩ each)."""
    text = ['name = "bench"', 'title = "bench"', 'ground = "B.minus"', "[states.rest]"]
    text += [name.replace("=", " = ") if "=" in name else f"{name} = false"
             for name in inputs.split()]
    for name, lines in parts.items():
        text += ["[[part]]", f'id = "{name}"', *lines.split(";")]
    for n, ends in enumerate(wires):
        start, end = ends.split()
        text += ["[[wire]]", f'id = "W{n}"', f'from = "{start}"', f'to = "{end}"',
                 "size_mm2 = 6.0", "length_m = 1.0"]
    return parse_circuit("\n".join(text), "bench.toml")


WIRE = 2 * 0.002 + 3.30e-3
BATTERY = 'kind = "source";emf_V = 12.0;resistance_ohm = 0.01'


def resistor(ohm: float) -> str:
    return f'kind = "resistor";resistance_ohm = {ohm}'


def test_two_resistors_in_series_divide_the_voltage():
    circuit = build({"B": BATTERY, "R1": resistor(3.0), "R2": resistor(6.0)},
                    ["B.plus R1.a", "R1.b R2.a", "R2.b B.minus"])
    found = solve(circuit, "rest")
    amps = 12.0 / (0.01 + 3.0 + 6.0 + 3 * WIRE)
    assert found.currents["R1"] == pytest.approx(amps, rel=1e-10)
    assert found.currents["B"] == pytest.approx(amps, rel=1e-10)
    assert found.voltage("R2.a") == pytest.approx(amps * (6.0 + WIRE), rel=1e-10)


def test_two_resistors_in_parallel_share_the_current():
    circuit = build({"B": BATTERY, "R1": resistor(3.0), "R2": resistor(6.0)},
                    ["B.plus S1", "S1 R1.a", "S1 R2.a", "R1.b S2", "R2.b S2", "S2 B.minus"])
    found = solve(circuit, "rest")
    first, second = 3.0 + 2 * WIRE, 6.0 + 2 * WIRE
    amps = 12.0 / (0.01 + 2 * WIRE + first * second / (first + second))
    assert found.currents["B"] == pytest.approx(amps, rel=1e-10)
    assert found.currents["R1"] / found.currents["R2"] == pytest.approx(second / first)


def test_a_lamp_takes_its_rating_and_is_cold_when_dark():
    circuit = build({"B": 'kind = "source";emf_V = 12.0;resistance_ohm = 0.0001',
                     "L": 'kind = "lamp";rated_W = 21.0'}, ["B.plus L.a", "L.b B.minus"])
    found = solve(circuit, "rest")
    assert found.currents["L"] * 12.0 == pytest.approx(21.0, rel=0.01)
    _, ohm = solve(circuit, "rest", ["W0:open"]).thevenin("L.a", "L.b")
    assert ohm == pytest.approx(0.1 * 12.0**2 / 21.0, rel=1e-6)


def test_a_motor_balances_voltage_and_torque():
    circuit = build({"B": BATTERY, "M": 'kind = "motor";winding_ohm = 0.2;k_V_s = 0.04;'
                     "friction_N_m = 0.08;viscous_N_m_s = 2e-5;drag_N_m_s2 = 8e-6"},
                    ["B.plus M.plus", "M.minus B.minus"])
    found = solve(circuit, "rest")
    volts = found.voltage("M.plus") - found.voltage("M.minus")
    speed = found.motors["M"].rpm * math.pi / 30.0
    amps = found.currents["M"]
    assert volts == pytest.approx(0.2 * amps + 0.04 * speed, rel=1e-9)
    assert 0.04 * amps == pytest.approx(0.08 + 2e-5 * speed + 8e-6 * speed**2, rel=1e-9)
    assert found.motors["M"].state == "running"
    stalled = solve(circuit, "rest", ["M:stalled"])
    assert stalled.currents["M"] == pytest.approx(12.0 / (0.21 + 2 * WIRE), rel=1e-9)
    assert stalled.motors["M"] == (0.0, "stalled") and "M is stalled" in stalled.notes


def test_a_motor_connected_backwards_turns_backwards():
    motor = 'kind = "motor";winding_ohm = 0.2;k_V_s = 0.04;friction_N_m = 0.08'
    forward, backward = (
        solve(build({"B": BATTERY, "M": motor}, wires), "rest") for wires in (
            ["B.plus M.plus", "M.minus B.minus"], ["B.plus M.minus", "M.plus B.minus"]))
    assert backward.motors["M"].rpm == pytest.approx(-forward.motors["M"].rpm)
    assert backward.currents["M"] == pytest.approx(-forward.currents["M"])


def test_a_diode_passes_one_way():
    parts = {"B": BATTERY, "D": 'kind = "diode"', "R": resistor(11.15)}
    forward = solve(build(parts, ["B.plus D.a", "D.k R.a", "R.b B.minus"]), "rest")
    drop = forward.voltage("D.a") - forward.voltage("D.k")
    assert drop == pytest.approx(0.85, abs=0.001)  # 0.85 V at 1 A
    back = solve(build(parts, ["B.plus D.k", "D.a R.a", "R.b B.minus"]), "rest")
    assert abs(back.currents["D"]) < 1e-7


def test_a_limited_reference_holds_its_current_into_a_short():
    parts = {"B": BATTERY, "V": 'kind = "reference";source_A = 0.2;resistance_ohm = 0.1',
             "R": resistor(1000.0), "R2": resistor(1000.0)}
    circuit = build(parts, ["V.out R.a", "R.b B.minus", "V.ground B.minus", "B.plus R2.a",
                            "R2.b B.minus"])
    assert solve(circuit, "rest").voltage("V.out") == pytest.approx(5.0, abs=0.002)
    short = solve(circuit, "rest", ["W0:short_to_ground"])
    assert short.currents["V"] == pytest.approx(0.2, rel=1e-3)
    high = solve(circuit, "rest", ["W0:short_to_supply"])
    assert high.voltage("V.out") == pytest.approx(12.0, abs=0.02)


def test_a_control_unit_without_ground_is_told():
    parts = {"B": BATTERY, "E": 'kind = "logic_input"', "S": 'kind = "switch";input = "on"',
             "R": resistor(100.0)}
    circuit = build(parts, ["E.pin S.a", "S.b B.minus", "E.ground B.minus", "B.plus R.a",
                            "R.b B.minus"], "on")
    closed = solve(circuit, {"on": True})
    assert closed.voltage("E.pin") < 0.1 and not closed.notes
    assert solve(circuit, {}).voltage("E.pin") == pytest.approx(5.0, abs=0.1)
    lost = solve(circuit, {"on": True}, ["W2:open"])
    assert any(note.startswith("E has lost its ground") for note in lost.notes)


def test_a_potentiometer_is_two_resistors_and_a_wiper():
    parts = {"B": BATTERY, "P": 'kind = "potentiometer";track_ohm = 1000.0;wiper_ohm = 50.0',
             "R": resistor(2000.0)}
    circuit = build(parts, ["B.plus P.a", "P.b B.minus", "P.wiper R.a", "R.b B.minus"])
    found = solve(circuit, "rest", inputs={"P.position": 0.25})
    upper, lower = 751.0 + WIRE + 0.01, 251.0 + WIRE
    across = 1.0 / (1.0 / lower + 1.0 / (50.0 + 2000.0 + 2 * WIRE))
    tap = 12.0 * across / (across + upper)
    assert found.voltage("R.a") == pytest.approx(
        tap * (2000.0 + WIRE) / (2050.0 + 2 * WIRE), rel=1e-9)


def test_a_pulse_width_driver_gives_a_share_of_its_supply_and_keeps_energy():
    parts = {"B": BATTERY, "P": 'kind = "pwm_driver";input = "fan";on_ohm = 0.05',
             "R": resistor(2.0)}
    circuit = build(parts, ["B.plus P.supply", "P.ground B.minus", "P.out R.a", "R.b B.minus"],
                    "fan=0.0")
    assert circuit.inputs == {"fan": "duty"}
    found = solve(circuit, {"fan": 0.4})
    v, i = found.voltages, found.terminal_currents
    ideal = 0.4 * v["P.supply"] + 0.6 * v["P.ground"]
    assert v["P.out"] == pytest.approx(ideal + 0.05 * i["P.out"], rel=1e-9)
    taken = sum(v[f"P.{end}"] * i[f"P.{end}"] for end in ("supply", "ground", "out"))
    assert taken == pytest.approx(0.05 * i["P.out"] ** 2, rel=1e-6)  # its own loss alone
    assert i["P.supply"] == pytest.approx(0.4 * found.currents["R"], rel=1e-9)
    assert abs(solve(circuit, {"fan": 0.0}).currents["R"]) < 1e-9
    assert solve(circuit, {"fan": 0.0}, ["P:stuck_full"]).currents["R"] > 5.0


RELAY = 'kind = "relay";coil_ohm = 90.0;operate_V = 7.2;release_V = 1.8'


def relay_bench(emf: float = 12.0, suppression: str = "none"):
    parts = {"B": f'kind = "source";emf_V = {emf};resistance_ohm = 0.01',
             "S": 'kind = "switch";input = "on"', "K": f'{RELAY};suppression = "{suppression}"',
             "R": resistor(10.0)}
    return build(parts, ["B.plus S1", "S1 S.a", "S.b K.86", "K.85 B.minus", "S1 K.30",
                         "K.87 R.a", "R.b B.minus"], "on")


def test_a_relay_has_hysteresis_in_its_coil_current():
    circuit = relay_bench()
    low, middle, high = ({"B.emf_V": volts} for volts in (1.7, 4.0, 12.0))
    on = {"on": True}
    assert solve(circuit, on, inputs=high).relays["K"] == "energised"
    assert solve(circuit, on, inputs=middle).relays["K"] == "released"
    before = solve(circuit, on, inputs=high)
    assert solve(circuit, on, previous=before, inputs=middle).relays["K"] == "energised"
    assert solve(circuit, on, previous=before, inputs=low).relays["K"] == "released"


def test_a_latching_circuit_remembers_in_a_sequence():
    """The relay holds itself through its own contact once the push button closed it."""
    parts = {"B": BATTERY, "S": 'kind = "switch";input = "push"', "K": RELAY,
             "R": resistor(10.0)}
    circuit = build(parts, ["B.plus S1", "S1 S.a", "S.b S2", "S2 K.86", "K.85 B.minus",
                            "S1 K.30", "K.87 S3", "S3 S2", "S3 R.a", "R.b B.minus"], "push")
    rest, pushed, after = solve_sequence(circuit, [{}, {"push": True}, {}])
    assert [s.relays["K"] for s in (rest, pushed, after)] == ["released", "energised", "energised"]
    together = solve_batch(circuit, [{"settings": {}}, {"settings": {}, "previous": pushed}])
    assert [s.relays["K"] for s in together] == ["released", "energised"]


def buzzer():
    """A relay whose own break contact feeds its coil."""
    return build({"B": BATTERY, "K": RELAY, "R": resistor(10.0)},
                 ["B.plus S1", "S1 K.30", "K.87a K.86", "K.85 B.minus", "S1 R.a", "R.b B.minus"])


def test_a_buzzing_relay_is_reported_with_the_voltages_of_its_released_state():
    found = solve(buzzer(), "rest")
    assert found.relays == {"K": "buzzing"} and found.buzzing == {"K"}
    assert any(note.startswith("K buzzes") for note in found.notes)
    assert found.voltage("K.86") == pytest.approx(12.0, abs=0.1)  # break contact closed
    assert solve(buzzer(), "rest", ["K:coil_open"]).relays == {"K": "released"}
    both = solve_batch(buzzer(), [("rest", ()), ("rest", ["K:coil_open"])])
    assert [s.relays["K"] for s in both] == ["buzzing", "released"]


@pytest.mark.parametrize(("fault", "closed", "coil"), [
    ("K:coil_open", False, "released"), ("K:coil_shorted", False, "released"),
    ("K:missing", False, "released"), ("K:contacts_open", False, "energised"),
    ("K:contacts_burnt", True, "energised"), ("K:contacts_welded", True, "energised"),
])
def test_relay_faults_when_switched_on(fault, closed, coil):
    found = solve(relay_bench(), {"on": True}, [fault])
    assert found.relays["K"] == coil
    assert (found.currents["R"] > 0.5) == closed


def test_welded_contacts_stay_closed_with_the_coil_off():
    found = solve(relay_bench(), {"on": False}, ["K:contacts_welded"])
    assert found.relays["K"] == "released" and found.currents["R"] > 1.0


def test_a_suppression_diode_blocks_unless_the_coil_is_turned_round():
    right = solve(relay_bench(suppression="diode"), {"on": True})
    assert abs(right.currents["K.suppression"]) < 1e-6
    assert right.currents["K.coil"] == pytest.approx(12.0 / 90.0, rel=1e-2)


def test_fuses_tell_their_load_and_open_on_request():
    parts = {"B": BATTERY, "F": 'kind = "fuse";rating_A = 5.0', "R": resistor(1.0),
             "F2": 'kind = "fuse";rating_A = 30.0', "R2": resistor(10.0)}
    circuit = build(parts, ["B.plus S1", "S1 F.a", "F.b R.a", "R.b B.minus", "S1 F2.a",
                            "F2.b R2.a", "R2.b B.minus"])
    found = solve(circuit, "rest")
    assert found.fuses["F"].load_share == pytest.approx(2.3, abs=0.1)
    assert found.fuses["F"].words == "opens within 0.15–5 s"
    assert found.fuses["F2"].words == "" and found.overloaded == ("F",) and not found.blown
    after = solve(circuit, "rest", after_fuses=True)
    assert after.blown == ("F",) and after.currents["R"] == pytest.approx(0.0, abs=1e-9)
    assert after.currents["R2"] > 1.0


def test_of_two_fuses_in_a_row_the_more_loaded_opens_and_spares_the_other():
    """12 V over about 0.6 ohm: 20 A, twice what F carries and half as much again as FM's 13 A."""
    parts = {"B": BATTERY, "FM": 'kind = "fuse";rating_A = 13.0',
             "F": 'kind = "fuse";rating_A = 10.0', "R": resistor(0.5)}
    circuit = build(parts, ["B.plus FM.a", "FM.b F.a", "F.b R.a", "R.b B.minus"])
    found = solve(circuit, "rest")
    assert set(found.overloaded) == {"FM", "F"} and found.opens_first == "F"
    assert solve(circuit, "rest", after_fuses=True).blown == ("F",)


def test_fuse_bands():
    """Bands of blade fuses, from memory; types differ."""
    assert [fuse_words(share) for share in (1.1, 1.35, 2.0, 3.5, 6.0)] == [
        "", "opens within 0.75–600 s", "opens within 0.15–5 s", "opens within 0.04–0.5 s",
        "opens within 0.02–0.1 s"]


def test_a_floating_node_has_a_source_resistance_above_a_megohm():
    circuit = load_circuit("three-relay-fans")
    found = solve(circuit, "off", ["K2:break_contact_open", "K1:missing"])
    assert found.source_ohms["M1.plus"] > 1e6 and found.thevenin("M1.plus")[1] > 1e6
    assert found.source_ohms["B.plus"] < 1.0


@pytest.mark.parametrize(("arguments", "words"), [
    ({"settings": "fast"}, "no state 'fast'"),
    ({"settings": {"turbo": True}}, "unknown input 'turbo'"),
    ({"settings": {"low_request": 1}}, "true or false"),
    ({"settings": "low", "faults": ["K9:open"]}, "no part or wire 'K9'"),
    ({"settings": "low", "faults": ["K1:melted"]}, "no fault 'melted'"),
    ({"settings": "low", "faults": ["K1"]}, "PART:MODE"),
    ({"settings": "low", "faults": ["K1:coil_open=3"]}, "takes no value"),
    ({"settings": "low", "faults": ["W1:high_resistance=-3"]}, "not accepted"),
    ({"settings": "low", "faults": ["W1:high_resistance=lots"]}, "not accepted"),
    ({"settings": "low", "faults": ["W1:high_resistance=nan"]}, "not accepted"),
    ({"settings": "low", "faults": ["W1:crossed"]}, "another wire"),
    ({"settings": "low", "faults": ["W1:crossed=W1"]}, "another wire"),
    ({"settings": "low", "faults": ["W1:open", "W1:open"]}, "given twice"),
    ({"settings": "low", "inputs": {"Q.ohm": 1.0}}, "no part 'Q'"),
    ({"settings": "low", "inputs": {"M1.k": 1.0}}, "M1 has winding_ohm"),
    ({"settings": "low", "inputs": {"M1.winding_ohm": -1.0}}, "winding_ohm"),
])
def test_refusals(arguments, words):
    with pytest.raises(InputError) as refused:
        solve(load_circuit("three-relay-fans"), **arguments)
    assert words in str(refused.value)


def test_a_batch_names_the_case_it_refuses():
    with pytest.raises(InputError, match="case 2: .*no state 'fast'"):
        solve_batch(load_circuit("three-relay-fans"), [("low", ()), ("fast", ())])
    with pytest.raises(InputError, match="case 1: keys are"):
        solve_batch(load_circuit("three-relay-fans"), [{"state": "low"}])
    assert solve_batch(load_circuit("three-relay-fans"), []) == []


def test_no_place_of_that_name():
    found = solve(load_circuit("three-relay-fans"), "low")
    for place in ("K1.99", 999, "999"):
        with pytest.raises(InputError, match="no test point or node"):
            found.voltage(place)


def test_a_solution_that_does_not_settle_raises(monkeypatch):
    """A law that falls again has no business here: the steps never end, and that is said."""
    from coldbench.electrical import laws

    def swinging(v, *own):
        return np.cos(1e7 * v) * 50.0, np.ones_like(v)

    monkeypatch.setitem(laws.CURVED, "motor", (swinging, 5))
    with pytest.raises(ConvergenceError, match=str(MOST_STEPS)):
        solve(load_circuit("three-relay-fans"), "high")
