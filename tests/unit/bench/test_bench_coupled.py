"""The coupled bench: one cause shows wherever it really would, at rest and over time."""

import json

import pytest
from typer.testing import CliRunner

from coldbench.bench import load_bench, read, simulate
from coldbench.cli.app import app
from coldbench.errors import InputError

BLUE = load_bench("blue")
HOT = {"ambient_degC": 42.0}


def value(found, key):
    return found.values[key].value


@pytest.mark.parametrize("state", list(BLUE.states))
def test_the_healthy_bench_in_every_state(state):
    found = read(BLUE, state)
    assert found.codes == () and found.outputs is not None or state == "off"
    vents = [value(found, f"vent {zone}") for zone in ("left", "right")]
    if state in ("full cooling", "recirculation"):
        assert value(found, "clutch") == 1 and all(v < 18.0 for v in vents)
        assert value(found, "gauge high") > 1000.0 > value(found, "gauge low")
    if state == "heating":
        assert value(found, "clutch") == 0 and all(v > 24.0 for v in vents)
    if state in ("key on", "off"):
        assert value(found, "gauge high") == pytest.approx(value(found, "gauge low"), abs=1.0)


def test_reading_twice_gives_the_same():
    one, two = (read(load_bench("blue"), "full cooling", ["K1:coil_open"]) for _ in range(2))
    assert one.values == two.values


def test_a_dead_fan_relay_raises_the_head_pressure_through_the_airflow():
    whole, dead = read(BLUE, "full cooling", set=HOT), read(
        BLUE, "full cooling", ["K3:coil_open"], set=HOT)
    assert whole.outputs.fan == dead.outputs.fan == "high"
    assert value(dead, "condenser flow") < 0.75 * value(whole, "condenser flow")
    assert value(dead, "gauge high") > value(whole, "gauge high") + 80.0
    assert value(dead, "vent left") > value(whole, "vent left")
    # the same airflow with sound relays gives the same pressure: no table of symptoms stands behind
    assert dead.loop.conditions.condenser_airflow == pytest.approx(
        value(dead, "condenser flow") / 100.0)


def test_from_a_fan_relay_to_warm_air_by_the_pressure_limit():
    """Fan fault → head pressure → the head stops the compressor → warm air (common practice)."""
    faults = ["K1:coil_open", "condenser-blocked=0.9"]
    run = simulate(BLUE, "full cooling", faults, seconds=90.0)
    words = [event.words for event in run.events]
    stop = next(i for i, text in enumerate(words) if text.startswith("compressor off: high press"))
    assert "≥ 2,800 kPa" in words[stop]
    assert any(text.startswith("clutch lets go") for text in words[stop:])
    at = run.events[stop].time_s
    before = next(s for s in run.samples if s.time_s >= at)
    later = next(s for s in run.samples if s.time_s >= at + 7.0)
    assert not later.engaged and later.vents_K["left"] > before.vents_K["left"] + 3.0
    steady = read(BLUE, "full cooling", faults)
    assert steady.cycling and any("high pressure" in text for text in steady.cycle_words)


def test_a_weak_battery_slows_the_blower_and_the_fans():
    whole, weak = read(BLUE, "full cooling"), read(BLUE, "full cooling", ["B:weak", "G:weak"])
    assert value(weak, "vent flow") < value(whole, "vent flow") - 2.0
    assert value(weak, "condenser flow") < value(whole, "condenser flow") - 2.0


def test_a_pulled_pressure_sensor_stops_the_compressor_and_says_why():
    wire = next(w for w in BLUE.circuit.wires.values()
                if "PT401.signal" in (w.start, w.end))
    found = read(BLUE, "full cooling", [f"{wire.id}:open"])
    assert value(found, "clutch") == 0 and found.outputs.fan == "high"
    assert found.outputs.blocked_by.name == "sensors" and found.codes[0][0] in ("P0532", "P0533")
    assert "pressure" in next(r.words for r in found.reasons if r.topic == "compressor")


