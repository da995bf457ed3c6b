"""The shipped circuits of the blue bench: healthy figures, what each relay does, hand results.

Healthy figures (low 6.3 A with 6.7 V on each fan, high about 17 A each) are the bench's own
design values. Two fans on three relays, in series for low and each on full supply for high:
common practice.
"""

import itertools
import math

import pytest

from coldbench.electrical import load_circuit, parse_fault, solve, solve_sequence
from coldbench.electrical.instruments import voltmeter

FANS = load_circuit("three-relay-fans")
RELAYS = ("K1", "K2", "K3")


def fan_volts(solution, fan: str) -> float:
    """Voltage across a fan [V]."""
    return solution.voltage(f"{fan}.plus") - solution.voltage(f"{fan}.minus")


def wire_from(circuit, start: str, end: str | None = None) -> str:
    """Id of the wire that starts (and ends) there."""
    found, = (name for name, wire in circuit.wires.items()
              if wire.start == start and end in (None, wire.end))
    return found


# --- healthy figures ------------------------------------------------------------------------


def test_off_nothing_turns():
    off = solve(FANS, "off")
    assert set(off.relays.values()) == {"released"}
    assert {m.state for m in off.motors.values()} == {"stopped"}
    assert off.voltage("S1") == pytest.approx(13.8, abs=0.02)


def test_low_both_fans_in_series():
    low = solve(FANS, "low")
    assert low.relays == {"K1": "energised", "K2": "released", "K3": "released"}
    for fan in ("M1", "M2"):
        assert low.currents[fan] == pytest.approx(6.3, abs=0.05)
        assert fan_volts(low, fan) == pytest.approx(6.7, abs=0.1)
    assert low.currents["F2"] == pytest.approx(0.0, abs=1e-9)


def test_high_each_fan_on_full_supply():
    high = solve(FANS, "high")
    assert high.relays == dict.fromkeys(RELAYS, "energised")
    for fan, fuse in (("M1", "F1"), ("M2", "F2")):
        assert high.currents[fan] == pytest.approx(17.0, abs=0.4)
        assert fan_volts(high, fan) > 12.5
        assert high.currents[fuse] == pytest.approx(high.currents[fan], rel=1e-9)


def test_speed_in_high_is_well_above_low():
    low, high = solve(FANS, "low"), solve(FANS, "high")
    assert 1.5 < high.motors["M1"].rpm / low.motors["M1"].rpm < 2.0


def test_no_wire_drops_more_than_a_healthy_joint_may():
    """Common practice: no more than 0.2 V on a single healthy wire under load."""
    high = solve(FANS, "high")
    for name, wire in FANS.wires.items():
        assert abs(high.voltage(wire.start) - high.voltage(wire.end)) < 0.2, name


def test_every_circuit_has_its_test_points():
    for name in ("three-relay-fans", "clutch", "blower", "supply"):
        assert len(load_circuit(name).test_points) >= 12


# --- what each relay does: all eight positions ----------------------------------------------

# (K1, K2, K3) in their sockets, requests on: what fan 1 and fan 2 do
EXPECTED = {
    (0, 0, 0): ("stopped", "stopped"),
    (1, 0, 0): ("series", "series"),
    (0, 1, 0): ("stopped", "stopped"),
    (0, 0, 1): ("stopped", "full"),
    (1, 1, 0): ("full", "stopped"),
    (1, 0, 1): ("stopped", "full"),
    (0, 1, 1): ("stopped", "full"),
    (1, 1, 1): ("full", "full"),
}


def position(relays: tuple[int, int, int]):
    """High requested, with the relays that are 0 unable to operate."""
    faults = [parse_fault(f"{k}:coil_open") for k, there in zip(RELAYS, relays, strict=True)
              if not there]
    return solve(FANS, "high", faults)


def behaviour(solution, fan: str) -> str:
    """stopped, series or full, from volts and speed alone."""
    volts = fan_volts(solution, fan)
    if solution.motors[fan].rpm == 0.0:
        return "stopped"
    return "full" if volts > 12.0 else "series" if 6.0 < volts < 7.5 else f"{volts} V"


@pytest.mark.parametrize("relays", list(EXPECTED))
def test_truth_table_of_the_relays(relays):
    solution = position(relays)
    assert [solution.relays[k] == "energised" for k in RELAYS] == [bool(r) for r in relays]
    assert (behaviour(solution, "M1"), behaviour(solution, "M2")) == EXPECTED[relays]


