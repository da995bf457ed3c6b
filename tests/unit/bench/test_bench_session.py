"""A session at the blue bench: readings, costs, cautions, and the work that changes the bench."""

import math

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coldbench.bench import load_bench
from coldbench.bench.instruments.refrigerant_side import LEAST_LEAK_kPa
from coldbench.bench.outfit import outfit_from, outfit_of
from coldbench.bench.session import Session
from coldbench.bench.source import ModelSource
from coldbench.bench.standing import Standing, standing_of
from coldbench.bench.uncertainty import usual_minutes
from coldbench.bench.waveform import pulses
from coldbench.electrical import load_circuit, solve
from coldbench.electrical.instruments import all_ways, path_between, scope, way_currents
from coldbench.errors import InputError

BLUE = load_bench("blue")
NODES = st.sampled_from(BLUE.circuit.nodes)
DEAD_RELAY = ["K1:coil_open"]


@pytest.fixture(scope="module")
def sources():
    """Sources that keep what they solved, by their faults."""
    kept = {}

    def of(*faults) -> ModelSource:
        return kept.setdefault(faults, ModelSource(BLUE, faults))
    return of


def value(taken, key=None):
    return next(iter(taken.values.values())).value if key is None else taken.values[key].value


# --- readings are those of the bench ---------------------------------------------------------------
def test_every_instrument_shows_what_the_bench_reads(sources):
    session = Session(sources(*DEAD_RELAY), "full cooling")
    reads = sources(*DEAD_RELAY).scene(session.standing).reading.values
    for taken, keys in ((session.gauges(), ("gauge high", "gauge low")),
                        (session.pipe("suction line"), ("pipe suction line",)),
                        (session.vent("left"), ("vent left",)),
                        (session.anemometer("condenser"), ("condenser flow",)),
                        (session.live(), ("live cabin", "request fans"))):
        for key in keys:
            assert abs(taken.values[key].value - reads[key].value) <= 5.0
            assert taken.values[key].value == pytest.approx(reads[key].value, rel=0.02, abs=0.6)
            assert taken.values[key].unit == reads[key].unit
    assert value(session.meter("volts", 5)) == pytest.approx(reads["tp 5"].value, abs=0.01)
    assert value(session.clamp("MB")) == pytest.approx(reads["current MB"].value, abs=0.051)


def test_readings_stand_on_the_steps_of_their_display(sources):
    session = Session(sources(), "full cooling")
    assert value(session.gauges(), "gauge high") % 10 == 0
    assert value(session.gauges(), "gauge low") % 5 == 0
    shown = value(session.pipe("liquid line"))
    assert shown == round(shown, 1)


def test_eyes_see_the_fan_that_stands_still_and_it_costs_nothing(sources):
    taken = Session(sources(*DEAD_RELAY), "full cooling").look()
    assert taken.values["fan M1"].value == 0.0 and taken.values["fan M2"].value == 2.0
    assert "fan 1 stands still" in taken.words and taken.minutes == 0.0


def test_codes_are_read_with_their_status_and_a_dead_head_does_not_answer(sources):
    broken = Session(sources("RT405:open"), "full cooling").codes()
    assert any(key.startswith("code ") for key in broken.values)
    assert "no codes" in Session(sources(), "full cooling").codes().words
    dead = Session(sources("head:dead"), "full cooling")
    for taken in (dead.codes(), dead.live(), dead.actuate("fans high")):
        assert "does not answer" in taken.words and not taken.refused


def test_live_data_gives_the_head_s_reasons(sources):
    assert any("fans" in words for words in Session(sources(), "full cooling").live().reasons)


def test_an_actuator_test_shows_whether_the_part_obeys(sources):
    sound, broken = (Session(sources(*faults), "key on") for faults in ((), DEAD_RELAY))
    assert value(sound.actuate("fans low"), "fan M1") == 1.0
    assert value(broken.actuate("fans low"), "fan M1") == 0.0
    assert value(sound.actuate("blend left door to 100%"), "door blend left") == 100.0
    still = value(sound.actuate("blower 0%"), "current MB")
    assert still == 0.0 and value(sound.actuate("blower 100%"), "current MB") > 5.0
    assert value(sound.actuate("compressor off"), "clutch") == 0.0