def test_a_jammed_door_is_seen_told_and_felt():
    found = read(BLUE, "full cooling", ["blend_left:jammed=0.3"])
    assert value(found, "door blend left") == pytest.approx(30.0, abs=1.0)
    assert value(found, "vent left") > value(found, "vent right") + 10.0
    assert [number for number, _ in found.codes] == ["B1203"]


def test_freeze_protection_is_a_cycle_with_times_and_ranges():
    found = read(BLUE, "gentle cooling")
    assert found.cycling
    cycle = found.cycle
    assert 15.0 < cycle.period_s < 240.0
    assert cycle.off_s >= BLUE.calibration.compressor.minimum_off_s - 0.5
    assert cycle.on_s + cycle.off_s == pytest.approx(cycle.period_s)
    assert cycle.low_side_gauge_kPa.lowest < cycle.low_side_gauge_kPa.highest
    assert any("freeze" in reason for reason in cycle.reasons)
    assert read(BLUE, "full cooling").cycle is None


def test_over_time_the_bench_ends_where_it_rests():
    run, steady = simulate(BLUE, "full cooling", seconds=240.0), read(BLUE, "full cooling")
    end = run.samples[-1]
    # common practice: a needle is read to about 1 % of the scale
    assert end.loop.high_side_gauge_kPa == pytest.approx(value(steady, "gauge high"), rel=0.01)
    assert end.loop.low_side_gauge_kPa == pytest.approx(value(steady, "gauge low"), rel=0.02)
    assert end.vents_K["left"] - 273.15 == pytest.approx(value(steady, "vent left"), abs=0.3)
    assert end.fan == steady.outputs.fan and end.engaged


def test_fans_go_by_hysteresis():
    """The low request holds between its thresholds: which one it is depends on the way there."""
    run = simulate(BLUE, "gentle cooling", seconds=120.0)
    fans = [(e.time_s, e.words) for e in run.events if e.topic == "fans"]
    assert fans == sorted(fans, key=lambda pair: pair[0]) and len(fans) >= 3


@pytest.mark.parametrize(("state", "faults", "seconds"), [
    ("gentle cooling", [], 60.0), ("hot day", ["condenser-blocked=0.9", "K1:coil_open"], 60.0),
    ("recirculation", ["undercharge=0.5", "B:weak"], 30.0)])
def test_over_time_no_refrigerant_and_no_power_gets_lost(state, faults, seconds):
    run = simulate(BLUE, state, faults, seconds)
    assert run.mass_residual < 1e-9 and run.power_residual < 1e-3
    for one in run.samples:
        assert one.loop.compressor_power_W >= 0.0
        assert one.engaged or one.loop.compressor_flow_kg_per_s == 0.0
        assert one.loop.high_side_gauge_kPa > one.loop.low_side_gauge_kPa - 1.0


def test_the_same_run_twice_is_the_same():
    one, two = (simulate(BLUE, "gentle cooling", ["M1:worn"], 30.0) for _ in range(2))
    assert one.samples == two.samples and one.events == two.events


def test_every_event_over_time_has_a_reason_in_words_and_numbers():
    run = simulate(BLUE, "full cooling", ["M2:stalled"], 15.0)
    assert [e.topic for e in run.events].count("clutch") == 1
    assert "≥" in next(e.words for e in run.events if e.topic == "clutch")
    assert [e.time_s for e in run.events] == sorted(e.time_s for e in run.events)


def test_a_pressure_trip_shows_the_pressure_that_was_reached():
    found = read(BLUE, "hot day", ["condenser-blocked=0.9", "K1:coil_open"])
    limit_kPa = BLUE.calibration.compressor.high_pressure.off / 1e3
    assert found.cycling and found.cycle.what == "compressor"
    assert limit_kPa <= found.cycle.high_side_gauge_kPa.highest < limit_kPa + 60.0
    assert any("high pressure" in reason for reason in found.cycle.reasons)