def test_relay_2_missing_leaves_fan_1_with_supply_on_both_sides():
    for fault in ("K2:missing", "K2:coil_open"):
        solution = solve(FANS, "high", [fault])
        assert solution.motors["M1"].rpm == 0.0
        for side in ("M1.plus", "M1.minus"):
            reading = voltmeter(solution, side, "B.minus")
            assert reading.value > 13.0
            assert not reading.floating
        assert abs(fan_volts(solution, "M1")) < 0.3
        assert solution.motors["M2"].state == "running"


def test_relay_1_missing_takes_low_speed_away_and_leaves_fan_2_in_high():
    low, high = solve_sequence(FANS, ["low", "high"], ["K1:missing"])
    assert {m.state for m in low.motors.values()} == {"stopped"}
    assert (high.motors["M1"].state, high.motors["M2"].state) == ("stopped", "running")


def test_relay_3_missing_leaves_low_as_it_is_and_stops_fan_2_in_high():
    low, high = solve_sequence(FANS, ["low", "high"], ["K3:missing"])
    assert low.currents["M1"] == pytest.approx(6.3, abs=0.05)
    assert (high.motors["M1"].state, high.motors["M2"].state) == ("running", "stopped")


def test_welded_relay_2_takes_the_series_way_away():
    low = solve(FANS, "low", ["K2:contacts_welded"])
    assert (low.motors["M1"].state, low.motors["M2"].state) == ("running", "stopped")
    assert fan_volts(low, "M1") > 12.5  # fan 1 runs at full speed in low


@pytest.mark.parametrize("state", ["low", "high"])
@pytest.mark.parametrize("fan", ["M1", "M2"])
def test_a_stalled_fan_never_blows_its_fuse(state, fan):
    solution = solve(FANS, state, [f"{fan}:stalled"])
    assert solution.motors[fan].state == "stalled"
    assert not any(fuse.words for fuse in solution.fuses.values())
    assert any("stalled" in note for note in solution.notes)


def test_states_do_not_depend_on_the_way_there():
    for states in itertools.permutations(["off", "low", "high"]):
        for state, solution in zip(states, solve_sequence(FANS, states), strict=True):
            assert solution.node_volts == pytest.approx(solve(FANS, state).node_volts, abs=1e-9)


# --- hand results ---------------------------------------------------------------------------


def motor_volts(amps: float) -> float:
    """V = R·i + k·omega with k·i = friction + drag·omega²."""
    p = FANS.parts["M1"].parameters
    omega = math.sqrt((p["k_V_s"] * amps - p["friction_N_m"]) / p["drag_N_m_s2"])
    return p["winding_ohm"] * amps + p["k_V_s"] * omega


def path_ohm(*ids: str) -> float:
    """Wires, fuses and contacts in series [ohm]."""
    total = 0.0
    for name in ids:
        if name in FANS.wires:
            total += FANS.wires[name].resistance_ohm
        else:
            p = FANS.parts[name].parameters
            total += p["resistance_ohm"] if "resistance_ohm" in p else p["contact_ohm"]
    return total


def supply() -> tuple[float, float]:
    """Battery and bench supply in parallel, seen from the fuse box: volts and ohm."""
    battery = (FANS.parts["B"].parameters["emf_V"], path_ohm("B", "W1"))
    charger = (FANS.parts["PS"].parameters["emf_V"], path_ohm("PS", "W2", "F4", "W3", "W28"))
    siemens = 1.0 / battery[1] + 1.0 / charger[1]
    return (battery[0] / battery[1] + charger[0] / charger[1]) / siemens, 1.0 / siemens


def balance(volts_needed, volts_there: float) -> float:
    """Current at which a rising voltage need meets what is there, by halving [A]."""
    low, high = 1.0, 60.0
    for _ in range(80):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if volts_needed(middle) < volts_there else (low, middle)
    return low


def test_series_by_hand():
    """One loop: emf = i·(all resistances) + 2·V_motor(i). The coil's current is left out,
    which costs 0.1 %."""
    emf, inner = supply()
    loop = inner + path_ohm("W4", "F1", "W7", "K1", "W9", "W10", "K2", "W11", "W13", "W15",
                            "W16")
    hand = balance(lambda i: i * loop + 2.0 * motor_volts(i), emf)
    low = solve(FANS, "low")
    assert low.currents["M1"] == pytest.approx(hand, rel=1e-3)
    assert fan_volts(low, "M1") == pytest.approx(motor_volts(hand), rel=1e-3)
    assert fan_volts(low, "M1") == pytest.approx(fan_volts(low, "M2"), rel=1e-9)
    power = fan_volts(low, "M1") * low.currents["M1"]
    assert power == pytest.approx(motor_volts(hand) * hand, rel=2e-3)