def test_the_weight_recovered_is_the_charge(sources):
    # Severity 1 of "undercharge" leaves 0.3 of the charge (faults.toml).
    whole, short = (value(Session(sources(*f), "off").recover()) for f in ((), ("undercharge=1",)))
    assert whole == pytest.approx(BLUE.parts.right_charge_kg("R134a"), abs=0.006)
    assert short == pytest.approx(0.3 * whole, abs=0.011)


def test_the_leak_detector_sounds_only_at_a_leak(sources):
    assert value(Session(sources("undercharge"), "off").leak_search()) == 1.0
    assert value(Session(sources("overcharge"), "off").leak_search()) == 0.0


def test_bubbles_go_by_when_the_charge_is_low(sources):
    assert value(Session(sources(), "full cooling").sight_glass()) == 0.0
    assert value(Session(sources("undercharge=1"), "full cooling").sight_glass()) == 1.0


# --- the sensor box, and the whole bench answers ---------------------------------------------------
def test_a_box_in_the_sensor_s_place_moves_the_whole_bench(sources):
    session = Session(sources(), "full cooling")
    low = value(session.gauges(), "gauge high")
    session.substitute("pressure", 2900.0)
    assert value(session.live(), "live pressure") == pytest.approx(2900.0, abs=6.0)
    assert value(session.look(), "clutch") == 0.0  # above its limit of 2,800 kPa the head lets go
    assert value(session.gauges(), "gauge high") < low
    session.substitute("pressure", None)
    assert value(session.gauges(), "gauge high") == low


def test_a_box_stands_in_for_a_broken_sensor(sources):
    session = Session(sources("RT405:open"), "full cooling")
    assert "no codes" not in session.codes().words
    session.substitute("evaporator", 8.0)
    assert "no codes" in session.codes().words
    assert value(session.live(), "live evaporator") == pytest.approx(8.0, abs=0.3)


@pytest.mark.parametrize(("name", "value", "told"), [
    ("evaporator", 500.0, "outside"), ("evaporator", math.nan, "not a number"),
    ("evaporator", "warm", "not a number"), ("oil", 1.0, "it has ambient, cabin")])
def test_a_box_takes_only_what_the_sensor_could_be(sources, name, value, told):
    with pytest.raises(InputError, match=told):
        Session(sources(), "full cooling").substitute(name, value)


# --- cautions --------------------------------------------------------------------------------------
@pytest.mark.parametrize(("state", "use", "caution"), [
    ("full cooling", lambda s: s.meter("ohms", 3, 4), "engine and ignition off before the ohmmeter"),
    ("key on", lambda s: s.meter("ohms", 3, 4), "engine and ignition off before the ohmmeter"),
    ("full cooling", lambda s: s.meter("amps", 101, 102), "short circuit"),
    ("full cooling", lambda s: s.lamp(405), "destroy a control unit"),
    ("full cooling", lambda s: s.lamp(1, 401), "destroy a control unit"),
    ("full cooling", lambda s: s.recover(), "switch the drive off first"),
    ("full cooling", lambda s: s.leak_search(), "switch the drive off"),
    ("key on", lambda s: s.leak_search(), "wait until fans and blower stand"),
    ("full cooling", lambda s: s.unplug("M1"), "switch the ignition off before a connector"),
    ("full cooling", lambda s: s.replace("K1"), "switch drive and ignition off"),
    ("off", lambda s: s.codes(), "switch the ignition on"),
    ("off", lambda s: s.actuate("fans high"), "switch the ignition on"),
])
def test_what_is_unsafe_is_refused_with_its_caution_and_costs_nothing(sources, state, use, caution):
    noted = []
    session = Session(sources(), state, noted.append)
    before = session.standing
    taken = use(session)
    assert caution in taken.refused and caution in taken.words
    assert not taken.values and taken.minutes == session.minutes == 0.0
    assert noted == [taken] == session.taken and session.standing == before