@pytest.mark.parametrize("ambient_degC", [31.0, 31.5, 33.0, 35.0])
@pytest.mark.parametrize(("relay", "still", "turns"), [("K1", "M1", "M2"), ("K3", "M2", "M1")])
def test_a_cycling_bench_is_read_before_it_stops_not_just_after_its_start(
        relay, still, turns, ambient_degC):
    found = read(BLUE, "full cooling", [f"{relay}:coil_open", "condenser-blocked=0.92"],
                 set={"ambient_degC": ambient_degC})
    assert found.cycling and found.outputs.fan == "high"
    assert abs(value(found, f"current {still}")) < 0.3 and value(found, f"current {turns}") > 10.0


def test_a_dead_sun_sensor_reads_as_darkness_and_asks_for_warmer_air():
    sun = {"sun_W_per_m2": 800.0}
    whole, dead = (read(BLUE, "key on", faults, set=sun) for faults in ([], ["PD401:open"]))
    assert value(dead, "live sun left") < 50.0 < 750.0 < value(whole, "live sun left")
    wanted = [found.outputs.demands[0].required_K for found in (whole, dead)]
    assert wanted[1] > wanted[0] + 3.0 and dead.codes == ()


@pytest.mark.parametrize(("fault", "live", "code"), [
    ("RT402:open", "cabin", "B1104"), ("RT401:open", "ambient", "B1102"),
    ("RT405:open", "evaporator", "B1106")])
def test_a_failed_sensor_has_its_substitute_its_code_and_its_effect(fault, live, code):
    found, calibration = read(BLUE, "full cooling", [fault]), BLUE.calibration
    assert found.beliefs[live] == calibration.sensor(live).substitute
    assert [number for number, _ in found.codes] == [code]
    assert found.outputs.compressor is not calibration.sensor(live).stops_compressor


def test_the_command_reads_a_bench():
    words = ["bench", "read", "blue", "--state", "hot day", "--fault", "K3:coil_open",
             "--set", "ambient_degC=38"]
    found = read(BLUE, "hot day", ["K3:coil_open"], {"ambient_degC": 38.0})
    plain = json.loads(CliRunner().invoke(app, [*words, "--json"]).output)
    assert plain["values"].keys() == found.values.keys()
    for key, one in found.values.items():
        assert plain["values"][key]["value"] == pytest.approx(one.value, abs=1e-6)
        assert plain["values"][key]["unit"] == one.unit
    assert [one["words"] for one in plain["reasons"]] == [one.words for one in found.reasons]
    assert plain["faults"] == ["K3:coil_open"] and plain["cycle"] is None
    text = CliRunner().invoke(app, words).output
    assert f"{value(found, 'gauge high'):.2f} kPa" in text and "Stored codes" in text


def test_the_command_tells_a_cycle_and_follows_a_bench_over_time():
    cycling = CliRunner().invoke(app, ["bench", "read", "blue", "--state", "gentle cooling"]).output
    assert "The compressor cycles: " in cycling and "freeze" in cycling.split("Gauges")[0]
    words = ["bench", "read", "blue", "--seconds", "12"]
    plain = json.loads(CliRunner().invoke(app, [*words, "--json"]).output)
    assert len(plain["samples"]) == 25 and plain["mass_residual"] < 1e-9
    assert "clutch engages" in CliRunner().invoke(app, words).output


@pytest.mark.parametrize(("call", "words"), [
    (lambda: read(BLUE, "flying"), "has no state 'flying'"),
    (lambda: read(BLUE, "off", set={"ambient_degC": 90}), "ambient_degC"),
    (lambda: read(BLUE, "off", set={"wind": 1}), "has no setting 'wind'"),
    (lambda: simulate(BLUE, "off", seconds=-1.0), "seconds is -1.0"),
    (lambda: load_bench("nowhere"), "nowhere"),
    (lambda: CliRunner().invoke(app, ["bench", "read", "blue", "--set", "ac"],
                                catch_exceptions=False), "--set 'ac'"),
])
def test_bad_input_gets_one_sentence(call, words):
    with pytest.raises(InputError, match=words) as refused:
        call()
    assert "\n" not in str(refused.value)