def test_parallel_by_hand():
    """Two branches on one supply and one ground: each carries half of the shared drop.

    The branches differ by 0.7 %; the hand result takes them as equal and leaves the coils out,
    so it is good to 1 %."""
    emf, inner = supply()
    own = path_ohm("W4", "F1", "W7", "K1", "W9", "W10", "K2", "W14")
    shared = inner + path_ohm("W16")
    hand = balance(lambda i: i * (own + 2.0 * shared) + motor_volts(i), emf)
    high = solve(FANS, "high")
    for fan in ("M1", "M2"):
        assert high.currents[fan] == pytest.approx(hand, rel=1e-2)


# --- clutch, blower, supply -----------------------------------------------------------------


def test_clutch():
    clutch = load_circuit("clutch")
    off, requested, on, trip = (solve(clutch, state) for state in
                                ("off", "requested", "on", "pressure_trip"))
    assert off.voltage("E1.pin") == pytest.approx(4.9, abs=0.1)
    assert requested.voltage("E1.pin") < 0.1
    assert requested.relays["KC"] == "released"
    assert requested.currents["CL"] == pytest.approx(0.0, abs=1e-6)
    # hand: 13.8 V over coil, battery, fuse, contact, switch and about 0.1 ohm of wire
    assert on.currents["CL"] == pytest.approx(13.8 / 3.72, rel=0.01)
    assert (trip.relays["KC"], abs(trip.currents["CL"]) < 1e-6) == ("energised", True)
    assert trip.voltage("SH.a") == pytest.approx(13.8, abs=0.05)
    assert trip.voltage("CL.a") == pytest.approx(trip.voltage("CL.b"), abs=1e-6)


def test_clutch_request_line_open_or_grounded():
    clutch = load_circuit("clutch")
    line = wire_from(clutch, "E1.pin")
    assert solve(clutch, "requested", [f"{line}:open"]).voltage("E1.pin") > 4.8
    assert solve(clutch, "off", [f"{line}:short_to_ground"]).voltage("E1.pin") < 0.1


def test_blower_turns_faster_with_duty():
    blower = load_circuit("blower")
    states = [solve(blower, state) for state in ("off", "low", "medium", "high")]
    speeds = [s.motors["MB"].rpm for s in states]
    assert speeds[0] == 0.0
    assert all(b > a + 200.0 for a, b in itertools.pairwise(speeds))
    assert states[-1].currents["F1"] / 30.0 < 0.8  # common practice: 70–80 % of the rating
    for solution, duty in zip(states[1:], (0.35, 0.6, 1.0), strict=True):
        out = duty * solution.voltage("BM.supply") + (1.0 - duty) * solution.voltage("BM.ground")
        assert solution.voltage("BM.out") == pytest.approx(
            out - 0.012 * solution.currents["MB"], abs=1e-6)


def test_supply_states():
    supply_circuit = load_circuit("supply")
    rest, ignition, running = (solve(supply_circuit, s) for s in ("rest", "ignition", "running"))
    assert rest.voltage("S1") == pytest.approx(12.7, abs=0.05)
    assert ignition.voltage("S1") < rest.voltage("S1") - 0.3  # the battery carries the loads
    assert running.voltage("S1") > 13.2
    assert running.currents["B"] < -20.0  # the battery is charged
    assert (rest.relays["KA"], running.relays["KA"]) == ("released", "energised")
    assert rest.currents["L1"] == pytest.approx(0.72, abs=0.02)


def test_the_engine_ground_carries_everything():
    """A corroded ground lifts the whole climate load above the battery's negative post."""
    supply_circuit = load_circuit("supply")
    healthy = solve(supply_circuit, "ignition")
    strap = wire_from(supply_circuit, "S5", "B.minus")
    bad = solve(supply_circuit, "ignition", [f"{strap}:corroded=0.3"])
    assert healthy.voltage("S5") < 0.2
    # the strap to the engine block takes over part of it
    assert bad.voltage("S5") > healthy.voltage("S5") + 0.05


@pytest.mark.parametrize("name", ["three-relay-fans", "clutch", "blower", "supply"])
def test_healthy_states_keep_the_fuses_and_balance_power(name):
    circuit = load_circuit(name)
    for state in circuit.states:
        solution = solve(circuit, state)
        assert solution.notes == ()
        assert abs(solution.power_balance_W) < 1e-6
        assert all(fuse.load_share < 0.8 for fuse in solution.fuses.values())