def test_a_leak_search_wants_pressure_in_the_system(sources):
    # 340 kPa: SAE J1628, from memory. At 25 °C whatever liquid is left gives 560 kPa.
    cold = ModelSource(BLUE, ["undercharge"], {"ambient_degC": 5.0})
    taken = Session(cold, "off").leak_search()
    assert f"{LEAST_LEAK_kPa:g} kPa" in taken.refused


def test_what_the_workshop_does_not_have_is_refused(sources):
    source = ModelSource(BLUE, ())
    source.outfit = outfit_from({**source.outfit.as_dict(), "leave_out": ["oscilloscope"],
                                 "sight_glass": False})
    session = Session(source, "off")
    assert "no oscilloscope" in session.scope(5).refused
    assert "no sight glass" in session.sight_glass().refused


@pytest.mark.parametrize("use", [
    lambda s: s.pipe("tail pipe"), lambda s: s.vent("roof"), lambda s: s.anemometer("roof"),
    lambda s: s.meter("hertz", 3, 4), lambda s: s.meter("volts", 999), lambda s: s.clamp("Z9"),
    lambda s: s.actuate("horn"), lambda s: s.unplug("Z9"), lambda s: s.replace("Z9"),
    lambda s: s.set_state("flying")])
def test_what_is_not_there_is_an_error_that_lists_what_is(sources, use):
    session = Session(sources(), "off")
    with pytest.raises(InputError, match=r" (is|are|has) "):
        use(session)
    assert not session.taken


# --- costs -----------------------------------------------------------------------------------------
def test_minutes_add_up_as_the_data_file_says(sources):
    session, minutes = Session(sources(), "off"), usual_minutes()
    for _ in range(2):
        session.gauges()
    session.meter("ohms", 3, 4)
    session.replace("K1")
    session.replace("compressor")
    wanted = (2 * minutes["gauges"] + minutes["ohmmeter"] + minutes["replace relay"]
              + minutes["replace refrigerant part"])
    assert session.minutes == wanted == sum(taken.minutes for taken in session.taken)


# --- work ------------------------------------------------------------------------------------------
def test_the_right_part_mends_the_bench_and_a_wrong_one_does_not(sources):
    session = Session(sources(*DEAD_RELAY), "off")
    session.replace("K2")
    assert value(session.confirm()) > 0
    session.replace("k1")  # whatever its capitals
    assert value(session.confirm()) == 0
    session.set_state("full cooling")
    sound = Session(sources(), "full cooling").gauges()
    assert session.gauges().values == sound.values


@pytest.mark.parametrize(("fault", "part"), [
    ("txv-stuck-closed", "expansion valve"), ("air-in-system", "refrigerant charge"),
    ("blend_left:jammed=0.6", "blend left door"), ("head:dead", "control head"),
    ("W9:open", "W9")])
def test_each_family_has_a_part_to_put_right(sources, fault, part):
    session = Session(sources(fault), "off")
    assert not session.replace(part).refused
    assert "as a sound bench in every" in session.confirm().words


def test_a_part_off_its_wires_is_measured_alone(sources):
    session = Session(sources(), "off")
    in_place = value(session.meter("ohms", "K2.86", "K2.85"))
    session.unplug("K2")
    # Coil 88 ohm beside its resistor of 680 ohm; in place the coil of relay 3 lies beside it too.
    assert value(session.meter("ohms", "K2.86", "K2.85")) == pytest.approx(88 * 680 / 768, abs=0.2)
    assert in_place < value(session.meter("ohms", "K2.86", "K2.85"))
    assert "put back what is unplugged" in session.confirm().refused
    session.plug("K2")
    assert value(session.meter("ohms", "K2.86", "K2.85")) == in_place


def test_an_unplugged_motor_stands_still(sources):
    session = Session(sources(), "off")
    session.unplug("M1")
    session.set_state("full cooling")
    assert value(session.look(), "fan M1") == 0.0 and value(session.clamp("M1")) == 0.0


# --- laws ------------------------------------------------------------------------------------------
@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(red=NODES, black=NODES, state=st.sampled_from(["full cooling", "gentle cooling", "off"]))
def test_a_meter_never_shows_more_than_the_supply_and_turns_its_sign_with_the_leads(
        sources, red, black, state):
    session = Session(sources(*DEAD_RELAY), state)
    one, other = session.meter("volts", red, black), session.meter("volts", black, red)
    if "unsteady" in one.words:
        assert "unsteady" in other.words
        return
    assert abs(value(one)) <= 14.6  # the alternator's set voltage, and no more than it
    assert value(one) == -value(other)
    assert one.values["volts"].uncertainty == other.values["volts"].uncertainty


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(red=NODES, black=NODES)
def test_an_ohmmeter_shows_the_same_either_way_round(sources, red, black):
    session = Session(sources(), "off")
    one, other = session.meter("ohms", red, black), session.meter("ohms", black, red)
    assert value(one) == value(other) and value(one) >= 0.0


def test_the_ways_of_the_ammeter_are_those_of_the_clamp_between_two_points():
    fans = solve(load_circuit("three-relay-fans"), "low", ["K1:contacts_burnt=0.5"])
    ways = all_ways(fans)
    amps = dict(zip(ways, way_currents(fans, ways), strict=True))
    nodes = fans.circuit.nodes
    for red in nodes:
        for black in nodes:
            found = path_between(fans, red, black)
            assert (found is None) == ((red, black) not in ways)
            if found:
                assert found == (ways[red, black].names, amps[red, black])


# --- the oscilloscope ------------------------------------------------------------------------------
def test_the_pulses_are_those_of_the_circuit_followed_through_time():
    low = solve(load_circuit("blower"), "low")
    form = pulses(low).waveform("BM.out", "B.minus")
    trace = scope(low, low.settings, [("BM.out", "B.minus")], 3e-4)
    row = trace.values["BM.out–B.minus"]
    # Through time the motor's current rises and falls a little about its mean.
    assert form.highest_V == pytest.approx(row.max(), rel=0.03)
    assert form.lowest_V == pytest.approx(row.min(), abs=0.15)
    assert form.mean_V == pytest.approx(trace.mean("BM.out–B.minus", 1e-4), rel=0.03)


def test_the_scope_shows_pulses_at_part_load_and_a_level_line_else(sources):
    pulsed = Session(sources(), "gentle cooling").scope("BM.out")
    assert pulsed.values["frequency"].value == 10000.0
    assert pulsed.values["high"].value == pytest.approx(35.0, abs=1.0)
    level = Session(sources(), "full cooling").scope("BM.out")
    assert "level line" in level.words
    meter = Session(sources(), "full cooling").meter("volts", "BM.out")
    assert value(level, "mean") == pytest.approx(value(meter), abs=0.011)


# --- plain data ------------------------------------------------------------------------------------
def test_outfit_and_standing_come_back_from_plain_data():
    outfit = outfit_of(BLUE)
    assert outfit_from(outfit.as_dict()) == outfit
    standing = Standing("off", ("M1",), (("cabin", 20.0),), ("K1",))
    assert standing_of(standing.as_dict()) == standing


@pytest.mark.parametrize("table", [
    None, [], {}, {"state": 1}, {"state": "off", "more": 1}, {"state": "off", "unplugged": "M1"},
    {"state": "off", "boxes": {"cabin": "warm"}}, {"state": "off", "replaced": [1]}])
def test_a_standing_from_a_stranger_is_checked(table):
    with pytest.raises(InputError, match="not how a bench stands"):
        standing_of(table)


@pytest.mark.parametrize(("part", "said"), [
    ("PT 401", "did you mean PT401"), ("pressure sensor", "such as refrigerant charge, condenser")])
def test_a_part_of_another_name_gets_a_short_sentence(sources, part, said):
    with pytest.raises(InputError, match=said) as refused:
        Session(sources(), "off").replace(part)
    assert len(str(refused.value)) < 250
